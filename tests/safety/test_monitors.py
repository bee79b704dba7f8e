"""The monitors by themselves: they see events of the truth, and nothing else."""

import ast
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from steplatch.safety.bay import FACTS, Act
from steplatch.safety.occurrences import Happening
from steplatch.safety.verify import alarms, monitors, needs, observer_machines, observers
from steplatch.safety.verify.alarms import Alarm
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observer_machines import (
    HandTurnObserver,
    LatchObserver,
    LedgerObserver,
    RunOnObserver,
    StallLatchObserver,
)
from steplatch.safety.verify.observers import MUCH_DML, Observer, PlantEvent

from tests.safety.told import ALARMS, MONITORS, begin, told

ALL: dict[str, Needs | Alarm] = {**MONITORS, **ALARMS}


def did(what: str, amount: int = 0) -> PlantEvent:
    return ("did", what, amount)


def imports(module: ModuleType) -> set[str]:
    assert module.__file__ is not None
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        if isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or ""))
    return found


def test_the_monitors_import_neither_bay_nor_interlocks_nor_kernel() -> None:
    plain = {"collections.abc", "dataclasses", "itertools", "typing"}
    assert imports(observers) <= plain
    assert imports(observer_machines) <= plain | {".observers"}
    assert imports(needs) <= plain | {".observers"}
    assert imports(alarms) <= plain | {".observers", ".observer_machines"}
    assert imports(monitors) <= plain | {
        ".needs",
        ".observers",
        ".observer_machines",
    }


def test_every_name_that_a_monitor_hears_or_sees_exists() -> None:
    known = {f"begin {act.value}" for act in Act} | {what.value for what in Happening}
    for monitor in ALL.values():
        assert monitor.hears <= known, monitor.name
        assert monitor.sees <= set(FACTS), monitor.name


def test_what_a_monitor_says_is_possible_is_a_state_that_exists() -> None:
    for monitor in MONITORS.values():
        for observer in monitor.observers:
            values = tuple(
                tuple(s.value for s in FACTS[f]) if f in FACTS else () for f in observer.facts
            )
            assert observer.start() in list(observer.accounts(values)) or observer.facts == ("wet",)
            for outcome in getattr(observer, "done", {}).values():
                assert outcome in values[0]


def test_what_a_running_engine_needs_is_named_as_it_is_seen() -> None:
    for alarm in ALARMS.values():
        assert alarm.good <= {state.value for state in FACTS[alarm.observer.facts[-1]]}


EVENTS = st.one_of(
    st.sampled_from([begin(act.value, 1) for act in Act]),
    st.sampled_from([did(what.value, 1) for what in Happening]),
    st.sampled_from([("seen", f, s.value) for f, states in FACTS.items() for s in states]),
    st.sampled_from([("doubt", fact) for fact in FACTS]),
    st.sampled_from(
        [
            ("sprayed", 0),
            ("sprayed", 1),
            ("arrived", 0),
            ("over",),
            ("untold",),
            ("permitted", "road_test"),
        ]
    ),
)


@settings(max_examples=300)
@example([begin("spray_running", 1), begin("stop_engine", 1)], "latched-stalled")
@given(st.lists(EVENTS, max_size=12), st.sampled_from(sorted(ALL)))
def test_what_a_monitor_neither_hears_nor_sees_does_not_move_it(
    events: list[PlantEvent], name: str
) -> None:
    monitor = ALL[name]
    now = monitor.start()
    for event in events:
        before = now
        now, _ = monitor.step(now, event)
        if event[0] in ("seen", "doubt"):
            ignored = event[1] not in monitor.sees
        else:
            heard = {"did": "", "begin": "begin "}.get(event[0])
            ignored = heard is not None and heard + event[1] not in monitor.hears
        if ignored:
            assert now == before, event


CRANK = begin("start")
DRY = ("arrived", 0)


def test_a_vehicle_that_came_dry_may_be_cranked() -> None:
    assert told(MONITORS["start-with-fluid"], DRY, CRANK) is None


def test_a_vehicle_that_came_with_nobody_knows_how_much_may_not_be_cranked() -> None:
    said = told(MONITORS["start-with-fluid"], CRANK)
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
        (3, (did("cylinders_opened"), *TURN), True),
        (3, (did("looked_dry"), *TURN), False),
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
    dml: int, before: tuple[PlantEvent, ...], ok: bool
) -> None:
    said = told(MONITORS["start-with-fluid"], DRY, ("sprayed", dml), *before, CRANK)
    assert (said is None) == ok


def test_the_ledger_falls_only_by_a_true_drying_run_or_a_measured_drain() -> None:
    ledger = LedgerObserver()

    def left(*events: PlantEvent) -> int:
        now = ledger.after(ledger.start(), DRY)
        for event in (did("started"), ("sprayed", 3), did("raised"), *events):
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
    idle = did("lowered"), *dry
    low: PlantEvent = ("seen", "line", "drained")
    assert left(*idle) == left(low, *idle) == 3
    assert left(*idle, low) == left(*idle, did("stopped"), low) == 0
    assert left(*idle, did("interrupted"), low) == 0
    for spoilt in (did("line_cleared"), did("gun_coupled"), ("seen", "line", "fluid")):
        assert left(*idle, spoilt, low) == 3
    unknown = ledger.after(ledger.start(), did("drained", 1))
    assert unknown[0] == MUCH_DML


