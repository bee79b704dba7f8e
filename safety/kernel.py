"""The kernel: ``permit`` and ``apply``. Nothing but the two tables.

Both are pure: the same bay and the same words in give the same answer, always.
"""

from dataclasses import dataclass, replace
from typing import Any

from .bay import (
    FACTS,
    SPRAYS,
    Act,
    Bay,
    Controls,
    DoseLimits,
    Engine,
    FluidIn,
    Fumes,
    Gun,
    Rate,
    RunOn,
    Secured,
    State,
    Trip,
    state_of,
)
from .catalogue import _
from .effects import EFFECTS, GRANTS, LAPSED, LATCHED, MEASURED, OTHERWISE, SEEN, EffectRow
from .interlocks import INTERLOCKS, Ask, Interlock, Refusal, rows_for
from .occurrences import ALWAYS_POSSIBLE, OUTCOMES, TRIPS, Happening


@dataclass(frozen=True, slots=True)
class Granted:
    """An act was permitted; for a spray, ``dose`` (0.1 mL) is reserved in the ledger."""

    act: Act
    dose: int = 0


@dataclass(frozen=True, slots=True)
class Happened:
    """Something happened. ``amount`` (0.1 mL) where a volume belongs to it; None: not known."""

    what: Happening
    amount: int | None = 0


@dataclass(frozen=True, slots=True)
class MeasuredHappening:
    """The vehicle reports that something happened (one of ``effects.MEASURED``); it may be wrong.
    It trips as a person's report does, and makes unknown what that would change."""

    what: Happening


@dataclass(frozen=True, slots=True)
class Seen:
    """A person looked and said what state a fact is in."""

    fact: str
    state: State


@dataclass(frozen=True, slots=True)
class Lapsed:
    """A fact grew too old to be believed."""

    fact: str


@dataclass(frozen=True, slots=True)
class PermitLapsed:
    """The standing permit was not answered. What it allowed may or may not have been done."""


@dataclass(frozen=True, slots=True)
class Tripped:
    """A trip latched."""

    trip: Trip


@dataclass(frozen=True, slots=True)
class ResetDone:
    """A latched trip was reset. It permits; it starts nothing."""

    trip: Trip


BayEvent = (
    Granted | Happened | MeasuredHappening | Seen | Lapsed | PermitLapsed | Tripped | ResetDone
)

_NOT_BY_LOOKING = frozenset(
    {
        *(
            "port",
            "touch",
            "triage",
            "rate",
            "soak",
            "run_on",
            "hand_turn",
            "inspection",
            "recovery",
        ),
        *("zero", "before", "after", "fluid_check", "start_check", "release_check", "fluid_in"),
        "start_tried",
    }
)
LOOKED_AT: frozenset[str] = frozenset(FACTS) - _NOT_BY_LOOKING
"""Facts that a person can settle by looking. The rest follow from acts, readings, checks."""

_UNKNOWN: dict[str, State] = {fact: state_of(fact, "unknown") for fact in FACTS}
_PHYSICAL = frozenset({"engine", "hands", "hose", "gun", "key"})
_RUNNING = frozenset({Engine.IDLING, Engine.RAISED})
_WORST_FIRST = tuple(Trip)


def permit(
    bay: Bay,
    ask: Ask,
    limits: DoseLimits,
    rows: tuple[Interlock, ...] = INTERLOCKS,
    *,
    waived: frozenset[str] = frozenset(),
) -> tuple[Refusal, ...]:
    """Every reason to refuse ``ask`` now; empty means permitted.

    ``waived`` names interlocks that another person has lifted for this one use: a row goes only
    if it is named *and* says of itself that it may be waived; any other name changes nothing.
    ``rows`` is for proofs, which drop rows or look at one alone; rows only deny.
    """
    return tuple(
        Refusal(row.id, row.reason, row.remedy, row.source)
        for row in rows_for(ask.act, rows)
        if not row.allows.holds(bay, ask, limits) and not (row.waivable and row.id in waived)
    )


def apply(bay: Bay, event: BayEvent) -> Bay:
    """What is known after ``event``, by the effects table alone."""
    match event:
        case Granted(act, dose):
            after = _by_row(bay, GRANTS[act], dose) if act in GRANTS else bay
            return after.but(permit=act)
        case Happened(what, amount):
            answered = bay.permit is not None and what in OUTCOMES[bay.permit]
            row = EFFECTS[what]
            if row.wet == "settle" and bay.permit in SPRAYS and not answered:
                row = replace(row, wet="cut")  # this is no account of the spray that is open
            after = _by_row(bay, row, amount)
            return after.but(permit=None) if answered else after
        case MeasuredHappening(what):
            return _by_row(bay, MEASURED[what], None)
        case Seen(fact, state):
            return _seen(bay, fact, state)
        case Lapsed(fact):
            return bay.but(**{fact: _UNKNOWN[fact]})
        case PermitLapsed():
            return _permit_lapsed(bay)
        case Tripped(trip):
            return _by_row(bay, LATCHED, None).but(trips=bay.trips | {trip})
        case _:
            return _by_row(bay, LATCHED, None).but(trips=bay.trips - {event.trip})


