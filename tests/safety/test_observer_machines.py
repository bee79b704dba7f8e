"""How the observers with a memory move, case by case, written out by hand."""

from typing import Any

import pytest
from steplatch.safety.verify.observer_machines import (
    BoundObserver,
    FluidInObserver,
    GunObserver,
    HandTurnObserver,
    LatchObserver,
    LedgerObserver,
    RateObserver,
    RecoveryObserver,
    RunOnObserver,
    SignedUponObserver,
    SoakObserver,
    StallLatchObserver,
    StartTriedObserver,
)
from steplatch.safety.verify.observers import (
    CONTROLS,
    HOSE,
    MUCH_DML,
    START_CHECK,
    UNKNOWN,
    Observer,
    PlantEvent,
)

from tests.each import each

START = {"started", "self_started"}
STOP = {
    *("stopped", "stalled", "cranked_no_fire", "cranked_uneven", "tried_turned", "road_ended"),
}
SPRAY = {"begin spray_off", "begin spray_running"}
ENGINE = START | STOP | {"lowered", "over_ceiling", "raised", "ran_away", "begin road_test",
                         "interrupted"}  # fmt: skip
EMERGENCY = {"fume_alarm", "fire_seen", "person_hurt", "ran_away", "spilled"}
SHUTS = EMERGENCY | {"spray_ended", "spray_sagged", "spray_none", "overdosed", "stalled"}
TRIPPING = {
    *("fire_seen", "fume_alarm", "person_hurt", "ran_away", "turned_hard", "cranked_uneven"),
    *("overdosed", "self_started", "over_ceiling", "spilled", "stub_snapped"),
}


CHECKED = SignedUponObserver(START_CHECK, HOSE)


def did(what: str, amount: int = 0) -> PlantEvent:
    return ("did", what, amount)


def begin(act: str) -> PlantEvent:
    return ("begin", act, 1, True)


HEARD: list[tuple[Observer, set[str], set[str], tuple[str, ...]]] = [
    (
        LedgerObserver(),
        SPRAY | ENGINE | {"overdosed", "drained", "run_on_begun", "run_on_due"},
        {"engine"},
        ("wet",),
    ),
    (
        HandTurnObserver(),
        SPRAY
        | START
        | STOP
        | {
            "turned_hard",
            "looked_wet",
            "overdosed",
            "drained",
            "interrupted",
            "ran_away",
            "turned_even",
            "turn_seen",
        },
        {"hand_turn"},
        ("hand_turn",),
    ),
    (
        BoundObserver(CONTROLS),
        {"person_hurt", "ran_away", "road_ended", "interrupted"},
        {"crew", "controls"},
        ("crew", "controls"),
    ),
    (FluidInObserver(), SPRAY | {"overdosed"}, set(), ("fluid_in",)),
    (
        RunOnObserver(),
        SPRAY | ENGINE | {"overdosed", "run_on_begun", "run_on_due"},
        {"engine", "run_on"},
        ("run_on",),
    ),
    (LatchObserver("spill", frozenset({"spilled"})), {"spilled"}, set(), ("trip spill",)),
    (StallLatchObserver(), SHUTS | SPRAY | {"interrupted"}, set(), ("trip stalled",)),
    (
        GunObserver(),
        SHUTS | SPRAY | {"gun_coupled", "gun_uncoupled", "interrupted"},
        {"gun"},
        ("gun",),
    ),
    (
        RateObserver(),
        {"rate_measured", "gun_loaded", "begin fill_gun", "gun_filled", "overdosed", "interrupted"},
        {"rate"},
        ("rate",),
    ),
    (
        SoakObserver(),
        (STOP - {"cranked_no_fire"})
        | START
        | SPRAY
        | {"overdosed", "ran_away", "soak_begun", "soak_due", "interrupted"},
        {"soak"},
        ("soak",),
    ),
    (
        StartTriedObserver(),
        {"tried_nothing", "tried_turned", "self_started", "overdosed"},
        {"start_tried"},
        ("start_tried",),
    ),
    (
        RecoveryObserver(),
        STOP
        | START
        | SPRAY
        | TRIPPING
        | {"looked_wet", "recovered", "recovered_alone", "interrupted"},
        {"recovery"},
        ("recovery",),
    ),
]


@pytest.mark.parametrize(
    ("observer", "hears", "sees", "facts"), HEARD, ids=lambda it: type(it).__name__
)
def test_an_observer_says_what_it_hears_sees_and_follows(
    observer: Observer, hears: set[str], sees: set[str], facts: tuple[str, ...]
) -> None:
    assert observer.hears == hears
    assert observer.sees == sees
    assert observer.facts == facts


