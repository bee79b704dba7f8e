"""How the kernel model remembers: nothing is asked twice, and nothing is mistaken for another."""

from collections import Counter
from collections.abc import Callable, Hashable, Iterator
from typing import Any

import pytest
from steplatch.safety.bay import FACTS, Act, Bay
from steplatch.safety.kernel import Tripped
from steplatch.safety.occurrences import Happening
from steplatch.safety.plant.environment import EnvironmentTransitions, Transition
from steplatch.safety.plant.truth import PlantState
from steplatch.safety.verify import kernel_model
from steplatch.safety.verify.alarms import alarm_monitors
from steplatch.safety.verify.kernel_model import DOSES, LIMITS, Kernel
from steplatch.safety.verify.kernel_proof import ObserverMonitor
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.observer_machines import LedgerObserver
from steplatch.safety.verify.observers import HOSE, MUCH_DML, Observer
from steplatch.safety.verify.search import search

from tests.safety.false_reports import FalseReportTransitions

H = Happening
OBSERVERS: dict[str, Observer] = {
    "+".join(observer.facts): observer
    for needs in need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
    for observer in needs.observers
}
ASKED: Counter[tuple[object, ...]] = Counter()


class Noted(EnvironmentTransitions):
    """Transitions that note what is asked of them."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        ASKED["of", act, world] += 1
        return super().of(act, world)

    def lapsed(self, fact: str, world: PlantState) -> Transition:
        ASKED["lapsed", fact, world] += 1
        return super().lapsed(fact, world)


def noting(name: str, asked: Callable[..., Any]) -> Callable[..., Any]:
    def note(*by: Any) -> Any:
        if not (name == "apply" and isinstance(by[1], Tripped)):
            ASKED[name, *by] += 1
        return asked(*by)

    return note


@pytest.mark.parametrize("name", ["gun", "trip stub", "sheet"])
def test_rows_effects_and_transitions_are_each_asked_once(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    ASKED.clear()
    for what in ("permit", "apply", "trips", "asked", "_in_columns", "project"):
        monkeypatch.setattr(kernel_model, what, noting(what, getattr(kernel_model, what)))
    observer = OBSERVERS[name]
    kernel = Kernel(ObserverMonitor(observer), observer.facts, transitions=Noted)
    kinds = ("permit", "apply", "trips", "asked", "_in_columns", "of", "lapsed", "project")
    found = search(kernel, {"all": lambda state: True})
    assert found.proven
    asked = {kind: [n for (k, *_), n in ASKED.items() if k == kind] for kind in kinds}
    assert {kind: max(counts, default=1) for kind, counts in asked.items()} == dict.fromkeys(
        kinds, 1
    )
    assert len(asked["permit"]) <= len(kernel.bays) * len(kernel.asks)
    assert len(asked["project"]) == len(kernel.bays)
    for numbered in (kernel.bays, kernel.worlds, kernel.truths, kernel.accounts):
        assert len(set(numbered)) == len(numbered)


def test_the_monitor_is_asked_once_for_an_account_and_what_truly_happened() -> None:
    taken: Counter[tuple[Hashable, ...]] = Counter()
    beyond: list[Hashable] = []

    class Noting(ObserverMonitor):
        def step(self, now: Hashable, event: Any) -> tuple[Hashable, None]:
            if event == ("over",):
                taken[now, *beyond] += 1
                beyond.clear()
            elif event[0] != "arrived":
                beyond.extend((now, event))
            return super().step(now, event)

    kernel = Kernel(Noting(HOSE), HOSE.facts)
    search(kernel, {"all": lambda state: True})
    assert taken and max(taken.values()) == 1


def test_the_moves_of_a_state_are_worked_out_once_whatever_the_account() -> None:
    kernel = Kernel(ObserverMonitor(HOSE), HOSE.facts)
    state = next(iter(kernel.initial()))
    bay, world, account, breach = state
    moves = kernel.actions(state)
    assert moves
    assert kernel.actions((bay, world, account + 1, breach)) is moves


def test_a_job_begins_with_nothing_known_and_a_vehicle_dry_or_with_any_amount_in() -> None:
    kernel = Kernel(ObserverMonitor(LedgerObserver()), ("wet",))
    begun = [
        (kernel.bays[bay].wet, kernel.worlds[world].arrived_dry, kernel.accounts[account], said)
        for bay, world, account, said in kernel.initial()
    ]
    dry, full = (0, "", ""), (MUCH_DML, "", "")
    assert set(begun) == {(None, True, dry, ""), (None, False, full, "")}
    assert kernel.bays == [Bay()], "a bay is numbered once"


def test_what_is_tracked_of_the_world_can_be_less_than_what_is_kept() -> None:
    def worlds(**asked: Any) -> set[str]:
        kernel = Kernel(ObserverMonitor(HOSE), HOSE.facts, **asked)
        return {kernel.worlds[state[1]].hose for state in kernel.initial()}

    assert worlds() == {"on", "off"}
    assert worlds(tracked=()) == {"?"}


def test_a_move_says_all_that_may_truly_happen_and_ends_the_moment() -> None:
    kernel = Kernel(ObserverMonitor(HOSE), HOSE.facts)
    found = search(kernel, {"all": lambda state: True})
    assert found.proven
    seen: set[tuple[Any, ...]] = set()
    for at, world in [(0, 0), (0, 1)]:
        for move in kernel.actions((at, world, 0, "")):
            happened = list(kernel.happened(move))
            seen.update(happened)
            truths = [kernel.truths[truth] for _, _, truth in move[1]]
            assert happened == [event for truth in truths for event in truth]
            assert all(truth == () or truth[-1] == ("over",) for truth in truths)
    assert {("begin", "take_hose_off", 0, True), ("over",), ("seen", "hose", "on")} <= seen


def test_an_alarm_is_raised_in_the_moment_of_the_loss_and_before_it_is_over() -> None:
    secured = next(alarm for alarm in alarm_monitors() if alarm.name == "alarm-secured")
    kernel = Kernel(secured, secured.facts, doses=(1,))
    assert search(kernel, {"all": lambda state: not state[3]}, cap=10_000).proven
    alarm = ("tripped", "unattended")
    raised = [truth for truth in kernel.truths if alarm in truth]
    assert raised
    assert all(truth[-1] == ("over",) and truth.count(("over",)) == 1 for truth in raised)
    assert (("doubt", "secured"), alarm, ("over",)) in raised
    assert (("seen", "secured", "part"), alarm, ("over",)) in raised


def test_what_keeps_every_kept_fact_is_left_out_though_it_moves_one_that_is_not_kept() -> None:
    kernel = Kernel(ObserverMonitor(HOSE), {*FACTS} - {"soak"})
    assert not {H.SOAK_BEGUN, H.SOAK_DUE} & {*kernel.happenings}
    assert {H.HOSE_OFF, H.ZERO_OUT, H.GUN_LOADED} < {*kernel.happenings}
    assert {H.SOAK_BEGUN, H.SOAK_DUE} < {*Kernel(ObserverMonitor(HOSE), FACTS).happenings}


def test_what_nobody_says_leaves_the_tool_with_what_it_believed() -> None:
    observer = OBSERVERS["trip stub"]
    kernel = Kernel(ObserverMonitor(observer), observer.facts, transitions=FalseReportTransitions)
    for state in list(kernel.initial()):
        outcomes = dict(kernel.actions(state))["silence: stub_snapped"]
        assert {bay for bay, _, _ in outcomes} == {state[0]}
        assert all(kernel.worlds[world].false_report for _, world, _ in outcomes)


def test_the_small_limits_are_one_apart_and_a_dose_stands_at_each() -> None:
    # sums and comparisons alone meet them: one below, at and one above each come about
    assert (LIMITS.strict, LIMITS.extended, LIMITS.running) == (1, 2, 3)
    assert DOSES == (1, 2, 3)


def test_an_alarm_is_raised_at_each_of_the_ends_that_a_happening_may_have() -> None:
    controls = next(alarm for alarm in alarm_monitors() if alarm.name == "alarm-controls")
    kernel = Kernel(controls, (*controls.facts, "hands"), doses=(1,))
    state = next(s for s in kernel.initial() if kernel.worlds[s[1]].engine == "idling")
    for said in ("seen: engine idling", "seen: crew pair", "seen: controls other"):
        (state,) = kernel.step(state, next(m for m in kernel.actions(state) if m[0] == said))
    hurt = next(move for move in kernel.actions(state) if move[0] == "person_hurt")
    ends = [(kernel.worlds[world].hands, kernel.truths[truth]) for _, world, truth in hurt[1]]
    truth = (("did", "person_hurt", 0), ("tripped", "unattended"), ("over",))
    assert len(ends) > 1 and {hands for hands, _ in ends} == {"clear", "in"}
    assert {told for _, told in ends} == {truth}
    assert [after[3] for after in kernel.step(state, hurt)] == [""] * len(ends)
