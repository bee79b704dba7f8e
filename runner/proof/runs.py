"""The searches that ``steplatch check`` makes of one main procedure, and what they leave out.

The product of all choices is too large for one search; each run fixes the large choices (who is
here, which dose, which refit, which gun ...) and lets every answer come out in every way. Together
the runs take every crew, dose, refit, gun, triage and road choice once, not every pair of them.
Each is made twice: with every answer, and with all going well, when no step may be refused.

A recovery or card that is checked by itself is searched with the shipped main procedure, from
what brings it about (``runs_of_recovery``).

``DISTURBANCES`` are runs with one disturbance at any moment, in which the answers come out well:
the product of every answer with every disturbance takes more than a minute. They are made by
``check --disturbances`` (minutes); the one that enters each recovery and card from what
brings it about, where fluid goes in, settles or dries, and a small one with an interruption, are
always made.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from operator import itemgetter
from pathlib import Path
from typing import Any

from steplatch.safety.bay import Trip
from steplatch.safety.occurrences import TRIPS, Happening

from ..core.plan import Plan
from ..core.procedure import Procedure
from ..core.steps import AskStep, GunStep, HoldStep, JudgeStep, LookStep, SprayStep
from ..core.tries import LOAD, SECONDS, SHOTS, Scenario
from ..system.over_cores import over_cores
from .collector import no_collector
from .disturbances import HOSE_ON_UNASKED, somebody_left
from .faults import PlaceOfStep, never_reached
from .memo import Decider
from .prove import ProofResult, prove
from .words import LoadedProcedures

PROCESSES = 2
CEILING, WITH_A_DISTURBANCE = 1_000_000, 4_000_000
"""The most states that one run may have, and one with a disturbance at any moment (about 0.9 kB of
memory each); above it nothing is proven."""

USUAL: dict[str, tuple[str, ...]] = {
    "crew": ("pair",),
    "triage": ("go",),
    "agreed": ("measure", "clean"),
    **{"oil": ("ok",), "fuel": ("diesel",), "coating": ("none",), "foul": ("no",)},
    **{"lift": ("wheels",), "low_loop": ("none",), "flash": ("none",)},
    **{"trigger": ("springs",), "stop_start": ("off",)},
    "reach": ("clear",),
    "refit": ("idle",),
    "tier": ("none",),
    "gun": (SHOTS,),
    "controls": ("other",),
    "fumes": ("extraction",),
    "seconds": (SECONDS["1"],),
    "trend": ("level",),
    "road_test": ("not_driven",),
}
_CAUSES: dict[Trip, tuple[str, ...]] = {
    Trip.STALLED: (Happening.STALLED.said, Happening.STOPPED.said),
    Trip.UNPERMITTED: (HOSE_ON_UNASKED,),
    Trip.UNATTENDED: (somebody_left("controls", "nobody"),),
} | {trip: (what.said,) for what, trip in TRIPS.items()}
"""The disturbances that bring about each trip."""
ANY_TRIP = tuple(dict.fromkeys(word for causes in _CAUSES.values() for word in causes))
FLUID_STEPS = ("spray", "wait", "hold")
"""The kinds of step of the main procedure at which fluid goes in, settles and dries."""
RUNS: dict[str, dict[str, tuple[str, ...]]] = {
    "pair, extended dose": {"tier": ("extended",), "seconds": (SECONDS["1"], SECONDS["2"])},
    "pair, strict dose": {"tier": ("strict",)},
    "alone": {"crew": ("alone_adult",), "controls": ("self",), "refit": ("stopped",)},
    "alone, strict dose": {
        "crew": ("alone_adult",),
        "controls": ("self",),
        "refit": ("stopped",),
        "tier": ("strict",),
        "gun": (LOAD,),
    },
    "hose hidden": {"reach": ("not_clear",), "refit": ("stopped", "stopped_with_help")},
    "refit stopped, warned": {"refit": ("stopped",), "triage": ("warn",)},
    "pair, running dose": {},
    "loaded gun, road": {"gun": (LOAD,), "road_test": ("drive",)},
    "young and alone": {"crew": ("alone_junior",), "controls": ("self",)},
    "no second yes": {"agreed": ("measure", "no")},
    "do not clean": {
        "triage": ("dont", "nothing"),
        "oil": ("ok", "over"),
        "fuel": ("diesel", "other"),
        "coating": ("none", "not_approved"),
        "foul": ("no", "yes"),
    },
    "any trip": {"tier": ("extended",), "disturbance": ANY_TRIP, "at": FLUID_STEPS},
    "interrupted, gun on": {
        "triage": ("dont",),
        "again engine": ("stopped",),
        "again gun": ("coupled",),
        "again hose": ("off",),
        "disturbance": ("interrupted",),
    },
}
"""Where a run names disturbances, one may happen once, at any moment, and all else goes well."""
DISTURBANCES: dict[str, bool] = {
    "pair, extended dose": True,
    "pair, strict dose": True,
    "hose hidden": True,
    "pair, running dose": True,
    "alone": False,
    "loaded gun, road": False,
}
"""Runs in which any disturbance may happen once, and whether ``finished`` must stay in reach. Who
is alone waits for somebody to come where two are needed; on the road one detour is a cycle."""


MAY_SAY_NO = {"agreed": ("measure", "clean", "no")}
"""After a disturbance there may be no fluid any more: the customer's yes leads past it."""
WITH_RECOVERY = ("pair, extended dose", "pair, running dose")
"""The runs in which a recovery is met with fluid in and the engine off, and with it running."""


