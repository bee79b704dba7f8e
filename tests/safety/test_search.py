"""The generic search, against counts and graphs worked out by hand."""

import pickle
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from inspect import signature
from typing import Any

import pytest
from steplatch.safety.verify.search import Model, SearchCapped, attractor, search, way_to

Cell = tuple[int, int]


@dataclass(frozen=True)
class Grid:
    """Walk right or up on a grid. By hand, for width w and height h, both from 0:

    states (w + 1)(h + 1); transitions right w(h + 1), up (w + 1)h.
    """

    width: int
    height: int

    def initial(self) -> Iterator[Cell]:
        yield 0, 0

    def actions(self, state: Cell) -> tuple[str, ...]:
        return ("right", "up")

    def step(self, state: Cell, action: str) -> Iterator[Cell]:
        x, y = state
        if action == "right" and x < self.width:
            yield x + 1, y
        if action == "up" and y < self.height:
            yield x, y + 1


@dataclass(frozen=True)
class Graph:
    """A graph written out: state -> action -> outcomes."""

    edges: dict[str, dict[str, tuple[str, ...]]]
    first: tuple[str, ...] = ("start",)

    def initial(self) -> tuple[str, ...]:
        return self.first

    def actions(self, state: str) -> tuple[str, ...]:
        return tuple(self.edges.get(state, {}))

    def step(self, state: str, action: str) -> tuple[str, ...]:
        return self.edges[state][action]


def test_states_and_transitions_of_a_grid_are_those_counted_by_hand() -> None:
    found = search(Grid(3, 2), {})
    assert (found.states, found.transitions) == (4 * 3, 3 * 3 + 4 * 2)
    assert found.proven


def test_a_breach_is_found_by_a_shortest_trace() -> None:
    found = search(Grid(3, 3), {"not in the corner": lambda cell: cell != (2, 1)})
    (breach,) = found.breaches
    assert breach.name == "not in the corner"
    assert breach.state == (2, 1)
    assert len(breach.trace) == 3
    assert not found.proven


def test_a_breached_state_is_not_gone_on_from() -> None:
    found = search(Grid(5, 0), {"left of 2": lambda cell: cell[0] < 2})
    assert found.states == 3


def test_an_initial_state_can_be_the_breach() -> None:
    (breach,) = search(Grid(1, 1), {"never": lambda cell: False}).breaches
    assert breach.trace == ()
    assert breach.state == (0, 0)


def test_each_property_is_reported_once_at_its_nearest_state() -> None:
    found = search(Grid(4, 0), {"under 3": lambda c: c[0] < 3, "under 3 too": lambda c: c[0] < 3})
    assert [b.state for b in found.breaches] == [(3, 0), (3, 0)]
    only = search(Grid(4, 4), {"under 2": lambda c: c[0] + c[1] < 2}, first_breach_only=True)
    assert len(only.breaches) == 1


def test_a_sometimes_property_that_never_comes_true_is_named() -> None:
    found = search(
        Grid(2, 0),
        {},
        {
            "goes right": lambda before, action, after: action == "right",
            "goes up": lambda before, action, after: action == "up",
        },
    )
    assert found.met == {"goes right"}
    assert found.missed == ("goes up",)
    assert not found.proven


def test_an_action_with_several_outcomes_follows_each() -> None:
    found = search(Graph({"start": {"toss": ("heads", "tails")}}), {})
    assert (found.states, found.transitions) == (3, 2)


def test_the_same_initial_state_twice_is_one_state() -> None:
    assert search(Graph({}, ("start", "start")), {}).states == 1


def test_the_first_breach_alone_is_enough_where_that_is_asked_and_only_there() -> None:
    beyond = {"left of 2": lambda c: c[0] < 2, "below 3": lambda c: c[1] < 3}
    assert {b.name for b in search(Grid(4, 4), beyond).breaches} == set(beyond)
    first = search(Grid(4, 4), beyond, first_breach_only=True)
    assert [b.name for b in first.breaches] == ["left of 2"]
    assert first.states < search(Grid(4, 4), beyond).states


def test_what_comes_after_a_breached_state_in_line_is_still_gone_on_from() -> None:
    graph = Graph({"start": {"go": ("bad", "good")}, "good": {"on": ("end",)}})
    assert search(graph, {"never bad": lambda state: state != "bad"}).states == 4


def test_a_model_just_as_large_as_the_cap_is_searched_whole() -> None:
    assert search(Grid(3, 2), {}, cap=12).states == 12
    for capped in (11, 1):
        with pytest.raises(SearchCapped):
            search(Grid(3, 2), {}, cap=capped)


def test_no_search_passes_a_million_states_unless_it_is_told_to() -> None:
    assert signature(search).parameters["cap"].default == 1_000_000


def test_a_model_beyond_the_cap_fails_loudly() -> None:
    with pytest.raises(SearchCapped, match="more than 10 states") as caught:
        search(Grid(10, 10), {}, cap=10)
    assert caught.value.cap == 10


def test_a_capped_search_comes_out_of_another_process_as_it_is() -> None:
    capped = pickle.loads(pickle.dumps(SearchCapped(50, 70, "hose")))
    assert (capped.cap, capped.transitions, capped.what) == (50, 70, "hose")
    assert str(capped) == (
        "more than 50 states in the search of 'hose' after 70 transitions: nothing is proven. "
        "Make the model smaller, or raise the cap knowingly."
    )


