"""The generic search, against counts and graphs worked out by hand."""

import time
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from safety.search import SearchCapped, reachable_whatever, search

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


def test_a_model_beyond_the_cap_fails_loudly() -> None:
    with pytest.raises(SearchCapped, match="more than 10 states") as caught:
        search(Grid(10, 10), {}, cap=10)
    assert caught.value.cap == 10
    with pytest.raises(SearchCapped):
        reachable_whatever(Grid(10, 10), lambda cell: True, lambda action: True, cap=10)


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
    out = reachable_whatever(WORKSHOP, lambda s: s == "running", lambda a: True)
    assert [b.state for b in out] == ["locked"]
    assert out[0].trace == (("crank", "locked"),)


def test_a_goal_that_only_the_world_can_bring_is_out_of_reach() -> None:
    out = reachable_whatever(
        WORKSHOP, lambda s: s == "running", lambda action: action != "dry again"
    )
    assert {b.state for b in out} == {"start", "start still wet", "locked"}


def test_a_circle_that_may_never_end_is_no_way_to_the_goal() -> None:
    spin = Graph({"start": {"try": ("start", "goal")}})
    assert [b.state for b in reachable_whatever(spin, lambda s: s == "goal", lambda a: True)] == [
        "start"
    ]


def test_one_of_two_acts_with_the_same_outcome_is_enough() -> None:
    twice = Graph({"start": {"left": ("goal",), "right": ("goal",)}})
    assert reachable_whatever(twice, lambda s: s == "goal", lambda a: True) == ()


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
