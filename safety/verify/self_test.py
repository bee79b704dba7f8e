"""The self-test: every interlock row is driven to its blocking state, every trip latched and reset.

On demand, and at a release, it shows that the rules at work here still do what they are written
to do: one fact at a time is put out of order in the bays of ``ready_bays``, through the real
``permit``, ``apply`` and ``trips``; and the monitors, written a second time and apart, are asked
whether anything is permitted that may not be (``kernel_proof.gaps``, over every belief).

Model: the proof test of IEC 61508 and IEC 61511 practice (from memory, clauses not read). It
tests the rules, not the people or the vehicle: an administrative control has nothing to drive.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from ..bay import FACTS, Act, Bay, Engine, Recovery, Trip, state_of
from ..catalogue import _
from ..interlocks import INTERLOCKS, Ask, Interlock
from ..kernel import (
    BayEvent,
    Granted,
    Happened,
    Lapsed,
    ResetDone,
    Seen,
    Tripped,
    apply,
    permit,
    trips,
)
from ..occurrences import Happening
from .kernel_model import LIMITS
from .kernel_proof import gaps
from .monitors import TERMINAL, need_monitors
from .needs import QUALITY, Needs
from .ready_bays import COUPLED, IDLING, NAMED, READY, STANDING
from .row_monitors import BREAKS, monitors_of

Rows = tuple[Interlock, ...]


@dataclass(frozen=True, slots=True)
class SelfTestFinding:
    """What is wrong: the interlock row (or ``trip x``, or ``kernel``), the act or nothing, how."""

    row: str
    act: str
    said: str

    def __str__(self) -> str:
        return f"{self.row}{f', {self.act}' if self.act else ''}: {self.said}"


@dataclass(frozen=True, slots=True)
class RowTried:
    """How often one row was driven to refuse: alone, over an unknown fact, over a stale one."""

    row: str
    acts: int
    alone: int
    unknown: int
    stale: int
    monitors: tuple[str, ...]
    findings: tuple[SelfTestFinding, ...]


@dataclass(frozen=True, slots=True)
class SelfTest:
    """The outcome: the rows as tried, the trips latched and reset, and all that is wrong."""

    rows: tuple[RowTried, ...]
    latched: int
    reset: int
    findings: tuple[SelfTestFinding, ...]


def run_self_test(rows: Rows = INTERLOCKS) -> SelfTest:
    """Try every row and every trip. ``rows`` is for tests, which take one out or loosen it.

    Takes some tenths of a second of processor time; reads nothing and keeps nothing.
    """
    tried = tuple(try_row(row, rows) for row in rows)
    findings = [*_table(rows), *_ready(rows), *_nothing_known(rows)]
    findings += [finding for row in tried for finding in row.findings]
    findings += [finding for trip in Trip for finding in try_trip(trip, rows)]
    return SelfTest(tried, len(Trip), sum(not trip.terminal for trip in Trip), tuple(findings))


# -- the table as a whole ----------------------------------------------------------------------


def _table(rows: Rows) -> Iterator[SelfTestFinding]:
    """Each row that has a monitor is there, once, and each row has a monitor."""
    ids = [row.id for row in rows]
    for gone in BREAKS:
        if gone not in ids:
            yield SelfTestFinding(gone, "", _("the row is missing from the table"))
    for row in sorted(set(ids)):
        if row not in BREAKS:
            yield SelfTestFinding(row, "", _("no monitor is named for this row"))
        if ids.count(row) > 1:
            yield SelfTestFinding(row, "", _("the row stands in the table more than once"))


def _refused(bay: Bay, ask: Ask, rows: Rows) -> list[str]:
    return [refusal.interlock for refusal in permit(bay, ask, LIMITS, rows)]


def _ready(rows: Rows) -> Iterator[SelfTestFinding]:
    """In a bay in which everything stands ready, the act is permitted."""
    for name, (bay, ask) in NAMED.items():
        for row in _refused(bay, ask, rows):
            yield SelfTestFinding(
                row, ask.act.value, _("refuses though everything stands ready ({name})", name=name)
            )


def _nothing_known(rows: Rows) -> Iterator[SelfTestFinding]:
    """With nothing known, nothing is permitted."""
    for act, (_other, ask) in READY.items():
        if not _refused(Bay(), ask, rows):
            yield SelfTestFinding(
                "kernel", act.value, _("permitted though nothing at all is known")
            )


# -- one row -----------------------------------------------------------------------------------


def changes(fact: str, bay: Bay) -> Iterator[Bay]:
    """``bay`` with ``fact`` in each of its states; a ledger below, at and above each limit."""
    states: tuple[object, ...]
    if fact == "wet":
        states = (None, *range(LIMITS.running + 2))
    elif fact == "trips":
        states = (frozenset(), *(frozenset({trip}) for trip in Trip))
    else:
        states = tuple(FACTS[fact])
    return (bay.but(**{fact: state}) for state in states)


_BAYS: dict[Act, tuple[tuple[Bay, Ask], ...]] = {
    act: tuple(ready for ready in NAMED.values() if ready[1].act is act) for act in Act
}
_OTHERWISE: dict[Act, tuple[dict[str, Any], ...]] = {
    Act.RAISE: ({"band_under_ceiling": False},),
    Act.SPRAY_OFF: ({"burst_s": 16},),
    Act.RESET: tuple({"trip": trip} for trip in Trip),
}


def asks(ask: Ask) -> Iterator[Ask]:
    """What is asked for with another band, with a longer burst, or with each trip."""
    return (replace(ask, **otherwise) for otherwise in _OTHERWISE.get(ask.act, ()))


def try_row(row: Interlock, rows: Rows = INTERLOCKS) -> RowTried:
    """Drive one row to refuse: one thing at a time out of order, all else ready.

    The same state with that one thing mended is the ready bay itself, in which the act must be
    permitted. The monitors of the row are asked whether the rows now permit what they forbid.
    """
    alone = dict.fromkeys(sorted(row.acts, key=lambda act: act.value), 0)
    counts = {"unknown": 0, "stale": 0}
    findings: list[SelfTestFinding] = []
    for bay, ask in (ready for act in alone for ready in _BAYS[act]):
        outs = [(fact, out, ask) for fact in sorted(row.reads) for out in changes(fact, bay)]
        decides = set()
        for fact, out, asked in [*outs, *(("", bay, other) for other in asks(ask))]:
            refused = _refused(out, asked, rows)
            if row.id in refused:
                decides.add(fact)
            if refused == [row.id]:
                alone[ask.act] += 1
                findings += _waiver(row, out, asked, rows)
        for fact in sorted(decides & row.reads):
            for how, out in doubts(fact, bay):
                counts[how] += 1
                if row.id not in _refused(out, ask, rows):
                    findings.append(
                        SelfTestFinding(
                            row.id,
                            ask.act.value,
                            _("permits with {fact} {how}", fact=fact, how=how),
                        )
                    )
    findings += [
        SelfTestFinding(row.id, act.value, _("never refuses alone, whatever is out of order"))
        for act, times in alone.items()
        if not times
    ]
    monitors = monitors_for(row.id)
    findings += [finding for needs in monitors for finding in _gap(row.id, needs, rows)]
    return RowTried(
        row.id,
        len(alone),
        sum(alone.values()),
        counts["unknown"],
        counts["stale"],
        tuple(needs.name for needs in monitors),
        tuple(findings),
    )


def doubts(fact: str, bay: Bay) -> Iterator[tuple[str, Bay]]:
    """``bay`` with ``fact`` not known, and with it grown too old to be believed.

    The ledger does not age and nobody doubts a latched trip: it has no unknown state.
    """
    if fact == "wet":
        yield "unknown", bay.but(wet=None)
    elif fact != "trips":
        yield "unknown", bay.but(**{fact: state_of(fact, "unknown")})
        yield "stale", apply(bay, Lapsed(fact))


def _waiver(row: Interlock, bay: Bay, ask: Ask, rows: Rows) -> Iterator[SelfTestFinding]:
    """A waiver of everything lifts the rows that keep the record good, and no other."""
    lifted = not permit(bay, ask, LIMITS, rows, waived=frozenset(r.id for r in rows))
    if lifted != (row.id in _MAY_BE_WAIVED):
        said = (
            _("can be waived") if lifted else _("cannot be waived though it only keeps the record")
        )
        yield SelfTestFinding(row.id, ask.act.value, said)


MONITORS: dict[str, Needs] = {
    needs.name: needs for needs in need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
}
"""Every monitor over what a row permits, by name, for the limits of the proofs."""
LATCHES = tuple(name for name in MONITORS if name.startswith("latched-"))
_MAY_BE_WAIVED = frozenset(
    row for row in BREAKS if {MONITORS[name].invariant for name in monitors_of(row)} == {QUALITY}
)


def monitors_for(row: str) -> tuple[Needs, ...]:
    """The monitors that hold a row to its purpose; all latches, where it holds one."""
    names = monitors_of(row) if row in BREAKS else ()
    return tuple(MONITORS[n] for n in (LATCHES if set(names) & set(LATCHES) else names))


def _gap(row: str, needs: Needs, rows: Rows) -> Iterator[SelfTestFinding]:
    """Whatever the rows permit, under any belief about its facts, the monitor finds in order."""
    for bay, ask, _other in gaps(needs, rows):
        if needs.name in LATCHES and _held_by(ask.act) != row:
            continue
        believed = ", ".join(f"{fact} {_shown(bay, fact)}" for fact in needs.facts)
        said = _("permits what '{name}' forbids", name=needs.name) + (
            _(", with {believed}", believed=believed) if believed else ""
        )
        yield SelfTestFinding(row, ask.act.value, said)
        return


def _held_by(act: Act) -> str:
    """The row that keeps ``act`` from being done while a trip is latched."""
    return "start-no-fluid-trip" if act is Act.START else "no-trip-latched"


def _shown(bay: Bay, fact: str) -> str:
    if fact == "wet":
        return "unknown" if bay.wet is None else f"{bay.wet / 10} mL"
    if fact in FACTS:
        return str(getattr(bay, fact).value)
    return (
        "latched" if any(f"trip {trip.value}" == fact for trip in bay.trips) else _("not latched")
    )


# -- trips -------------------------------------------------------------------------------------

_IDLE_WITH_GUN, _SPRAY = READY[Act.SPRAY_RUNNING]
_SPRAYING = apply(_IDLE_WITH_GUN, Granted(_SPRAY.act, _SPRAY.dose))

CAUSES: dict[Trip, tuple[Bay, Happened | Seen | Lapsed]] = {
    Trip.FIRE: (IDLING, Happened(Happening.FIRE_SEEN)),
    Trip.FUMES: (IDLING, Happened(Happening.FUME_ALARM)),
    Trip.INJURY: (IDLING, Happened(Happening.PERSON_HURT)),
    Trip.RUNAWAY: (IDLING, Happened(Happening.RAN_AWAY)),
    Trip.HARD_TURN: (READY[Act.HAND_TURN][0], Happened(Happening.TURNED_HARD)),
    Trip.UNEVEN_CRANK: (READY[Act.START][0], Happened(Happening.CRANKED_UNEVEN)),
    Trip.OVERDOSE: (COUPLED, Happened(Happening.OVERDOSED, None)),
    Trip.STALLED: (_SPRAYING, Happened(Happening.STALLED)),
    Trip.SELF_STARTED: (STANDING, Happened(Happening.SELF_STARTED)),
    Trip.UNPERMITTED: (STANDING, Seen("engine", Engine.IDLING)),
    Trip.OVER_CEILING: (IDLING, Happened(Happening.OVER_CEILING)),
    Trip.UNATTENDED: (IDLING, Lapsed("controls")),
    Trip.SPILL: (COUPLED, Happened(Happening.SPILLED)),
    Trip.STUB: (READY[Act.TAKE_HOSE_OFF][0], Happened(Happening.STUB_SNAPPED)),
}
"""For each trip one bay and one event by which it comes."""

_HELD = MONITORS[f"latched-{Trip.STALLED.value}"].acts
"""The acts that no latched trip lets pass."""
_STILL = (Act.STOP_ENGINE, Act.ABANDON)
"""The acts that a latched trip never keeps anybody from."""
_MENDS: tuple[BayEvent, ...] = (
    Seen("engine", Engine.STOPPED),
    Seen("controls", STANDING.controls),
    Happened(Happening.STOPPED),
    Happened(Happening.DRAINED, LIMITS.running),
    Happened(Happening.INTERRUPTED),
)
"""What takes the causes away, and what must not clear a latch either."""


def try_trip(trip: Trip, rows: Rows = INTERLOCKS) -> Iterator[SelfTestFinding]:
    """A trip comes by its cause, outlasts it, holds the acts, and goes by its reset alone."""
    name = f"trip {trip.value}"
    before, event = CAUSES[trip]
    after = apply(before, event)
    if trip not in trips(before, event, after, LIMITS):
        yield SelfTestFinding(name, "", _("does not come by its cause"))
    latched = apply(after, Tripped(trip))
    if trip not in latched.trips:
        yield SelfTestFinding(name, "", _("does not latch"))
    for mends in _MENDS:
        latched = apply(latched, mends)
    if trip not in latched.trips:
        yield SelfTestFinding(name, "", _("is gone with its cause, without a reset"))
    for act, (bay, ask) in READY.items():
        refused = _refused(bay.but(trips=frozenset({trip})), ask, rows)
        if act.value in _HELD and not refused:
            said = _("permits with the trip '{value}' latched", value=trip.value)
            yield SelfTestFinding(_held_by(act), act.value, said)
        if act in _STILL:
            for row in refused:
                yield SelfTestFinding(
                    row,
                    act.value,
                    _("refuses while the trip '{value}' is latched", value=trip.value),
                )
    yield from _reset(trip, rows)


def _reset(trip: Trip, rows: Rows) -> Iterator[SelfTestFinding]:
    """The reset needs the recovery, permits, starts nothing; a terminal trip has none."""
    bay = NAMED["reset, engine running"][0].but(trips=frozenset({trip}))
    ask = Ask(Act.RESET, trip=trip)
    refused = _refused(bay, ask, rows)
    if not _refused(bay.but(trips=frozenset(Trip) - {trip}), ask, rows):
        yield SelfTestFinding(
            "reset-possible", "reset", _("permits it for '{value}', not latched", value=trip.value)
        )
    if trip.value in TERMINAL:
        if not refused:
            yield SelfTestFinding(
                "reset-possible",
                "reset",
                _("permits it for '{value}': it has none", value=trip.value),
            )
        return
    for row in refused:
        yield SelfTestFinding(
            row, "reset", _("refuses it for '{value}' though all is recovered", value=trip.value)
        )
    if not _refused(bay.but(recovery=Recovery.UNKNOWN), ask, rows):
        yield SelfTestFinding(
            "reset-recovered", "reset", _("permits it for '{value}' unrecovered", value=trip.value)
        )
    after = apply(bay, ResetDone(trip))
    if trip in after.trips:
        yield SelfTestFinding(f"trip {trip.value}", "reset", _("is not reset"))
    if after.permit is not None or after.engine is not bay.engine:
        yield SelfTestFinding(
            f"trip {trip.value}", "reset", _("a reset starts or permits something")
        )
