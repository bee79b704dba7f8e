"""The job as it becomes while one command is decided: events are added here, acts permitted."""

from typing import Any

from steplatch.safety.checks import moved_on
from steplatch.safety.interlocks import Ask, Refusal
from steplatch.safety.kernel import (
    LOOKED_AT,
    Granted,
    Lapsed,
    PermitLapsed,
    Tripped,
    permit,
    trips,
)
from steplatch.safety.measured import contradicted, contradictions, refused_for

from .conditions import Undecided, applies
from .events import (
    BAY_EVENTS,
    AskAgain,
    Begun,
    Done,
    Event,
    Moved,
    Recorded,
    WaiverLapsed,
    WaiverUsed,
)
from .job import Job, evolve
from .plan import Plan
from .procedure import Procedure
from .refusals import refusal
from .signers import work_of


class No(Exception):  # noqa: N818 - caught inside decide only; a refusal is a value outside
    """Carries refusals from a handler to ``decide``; never leaves this package."""

    def __init__(self, *refusals: Refusal, events: tuple[Event, ...] = ()) -> None:
        """``events`` are what goes on record all the same, such as the judgement it rests on."""
        super().__init__(refusals)
        self.refusals = refusals
        self.events = events


def refuse(key: str, **about: str | tuple[str, ...]) -> No:
    """A refusal by the procedure itself, not by an interlock: its id (see ``refusals.WORDS``) and
    the ids, lists of ids, quantised numbers and typed texts that it is about."""
    return No(refusal(key, about))


class Draft:
    """The job as it becomes while one command is decided, and the events so far."""

    def __init__(self, plan: Plan, job: Job, by: str) -> None:
        self.plan = plan
        self.job = job
        self.arrived = job.bay
        self.by = by
        self.events: list[Event] = []

    def add(self, *events: Event) -> None:
        """Apply events in order; the trips that one causes, and the checks that lapse because what
        they were signed upon has moved, follow it at once."""
        for event in events:
            before = self.job.bay
            self.job = evolve(self.job, event)
            self.events.append(event)
            if isinstance(event, BAY_EVENTS) and not isinstance(event, Tripped):
                for trip in trips(before, event, self.job.bay, self.job.core.limits):
                    self.add(Tripped(trip))
                for check in moved_on(before, self.job.bay):
                    self.add(Lapsed(check))

    @property
    def procedure(self) -> Procedure:
        """The procedure that is being worked now."""
        return self.plan.procedure(self.job.core.procedure)

    @property
    def step(self) -> Any:
        """The step that is current now."""
        return self.procedure.step(self.job.core.step)

    @property
    def begun(self) -> Begun:
        """The first mark of the step that is current now."""
        return Begun(self.step.id, procedure=self.procedure.id)

    def recorded(self, name: str, value: dict[str, Any]) -> Recorded:
        """Something that is written down under a name, at the step that is current now."""
        return Recorded(name, value, self.job.core.step, procedure=self.job.core.procedure)

    def record(self, name: str, value: dict[str, Any]) -> None:
        """Write it down."""
        self.add(self.recorded(name, value))

    def lapse_permit(self) -> None:
        """A permit that the last command did not use lapses."""
        if self.job.bay.permit is not None:
            self.add(PermitLapsed())

    def end_waivers(self, at_ms: int | None = None) -> None:
        """Let waivers lapse: those whose time is over at ``at_ms``, or all of them."""
        for interlock in self.job.core.waived:
            if at_ms is None or at_ms > self.job.log.waived_until_ms(interlock):
                self.add(WaiverLapsed(interlock))

    def grant(self, ask: Ask, *begun: Event) -> None:
        """Permit an act and set the first mark, if there is one, or raise No. A waiver is used up
        by it."""
        core = self.job.core
        if refusals := self.refusals(ask):
            raise No(*refusals)
        needed = permit(core.bay, ask, core.limits) if core.waived else ()
        used = [WaiverUsed(refusal.interlock, ask.act.value) for refusal in needed]
        self.add(*begun, *used, Granted(ask.act, ask.dose))

    def refusals(self, ask: Ask) -> tuple[Refusal, ...]:
        """Every reason to refuse ``ask`` now: what is said, and what the vehicle says against."""
        core = self.job.core
        refused = permit(core.bay, ask, core.limits, waived=frozenset(core.waived))
        return (*refused, *contradicted(core.bay, ask, core.measured))

    def against(self, fact: str) -> tuple[Refusal, ...]:
        """What the vehicle reports against what is said of ``fact``."""
        core = self.job.core
        return refused_for(contradictions(core.bay, core.measured, fact))

    def done(self, answer: str, doer: bool = True) -> None:
        """Set the second mark of the current step and move on. A signature is no doing."""
        work = work_of(self.procedure, self.step) if doer else ()
        self.add(
            Done(self.step.id, answer, self.by if doer else "", work, procedure=self.procedure.id)
        )
        self.move_on()

    def move_on(self) -> None:
        """Move to the next step that applies, or to the first that cannot be decided.

        A condition that reads an unknown fact is never a branch: the job stands at that step,
        the fact is asked for, and ``Begin`` is refused until it is known.
        """
        steps = self.procedure.steps()
        ids = [step.id for step in steps]
        for step in steps[ids.index(self.job.core.step) + 1 :]:
            answer = applies(self.job, step)
            if answer is False:
                continue
            self.add(Moved(step.id, self.procedure.id))
            core = self.job.core
            if isinstance(answer, Undecided) and answer.fact in LOOKED_AT:
                self.add(AskAgain((*core.ask_again, answer.fact), core.meanwhile))
            return
        raise refuse("no-further-step")


def go_to(draft: Draft, target: Procedure) -> None:
    """Leave the procedure that is current for the first step of ``target``."""
    draft.add(Moved(target.steps()[0].id, target.id, "divert"))
