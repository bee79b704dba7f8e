"""Has the pressure levelled out?

At raised revs the pressure of a wet filter falls while it dries and levels when it is dry.
``trend`` says levelled, still falling with about how many minutes to go, or that neither is
shown; it weighs every plausible fall (``forecast``).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, Literal, TypeAlias

from ..input.resolution import Numbers, outcome
from . import told
from .forecast import forecast
from .inputs import LONGEST_MIN, WATCH_S

TrendPoint: TypeAlias = tuple[float, float]
"""(time in s, pressure in Pa)"""

LEVEL_SHARE: Final = 0.02
"""Levelled: what is left to fall is under 2 % of the pressure now ... (workshop default)"""
LEVEL_FLOOR_MBAR: Final = 1.0
"""... or under 1 mbar, the usual step of a shown pressure, or one step, whichever is most."""
LEAST_POINTS: Final = 5
FORECAST_POINTS: Final = 3
SURE_LEVEL_SHARE: Final = 0.98
SURE_FALLING_SHARE: Final = 0.9
"""Chances from which on a class is said; between them the tool says that it is not shown."""
LIKELY_LEVEL_SHARE: Final = 0.7
ABOUT_NOW_SHARE: Final = 0.8
ABOUT_NOW_S: Final = 120.0
"""Level is said too where it is as likely as this and gets level, with this chance, within two
minutes before or after: there an error is small and soon over, and waiting to be surer is what
makes it late. A slow fall, of which nobody can tell when it is over, must be surer (chances by
simulation: tests/assess/MEASURED.md)."""
SEEN_TO_FALL: Final = 1.5
"""Tolerances by which the pressure must have fallen for its level to show anything (design)."""
_LONGEST_MIN: Final = 999.0


@dataclass(frozen=True, slots=True)
class Trend:
    """What to tell the person who waits, and every number that it follows from.

    ``why`` is an id of ``words.NO_LEVEL``; ``due`` says whether drying was due. ``mean_mbar`` is
    that of the last readings, ``fallen_mbar`` how far the pressure fell from its highest,
    ``slid_mbar`` how far of that from the first reading that was off the highest. The
    chances are that no more than the tolerance is left to fall, that more is, that it rises, and
    that it gets level within two minutes before or after;
    ``to_go_min`` is when it is level as likely as not, ``to_go_high_min`` with nine chances in
    ten. Numbers that were not needed are None.
    """

    state: Literal["levelled", "falling", "not_shown"]
    why: str
    due: bool = False
    to_go_min: float | None = None
    to_go_high_min: float | None = None
    level_mbar: float | None = None
    u_level_mbar: float | None = None
    watched_s: float | None = None
    mean_mbar: float | None = None
    fallen_mbar: float | None = None
    slid_mbar: float | None = None
    chance_level_share: float | None = None
    chance_falling_share: float | None = None
    chance_rising_share: float | None = None
    chance_about_now_share: float | None = None

    def to_json(self) -> dict[str, Any]:
        """The outcome as a record holds it."""
        plain: dict[str, Any] = outcome(self)
        return plain

    def text(self) -> str:
        """One short line for the screen."""
        return told.trend(self.to_json())


def trend(
    points: Sequence[TrendPoint],
    step_pa: float = 100.0,
    numbers: Numbers | None = None,
    due: bool = True,
) -> Trend:
    """Levelled, still falling or not shown, from times and pressures so far.

    ``step_pa`` is the step in which the pressure is shown: changes below it prove nothing. ``due``
    says whether drying is due: before, a wet filter can hold its pressure level, so nothing is
    called levelled. ``numbers`` holds the recorded numbers, if there are any. Raises
    ``Disagreement`` where one of them cannot be.
    """
    take = (numbers or Numbers()).take
    if len(points) < FORECAST_POINTS:
        return Trend("not_shown", "few", due)
    if not all(math.isfinite(v) for point in points for v in point):
        return Trend("not_shown", "not_finite", due)
    if any(b[0] <= a[0] for a, b in pairwise(points)):
        return Trend("not_shown", "times", due)
    noted, step = len(points), step_pa / 100
    highest = max(p for _, p in points)
    mean_pa = math.fsum(p for _, p in points[-LEAST_POINTS:]) / len(points[-LEAST_POINTS:])
    last_pa = math.fsum(p for _, p in points[-FORECAST_POINTS:]) / FORECAST_POINTS
    watched = take("watched_s", points[-1][0] - points[0][0])
    mean = take("mean_mbar", mean_pa / 100)
    fallen = take("fallen_mbar", (highest - last_pa) / 100)
    seen: dict[str, Any] = {"watched_s": watched, "mean_mbar": mean, "fallen_mbar": fallen}
    small = max(LEVEL_FLOOR_MBAR, LEVEL_SHARE * abs(mean), step)
    fell = fallen >= SEEN_TO_FALL * small
    bent = False
    if fell:
        rest = _past_the_shelf(points, highest - 100 * small)
        if len(rest) >= FORECAST_POINTS:
            points = rest
            seen["slid_mbar"] = slid = take("slid_mbar", (points[0][1] - last_pa) / 100)
            bent = slid >= small / 2 and len(points) >= LEAST_POINTS
    sure = forecast(points, step)
    now = sure.chances(small)
    seen["chance_level_share"] = level = take("chance_level_share", now[0])
    seen["chance_falling_share"] = falling = take("chance_falling_share", now[1])
    seen["chance_rising_share"] = rising = take("chance_rising_share", now[2])
    seen["level_mbar"] = take("level_mbar", sure.level_mbar)
    seen["u_level_mbar"] = take("u_level_mbar", sure.u_level_mbar)
    if rising >= SURE_FALLING_SHARE:
        return Trend("not_shown", "rises", due, **seen)
    soon = sure.chances(small, -ABOUT_NOW_S)[1] - sure.chances(small, ABOUT_NOW_S)[1]
    seen["chance_about_now_share"] = about_now = take("chance_about_now_share", soon)
    to_go = 0.0
    if level < SURE_LEVEL_SHARE:
        to_go = take("to_go_min", min(sure.level_in_s(small, 0.5) / 60, _LONGEST_MIN))
        late = take("to_go_high_min", min(sure.level_in_s(small, 0.9) / 60, _LONGEST_MIN))
        seen |= {"to_go_min": to_go, "to_go_high_min": late}
    if noted < LEAST_POINTS:
        return Trend("not_shown", "few", due, **seen)
    if watched < WATCH_S:
        return Trend("not_shown", "short", due, **seen)
    by_now = level >= LIKELY_LEVEL_SHARE and about_now >= ABOUT_NOW_SHARE
    if level >= SURE_LEVEL_SHARE or by_now:
        if not due:
            return Trend("not_shown", "not_due", due, **seen)
        if not bent:
            return Trend("not_shown", "at_once" if fell else "steady", due, **seen)
        why = "ended" if level >= SURE_LEVEL_SHARE else "about_now"
        return Trend("levelled", why, due, **seen)
    if falling >= SURE_FALLING_SHARE:
        if to_go > LONGEST_MIN:
            return Trend("not_shown", "slow", due, **seen)
        return Trend("falling", "falling", due, **seen)
    return Trend("not_shown", "between", due, **seen)


def _past_the_shelf(points: Sequence[TrendPoint], above_pa: float) -> Sequence[TrendPoint]:
    """The readings after the last one that still stood by the highest: a wet filter holds its
    pressure for a while, and a fall by e^(-t / tau) is one from whatever time it is watched."""
    last = max(i for i, (_, p) in enumerate(points) if p >= above_pa)
    return points[last + 1 :]
