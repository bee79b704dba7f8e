"""What a person says at any time: that something happened, or what a fact is. Never refused."""

from steplatch.safety.bay import SPRAYS, Act, Agreed, Rate, state_of
from steplatch.safety.kernel import LOOKED_AT, Happened, Seen
from steplatch.safety.occurrences import OUTCOMES, Happening, happening_of

from .commands import Look, Report
from .draft import Draft, No, refuse
from .events import Moved
from .gun_entry import counted_dml
from .job import Job
from .plan import Plan
from .steps.spray import parse_seconds

H = Happening

REPORTABLE = frozenset(Happening) - {
    *(H.SOAK_BEGUN, H.SOAK_DUE, H.RUN_ON_BEGUN, H.RUN_ON_DUE, H.TURN_SEEN, H.LOOKED_DRY),
    H.CYLINDERS_OPENED,
    *(H.ZERO_GOOD, H.ZERO_OUT, H.BEFORE_GOOD, H.BEFORE_PARTIAL, H.AFTER_GOOD, H.AFTER_PARTIAL),
    *(H.RECOVERED, H.RECOVERED_ALONE, H.INTERRUPTED, H.RATE_MEASURED, H.GUN_LOADED, H.DRAINED),
}
"""What a person may report at any time. The rest is made by the tool from readings, timers,
signatures, or belongs to a step that asks for more than a word."""

ENDS = frozenset({Act.HAND_OVER, Act.ABANDON})
"""The acts that end a job: permitted for the vehicle as it stands, and for no other."""


def cut_short(plan: Plan, job: Job) -> Act | None:
    """The permitted act that something broke into, whose outcome can still be told; or None.

    On an emergency card nothing is asked first: people come before the record.
    """
    core, act = job.core, job.bay.permit
    if act is None or core.begun or plan.procedure(core.procedure).role == "card":
        return None
    return act if OUTCOMES[act] and REPORTABLE.issuperset(OUTCOMES[act]) else None


def look(draft: Draft, command: Look) -> None:
    """A person looked and says what a fact is. Never refused for what it says."""
    if command.fact not in LOOKED_AT:
        raise refuse("not-by-looking", fact=command.fact)
    try:
        state = state_of(command.fact, command.state)
    except ValueError:
        raise refuse("answer/state", fact=command.fact, state=command.state) from None
    core = draft.job.core
    if state is Agreed.CLEAN and not _asks_now(draft, "agreed"):
        raise refuse("own-step")
    ending = draft.job.bay.permit in ENDS
    draft.add(Seen(command.fact, state))
    if ending:
        _end_anew(draft)
        return
    if not core.begun or core.held:
        return
    draft.step.seen(draft, command.fact, state)


def _asks_now(draft: Draft, fact: str) -> bool:
    return draft.job.core.begun and draft.step.looks_at == fact


def report(draft: Draft, command: Report) -> None:
    """Something happened. Never refused; an unexpected one trips."""
    try:
        what = happening_of(command.what)
    except ValueError:
        raise refuse("answer/report", what=command.what) from None
    if what not in REPORTABLE:
        raise refuse("not-a-report", what=what.value)
    bay, core, was = draft.job.bay, draft.job.core, draft.job.bay.permit
    draft.add(Happened(what, _amount(draft, what, command)))
    if was is None:
        return
    step = draft.step
    if was in ENDS and what not in OUTCOMES[was]:
        _end_anew(draft)
        return
    if was in SPRAYS:
        draft.record(
            "spray",
            {
                "act": was.value,
                "what": what.value,
                "seconds": command.seconds,
                "reserved_dml": bay.reserved,
                "wet_dml": draft.job.bay.wet,
            },
        )
    if not core.begun:
        return
    if what not in OUTCOMES[was]:
        return
    as_it_should = what is OUTCOMES[was][0] and step.came_out(draft, what)
    if not as_it_should and not draft.job.bay.trips:
        draft.add(Moved(step.id, draft.procedure.id, "again"))


def _end_anew(draft: Draft) -> None:
    """Something moved since the end was permitted: it is asked again, from the first mark."""
    if draft.job.bay.permit in ENDS:
        draft.lapse_permit()
    draft.add(Moved(draft.step.id, draft.procedure.id, "again"))


def _amount(draft: Draft, what: Happening, command: Report) -> int | None:
    """The volume that belongs to a report, in 0.1 mL; None when nobody knows it."""
    bay = draft.job.bay
    if what is H.OVERDOSED:
        return None
    if bay.permit not in SPRAYS or what is H.SPRAY_NONE:
        return 0
    if what not in (H.SPRAY_ENDED, H.SPRAY_SAGGED, H.STALLED):
        return 0
    if bay.rate is Rate.LOADED:
        return bay.reserved
    if command.seconds in ("", "?"):
        return None
    try:
        seconds = parse_seconds(command.seconds)
    except No:
        if what is H.STALLED:
            return None  # a stall is taken at once; a number that cannot be read counts as unknown
        raise
    return counted_dml(draft.job.log.latest("gun"), seconds)
