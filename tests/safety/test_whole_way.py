"""Whole jobs through the kernel with all its rows: the proofs are not about a kernel that
refuses everything. Each way begins with nothing known."""

from dataclasses import dataclass, field
from typing import Any

import pytest

from safety.bay import Act, Bay, DoseLimits, Trip, state_of
from safety.happenings import Happening
from safety.interlocks import Ask
from safety.kernel import (
    Granted,
    Happened,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
    apply,
    permit,
    trips,
)

H = Happening
LIMITS = DoseLimits(strict=15, extended=40, running=300)


@dataclass
class Way:
    """A way through the kernel: the bay as it becomes, and the acts that were permitted."""

    bay: Bay = field(default_factory=Bay)
    permitted: list[Act] = field(default_factory=list)
    latched: list[Trip] = field(default_factory=list)

    def _apply(self, event: Any) -> None:
        before = self.bay
        self.bay = apply(before, event)
        for trip in trips(before, event, self.bay, LIMITS):
            self.bay = apply(self.bay, Tripped(trip))
            self.latched.append(trip)

    def see(self, **facts: str) -> None:
        for fact, state in facts.items():
            self._apply(Seen(fact, state_of(fact, state)))

    def happens(self, *happenings: H, amount: int | None = 0) -> None:
        for what in happenings:
            self._apply(Happened(what, amount))

    def refused(self, act: Act, dose: int = 0) -> list[str]:
        return [r.interlock for r in permit(self.bay, Ask(act, dose), LIMITS)]

    def begin(self, act: Act, dose: int = 0) -> None:
        assert self.refused(act, dose) == []
        self._apply(Granted(act, dose))
        self.permitted.append(act)

    def do(self, act: Act, what: H, dose: int = 0, amount: int | None = 0) -> None:
        self.begin(act, dose)
        self.happens(what, amount=amount)

    def reset(self, trip: Trip) -> None:
        assert permit(self.bay, Ask(Act.RESET, trip=trip), LIMITS) == ()
        self._apply(ResetDone(trip))
        self.permitted.append(Act.RESET)


def taken_in(crew: str = "pair") -> Way:
    """Matched, agreed, safe to run, codes saved, 'before' read, sensor proven."""
    way = Way()
    way.see(crew=crew, arrival="dry", identity="match", agreed="clean", codes="saved")
    way.see(engine="stopped", key="off", hands="clear", hose="on", gun="away", spill="ready")
    way.see(secured="yes", fumes="extraction", controls="other", sheet="read", kit="worn")
    way.do(Act.IGNITION_ON, H.IGNITION_ON)
    way.do(Act.START, H.STARTED)
    way.do(Act.RAISE, H.RAISED)
    way.do(Act.READ_BEFORE, H.BEFORE_PARTIAL)
    way.happens(H.LOWERED)
    way.do(Act.STOP_ENGINE, H.STOPPED)
    way.do(Act.READ_ZERO, H.ZERO_GOOD)
    way.do(Act.READ_BEFORE, H.BEFORE_GOOD)
    way.see(triage="go", sensor="proven", reach="clear", key="boxed", port="cool")
    return way


def ready_for_fluid(tier: str) -> Way:
    """The hose off, the gun filled, measured and coupled, checked by another."""
    way = taken_in()
    way.see(tier=tier)
    way.do(Act.FILL_GUN, H.RATE_MEASURED)
    way.do(Act.HANDS_IN, H.HANDS_IN)
    way.do(Act.TAKE_HOSE_OFF, H.HOSE_OFF)
    way.do(Act.COUPLE_GUN, H.GUN_COUPLED)
    way.see(fluid_check="other")
    return way


def dosed(tier: str, dose: int) -> Way:
    """An engine-off dose and its soak."""
    way = ready_for_fluid(tier)
    way.do(Act.SPRAY_OFF, H.SPRAY_ENDED, dose, dose)
    way.happens(H.SOAK_BEGUN, H.SOAK_DUE)
    return way


def running_dose(way: Way) -> None:
    way.see(idle="steady", burning="no", port="warm")
    way.do(Act.SPRAY_RUNNING, H.SPRAY_ENDED, 100, 90)


def refitted(way: Way) -> None:
    way.do(Act.HANDS_AT_HOSE, H.HANDS_AT_HOSE)
    way.do(Act.UNCOUPLE_GUN, H.GUN_UNCOUPLED)
    way.do(Act.CLEAR_LINE, H.LINE_CLEARED)
    way.do(Act.PUT_HOSE_ON, H.HOSE_ON)
    way.see(hands="clear")


def dried_and_handed_over(way: Way) -> None:
    way.do(Act.RAISE, H.RAISED)
    way.do(Act.RUN_ON, H.RUN_ON_BEGUN)
    way.happens(H.RUN_ON_DUE)
    assert way.bay.wet == 0
    way.do(Act.READ_AFTER, H.AFTER_PARTIAL)
    way.happens(H.LOWERED)
    way.do(Act.STOP_ENGINE, H.STOPPED)
    way.do(Act.READ_ZERO, H.ZERO_GOOD)
    way.do(Act.READ_AFTER, H.AFTER_GOOD)
    way.do(Act.CLEAR_CODES, H.CODES_CLEARED)
    way.see(codes="read_again", road="ready", driver="licensed")
    way.do(Act.ROAD_TEST, H.ROAD_ENDED)
    way.see(release_check="other")
    way.do(Act.HAND_OVER, H.HANDED_OVER)