def test_a_look_by_a_second_person_counts_only_after_the_turns() -> None:
    turn = HandTurnObserver()
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
    name: str, events: tuple[PlantEvent, ...], ok: bool
) -> None:
    assert (told(MONITORS[name], *events, begin("spray_off", 1)) is None) == ok


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
    events: tuple[PlantEvent, ...], ok: bool
) -> None:
    said = told(MONITORS["run-attended"], *events, begin("spray_running", 1))
    assert (said is None) == ok


def account(observer: Observer, *events: PlantEvent) -> object:
    now = observer.start()
    for event in events:
        now = observer.after(now, event)
    return now


def test_a_drying_run_is_done_only_when_it_ran_to_its_end() -> None:
    begun, due = did("run_on_begun"), did("run_on_due")
    run = RunOnObserver()

    def how(*events: PlantEvent) -> str:
        now = account(run, did("started"), did("raised"), *events)
        assert isinstance(now, tuple)
        return str(now[0])

    assert how(begun) == "running"
    assert how(begun, due) == "done"
    assert how(due) == ""
    assert how(begun, did("lowered"), due) == ""
    assert how(begun, did("stopped"), did("started"), due) == ""
    assert how(did("stopped"), begun, due) == ""
    assert how(begun, due, did("stopped")) == "done"
    assert how(begun, due, did("interrupted")) == ""
    assert how(begun, due, begin("spray_running", 1)) == ""
    assert how(begun, due, ("doubt", "run_on")) == ""
    assert how(begun, ("doubt", "engine"), due) == "done"


def test_a_trip_stays_latched_until_it_is_reset() -> None:
    spill = LatchObserver("spill", frozenset({"spilled"}))
    assert not spill.latched(account(spill))
    assert spill.latched(account(spill, did("spilled"), did("recovered")))
    assert spill.latched(account(spill, did("spilled"), ("reset", "stub")))
    assert not spill.latched(account(spill, did("spilled"), ("reset", "spill")))


def test_what_was_never_told_cannot_latch_until_it_is_told() -> None:
    spill = LatchObserver("spill", frozenset({"spilled"}))
    untold = (("untold",), did("spilled"), ("over",))
    assert not spill.latched(account(spill, *untold))
    assert spill.latched(account(spill, *untold, did("spilled")))
    assert spill.latched(account(spill, did("spilled"), *untold))


@pytest.mark.parametrize(
    ("events", "latched"),
    [
        ((begin("spray_running", 1), did("stalled")), True),
        ((did("stalled"),), False),
        ((begin("spray_off", 1), did("stalled")), False),
        ((begin("spray_running", 1), did("spray_ended"), did("stalled")), False),
        ((begin("spray_running", 1), did("interrupted"), did("stalled")), False),
        ((begin("spray_running", 1), did("stalled"), ("reset", "stalled")), False),
    ],
)
def test_a_stall_latches_when_it_comes_during_a_running_spray(
    events: tuple[PlantEvent, ...], latched: bool
) -> None:
    stall = StallLatchObserver()
    assert stall.latched(account(stall, *events)) == latched


LOST = ("seen", "secured", "part")
RUNNING = (did("started"), ("seen", "secured", "yes"))


@pytest.mark.parametrize(
    ("events", "ok"),
    [
        ((*RUNNING, LOST, ("over",)), False),
        ((*RUNNING, ("doubt", "secured"), ("over",)), False),
        ((*RUNNING, ("seen", "road", "ready"), ("over",)), False),
        ((*RUNNING, LOST, ("tripped", "unattended"), ("over",)), True),
        ((*RUNNING, LOST, ("tripped", "unattended"), ("over",), RUNNING[1], LOST, ("over",)), True),
        (
            (
                *(*RUNNING, LOST, ("tripped", "unattended"), ("over",), ("reset", "unattended")),
                *(RUNNING[1], LOST, ("over",)),
            ),
            False,
        ),
        ((("seen", "secured", "yes"), LOST, ("over",)), True),
        ((did("started"), LOST, ("over",)), True),
        ((*RUNNING, did("stopped"), LOST, ("over",)), True),
        ((*RUNNING, ("untold",), ("over",), RUNNING[1], LOST, ("over",)), True),
        ((*RUNNING, ("permitted", "road_test"), ("over",), LOST, ("over",)), True),
        ((*RUNNING, ("tripped", "spill"), LOST, ("over",)), False),
    ],
)
def test_a_vehicle_that_may_roll_while_it_runs_needs_an_alarm_at_once(
    events: tuple[PlantEvent, ...], ok: bool
) -> None:
    assert (told(ALARMS["alarm-secured"], *events) is None) == ok