def trips(before: Bay, event: BayEvent, after: Bay, limits: DoseLimits) -> tuple[Trip, ...]:
    """The trips that ``event`` causes, worst first; those latched already are left out."""
    found: set[Trip] = set()
    match event:
        case Happened(what) | MeasuredHappening(what):
            if what in TRIPS:
                found.add(TRIPS[what])
            if isinstance(event, Happened) and _unexpected(before, what):
                found.add(Trip.UNPERMITTED)
            if what is Happening.STALLED and (after.wet != 0 or before.permit in SPRAYS):
                found.add(Trip.STALLED)
        case Seen(fact, state) if fact in _PHYSICAL and before.knows(fact):
            if not free_move(fact, getattr(before, fact), state):
                found.add(Trip.UNPERMITTED)
        case _:
            pass
    if _left_alone(before, after) and after.engine in _RUNNING:
        found.add(Trip.UNATTENDED)
    shut = before.gun is Gun.OPEN and after.gun is not Gun.OPEN
    if (after.moved(before, "engine") or shut or _rose(before, after)) and _too_wet_to_stand(
        after, limits
    ):
        found.add(Trip.OVERDOSE)
    if not found:
        return ()
    return tuple(t for t in _WORST_FIRST if t in found and t not in before.trips)


_WHILE_RUNNING: dict[str, frozenset[State]] = {
    "controls": frozenset({Controls.OTHER, Controls.SELF}),
    "fumes": frozenset({Fumes.EXTRACTION, Fumes.OUTDOORS}),
    "secured": frozenset({Secured.YES}),
}


def _left_alone(before: Bay, after: Bay) -> bool:
    """Whether something that a running engine needs was there and no longer is."""
    for fact, good in _WHILE_RUNNING.items():
        if after.moved(before, fact) and before.among(fact, good) and not after.among(fact, good):
            return True
    return False


def _rose(before: Bay, after: Bay) -> bool:
    """Whether the count of fluid rose, or went to or from 'nobody knows'; draining lowers it."""
    if before.wet is None or after.wet is None:
        return before.wet != after.wet
    return after.wet > before.wet


def _too_wet_to_stand(bay: Bay, limits: DoseLimits) -> bool:
    """Engine not running and more fluid in than any start could be allowed with.

    An unknown ledger counts once fluid has gone in; on arrival the start row refuses alone.
    """
    if bay.engine not in (Engine.STOPPED, Engine.UNKNOWN) or bay.gun is Gun.OPEN:
        return False
    if bay.wet is None:
        return bay.fluid_in is not FluidIn.NO
    return bay.wet > limits.extended


def _unexpected(before: Bay, what: Happening) -> bool:
    if what in ALWAYS_POSSIBLE:
        return False
    return before.permit is None or what not in OUTCOMES[before.permit]


def free_move(fact: str, known: State, seen: State) -> bool:
    """Whether a look may move a known physical fact without an act in between."""
    if known is seen or seen.unknown:
        return True
    free: dict[str, frozenset[str]] = {
        "hands": frozenset({"clear"}),
        "key": frozenset({"off", "boxed"}),
        "engine": frozenset(),
        "hose": frozenset(),
        "gun": frozenset(),
    }
    return bool(seen.value in free[fact])


def _seen(bay: Bay, fact: str, state: State) -> Bay:
    if state not in FACTS[fact]:
        raise ValueError(_("{state} is no state of {fact}", state=state, fact=fact))
    after = bay
    if row := SEEN.get((fact, state.value)):
        after = _by_row(after, row, None)
    if (row := SEEN.get((fact, OTHERWISE))) and not bay.among(fact, (state,)):
        after = _by_row(after, row, None)
    return after.but(**{fact: state})


def _permit_lapsed(bay: Bay) -> Bay:
    if bay.permit is None:
        return bay
    return _by_row(bay, LAPSED[bay.permit], None).but(reserved=0, permit=None)


def _cut(bay: Bay) -> int | None:
    """The ledger when a spray's end was never reported."""
    if bay.reserved and bay.rate is not Rate.LOADED:
        return None
    return bay.wet


def _by_row(bay: Bay, row: EffectRow, amount: int | None) -> Bay:
    changes: dict[str, Any] = {fact: _UNKNOWN[fact] for fact in row.ends}
    for fact, cell in row.sets.items():
        if isinstance(cell, dict):
            was = getattr(bay, fact)
            cell = cell.get(was, was)
        changes[fact] = cell
    if row.wet == "dry" and bay.run_on is RunOn.RUNNING and not _drying(bay):
        changes["run_on"] = RunOn.UNKNOWN
    if row.wet != "keep":
        changes["wet"], changes["reserved"] = _ledger(bay, row.wet, amount)
    return bay.but(**changes)


def _drying(bay: Bay) -> bool:
    """Whether a drying run is under way that may be credited when its time is over."""
    return bay.run_on is RunOn.RUNNING and bay.engine in _RUNNING


def _ledger(bay: Bay, move: str, amount: int | None) -> tuple[int | None, int]:
    """The fluid ledger and the open reservation after one ``wet`` move of the effects table."""
    match move:
        case "reserve":
            wet = bay.wet
            return (None if wet is None or amount is None else wet + amount), amount or 0
        case "settle":
            wet = bay.wet
            if wet is None or amount is None:
                return None, 0
            return wet - bay.reserved + amount, 0
        case "drain":
            wet = bay.wet
            if wet is None or (amount or 0) > wet:  # more came out than was counted: no bound
                return None, bay.reserved
            return max(bay.reserved, wet - (amount or 0)), bay.reserved
        case "dry":
            return (0, 0) if _drying(bay) else (bay.wet, bay.reserved)
        case "cut":
            return _cut(bay), 0
        case "unknown":
            return None, 0
        case "arrive":
            return (0 if bay.among("fluid_in", (FluidIn.NO,)) else bay.wet), bay.reserved
    raise ValueError(_("the effects table names an unknown move {move!r}", move=move))
