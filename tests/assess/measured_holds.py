"""How often "levelled" is wrong, and how late it is said, over simulated holds.

The curve of both over the chance from which it is said comes from one pass: the judge is asked
with that chance set to nought, and its own chances are compared with each.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final
from unittest.mock import patch

from steplatch.runner.assess import plateau
from steplatch.runner.assess.plateau import trend

from tests.assess.knowing_observer import chances
from tests.assess.simulated_holds import Hold, draw_hold

AFTER_S = 1500.0
"""How long after the true time a hold is watched on."""
CHANCES: Final = (0.9, 0.95, 0.98, 0.99)
ALONE: Final = 2.0
"""A chance that is never reached: the other one decides alone."""


@dataclass(frozen=True)
class Said:
    """What came of one hold: minutes after the true time, and what was left (mbar) over it."""

    hold: Hold
    late_min: float | None
    wrong: bool


@dataclass(frozen=True)
class Watched:
    """One hold: at each reading (s) at which it might be said the chance that it is level, and
    that it gets so within two minutes."""

    hold: Hold
    at: tuple[tuple[float, float, float], ...]

    def said(self, sure: float, likely: float = ALONE, about_now: float = 0.0) -> Said:
        """What comes of it when level is said from the chance ``sure`` on, or from ``likely`` on
        where it gets level about now with that chance."""
        at = next(
            (
                at
                for at, level, soon in self.at
                if level >= sure or (level >= likely and soon >= about_now)
            ),
            None,
        )
        if at is None:
            return Said(self.hold, None, False)
        late_min = (at - self.hold.true_s) / 60
        return Said(self.hold, late_min, self.hold.left(at) > self.hold.tolerance_mbar)


AS_SAID: Final = (
    plateau.SURE_LEVEL_SHARE, plateau.LIKELY_LEVEL_SHARE, plateau.ABOUT_NOW_SHARE
)  # fmt: skip
"""The chances from which the program says level."""


def watched(hold: Hold) -> Watched:
    """Each reading judged as it comes."""
    found = []
    until_s = hold.true_s + AFTER_S
    with patch.object(plateau, "SURE_LEVEL_SHARE", 0.0):
        for number in range(5, len(hold.points) + 1):
            at = hold.points[number - 1][0]
            if at < hold.due_s:
                continue
            if at > until_s:
                break
            got = trend(hold.points[:number], hold.step_pa, due=True)
            level, soon = got.chance_level_share, got.chance_about_now_share
            if got.state == "levelled" and level is not None and soon is not None:
                found.append((at, level, soon))
                if level >= CHANCES[-1]:
                    break
    return Watched(hold, tuple(found))


def known(hold: Hold, told: bool) -> Watched:
    """The same as an observer sees it who knows how the simulated holds are drawn, and is told
    which of them are shelves, or not."""
    return Watched(hold, tuple(chances(hold, hold.true_s + AFTER_S, CHANCES[-1], told)))


def over(seeds: Iterable[int]) -> list[Said]:
    """All of ``watched`` for these seeds, level said as the program says it."""
    return [watched(draw_hold(seed)).said(*AS_SAID) for seed in seeds]


def row(name: str, chances: Sequence[float], seen: Sequence[Watched]) -> str:
    """Wrong, within two minutes, never said, and median delay of some holds, as a table's row."""
    said = [one.said(*chances) for one in seen]
    late = sorted(one.late_min for one in said if one.late_min is not None)
    within = sum(abs(one) <= 2 for one in late)
    middle = f"{late[len(late) // 2]:+.1f}" if late else "-"
    rule = f"{chances[0]}" + (f" or {chances[1]} and {chances[2]}" if len(chances) > 1 else "")
    return (
        f"| {name} | {rule} | {len(said)} | {100 * sum(s.wrong for s in said) / len(said):.0f} % "
        f"| {100 * within / len(said):.0f} % | {len(said) - len(late)} | {middle} |"
    )
