"""How the world of the proofs moves, written out by hand, happening by happening."""

import math
from dataclasses import fields, replace
from typing import Any

import pytest
from steplatch.safety.bay import Act
from steplatch.safety.occurrences import Happening, happening_of
from steplatch.safety.plant.truth import (
    ANY,
    PlantState,
    after,
    begin,
    doubted,
    ended,
    ends_of_spray,
    first_worlds,
    looked,
    possible,
    strayed,
    volumes,
)  # fmt: skip
from steplatch.safety.verify.observers import MUCH_DML

from tests.each import each

H = Happening
STANDING = PlantState(
    engine="stopped", key="off", hands="clear", hose="on", gun="away", hand_turn="turned"
)
PLACES = {
    "engine": {"stopped", "idling"},
    "key": {"on", "off", "boxed"},
    "hands": {"clear", "in"},
    "hose": {"on", "off"},
    "gun": {"away", "coupled"},
    "hand_turn": {"not turned"},
}
MOVES = {
    "ignition_on": "key on",
    "started": "engine idling, key on, hand_turn not turned",
    "tried_nothing": "key off",
    "tried_turned": "engine stopped, key off, hand_turn not turned",
    "cranked_no_fire": "engine stopped, key off, hand_turn not turned",
    "cranked_uneven": "engine stopped, key off, hand_turn not turned",
    "stopped": "engine stopped, key off, hand_turn not turned",
    "stalled": "engine stopped, key on, hand_turn not turned",
    "self_started": "engine idling, key on, hand_turn not turned",
    "raised": "engine raised",
    "lowered": "engine idling",
    "over_ceiling": "engine idling",
    "hands_in": "hands in",
    "hands_at_hose": "hands at_hose",
    "hose_off": "hose off",
    "hose_on": "hose on",
    "gun_coupled": "gun coupled",
    "gun_uncoupled": "gun away",
    "turned_even": "hand_turn turned",
    "turned_hard": "hand_turn not turned",
    "road_ended": "engine stopped, key off, hands clear, hand_turn not turned",
    "drained": "hand_turn not turned",
    "overdosed": "hand_turn not turned",
    "looked_wet": "hand_turn not turned",
}
STRAYS = {
    "interrupted": {"engine", "key", "hands", "hose", "gun"},
    "ran_away": {"engine", "key"},
    "person_hurt": {"hands"},
    "stub_snapped": {"hose"},
}
"""What nobody can know the place of after such a thing."""


def moved(world: PlantState, text: str) -> PlantState:
    changes: dict[str, Any] = dict(part.split(" ", 1) for part in text.split(", ") if part)
    return replace(world, **changes)


STIRRED = moved(
    STANDING, "engine raised, key boxed, hands in, hose off, gun coupled, hand_turn not turned"
)


@each("what", [w for w in H if w.value not in STRAYS], ids=lambda w: w.value)
@each("world", [STANDING, STIRRED])
def test_what_happens_moves_these_things_and_no_others(world: PlantState, what: Happening) -> None:
    assert after(world, what) == (moved(world, MOVES.get(what.value, "")),)


@pytest.mark.parametrize("name", STRAYS)
def test_what_strays_may_be_anywhere_and_the_rest_is_where_it_was(name: str) -> None:
    worlds = after(STANDING, happening_of(name))
    turned = "turned" if name in ("person_hurt", "stub_snapped") else "not turned"
    for place, states in PLACES.items():
        seen = {getattr(world, place) for world in worlds}
        if place == "hand_turn":
            assert seen == {turned}
        else:
            assert seen == (states if place in STRAYS[name] else {getattr(STANDING, place)})
    sizes = [len(PLACES[place]) for place in STRAYS[name]]
    assert len(set(worlds)) == len(worlds)
    assert len(worlds) == math.prod(sizes)


def test_a_thing_that_strays_may_also_have_stayed_where_it_was() -> None:
    raised = replace(STANDING, engine="raised")
    assert {w.engine for w in strayed(raised, ("engine",))} == {"raised", "stopped", "idling"}


def test_what_is_not_tracked_is_never_moved() -> None:
    loose = PlantState()
    assert {getattr(loose, f.name) for f in fields(PlantState)} >= {ANY}
    for what in H:
        assert after(loose, what) == (loose,)
    assert begin(loose, Act.HAND_TURN, 0, False) == replace(loose, begun=True)
    assert doubted(loose, "hand_turn") == doubted(loose, "hands") == (loose,)


def test_a_job_may_begin_in_any_place_of_what_is_tracked_dry_or_not() -> None:
    worlds = list(first_worlds(frozenset({"engine", "key", "hand_turn"})))
    assert len(worlds) == len(set(worlds)) == 2 * 2 * 3 * 1
    assert {w.arrived_dry for w in worlds} == {True, False}
    assert {(w.engine, w.key) for w in worlds} == {
        (e, k) for e in PLACES["engine"] for k in PLACES["key"]
    }
    assert {(w.hand_turn, w.hands, w.gun) for w in worlds} == {("not turned", ANY, ANY)}
    assert not any(w.begun or w.dose or w.loaded or w.false_report for w in worlds)


@each("act", list(Act), ids=lambda act: act.value)
def test_to_begin_an_act_moves_only_what_lies_in_its_beginning(act: Act) -> None:
    text = {
        Act.ROAD_TEST: "engine road, key on",
        Act.HAND_TURN: "hand_turn not turned",
        Act.SPRAY_OFF: "gun open, hand_turn not turned",
        Act.SPRAY_RUNNING: "gun open, hand_turn not turned",
    }.get(act, "")
    begun = begin(STANDING, act, 3, True)
    assert begun == replace(moved(STANDING, text), begun=True, dose=3, loaded=True)


