"""The transitions that things may take in one world, written out by hand."""

from dataclasses import replace
from typing import Any

import pytest
from steplatch.safety.bay import FACTS, Act, Arrival, Trip, state_of
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Granted, Happened, Lapsed, PermitLapsed, ResetDone, Seen
from steplatch.safety.occurrences import Happening
from steplatch.safety.plant.environment import (
    LASTING,
    NEVER_SEEN,
    EnvironmentTransitions,
    Transition,
    all_asks,
    asked,
    begins,
    ends_truly,
)
from steplatch.safety.plant.truth import PlantState
from steplatch.safety.verify.observers import MUCH_DML

H = Happening
WORLD = PlantState(engine="idling", key="on", gun="coupled")
SPRAYING = replace(WORLD, gun="open", begun=True, dose=2)


def transitions(
    facts: tuple[str, ...] = (),
    happenings: tuple[Happening, ...] = (),
    sees: frozenset[str] = frozenset(),
    ledger: bool = False,
) -> EnvironmentTransitions:
    return EnvironmentTransitions(facts, happenings, sees, ledger)


def of(found: EnvironmentTransitions, act: Act | None, world: PlantState) -> dict[str, list[Any]]:
    each: list[Transition] = list(found.of(act, world))
    named = dict(each)
    assert len(named) == len(each), "each transition has a name of its own"
    return named


def test_everything_that_can_be_asked_is_asked_once() -> None:
    asks = list(all_asks((1, 2), (Trip.FIRE, Trip.SPILL)))
    assert len(set(asks)) == len(asks)
    assert {ask.act for ask in asks} == set(Act)
    running = [ask for ask in asks if ask.act is Act.SPRAY_RUNNING]
    assert [(ask.dose, ask.burst_s) for ask in running] == [(1, 0), (2, 0)]
    off = [ask for ask in asks if ask.act is Act.SPRAY_OFF]
    assert [(ask.dose, ask.burst_s) for ask in off] == [(1, 15), (1, 16), (2, 15), (2, 16)]
    assert [ask.band_under_ceiling for ask in asks if ask.act is Act.RAISE] == [True, False]
    assert [ask.trip for ask in asks if ask.act is Act.RESET] == [Trip.FIRE, Trip.SPILL]
    assert [ask for ask in asks if ask.act is Act.START] == [Ask(Act.START)]
    assert not [ask for ask in all_asks((1,)) if ask.act is Act.RESET]


def test_the_truth_hears_with_what_an_act_is_begun() -> None:
    assert begins(Ask(Act.RAISE, band_under_ceiling=False)) == ("begin", "raise", 0, False)
    assert begins(Ask(Act.SPRAY_OFF, 3, burst_s=9)) == ("begin", "spray_off", 3, 9)
    assert begins(Ask(Act.SPRAY_RUNNING, 3)) == ("begin", "spray_running", 3, True)
    assert begins(Ask(Act.RESET, trip=Trip.SPILL)) == ("begin", "reset", 0, "spill")


def test_what_is_permitted_is_begun_at_once_or_not_at_all() -> None:
    ask = Ask(Act.SPRAY_OFF, 2)
    begun = replace(WORLD, gun="open", begun=True, dose=2)
    for loaded in (True, False):
        said, ends = asked(ask, loaded, WORLD)
        assert said == "permitted: spray_off 2"
        assert ends == [
            (Granted(Act.SPRAY_OFF, 2), replace(begun, loaded=loaded), (begins(ask),)),
            (Granted(Act.SPRAY_OFF, 2), WORLD, (("permitted", "spray_off"),)),
        ]
    said, ends = asked(Ask(Act.START), True, WORLD)
    assert said == "permitted: start"
    assert ends[0][1] == replace(WORLD, begun=True), "only a spray can be of a loaded gun"


def test_a_reset_is_done_as_it_is_permitted() -> None:
    ask = Ask(Act.RESET, trip=Trip.SPILL)
    reset = (begins(ask), ("reset", "spill"))
    assert asked(ask, False, WORLD) == ("reset spill", [(ResetDone(Trip.SPILL), WORLD, reset)])