MOVES: list[tuple[Observer, Any, PlantEvent, Any]] = [
    # the ledger: what is in, whether it dries, what the engine does
    (LedgerObserver(), (MUCH_DML, False, ""), ("arrived", 0), (0, False, "")),
    (LedgerObserver(), (2, False, ""), ("sprayed", 3), (5, False, "")),
    (LedgerObserver(), (2, False, ""), ("sprayed", MUCH_DML), (MUCH_DML, False, "")),
    (LedgerObserver(), (3, False, ""), did("drained", 1), (2, False, "")),
    (LedgerObserver(), (3, False, ""), did("drained", 9), (0, False, "")),
    (LedgerObserver(), (MUCH_DML, False, ""), did("drained", 1), (MUCH_DML, False, "")),
    (LedgerObserver(), (2, False, "idling"), did("run_on_begun"), (2, True, "idling")),
    (LedgerObserver(), (2, False, "raised"), did("run_on_begun"), (2, True, "raised")),
    (LedgerObserver(), (2, False, "stopped"), did("run_on_begun"), (2, False, "stopped")),
    (LedgerObserver(), (2, True, "idling"), did("run_on_due"), (0, False, "idling")),
    (LedgerObserver(), (2, False, "idling"), did("run_on_due"), (2, False, "idling")),
    (LedgerObserver(), (2, True, "idling"), did("raised"), (2, True, "raised")),
    (LedgerObserver(), (2, True, "raised"), did("lowered"), (2, False, "idling")),
    (LedgerObserver(), (2, True, "idling"), did("stalled"), (2, False, "stopped")),
    (LedgerObserver(), (2, True, "idling"), did("interrupted"), (2, False, "")),
    (LedgerObserver(), (2, True, "idling"), did("started"), (2, False, "idling")),
    (LedgerObserver(), (2, True, "idling"), did("self_started"), (2, False, "idling")),
    (LedgerObserver(), (2, True, "idling"), did("overdosed"), (2, False, "idling")),
    (LedgerObserver(), (2, True, "raised"), did("over_ceiling"), (2, False, "idling")),
    (LedgerObserver(), (2, True, "idling"), begin("spray_running"), (2, False, "idling")),
    (LedgerObserver(), (2, True, "idling"), begin("raise"), (2, True, "idling")),
    (LedgerObserver(), (2, True, "idling"), ("seen", "engine", "stopped"), (2, False, "stopped")),
    (LedgerObserver(), (2, True, "idling"), ("doubt", "engine"), (2, True, "idling")),
    # the hand-turn check
    (HandTurnObserver(), "", did("turned_even"), "turned"),
    (HandTurnObserver(), "turned", did("turn_seen"), "valid"),
    (HandTurnObserver(), "", did("turn_seen"), ""),
    (HandTurnObserver(), "retry", did("turn_seen"), "retry"),
    (HandTurnObserver(), "valid", did("cranked_no_fire"), "retry"),
    (HandTurnObserver(), "retry", did("cranked_no_fire"), ""),
    (HandTurnObserver(), "valid", did("turned_hard"), ""),
    (HandTurnObserver(), "valid", begin("spray_off"), ""),
    (HandTurnObserver(), "valid", begin("start"), "valid"),
    (HandTurnObserver(), "valid", did("hose_on"), "valid"),
    (HandTurnObserver(), "turned", did("hands_in"), "turned"),
    (HandTurnObserver(), "valid", ("doubt", "hand_turn"), ""),
    (HandTurnObserver(), "valid", ("doubt", "port"), "valid"),
    # who is here, and what holds only for them
    (
        BoundObserver(CONTROLS),
        ("pair", "other"),
        ("seen", "crew", "alone_adult"),
        ("alone_adult", ""),
    ),
    (BoundObserver(CONTROLS), ("pair", "other"), ("seen", "crew", "pair"), ("pair", "other")),
    (BoundObserver(CONTROLS), ("pair", ""), ("seen", "controls", "other"), ("pair", "other")),
    (BoundObserver(CONTROLS), ("pair", "other"), did("road_ended"), ("pair", "")),
    (BoundObserver(CONTROLS), ("pair", "other"), did("interrupted"), ("", "")),
    (BoundObserver(CONTROLS), ("pair", "other"), ("doubt", "crew"), ("", "other")),
    # what was signed upon, and the signature
    (CHECKED, ("on", "other"), ("seen", "hose", "off"), ("off", "")),
    (CHECKED, ("on", "other"), ("seen", "hose", "on"), ("on", "other")),
    (CHECKED, ("on", "other"), did("hose_off"), ("off", "")),
    (CHECKED, ("on", "other"), did("stub_snapped"), ("", "other")),
    (CHECKED, ("", "other"), ("seen", "hose", "on"), ("on", "")),
    (CHECKED, ("on", "other"), ("doubt", "hose"), ("", "other")),
    (CHECKED, ("on", "other"), ("doubt", "start_check"), ("on", "")),
    (CHECKED, ("on", "other"), did("stopped"), ("on", "")),
    (CHECKED, ("on", ""), ("seen", "start_check", "other"), ("on", "other")),
    # whether fluid has gone in at all
    (FluidInObserver(), "no", begin("spray_off"), "yes"),
    (FluidInObserver(), "no", begin("spray_running"), "yes"),
    (FluidInObserver(), "no", begin("start"), "no"),
    (FluidInObserver(), "no", ("sprayed", 1), "yes"),
    (FluidInObserver(), "no", did("overdosed"), "yes"),
    (FluidInObserver(), "no", did("spray_off"), "no"),
    (FluidInObserver(), "yes", did("drained", 9), "yes"),
    # the try of the start, which fluid that comes in by mishap ends for good
    (StartTriedObserver(), "", did("tried_nothing"), "nothing"),
    (StartTriedObserver(), "", did("overdosed"), "late"),
    (StartTriedObserver(), "nothing", did("overdosed"), "nothing"),
    (StartTriedObserver(), "late", did("overdosed"), "late"),
    (StartTriedObserver(), "nothing", did("tried_turned"), ""),
    (StartTriedObserver(), "nothing", did("self_started"), ""),
    (StartTriedObserver(), "late", did("self_started"), ""),
    (StartTriedObserver(), "", begin("spray_running"), ""),
    (StartTriedObserver(), "nothing", did("interrupted"), "nothing"),
    # the drying run and the engine it needs
    (RunOnObserver(), ("", "idling"), did("run_on_begun"), ("running", "idling")),
    (RunOnObserver(), ("", "raised"), did("run_on_begun"), ("running", "raised")),
    (RunOnObserver(), ("done", "stopped"), did("run_on_begun"), ("", "stopped")),
    (RunOnObserver(), ("running", "idling"), did("run_on_due"), ("done", "idling")),
    (RunOnObserver(), ("", "idling"), did("run_on_due"), ("", "idling")),
    (RunOnObserver(), ("running", "raised"), did("lowered"), ("", "idling")),
    (RunOnObserver(), ("done", "raised"), did("lowered"), ("done", "idling")),
    (RunOnObserver(), ("running", "idling"), did("started"), ("", "idling")),
    (RunOnObserver(), ("running", "raised"), did("over_ceiling"), ("", "idling")),
    (RunOnObserver(), ("done", "idling"), did("stopped"), ("done", "stopped")),
    (RunOnObserver(), ("running", "idling"), ("seen", "engine", "stopped"), ("", "stopped")),
    (RunOnObserver(), ("running", "idling"), ("doubt", "engine"), ("running", "idling")),
    (RunOnObserver(), ("done", "idling"), ("doubt", "run_on"), ("", "idling")),
    (RunOnObserver(), ("done", "idling"), ("doubt", "engine"), ("done", "idling")),
    (RunOnObserver(), ("done", "idling"), did("interrupted"), ("", "")),
    (RunOnObserver(), ("done", "idling"), did("overdosed"), ("", "idling")),
    (RunOnObserver(), ("done", "idling"), did("ran_away"), ("", "")),
    (RunOnObserver(), ("done", "idling"), begin("spray_off"), ("", "idling")),
    (RunOnObserver(), ("done", "idling"), begin("raise"), ("done", "idling")),
    # a trip, told or untold
    (LatchObserver("spill", frozenset({"spilled"})), "", did("spilled"), "latched"),
    (LatchObserver("spill", frozenset({"spilled"})), "", did("stalled"), ""),
    (LatchObserver("spill", frozenset({"spilled"})), "latched", ("reset", "spill"), ""),
    (LatchObserver("spill", frozenset({"spilled"})), "latched", ("reset", "stub"), "latched"),
    (LatchObserver("spill", frozenset({"spilled"})), "latched", ("untold",), "untold latched"),
    (LatchObserver("spill", frozenset({"spilled"})), "untold ", did("spilled"), "untold "),
    (LatchObserver("spill", frozenset({"spilled"})), "untold latched", ("over",), "latched"),
    (LatchObserver("spill", frozenset({"spilled"})), "latched", ("over",), "latched"),
    (StallLatchObserver(), (False, ""), begin("spray_running"), (True, "")),
    (StallLatchObserver(), (True, ""), begin("spray_off"), (False, "")),
    (StallLatchObserver(), (True, ""), did("stalled"), (False, "latched")),
    (StallLatchObserver(), (False, ""), did("stalled"), (False, "")),
    (StallLatchObserver(), (True, ""), did("spray_ended"), (False, "")),
    (StallLatchObserver(), (True, ""), did("interrupted"), (False, "")),
    (StallLatchObserver(), (True, ""), did("raised"), (True, "")),
    (StallLatchObserver(), (True, ""), ("untold",), (True, "untold ")),
    (StallLatchObserver(), (True, "latched"), ("reset", "stalled"), (True, "")),
    # the gun
    (GunObserver(), "", did("gun_coupled"), "coupled"),
    (GunObserver(), "coupled", did("gun_uncoupled"), "away"),
    (GunObserver(), "coupled", begin("spray_off"), "open"),
    (GunObserver(), "coupled", begin("spray_running"), "open"),
    (GunObserver(), "coupled", did("interrupted"), ""),
    (GunObserver(), "coupled", ("doubt", "gun"), ""),
    (GunObserver(), "coupled", ("seen", "stalled", ""), "coupled"),
    # how the next volume is known
    (RateObserver(), "", did("rate_measured"), "measured"),
    (RateObserver(), "", did("gun_loaded"), "loaded"),
    (RateObserver(), "loaded", ("sprayed", 1), ""),
    (RateObserver(), "loaded", ("sprayed", 0), "loaded"),
    (RateObserver(), "measured", ("sprayed", 1), "measured"),
    (RateObserver(), "measured", did("gun_filled"), ""),
    (RateObserver(), "measured", did("overdosed"), ""),
    (RateObserver(), "measured", begin("fill_gun"), ""),
    # the soak
    (SoakObserver(), "", did("soak_begun"), "running"),
    (SoakObserver(), "running", did("soak_due"), "due"),
    (SoakObserver(), "", did("soak_due"), ""),
    (SoakObserver(), "due", did("soak_due"), "due"),
    (SoakObserver(), "due", did("cranked_no_fire"), "due"),
    (SoakObserver(), "due", did("cranked_uneven"), ""),
    (SoakObserver(), "due", did("started"), ""),
    (SoakObserver(), "due", did("overdosed"), ""),
    (SoakObserver(), "due", did("interrupted"), ""),
    (SoakObserver(), "due", begin("spray_off"), ""),
    (SoakObserver(), "due", begin("spray_running"), ""),
    (SoakObserver(), "due", begin("start"), "due"),
    (SoakObserver(), "due", ("doubt", "soak"), ""),
    # the recovery
    (RecoveryObserver(), "", did("recovered"), "checked"),
    (RecoveryObserver(), "", did("recovered_alone"), "own"),
    (RecoveryObserver(), "checked", did("recovered_alone"), "checked"),
    (RecoveryObserver(), "checked", ("tripped", "spill"), ""),
    (RecoveryObserver(), "checked", ("reset", "spill"), ""),
    (RecoveryObserver(), "checked", did("looked_wet"), ""),
    (RecoveryObserver(), "checked", did("looked_dry"), "checked"),
]


