"""What rests on one honest answer: the pinned list against a search with one lie a trace."""

import pytest
from _pytest.mark import ParameterSet
from steplatch.safety.registers.trusted_reports import TRUSTED_REPORTS, honesty_rows, spoken_lie
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.matrix import render
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observer_machines import FluidInObserver, HandTurnObserver
from steplatch.safety.verify.observers import Observer

from tests.each import each
from tests.safety.false_reports import (
    UnconstrainedObserver,
    every_false_report,
    false_reports_behind,
    relies_on,
)

MONITORS: dict[str, Needs] = {
    m.name: m for m in need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
}
OBSERVERS: dict[str, Observer] = {
    " + ".join(observer.facts): observer for m in MONITORS.values() for observer in m.observers
}
NOT_SEARCHED = {"trip overdose"}
"""Its cone is the whole ledger twice over; what can be hidden is listed under ``wet``."""

SLOW = {
    *("hand_turn", "inspection", "engine", "start_check", "tag", "port", "key", "starter", "idle"),
    *("crew + controls", "controls", "line", "run_on", "release_check", "recovery", "road"),
    *("crew + fluid_check", "gun", "hands", "soak", "rate", "burning"),
    *(
        "engine + start_check",
        "soak + start_check",
        "hose + start_check",
        "gun + start_check",
        "hose + release_check",
        "gun + release_check",
        "engine + release_check",
        "codes + release_check",
    ),
}


QUICK = {"look: arrival dry", "report: run_on_begun"}


def test_every_observer_of_every_monitor_is_listed() -> None:
    assert set(TRUSTED_REPORTS) == set(OBSERVERS) - NOT_SEARCHED


def marked(name: str, slow: bool) -> ParameterSet:
    return pytest.param(name, marks=[pytest.mark.slow] if slow else [])


@pytest.mark.parametrize("name", [marked(n, n in SLOW) for n in TRUSTED_REPORTS if n != "wet"])
def test_the_list_is_what_the_search_finds(name: str) -> None:
    assert false_reports_behind(OBSERVERS[name], cap=400_000) == TRUSTED_REPORTS[name]


@pytest.mark.parametrize(
    "false_report",
    [marked(false_report, false_report not in QUICK) for false_report in TRUSTED_REPORTS["wet"]],
)
def test_one_such_lie_falsifies_the_ledger(false_report: str) -> None:
    assert false_reports_behind(OBSERVERS["wet"], false_report) == (false_report,)


@pytest.mark.slow
def test_no_other_single_lie_falsifies_the_ledger() -> None:
    for false_report in set(every_false_report(OBSERVERS["wet"])) - set(TRUSTED_REPORTS["wet"]):
        assert false_reports_behind(OBSERVERS["wet"], false_report, cap=200_000) == (), false_report


def test_a_hand_turn_that_was_not_done_needs_a_second_person_to_say_so_too() -> None:
    assert false_reports_behind(HandTurnObserver(), "report: turned_even") == ()
    assert "report: turn_seen" in TRUSTED_REPORTS["hand_turn"]


def test_no_single_lie_makes_the_tool_forget_that_fluid_went_in_but_a_hidden_spray() -> None:
    assert TRUSTED_REPORTS["fluid_in"] == false_reports_behind(FluidInObserver())
    assert set(TRUSTED_REPORTS["fluid_in"]) <= {"silence: overdosed"}


@each("name", sorted(MONITORS))
def test_every_monitor_rests_on_each_of_its_observers(name: str) -> None:
    needs = MONITORS[name]
    assert relies_on(needs) == needs.observers


def test_an_unsure_observer_bears_out_any_belief_and_is_else_the_same() -> None:
    unsure = UnconstrainedObserver(HandTurnObserver())
    assert unsure.bears_out(("valid",), "")
    assert unsure.facts == ("hand_turn",)


def test_every_lie_is_said_in_words_in_the_register() -> None:
    rows = honesty_rows()
    assert len(rows) == sum(len(false_reports) for false_reports in TRUSTED_REPORTS.values())
    assert render(rows, "markdown").count("\n") == len(rows) + 2
    assert spoken_lie("look: kit worn").startswith("it is said: 'gloves")
    assert spoken_lie("report: hose_on") == ("it is reported: 'hose and sensor back on and tugged'")
    assert spoken_lie("silence: stalled") == "nobody says: 'the engine stalled'"
    assert spoken_lie("volume: spray_ended").startswith("too little is reported")
    with pytest.raises(ValueError, match="no lie 'rumour: x'"):
        spoken_lie("rumour: x")
