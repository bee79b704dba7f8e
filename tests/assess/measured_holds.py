"""How often "levelled" is wrong, and how late it is said, over simulated holds."""

from collections.abc import Iterable
from dataclasses import dataclass

from steplatch.runner.assess.plateau import trend

from tests.assess.simulated_holds import Hold, draw_hold

AFTER_S = 1500.0
"""How long after the true time a hold is watched on."""


@dataclass(frozen=True)
class Said:
    """What came of one hold: minutes after the true time, and what was left (mbar) over it."""

    hold: Hold
    late_min: float | None
    wrong: bool


def said_level(hold: Hold, from_s: float = 0.0) -> Said:
    """When "levelled" is said first, each reading judged as it comes from ``from_s`` on."""
    true_s = hold.true_s
    for number in range(5, len(hold.points) + 1):
        at = hold.points[number - 1][0]
        if at < from_s or at < hold.due_s:
            continue
        if at > true_s + AFTER_S:
            break
        if trend(hold.points[:number], hold.step_pa, due=True).state == "levelled":
            return Said(hold, (at - true_s) / 60, hold.left(at) > hold.tolerance_mbar)
    return Said(hold, None, False)


def over(seeds: Iterable[int]) -> list[Said]:
    """All of ``said_level`` for these seeds."""
    return [said_level(draw_hold(seed)) for seed in seeds]
