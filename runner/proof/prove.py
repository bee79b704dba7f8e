"""``prove``: one search of a plan and its judgement."""

import time
from dataclasses import dataclass

from ..core.plan import Plan
from ..core.tries import Scenario
from .faults import PlaceOfStep, Violation, faults_of, not_connected
from .graph import CAP, Graph
from .memo import Decider
from .properties import PROPERTIES


@dataclass(frozen=True, slots=True)
class ProofResult:
    """What a search found for one procedure (with all that its trips lead to).

    ``decisions`` counts the commands that were decided, refused ones too; ``transitions`` those
    that led to another state; ``runs`` how often ``decide`` ran for real. ``seconds`` are for
    all passes, ``search_seconds`` for the last one, whose states are reported.
    """

    procedure: str
    scenario: str
    disturbances: int
    states: int
    transitions: int
    seconds: float
    faults: tuple[Violation, ...]
    always: tuple[str, ...]
    giving_up: bool
    finishing: bool
    well: bool
    reached: frozenset[tuple[str, str]]
    ended: frozenset[str]
    acts: frozenset[str]
    trips: frozenset[str]
    resets: frozenset[str]
    decisions: int
    runs: int
    search_seconds: float
    named_disturbances: tuple[str, ...] = ()

    @property
    def proven(self) -> bool:
        """True when nothing was found wrong."""
        return not self.faults


def prove(
    plan: Plan,
    places: PlaceOfStep,
    scenario: Scenario | None = None,
    disturbances: int = 1,
    cap: int = CAP,
    giving_up: bool = True,
    decider: Decider | None = None,
    finishing: bool = True,
) -> ProofResult:
    """Search ``plan`` and judge it. ``places`` gives file and line of a step.

    A ``decider`` of the same plan brings what earlier searches found out.
    Without ``giving_up`` nobody gives up, and whether ``abandoned`` is in reach is not judged;
    without ``finishing`` it is not judged whether ``finished`` is.

    Raises SearchCapped when there are more than ``cap`` states: nothing is then proven.
    """
    scenario = scenario or Scenario()
    started = time.perf_counter()
    graph = Graph(plan, scenario, disturbances, giving_up, decider)
    known = graph.decider.runs
    faults = not_connected(plan, places) if disturbances else ()
    if not faults:
        graph.explore(cap)
        faults = faults_of(
            graph,
            places,
            mending=scenario.well and not disturbances,
            giving_up=giving_up,
            finishing=finishing,
        )
    seconds = time.perf_counter() - started
    return ProofResult(
        procedure=plan.main.id,
        scenario=scenario.name,
        disturbances=disturbances,
        states=len(graph.states),
        transitions=len(graph.move_to),
        seconds=seconds,
        faults=faults,
        always=tuple(rule.name for rule in PROPERTIES),
        giving_up=giving_up,
        finishing=finishing,
        well=scenario.well,
        reached=frozenset(graph.step_of(n) for n in range(len(graph.states))),
        ended=frozenset(graph.value(n, "ended") for n in range(len(graph.states))),
        acts=frozenset(graph.met["act"]),
        trips=frozenset(graph.met["trip"]),
        resets=frozenset(graph.met["reset"]),
        decisions=graph.decisions,
        runs=graph.decider.runs - known,
        search_seconds=graph.search_seconds,
        named_disturbances=scenario.only.get("disturbance", ()),
    )