def test_another_crew_at_a_running_engine_needs_an_alarm() -> None:
    seen = (("seen", "crew", "pair"), ("seen", "controls", "other"), did("started"))
    changed = (*seen, ("seen", "crew", "alone_adult"), ("over",))
    assert told(ALARMS["alarm-controls"], *changed) is not None
    assert told(ALARMS["alarm-controls"], *seen, ("seen", "crew", "pair"), ("over",)) is None
    forgotten = (*seen, ("untold",), ("over",), ("seen", "controls", "nobody"), ("over",))
    assert told(ALARMS["alarm-controls"], *forgotten) is None


@pytest.mark.parametrize(
    ("name", "events", "asked", "ok"),
    [
        ("reset-not-terminal", (), "fire", False),
        ("reset-not-terminal", (), "spill", True),
        ("reset-recovered", (did("recovered"),), "spill", True),
        ("reset-recovered", (did("recovered"), ("tripped", "stub")), "spill", False),
        ("reset-recovered", (did("recovered"), ("reset", "stub")), "spill", False),
        ("reset-without-fluid", (did("stopped"),), "spill", True),
        ("reset-without-fluid", (did("stopped"),), "stalled", False),
        ("reset-without-fluid", (DRY, did("stopped")), "stalled", True),
        ("reset-without-fluid", (did("started"),), "stalled", False),
        ("reset-without-fluid", (DRY, did("started")), "stalled", True),
        ("reset-without-fluid", (did("stopped"), did("cylinders_opened"), *TURN), "stalled", True),
        ("reset-without-fluid", (did("stopped"), did("looked_dry"), *TURN), "stalled", False),
        ("reset-fumes", (did("started"), ("seen", "fumes", "nothing")), "unattended", False),
        ("reset-fumes", (did("started"), ("seen", "fumes", "extraction")), "unattended", True),
        ("reset-fumes", (did("stopped"), ("seen", "fumes", "nothing")), "unattended", True),
        ("reset-fumes", (did("started"), ("seen", "fumes", "nothing")), "spill", True),
        ("reset-controls", (did("started"), ("seen", "controls", "nobody")), "unattended", False),
        ("reset-hands", (did("started"), did("hands_in")), "unattended", False),
        ("reset-secured", (did("started"), ("seen", "secured", "part")), "unattended", False),
    ],
)
def test_a_reset_needs_what_stands_behind_it(
    name: str, events: tuple[PlantEvent, ...], asked: str, ok: bool
) -> None:
    said = told(MONITORS[name], *events, ("begin", "reset", 0, asked))
    assert (said is None) == ok


@pytest.mark.parametrize(
    ("name", "events", "act", "ok"),
    [
        ("crew-may-run", (("seen", "crew", "alone_junior"),), "start", False),
        ("crew-may-run", (("seen", "crew", "alone_junior"),), "fill_gun", False),
        ("crew-may-run", (("seen", "crew", "alone_junior"),), "raise", False),
        ("crew-may-run", (("seen", "crew", "alone_adult"), ("sprayed", 1)), "start", True),
        ("fluid-checked", (("seen", "fluid_check", "other"),), "spray_off", True),
        ("fluid-checked", (("seen", "fluid_check", "same"),), "spray_running", False),
        ("hand-over-signed", (("seen", "release_check", "other"),), "hand_over", True),
        ("hand-over-signed", (("seen", "release_check", "same"),), "hand_over", False),
        ("revs-line-clear", (("sprayed", 1),), "raise", False),
        ("revs-line-clear", (("sprayed", 1), did("line_cleared")), "raise", True),
        ("revs-line-clear", (did("line_cleared"), begin("spray_off", 1)), "raise", False),
        ("road-ready", (*(("seen", "road", "ready"), ("seen", "driver", "licensed")),
                        did("stopped")), "road_test", True),
        ("road-ready", (*(("seen", "road", "ready"), ("seen", "driver", "licensed")),
                        did("stopped"), did("hands_in")), "road_test", False),
        ("road-ready", (*(("seen", "road", "ready"), ("seen", "driver", "licensed")),
                        did("stopped"), ("seen", "secured", "yes")), "road_test", False),
        ("refit-hands", (did("started"), did("hands_at_hose")), "put_hose_on", True),
        ("refit-hands", (did("stopped"), did("hands_in")), "put_hose_on", False),
        ("ignition-not-in-soak", (("sprayed", 1), did("soak_begun")), "ignition_on", False),
        ("ignition-not-in-soak", (("sprayed", 1), did("soak_begun"), did("soak_due")),
         "ignition_on", True),
        ("abandon-tagged", (DRY, ("seen", "tag", "key_tagged")), "abandon", True),
        ("abandon-tagged", (("seen", "tag", "key_tagged"),), "abandon", False),
        ("abandon-tagged", (("seen", "tag", "do_not_start"),), "abandon", True),
    ],
)  # fmt: skip
def test_an_act_needs_what_stands_behind_it(
    name: str, events: tuple[PlantEvent, ...], act: str, ok: bool
) -> None:
    assert (told(MONITORS[name], *events, begin(act)) is None) == ok