@pytest.mark.parametrize(
    ("observer", "now", "event", "then"),
    MOVES,
    ids=[f"{type(s).__name__}-{n}-{e}" for s, n, e, _ in MOVES],
)
def test_an_observer_with_a_memory_moves_so(
    observer: Observer, now: Any, event: PlantEvent, then: Any
) -> None:
    assert observer.after(now, event) == then


@pytest.mark.parametrize("what", sorted(SHUTS))
def test_what_ends_a_spray_or_breaks_in_shuts_an_open_gun_and_no_other(what: str) -> None:
    gun = GunObserver()
    assert gun.after("open", did(what)) == "coupled"
    for now in ("coupled", "away", UNKNOWN):
        assert gun.after(now, did(what)) == now
    assert StallLatchObserver().after((True, ""), did(what))[0] is False


@pytest.mark.parametrize("what", sorted(STOP | START | TRIPPING))
def test_a_recovery_is_no_longer_checked_once_something_moved_or_tripped(what: str) -> None:
    assert RecoveryObserver().after("checked", did(what)) == UNKNOWN


@pytest.mark.parametrize(
    ("observer", "states", "accounts"),
    [
        (HandTurnObserver(), (), {"", "turned", "valid", "retry"}),
        (FluidInObserver(), (), {"no", "yes"}),
        (RunOnObserver(), (), {("", ""), ("running", "idling"), ("done", "")}),
        (LatchObserver("spill", frozenset({"spilled"})), (), {"", "latched"}),
        (StallLatchObserver(), (), {(s, x) for s in (False, True) for x in ("", "latched")}),
        (LedgerObserver(), (), {(d, False, "") for d in (0, 1, 2, 3, 4, 5, MUCH_DML)}),
        (
            BoundObserver(CONTROLS),
            (("unknown", "pair"), ("unknown", "self", "other")),
            {(crew, at) for crew in ("", "pair") for at in ("", "self", "other")},
        ),
    ],
)
def test_an_observer_may_stand_at_these(
    observer: Observer, states: Any, accounts: set[Any]
) -> None:
    assert set(observer.accounts(states)) == accounts


