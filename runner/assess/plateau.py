"""Has the pressure levelled out? p(t) = p_inf + A exp(-t / tau), with the uncertainty of p_inf.

At raised revs the pressure of a wet filter falls while it dries and levels when it is dry.
``trend`` says levelled, still falling with about how many minutes to go, or that it cannot
tell yet; it refuses to guess on short or non-decaying data.
"""

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal, TypeAlias

from runner.assess.least import least_between
from runner.assess.linear import Singular, Solved, Vector, dot, least_squares

Point: TypeAlias = tuple[float, float]
"""(time in s, pressure in Pa)"""

LEVEL_SHARE: Final = 0.02
"""Levelled: what is left to fall is under 2 % of the final pressure ... (workshop default)"""
LEVEL_FLOOR_PA: Final = 100.0
"""... or under 1 mbar, the usual step of a shown pressure, whichever is more."""
WATCH_S: Final = 120.0
"""Shortest watch that can be judged: two minutes (common practice, no source)."""
LEAST_POINTS: Final = 5
LONGEST_MIN: Final = 90.0


class NoPlateau(ValueError):  # noqa: N818 - it names the outcome
    """The data do not show a decay to a level: too few, too short, or not falling."""


@dataclass(frozen=True, slots=True)
class Decay:
    """A fitted decay. Pressures Pa, times s; ``u_`` are standard uncertainties.

    ``amplitude_pa`` and ``tau_s`` belong to time 0 of the data given.
    """

    level_pa: float
    u_level_pa: float
    amplitude_pa: float
    tau_s: float
    u_tau_s: float
    residual_ss: float
    degrees_of_freedom: int

    def at(self, time_s: float) -> float:
        """The fitted pressure at a time."""
        return self.level_pa + self.amplitude_pa * math.exp(-time_s / self.tau_s)


@dataclass(frozen=True, slots=True)
class Trend:
    """What to tell the person who waits. ``minutes_to_go`` only when falling."""

    state: Literal["levelled", "falling", "cannot tell yet"]
    minutes_to_go: float | None
    level_pa: float | None
    u_level_pa: float | None
    why: str

    def text(self) -> str:
        """One short line for the screen."""
        if self.state == "levelled" and self.level_pa is not None:
            return f"levelled at about {self.level_pa / 100:.0f} mbar"
        if self.state == "falling" and self.minutes_to_go is not None:
            return f"still falling, level in about {max(1, round(self.minutes_to_go))} min"
        return f"cannot tell yet: {self.why}"


def fit_decay(points: Sequence[Point], start_pa: float | None = None) -> Decay:
    """Least squares of ``level + A exp(-t / tau)``; level, A and tau free.

    With ``start_pa`` the pressure at time 0 is known, A is ``start_pa - level``, and level and tau
    are free. Uncertainties come from the scatter about the curve. Raises ``NoPlateau`` with fewer
    than one point more than is free, or when the points do not bend. The sign of A is free.
    """
    free = 3 if start_pa is None else 2
    if len(points) <= free:
        raise NoPlateau(f"fewer than {free + 1} points")
    if not all(math.isfinite(v) for point in points for v in point):
        raise NoPlateau("a value is not finite")
    start = points[0][0] if start_pa is None else 0.0
    span = points[-1][0] - start
    if span <= 0 or any(b[0] <= a[0] for a, b in pairwise(points)):
        raise NoPlateau("times do not rise")
    s = [(t - start) / span for t, _ in points]
    y = [p - (start_pa or 0.0) for _, p in points]
    freedom = len(points) - free
    try:
        rate = _best_rate(s, y, free)
        linear = _linear_part(s, y, rate, free)
        whole = least_squares(_jacobian(s, rate, linear.coefficients), linear.residuals)
    except Singular:
        raise NoPlateau("the curve is not determined by these points") from None
    rss = dot(linear.residuals, linear.residuals)
    if rate * start / span > math.log(sys.float_info.max):
        raise NoPlateau("the fall was over long before the first reading")
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
    )


