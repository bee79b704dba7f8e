"""How the strands with a memory move, case by case, written out by hand."""

from typing import Any

import pytest
from steplatch.safety.verify.observer_machines import (
    FluidIn,
    Gun,
    HandTurn,
    Latched,
    Ledger,
    Rate,
    Recovery,
    RunOn,
    Soak,
    StallLatched,
    StartTried,
    WithCrew,
)
from steplatch.safety.verify.observers import CONTROLS, MUCH_DML, UNKNOWN, Event, Strand

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


def did(what: str, amount: int = 0) -> Event:
    return ("did", what, amount)


def begin(act: str) -> Event:
    return ("begin", act, 1, True)


HEARD: list[tuple[Strand, set[str], set[str], tuple[str, ...]]] = [
    (Ledger(), SPRAY | ENGINE | {"overdosed", "drained", "run_on_begun", "run_on_due"},
     {"engine"}, ("wet",)),
    (HandTurn(), SPRAY | START | STOP | {"turned_hard", "looked_wet", "overdosed", "drained",
     "interrupted", "ran_away", "turned_even", "turn_seen"}, {"hand_turn"}, ("hand_turn",)),
    (WithCrew(CONTROLS), {"person_hurt", "ran_away", "road_ended", "interrupted"},
     {"crew", "controls"}, ("crew", "controls")),
    (FluidIn(), SPRAY | {"overdosed"}, set(), ("fluid_in",)),
    (RunOn(), SPRAY | ENGINE | {"overdosed", "run_on_begun", "run_on_due"},
     {"engine", "run_on"}, ("run_on",)),
    (Latched("spill", frozenset({"spilled"})), {"spilled"}, set(), ("trip spill",)),
    (StallLatched(), SHUTS | SPRAY | {"interrupted"}, set(), ("trip stalled",)),
    (Gun(), SHUTS | SPRAY | {"gun_coupled", "gun_uncoupled", "interrupted"}, {"gun"}, ("gun",)),
    (Rate(), {"rate_measured", "gun_loaded", "begin fill_gun", "gun_filled", "overdosed",
     "interrupted"}, {"rate"}, ("rate",)),
    (Soak(), (STOP - {"cranked_no_fire"}) | START | SPRAY | {"overdosed", "ran_away",
     "soak_begun", "soak_due", "interrupted"}, {"soak"}, ("soak",)),
    (StartTried(), {"tried_nothing", "tried_turned", "self_started", "overdosed"},
     {"start_tried"}, ("start_tried",)),
    (Recovery(), STOP | START | SPRAY | TRIPPING | {"looked_wet", "recovered", "interrupted"},
     {"recovery"}, ("recovery",)),
]  # fmt: skip


@pytest.mark.parametrize(
    ("strand", "hears", "sees", "facts"), HEARD, ids=lambda it: type(it).__name__
)
def test_a_strand_says_what_it_hears_sees_and_follows(
    strand: Strand, hears: set[str], sees: set[str], facts: tuple[str, ...]
) -> None:
    assert strand.hears == hears
    assert strand.sees == sees
    assert strand.facts == facts


