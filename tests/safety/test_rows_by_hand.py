"""Which invariant each interlock row serves and which acts it stands before, by hand."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from steplatch.safety.bay import FACTS, Act, Bay, DoseLimits, Trip
from steplatch.safety.interlocks import INTERLOCKS, Ask, Both, Condition, Either, Rule, rows_for

from tests.each import each

ROWS = {row.id: row for row in INTERLOCKS}
LIMITS = DoseLimits(1, 2, 3)
SERVES = {
    0: "codes-saved-first codes-after-readings",
    1: "start-ledger start-soak stop-with-fluid turn-soaked run-on-running start-no-fluid-trip "
    "reset-fluid try-before-fluid",
    2: "spray-off-ledger spray-off-burst spray-running-ledger spray-rate spray-off-cool "
    "spray-running-band spray-sheet fluid-kit spray-spill spray-not-burning spray-off-still "
    "spray-running-idle spray-coupled couple-hose-off "
    "fluid-low-loop spray-flash spray-trigger spray-stop-start",
    4: "start-port-shut lift-carries lift-down "
    "run-secured run-fumes run-controls run-oil start-only-when-stopped "
    "revs-hose-on revs-gun-away revs-line-clear revs-ceiling revs-from-idle revs-not-burning "
    "road-ready road-dry reset-attended",
    5: "start-hands-clear ignition-not-in-soak hands-in-still hands-told hose-cool refit-idle "
    "refit-hands start-bar-off try-disabled fluid-start-tried",
    6: "spray-before-first hose-which zero-stopped before-only-dry after-only-dried",
    7: "fluid-diesel fluid-coating fluid-foul "
    "spray-agreed spray-triage spray-identity hand-over-still hand-over-codes "
    "hand-over-signed hand-over-dry abandon-gun-away no-trip-latched reset-possible "
    "reset-recovered",
    8: "start-check spray-check",
    9: "abandon-tagged",
    10: "crew-may-run spray-off-pair turn-pair",
}
MAKES_SAFE = (
    "stop_engine uncouple_gun hands_in hand_turn abandon reset run_on clear_line put_hose_on "
    "hands_at_hose take_hose_off"
)
"""What a latched trip leaves open: making safe, looking and turning, drying, the reset, the end.
A start is left to a row of its own."""
ABOUT_FLUID = {"overdose", "stalled", "hard_turn", "uneven_crank", "self_started", "unpermitted"}


def test_each_row_serves_its_invariant() -> None:
    listed = {name: number for number, names in SERVES.items() for name in names.split()}
    assert {row.id: row.invariant for row in INTERLOCKS} == listed


@each("act", list(Act), ids=lambda act: act.value)
def test_a_latched_trip_stands_before_every_act_that_does_not_make_safe(act: Act) -> None:
    before = {row.id for row in rows_for(act, INTERLOCKS)}
    assert ("no-trip-latched" in before) == (act.value not in {*MAKES_SAFE.split(), "start"})
    assert ("start-no-fluid-trip" in before) == (act is Act.START)


@pytest.mark.parametrize("trip", list(Trip), ids=lambda trip: trip.value)
def test_a_trip_about_fluid_is_not_reset_while_nobody_knows_the_fluid(trip: Trip) -> None:
    held = ROWS["reset-fluid"].allows.holds(Bay(), Ask(Act.RESET, trip=trip), LIMITS)
    assert held == (trip.value not in ABOUT_FLUID)


def rules_in(condition: Condition) -> Iterator[Rule]:
    """Every rule that is a part of a condition, however deep."""
    match condition:
        case Rule():
            yield condition
        case Both(parts) | Either(parts):
            for part in parts:
                yield from rules_in(part)
        case _:
            pass


RULES = [(row, rule) for row in INTERLOCKS for rule in rules_in(row.allows)]


class Asked:
    """A bay that notes which of its facts are asked for."""

    def __init__(self, bay: Bay) -> None:
        self.bay, self.names = bay, set[str]()

    def __getattr__(self, name: str) -> Any:
        self.names.add(name)
        return getattr(self.bay, name)


@pytest.mark.parametrize(("row", "rule"), RULES, ids=[f"{r.id}, {rule.name}" for r, rule in RULES])
def test_a_rule_inside_a_row_reads_what_it_declares_itself_and_no_more(
    row: Any, rule: Rule
) -> None:
    # a search drops a rule, not only its row, by what the rule says that it reads
    choices: dict[str, tuple[Any, ...]] = {fact: tuple(states) for fact, states in FACTS.items()}
    choices |= {"wet": (None, 0, 1, 2, 3, 4)}
    choices |= {"trips": (frozenset(), frozenset({Trip.STALLED}), frozenset({Trip.FIRE}))}
    reads = sorted(rule.reads)
    read: set[str] = set()
    for values in product(*(choices[fact] for fact in reads)):
        changes: dict[str, Any] = dict(zip(reads, values, strict=True))
        for act in row.acts:
            bay: Any = Asked(replace(Bay(), **changes))
            rule.holds(bay, Ask(act, 1, trip=Trip.STALLED), LIMITS)
            read |= bay.names
    assert read == rule.reads