def test_a_permit_that_nobody_began_ends_without_an_answer_or_with_no_spray() -> None:
    untold = (PermitLapsed(), WORLD, (("untold",),))
    assert of(transitions(), Act.START, WORLD) == {"no answer to start": [untold]}
    assert of(transitions(), Act.SPRAY_OFF, WORLD) == {
        "reported: spray_none": [(Happened(H.SPRAY_NONE, 0), WORLD, ())],
        "no answer to spray_off": [untold],
    }


def test_a_begun_act_ends_in_each_of_its_ways_told_or_untold() -> None:
    cranking = PlantState(engine="stopped", key="on", begun=True)
    runs = PlantState(engine="idling", key="on")
    stands = PlantState(engine="stopped", key="off")
    found = of(transitions(), Act.START, cranking)
    assert found["reported: started"] == [(Happened(H.STARTED, 0), runs, (("did", "started", 0),))]
    assert set(found) == {
        *("reported: started", "reported: cranked_no_fire", "reported: cranked_uneven"),
        "no answer to start",
    }
    assert [(event, world) for event, world, _ in found["no answer to start"]] == [
        (PermitLapsed(), runs),
        (PermitLapsed(), stands),
        (PermitLapsed(), stands),
        (PermitLapsed(), replace(cranking, begun=False)),
    ]
    truths = [truth for _, _, truth in found["no answer to start"]]
    assert truths[0] == (("untold",), ("did", "started", 0))
    assert truths[-1] == (("untold",),)


def test_half_a_reading_is_no_reading() -> None:
    reading = replace(WORLD, begun=True)
    for act in (Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER):
        untold = of(transitions(), act, reading)[f"no answer to {act.value}"]
        assert untold == [(PermitLapsed(), WORLD, (("untold",),))]


def test_a_spray_that_is_not_answered_may_have_put_in_what_it_could() -> None:
    found = of(transitions(), Act.SPRAY_OFF, SPRAYING)
    assert found["reported: spray_ended, 3 in, 3 reported"] == [
        (Happened(H.SPRAY_ENDED, 3), WORLD, (("sprayed", 3), ("did", "spray_ended", 0)))
    ]
    assert found["reported: spray_none, 0 in, 0 reported"] == [
        (Happened(H.SPRAY_NONE, 0), WORLD, (("did", "spray_none", 0),))
    ]
    untold = found["no answer to spray_off"]
    assert len(untold) == 6, "none, two overdoses, nothing, all and a tenth more"
    for event, world, truth in untold:
        assert (event, world, truth[0]) == (PermitLapsed(), WORLD, ("untold",))
    gone_in = [{part[0]: part[1] for part in truth if len(part) > 1}.get("sprayed", 0)
               for _, _, truth in untold]  # fmt: skip
    assert gone_in == [0, 3, MUCH_DML, 0, 2, 3]


def test_only_what_is_noticed_possible_and_no_answer_comes_by_itself() -> None:
    noticed = transitions(happenings=(H.STALLED, H.SELF_STARTED, H.STARTED, H.SPILLED))
    assert set(of(noticed, None, WORLD)) == {"stalled", "spilled"}
    assert set(of(noticed, None, replace(WORLD, engine="stopped"))) == {"self_started", "spilled"}
    stalled = of(noticed, None, WORLD)["stalled"]
    stands = replace(WORLD, engine="stopped", key="on")
    assert stalled == [(Happened(H.STALLED), stands, (("did", "stalled", 0),))]
    answered = of(noticed, Act.SPRAY_RUNNING, SPRAYING)
    assert "stalled" not in answered
    assert "reported: stalled, 3 in, None reported" in answered


def test_an_overdose_is_much_and_a_drain_is_measured() -> None:
    found = of(transitions(happenings=(H.OVERDOSED, H.DRAINED)), None, WORLD)
    assert found["overdosed"] == [
        (Happened(H.OVERDOSED, None), WORLD, (("sprayed", MUCH_DML), ("did", "overdosed", 0)))
    ]
    for amount in (1, 2):
        assert found[f"drained {amount}"] == [
            (Happened(H.DRAINED, amount), WORLD, (("did", "drained", amount),))
        ]
    assert set(found) == {"overdosed", "drained 1", "drained 2"}