MOVES: list[tuple[Strand, Any, Event, Any]] = [
    # the ledger: what is in, whether it dries, what the engine does
    (Ledger(), (MUCH_DML, False, ""), ("arrived", 0), (0, False, "")),
    (Ledger(), (2, False, ""), ("sprayed", 3), (5, False, "")),
    (Ledger(), (2, False, ""), ("sprayed", MUCH_DML), (MUCH_DML, False, "")),
    (Ledger(), (3, False, ""), did("drained", 1), (2, False, "")),
    (Ledger(), (3, False, ""), did("drained", 9), (0, False, "")),
    (Ledger(), (MUCH_DML, False, ""), did("drained", 1), (MUCH_DML, False, "")),
    (Ledger(), (2, False, "idling"), did("run_on_begun"), (2, True, "idling")),
    (Ledger(), (2, False, "raised"), did("run_on_begun"), (2, True, "raised")),
    (Ledger(), (2, False, "stopped"), did("run_on_begun"), (2, False, "stopped")),
    (Ledger(), (2, True, "idling"), did("run_on_due"), (0, False, "idling")),
    (Ledger(), (2, False, "idling"), did("run_on_due"), (2, False, "idling")),
    (Ledger(), (2, True, "idling"), did("raised"), (2, True, "raised")),
    (Ledger(), (2, True, "raised"), did("lowered"), (2, False, "idling")),
    (Ledger(), (2, True, "idling"), did("stalled"), (2, False, "stopped")),
    (Ledger(), (2, True, "idling"), did("interrupted"), (2, False, "")),
    (Ledger(), (2, True, "idling"), did("started"), (2, False, "idling")),
    (Ledger(), (2, True, "idling"), did("self_started"), (2, False, "idling")),
    (Ledger(), (2, True, "idling"), did("overdosed"), (2, False, "idling")),
    (Ledger(), (2, True, "raised"), did("over_ceiling"), (2, False, "idling")),
    (Ledger(), (2, True, "idling"), begin("spray_running"), (2, False, "idling")),
    (Ledger(), (2, True, "idling"), begin("raise"), (2, True, "idling")),
    (Ledger(), (2, True, "idling"), ("seen", "engine", "stopped"), (2, False, "stopped")),
    (Ledger(), (2, True, "idling"), ("doubt", "engine"), (2, True, "idling")),
    # the hand-turn check
    (HandTurn(), "", did("turned_even"), "turned"),
    (HandTurn(), "turned", did("turn_seen"), "valid"),
    (HandTurn(), "", did("turn_seen"), ""),
    (HandTurn(), "retry", did("turn_seen"), "retry"),
    (HandTurn(), "valid", did("cranked_no_fire"), "retry"),
    (HandTurn(), "retry", did("cranked_no_fire"), ""),
    (HandTurn(), "valid", did("turned_hard"), ""),
    (HandTurn(), "valid", begin("spray_off"), ""),
    (HandTurn(), "valid", begin("start"), "valid"),
    (HandTurn(), "valid", did("hose_on"), "valid"),
    (HandTurn(), "turned", did("hands_in"), "turned"),
    (HandTurn(), "valid", ("doubt", "hand_turn"), ""),
    (HandTurn(), "valid", ("doubt", "port"), "valid"),
    # who is here, and what holds only for them
    (WithCrew(CONTROLS), ("pair", "other"), ("seen", "crew", "alone_adult"), ("alone_adult", "")),
    (WithCrew(CONTROLS), ("pair", "other"), ("seen", "crew", "pair"), ("pair", "other")),
    (WithCrew(CONTROLS), ("pair", ""), ("seen", "controls", "other"), ("pair", "other")),
    (WithCrew(CONTROLS), ("pair", "other"), did("road_ended"), ("pair", "")),
    (WithCrew(CONTROLS), ("pair", "other"), did("interrupted"), ("", "")),
    (WithCrew(CONTROLS), ("pair", "other"), ("doubt", "crew"), ("", "other")),
    # whether fluid has gone in at all
    (FluidIn(), "no", begin("spray_off"), "yes"),
    (FluidIn(), "no", begin("spray_running"), "yes"),
    (FluidIn(), "no", begin("start"), "no"),
    (FluidIn(), "no", ("sprayed", 1), "yes"),
    (FluidIn(), "no", did("overdosed"), "yes"),
    (FluidIn(), "no", did("spray_off"), "no"),
    (FluidIn(), "yes", did("drained", 9), "yes"),
    # the try of the start, which fluid that comes in by mishap ends for good
    (StartTried(), "", did("tried_nothing"), "nothing"),
    (StartTried(), "", did("overdosed"), "late"),
    (StartTried(), "nothing", did("overdosed"), "nothing"),
    (StartTried(), "late", did("overdosed"), "late"),
    (StartTried(), "nothing", did("tried_turned"), ""),
    (StartTried(), "nothing", did("self_started"), ""),
    (StartTried(), "late", did("self_started"), ""),
    (StartTried(), "", begin("spray_running"), ""),
    (StartTried(), "nothing", did("interrupted"), "nothing"),
    # the drying run and the engine it needs
    (RunOn(), ("", "idling"), did("run_on_begun"), ("running", "idling")),
    (RunOn(), ("", "raised"), did("run_on_begun"), ("running", "raised")),
    (RunOn(), ("done", "stopped"), did("run_on_begun"), ("", "stopped")),
    (RunOn(), ("running", "idling"), did("run_on_due"), ("done", "idling")),
    (RunOn(), ("", "idling"), did("run_on_due"), ("", "idling")),
    (RunOn(), ("running", "raised"), did("lowered"), ("", "idling")),
    (RunOn(), ("done", "raised"), did("lowered"), ("done", "idling")),
    (RunOn(), ("running", "idling"), did("started"), ("", "idling")),
    (RunOn(), ("running", "raised"), did("over_ceiling"), ("", "idling")),
    (RunOn(), ("done", "idling"), did("stopped"), ("done", "stopped")),
    (RunOn(), ("running", "idling"), ("seen", "engine", "stopped"), ("", "stopped")),
    (RunOn(), ("running", "idling"), ("doubt", "engine"), ("running", "idling")),
    (RunOn(), ("done", "idling"), ("doubt", "run_on"), ("", "idling")),
    (RunOn(), ("done", "idling"), ("doubt", "engine"), ("done", "idling")),
    (RunOn(), ("done", "idling"), did("interrupted"), ("", "")),
    (RunOn(), ("done", "idling"), did("overdosed"), ("", "idling")),
    (RunOn(), ("done", "idling"), did("ran_away"), ("", "")),
    (RunOn(), ("done", "idling"), begin("spray_off"), ("", "idling")),
    (RunOn(), ("done", "idling"), begin("raise"), ("done", "idling")),
    # a trip, told or untold
    (Latched("spill", frozenset({"spilled"})), "", did("spilled"), "latched"),
    (Latched("spill", frozenset({"spilled"})), "", did("stalled"), ""),
    (Latched("spill", frozenset({"spilled"})), "latched", ("reset", "spill"), ""),
    (Latched("spill", frozenset({"spilled"})), "latched", ("reset", "stub"), "latched"),
    (Latched("spill", frozenset({"spilled"})), "latched", ("untold",), "untold latched"),
    (Latched("spill", frozenset({"spilled"})), "untold ", did("spilled"), "untold "),
    (Latched("spill", frozenset({"spilled"})), "untold latched", ("over",), "latched"),
    (Latched("spill", frozenset({"spilled"})), "latched", ("over",), "latched"),
    (StallLatched(), (False, ""), begin("spray_running"), (True, "")),
    (StallLatched(), (True, ""), begin("spray_off"), (False, "")),
    (StallLatched(), (True, ""), did("stalled"), (False, "latched")),
    (StallLatched(), (False, ""), did("stalled"), (False, "")),
    (StallLatched(), (True, ""), did("spray_ended"), (False, "")),
    (StallLatched(), (True, ""), did("interrupted"), (False, "")),
    (StallLatched(), (True, ""), did("raised"), (True, "")),
    (StallLatched(), (True, ""), ("untold",), (True, "untold ")),
    (StallLatched(), (True, "latched"), ("reset", "stalled"), (True, "")),
    # the gun
    (Gun(), "", did("gun_coupled"), "coupled"),
    (Gun(), "coupled", did("gun_uncoupled"), "away"),
    (Gun(), "coupled", begin("spray_off"), "open"),
    (Gun(), "coupled", begin("spray_running"), "open"),
    (Gun(), "coupled", did("interrupted"), ""),
    (Gun(), "coupled", ("doubt", "gun"), ""),
    (Gun(), "coupled", ("seen", "stalled", ""), "coupled"),
    # how the next volume is known
    (Rate(), "", did("rate_measured"), "measured"),
    (Rate(), "", did("gun_loaded"), "loaded"),
    (Rate(), "loaded", ("sprayed", 1), ""),
    (Rate(), "loaded", ("sprayed", 0), "loaded"),
    (Rate(), "measured", ("sprayed", 1), "measured"),
    (Rate(), "measured", did("gun_filled"), ""),
    (Rate(), "measured", did("overdosed"), ""),
    (Rate(), "measured", begin("fill_gun"), ""),
    # the soak
    (Soak(), "", did("soak_begun"), "running"),
    (Soak(), "running", did("soak_due"), "due"),
    (Soak(), "", did("soak_due"), ""),
    (Soak(), "due", did("soak_due"), "due"),
    (Soak(), "due", did("cranked_no_fire"), "due"),
    (Soak(), "due", did("cranked_uneven"), ""),
    (Soak(), "due", did("started"), ""),
    (Soak(), "due", did("overdosed"), ""),
    (Soak(), "due", did("interrupted"), ""),
    (Soak(), "due", begin("spray_off"), ""),
    (Soak(), "due", begin("spray_running"), ""),
    (Soak(), "due", begin("start"), "due"),
    (Soak(), "due", ("doubt", "soak"), ""),
    # the recovery
    (Recovery(), "", did("recovered"), "checked"),
    (Recovery(), "checked", ("tripped", "spill"), ""),
    (Recovery(), "checked", ("reset", "spill"), ""),
    (Recovery(), "checked", did("looked_wet"), ""),
    (Recovery(), "checked", did("looked_dry"), "checked"),
]


