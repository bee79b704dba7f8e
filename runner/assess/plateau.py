"""Has the pressure levelled out? p(t) = p_inf + A exp(-t / tau), with the uncertainty of p_inf.

At raised revs the pressure of a wet filter falls while it dries and levels when it is dry.
``trend`` says levelled, still falling with about how many minutes to go, or that neither is
shown; it weighs every plausible fall (``forecast``). ``fit_decay`` draws one curve for the sheet.
"""

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, Literal, TypeAlias

from ..input.resolution import Numbers, outcome, quantised
from . import told
from .forecast import forecast
from .inputs import LONGEST_MIN, WATCH_S
from .least import least_between
from .linear import Singular, Solved, Vector, dot, least_squares

TrendPoint: TypeAlias = tuple[float, float]
"""(time in s, pressure in Pa)"""

LEVEL_SHARE: Final = 0.02
"""Levelled: what is left to fall is under 2 % of the pressure now ... (workshop default)"""
LEVEL_FLOOR_MBAR: Final = 1.0
"""... or under 1 mbar, the usual step of a shown pressure, or one step, whichever is most."""
LEAST_POINTS: Final = 5
FORECAST_POINTS: Final = 3
SURE_LEVEL_SHARE: Final = 0.95
SURE_FALLING_SHARE: Final = 0.9
"""Chances from which on a class is said; between them the tool says that it is not shown."""
SEEN_TO_FALL: Final = 1.5
"""Tolerances by which the pressure must have fallen for its level to show anything (design)."""
_LONGEST_MIN: Final = 999.0


class NoPlateau(ValueError):  # noqa: N818 - it names the outcome
    """The data do not show a decay to a level: too few, too short, or not falling.

    Its text is an id of ``runner.assess.words.NO_LEVEL``.
    """


@dataclass(frozen=True, slots=True)
class Decay:
    """A fitted decay. Pressures Pa, times s; ``u_`` are standard uncertainties.

    ``amplitude_pa`` and ``tau_s`` belong to time 0 of the data given. ``bend_share`` is how many
    time constants the whole watch lasted, at its resolution.
    """

    level_pa: float
    u_level_pa: float
    amplitude_pa: float
    tau_s: float
    u_tau_s: float
    residual_ss: float
    degrees_of_freedom: int
    bend_share: float

    def at(self, time_s: float) -> float:
        """The fitted pressure at a time."""
        return self.level_pa + self.amplitude_pa * math.exp(-time_s / self.tau_s)