def test_what_has_ended_leaves_no_open_gun_and_no_dose() -> None:
    spraying = replace(STANDING, gun="open", begun=True, dose=3, loaded=True)
    assert ended(spraying) == replace(STANDING, gun="coupled")
    assert ended(replace(STANDING, begun=True)) == STANDING


def engines(what: Happening) -> set[str]:
    states = (ANY, "stopped", "idling", "raised", "road")
    return {state for state in states if possible(replace(STANDING, engine=state), what)}


def test_only_an_engine_that_may_run_stops_stalls_races_or_runs_away() -> None:
    for what in (H.STOPPED, H.STALLED, H.OVER_CEILING, H.RAN_AWAY):
        assert engines(what) == {ANY, "idling", "raised", "road"}
    assert engines(H.LOWERED) == {ANY, "raised"}
    assert engines(H.SELF_STARTED) == {ANY, "stopped"}
    assert engines(H.SPILLED) == {ANY, "stopped", "idling", "raised", "road"}


def test_an_engine_may_start_by_itself_wherever_the_key_is() -> None:
    for key in (ANY, "on", "off", "boxed"):
        assert possible(replace(STANDING, key=key), H.SELF_STARTED)
    assert not possible(replace(STANDING, engine="idling"), H.SELF_STARTED)


def test_turns_are_seen_only_where_they_were_made_and_a_jug_is_read_with_the_gun_shut() -> None:
    assert possible(STANDING, H.TURN_SEEN)
    assert possible(replace(STANDING, hand_turn=ANY), H.TURN_SEEN)
    assert not possible(replace(STANDING, hand_turn="not turned"), H.TURN_SEEN)
    assert possible(STANDING, H.DRAINED)
    assert not possible(replace(STANDING, dose=1), H.DRAINED)


def test_old_age_lets_hands_and_key_wander_and_makes_turns_worth_nothing() -> None:
    assert {w.hands for w in doubted(STANDING, "hands")} == {"clear", "in"}
    assert {w.key for w in doubted(STANDING, "key")} == {"on", "off", "boxed"}
    assert doubted(STANDING, "hand_turn") == (replace(STANDING, hand_turn="not turned"),)
    assert doubted(STANDING, "engine") == (STANDING,)


def test_an_honest_look_finds_what_is_there_or_what_is_not_tracked() -> None:
    for place in PLACES:
        assert looked(STANDING, place, getattr(STANDING, place)) == STANDING
        assert looked(PlantState(), place, "anything") == PlantState()
        assert looked(STANDING, place, "unknown") == STANDING
    assert looked(STANDING, "kit", "worn") == STANDING
    assert looked(STANDING, "hose", "off") is None
    assert looked(STANDING, "engine", "idling") is None
    assert looked(STANDING, "hands", "in") is None
    assert looked(STANDING, "key", "on") is None


def test_showing_clear_hands_and_taking_the_key_of_a_standing_engine_are_looks_that_act() -> None:
    assert looked(replace(STANDING, hands="in"), "hands", "clear") == STANDING
    assert looked(STANDING, "key", "boxed") == replace(STANDING, key="boxed")
    on = replace(STANDING, key="on")
    assert looked(on, "key", "off") == STANDING
    assert looked(replace(on, engine=ANY), "key", "off") == replace(STANDING, engine=ANY)
    assert looked(replace(on, engine="idling"), "key", "off") is None
    assert looked(replace(on, engine="idling"), "key", "boxed") is None


def test_only_a_vehicle_that_came_dry_is_seen_to_have_come_dry() -> None:
    assert looked(STANDING, "arrival", "dry") is None
    assert looked(STANDING, "arrival", "wet") == STANDING
    dry = replace(STANDING, arrived_dry=True)
    assert looked(dry, "arrival", "dry") == looked(dry, "arrival", "wet") == dry


def test_a_measured_gun_may_overrun_by_a_tenth_and_a_loaded_one_cannot() -> None:
    assert volumes(replace(STANDING, dose=2)) == (0, 2, 3)
    assert volumes(replace(STANDING, dose=2, loaded=True)) == (0, 2)


def test_the_ends_of_a_spray_are_counted_by_the_upper_rate_or_whole_if_loaded() -> None:
    measured = replace(STANDING, dose=2)
    off = list(ends_of_spray(Act.SPRAY_OFF, measured))
    assert off == [
        (H.SPRAY_NONE, 0, 0),
        (H.OVERDOSED, 3, None),
        (H.OVERDOSED, MUCH_DML, None),
        (H.SPRAY_ENDED, 0, 0),
        (H.SPRAY_ENDED, 2, 2),
        (H.SPRAY_ENDED, 3, 3),
    ]
    running = list(ends_of_spray(Act.SPRAY_RUNNING, measured))
    assert [end for end in running if end in off] == off
    more = [
        (what, volume, said)
        for volume in (0, 2, 3)
        for what, said in ((H.SPRAY_SAGGED, volume), (H.STALLED, volume), (H.STALLED, None))
    ]
    assert sorted(map(str, running)) == sorted(map(str, off + more))
    loaded = list(ends_of_spray(Act.SPRAY_OFF, replace(measured, loaded=True)))
    assert loaded == [
        (H.SPRAY_NONE, 0, 0),
        (H.OVERDOSED, 2, None),
        (H.SPRAY_ENDED, 0, 2),
        (H.SPRAY_ENDED, 2, 2),
    ]
