"""The always-properties of a procedure, judged on every single event of the search.

They are written by hand from the invariants and read neither the interlocks nor ``permit``:
a row that went missing shows here. Each property gets the job before the event, the event, and
the signatures given so far, and says whether it holds.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from steplatch.safety.bay import SPRAYS, Act, Bay, DoseLimits, Trip, states_of
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Granted, Happened, ResetDone, Seen
from steplatch.safety.occurrences import Happening

from ..core.events import Ended, Event, Signed
from ..core.job import Job
from ..core.plan import Plan
from ..core.steps import ResetStep, SignStep

H = Happening

_JUDGED = (Granted, Happened, Ended, Signed, ResetDone, Seen)
_RUNS = frozenset({Act.START, Act.RAISE, Act.SPRAY_RUNNING, Act.RUN_ON})
_BEFORE = frozenset({H.BEFORE_GOOD, H.BEFORE_PARTIAL})
_AFTER = frozenset({H.AFTER_GOOD, H.AFTER_PARTIAL})
_CRANKS = frozenset({Act.IGNITION_ON, Act.START, Act.ROAD_TEST})
_WEAKER = {H.BEFORE_PARTIAL: "before", H.AFTER_PARTIAL: "after"}


class SignaturesGiven:
    """The signatures given so far, looked up only when a property asks."""

    def __init__(self, plan: Plan, job: Job) -> None:
        self._plan = plan
        self._job = job

    def __contains__(self, meaning: str) -> bool:
        return self._job.log.was_signed(meaning)

    def here(self, meaning: str) -> bool:
        """Whether one with this meaning was given in the procedure that is worked now."""
        return self._job.log.was_signed(meaning, self._job.core.procedure)


def _is(bay: Bay, **states: str) -> bool:
    return all(
        bay.among(fact, states_of(fact, tuple(names.split("|")))) for fact, names in states.items()
    )


def _turned(bay: Bay) -> bool:
    return _is(bay, hand_turn="valid|retry")


def _start(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    bay, limits = job.bay, job.core.limits
    if not (isinstance(event, Granted) and event.act is Act.START):
        return True
    if bay.trips:
        return False
    if bay.wet is None or bay.wet > limits.extended:
        return _is(bay, inspection="opened") and _turned(bay)
    if bay.wet > limits.strict and not _turned(bay):
        return False
    if bay.wet == 0 or _is(bay, soak="due", start_check="other"):
        return True
    alone = _is(bay, soak="due", start_check="same", crew="alone_adult")
    return alone and bay.wet <= limits.strict


def _spray(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Granted) and event.act in SPRAYS):
        return True
    bay = job.bay
    known = _is(bay, sheet="read", kit="worn|heat", spill="ready", rate="measured|loaded",
                gun="coupled", hose="off", identity="match", before="good|partial")  # fmt: skip
    if bay.wet is None or not known or bay.trips:
        return False
    after_dml = bay.wet + event.dose
    if event.act is Act.SPRAY_RUNNING:
        return after_dml <= job.core.limits.running and _is(
            bay, engine="idling", idle="steady", port="cool|warm", burning="no",
            controls="other|self",
        )  # fmt: skip
    by_two = _is(bay, crew="pair")
    if not by_two and not _is(bay, crew="alone_adult", tier="strict", rate="loaded"):
        return False
    return after_dml <= _tier_dml(bay, job.core.limits) and _is(
        bay, engine="stopped", key="boxed", starter="disabled", start_tried="nothing|late",
        port="cool",
    )  # fmt: skip


def _tier_dml(bay: Bay, limits: DoseLimits) -> int:
    return {"strict": limits.strict, "extended": limits.extended}.get(bay.tier.value, -1)


def _agreed(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Granted) and event.act in SPRAYS):
        return True
    return _is(job.bay, agreed="clean", triage="go|warn") and "agreed" in signed


def _runs(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Granted) and event.act in _RUNS):
        return True
    bay = job.bay
    safe = _is(bay, secured="yes", fumes="extraction|outdoors", controls="other|self",
               hands="clear")  # fmt: skip
    if event.act is Act.RAISE:
        safe = safe and _is(bay, hose="on", gun="away")
    return safe


def _hands(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not isinstance(event, Granted):
        return True
    if event.act in (Act.HANDS_IN, Act.TAKE_HOSE_OFF, Act.COUPLE_GUN, Act.HAND_TURN):
        return _is(job.bay, engine="stopped", key="boxed", starter="disabled")
    if event.act is Act.TRY_START:
        return job.bay.wet == 0 and _is(job.bay, fluid_in="no", hands="clear", starter="disabled")
    return event.act not in _CRANKS or _is(job.bay, hands="clear", bar="off")


def _evidence(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not isinstance(event, Happened):
        return True
    bay = job.bay
    if event.what in (H.BEFORE_GOOD, H.AFTER_GOOD) and not _is(bay, zero="good"):
        return False
    if event.what in _WEAKER and _is(bay, **{_WEAKER[event.what]: "good"}):
        return True  # a correction: what counted counts for less
    if event.what in _BEFORE:
        return _is(bay, hose="on", fluid_in="no")
    if event.what in _AFTER:
        return _is(bay, hose="on") and (_is(bay, run_on="done") or _is(bay, fluid_in="no"))
    return True


def _hand_over(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Ended) and event.how == "finished"):
        return True
    bay = job.bay
    return (
        not bay.trips
        and bay.wet == 0
        and _is(bay, gun="away", hose="on", engine="stopped", codes="saved|read_again")
        and _is(bay, release_check="other|same")
        and "released" in signed
        and "received" in signed
    )


def _codes_again(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Ended) and event.how == "finished"):
        return True
    return _is(job.bay, fluid_in="no") or _is(job.bay, codes="read_again")


def _after_made(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Ended) and event.how == "finished"):
        return True
    return _is(job.bay, fluid_in="no") or _is(job.bay, after="good|partial")


def _abandon(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Ended) and event.how == "abandoned"):
        return True
    bay, strict = job.bay, job.core.limits.strict
    left_by_fire = Trip.FIRE in bay.trips and _is(bay, tag="do_not_start")
    if not _is(bay, engine="stopped") or not (left_by_fire or _is(bay, gun="away")):
        return False
    if bay.wet is not None and bay.wet <= strict:
        return _is(bay, tag="key_tagged|do_not_start")
    return _is(bay, tag="do_not_start") and signed.here("received")


def _checker(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not isinstance(event, Signed):
        return True
    if event.role in ("technician", "supervisor"):
        return event.person not in job.log.doers or _is(job.bay, crew="alone_adult|alone_junior")
    return event.role == "apprentice" and _is(job.bay, crew="alone_junior", fluid_in="no")


def is_check(step: Any) -> bool:
    """Whether a signature at ``step`` counts as a check."""
    if getattr(step, "slot", None) is not None:
        return True
    if getattr(step, "point", "hold") != "hold":
        return False
    return getattr(step, "meaning", "checked") in ("checked", "released")


def _read_back(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not isinstance(event, Seen) or event.state.unknown:
        return True
    bay = job.bay
    match event.fact:
        case "fluid_check":
            return _is(bay, identity="match", agreed="clean", triage="go|warn",
                       before="good|partial", rate="measured|loaded", port="cool|warm",
                       sheet="read", kit="worn|heat", spill="ready")  # fmt: skip
        case "start_check":
            shut = _is(bay, hose="on") or _is(bay, gun="coupled")
            return shut and _is(bay, engine="stopped") and (bay.wet == 0 or _is(bay, soak="due"))
        case "release_check":
            return bay.wet == 0 and _is(
                bay, engine="stopped", hose="on", gun="away", codes="saved|read_again"
            )
    return True


_FLUID_TRIPS = frozenset(
    {Trip.OVERDOSE, Trip.STALLED, Trip.HARD_TURN, Trip.UNEVEN_CRANK}
    | {Trip.SELF_STARTED, Trip.UNPERMITTED}
)


def _put_right(bay: Bay, trip: Trip) -> bool:
    """Checked by another; or, alone, by the same person where no fluid has to do with it."""
    dry = trip not in _FLUID_TRIPS or (bay.wet == 0 and _is(bay, fluid_in="no"))
    return _is(bay, recovery="checked") or (dry and _is(bay, recovery="own", crew="alone_adult"))


def _reset(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    return not isinstance(event, ResetDone) or (
        not event.trip.terminal and _put_right(job.bay, event.trip)
    )


def _stall(job: Job, event: Event, signed: "SignaturesGiven") -> bool:
    if not (isinstance(event, Happened) and event.what is H.STALLED):
        return True
    return job.bay.permit not in SPRAYS or event.amount != 0 or job.bay.wet is not None


@dataclass(frozen=True, slots=True)
class Property:
    """One always-property: its name, the invariant, the judge, what it means when broken."""

    name: str
    invariant: int
    holds: Callable[[Job, Any, SignaturesGiven], bool]
    broken: str


PROPERTIES: tuple[Property, ...] = (
    Property("start-with-fluid", 1, _start, _("a start was permitted with too much fluid in")),
    Property("reset-with-fluid", 1, _reset, _("a trip was reset that must stay latched")),
    Property("spray-safe", 2, _spray, _("a spray was permitted that was not safe")),
    Property("stall-counts", 3, _stall, _("a stall while spraying was not counted")),
    Property("running-attended", 4, _runs, _("the engine was let run unsecured or unattended")),
    Property("hands-still", 5, _hands, _("hands in while the engine could start")),
    Property("evidence", 6, _evidence, _("a reading counted that proves nothing")),
    Property("after-taken", 6, _after_made, _("cleaned and handed over without an 'after' set")),
    Property("agreed-first", 7, _agreed, _("fluid before the customer signed the second yes")),
    Property("hand-over", 7, _hand_over, _("handed over with something open, off or unsigned")),
    Property("codes-again", 7, _codes_again, _("cleaned and handed over, codes not read again")),
    Property("checker", 8, _checker, _("who did the work, or is no checker, counted as one")),
    Property("read-back", 8, _read_back, _("signed before what it reads back was there")),
    Property("abandon-safe", 9, _abandon, _("abandoned with gun, key or notice not settled")),
)
"""The always-properties, by invariant."""


class PropertyJudge:
    """Judges each event under one plan."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._checks = frozenset(
            (procedure.id, step.id)
            for procedure in plan.procedures
            for step in procedure.steps()
            if isinstance(step, SignStep | ResetStep) and is_check(step)
        )

    def broken_by(self, job: Job, event: Event) -> str:
        """The first property that ``event``, coming upon ``job``, breaks; or nothing."""
        if isinstance(event, Signed) and (event.procedure, event.step) not in self._checks:
            return ""
        if not isinstance(event, _JUDGED):
            return ""
        signed = SignaturesGiven(self._plan, job)
        for rule in PROPERTIES:
            if not rule.holds(job, event, signed):
                return rule.name
        return ""