def test_a_job_with_an_extended_dose_starts_only_after_the_turn_by_hand() -> None:
    way = dosed("extended", 40)
    assert "start-ledger" in way.refused(Act.START)
    way.do(Act.HAND_TURN, H.TURNED_EVEN)
    way.see(hands="clear", start_check="other")
    assert "start-ledger" in way.refused(Act.START)
    way.happens(H.TURN_SEEN)
    way.do(Act.START, H.CRANKED_NO_FIRE)
    way.see(start_check="other")
    way.do(Act.START, H.STARTED)
    running_dose(way)
    refitted(way)
    dried_and_handed_over(way)
    assert way.latched == []


def test_a_job_with_a_strict_dose_starts_after_soak_and_check() -> None:
    way = dosed("strict", 15)
    way.see(hands="clear", start_check="other")
    way.do(Act.START, H.STARTED)
    running_dose(way)
    refitted(way)
    dried_and_handed_over(way)
    assert way.latched == []


def test_a_job_with_no_engine_off_dose_goes_straight_to_the_running_dose() -> None:
    way = ready_for_fluid("none")
    way.see(hands="clear")
    way.do(Act.START, H.STARTED)
    running_dose(way)
    refitted(way)
    dried_and_handed_over(way)
    assert way.latched == []


def test_a_stall_while_spraying_is_recovered_reset_and_started_again() -> None:
    way = ready_for_fluid("none")
    way.see(hands="clear")
    way.do(Act.START, H.STARTED)
    way.see(idle="steady", burning="no", port="warm")
    way.do(Act.SPRAY_RUNNING, H.STALLED, 100, None)
    assert set(way.latched) == {Trip.STALLED, Trip.OVERDOSE}
    assert way.bay.wet is None
    assert "start-no-fluid-trip" in way.refused(Act.START)
    way.see(key="boxed")
    way.do(Act.HANDS_IN, H.HANDS_IN)
    way.happens(H.SOAK_BEGUN, H.SOAK_DUE, H.LOOKED_DRY)
    way.do(Act.HAND_TURN, H.TURNED_EVEN)
    way.happens(H.TURN_SEEN)
    for trip in (Trip.OVERDOSE, Trip.STALLED):
        way.happens(H.RECOVERED)
        way.reset(trip)
    way.see(hands="clear", start_check="other")
    way.do(Act.START, H.STARTED)
    way.do(Act.RUN_ON, H.RUN_ON_BEGUN)
    way.happens(H.RUN_ON_DUE)
    refitted(way)
    dried_and_handed_over(way)


def test_an_overdose_that_is_drained_and_measured_is_still_unknown_and_can_be_abandoned() -> None:
    way = ready_for_fluid("strict")
    way.do(Act.SPRAY_OFF, H.OVERDOSED, 10, None)
    way.happens(H.DRAINED, amount=30)
    assert way.bay.wet is None
    way.do(Act.UNCOUPLE_GUN, H.GUN_UNCOUPLED)
    assert "abandon-tagged" in way.refused(Act.ABANDON)
    way.see(tag="do_not_start")
    way.do(Act.ABANDON, H.ABANDONED)


@pytest.mark.parametrize(
    ("what", "trip"),
    [
        (H.SELF_STARTED, Trip.SELF_STARTED),
        (H.OVER_CEILING, Trip.OVER_CEILING),
        (H.SPILLED, Trip.SPILL),
        (H.STUB_SNAPPED, Trip.STUB),
        (H.HOSE_OFF, Trip.UNPERMITTED),
    ],
)
def test_every_other_trip_with_a_way_back_is_latched_recovered_and_reset(
    what: H, trip: Trip
) -> None:
    way = taken_in()
    way.happens(what)
    assert way.latched == [trip]
    assert "no-trip-latched" in way.refused(Act.IGNITION_ON)
    way.happens(H.RECOVERED)
    way.reset(trip)
    assert way.bay.trips == frozenset()


def test_an_engine_left_alone_trips_and_can_be_reset() -> None:
    way = taken_in()
    way.see(key="off")
    way.do(Act.START, H.STARTED)
    way.see(controls="nobody")
    assert way.latched == [Trip.UNATTENDED]
    way.happens(H.RECOVERED)
    way.reset(Trip.UNATTENDED)


@pytest.mark.parametrize(
    "what", [H.FIRE_SEEN, H.FUME_ALARM, H.PERSON_HURT, H.RAN_AWAY, H.TURNED_HARD, H.CRANKED_UNEVEN]
)
def test_a_terminal_trip_leaves_only_making_safe_and_abandoning(what: H) -> None:
    way = taken_in()
    way.happens(what)
    (trip,) = (t for t in way.latched if t.terminal)
    way.happens(H.RECOVERED)
    assert permit(way.bay, Ask(Act.RESET, trip=trip), LIMITS)
    way.see(engine="stopped", gun="away", tag="do_not_start")
    way.do(Act.ABANDON, H.ABANDONED)


def test_every_act_is_permitted_somewhere_on_these_ways() -> None:
    ways = [dosed("extended", 40), dosed("strict", 15), taken_in()]
    way = ways[0]
    way.do(Act.HAND_TURN, H.TURNED_EVEN)
    way.happens(H.TURN_SEEN)
    way.see(hands="clear", start_check="other")
    way.do(Act.START, H.STARTED)
    running_dose(way)
    refitted(way)
    dried_and_handed_over(way)
    way.see(tag="key_tagged")
    way.do(Act.ABANDON, H.ABANDONED)
    ways[2].happens(H.SPILLED, H.RECOVERED)
    ways[2].reset(Trip.SPILL)
    assert {act for w in ways for act in w.permitted} == set(Act)


def test_a_permit_that_nobody_answers_leaves_the_open_spray_unknown() -> None:
    way = ready_for_fluid("strict")
    way.begin(Act.SPRAY_OFF, 10)
    way._apply(PermitLapsed())
    assert way.bay.wet is None
    assert way.latched == [Trip.OVERDOSE]
