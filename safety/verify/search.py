"""Search over every state that a small model can reach, and the fixpoint over what was found.

A model is initial states, the actions that are possible in a state, and the states that
an action may lead to: one, or several when the world chooses. Whole states are stored, no
fingerprints, so nothing is missed by chance. The search goes breadth first, so the trace
to a breach is a shortest one.

*Always* properties must hold in every state. *Sometimes* properties must be met by at least
one transition: a model in which nothing happens passes every always.
"""

from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from ..catalogue import _

S = TypeVar("S", bound=Hashable)
A = TypeVar("A")


class Model(Protocol[S, A]):
    """What is searched. All three must be pure."""

    def initial(self) -> Iterable[S]:
        """The states in which it may begin."""

    def actions(self, state: S) -> Iterable[A]:
        """What may be tried in ``state``."""

    def step(self, state: S, action: A) -> Iterable[S]:
        """The states that ``action`` may lead to; none when it does nothing here."""


class SearchCapped(Exception):  # noqa: N818 - says what happened, like StopIteration
    """The model (``what``, where it has a name) has more states than the cap allows."""

    def __init__(self, cap: int, transitions: int, what: str = "") -> None:
        super().__init__(
            _("more than {cap} states", cap=cap)
            + (_(" in the search of '{what}'", what=what) if what else "")
            + _(
                " after {transitions} transitions: nothing is proven. Make the model "
                "smaller, or raise the cap knowingly.",
                transitions=transitions,
            )
        )
        self.cap = cap
        self.transitions = transitions
        self.what = what

    def __reduce__(self) -> tuple[type["SearchCapped"], tuple[int, int, str]]:
        """Lets it come out of another process as it is."""
        return SearchCapped, (self.cap, self.transitions, self.what)


@dataclass(frozen=True, slots=True)
class Breach(Generic[S, A]):
    """An always-property that does not hold, with a shortest way to a state that shows it.

    ``trace`` holds (action, state after it); ``start`` is the initial state.
    """

    name: str
    start: S
    trace: tuple[tuple[A, S], ...]

    @property
    def state(self) -> S:
        """The state in which the property does not hold."""
        return self.trace[-1][1] if self.trace else self.start


@dataclass(frozen=True, slots=True)
class SearchResult(Generic[S, A]):
    """What a search found. ``missed`` are the sometimes-properties that were never met."""

    states: int
    transitions: int
    breaches: tuple[Breach[S, A], ...]
    met: frozenset[str]
    missed: tuple[str, ...]

    @property
    def proven(self) -> bool:
        """True when every always holds and every sometimes was met."""
        return not self.breaches and not self.missed


Always = Mapping[str, Callable[[S], bool]]
Sometimes = Mapping[str, Callable[[S, A, S], bool]]


def search(
    model: Model[S, A],
    always: Always[S],
    sometimes: Sometimes[S, A] | None = None,
    *,
    cap: int = 1_000_000,
    first_breach_only: bool = False,
) -> SearchResult[S, A]:
    """Visit every reachable state; judge each against ``always``, each step by ``sometimes``.

    A state that breaks a property is reported (once a property, at its nearest) and not
    gone on from. A transition is one (state, action, state after) that the model gives.

    Raises:
        SearchCapped: more than ``cap`` states.
    """
    number: dict[S, int] = {}
    order: list[S] = []
    came: list[tuple[int, A] | None] = []
    broken: dict[str, int] = {}
    open_sometimes = dict(sometimes or {})
    transitions = 0

    def enter(state: S, by: tuple[int, A] | None) -> None:
        number[state] = len(order)
        order.append(state)
        came.append(by)
        if len(order) > cap:
            raise SearchCapped(cap, transitions)

    for first in model.initial():
        if first not in number:
            enter(first, None)
    at = 0
    while at < len(order):
        state = order[at]
        failed = [name for name, holds in always.items() if not holds(state)]
        if failed:
            for name in failed:
                broken.setdefault(name, at)
            if first_breach_only:
                break
            at += 1
            continue
        for action in model.actions(state):
            for after in model.step(state, action):
                transitions += 1
                if after not in number:
                    enter(after, (at, action))
                if open_sometimes:
                    now = [n for n, met in open_sometimes.items() if met(state, action, after)]
                    for name in now:
                        del open_sometimes[name]
        at += 1
    breaches = tuple(_trace(name, where, order, came) for name, where in broken.items())
    met = frozenset(sometimes or {}) - frozenset(open_sometimes)
    return SearchResult(len(order), transitions, breaches, met, tuple(open_sometimes))


def _trace(name: str, where: int, order: list[S], came: list[tuple[int, A] | None]) -> Breach[S, A]:
    steps = way_to(where, came)
    start = steps[0][0] if steps else where
    return Breach(name, order[start], tuple((action, order[after]) for _, action, after in steps))


def way_to(
    state: int, came: Sequence[tuple[int, A] | None] | Mapping[int, tuple[int, A] | None]
) -> list[tuple[int, A, int]]:
    """The steps (state before, action, state after) from an initial state to ``state``.

    ``came`` says of each state by which state and action it was found; None: it is initial.
    """
    steps: list[tuple[int, A, int]] = []
    while (by := came[state]) is not None:
        steps.append((*by, state))
        state = by[0]
    steps.reverse()
    return steps


def attractor(goals: Iterable[int], choices: Iterable[tuple[int, Collection[int]]]) -> set[int]:
    """The states from which a goal can be forced: the least backward AND-OR fixpoint.

    A state belongs to it when it is a goal, or when it has a choice *every* outcome of which
    belongs to it. ``choices`` are (state, its outcomes, at least one); where each has one outcome
    this is plain backward reachability.
    """
    owner: list[int] = []
    open_outcomes: list[int] = []
    feeds: dict[int, list[int]] = {}
    for number, (state, outcomes) in enumerate(choices):
        owner.append(state)
        distinct = frozenset(outcomes)
        open_outcomes.append(len(distinct))
        for outcome in distinct:
            feeds.setdefault(outcome, []).append(number)
    found = set(goals)
    work = list(found)
    while work:
        for choice in feeds.get(work.pop(), ()):
            open_outcomes[choice] -= 1
            if not open_outcomes[choice] and owner[choice] not in found:
                found.add(owner[choice])
                work.append(owner[choice])
    return found
