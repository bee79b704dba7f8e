"""Which invariant each interlock row serves and which acts it stands before, by hand."""

import pytest

from safety.bay import Act, Bay, DoseLimits, Trip
from safety.interlocks import INTERLOCKS, Ask, rows_for

ROWS = {row.id: row for row in INTERLOCKS}
LIMITS = DoseLimits(1, 2, 3)
SERVES = {
    0: "codes-saved-first codes-after-readings",
    1: "start-ledger start-soak stop-with-fluid turn-soaked run-on-running start-no-fluid-trip "
    "reset-fluid",
    2: "spray-off-ledger spray-running-ledger spray-rate spray-off-cool spray-running-band "
    "spray-sheet fluid-kit spray-spill spray-not-burning spray-off-still spray-running-idle "
    "spray-coupled couple-hose-off",
    4: "start-port-shut run-secured run-fumes run-controls start-only-when-stopped revs-hose-on "
    "revs-gun-away revs-line-clear revs-ceiling revs-from-idle road-ready road-dry",
    5: "start-hands-clear ignition-not-in-soak hands-in-still hands-told hose-cool refit-idle "
    "refit-hands",
    6: "spray-before-first hose-which zero-stopped before-only-dry after-only-dried",
    7: "spray-agreed spray-triage spray-identity hand-over-still hand-over-codes "
    "hand-over-signed hand-over-dry no-trip-latched reset-possible reset-recovered",
    8: "start-check spray-check",
    9: "abandon-tagged",
    10: "crew-may-run spray-off-pair",
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


@pytest.mark.parametrize("act", list(Act), ids=lambda act: act.value)
def test_a_latched_trip_stands_before_every_act_that_does_not_make_safe(act: Act) -> None:
    before = {row.id for row in rows_for(act, INTERLOCKS)}
    assert ("no-trip-latched" in before) == (act.value not in {*MAKES_SAFE.split(), "start"})
    assert ("start-no-fluid-trip" in before) == (act is Act.START)


@pytest.mark.parametrize("trip", list(Trip), ids=lambda trip: trip.value)
def test_a_trip_about_fluid_is_not_reset_while_nobody_knows_the_fluid(trip: Trip) -> None:
    held = ROWS["reset-fluid"].allows.holds(Bay(), Ask(Act.RESET, trip=trip), LIMITS)
    assert held == (trip.value not in ABOUT_FLUID)
