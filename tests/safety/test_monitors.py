"""The monitors by themselves: they see events of the truth, and nothing else."""

import ast
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import safety.monitors as monitors
from safety.bay import FACTS, Act
from safety.happenings import Happening
from safety.monitors import MUCH_DML, Event, HandTurn, Ledger, Needs, fluid_monitors

FLUID = {m.name: m for m in fluid_monitors(1, 2, 3)}


def told(monitor: Needs, *events: Event) -> str | None:
    """What the monitor says of the last event."""
    now, said = monitor.start(), None
    for event in events:
        now, said = monitor.step(now, event)
    return said


def begin(act: str, dose: int = 0) -> Event:
    return ("begin", act, dose, True)


def did(what: str, amount: int = 0) -> Event:
    return ("did", what, amount)


def test_the_monitors_import_neither_bay_nor_interlocks_nor_kernel() -> None:
    tree = ast.parse(Path(monitors.__file__).read_text(encoding="utf-8"))
    names = {
        name
        for node in ast.walk(tree)
        for name in (
            [alias.name for alias in node.names]
            if isinstance(node, ast.Import)
            else [node.module or ""]
            if isinstance(node, ast.ImportFrom)
            else []
        )
    }
    assert names <= {"collections.abc", "dataclasses", "itertools", "typing"}


def test_every_name_that_a_monitor_hears_is_an_act_or_a_happening() -> None:
    known = {f"begin {act.value}" for act in Act} | {what.value for what in Happening}
    for monitor in FLUID.values():
        assert monitor.hears <= known, monitor.name
        assert {fact for s in monitor.strands for fact in s.facts} <= {*FACTS, "wet"}


EVENTS = st.one_of(
    st.sampled_from([begin(act.value, 1) for act in Act]),
    st.sampled_from([did(what.value, 1) for what in Happening]),
    st.sampled_from([("seen", f, s.value) for f, states in FACTS.items() for s in states]),
    st.sampled_from([("doubt", fact) for fact in FACTS]),
    st.sampled_from([("sprayed", 0), ("sprayed", 1), ("arrived", 0), ("over",)]),
)


@given(st.lists(EVENTS, max_size=12), st.sampled_from(sorted(FLUID)))
def test_what_a_monitor_does_not_hear_does_not_move_it(events: list[Event], name: str) -> None:
    monitor = FLUID[name]
    now = monitor.start()
    for event in events:
        before = now
        now, _ = monitor.step(now, event)
        heard = {"did": "", "begin": "begin "}.get(event[0])
        if heard is not None and heard + event[1] not in monitor.hears:
            assert now == before, event


CRANK = begin("start")
DRY = ("arrived", 0)


def test_a_vehicle_that_came_dry_may_be_cranked() -> None:
    assert told(FLUID["start-with-fluid"], DRY, CRANK) is None


def test_a_vehicle_that_came_with_nobody_knows_how_much_may_not_be_cranked() -> None:
    said = told(FLUID["start-with-fluid"], CRANK)
    assert said is not None and "cranked with more fluid" in said


TURN = (did("turned_even"), did("turn_seen"))


@pytest.mark.parametrize(
    ("dml", "before", "ok"),
    [
        (1, (), True),
        (2, (), False),
        (2, TURN, True),
        (2, (did("turned_even"),), False),
        (2, (did("turn_seen"),), False),
        (3, TURN, False),
        (3, (did("looked_dry"), *TURN), True),
        (3, (did("looked_dry"),), False),
        (2, (*TURN, did("cranked_no_fire")), True),
        (2, (*TURN, did("cranked_no_fire"), did("cranked_no_fire")), False),
        (2, (*TURN, did("cranked_uneven")), False),
        (2, (*TURN, did("interrupted")), False),
        (2, (*TURN, ("doubt", "hand_turn")), False),
        (2, (*TURN, begin("spray_off", 1)), False),
    ],
)
def test_a_crank_with_fluid_needs_what_stands_behind_it(
    dml: int, before: tuple[Event, ...], ok: bool
) -> None:
    said = told(FLUID["start-with-fluid"], DRY, ("sprayed", dml), *before, CRANK)
    assert (said is None) == ok