@dataclass(frozen=True, slots=True)
class Run:
    """One search: its scenario, how many disturbances a trace may hold, what is judged."""

    scenario: Scenario
    disturbances: int = 0
    giving_up: bool = True
    finishing: bool = True


def run_of(name: str) -> Run:
    """A run of ``RUNS``: every answer, or one of its named disturbances and all else well."""
    some = int("disturbance" in RUNS[name])
    return Run(Scenario(name, USUAL | RUNS[name], well=bool(some), truth=bool(some)), some)


def well_run(name: str) -> Run:
    """The same choices with all going well the first time: every refusal is then a fault. What
    giving up leads to, the run with every answer judges."""
    return Run(Scenario(f"{name}, all well", USUAL | RUNS[name], well=True), giving_up=False)


def disturbance_run(name: str) -> Run:
    """The same choices with any one disturbance at any moment, and all else well."""
    tried = Scenario(name, USUAL | RUNS[name] | MAY_SAY_NO, well=True, truth=True)
    return Run(tried, 1, finishing=DISTURBANCES[name])


def runs_of_main(main: Procedure, disturbances: bool = False) -> list[Run]:
    """The searches of a main procedure, with ``disturbances`` the long ones first.

    Of ``RUNS`` those that differ in what this procedure asks, and one more for each answer that it
    offers, that a ``when`` reads and none of them takes.
    """
    offered = offers(main)
    names = _that_differ(offered)
    branches = {condition.fact for step in main.steps() for condition in step.when} - {"gun"}
    more = {
        f"{name} is {value}": {name: (value,)}
        for name in USUAL
        for value in offered.get(name, ())
        if name in branches and not any(value in (USUAL | RUNS[run]).get(name, ()) for run in names)
    }
    long = [disturbance_run(name) for name in names if name in DISTURBANCES]
    return [
        *(long if disturbances else ()),
        *(run_of(name) for name in names),
        *(Run(Scenario(name, USUAL | only)) for name, only in more.items()),
        *(well_run(name) for name in names if "disturbance" not in RUNS[name]),
        *(
            Run(Scenario(f"{name}, all well", USUAL | only, well=True), giving_up=False)
            for name, only in more.items()
        ),
    ]


def offers(main: Procedure) -> dict[str, tuple[str, ...]]:
    """What a procedure asks that a run may narrow, by name, and the answers that pass or come."""
    found: dict[str, dict[str, None]] = {}

    def add(name: str, values: Iterable[str]) -> None:
        found.setdefault(name, {}).update(dict.fromkeys(values))

    for step in main.steps():
        match step:
            case LookStep():
                add(step.fact, step.want)
            case AskStep(form="choice"):
                add(step.name, (option.value for option in step.options))
            case GunStep():
                add("gun", (SHOTS, LOAD))
            case SprayStep():
                add("seconds", SECONDS.values())
            case HoldStep():
                add("trend", ("level",))
            case JudgeStep(what="triage"):
                add("triage", ("go", "warn", "dont", "nothing"))
    return {name: tuple(values) for name, values in found.items()}