BORNE_OUT: list[tuple[Observer, Any, Any, bool]] = [
    (LedgerObserver(), None, (5, False, ""), True),
    (LedgerObserver(), 5, (5, False, ""), True),
    (LedgerObserver(), 4, (5, False, ""), False),
    (HandTurnObserver(), "unknown", "valid", True),
    (HandTurnObserver(), "turned", "", True),
    (HandTurnObserver(), "valid", "turned", False),
    (HandTurnObserver(), "valid", "valid", True),
    (StartTriedObserver(), "unknown", "nothing", True),
    (StartTriedObserver(), "nothing", "nothing", True),
    (StartTriedObserver(), "nothing", "late", False),
    (StartTriedObserver(), "nothing", "", False),
    (StartTriedObserver(), "late", "late", True),
    (StartTriedObserver(), "late", "nothing", True),
    (StartTriedObserver(), "late", "", False),
    (FluidInObserver(), "no", "no", True),
    (FluidInObserver(), "no", "yes", False),
    (FluidInObserver(), "yes", "no", True),
    (RunOnObserver(), "unknown", ("done", ""), True),
    (RunOnObserver(), "running", ("", ""), True),
    (RunOnObserver(), "done", ("done", ""), True),
    (RunOnObserver(), "done", ("running", ""), False),
    (LatchObserver("spill", frozenset({"spilled"})), True, "", True),
    (LatchObserver("spill", frozenset({"spilled"})), False, "latched", False),
    (LatchObserver("spill", frozenset({"spilled"})), False, "", True),
    (StallLatchObserver(), False, (True, "latched"), False),
    (StallLatchObserver(), False, (True, ""), True),
]