@pytest.mark.parametrize(
    ("strand", "now", "event", "then"),
    MOVES,
    ids=[f"{type(s).__name__}-{n}-{e}" for s, n, e, _ in MOVES],
)
def test_a_strand_with_a_memory_moves_so(strand: Strand, now: Any, event: Event, then: Any) -> None:
    assert strand.after(now, event) == then


@pytest.mark.parametrize("what", sorted(SHUTS))
def test_what_ends_a_spray_or_breaks_in_shuts_an_open_gun_and_no_other(what: str) -> None:
    gun = Gun()
    assert gun.after("open", did(what)) == "coupled"
    for now in ("coupled", "away", UNKNOWN):
        assert gun.after(now, did(what)) == now
    assert StallLatched().after((True, ""), did(what))[0] is False


@pytest.mark.parametrize("what", sorted(STOP | START | TRIPPING))
def test_a_recovery_is_no_longer_checked_once_something_moved_or_tripped(what: str) -> None:
    assert Recovery().after("checked", did(what)) == UNKNOWN


@pytest.mark.parametrize(
    ("strand", "states", "accounts"),
    [
        (HandTurn(), (), {"", "turned", "valid", "retry"}),
        (FluidIn(), (), {"no", "yes"}),
        (RunOn(), (), {("", ""), ("running", "idling"), ("done", "")}),
        (Latched("spill", frozenset({"spilled"})), (), {"", "latched"}),
        (StallLatched(), (), {(s, x) for s in (False, True) for x in ("", "latched")}),
        (Ledger(), (), {(d, False, "") for d in (0, 1, 2, 3, 4, 5, MUCH_DML)}),
        (
            WithCrew(CONTROLS),
            (("unknown", "pair"), ("unknown", "self", "other")),
            {(crew, at) for crew in ("", "pair") for at in ("", "self", "other")},
        ),
    ],
)
def test_a_strand_may_stand_at_these(strand: Strand, states: Any, accounts: set[Any]) -> None:
    assert set(strand.accounts(states)) == accounts