def _that_differ(offered: Mapping[str, tuple[str, ...]]) -> list[str]:
    """The runs, the fewest, that ask each another thing of a procedure that offers this. One with
    a disturbance, or that waits for the gun on the hose, needs a procedure that sprays."""
    kept: dict[tuple[Any, ...], str] = {}
    for name, own in sorted(RUNS.items(), key=lambda run: len(run[1])):
        if "disturbance" in own and "seconds" not in offered:
            continue
        if any(key in offered and not set(own[key]) & set(offered[key]) for key in own):
            continue
        only = {
            key: tuple(v for v in values if v in offered.get(key, values)) or offered[key]
            for key, values in (USUAL | own).items()
            if key in offered or key == "disturbance"
        }
        kept.setdefault(tuple(sorted(only.items())), name)
    return [name for name in RUNS if name in kept.values()]


def runs_of_recovery(recovery: Procedure) -> list[Run]:
    """The searches of a recovery or card within a main procedure: with the disturbances that cause
    it, at any moment; where none does, every answer, giving up anywhere."""
    causes = tuple(dict.fromkeys(word for trip in recovery.answers for word in _CAUSES[trip]))
    if not causes:
        return [run_of(name) for name in WITH_RECOVERY]
    return [
        Run(
            Scenario(
                f"{name}, {recovery.id}",
                USUAL | RUNS[name] | MAY_SAY_NO | {"disturbance": causes},
                well=True,
                truth=True,
            ),
            1,
        )
        for name in WITH_RECOVERY
    ]


def make_run(
    plan: Plan, places: PlaceOfStep, run: Run, decider: Decider | None = None
) -> ProofResult:
    """One search with its judgement: the way of the command and of its tests alike.

    Raises SearchCapped when it is too large.
    """
    return prove(
        plan,
        places,
        run.scenario,
        run.disturbances,
        WITH_A_DISTURBANCE if run.disturbances else CEILING,
        giving_up=run.giving_up,
        decider=decider,
        finishing=run.finishing,
    )


class Runs:
    """The runs of one main procedure with its recoveries and cards, and what they have learnt."""

    def __init__(self, main: Path, others: Sequence[Path]) -> None:
        """Load them. Raises BadFile."""
        self._files = main, tuple(others)
        self.loaded = LoadedProcedures(main, others)
        self._deciders: dict[int, Decider] = {}

    def __reduce__(self) -> tuple[type["Runs"], tuple[Path, tuple[Path, ...]]]:
        return Runs, self._files

    def decider(self, lane: int = 0) -> Decider:
        """What the runs of a lane share."""
        if lane not in self._deciders:
            self._deciders[lane] = Decider(self.loaded.plan)
        return self._deciders[lane]

    def make(self, run: Run, lane: int = 0) -> ProofResult:
        """One run. Raises SearchCapped when it is too large."""
        with no_collector():
            result = make_run(self.loaded.plan, self.loaded.place, run, self.decider(lane))
            self.decider(lane).forget_places()
        return result

    def make_all(self, runs: Sequence[Run]) -> Iterator[ProofResult]:
        """One result a run as it comes, on two processes. Raises SearchCapped: a run is too large.

        What a run learns spares work to those after it and makes a little difference to their
        counts; so which run shares with which is fixed, however quick each process is."""
        yield from over_cores(
            self._make_in, list(zip(runs, lanes(runs), strict=True)), PROCESSES, long=True,
            lane=itemgetter(1),
        )  # fmt: skip

    def _make_in(self, asked: tuple[Run, int]) -> ProofResult:
        return self.make(*asked)


def lanes(runs: Sequence[Run]) -> list[int]:
    """Which of ``PROCESSES`` makes each run, so that all have as much to do: the largest first,
    each where there is least so far."""
    weights = [12 if run.disturbances else 2 if run.giving_up else 1 for run in runs]
    found, sums = [0] * len(runs), [0] * PROCESSES
    for at in sorted(range(len(runs)), key=lambda at: -weights[at]):
        found[at] = sums.index(min(sums))
        sums[found[at]] += weights[at]
    return found


def steps_never_reached(
    loaded: LoadedProcedures, of: str, results: Sequence[ProofResult]
) -> list[str]:
    """The steps of the procedure ``of`` that no run comes to, in words; of the main one the ends
    too."""
    reached = frozenset().union(*(r.reached for r in results))
    ended = frozenset().union(*(r.ended for r in results))
    alone = replace(loaded.plan, main=loaded.plan.procedure(of), others={})
    return [f.said for f in never_reached(reached, ended, alone, loaded.place)]
