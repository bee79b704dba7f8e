"""Whole jobs through the kernel with all its rows: the proofs are not about a kernel that
refuses everything. The runs themselves lie in ``safety/verify/witness_runs.py``, since
``check --kernel`` walks them too. Each begins with nothing known."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import pytest
from steplatch.safety.bay import SPRAYS, Act, Tier, Trip
from steplatch.safety.interlocks import INTERLOCKS, Ask, Rule
from steplatch.safety.kernel import BayEvent, Granted, Happened, PermitLapsed, ResetDone, permit
from steplatch.safety.occurrences import Happening
from steplatch.safety.verify import witness_runs as whole_ways
from steplatch.safety.verify.witness_runs import (
    ENDS_THE_JOB,
    LIMITS,
    OTHER_TRIPS,
    SOMETIMES,
    RefusedOnWitnessRun,
    WitnessRun,
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

from tests.each import each

H = Happening
NEVER = Rule("never", frozenset(), lambda bay, ask, limits: False)


def walked(walk: Callable[[WitnessRun], None]) -> WitnessRun:
    way = WitnessRun()
    walk(way)
    return way


def test_a_job_with_an_extended_dose_starts_only_after_the_turn_by_hand() -> None:
    way = WitnessRun()
    dosed(way, Tier.EXTENDED, 40)
    assert "start-ledger" in way.refused(Act.START)
    way.do(Act.HAND_TURN, H.TURNED_EVEN)
    way.see(hands="clear", start_check="other")
    assert "start-ledger" in way.refused(Act.START)
    way.happens(H.TURN_SEEN)
    assert way.refused(Act.START) == ["start-bar-off"]
    way.see(bar="off")
    assert way.refused(Act.START) == ["lift-carries"]
    way.see(lift="wheels")
    assert way.refused(Act.START) == []


@pytest.mark.parametrize("walk", [extended_dose, strict_dose, no_engine_off_dose])
def test_a_job_with_each_choice_of_dose_is_handed_over_dry_with_nothing_latched(
    walk: Callable[[WitnessRun], None],
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
    way = WitnessRun()
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
    with pytest.raises(RefusedOnWitnessRun, match="reset is refused by"):
        way.reset(trip)
    assert "permitted: abandon" in walked(partial(ends_the_job, what=what)).met


def test_a_permit_that_nobody_answers_leaves_the_open_spray_unknown() -> None:
    way = WitnessRun()
    ready_for_fluid(way, Tier.STRICT)
    way.begin(Act.SPRAY_OFF, 10)
    way.comes(PermitLapsed())
    assert way.bay.wet is None
    assert way.latched == [Trip.OVERDOSE]


# -- what must sometimes be possible ------------------------------------------------------------


def test_every_act_is_permitted_every_trip_latched_and_reset_and_every_choice_handed_over() -> None:
    assert never_met() == ()
    assert len(SOMETIMES) == len(Act) + len(Trip) + sum(not t.terminal for t in Trip) + 3


@each("act", Act)
def test_an_act_that_no_row_would_ever_permit_is_named(act: Act) -> None:
    closed = replace(INTERLOCKS[0], id="closed", acts=frozenset({act}), allows=NEVER)
    missed = never_met((*INTERLOCKS, closed))
    assert f"permitted: {act.value}" in missed
    assert any(said.endswith(f"{act.value} is refused by closed") for said in missed)


# -- what these ways are, told a second time -----------------------------------------------------

TAKEN_IN = (
    *("ignition_on", "started", "raised", "before_partial", "lowered", "stopped"),
    *("zero_good", "before_good", "tried_nothing"),
)
GUN_ON = ("rate_measured", "hands_in", "hose_off", "gun_coupled")
REFIT = ("hands_at_hose", "gun_uncoupled", "line_cleared", "hose_on")
DRIED = (
    *("raised", "run_on_begun", "run_on_due", "after_partial", "lowered", "stopped"),
    *("zero_good", "after_good", "codes_cleared", "road_ended", "handed_over"),
)
SOAKED = ("spray_ended", "soak_begun", "soak_due")
STORIES: dict[Callable[[WitnessRun], None], tuple[str, ...]] = {
    no_engine_off_dose: (*TAKEN_IN, *GUN_ON, "started", "spray_ended", *REFIT, *DRIED),
    strict_dose: (*TAKEN_IN, *GUN_ON, *SOAKED, "started", "spray_ended", *REFIT, *DRIED),
    extended_dose: (
        *(*TAKEN_IN, *GUN_ON, *SOAKED, "turned_even", "turn_seen", "cranked_no_fire", "started"),
        *("spray_ended", *REFIT, *DRIED),
    ),
    stall_recovered: (
        *(*TAKEN_IN, *GUN_ON, "started", "stalled", "hands_in", "soak_begun", "soak_due"),
        *(
            "cylinders_opened",
            "turned_even",
            "turn_seen",
            "recovered",
            "reset overdose",
            "recovered",
        ),
        *("reset stalled", "started", "run_on_begun", "run_on_due", *REFIT, *DRIED),
    ),
    left_alone: (*TAKEN_IN, "started", "recovered", "reset unattended"),
    partial(ends_the_job, what=H.FIRE_SEEN): (*TAKEN_IN, "fire_seen", "abandoned"),
    partial(trips_and_is_reset, what=H.SPILLED): (
        *(*TAKEN_IN, "spilled", "recovered", "reset spill"),
    ),
}


@dataclass
class Noted(WitnessRun):
    """A way that notes all that comes."""

    events: list[BayEvent] = field(default_factory=list)

    def comes(self, event: BayEvent) -> None:
        self.events.append(event)
        super().comes(event)


def noted(walk: Callable[[WitnessRun], None]) -> Noted:
    way = Noted()
    walk(way)
    return way


@pytest.mark.parametrize(("walk", "story"), STORIES.items())
def test_readings_dose_refit_run_on_and_hand_over_come_in_the_order_of_the_trade(
    walk: Callable[[WitnessRun], None], story: tuple[str, ...]
) -> None:
    told = [
        event.what.value if isinstance(event, Happened) else f"reset {event.trip.value}"
        for event in noted(walk).events
        if isinstance(event, Happened | ResetDone)
    ]
    assert tuple(told) == story


@pytest.mark.parametrize(
    ("walk", "sprayed"),
    [
        (no_engine_off_dose, [(100, 90)]),
        (strict_dose, [(15, 15), (100, 90)]),
        (extended_dose, [(40, 40), (100, 90)]),
        (stall_recovered, [(100, None)]),
        (left_alone, []),
    ],
)
def test_only_a_spray_is_asked_for_and_answered_with_a_volume(
    walk: Callable[[WitnessRun], None],
    sprayed: list[tuple[int, int | None]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asks: list[Ask] = []

    def noting(bay: Any, ask: Ask, *rest: Any) -> Any:
        asks.append(ask)
        return permit(bay, ask, *rest)

    monkeypatch.setattr(whole_ways, "permit", noting)
    events = noted(walk).events
    spray = False
    found: list[tuple[int, int | None]] = []
    others: list[int | None] = []
    for event in events:
        if isinstance(event, Granted):
            spray = event.act in SPRAYS
            granted = event.dose
            if not spray:
                others.append(event.dose)
        elif isinstance(event, Happened):
            if spray:
                found.append((granted, event.amount))
            else:
                others.append(event.amount)
            spray = False
    assert found == sprayed
    assert set(others) <= {0}
    assert [ask.dose for ask in asks if ask.act in SPRAYS] == [dose for dose, _ in sprayed]
    assert {ask.dose for ask in asks if ask.act not in SPRAYS} == {0}


def test_the_volumes_of_these_ways_are_those_of_a_light_diesel() -> None:
    # 1.5, 4 and 30 mL: no maker's figures; the first two are well under the clearance volume
    # of a 0.5 L cylinder at 17:1, 500 / 16 = 31 mL (geometry), the last is a running dose
    assert (LIMITS.strict, LIMITS.extended, LIMITS.running) == (15, 40, 300)


def test_what_is_refused_is_asked_without_a_volume_where_none_is_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    way = walked(taken_in)
    asks: list[Ask] = []

    def noting(bay: Any, ask: Ask, *rest: Any) -> tuple[()]:
        asks.append(ask)
        return ()

    monkeypatch.setattr(whole_ways, "permit", noting)
    assert way.refused(Act.START) == way.refused(Act.SPRAY_OFF, 15) == []
    assert asks == [Ask(Act.START), Ask(Act.SPRAY_OFF, 15)]


def test_a_choice_counts_as_handed_over_only_when_the_job_is_handed_over() -> None:
    way = WitnessRun()
    ready_for_fluid(way, Tier.STRICT)
    assert not {name for name in way.met if name.startswith("handed over")}
    handed = {name for name in walked(strict_dose).met if name.startswith("handed over")}
    assert handed == {"handed over, choice: strict"}


def test_every_way_is_named_where_it_comes_to_an_act_that_is_refused() -> None:
    closed = replace(INTERLOCKS[0], id="closed", acts=frozenset({Act.IGNITION_ON}), allows=NEVER)
    ended = {said.split("'")[1] for said in never_met((*INTERLOCKS, closed)) if "'" in said}
    jobs = {
        *("an extended dose", "a strict dose", "no engine-off dose"),
        *("a stall, recovered", "an engine left alone"),
        *("alone, a strict dose", "alone, an engine left alone"),
    }
    assert ended == jobs | {what.said.split("'")[0] for what in (*OTHER_TRIPS, *ENDS_THE_JOB)}
