"""What may happen without being permitted, what answers what, and what always trips: by hand."""

from typing import Final

import pytest
from steplatch.safety.bay import Act, Bay, DoseLimits, Engine, Trip
from steplatch.safety.kernel import Happened, apply, trips
from steplatch.safety.occurrences import OUTCOMES, Happening, happening_of

from tests.each import each

LIMITS: Final = DoseLimits(strict=1, extended=2, running=3)
BY_THEMSELVES: Final = {
    "the engine": "stopped stalled self_started lowered over_ceiling ran_away",
    "the hose": "line_still_wet stub_snapped",
    "a timer": "soak_begun soak_due run_on_due interrupted",
    "a look or a jug": "drained turn_seen looked_dry looked_wet cylinders_opened "
    "recovered recovered_alone",
    "an emergency": "fume_alarm fire_seen person_hurt spilled overdosed",
}
"""What the world, a clock, a look or an emergency brings: nobody needs leave for these."""

ANSWERS: Final = {
    "ignition_on": "ignition_on",
    "try_start": "tried_nothing tried_turned",
    "start": "started cranked_no_fire cranked_uneven",
    "stop_engine": "stopped",
    "raise": "raised",
    "hands_in": "hands_in",
    "hands_at_hose": "hands_at_hose",
    "take_hose_off": "hose_off stub_snapped",
    "couple_gun": "gun_coupled",
    "uncouple_gun": "gun_uncoupled",
    "clear_line": "line_cleared line_still_wet",
    "put_hose_on": "hose_on stub_snapped",
    "fill_gun": "gun_filled rate_measured gun_loaded",
    "spray_off": "spray_ended spray_none overdosed",
    "spray_running": "spray_ended spray_sagged spray_none overdosed stalled",
    "hand_turn": "turned_even turned_hard",
    "run_on": "run_on_begun",
    "read_zero": "zero_good zero_out",
    "read_before": "before_good before_partial",
    "read_after": "after_good after_partial",
    "clear_codes": "codes_cleared",
    "road_test": "road_ended",
    "hand_over": "handed_over",
    "abandon": "abandoned",
    "reset": "",
}
TRIPPING: Final = {
    "fire_seen": Trip.FIRE,
    "fume_alarm": Trip.FUMES,
    "person_hurt": Trip.INJURY,
    "ran_away": Trip.RUNAWAY,
    "turned_hard": Trip.HARD_TURN,
    "cranked_uneven": Trip.UNEVEN_CRANK,
    "overdosed": Trip.OVERDOSE,
    "self_started": Trip.SELF_STARTED,
    "over_ceiling": Trip.OVER_CEILING,
    "spilled": Trip.SPILL,
    "stub_snapped": Trip.STUB,
}


def tripped(bay: Bay, what: Happening) -> set[Trip]:
    event = Happened(what)
    return set(trips(bay, event, apply(bay, event), LIMITS))


@each("what", list(Happening), ids=lambda what: what.value)
def test_only_what_comes_by_itself_may_happen_while_nothing_is_permitted(what: Happening) -> None:
    free = {name for names in BY_THEMSELVES.values() for name in names.split()}
    assert (Trip.UNPERMITTED in tripped(Bay(), what)) == (what.value not in free)


@each("act", list(Act), ids=lambda act: act.value)
def test_each_permitted_act_is_answered_by_what_it_can_lead_to(act: Act) -> None:
    assert {what.value for what in OUTCOMES[act]} == set(ANSWERS[act.value].split())
    assert set(OUTCOMES) == set(Act) and set(ANSWERS) == {known.value for known in Act}


@each("what", list(Happening), ids=lambda what: what.value)
def test_some_happenings_trip_whenever_they_are_reported(what: Happening) -> None:
    always = {TRIPPING[what.value]} if what.value in TRIPPING else set()
    for engine in (Engine.STOPPED, Engine.IDLING):
        found = tripped(Bay(wet=0, engine=engine), what)
        assert found & set(TRIPPING.values()) == always, engine


def test_a_happening_is_found_by_its_name_and_each_is_said_in_its_own_words() -> None:
    for what in Happening:
        assert happening_of(what.value) is what
    assert len({what.said for what in Happening}) == len(Happening)
    with pytest.raises(ValueError, match="'exploded'"):
        happening_of("exploded")
