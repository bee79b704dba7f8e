"""The searches that ``steplatch check`` makes of one main procedure, and what they leave out.

The product of all choices is too large for one search; each run fixes the large choices (who is
here, which dose, which refit, which gun ...) and lets every answer come out in every way. Together
the runs take every crew, dose, refit, gun, triage and road choice once, not every pair of them.

``MISHAPS`` lets one mishap happen at any moment, in which case the answers come out well: the
product of every answer with every mishap is beyond a minute. It is a run of its own
(``check --prove --mishaps``).
"""

from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

from runner.collector import no_collector
from runner.proof.faults import never_reached
from runner.proof.moves import LOAD, SHOTS, Scenario
from runner.proof.prove import ProofResult, prove
from runner.proof.words import Loaded

PROCESSES = 2
CEILING = 250_000
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
    "seconds": ("1",),
    "trend": ("level",),
    "road_test": ("not_driven",),
}
RUNS: dict[str, dict[str, tuple[str, ...]]] = {
    "pair, extended dose": {"tier": ("extended",), "seconds": ("1", "3")},
    "pair, strict dose": {"tier": ("strict",)},
    "alone": {"crew": ("alone_adult",), "controls": ("self",), "refit": ("stopped",)},
    "hose hidden": {"reach": ("not_clear",), "refit": ("stopped",)},
    "refit stopped, warned": {"refit": ("stopped",), "triage": ("warn",)},
    "pair, running dose": {},
    "loaded gun, road": {"gun": (LOAD,), "road_test": ("drive",)},
    "young and alone": {"crew": ("alone_junior",), "controls": ("self",)},
    "no second yes": {"agreed": ("measure", "no")},
    "do not clean": {"triage": ("dont", "nothing")},
}
MISHAPS = "pair, running dose"


def prove_main(main: Path, others: Path, mishaps: bool = False) -> list[ProofResult]:
    """One result a run, on two processes. Raises SearchCapped when a run is too large."""
    asked = [(main, others, name, 0) for name in RUNS]
    if mishaps:
        asked.insert(0, (main, others, MISHAPS, 1))
    with ProcessPoolExecutor(PROCESSES) as pool:
        return list(pool.map(one_run, asked))


def one_run(asked: tuple[Path, Path, str, int]) -> ProofResult:
    """One run: main procedure, folder of the others, name of the run, mishaps."""
    main, others, name, mishaps = asked
    loaded = Loaded(main, others)
    tried = Scenario(name, USUAL | RUNS[name], well=bool(mishaps))
    with no_collector():
        return prove(loaded.plan, loaded.place, tried, mishaps, CEILING)


def steps_never_reached(main: Path, others: Path, results: list[ProofResult]) -> list[str]:
    """The steps of the main procedure, and the ends, that no run comes to, in words."""
    loaded = Loaded(main, others)
    reached = frozenset().union(*(r.reached for r in results))
    ended = frozenset().union(*(r.ended for r in results))
    alone = replace(loaded.plan, others={})
    return [fault.said for fault in never_reached(reached, ended, alone, loaded.place)]