def test_the_ledger_falls_only_by_a_true_drying_run_or_a_measured_drain() -> None:
    ledger = Ledger()

    def left(*events: Event) -> int:
        now = ledger.after(ledger.start(), DRY)
        for event in (did("started"), ("sprayed", 3), *events):
            now = ledger.after(now, event)
        return int(now[0])

    dry = did("run_on_begun"), did("run_on_due")
    assert left() == 3
    assert left(did("started")) == 3
    assert left(did("drained", 1)) == 2
    assert left(did("drained", 5)) == 0
    assert left(*dry) == 0
    assert left(did("stopped"), *dry) == 3
    assert left(dry[0], did("stalled"), did("started"), dry[1]) == 3
    assert left(dry[0], begin("spray_running", 1), dry[1]) == 3
    assert left(("doubt", "engine"), *dry) == 0
    assert left(dry[1]) == 3
    unknown = ledger.after(ledger.start(), did("drained", 1))
    assert unknown[0] == MUCH_DML


def test_a_look_by_a_second_person_counts_only_after_the_turns() -> None:
    turn = HandTurn()
    assert turn.after(turn.after("", did("turn_seen")), did("turned_even")) == "turned"


@pytest.mark.parametrize(
    ("name", "events", "ok"),
    [
        ("spray-rate", (did("rate_measured"),), True),
        ("spray-rate", (did("rate_measured"), did("gun_filled")), False),
        ("spray-rate", (did("gun_loaded"), ("sprayed", 1)), False),
        ("spray-rate", (did("gun_loaded"), ("sprayed", 0)), True),
        ("spray-off-cool", (("seen", "port", "cool"),), True),
        ("spray-off-cool", (("seen", "port", "warm"),), False),
        ("spray-off-cool", (("seen", "port", "cool"), did("started")), False),
        ("spray-off-cool", (("seen", "port", "cool"), ("doubt", "port")), False),
        ("spray-off-cool", (("seen", "port", "cool"), did("interrupted")), False),
        ("spray-coupled", (did("gun_coupled"), did("hose_off")), True),
        ("spray-coupled", (did("gun_coupled"), did("hose_off"), did("stub_snapped")), False),
        ("spray-coupled", (did("gun_coupled"), did("hose_off"), begin("spray_off", 1)), False),
        ("spray-off-still", (did("stopped"), ("seen", "key", "boxed")), True),
        ("spray-off-still", (did("stopped"),), False),
        ("spray-off-ledger", (DRY, ("seen", "tier", "strict")), True),
        ("spray-off-ledger", (DRY, ("seen", "tier", "none")), False),
        ("spray-off-ledger", (DRY, ("sprayed", 1), ("seen", "tier", "strict")), False),
        ("spray-off-ledger", (DRY, ("sprayed", 1), ("seen", "tier", "extended")), True),
    ],
)
def test_an_engine_off_spray_needs_what_stands_behind_it(
    name: str, events: tuple[Event, ...], ok: bool
) -> None:
    assert (told(FLUID[name], *events, begin("spray_off", 1)) is None) == ok


@pytest.mark.parametrize(
    ("events", "ok"),
    [
        ((("seen", "controls", "other"),), True),
        ((("seen", "controls", "self"),), False),
        ((("seen", "crew", "alone_adult"), ("seen", "controls", "self")), True),
        ((("seen", "crew", "pair"), ("seen", "controls", "self")), False),
        ((("seen", "controls", "other"), ("seen", "crew", "pair")), False),
    ],
)
def test_a_running_spray_needs_somebody_at_the_controls(
    events: tuple[Event, ...], ok: bool
) -> None:
    said = told(FLUID["spray-running-attended"], *events, begin("spray_running", 1))
    assert (said is None) == ok