BORNE_OUT: list[tuple[Strand, Any, Any, bool]] = [
    (Ledger(), None, (5, False, ""), True),
    (Ledger(), 5, (5, False, ""), True),
    (Ledger(), 4, (5, False, ""), False),
    (HandTurn(), "unknown", "valid", True),
    (HandTurn(), "turned", "", True),
    (HandTurn(), "valid", "turned", False),
    (HandTurn(), "valid", "valid", True),
    (StartTried(), "unknown", "nothing", True),
    (StartTried(), "nothing", "nothing", True),
    (StartTried(), "nothing", "late", False),
    (StartTried(), "nothing", "", False),
    (StartTried(), "late", "late", True),
    (StartTried(), "late", "nothing", True),
    (StartTried(), "late", "", False),
    (FluidIn(), "no", "no", True),
    (FluidIn(), "no", "yes", False),
    (FluidIn(), "yes", "no", True),
    (RunOn(), "unknown", ("done", ""), True),
    (RunOn(), "running", ("", ""), True),
    (RunOn(), "done", ("done", ""), True),
    (RunOn(), "done", ("running", ""), False),
    (Latched("spill", frozenset({"spilled"})), True, "", True),
    (Latched("spill", frozenset({"spilled"})), False, "latched", False),
    (Latched("spill", frozenset({"spilled"})), False, "", True),
    (StallLatched(), False, (True, "latched"), False),
    (StallLatched(), False, (True, ""), True),
]


@pytest.mark.parametrize(("strand", "believed", "now", "ok"), BORNE_OUT)
def test_the_truth_bears_out_a_belief_that_permits_no_more_than_it(
    strand: Strand, believed: Any, now: Any, ok: bool
) -> None:
    assert strand.bears_out((believed,), now) is ok


def test_of_a_crew_both_parts_have_to_be_borne_out() -> None:
    crew = WithCrew(CONTROLS)
    assert crew.bears_out(("pair", "unknown"), ("pair", "self"))
    assert crew.bears_out(("unknown", "self"), ("pair", "self"))
    assert not crew.bears_out(("pair", "self"), ("pair", "other"))
    assert not crew.bears_out(("alone_adult", "self"), ("pair", "self"))


def test_before_anything_has_happened_nothing_stands_but_fluid_nobody_knows_of() -> None:
    assert Ledger().start() == (MUCH_DML, False, UNKNOWN)
    assert (HandTurn().start(), FluidIn().start()) == (UNKNOWN, "no")
    assert RunOn().start() == WithCrew(CONTROLS).start() == (UNKNOWN, UNKNOWN)
    assert Latched("spill", frozenset()).start() == UNKNOWN
    assert StallLatched().start() == (False, UNKNOWN)
    assert StallLatched().trip == "stalled"