def out_of_reach(
    model: Model[Any, Any], goal: Callable[[Any], bool], ours: Callable[[Any], bool] = bool
) -> set[Any]:
    """The reachable states of a model from which its goal cannot be forced by what is ours."""
    order = list(dict.fromkeys(model.initial()))
    choices: list[tuple[int, set[int]]] = []
    for at, state in enumerate(order):
        for action in model.actions(state):
            outcomes = list(model.step(state, action))
            order += [s for s in dict.fromkeys(outcomes) if s not in order]
            if outcomes and ours(action):
                choices.append((at, {order.index(s) for s in outcomes}))
    forced = attractor((n for n, s in enumerate(order) if goal(s)), choices)
    return {s for n, s in enumerate(order) if n not in forced}


@dataclass(frozen=True)
class Bench:
    """An engine with at most two shots of fluid in: (what it does, shots in).

    Worked out by hand. It may be started only dry, and is then stopped or stalls at once; a
    spray, with the engine stopped, puts in one shot, or two when it was empty and nobody
    counted; a drain takes all out.

    ============ ========================= ============================ ===========
    state        act                       leads to                     transitions
    ============ ========================= ============================ ===========
    stopped, 0   spray                     stopped 1; stopped 2         2
    stopped, 0   start                     idling 0; stopped 0 (stall)  2
    stopped, 1   spray                     stopped 2                    1
    stopped, 1   drain                     stopped 0                    1
    stopped, 2   drain                     stopped 0                    1
    idling, 0    stop                      stopped 0                    1
    ============ ========================= ============================ ===========

    So 4 states and 8 transitions; never idling with fluid in. 'Idling' cannot be forced from
    any of the 3 stopped states (a start may stall for ever); 'stopped, 0' can, from all 4.
    """

    def initial(self) -> Iterator[tuple[str, int]]:
        yield "stopped", 0

    def actions(self, state: tuple[str, int]) -> tuple[str, ...]:
        return ("spray", "start", "drain", "stop")

    def step(self, state: tuple[str, int], action: str) -> list[tuple[str, int]]:
        match action, state:
            case "spray", ("stopped", 0):
                return [("stopped", 1), ("stopped", 2)]
            case "spray", ("stopped", 1):
                return [("stopped", 2)]
            case "start", ("stopped", 0):
                return [("idling", 0), ("stopped", 0)]
            case ("drain", ("stopped", 1 | 2)) | ("stop", ("idling", 0)):
                return [("stopped", 0)]
        return []


def test_a_small_bench_has_the_states_edges_properties_and_ends_worked_out_by_hand() -> None:
    found = search(
        Bench(),
        {"dry while idling": lambda state: state[0] == "stopped" or state[1] == 0},
        {
            "a stall": lambda before, action, after: action == "start" and after[0] == "stopped",
            "two shots at once": lambda before, action, after: after[1] - before[1] == 2,
        },
    )
    assert (found.states, found.transitions) == (4, 8)
    assert found.proven
    assert search(Bench(), {"never 2": lambda state: state[1] < 2}).breaches[0].trace == (
        ("spray", ("stopped", 2)),
    )
    assert len(out_of_reach(Bench(), lambda s: s[0] == "idling")) == 3
    assert out_of_reach(Bench(), lambda s: s == ("stopped", 0)) == set()


WORKSHOP = Graph(
    {
        # drying may take a while, but it can always be repeated; cranking may lock
        "start": {"dry": ("dry", "start still wet"), "crank": ("running", "locked")},
        "start still wet": {"dry again": ("dry",)},
        "dry": {"crank": ("running",)},
        "running": {},
        "locked": {},
    }
)
"""By hand: running is a goal. dry is safe (its crank has one outcome). 'start still wet' is
safe by 'dry again'. start is safe by 'dry', whose both outcomes are safe, though its 'crank'
may lock. locked is not safe."""


def test_a_goal_is_reachable_where_one_act_of_ours_has_only_safe_outcomes() -> None:
    assert out_of_reach(WORKSHOP, lambda s: s == "running") == {"locked"}


def test_a_goal_that_only_the_world_can_bring_is_out_of_reach() -> None:
    out = out_of_reach(WORKSHOP, lambda s: s == "running", lambda action: action != "dry again")
    assert out == {"start", "start still wet", "locked"}


def test_a_circle_that_may_never_end_is_no_way_to_the_goal() -> None:
    spin = Graph({"start": {"try": ("start", "goal")}})
    assert out_of_reach(spin, lambda s: s == "goal") == {"start"}


def test_one_of_two_acts_with_the_same_outcome_is_enough() -> None:
    twice = Graph({"start": {"left": ("goal",), "right": ("goal",)}})
    assert out_of_reach(twice, lambda s: s == "goal") == set()


def test_with_one_outcome_a_choice_the_attractor_is_all_from_which_a_goal_is_in_reach() -> None:
    assert attractor([3], [(0, (1,)), (1, (3,)), (2, (4,)), (1, (2,))]) == {0, 1, 3}
    assert attractor([], [(0, (1,))]) == set()


def test_the_way_to_a_state_is_told_from_the_initial_state_on() -> None:
    came = [None, (0, "go"), (1, "on"), None]
    assert way_to(2, came) == [(0, "go", 1), (1, "on", 2)]
    assert way_to(3, came) == []


@dataclass(frozen=True)
class Dial:
    """A number that goes up by one or doubles, modulo a size: two transitions a state."""

    size: int

    def initial(self) -> tuple[int, ...]:
        return (0,)

    def actions(self, state: int) -> tuple[int, ...]:
        return (0, 1)

    def step(self, state: int, action: int) -> tuple[int, ...]:
        return ((state + 1 if action else state * 2) % self.size,)


def test_a_simple_model_is_searched_at_100_000_transitions_a_second_or_better() -> None:
    best = 0.0
    for _ in range(3):
        begun = time.process_time()
        found = search(Dial(50_000), {"small": lambda state: state < 50_000})
        best = max(best, found.transitions / (time.process_time() - begun))
    assert found.transitions == 100_000
    assert best >= 100_000
