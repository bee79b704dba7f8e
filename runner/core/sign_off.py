"""Signatures: who may sign which point, with what meaning, and what the signature covers.

Who did the work never counts as who checked it. A signature covers one point and lists the
steps that it covers. What is out of the ordinary about one stands in it as an exception:
recorded and printed, never hidden.
"""

from typing import Any

from steplatch.safety.bay import Act, FluidIn, HandTurn, Trip, state_of
from steplatch.safety.checks import CHECKS, at_least, nothing_to_read_back
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Happened, ResetDone, Seen, permit
from steplatch.safety.occurrences import Happening

from .commands import Sign, Waive
from .engine import Draft, No, refuse
from .job import Done, Moved, Signed
from .procedure import HERE, Procedure, ResetStep, SignStep
from .signers import CUSTOMER, alone, needed, standing, who_could

MAX_COVERED = 9
HOWS = ("pin", "name", "practice")
"""How a signature was given: name and PIN, name alone, or in a practice job."""

NO_PIN = "no_pin"
TOLD = "told"
AT_ONCE = "at_once"
AT_ONCE_MS = 10_000
"""Two people who really look do not sign within this time (common practice, no source)."""
OWN_WORK = "own_work"
ALONE = "alone"
EXCEPTIONS = {
    NO_PIN: "signed by name, without a PIN",
    TOLD: "role as told when they came; in no file of people",
    AT_ONCE: "two people signed within seconds of each other",
    OWN_WORK: "signed by the one who did the work",
    ALONE: "signed alone",
}
"""What is out of the ordinary about a signature, by id, with the words that people read."""
_CHECKS = ("checked", "released")


def sign(draft: Draft, step: Any, command: Sign) -> None:
    """Sign the current step. Raises No when this person may not, or the step is not signed."""
    if not isinstance(step, SignStep | ResetStep):
        raise refuse("sign")
    if not draft.job.core.begun:
        raise refuse("two-marks")
    person = command.person
    role = _role(draft, person)
    how = _how(draft, command)
    if isinstance(step, SignStep) and step.slot is not None:
        ready_to_check(draft, step.slot)
    who = standing(draft.job, step, person, role)
    if who in ("checker-is-doer", "role"):
        case, able = who_could(draft.job, step)
        raise refuse(f"{who}/{case}", needed=needed(step), person=person, role=role, able=able)
    if isinstance(step, ResetStep):
        _reset(draft, step, person, role, how)
        return
    if step.slot == "hand_turn":
        _turns_seen(draft)
    elif step.slot is not None:
        draft.add(Seen(step.slot, state_of(step.slot, who)))
    draft.add(_signed(draft, step.id, person, role, step.meaning, who, how))
    draft.done(step.id, person, doer=False)


def _turns_seen(draft: Draft) -> None:
    if draft.job.bay.hand_turn is not HandTurn.TURNED:
        raise refuse("checker-is-doer/turns")
    draft.add(Happened(Happening.TURN_SEEN))


def ready_to_check(draft: Draft, slot: str) -> None:
    """Raise No while what the check ``slot`` reads back is not there: there is nothing to sign."""
    refusals = nothing_to_read_back(CHECKS[slot], draft.job.bay, draft.job.core.limits)
    if refusals:
        raise No(*refusals)


def approver(draft: Draft, command: Waive) -> tuple[str, str]:
    """Role and way of signing of who approves a waiver: another person, technician or above.

    Raises No when it is the one who asks, one who worked on the job, or one below.
    """
    role = _role(draft, command.person)
    if command.person == draft.by:
        raise refuse("checker-is-doer/waiver")
    _check_other(draft, command.person)
    _check_role(CHECKS["waiver"].role, role, command.person)
    return role, _how(draft, command)


def _reset(draft: Draft, step: ResetStep, person: str, role: str, how: str) -> None:
    procedure = draft.procedure
    mine = [t for t in Trip if t in draft.job.bay.trips and t in procedure.answers]
    for trip in mine:
        draft.add(Happened(Happening.RECOVERED))
        refusals = permit(draft.job.bay, Ask(Act.RESET, trip=trip), draft.job.core.limits)
        if refusals:
            raise No(*refusals)
        draft.add(ResetDone(trip))
    draft.add(
        _signed(draft, step.id, person, role, "checked", "other", how),
        Done(step.id, person, work=()),
    )
    left = draft.job.bay.worst_trip
    if left is not None:
        target = draft.plan.answering(left)
        draft.add(Moved(target.steps()[0].id, target.id, "divert"))
        return
    draft.add(Moved(_returns_to(draft, procedure), draft.plan.main.id, "return"))


def _returns_to(draft: Draft, recovery: Procedure) -> str:
    """The step of the main procedure that ``recovery`` returns to: never past a step that was
    left before the first spray, since what lies between was never done."""
    main, left = draft.plan.main, draft.job.core.main_step
    target = recovery.return_to
    if draft.job.bay.fluid_in is not FluidIn.NO and recovery.return_with_fluid:
        target = recovery.return_with_fluid
    assert target is not None  # checked when the file was loaded
    first_spray = min(main.sprays(), default=len(main.steps()))
    if target == HERE or main.place(left) < min(main.place(target), first_spray):
        return left
    return target


def _signed(
    draft: Draft, step: str, person: str, role: str, meaning: str, who: str, how: str
) -> Signed:
    log = draft.job.log
    covers = tuple(mark.step for mark in log.marks[-MAX_COVERED:])
    exceptions = []
    if how == "name" and role != CUSTOMER:
        exceptions.append(NO_PIN)
    if person in log.told:
        exceptions.append(TOLD)
    if meaning in _CHECKS and who == "same" and person in log.doers:
        exceptions.append(OWN_WORK)
    if meaning in _CHECKS and alone(draft.job):
        exceptions.append(ALONE)
    last = log.last_signed
    if last is not None and last[0] != person and log.aged_ms - last[1] < AT_ONCE_MS:
        exceptions.append(AT_ONCE)
    return Signed(step, person, role, meaning, who, covers, how, tuple(exceptions))


def _how(draft: Draft, command: Sign | Waive) -> str:
    if command.how not in HOWS:
        raise refuse("sign/how", how=command.how, hows=HOWS)
    if draft.job.log.practice:
        return "practice"
    if command.how == "practice":
        raise refuse("sign/practice")
    return command.how


def _role(draft: Draft, person: str) -> str:
    if person == CUSTOMER:
        return CUSTOMER
    for known in draft.job.log.people:
        if known["id"] == person:
            return str(known["role"])
    names = tuple(str(p["id"]) for p in draft.job.log.people)
    raise refuse("person", person=person, people=names)


def _check_other(draft: Draft, person: str) -> None:
    if person in draft.job.log.doers:
        raise refuse("checker-is-doer")


def _check_role(needed: str, role: str, person: str) -> None:
    if not at_least(role, needed):
        raise refuse("role", needed=needed, person=person, role=role)