def test_an_emergency_cuts_an_open_spray_short_with_any_volume_in() -> None:
    found = of(transitions(happenings=(H.FIRE_SEEN, H.TURN_SEEN)), Act.SPRAY_OFF, SPRAYING)
    cut = found["fire_seen, the spray cut short"]
    assert cut == [
        (Happened(H.FIRE_SEEN), WORLD, (*volume, ("did", "fire_seen", 0)))
        for volume in ((), (("sprayed", 2),), (("sprayed", 3),))
    ]
    assert found["turn_seen"] == [(Happened(H.TURN_SEEN), SPRAYING, (("did", "turn_seen", 0),))], (
        "a look cuts nothing short"
    )
    calm = of(transitions(happenings=(H.FIRE_SEEN,)), None, WORLD)
    assert calm["fire_seen"] == [(Happened(H.FIRE_SEEN), WORLD, (("did", "fire_seen", 0),))]


def test_a_look_finds_each_state_that_the_world_allows_and_is_heard_where_it_counts() -> None:
    for sees in (frozenset[str](), frozenset({"hose"})):
        found = of(transitions(("hose",), sees=sees), None, replace(WORLD, hose="on"))
        truth = (("seen", "hose", "on"),) if sees else ()
        assert found["seen: hose on"] == [
            (Seen("hose", state_of("hose", "on")), replace(WORLD, hose="on"), truth)
        ]
        assert "seen: hose off" not in found
        assert "seen: hose unknown" in found


def test_facts_that_follow_from_happenings_alone_are_never_looked_at() -> None:
    everything = transitions(tuple(FACTS), sees=frozenset(FACTS), ledger=True)
    assert everything.looked_at == tuple(sorted(set(FACTS) - NEVER_SEEN))
    assert {
        *("rate", "soak", "run_on", "hand_turn", "inspection", "recovery", "zero", "before"),
        *("after", "fluid_in", "start_tried"),
    } == NEVER_SEEN


@pytest.mark.parametrize(
    ("facts", "ledger", "looked_at"),
    [
        (("hose",), False, ("hose",)),
        (("secured",), False, ("road", "secured")),
        (("fumes",), False, ("fumes", "road")),
        (("road",), False, ("fumes", "road", "secured")),
        (("hose",), True, ("arrival", "hose", "line")),
        (("soak",), False, ()),
    ],
)
def test_a_look_that_moves_a_kept_fact_is_looked_at_too(
    facts: tuple[str, ...], ledger: bool, looked_at: tuple[str, ...]
) -> None:
    assert transitions(facts, ledger=ledger).looked_at == looked_at
    assert transitions(sees=frozenset({"arrival"})).looked_at == ("arrival",)
    assert state_of("arrival", "dry") is Arrival.DRY


def test_doubt_is_heard_where_it_counts_and_lets_the_world_stray() -> None:
    hands = replace(WORLD, hands="clear")
    said, ends = transitions(("hands",)).lapsed("hands", hands)
    assert said == "too long ago: hands"
    assert {(event, world.hands, truth) for event, world, truth in ends} == {
        (Lapsed("hands"), "clear", ()),
        (Lapsed("hands"), "in", ()),
    }
    _, heard = transitions(("kit",), sees=frozenset({"kit"})).lapsed("kit", WORLD)
    assert heard == [(Lapsed("kit"), WORLD, (("doubt", "kit"),))]


def test_choices_the_order_and_finished_evidence_never_grow_old() -> None:
    assert {
        *("fluid_in", "tier", "arrival", "identity", "agreed", "triage"),
        *("before", "after", "codes", "start_tried", "oil", "fuel", "coating", "foul", "low_loop"),
    } == LASTING


def test_what_has_truly_happened_is_followed_whatever_the_tool_is_told() -> None:
    told = Happened(H.SPRAY_ENDED, 1)
    assert ends_truly(told, SPRAYING, H.OVERDOSED, 5, untold=True) == [
        (told, WORLD, (("untold",), ("sprayed", 5), ("did", "overdosed", 0)))
    ]
    assert ends_truly(told, SPRAYING, H.SPRAY_NONE, 0) == [
        (told, WORLD, (("did", "spray_none", 0),))
    ]
