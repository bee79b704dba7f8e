"""How each plain observer moves, written out by hand over everything that happens."""

from typing import Any

from steplatch.safety.bay import FACTS, Act
from steplatch.safety.occurrences import Happening
from steplatch.safety.verify import observers
from steplatch.safety.verify.observers import (
    MUCH_DML,
    UNKNOWN,
    FactObserver,
    PlantEvent,
    engine_after,
)

from tests.each import each

OBSERVERS: dict[str, FactObserver] = {
    found.fact: found for found in vars(observers).values() if isinstance(found, FactObserver)
}
START = "started self_started"
STOP = "stopped stalled cranked_no_fire cranked_uneven tried_turned road_ended"
REVS = "raised lowered over_ceiling ran_away"
CRANK = "cranked_no_fire cranked_uneven tried_turned"
SPRAY = "begin-spray_off begin-spray_running"
AT_WORK = (
    "hands_in hands_at_hose hose_off hose_on gun_coupled gun_uncoupled line_cleared "
    "line_still_wet gun_filled rate_measured gun_loaded"
)

SETTLES: dict[str, dict[str, str]] = {
    "engine": {
        "idling": f"{START} lowered over_ceiling",
        "stopped": STOP,
        "raised": "raised",
        "road": "begin-road_test",
    },
    "key": {
        "on": f"ignition_on {START} stalled begin-road_test",
        "off": f"stopped {CRANK} tried_nothing road_ended",
    },
    "starter": {"enabled": f"{START} {CRANK} road_ended begin-start begin-road_test"},
    "bar": {"on": "turned_even turned_hard begin-hand_turn"},
    "hands": {"in": "hands_in", "at_hose": "hands_at_hose", "clear": "road_ended"},
    "lift": {"wheels": "road_ended"},
    "hose": {"off": "hose_off", "on": "hose_on"},
    "line": {"clear": "line_cleared", "fluid": "line_still_wet"},
    "before": {"good": "before_good", "partial": "before_partial"},
    "after": {"good": "after_good", "partial": "after_partial"},
    "codes": {"cleared": "codes_cleared"},
    "inspection": {"dry": "looked_dry", "wet": "looked_wet", "opened": "cylinders_opened"},
}
ENDS: dict[str, str] = {
    "engine": "ran_away",
    "key": "ran_away",
    "starter": "ignition_on",
    "hands": "person_hurt",
    "hose": "stub_snapped",
    "line": f"{SPRAY} hose_off gun_uncoupled stub_snapped overdosed",
    "port": f"{START} {STOP} {REVS} {CRANK} fire_seen begin-road_test road_ended",
    "touch": f"{START} {STOP} {REVS} {CRANK} fire_seen begin-road_test road_ended",
    "idle": f"{STOP} {START} {REVS} spray_sagged begin-road_test",
    "burning": f"{STOP} {START} fire_seen ran_away begin-road_test",
    "stop_start": f"{STOP} {START} ran_away begin-road_test",
    "trigger": "road_ended",
    "controls": "person_hurt ran_away road_ended",
    "secured": "begin-road_test road_ended",
    "fumes": "fume_alarm begin-road_test road_ended",
    "road": f"{AT_WORK} road_ended stub_snapped",
    "kit": "person_hurt spilled",
    "spill": "spilled",
    "sensor": "stub_snapped",
    "after": f"{SPRAY} overdosed",
    "oil": "overdosed",
    "inspection": f"{STOP} {START} {SPRAY} overdosed drained ran_away",
    "start_check": f"{STOP} {START} {SPRAY} overdosed turned_hard drained ran_away",
    "release_check": (
        f"{AT_WORK} {START} {REVS} {CRANK} {SPRAY} ignition_on overdosed spilled stub_snapped "
        "begin-road_test road_ended"
    ),
    "tag": f"{START} {REVS} {CRANK} ignition_on begin-road_test",
}
LASTING = {
    *("identity", "agreed", "triage", "tier", "before", "after", "codes"),
    *("oil", "fuel", "coating", "foul", "low_loop"),
}
"""Choices, the order, what the vehicle is and finished evidence: no interruption makes them
worth nothing."""
IMPLIED = {
    ("starter", "key", "boxed"): "disabled",
    ("secured", "road", "ready"): "part",
    ("fumes", "road", "ready"): "nothing",
    ("road", "secured", "yes"): UNKNOWN,
    ("lift", "bar", "on"): UNKNOWN,
    ("lift", "bar", "off"): UNKNOWN,
    ("road", "fumes", "extraction"): UNKNOWN,
}
"""What a look at one thing says about another: chocks and extraction are out for the road."""
PLAIN = {
    *(*SETTLES, *ENDS, *LASTING),
    *("crew", "driver", "sheet", "flash", "reach", "fluid_check"),
}
HAPPENS: dict[str, PlantEvent] = {
    **{what.value: ("did", what.value, 0) for what in Happening},
    **{f"begin-{act.value}": ("begin", act.value, 0, True) for act in Act},
}


