"""The end of a recovery: another person checks it, or who is alone looks again; it is reset."""

from collections.abc import Iterator
from typing import Literal

from steplatch.safety.bay import Act, FluidIn, Trip
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Happened, ResetDone
from steplatch.safety.occurrences import Happening

from ..commands import Sign
from ..draft import Draft, No
from ..events import Done, Moved
from ..procedure import HERE, Procedure
from ..sign_off import signed, signer, stands
from ..tries import Standing, Try, signature_tries
from .kind import Kind


class ResetStep(Kind):
    """The end of a recovery: another person checks it, or who is alone looks again; it is reset."""

    kind: Literal["reset"]
    role: Literal["technician", "supervisor"]

    head = "role"

    closes = True
    returns = True

    @property
    def check(self) -> str:
        """The check of a recovery."""
        return "recovery"

    def sign(self, draft: Draft, command: Sign) -> None:
        """Reset the trips that this procedure answers. Raises No when this person may not."""
        one = signer(draft, command)
        who = stands(draft, one)
        worked = Happening.RECOVERED if who == "other" else Happening.RECOVERED_ALONE
        procedure = draft.procedure
        mine = [t for t in Trip if t in draft.job.bay.trips and t in procedure.answers]
        for trip in mine:
            draft.add(Happened(worked))
            if refusals := draft.refusals(Ask(Act.RESET, trip=trip)):
                raise No(*refusals)
            draft.add(ResetDone(trip))
        draft.add(
            signed(draft, one, "checked", who),
            Done(self.id, one.person, work=(), procedure=procedure.id),
        )
        left = draft.job.bay.worst_trip
        if left is not None:
            target = draft.plan.answering(left)
            draft.add(Moved(target.steps()[0].id, target.id, "divert"))
            return
        draft.add(Moved(_returns_to(draft, procedure), draft.plan.main.id, "return"))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """A signature of each kind of person."""
        yield from signature_tries(self.id)


def _returns_to(draft: Draft, recovery: Procedure) -> str:
    """The step of the main procedure that ``recovery`` returns to: never past a step that was
    left before the first spray, since what lies between was never done."""
    main, core = draft.plan.main, draft.job.core
    fluid = draft.job.bay.fluid_in is not FluidIn.NO
    point = recovery.return_point(main, fluid)
    if point == HERE:
        return core.main_step
    target = main.returned_to(point)
    first_spray = min(main.sprays(), default=len(main.steps()))
    if core.left_before(min(main.place(target), first_spray), main.place):
        return core.main_step
    return target
