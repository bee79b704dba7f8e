"""The searches that ``steplatch check`` makes of one main procedure, and what they leave out.

The product of all choices is too large for one search; each run fixes the large choices (who is
here, which dose, which refit, which gun ...) and lets every answer come out in every way. Together
the runs take every crew, dose, refit, gun, triage and road choice once, not every pair of them.

``MISHAPS`` lets one mishap happen at any moment, in which case the answers come out well: the
product of every answer with every mishap is beyond a minute. They are runs of their own
(``check --mishaps``, minutes); two small ones with one named mishap are always made, since
some steps are met after it only.
"""

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

from runner.collector import no_collector
from runner.proof.faults import never_reached
from runner.proof.memo import Decider
from runner.proof.prove import ProofResult, prove
from runner.proof.tries import LOAD, SECONDS, SHOTS, Scenario
from runner.proof.words import Loaded
from safety.happenings import Happening

PROCESSES = 2
CEILING = 1_000_000
"""The most states that one run of a shipped procedure may have; above it nothing is proven."""

USUAL: dict[str, tuple[str, ...]] = {
    "crew": ("pair",),
    "triage": ("go",),
    "agreed": ("measure", "clean"),
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
RUNS: dict[str, dict[str, tuple[str, ...]]] = {
    "pair, extended dose": {"tier": ("extended",), "seconds": (SECONDS["1"], SECONDS["2"])},
    "pair, strict dose": {"tier": ("strict",)},
    "alone": {"crew": ("alone_adult",), "controls": ("self",), "refit": ("stopped",)},
    "hose hidden": {"reach": ("not_clear",), "refit": ("stopped",)},
    "refit stopped, warned": {"refit": ("stopped",), "triage": ("warn",)},
    "pair, running dose": {},
    "loaded gun, road": {"gun": (LOAD,), "road_test": ("drive",)},
    "young and alone": {"crew": ("alone_junior",), "controls": ("self",)},
    "no second yes": {"agreed": ("measure", "no")},
    "do not clean": {"triage": ("dont", "nothing")},
    "it stops by itself, or spills": {
        "tier": ("extended",),
        "mishap": (Happening.STOPPED.said, Happening.SPILLED.said),
    },
    "interrupted, gun on": {
        "triage": ("dont",),
        "again engine": ("stopped",),
        "again gun": ("coupled",),
        "again hose": ("off",),
        "mishap": ("interrupted",),
    },
}
"""Where a run names mishaps, one may happen once, at any moment, and all else goes well."""
MISHAPS: dict[str, bool] = {
    "pair, extended dose": True,
    "pair, strict dose": True,
    "hose hidden": True,
    "pair, running dose": True,
    "alone": False,
    "loaded gun, road": False,
}
"""Runs in which any mishap may happen once, and whether ``finished`` must stay in reach. Alone,
what only two can mend waits for somebody to come; on the road one detour comes round to itself."""


class Runs:
    """The runs of one main procedure with its recoveries and cards, and what they have learnt."""

    def __init__(self, main: Path, others: Path) -> None:
        """Load them. Raises BadFile."""
        self.loaded = Loaded(main, others)
        self.decider = Decider(self.loaded.plan)

    def run(self, name: str, mishaps: int = 0) -> ProofResult:
        """One run by its name. Raises SearchCapped when it is too large."""
        finishing = not mishaps or MISHAPS[name]
        if "mishap" in RUNS[name]:
            mishaps = 1
        tried = Scenario(name, USUAL | RUNS[name], well=bool(mishaps), truth=bool(mishaps))
        plan, place = self.loaded.plan, self.loaded.place
        with no_collector():
            result = prove(
                plan, place, tried, mishaps, CEILING, decider=self.decider, finishing=finishing
            )
            self.decider.forget_places()
        return result


_here: list[Runs] = []
"""What a process of ``prove_main`` works on."""


def prove_main(main: Path, others: Path, mishaps: bool = False) -> Iterator[ProofResult]:
    """One result a run as it comes, on two processes. Raises SearchCapped: a run is too large."""
    asked = [(name, 0) for name in RUNS]
    if mishaps:
        asked = [(name, 1) for name in MISHAPS] + asked
    with ProcessPoolExecutor(PROCESSES, initializer=_begin, initargs=(main, others)) as pool:
        yield from pool.map(_one_run, asked)


def _begin(main: Path, others: Path) -> None:
    _here[:] = [Runs(main, others)]


def _one_run(asked: tuple[str, int]) -> ProofResult:
    return _here[0].run(*asked)


def steps_never_reached(main: Path, others: Path, results: list[ProofResult]) -> list[str]:
    """The steps of the main procedure, and the ends, that no run comes to, in words."""
    loaded = Loaded(main, others)
    reached = frozenset().union(*(r.reached for r in results))
    ended = frozenset().union(*(r.ended for r in results))
    alone = replace(loaded.plan, others={})
    return [fault.said for fault in never_reached(reached, ended, alone, loaded.place)]