def moved(fact: str, name: str, before: str) -> str:
    for state, names in SETTLES.get(fact, {}).items():
        if name in names.split():
            return state
    worth_nothing = name in ENDS.get(fact, "").split()
    if worth_nothing or (name == "interrupted" and fact not in LASTING):
        return UNKNOWN
    return before


def test_every_plain_observer_is_listed() -> None:
    assert set(OBSERVERS) == PLAIN


@each("fact", sorted(PLAIN))
def test_what_happens_or_begins_settles_an_observer_ends_it_or_leaves_it(fact: str) -> None:
    observer = OBSERVERS[fact]
    for before in ("as it was", UNKNOWN):
        after = {name: observer.after(before, event) for name, event in HAPPENS.items()}
        assert after == {name: moved(fact, name, before) for name in HAPPENS}


@each("fact", sorted(PLAIN))
def test_an_observer_hears_just_what_can_move_it(fact: str) -> None:
    heard = {name for name in HAPPENS if moved(fact, name, "as it was") != "as it was"}
    assert OBSERVERS[fact].hears == {name.replace("-", " ") for name in heard}


@each("fact", sorted(PLAIN))
def test_a_look_settles_its_own_observer_and_says_little_of_others(fact: str) -> None:
    observer = OBSERVERS[fact]
    seen = {fact}
    for other, states in FACTS.items():
        for state in states:
            after = observer.after("as it was", ("seen", other, state.value))
            expected = IMPLIED.get((fact, other, state.value), "as it was")
            if other == fact:
                expected = UNKNOWN if state.value == "unknown" else state.value
            assert after == expected, (other, state.value)
        doubted = observer.after("as it was", ("doubt", other))
        assert doubted == (UNKNOWN if other == fact else "as it was")
        seen |= {other for key in IMPLIED if key[:2] == (fact, other)}
    assert observer.sees == seen
    assert observer.facts == (fact,)
    assert observer.start() == UNKNOWN


def test_an_observer_may_stand_at_nothing_or_at_each_state_but_unknown() -> None:
    states = ("unknown", "off", "on")
    assert tuple(OBSERVERS["hose"].accounts((states,))) == (UNKNOWN, "off", "on")


def test_the_tool_may_believe_what_is_true_or_nothing() -> None:
    hose = OBSERVERS["hose"]
    believed: list[tuple[str, Any, bool]] = [
        ("off", "off", True),
        ("unknown", "off", True),
        ("unknown", UNKNOWN, True),
        ("off", "on", False),
        ("off", UNKNOWN, False),
    ]
    assert [hose.bears_out((what,), now) for what, now, _ in believed] == [
        ok for _, _, ok in believed
    ]


def test_much_is_more_than_any_drum_of_fluid_holds() -> None:
    """A drum holds about 200 L (common practice, no source): 2 000 000 tenths of a millilitre."""
    assert MUCH_DML > 2_000_000


def test_doubt_stops_no_engine() -> None:
    assert engine_after("idling", ("doubt", "engine")) == "idling"
    assert engine_after("idling", ("seen", "engine", "unknown")) == "idling"
    assert engine_after("idling", ("seen", "engine", "stopped")) == "stopped"
    assert engine_after("idling", ("did", "stalled", 0)) == "stopped"
    assert engine_after("idling", ("did", "ran_away", 0)) == UNKNOWN
