"""How many states and transitions the kernel proof visits, each number pinned, and some of them
counted a second time in the plainest way: sets of whole bays, worlds and accounts, nothing
numbered, nothing remembered, each move through the real ``permit``, ``apply`` and ``trips``.
"""

from collections.abc import Iterator

import pytest
from steplatch.safety.bay import Bay, Rate, Trip
from steplatch.safety.checks import moved_on
from steplatch.safety.kernel import BayEvent, Lapsed, Tripped, apply, permit, trips
from steplatch.safety.plant.environment import LASTING, Transition, asked
from steplatch.safety.plant.truth import PlantState
from steplatch.safety.verify.cone_of_influence import latch, project
from steplatch.safety.verify.kernel_model import LIMITS, Kernel
from steplatch.safety.verify.kernel_proof import (
    ObserverMonitor,
    never_believed,
    never_permitted,
    prove_belief,
)
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observers import Observer, PlantEvent

from tests.each import each

NEEDS = need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
OBSERVERS: dict[str, Observer] = {
    "+".join(observer.facts): observer for monitor in NEEDS for observer in monitor.observers
}
COUNTS: dict[str, tuple[int, int]] = {
    "after": (74, 548),
    "agreed": (88, 1_392),
    "agreed+fluid_check": (308, 6_580),
    "bar": (122, 2_100),
    "before": (62, 604),
    "burning": (150, 2_900),
    "coating": (110, 1_892),
    "codes": (170, 2_670),
    "codes+release_check": (2_682, 60_870),
    "controls": (616, 16_174),
    "crew": (88, 1_658),
    "crew+controls": (484, 12_446),
    "crew+fluid_check": (308, 6_770),
    "crew+start_check": (4_196, 106_338),
    "driver": (66, 1_206),
    "engine": (214, 3_406),
    "engine+release_check": (2_054, 42_630),
    "engine+start_check": (1_086, 22_516),
    "flash": (66, 1_166),
    "fluid_in": (38, 376),
    "foul": (88, 1_392),
    "fuel": (66, 984),
    "fumes": (158, 3_734),
    "gun": (126, 2_576),
    "gun+release_check": (1_546, 38_464),
    "gun+start_check": (5_964, 163_882),
    "hand_turn": (976, 15_216),
    "hands": (210, 4_090),
    "hose": (140, 2_264),
    "hose+release_check": (1_740, 39_164),
    "hose+start_check": (6_260, 163_064),
    "identity": (66, 984),
    "identity+fluid_check": (242, 4_932),
    "idle": (950, 17_966),
    "inspection": (1_358, 28_652),
    "key": (316, 7_944),
    "kit": (88, 2_034),
    "lift": (142, 3_268),
    "line": (4_312, 128_632),
    "low_loop": (88, 1_416),
    "oil": (182, 3_390),
    "port": (1_330, 28_480),
    "rate": (116, 2_386),
    "reach": (66, 1_214),
    "recovery": (252, 6_090),
    "release_check": (326, 5_958),
    "road": (262, 5_774),
    "run_on": (1_668, 31_364),
    "secured": (90, 1_768),
    "sensor": (142, 2_368),
    "sheet": (66, 1_166),
    "sheet+fluid_check": (242, 5_064),
    "soak": (146, 2_438),
    "soak+start_check": (4_374, 96_530),
    "spill": (66, 1_304),
    "start_tried": (140, 1_776),
    "starter": (146, 2_872),
    "stop_start": (950, 17_982),
    "tag": (350, 6_050),
    "tier": (88, 1_440),
    "tier+fluid_check": (308, 6_676),
    "touch": (1_330, 28_612),
    "triage": (110, 1_868),
    "triage+fluid_check": (374, 8_408),
    "trigger": (78, 1_238),
    "trip fire": (32, 350),
    "trip fumes": (32, 350),
    "trip hard_turn": (32, 310),
    "trip injury": (32, 350),
    "trip over_ceiling": (44, 574),
    "trip overdose": (79_764, 2_008_892),
    "trip runaway": (32, 350),
    "trip self_started": (44, 574),
    "trip spill": (32, 352),
    "trip stalled": (34, 814),
    "trip stub": (60, 638),
    "trip uneven_crank": (28, 298),
    "wet": (112_642, 2_883_412),
}
"""States and transitions of each search of ``check --kernel``, as the rows and effects stand.

Whoever changes a row or an effect changes some of them, and sees here how far the change reaches.
"""

