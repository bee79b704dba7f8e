"""What a search found wrong, in the apprentice's words: step, file and line, shortest trace."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from steplatch.safety.bay import FluidIn, Trip
from steplatch.safety.catalogue import _

from ..core.plan import Plan
from .graph import Graph
from .properties import PROPERTIES
from .reachability import (
    Path,
    not_abandoned,
    not_finished,
    path_to,
    refused_though_well,
)

PlaceOfStep = Callable[[str, str], str]
"""File and line of a step, by the ids of its procedure and itself."""

_USED_UP = frozenset({"spray-off-ledger", "spray-running-ledger"})
"""A spray is refused by these when its dose is in: as it should be."""


@dataclass(frozen=True, slots=True)
class TraceLine:
    """One line of a trace: the step, where it stands, and what was done or answered."""

    procedure: str
    step: str
    place: str
    said: str

    def __str__(self) -> str:
        """As the apprentice reads it."""
        return f"{self.step} ({self.place}): {self.said}"


@dataclass(frozen=True, slots=True)
class Violation:
    """One thing that is wrong, with the shortest way to it.

    ``kind``: always, sometimes, refused, end, stop. ``name`` is the property or
    the interlock(s); ``step`` the step where it shows.
    """

    kind: str
    name: str
    step: str
    place: str
    said: str
    trace: tuple[TraceLine, ...] = ()


def not_connected(plan: Plan, places: PlaceOfStep) -> tuple[Violation, ...]:
    """Trips that no procedure answers, or more than one, and returns to a point that is not
    there."""
    found = []
    for trip in Trip:
        by = [procedure.id for procedure in plan.others.values() if trip in procedure.answers]
        if len(by) != 1:
            who = " and ".join(by) + _(" both answer") if by else _("no procedure answers")
            said = f"{who} {trip.value}"
            found.append(Violation("always", _("every trip answered"), "", plan.main.id, said))
    for procedure in plan.others.values():
        last = procedure.steps()[-1].id
        for key in procedure.missing_points(plan.main):
            target = getattr(procedure, key)
            said = _(
                "{id} returns to {target}, which {id_2} has not",
                id=procedure.id,
                target=target,
                id_2=plan.main.id,
            )
            place = places(procedure.id, last)
            found.append(Violation("always", _("return is a point"), last, place, said))
    return tuple(found)


def faults_of(
    graph: Graph, places: PlaceOfStep, *, mending: bool, giving_up: bool, finishing: bool
) -> tuple[Violation, ...]:
    """All that is wrong in a search. ``mending``: every refusal is a fault; ``giving_up``:
    ``abandoned`` must be in reach from everywhere; ``finishing``: ``finished`` too."""
    found = [*_always(graph, places), *_refused(graph, places)]
    if mending:
        found += _needs_mending(graph, places, {fault.step for fault in found})
    if giving_up:
        found += _ends(graph, places, "abandoned", not_abandoned(graph))
    if finishing:
        found += _ends(graph, places, "finished", not_finished(graph))
    for state in graph.stop_refused[:1]:
        procedure, step = graph.step_of(state)
        place = places(procedure, step)
        found.append(Violation("stop", "stop", step, place, _("stop was not accepted")))
    return tuple(found)


def _lines(path: Path, places: PlaceOfStep) -> tuple[TraceLine, ...]:
    return tuple(TraceLine(*here, places(*here), said) for here, said in path)


def _always(graph: Graph, places: PlaceOfStep) -> Iterator[Violation]:
    for rule in PROPERTIES:
        if rule.name not in graph.breaches:
            continue
        state, offer = graph.breaches[rule.name]
        here = graph.step_of(state)
        path = (*path_to(graph, state), (here, graph.tries[offer].said))
        yield Violation(
            "always", rule.name, here[1], places(*here), rule.broken, _lines(path, places)
        )


def _refused(graph: Graph, places: PlaceOfStep) -> Iterator[Violation]:
    for (procedure, step), (granted, refusals) in graph.asked.items():
        if granted or not refusals:
            continue
        common = frozenset.intersection(*refusals)
        rows = ", ".join(sorted(common or frozenset().union(*refusals)))
        place = places(procedure, step)
        said = _(
            "step {step} ({place}) is refused by interlock {rows} on every path",
            step=step,
            place=place,
            rows=rows,
        )
        first = next(n for n in graph.refused_at if graph.step_of(n) == (procedure, step))
        yield Violation("refused", rows, step, place, said, _lines(path_to(graph, first), places))


def _needs_mending(graph: Graph, places: PlaceOfStep, known: set[str]) -> Iterator[Violation]:
    for state, path in refused_though_well(graph):
        here = graph.step_of(state)
        rows = graph.refused_at[state]
        sprayed = graph.value(state, "fluid_in") is FluidIn.YES
        if here[1] in known or rows <= (_USED_UP | {"spray-rate"} if sprayed else _USED_UP):
            continue
        known.add(here[1])
        name, place = ", ".join(sorted(rows)), places(*here)
        said = _(
            "step {here} ({place}) is refused by interlock {name} though all went well",
            here=here[1],
            place=place,
            name=name,
        )
        yield Violation("refused", name, here[1], place, said, _lines(path, places))


def _ends(graph: Graph, places: PlaceOfStep, end: str, states: list[int]) -> Iterator[Violation]:
    shown: set[tuple[str, str]] = set()
    for state in states:
        here = graph.step_of(state)
        if here in shown:
            continue
        shown.add(here)
        said = _(
            "{end} cannot be reached from step {here} ({places})",
            end=end,
            here=here[1],
            places=places(*here),
        )
        path = _lines(path_to(graph, state), places)
        yield Violation("end", _("{end} in reach", end=end), here[1], places(*here), said, path)


def never_reached(
    reached: Iterable[tuple[str, str]], ended: Iterable[str], plan: Plan, places: PlaceOfStep
) -> list[Violation]:
    """The sometimes-properties over all searches of one procedure: every step is reached, and
    both ends."""
    reached, ended = frozenset(reached), frozenset(ended)
    found = []
    for procedure in plan.procedures:
        for step in procedure.steps():
            if (procedure.id, step.id) not in reached:
                place = places(procedure.id, step.id)
                said = _("step {id} ({place}) is never reached", id=step.id, place=place)
                found.append(Violation("sometimes", _("every step reached"), step.id, place, said))
    for how in ("finished", "abandoned"):
        if how not in ended:
            said = _("no path ends {how}", how=how)
            found.append(
                Violation("sometimes", _("{how} reached", how=how), "", plan.main.id, said)
            )
    return found