@dataclass(frozen=True, slots=True)
class Trend:
    """What to tell the person who waits, and every number that it follows from.

    ``why`` is an id of ``words.NO_LEVEL``; ``due`` says whether drying was due. ``mean_mbar`` is
    that of the last readings, ``fallen_mbar`` how far the pressure fell from its highest,
    ``slid_mbar`` how far of that from the first reading that was off the highest. The
    chances are that no more than the tolerance is left to fall, that more is, and that it rises;
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

    def to_json(self) -> dict[str, Any]:
        """The outcome as a record holds it."""
        plain: dict[str, Any] = outcome(self)
        return plain

    def text(self) -> str:
        """One short line for the screen."""
        return told.trend(self.to_json())


def fit_decay(points: Sequence[TrendPoint], start_pa: float | None = None) -> Decay:
    """Least squares of ``level + A exp(-t / tau)``; level, A and tau free.

    With ``start_pa`` the pressure at time 0 is known, A is ``start_pa - level``, and level and tau
    are free. Uncertainties come from the scatter about the curve. Raises ``NoPlateau`` with fewer
    than one point more than is free, or when the points do not bend. The sign of A is free.
    """
    decay = _fit(points, start_pa)
    why = _unbent(decay.bend_share, points, 0.0 if start_pa is not None else points[0][0])
    if why:
        raise NoPlateau(why)
    return decay


def _unbent(bend_share: float, points: Sequence[TrendPoint], start: float) -> str:
    """Why a fit at the edge of its search says nothing; '' for one inside."""
    if bend_share <= _SLOWEST:
        return "straight"
    whole = points[-1][0] - start
    second = next(t - start for t, _ in points if t > start)
    return "at_once" if bend_share >= float(_bend(_FALLEN * whole / second)) else ""


def _bend(rate: float) -> str:
    return quantised("bend_share", rate)


def _fit(points: Sequence[TrendPoint], start_pa: float | None = None) -> Decay:
    free = 3 if start_pa is None else 2
    if len(points) <= free:
        raise NoPlateau("few")
    if not all(math.isfinite(v) for point in points for v in point):
        raise NoPlateau("not_finite")
    start = points[0][0] if start_pa is None else 0.0
    span = points[-1][0] - start
    if span <= 0 or any(b[0] <= a[0] for a, b in pairwise(points)):
        raise NoPlateau("times")
    s = [(t - start) / span for t, _ in points]
    y = [p - (start_pa or 0.0) for _, p in points]
    freedom = len(points) - free
    try:
        rate = _best_rate(s, y, free)
        linear = _linear_part(s, y, rate, free)
        whole = least_squares(_jacobian(s, rate, linear.coefficients), linear.residuals)
    except Singular:
        raise NoPlateau("undetermined") from None
    rss = dot(linear.residuals, linear.residuals)
    if rate * start / span > math.log(sys.float_info.max):
        raise NoPlateau("long_over")
    level = linear.coefficients[0] + (start_pa or 0.0)
    amplitude = linear.coefficients[1] if start_pa is None else start_pa - level
    return Decay(
        level_pa=level,
        u_level_pa=math.sqrt(whole.cofactors[0][0] * rss / freedom),
        amplitude_pa=amplitude * math.exp(rate * start / span),
        tau_s=span / rate,
        u_tau_s=math.sqrt(whole.cofactors[-1][-1] * rss / freedom) * span / rate**2,
        residual_ss=rss,
        degrees_of_freedom=freedom,
        bend_share=float(_bend(rate)),
    )


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
    to_go = 0.0
    if level < SURE_LEVEL_SHARE:
        to_go = take("to_go_min", min(sure.level_in_s(small, 0.5) / 60, _LONGEST_MIN))
        late = take("to_go_high_min", min(sure.level_in_s(small, 0.9) / 60, _LONGEST_MIN))
        seen |= {"to_go_min": to_go, "to_go_high_min": late}
    if noted < LEAST_POINTS:
        return Trend("not_shown", "few", due, **seen)
    if watched < WATCH_S:
        return Trend("not_shown", "short", due, **seen)
    if level >= SURE_LEVEL_SHARE:
        if not due:
            return Trend("not_shown", "not_due", due, **seen)
        if not bent:
            return Trend("not_shown", "at_once" if fell else "steady", due, **seen)
        return Trend("levelled", "ended", due, **seen)
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


def _basis(s: Vector, rate: float, free: int) -> list[list[float]]:
    # What level (and amplitude) multiply, for a given rate.
    if free == 2:
        return [[-math.expm1(-rate * at) for at in s]]
    return [[1.0] * len(s), [math.exp(-rate * at) for at in s]]


def _linear_part(s: Vector, y: Vector, rate: float, free: int) -> Solved:
    """Level (and amplitude) of least squares for a given rate, and the residuals."""
    return least_squares(_basis(s, rate, free), y)


def _jacobian(s: Vector, rate: float, linear: Vector) -> list[list[float]]:
    free = len(linear) + 1
    scale = linear[0] if free == 2 else -linear[1]
    return [*_basis(s, rate, free), [scale * at * math.exp(-rate * at) for at in s]]


def _best_rate(s: Vector, y: Vector, free: int) -> float:
    """The decay rate (per whole span) of least squares: a scan, a bounded search, a polish.

    The scan ends where the fall is over before the second reading: any faster one fits as well,
    and which of them fits best would hang on the last digit. A rate at either edge of the scan
    stands for all beyond it.
    """

    def rss(log_rate: float) -> float:
        residuals = _linear_part(s, y, math.exp(log_rate), free).residuals
        return dot(residuals, residuals)

    second = next(at for at in s if at > 0)
    low, high, steps = math.log(_SLOWEST), math.log(_FALLEN / second), 80
    grid = [low + i * (high - low) / steps for i in range(steps + 1)]
    values = [rss(g) for g in grid]
    at = min(range(len(grid)), key=values.__getitem__)
    low, high = grid[max(at - 1, 0)], grid[min(at + 1, steps)]
    found = least_between(rss, low, high)
    return _polish(s, y, math.exp(found), free, math.exp(low), math.exp(high))


_SLOWEST: Final = 0.02
_FALLEN: Final = 6.9
"""Time constants in which a fall is over but for a thousandth."""


def _polish(s: Vector, y: Vector, rate: float, free: int, low: float, high: float) -> float:
    # Gauss-Newton on all: a search on the sum of squares alone stops at half the digits.
    for _ in range(50):
        linear = _linear_part(s, y, rate, free)
        jacobian = _jacobian(s, rate, linear.coefficients)
        step = least_squares(jacobian, linear.residuals).coefficients[-1]
        if not low < rate + step < high:
            break
        rate += step
        if abs(step) <= 1e-14 * rate:
            break
    return rate
