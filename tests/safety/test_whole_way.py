"""Whole jobs through the kernel with all its rows: the proofs are not about a kernel that
refuses everything. The ways themselves lie in ``safety/whole_ways.py``, since ``check --kernel``
walks them too. Each begins with nothing known."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import pytest

from safety.bay import Act, Tier, Trip
from safety.happenings import Happening
from safety.interlocks import INTERLOCKS, Rule
from safety.kernel import PermitLapsed
from safety.whole_ways import (
    ENDS_THE_JOB,
    OTHER_TRIPS,
    SOMETIMES,
    Refused,
    Way,
    dosed,
    ends_the_job,
    extended_dose,
    left_alone,
    never_met,
    no_engine_off_dose,
    ready_for_fluid,
    stall_recovered,
    stalled_while_spraying,
    strict_dose,
    taken_in,
    trips_and_is_reset,
)

H = Happening
NEVER = Rule("never", frozenset(), lambda bay, ask, limits: False)


def walked(walk: Callable[[Way], None]) -> Way:
    way = Way()
    walk(way)
    return way


def test_a_job_with_an_extended_dose_starts_only_after_the_turn_by_hand() -> None:
    way = Way()
    dosed(way, Tier.EXTENDED, 40)
    assert "start-ledger" in way.refused(Act.START)
    way.do(Act.HAND_TURN, H.TURNED_EVEN)
    way.see(hands="clear", start_check="other")
    assert "start-ledger" in way.refused(Act.START)
    way.happens(H.TURN_SEEN)
    assert way.refused(Act.START) == []


@pytest.mark.parametrize("walk", [extended_dose, strict_dose, no_engine_off_dose])
def test_a_job_with_each_choice_of_dose_is_handed_over_dry_with_nothing_latched(
    walk: Callable[[Way], None],
) -> None:
    way = walked(walk)
    assert way.latched == []
    assert way.bay.wet == 0
    assert "permitted: hand_over" in way.met


def test_a_stall_while_spraying_is_recovered_reset_and_started_again() -> None:
    way = walked(stalled_while_spraying)
    assert set(way.latched) == {Trip.STALLED, Trip.OVERDOSE}
    assert way.bay.wet is None
    assert "start-no-fluid-trip" in way.refused(Act.START)
    way = walked(stall_recovered)
    assert way.bay.trips == frozenset()
    assert way.bay.wet == 0


def test_an_overdose_that_is_drained_and_measured_is_still_unknown_and_can_be_abandoned() -> None:
    way = Way()
    ready_for_fluid(way, Tier.STRICT)
    way.do(Act.SPRAY_OFF, H.OVERDOSED, 10, None)
    way.happens(H.DRAINED, amount=30)
    assert way.bay.wet is None
    way.do(Act.UNCOUPLE_GUN, H.GUN_UNCOUPLED)
    assert "abandon-tagged" in way.refused(Act.ABANDON)
    way.see(tag="do_not_start")
    way.do(Act.ABANDON, H.ABANDONED)


@pytest.mark.parametrize("what", OTHER_TRIPS)
def test_every_other_trip_with_a_way_back_is_latched_recovered_and_reset(what: H) -> None:
    way = walked(taken_in)
    way.happens(what)
    assert way.latched == [OTHER_TRIPS[what]]
    assert "no-trip-latched" in way.refused(Act.IGNITION_ON)
    assert walked(partial(trips_and_is_reset, what=what)).bay.trips == frozenset()


def test_an_engine_left_alone_trips_and_can_be_reset() -> None:
    way = walked(left_alone)
    assert way.latched == [Trip.UNATTENDED]
    assert way.bay.trips == frozenset()


@pytest.mark.parametrize("what", ENDS_THE_JOB)
def test_a_terminal_trip_leaves_only_making_safe_and_abandoning(what: H) -> None:
    way = walked(taken_in)
    way.happens(what)
    (trip,) = (t for t in way.latched if t.terminal)
    way.happens(H.RECOVERED)
    assert way.refused(Act.RESET, trip=trip)
    with pytest.raises(Refused, match="reset is refused by"):
        way.reset(trip)
    assert "permitted: abandon" in walked(partial(ends_the_job, what=what)).met


def test_a_permit_that_nobody_answers_leaves_the_open_spray_unknown() -> None:
    way = Way()
    ready_for_fluid(way, Tier.STRICT)
    way.begin(Act.SPRAY_OFF, 10)
    way.comes(PermitLapsed())
    assert way.bay.wet is None
    assert way.latched == [Trip.OVERDOSE]


# -- what must sometimes be possible ------------------------------------------------------------


def test_every_act_is_permitted_every_trip_latched_and_reset_and_every_choice_handed_over() -> None:
    assert never_met() == ()
    assert len(SOMETIMES) == len(Act) + len(Trip) + sum(not t.terminal for t in Trip) + 3


@pytest.mark.parametrize("act", Act)
def test_an_act_that_no_row_would_ever_permit_is_named(act: Act) -> None:
    closed = replace(INTERLOCKS[0], id="closed", acts=frozenset({act}), allows=NEVER)
    missed = never_met((*INTERLOCKS, closed))
    assert f"permitted: {act.value}" in missed
    assert any(said.endswith(f"{act.value} is refused by closed") for said in missed)