@each(("observer", "believed", "now", "ok"), BORNE_OUT)
def test_the_truth_bears_out_a_belief_that_permits_no_more_than_it(
    observer: Observer, believed: Any, now: Any, ok: bool
) -> None:
    assert observer.bears_out((believed,), now) is ok


def test_of_a_crew_both_parts_have_to_be_borne_out() -> None:
    crew = BoundObserver(CONTROLS)
    assert crew.bears_out(("pair", "unknown"), ("pair", "self"))
    assert crew.bears_out(("unknown", "self"), ("pair", "self"))
    assert not crew.bears_out(("pair", "self"), ("pair", "other"))
    assert not crew.bears_out(("alone_adult", "self"), ("pair", "self"))


def test_a_signature_upon_what_nobody_knows_is_worth_nothing_and_denied_nothing() -> None:
    assert CHECKED.bears_out(("unknown", "other"), ("on", ""))
    assert CHECKED.bears_out(("on", "other"), ("on", "other"))
    assert not CHECKED.bears_out(("on", "other"), ("on", ""))
    assert not CHECKED.bears_out(("on", "other"), ("off", "other"))


def test_before_anything_has_happened_nothing_stands_but_fluid_nobody_knows_of() -> None:
    assert LedgerObserver().start() == (MUCH_DML, False, UNKNOWN)
    assert (HandTurnObserver().start(), FluidInObserver().start()) == (UNKNOWN, "no")
    assert RunOnObserver().start() == BoundObserver(CONTROLS).start() == (UNKNOWN, UNKNOWN)
    assert LatchObserver("spill", frozenset()).start() == UNKNOWN
    assert StallLatchObserver().start() == (False, UNKNOWN)
    assert StallLatchObserver().trip == "stalled"
