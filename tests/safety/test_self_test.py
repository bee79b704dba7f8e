"""The self-test finds nothing in the shipped rules, and names the row when one is gone or loose."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
import steplatch.safety.verify.self_test as under_test
from steplatch.safety.bay import FACTS, Act, Bay, Engine, Trip
from steplatch.safety.interlocks import INTERLOCKS, QUALITY, Ask, Interlock, Is, Rule
from steplatch.safety.interlocks.volumes import WET_STRICT
from steplatch.safety.kernel import BayEvent, Lapsed, ResetDone, Tripped, apply, trips
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.ready_bays import NAMED, READY
from steplatch.safety.verify.self_test import (
    CAUSES,
    SelfTestFinding,
    run_self_test,
    try_row,
    try_trip,
)

from tests.each import each
from tests.safety.test_table_mutants import mutants

NOTHING_TO_DOUBT = {
    *("revs-ceiling", "spray-off-burst"),
    *("no-trip-latched", "start-no-fluid-trip", "reset-possible"),
}
"""Rows that read what is asked for, or latched trips: neither can be unknown."""
ONLY_THE_LEDGER = {"spray-running-ledger", "road-dry", "hand-over-dry"}
"""Rows that read the ledger alone, which does not age."""
ANYTHING = Rule("anything", frozenset(), lambda b, a, m: True)
NOTHING = Rule("nothing", frozenset(), lambda b, a, m: False)


def changed(row: Interlock, **changes: Any) -> tuple[Interlock, tuple[Interlock, ...]]:
    """The row with changes, and the table with it in place of the shipped one."""
    new = replace(row, **changes)
    return new, tuple(new if each.id == row.id else each for each in INTERLOCKS)


def named(findings: tuple[SelfTestFinding, ...] | list[SelfTestFinding]) -> set[str]:
    return {finding.row for finding in findings}


def test_nothing_is_wrong_with_the_shipped_rules() -> None:
    tried = run_self_test()
    assert tried.findings == ()
    assert [row.row for row in tried.rows] == [row.id for row in INTERLOCKS]
    assert (tried.latched, tried.reset) == (len(Trip), 8)
    for row in tried.rows:
        assert row.alone >= row.acts > 0
        assert row.monitors
        assert (row.unknown > 0) == (row.row not in NOTHING_TO_DOUBT), row
        assert (row.stale > 0) == (row.row not in NOTHING_TO_DOUBT | ONLY_THE_LEDGER), row


COUNTED = {
    # Four bays to raise revs in, each with the band not under the ceiling.
    "revs-ceiling": (1, 4, 0, 0),
    # Four bays to spray in with the engine off, each with a burst of 16 s.
    "spray-off-burst": (1, 4, 0, 0),
    # The sensor not known, or two alike.
    "hose-which": (1, 4, 2, 2),
    # Four bays to spray in with the engine off, two with it running, each once: drains and
    # extinguisher not known or not ready.
    "spray-spill": (2, 12, 6, 6),
    # Idling with a ledger unknown, 2, 3 and 4 (strict is 1); and, with the ledger unknown, an
    # engine unknown, idling, raised and on the road. Unknown: ledger, engine; stale: engine.
    "stop-with-fluid": (1, 8, 2, 1),
    # Twelve bays to reset in: no trip or one of 13 others latched (12 x 14); another of 13 asked
    # for where one is latched (5 x 13), of 12 where two are (5 x 12), and of 7 that are not about
    # fluid where nobody knows how much is in, or alone with fluid in (2 x 7).
    "reset-possible": (1, 307, 0, 0),
}
"""Row -> acts, states in which it alone refuses, unknown facts, stale facts; counted by hand."""


@pytest.mark.parametrize("id", sorted(COUNTED))
def test_a_row_is_driven_to_refuse_as_often_as_counted_by_hand(id: str) -> None:
    tried = try_row(next(row for row in INTERLOCKS if row.id == id))
    assert (tried.acts, tried.alone, tried.unknown, tried.stale) == COUNTED[id]


def test_rows_taken_out_loosened_and_reset_too_early_are_all_named() -> None:
    rows = tuple(
        replace(row, allows=ANYTHING) if row.id in ("run-fumes", "reset-recovered") else row
        for row in INTERLOCKS
        if row.id != "start-ledger"
    )
    found = run_self_test(rows)
    assert named(found.findings) == {"start-ledger", "run-fumes", "reset-recovered"}
    said = [str(finding) for finding in found.findings]
    assert "start-ledger: the row is missing from the table" in said
    assert "run-fumes, raise: never refuses alone, whatever is out of order" in said
    assert "reset-recovered, reset: permits it for 'spill' unrecovered" in said


@pytest.mark.parametrize(
    ("id", "allows", "said"),
    [
        ("revs-ceiling", ANYTHING, "permits what 'revs-under-ceiling' forbids"),
        ("spray-off-burst", ANYTHING, "permits what 'spray-off-short' forbids"),
        ("run-fumes", ANYTHING, "permits what 'run-fumes' forbids, with fumes unknown"),
        (
            "spray-running-ledger",
            ANYTHING,
            "permits what 'spray-running-ledger' forbids, with wet unknown",
        ),
        ("road-dry", WET_STRICT, "permits what 'road-dry' forbids, with wet 0.1 mL"),
        (
            "start-no-fluid-trip",
            ANYTHING,
            "permits what 'latched-spill' forbids, with trip spill latched",
        ),
    ],
)
def test_a_breach_is_told_with_the_belief_that_lets_it_through(
    id: str, allows: Rule, said: str
) -> None:
    row = next(row for row in INTERLOCKS if row.id == id)
    loose, rows = changed(row, allows=allows)
    assert said in [finding.said for finding in try_row(loose, rows).findings]


def test_a_trip_is_shown_as_latched_only_where_it_is() -> None:
    both = Bay(trips=frozenset({Trip.SPILL, Trip.STUB}))
    assert under_test._shown(both, "trip spill") == "latched"
    assert under_test._shown(both, "trip fire") == "not latched"


def test_without_any_row_every_row_is_named_and_nothing_known_permits() -> None:
    found = run_self_test(()).findings
    assert {row.id for row in INTERLOCKS} <= named(found)
    assert {f.act for f in found if f.row == "kernel"} == {act.value for act in Act}


def test_a_row_that_stands_twice_or_has_no_monitor_is_named() -> None:
    extra = replace(INTERLOCKS[0], id="made-up")
    said = [str(f) for f in under_test._table((*INTERLOCKS, INTERLOCKS[3], extra))]
    assert f"{INTERLOCKS[3].id}: the row stands in the table more than once" in said
    assert "made-up: no monitor is named for this row" in said
    assert try_row(extra, (*INTERLOCKS, extra)).monitors == ()


@each("row", INTERLOCKS, ids=lambda row: row.id)
def test_a_row_that_permits_everything_is_named_by_its_states_and_by_its_monitor(
    row: Interlock,
) -> None:
    loose, rows = changed(row, allows=ANYTHING)
    said = [f.said for f in try_row(loose, rows).findings]
    assert "never refuses alone, whatever is out of order" in said
    assert any(text.startswith("permits what '") for text in said)


@each(
    ("row", "act"),
    [(row, act) for row in INTERLOCKS if len(row.acts) > 1 for act in Act if act in row.acts],
    ids=lambda value: value.id if isinstance(value, Interlock) else value.value,
)
def test_a_row_that_forgets_one_of_its_acts_is_named_with_that_act(
    row: Interlock, act: Act
) -> None:
    loose, rows = changed(row, acts=row.acts - {act})
    assert {(f.row, f.act) for f in try_row(loose, rows).findings} == {(row.id, act.value)}


@each("row", INTERLOCKS, ids=lambda row: row.id)
def test_a_row_that_never_permits_is_named(row: Interlock) -> None:
    _, rows = changed(row, allows=NOTHING)
    assert row.id in named(list(under_test._ready(rows)))


@each("row", [row for row in INTERLOCKS if isinstance(row.allows, Is)], ids=lambda row: row.id)
def test_a_row_that_takes_unknown_for_good_is_named(row: Interlock) -> None:
    assert isinstance(row.allows, Is)
    unknown = FACTS[row.allows.fact]["UNKNOWN"]
    allows = Is(row.allows.fact, (*row.allows.states, unknown))
    loose, rows = changed(row, allows=allows)
    said = {f.said for f in try_row(loose, rows).findings}
    if len(allows.states) == len(FACTS[row.allows.fact]):  # now it takes every state
        assert "never refuses alone, whatever is out of order" in said
    else:
        assert {f"permits with {row.allows.fact} {how}" for how in ("unknown", "stale")} <= said


def test_an_old_fact_that_is_still_believed_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    def never_old(bay: Bay, event: BayEvent) -> Bay:
        return bay if isinstance(event, Lapsed) else apply(bay, event)

    monkeypatch.setattr(under_test, "apply", never_old)
    row = next(row for row in INTERLOCKS if row.id == "run-fumes")
    said = {str(f) for f in try_row(row).findings}
    assert "run-fumes, start: permits with fumes stale" in said


@each("row", INTERLOCKS, ids=lambda row: row.id)
def test_a_row_that_may_be_waived_and_should_not_be_or_the_reverse_is_named(
    row: Interlock,
) -> None:
    other, rows = changed(row, waivable=not row.waivable, invariant=QUALITY)
    said = "cannot be waived though it only keeps the record" if row.waivable else "can be waived"
    assert {f.said for f in try_row(other, rows).findings} == {said}


# -- every small change that loosens a row -----------------------------------------------------


def states_around(row: Interlock) -> Iterator[tuple[Bay, Ask]]:
    """Every mix of what the row reads, and of what is asked, in the first ready bay of an act."""
    reads = sorted(row.reads)
    choices: list[tuple[object, ...]] = [
        (None, 0, 1, 2, 3, 4)
        if fact == "wet"
        else (frozenset(), *(frozenset({trip}) for trip in Trip))
        if fact == "trips"
        else tuple(FACTS[fact])
        for fact in reads
    ]
    for states in product(*choices):
        changes: dict[str, Any] = dict(zip(reads, states, strict=True))
        for act in row.acts:
            bay, ask = READY[act]
            asks = [ask, *under_test.asks(ask)]
            yield from ((replace(bay, **changes), each) for each in asks)


def loosened(row: Interlock) -> list[Interlock]:
    """Every small change of the row that permits something which the row refuses."""
    around = list(states_around(row))
    return [
        replace(row, allows=other)
        for other in mutants(row.allows)
        if any(
            other.holds(bay, ask, LIMITS) and not row.allows.holds(bay, ask, LIMITS)
            for bay, ask in around
        )
    ]


def unnoticed(rows: tuple[Interlock, ...]) -> tuple[list[str], int]:
    """The loosened rows that the self-test does not name, and how many were tried."""
    missed, tried = [], 0
    for row in rows:
        for loose in loosened(row):
            tried += 1
            table = changed(row, allows=loose.allows)[1]
            found = list(try_row(loose, table).findings)
            if "trips" in row.reads:
                found += [finding for trip in Trip for finding in try_trip(trip, table)]
            if row.id not in named(found):
                missed.append(f"{row.id}: {loose.allows}")
    return missed, tried


@pytest.mark.slow
def test_every_row_that_is_loosened_in_any_small_way_is_named() -> None:
    missed, tried = unnoticed(INTERLOCKS)
    assert missed == []
    assert tried > 250


# -- trips ---------------------------------------------------------------------------------------


def test_every_trip_has_its_cause_and_comes_by_it() -> None:
    assert set(CAUSES) == set(Trip)
    for trip, (bay, event) in CAUSES.items():
        assert trip in trips(bay, event, apply(bay, event), LIMITS), trip
        assert list(try_trip(trip)) == []


def no_latch(bay: Bay, event: BayEvent) -> Bay:
    return bay if isinstance(event, Tripped) else apply(bay, event)


def goes_with_its_cause(bay: Bay, event: BayEvent) -> Bay:
    kept = isinstance(event, Tripped)
    return apply(bay, event) if kept else replace(apply(bay, event), trips=frozenset())


def no_reset(bay: Bay, event: BayEvent) -> Bay:
    return bay if isinstance(event, ResetDone) else apply(bay, event)


def reset_starts(bay: Bay, event: BayEvent) -> Bay:
    after = apply(bay, event)
    return replace(after, engine=Engine.RAISED) if isinstance(event, ResetDone) else after


def reset_permits(bay: Bay, event: BayEvent) -> Bay:
    after = apply(bay, event)
    return replace(after, permit=Act.START) if isinstance(event, ResetDone) else after


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        (no_latch, "trip spill: does not latch"),
        (goes_with_its_cause, "trip spill: is gone with its cause, without a reset"),
        (no_reset, "trip spill, reset: is not reset"),
        (reset_starts, "trip spill, reset: a reset starts or permits something"),
        (reset_permits, "trip spill, reset: a reset starts or permits something"),
    ],
)
def test_a_kernel_that_forgets_a_latch_or_starts_by_a_reset_is_named(
    broken: Callable[[Bay, BayEvent], Bay], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(under_test, "apply", broken)
    assert said in [str(finding) for finding in try_trip(Trip.SPILL)]


def test_a_kernel_that_does_not_trip_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(under_test, "trips", lambda *given: ())
    for trip in Trip:
        assert f"trip {trip.value}: does not come by its cause" in map(str, try_trip(trip))


@pytest.mark.parametrize(
    ("said", "trip"),
    [
        ("no-trip-latched, spray_off: permits with the trip 'spill' latched", Trip.SPILL),
        ("start-no-fluid-trip, start: permits with the trip 'spill' latched", Trip.SPILL),
        ("reset-possible, reset: permits it for 'fire': it has none", Trip.FIRE),
        ("reset-possible, reset: permits it for 'spill', not latched", Trip.SPILL),
        ("reset-recovered, reset: permits it for 'spill' unrecovered", Trip.SPILL),
    ],
)
def test_a_loose_row_about_trips_is_named_by_the_trip(said: str, trip: Trip) -> None:
    row = next(row for row in INTERLOCKS if row.id == said.partition(",")[0])
    _, rows = changed(row, allows=ANYTHING)
    assert said in [str(finding) for finding in try_trip(trip, rows)]


def test_of_the_two_rows_that_hold_latched_trips_only_the_loose_one_is_named() -> None:
    loose = next(row for row in INTERLOCKS if row.id == "start-no-fluid-trip")
    whole = next(row for row in INTERLOCKS if row.id == "no-trip-latched")
    loose, rows = changed(loose, allows=ANYTHING)
    assert try_row(whole, rows).findings == ()
    assert named(try_row(loose, rows).findings) == {"start-no-fluid-trip"}


def test_a_row_that_keeps_a_latched_trip_from_being_made_safe_is_named() -> None:
    row = next(row for row in INTERLOCKS if row.id == "no-trip-latched")
    _, rows = changed(row, acts=row.acts | {Act.STOP_ENGINE, Act.ABANDON, Act.RESET})
    found = {(f.row, f.act) for f in try_trip(Trip.SPILL, rows)}
    assert found == {(row.id, "stop_engine"), (row.id, "abandon"), (row.id, "reset")}


def test_every_named_bay_serves_an_act_that_some_row_names() -> None:
    acts = {act for row in INTERLOCKS for act in row.acts}
    assert {ask.act for _, ask in NAMED.values()} == acts == set(Act)
