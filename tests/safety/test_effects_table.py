"""The effects table against the four files in ``cells`` that state it a second time, by hand.

Every cell, event x fact, is filled with every state that the fact may be in before.
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from steplatch.safety import effects
from steplatch.safety.bay import FACTS, Act, Bay, Engine, Rate, RunOn, Trip, state_of
from steplatch.safety.effects import EFFECTS, GRANTS, LAPSED, SEEN
from steplatch.safety.kernel import (
    BayEvent,
    Granted,
    Happened,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
    apply,
)
from steplatch.safety.occurrences import OUTCOMES, Happening, happening_of

from tests.each import each

CELLS = Path(__file__).parent / "cells"


def cells(name: str) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = yaml.safe_load(
        (CELLS / f"{name}.yaml").read_text(encoding="utf-8")
    )
    return found


ROWS, PERMITS, LOOKS, LAPSES = map(cells, ("effects", "permits", "looks", "lapses"))
DRYING = replace(Bay(), engine=Engine.IDLING, run_on=RunOn.RUNNING)
"""So that the one cell that needs a running engine, 'drying time over', is filled with one."""


def becomes(row: dict[str, Any], fact: str, before: str) -> str:
    """What the file says that ``fact`` becomes."""
    if fact in row.get("sets", {}):
        return str(row["sets"][fact])
    if fact in row.get("ends", ()):
        return "unknown"
    return str(row.get("turns", {}).get(fact, {}).get(before, before))


def check(row: dict[str, Any], event: BayEvent, permit: Act | None = None) -> None:
    for fact, states in FACTS.items():
        for state in states:
            changes: dict[str, Any] = {fact: state, "permit": permit}
            bay = DRYING if fact != "engine" else replace(DRYING, run_on=RunOn.UNKNOWN)
            after = apply(replace(bay, **changes), event)
            assert getattr(after, fact).value == becomes(row, fact, state.value), (
                event,
                fact,
                state.value,
            )


def test_every_happening_has_its_row_in_table_and_file() -> None:
    names = {what.value for what in Happening}
    assert set(ROWS) == names
    assert {what.value for what in EFFECTS} == names
    assert set(PERMITS) == {act.value for act in GRANTS}
    assert set(LOOKS) == {f"{fact} {state}" for fact, state in SEEN}
    assert set(LAPSES) == {act.value for act in LAPSED} == {act.value for act in Act}


@each("row", [row for file in (ROWS, PERMITS, LOOKS, LAPSES) for row in file.values()])
def test_the_file_names_no_fact_or_state_that_does_not_exist(row: dict[str, Any]) -> None:
    assert set(row) <= {"sets", "turns", "ends", "wet"}
    assert set(row.get("ends", ())) <= set(FACTS)
    for fact, state in row.get("sets", {}).items():
        state_of(fact, state)
    for fact, turns in row.get("turns", {}).items():
        for before, after in turns.items():
            state_of(fact, before)
            state_of(fact, after)


@each("what", list(Happening), ids=lambda what: what.value)
def test_each_fact_becomes_what_the_file_says_it_becomes(what: Happening) -> None:
    check(ROWS[what.value], Happened(what))


@each("act", list(Act), ids=lambda act: act.value)
def test_a_permit_changes_what_the_file_says_and_no_more(act: Act) -> None:
    check(PERMITS.get(act.value, {}), Granted(act))


@each(
    ("fact", "state"),
    [(fact, state) for fact, states in FACTS.items() for state in states],
    ids=lambda one: one if isinstance(one, str) else one.value,
)
def test_a_look_changes_what_the_file_says_and_no_more(fact: str, state: Any) -> None:
    by_state = LOOKS.get(f"{fact} {state.value}", {})
    otherwise = LOOKS.get(f"{fact} otherwise", {})
    for believed in FACTS[fact]:
        moved = believed is not state
        ends = [*by_state.get("ends", ()), *(otherwise.get("ends", ()) if moved else ())]
        row = {"sets": by_state.get("sets", {}), "ends": ends}
        for other, states in FACTS.items():
            for before in states if other != fact else ():
                changes: dict[str, Any] = {fact: believed, other: before}
                after = apply(replace(Bay(), **changes), Seen(fact, state))
                assert getattr(after, fact) is state
                assert getattr(after, other).value == becomes(row, other, before.value), other


@each("act", list(Act), ids=lambda act: act.value)
def test_an_unanswered_permit_changes_what_the_file_says_and_no_more(act: Act) -> None:
    check(LAPSES[act.value], PermitLapsed(), act)


@each("act", list(Act), ids=lambda act: act.value)
def test_the_ledger_of_an_unanswered_permit_is_cut_where_the_file_says_so(act: Act) -> None:
    before = replace(Bay(), wet=5, reserved=2, rate=Rate.MEASURED, permit=act)
    cut = LAPSES[act.value].get("wet") == "cut"
    assert apply(before, PermitLapsed()).wet == (None if cut else 5)


@pytest.mark.parametrize("event", [Tripped(Trip.SPILL), ResetDone(Trip.SPILL)])
def test_a_trip_and_its_reset_end_the_recovery_and_no_more(event: BayEvent) -> None:
    check({"ends": ["recovery"]}, event)


LEDGER: dict[str, tuple[int | None, int]] = {
    "keep": (5, 2),
    "reserve": (8, 3),
    "settle": (6, 0),
    "drain": (2, 2),
    "dry": (0, 0),
    "cut": (None, 0),
    "unknown": (None, 0),
}
"""What ``wet`` 5 with 2 reserved becomes with an amount of 3. By hand: a reservation adds 3;
a settlement takes the 2 off and puts the 3 on; a drain takes 3 off, but no spray is open that
may put less than its 2 in; a cut leaves nobody knowing."""


@each("name", [*ROWS, *PERMITS])
def test_the_ledger_moves_as_the_file_says(name: str) -> None:
    row = {**ROWS, **PERMITS}[name]
    before = replace(DRYING, wet=5, reserved=2, rate=Rate.MEASURED)
    event = Granted(Act(name), 3) if name in PERMITS else Happened(happening_of(name), 3)
    after = apply(before, event)
    assert (after.wet, after.reserved) == LEDGER[row.get("wet", "keep")]


@each("name", [*ROWS, *PERMITS])
def test_a_ledger_that_nobody_knows_stays_so_unless_a_drying_run_is_done(name: str) -> None:
    row = {**ROWS, **PERMITS}[name]
    event = Granted(Act(name), 3) if name in PERMITS else Happened(happening_of(name), 3)
    after = apply(replace(DRYING, wet=None), event)
    assert after.wet == (0 if row.get("wet") == "dry" else None)


@pytest.mark.parametrize("name", [n for n, row in ROWS.items() if row.get("wet") == "cut"])
def test_a_loaded_volume_stays_counted_whole_when_its_spray_is_cut(name: str) -> None:
    before = replace(Bay(), wet=5, reserved=2, rate=Rate.LOADED)
    assert apply(before, Happened(happening_of(name))).wet == 5


@each("act", list(Act), ids=lambda act: act.value)
def test_an_outcome_answers_its_permit_and_nothing_else_does(act: Act) -> None:
    for what in Happening:
        after = apply(replace(Bay(), permit=act), Happened(what))
        assert (after.permit is None) == (what in OUTCOMES[act])


def test_a_row_that_names_a_fact_that_does_not_exist_is_refused() -> None:
    with pytest.raises(ValueError, match="unknown facts"):
        effects._row("engine colour")
