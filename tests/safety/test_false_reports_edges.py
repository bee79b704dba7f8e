"""What the search for lies may leave out, and what it may not."""

from dataclasses import replace
from typing import Any

import pytest
from steplatch.safety.bay import FACTS, Arrival, Kit
from steplatch.safety.interlocks import INTERLOCKS, Is
from steplatch.safety.registers.trusted_reports import TRUSTED_REPORTS
from steplatch.safety.verify.kernel_model import LIMITS, Kernel
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observer_machines import FluidInObserver
from steplatch.safety.verify.observers import Observer
from steplatch.safety.verify.search import search

from tests.safety import false_reports as honesty
from tests.safety.false_reports import (
    PERMITTING,
    SMALL,
    every_false_report,
    false_report_kernel,
    false_reports_behind,
    relies_on,
)

MONITORS: tuple[Needs, ...] = need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
OBSERVERS: dict[str, Observer] = {" + ".join(s.facts): s for m in MONITORS for s in m.observers}


def test_every_lie_that_falsifies_the_ledger_is_among_those_that_are_tried() -> None:
    assert set(TRUSTED_REPORTS["wet"]) <= set(every_false_report(OBSERVERS["wet"]))


def test_no_lie_is_told_about_what_the_tool_counts_by_itself() -> None:
    told = every_false_report(OBSERVERS["wet"])
    assert len(told) == len(set(told))
    assert not {"report: soak_due", "report: run_on_due", "silence: interrupted"} & set(told)
    assert "report: drained" in told
    assert "silence: drained" not in told, "a silent drain only ever lowers what is in"


def test_what_is_believed_while_an_act_is_under_way_is_not_held_against_anybody() -> None:
    # filling the gun ends the rate; the tool believes the old one until it is told of the end
    assert false_reports_behind(OBSERVERS["rate"], "report: gun_loaded") == ("report: gun_loaded",)


def test_a_search_for_lies_asks_for_a_dose_that_every_limit_lets_through(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[Kernel] = []

    def noting(*asked: Any, **named: Any) -> Kernel:
        made.append(Kernel(*asked, **named))
        return made[-1]

    monkeypatch.setattr(honesty, "Kernel", noting)
    assert false_reports_behind(OBSERVERS["sheet"], "look: sheet read") == ("look: sheet read",)
    doses = {ask.dose for kernel in made for ask in kernel.asks} - {0}
    assert doses == {1}
    assert (SMALL.strict, SMALL.extended) == (1, 1), "limits may be equal: a dose fills both"
    assert SMALL.running == 2, "a second dose fits the running limit alone"


@pytest.mark.parametrize("name", ["fluid_in", "trip stub", "after", "tier", "secured"])
def test_the_lies_that_are_named_are_those_that_a_search_tells(name: str) -> None:
    observer = OBSERVERS[name]
    kernel = false_report_kernel(observer)
    search(kernel, {kernel.monitor.name: lambda state: True}, cap=20_000)
    assert {world.false_report for world in kernel.worlds} - {""} == set(
        every_false_report(observer)
    )


def test_an_observer_that_an_invariant_does_not_need_is_not_what_it_rests_on() -> None:
    needs = next(m for m in MONITORS if all(s.facts != ("fluid_in",) for s in m.observers))
    idle = replace(
        needs,
        observers=(*needs.observers, FluidInObserver()),
        met=lambda now, event: needs.met(now[:-1], event),
    )
    assert relies_on(idle) == needs.observers


def test_a_lie_is_told_only_of_states_that_some_row_asks_for() -> None:
    asked = {s for row in INTERLOCKS if isinstance(row.allows, Is) for s in row.allows.states}
    assert asked <= PERMITTING
    assert Arrival.DRY in PERMITTING and Kit.NOT_WORN not in PERMITTING
    assert {state for states in FACTS.values() for state in states} > PERMITTING