def trend(points: Sequence[Point], step_pa: float = 100.0) -> Trend:
    """Levelled, falling (minutes to go) or cannot tell yet, from times and pressures so far.

    ``step_pa`` is the step in which the pressure is shown: changes below it prove nothing.
    """
    if len(points) < LEAST_POINTS:
        return _cannot("too few readings so far")
    watched = points[-1][0] - points[0][0]
    if any(b[0] <= a[0] for a, b in pairwise(points)):
        return _cannot("the times of the readings do not rise")
    if watched < WATCH_S:
        return _cannot(f"watched for {watched:.0f} s of {WATCH_S:.0f}")
    slope, u_slope = _recent_slope(points)
    mean = sum(p for _, p in points[-LEAST_POINTS:]) / LEAST_POINTS
    small = max(LEVEL_FLOOR_PA, LEVEL_SHARE * abs(mean), step_pa)
    floor = step_pa / math.sqrt(12) / (0.3 * watched)
    u_slope = math.hypot(u_slope, floor)
    if slope - 2 * u_slope > small / watched:
        return _cannot("it rises: look why (revs, regeneration, liquid)")
    fallen = points[0][1] - mean
    if abs(fallen) <= small and abs(slope) * watched <= small:
        return Trend("levelled", None, mean, small / 2, "no fall beyond what is shown")
    try:
        decay = fit_decay(points)
    except NoPlateau as error:
        return _cannot(str(error))
    # The scatter about the curve knows nothing of the step in which all of it is shown.
    u_level = math.hypot(decay.u_level_pa, step_pa / math.sqrt(12))
    left = points[-1][1] - decay.level_pa
    now_left = decay.at(points[-1][0]) - decay.level_pa
    if decay.amplitude_pa <= 0 or decay.tau_s <= 0:
        return _cannot("it does not fall towards a level")
    if now_left <= small and 2 * decay.u_level_pa <= max(small, LEVEL_FLOOR_PA):
        return Trend("levelled", None, decay.level_pa, u_level, "decay has ended")
    if decay.u_tau_s > 0.5 * decay.tau_s or 2 * decay.u_level_pa > max(left, small):
        return _cannot("the fall does not bend yet")
    minutes = decay.tau_s * math.log(max(now_left / small, 1.0)) / 60
    if minutes > LONGEST_MIN:
        return _cannot("it falls too slowly to foresee")
    return Trend("falling", minutes, decay.level_pa, u_level, "falling")


def _cannot(why: str) -> Trend:
    return Trend("cannot tell yet", None, None, None, why)


def _recent_slope(points: Sequence[Point]) -> tuple[float, float]:
    # Straight line through the last third (five points at least): slope and its uncertainty.
    recent = points[-max(LEAST_POINTS, len(points) // 3) :]
    n = len(recent)
    mean_t = sum(t for t, _ in recent) / n
    mean_p = sum(p for _, p in recent) / n
    sxx = sum((t - mean_t) ** 2 for t, _ in recent)
    slope = sum((t - mean_t) * (p - mean_p) for t, p in recent) / sxx
    rss = sum((p - mean_p - slope * (t - mean_t)) ** 2 for t, p in recent)
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
    and which of them fits best would hang on the last digit.
    """

    def rss(log_rate: float) -> float:
        residuals = _linear_part(s, y, math.exp(log_rate), free).residuals
        return dot(residuals, residuals)

    second = next(at for at in s if at > 0)
    low, high, steps = math.log(_SLOWEST), math.log(_FALLEN / second), 80
    grid = [low + i * (high - low) / steps for i in range(steps + 1)]
    values = [rss(g) for g in grid]
    at = min(range(len(grid)), key=values.__getitem__)
    if at in (0, steps):
        raise NoPlateau("it does not bend towards a level" if at == 0 else "it falls at once")
    found = math.exp(least_between(rss, grid[at - 1], grid[at + 1]))
    return _polish(s, y, found, free, math.exp(grid[at - 1]), math.exp(grid[at + 1]))


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
