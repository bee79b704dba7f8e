"""The searches that ``steplatch check`` makes of one main procedure, and what they leave out.

The product of all choices is too large for one search; each run fixes the large choices and
lets all else come out well. Together the runs take every crew, dose, refit, gun, triage and
road choice once. Answers that do not come out well, giving up and mishaps are tried by
``prove`` with other scenarios, which takes minutes.
"""

from runner.proof import ProofResult, prove
from runner.proof_moves import LOAD, SHOTS, Scenario
from runner.proof_words import Loaded

_USUAL: dict[str, tuple[str, ...]] = {
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
_RUNS: dict[str, dict[str, tuple[str, ...]]] = {
    "pair, running dose": {},
    "pair, strict dose": {"tier": ("strict",)},
    "pair, extended dose": {"tier": ("extended",), "seconds": ("1", "3")},
    "refit stopped, warned": {"refit": ("stopped",), "triage": ("warn",)},
    "hose hidden": {"reach": ("not_clear",), "refit": ("stopped",)},
    "loaded gun, road": {"gun": (LOAD,), "road_test": ("drive",)},
    "alone": {"crew": ("alone_adult",), "controls": ("self",), "refit": ("stopped",)},
    "young and alone": {"crew": ("alone_junior",), "controls": ("self",)},
    "no second yes": {"agreed": ("measure", "no")},
    "do not clean": {"triage": ("dont", "nothing")},
}


def prove_main(loaded: Loaded) -> list[ProofResult]:
    """One result a run. Raises SearchCapped when a run is too large."""
    return [
        prove(
            loaded.plan,
            loaded.place,
            Scenario(name, _USUAL | changed, well=True),
            0,
            giving_up=False,
        )
        for name, changed in _RUNS.items()
    ]