SLOW = frozenset({"wet", "trip overdose"})
COUNTED_TWICE = (
    "sheet",
    "gun",
    "fluid_in",
    "trip stub",
    "trip stalled",
    "trip uneven_crank",
)


def test_every_observer_of_a_monitor_has_its_pinned_counts() -> None:
    assert set(COUNTS) == set(OBSERVERS)


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=[pytest.mark.slow] if n in SLOW else []) for n in sorted(OBSERVERS)],
)
def test_a_search_visits_exactly_the_pinned_states_and_transitions_and_is_not_empty(
    name: str,
) -> None:
    kernel, found = prove_belief(OBSERVERS[name])
    assert found.proven
    assert (found.states, found.transitions) == COUNTS[name]
    assert never_believed(kernel, OBSERVERS[name]) == ()


@each("needs", NEEDS, ids=lambda needs: needs.name)
def test_every_act_of_a_monitor_is_permitted_under_some_belief(needs: Needs) -> None:
    assert never_permitted(needs) == ()


# -- the second count ---------------------------------------------------------------------------

Whole = tuple[Bay, PlantState, object]


def counted_plainly(observer: Observer) -> tuple[int, int]:
    kernel = Kernel(ObserverMonitor(observer), observer.facts)
    first = {
        (kernel.bays[bay], kernel.worlds[world], kernel.accounts[account])
        for bay, world, account, _ in kernel.initial()
    }
    states: set[Whole] = set(first)
    waiting: list[Whole] = list(first)
    transitions = 0
    while waiting:
        bay, world, account = waiting.pop()
        for _, ends in transitions_open(kernel, bay, world):
            outcomes: set[tuple[Bay, PlantState, tuple[PlantEvent, ...]]] = set()
            for event, world_after, truth in ends:
                now, alarms = told_to(kernel, bay, event)
                happened = (*truth, *alarms, ("over",)) if truth or alarms else ()
                if happened or now != bay or world_after != world:
                    outcomes.add((now, world_after, happened))
            for now, world_after, happened in outcomes:
                transitions += 1
                after = account
                for event_of_truth in happened:
                    after = observer.after(after, event_of_truth)
                state = now, world_after, after
                if state not in states:
                    states.add(state)
                    waiting.append(state)
    return len(states), transitions


def transitions_open(kernel: Kernel, bay: Bay, world: PlantState) -> Iterator[Transition]:
    if bay.permit is None:
        for ask in kernel.asks:
            if not permit(bay, ask, kernel.limits, kernel.rows):
                yield asked(ask, bay.rate is Rate.LOADED, world)
    yield from kernel.transitions.of(bay.permit, world)
    for fact in kernel.facts:
        if fact not in LASTING and bay.knows(fact):
            yield kernel.transitions.lapsed(fact, world)


def told_to(
    kernel: Kernel, bay: Bay, event: BayEvent | None
) -> tuple[Bay, tuple[tuple[str, str], ...]]:
    if event is None:
        return bay, ()
    now = apply(bay, event)
    alarms: list[Trip] = []
    for trip in trips(bay, event, now, kernel.limits):
        if latch(trip) in kernel.kept:
            now = apply(now, Tripped(trip))
            alarms.append(trip)
    now = project(now, kernel.kept)
    for check in moved_on(bay, now):
        now = apply(now, Lapsed(check))
    return now, tuple(("tripped", trip.value) for trip in alarms)


@pytest.mark.parametrize("name", COUNTED_TWICE)
def test_a_plain_count_of_whole_states_comes_to_the_same(name: str) -> None:
    assert counted_plainly(OBSERVERS[name]) == COUNTS[name]


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(set(OBSERVERS) - SLOW - {*COUNTED_TWICE}))
def test_a_plain_count_of_every_observer_but_the_ledger_comes_to_the_same(name: str) -> None:
    assert counted_plainly(OBSERVERS[name]) == COUNTS[name]
