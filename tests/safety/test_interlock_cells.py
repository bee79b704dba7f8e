"""The cause-and-effect table against ``cells/interlocks.yaml``, which was written by hand.

In a bay in which everything stands ready, each fact is put into each of its states, unknown
included, one at a time; the act must be permitted in the states that the file names and
refused in all others.
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

import yaml
from steplatch.safety.bay import FACTS, Act, Bay, Trip
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import permit
from steplatch.safety.verify.kernel_model import LIMITS

from tests.each import each
from tests.safety.ready_bays import ASKED, NAMED

CELLS: dict[str, dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent / "cells" / "interlocks.yaml").read_text(encoding="utf-8")
)
WET = (None, 0, 1, 2, 3, 4)


def accepted(cell: dict[str, Any], fact: str, states: list[Any]) -> list[Any]:
    """The states in which the file says that the act goes on; all, where it says nothing."""
    named = cell.get(fact, "all")
    return states if named == "all" else [None if state == "?" else state for state in named]


def test_every_act_and_every_way_of_being_ready_has_its_cells() -> None:
    assert set(CELLS) == set(NAMED)
    assert {name.partition(",")[0].partition(" of ")[0] for name in CELLS} == {
        act.value for act in Act
    }


@each("name", sorted(CELLS))
def test_no_cell_names_a_fact_or_state_that_does_not_exist(name: str) -> None:
    for fact, states in CELLS[name].items():
        if states == "all" or fact == "wet":
            continue
        known = Trip if fact == "trips" else FACTS[fact]
        assert set(states) <= {state.value for state in known}, (name, fact)


@each("name", sorted(CELLS))
def test_each_fact_in_each_state_permits_or_refuses_as_the_table_says(name: str) -> None:
    bay, ask = NAMED[name]
    assert permit(bay, ask, LIMITS) == ()
    for fact, states in FACTS.items():
        good = accepted(CELLS[name], fact, [state.value for state in states])
        for state in states:
            changes: dict[str, Any] = {fact: state}
            asked = permit(replace(bay, **changes), ask, LIMITS)
            assert (not asked) == (state.value in good), (name, fact, state.value, asked)


@each("name", sorted(CELLS))
def test_each_ledger_permits_or_refuses_as_the_table_says(name: str) -> None:
    bay, ask = NAMED[name]
    good = accepted(CELLS[name], "wet", list(WET))
    for wet in WET:
        assert (not permit(replace(bay, wet=wet), ask, LIMITS)) == (wet in good), (name, wet)


@each("name", sorted(CELLS))
def test_each_single_latched_trip_permits_or_refuses_as_the_table_says(name: str) -> None:
    bay, ask = NAMED[name]
    good = accepted(CELLS[name], "trips", [trip.value for trip in Trip])
    for trip in Trip:
        latched = replace(bay, trips=frozenset({trip}))
        assert (not permit(latched, ask, LIMITS)) == (trip.value in good), (name, trip)


@each(("bay", "ask", "permitted"), ASKED)
def test_dose_band_and_trip_asked_for_permit_or_refuse_as_listed(
    bay: Bay, ask: Ask, permitted: bool
) -> None:
    assert (permit(bay, ask, LIMITS) == ()) == permitted


def test_a_bay_that_is_ready_with_fluid_in_holds_all_that_its_limit_allows() -> None:
    held = {
        "start": LIMITS.strict,
        "start, turned by hand": LIMITS.extended,
        "ignition_on, fluid soaked in": LIMITS.extended,
        "raise, fluid gone in": LIMITS.running,
        "reset, within strict": LIMITS.strict,
    }
    assert {name: NAMED[name][0].wet for name in held} == held
