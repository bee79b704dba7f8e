"""Where the two ends are in reach: backward fixpoints over the graph of a search.

**Fairness.** An answer that leaves the job at its step is taken to be asked again: nobody
answers so for ever. The states that it leads to are judged all the same.
"""

from collections import deque
from collections.abc import Iterator, Sequence

from steplatch.safety.verify.search import attractor, way_to

from ..core.tries import CAME_OUT
from .graph import MENDS, REFUSED, STAYS, Graph

Path = tuple[tuple[tuple[str, str], str], ...]
"""((procedure, step), what was said) for each move."""


def path_to(graph: Graph, number: int) -> Path:
    """A shortest way from the first state to a state."""
    return tuple(
        (graph.step_of(before), graph.tries[offer].said)
        for before, offer, _ in way_to(number, graph.came)
    )


def not_abandoned(graph: Graph) -> list[int]:
    """The states from which ``abandoned`` cannot be forced, whatever the answers.

    What people can do is a choice, and every answer to it must lead on; what happens by itself
    is never relied on.
    """
    count = len(graph.states)
    ended = [n for n in range(count) if graph.value(n, "ended")]
    ended += [state for state, _ in graph.breaches.values()]
    choices = (choice for number in range(count) for choice in _choices(graph, number))
    safe = attractor(ended, choices)
    return [n for n in range(count) if n not in safe]


def _choices(graph: Graph, number: int) -> Iterator[tuple[int, set[int]]]:
    """What people can do in a state, each with the states that the answers lead to."""
    outcomes: dict[str, set[int]] = {}
    for at, (t, after, how) in enumerate(graph.moves_from(number)):
        if not t.ours or how & REFUSED or (t.kind != CAME_OUT and t.kind and how & STAYS):
            continue
        outcomes.setdefault(t.kind or f"#{at}", set()).add(after)
    for after_all in outcomes.values():
        yield number, after_all


def not_finished(graph: Graph) -> list[int]:
    """The states from which ``finished`` is out of reach although it should not be: no terminal
    trip, not given up. Of these those in which the ways end.
    """
    count = len(graph.states)
    able = attractor(
        (n for n in range(count) if graph.value(n, "ended") == "finished"),
        (
            (number, (after,))
            for number in range(count)
            for t, after, how in graph.moves_from(number)
            if (t.ours and not how & REFUSED) or how & STAYS
        ),
    )
    broken = {state for state, _ in graph.breaches.values()}
    stuck = [
        n
        for n in range(count)
        if n not in able
        and n not in broken
        and graph.value(n, "procedure") not in graph.ends_here
        and not graph.value(n, "ended")
        and not any(trip.terminal for trip in graph.value(n, "trips"))
    ]
    return _traps(graph, stuck) if stuck else []


def _traps(graph: Graph, stuck: list[int]) -> list[int]:
    """Where the ways through stuck states end: of each set of them that is not left again
    (a sink among the strongly connected components) those whose step is refused, or the first.
    """
    number = {state: at for at, state in enumerate(stuck)}
    leads = [
        [
            number[after]
            for t, after, how in graph.moves_from(state)
            if after in number and t.ours and not how & REFUSED
        ]
        for state in stuck
    ]
    part = strong_parts(leads)
    left = {part[one] for one, others in enumerate(leads) for o in others if part[one] != part[o]}
    trapped: dict[int, list[int]] = {}
    for state in stuck:
        if part[number[state]] not in left:
            trapped.setdefault(part[number[state]], []).append(state)
    return [
        state
        for states in trapped.values()
        for state in ([s for s in states if s in graph.refused_at] or states[:1])
    ]


def strong_parts(leads: Sequence[Sequence[int]]) -> list[int]:
    """The strongly connected component of each node, as a number, given where each one leads.

    R. Tarjan, "Depth-first search and linear graph algorithms", SIAM J. Comput. 1 (1972) 146,
    with its own stack.
    """
    size = len(leads)
    part, order, lowest = [-1] * size, [-1] * size, [0] * size
    open_nodes: list[int] = []
    met = parts = 0
    for root in range(size):
        if order[root] >= 0:
            continue
        way = [(root, iter(leads[root]))]
        order[root] = lowest[root] = met
        met += 1
        open_nodes.append(root)
        while way:
            node, rest = way[-1]
            for other in rest:
                if order[other] < 0:
                    order[other] = lowest[other] = met
                    met += 1
                    open_nodes.append(other)
                    way.append((other, iter(leads[other])))
                    break
                if part[other] < 0:
                    lowest[node] = min(lowest[node], order[other])
            else:
                way.pop()
                if way:
                    lowest[way[-1][0]] = min(lowest[way[-1][0]], lowest[node])
                if lowest[node] == order[node]:
                    while part[node] < 0:
                        part[open_nodes.pop()] = parts
                    parts += 1
    return part


def refused_though_well(graph: Graph) -> Iterator[tuple[int, Path]]:
    """(state, way) for each state whose step is refused on a way that needed no mending."""
    came: dict[int, tuple[int, str] | None] = {0: None}
    order = deque(came)
    while order:
        number = order.popleft()
        if number in graph.refused_at:
            way = way_to(number, came)
            yield number, tuple((graph.step_of(before), said) for before, said, _ in way)
        procedure = graph.value(number, "procedure")
        for t, after, how in graph.moves_from(number):
            if how & MENDS or graph.value(after, "procedure") != procedure or after in came:
                continue
            came[after] = (number, t.said)
            order.append(after)
