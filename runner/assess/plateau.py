"""Has the pressure levelled out? p(t) = p_inf + A exp(-t / tau), with the uncertainty of p_inf.

At raised revs the pressure of a wet filter falls while it dries and levels when it is dry.
``trend`` says levelled, still falling with about how many minutes to go, or that it cannot
tell yet; it refuses to guess on short or non-decaying data.
"""

import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, Literal, TypeAlias

from ..input.resolution import Numbers, outcome, quantised
from . import told
from .inputs import WATCH_S
from .least import least_between
from .linear import Singular, Solved, Vector, dot, least_squares

Point: TypeAlias = tuple[float, float]
"""(time in s, pressure in Pa)"""

LEVEL_SHARE: Final = 0.02
"""Levelled: what is left to fall is under 2 % of the final pressure ... (workshop default)"""
LEVEL_FLOOR_MBAR: Final = 1.0
"""... or under 1 mbar, the usual step of a shown pressure, whichever is more."""
LEAST_POINTS: Final = 5
LONGEST_MIN: Final = 90.0
UNSURE_SHARE: Final = 0.5
"""A fall foretells nothing when its time constant is known worse than to this share of it."""
_FARTHEST_MBAR: Final = 1000.0
_LONGEST_MIN: Final = 999.0
_LARGEST_SHARE: Final = 10.0
"""Numbers beyond which nothing more follows, and beyond which a fit hangs on rounding."""


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

    ``why`` is an id of ``words.NO_LEVEL``. ``slope_mbar_min`` is that of the last readings,
    ``fallen_mbar`` the fall from the first reading to their mean; of the fitted fall:
    ``bend_share`` its time constants, ``fall_mbar`` its height at the first reading, ``left_mbar``
    what was left at the last one, ``u_tau_share`` and ``u_fit_mbar`` how sure it is of its time
    constant and its level. Numbers that were not needed are None.
    """

    state: Literal["levelled", "falling", "cannot_tell"]
    why: str
    to_go_min: float | None = None
    level_mbar: float | None = None
    u_level_mbar: float | None = None
    watched_s: float | None = None
    mean_mbar: float | None = None
    fallen_mbar: float | None = None
    slope_mbar_min: float | None = None
    u_slope_mbar_min: float | None = None
    bend_share: float | None = None
    fall_mbar: float | None = None
    left_mbar: float | None = None
    u_tau_share: float | None = None
    u_fit_mbar: float | None = None

    def to_json(self) -> dict[str, Any]:
        """The outcome as a record holds it."""
        plain: dict[str, Any] = outcome(self)
        return plain

    def text(self) -> str:
        """One short line for the screen."""
        return told.trend(self.to_json())


def fit_decay(points: Sequence[Point], start_pa: float | None = None) -> Decay:
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


def _unbent(bend_share: float, points: Sequence[Point], start: float) -> str:
    """Why a fit at the edge of its search says nothing; '' for one inside."""
    if bend_share <= _SLOWEST:
        return "straight"
    whole = points[-1][0] - start
    second = next(t - start for t, _ in points if t > start)
    return "at_once" if bend_share >= float(_bend(_FALLEN * whole / second)) else ""


def _bend(rate: float) -> str:
    return quantised("bend_share", rate)


def _fit(points: Sequence[Point], start_pa: float | None = None) -> Decay:
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


def trend(points: Sequence[Point], step_pa: float = 100.0, numbers: Numbers | None = None) -> Trend:
    """Levelled, falling (minutes to go) or cannot tell yet, from times and pressures so far.

    ``step_pa`` is the step in which the pressure is shown: changes below it prove nothing.
    ``numbers`` holds the recorded numbers, if there are any. Raises ``Disagreement`` where one of
    them cannot be.
    """
    take = (numbers or Numbers()).take
    if len(points) < LEAST_POINTS:
        return Trend("cannot_tell", "few")
    if any(b[0] <= a[0] for a, b in pairwise(points)):
        return Trend("cannot_tell", "times")
    watched = take("watched_s", points[-1][0] - points[0][0])
    seen: dict[str, float] = {"watched_s": watched}
    if watched < WATCH_S:
        return Trend("cannot_tell", "short", **seen)
    step = step_pa / 100
    slope, u_slope = _recent_slope(points)
    # The step in which it is shown hides a slope of a third of itself over the watch.
    hidden = step_pa / math.sqrt(12) / (0.3 * (points[-1][0] - points[0][0]))
    mean_pa = math.fsum(p for _, p in points[-LEAST_POINTS:]) / LEAST_POINTS
    mean = take("mean_mbar", mean_pa / 100)
    fallen = take("fallen_mbar", (points[0][1] - mean_pa) / 100)
    slope = take("slope_mbar_min", 0.6 * slope)
    u_slope = take("u_slope_mbar_min", 0.6 * math.sqrt(u_slope**2 + hidden**2))
    seen |= {"mean_mbar": mean, "fallen_mbar": fallen}
    seen |= {"slope_mbar_min": slope, "u_slope_mbar_min": u_slope}
    small = max(LEVEL_FLOOR_MBAR, LEVEL_SHARE * abs(mean), step)
    if (slope - 2 * u_slope) * watched / 60 > small:
        return Trend("cannot_tell", "rises", **seen)
    if abs(fallen) <= small and abs(slope) * watched / 60 <= small:
        u_level = take("u_level_mbar", small / 2)
        return Trend("levelled", "steady", None, mean, u_level, **seen)
    try:
        decay = _fit(points)
    except NoPlateau as error:
        return Trend("cannot_tell", str(error), **seen)
    seen["bend_share"] = bend = take("bend_share", decay.bend_share)
    if why := _unbent(bend, points, points[0][0]):
        return Trend("cannot_tell", why, **seen)
    return _of_decay(points, decay, small, step, seen, take)


def _of_decay(
    points: Sequence[Point],
    decay: Decay,
    small: float,
    step: float,
    seen: dict[str, float],
    take: Callable[[str, float], float],
) -> Trend:
    """What a fitted fall says; ``small`` and ``step`` in mbar."""
    fall_pa, left_pa = (decay.at(t) - decay.level_pa for t in (points[0][0], points[-1][0]))
    fall = take("fall_mbar", max(-_FARTHEST_MBAR, min(fall_pa / 100, _FARTHEST_MBAR)))
    u_fit = take("u_fit_mbar", min(decay.u_level_pa / 100, _FARTHEST_MBAR))
    u_tau = take("u_tau_share", min(decay.u_tau_s / decay.tau_s, _LARGEST_SHARE))
    seen |= {"fall_mbar": fall, "u_fit_mbar": u_fit, "u_tau_share": u_tau}
    if fall <= 0:
        return Trend("cannot_tell", "away", **seen)
    if u_fit >= _FARTHEST_MBAR:
        return Trend("cannot_tell", "no_bend", **seen)
    level = take("level_mbar", decay.level_pa / 100)
    seen["left_mbar"] = left = take("left_mbar", left_pa / 100)
    # The scatter about the curve knows nothing of the step in which all of it is shown.
    u_level = take("u_level_mbar", math.sqrt(u_fit**2 + step**2 / 12))
    if left <= small and 2 * u_fit <= small:
        return Trend("levelled", "ended", None, level, u_level, **seen)
    if u_tau > UNSURE_SHARE or 2 * u_fit > max(points[-1][1] / 100 - level, small):
        return Trend("cannot_tell", "no_bend", None, level, u_level, **seen)
    minutes = decay.tau_s * math.log(max(left_pa / 100 / small, 1.0)) / 60
    minutes = take("to_go_min", min(minutes, _LONGEST_MIN))
    if minutes > LONGEST_MIN:
        return Trend("cannot_tell", "slow", minutes, level, u_level, **seen)
    return Trend("falling", "falling", minutes, level, u_level, **seen)


def _recent_slope(points: Sequence[Point]) -> tuple[float, float]:
    # Straight line through the last third (five points at least): slope and its uncertainty.
    recent = points[-max(LEAST_POINTS, len(points) // 3) :]
    n = len(recent)
    mean_t = math.fsum(t for t, _ in recent) / n
    mean_p = math.fsum(p for _, p in recent) / n
    sxx = math.fsum((t - mean_t) ** 2 for t, _ in recent)
    slope = math.fsum((t - mean_t) * (p - mean_p) for t, p in recent) / sxx
    rss = math.fsum((p - mean_p - slope * (t - mean_t)) ** 2 for t, p in recent)
    return slope, math.sqrt(rss / (n - 2) / sxx)


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
