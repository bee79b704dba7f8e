"""How often "levelled" is wrong, and how late it is said, over simulated holds.

The curve of both over the chance from which it is said comes from one pass: the judge is asked
with that chance set to nought, and its own chance is compared with each.
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
CHANCES: Final = (0.5, 0.7, 0.8, 0.9, 0.95, 0.97, 0.99)


@dataclass(frozen=True)
class Said:
    """What came of one hold: minutes after the true time, and what was left (mbar) over it."""

    hold: Hold
    late_min: float | None
    wrong: bool


@dataclass(frozen=True)
class Watched:
    """One hold: the chance of level at each reading (s) at which it might be said."""

    hold: Hold
    at: tuple[tuple[float, float], ...]

    def said(self, chance: float) -> Said:
        """What comes of it when level is said from this chance on."""
        at = next((at for at, level in self.at if level >= chance), None)
        if at is None:
            return Said(self.hold, None, False)
        late_min = (at - self.hold.true_s) / 60
        return Said(self.hold, late_min, self.hold.left(at) > self.hold.tolerance_mbar)


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
            if got.state == "levelled" and got.chance_level_share is not None:
                found.append((at, got.chance_level_share))
                if got.chance_level_share >= CHANCES[-1]:
                    break
    return Watched(hold, tuple(found))


def known(hold: Hold, told: bool) -> Watched:
    """The same as an observer sees it who knows how the simulated holds are drawn, and is told
    which of them are shelves, or not."""
    return Watched(hold, tuple(chances(hold, hold.true_s + AFTER_S, CHANCES[-1], told)))


def over(seeds: Iterable[int]) -> list[Said]:
    """All of ``watched`` for these seeds, level said as the program says it."""
    return [watched(draw_hold(seed)).said(plateau.SURE_LEVEL_SHARE) for seed in seeds]


def row(name: str, chance: float, said: Sequence[Said]) -> str:
    """Wrong, within two minutes, never said, and median delay of some holds, as a table's row."""
    late = sorted(one.late_min for one in said if one.late_min is not None)
    within = sum(abs(one) <= 2 for one in late)
    middle = f"{late[len(late) // 2]:+.1f}" if late else "-"
    return (
        f"| {name} | {chance} | {len(said)} | {100 * sum(s.wrong for s in said) / len(said):.0f} % "
        f"| {100 * within / len(said):.0f} % | {len(said) - len(late)} | {middle} |"
    )
