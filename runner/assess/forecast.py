"""How far a falling pressure has still to fall, and how sure that is: every plausible fall weighed.

A fall is a level with one or two decays, level + A1 e^(-t / tau1) + A2 e^(-t / tau2). One curve
fitted by least squares is surest of itself where it is wrong: while a slow decay hides in the
noise. So nothing is fitted; every time constant up to the longest plausible one keeps the weight
that the readings leave it (Bayes' theorem for linear models with known time constants and
scatter: A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), chapter 14), and what is said is
a sum over all of them. The prior is of this program's choice: time constants alike by their
logarithm, falls of some 30 mbar with a slow part of some 8, a rise ten times rarer than a fall.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from .linear import backward, cholesky, dot, forward

TAU_S: Final = tuple(30.0 * 1.75**k for k in range(8))
"""Time constants, 30 s to 25 min: below, a fall is over between two readings; the longest is that
of a large wet filter at idle warmth (design choice)."""
STRAIGHT_S: Final = 5400.0
"""A fall so slow that it looks straight; weighed alone, of any size."""
SCATTER_MBAR: Final = (0.25, 0.5, 1.0, 2.5)
"""Scatter of a reading beside the step in which it is shown: pulsation, revs, the eye."""
ALIKE_SHARE: Final = 0.6
"""What a reading counts for: neighbours share the drift of the revs, so ten count as six."""
_SIZE_MBAR: Final = (1000.0, 30.0, 8.0)
_SLOW_MBAR: Final = (1000.0, 200.0)
_ONE: Final = 0.4
_TWO: Final = 0.5
_NONE: Final = 0.1
_STRAIGHT: Final = 0.005
_RISES: Final = 0.1
_LIGHT: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Fall:
    """One plausible fall: its weight, level, and what is left of each decay at the last reading.

    Time constants s, pressures mbar, ``spread`` the covariance of what is left, mbar2.
    """

    weight: float
    level: float
    u_level: float
    tau: tuple[float, ...]
    left: tuple[float, ...]
    spread: tuple[tuple[float, ...], ...]

    def left_in(self, seconds: float) -> tuple[float, float]:
        """What is left to fall so many seconds after the last reading: mean and spread, mbar."""
        share = [math.exp(-seconds / tau) for tau in self.tau]
        variance = dot(share, [dot(row, share) for row in self.spread])
        return dot(share, self.left), math.sqrt(max(variance, 1e-12))


@dataclass(frozen=True, slots=True)
class Forecast:
    """Every plausible fall with its weight; pressures mbar, times s after the last reading."""

    falls: tuple[Fall, ...]
    level_mbar: float
    u_level_mbar: float

    def chances(self, small_mbar: float, seconds: float = 0.0) -> tuple[float, float, float]:
        """That no more than ``small_mbar`` is left to fall then, that more is, that it rises."""
        level, more, rises = [], [], []
        for fall in self.falls:
            mean, spread = fall.left_in(seconds)
            up = _RISES * fall.weight
            under, nought, risen = (
                _below((edge - mean) / spread) for edge in (small_mbar, 0.0, -small_mbar)
            )
            level += [fall.weight * (under - nought), up * (nought - risen)]
            more.append(fall.weight * (1.0 - under))
            rises.append(up * risen)
        sums = [math.fsum(level), math.fsum(more), math.fsum(rises)]
        whole = math.fsum(sums)
        return sums[0] / whole, sums[1] / whole, sums[2] / whole

    def level_in_s(self, small_mbar: float, chance: float) -> float:
        """After how many seconds at most ``small_mbar`` is left with that chance; 60 000 is
        never."""
        low, high = 0.0, 60_000.0
        if 1.0 - self.chances(small_mbar)[1] >= chance:
            return 0.0
        for _ in range(26):
            middle = (low + high) / 2
            if 1.0 - self.chances(small_mbar, middle)[1] >= chance:
                high = middle
            else:
                low = middle
        return high


def forecast(points: Sequence[tuple[float, float]], step_mbar: float) -> Forecast:
    """Weigh every plausible fall by readings (s, Pa) shown in steps of ``step_mbar``.

    Valid for three readings or more whose times rise. Raises ValueError for fewer.
    """
    if len(points) < 3:
        raise ValueError("no forecast from fewer than three readings")
    end = points[-1][0] - points[0][0]
    times = [t - points[0][0] for t, _ in points]
    middle = math.fsum(p for _, p in points) / len(points) / 100
    values = [p / 100 - middle for _, p in points]
    taus = (0.0, *TAU_S, STRAIGHT_S)
    columns = [[1.0] * len(times), *([math.exp(-t / tau) for t in times] for tau in taus[1:])]
    products = [[dot(a, b) for b in columns] for a in columns]
    along = [dot(a, values) for a in columns]
    squares = dot(values, values)
    alone = [(0, i) for i in range(1, len(taus))]
    pairs = [(0, i, j) for i in range(1, len(taus) - 1) for j in range(i + 1, len(taus) - 1)]
    kinds: list[tuple[float, tuple[int, ...]]] = [(_NONE, (0,))]
    kinds += [(_ONE / len(TAU_S), one) for one in alone[:-1]] + [(_STRAIGHT, alone[-1])]
    kinds += [(_TWO / len(pairs), pair) for pair in pairs]
    found: list[tuple[float, Fall]] = []
    for scatter in SCATTER_MBAR:
        variance = (scatter**2 + step_mbar**2 / 12) / ALIKE_SHARE
        for prior, which in kinds:
            size = range(len(which))
            sizes = _SIZE_MBAR if taus[which[-1]] < STRAIGHT_S else _SLOW_MBAR
            inverse = [
                [
                    products[which[i]][which[j]] / variance + (sizes[i] ** -2 if i == j else 0.0)
                    for j in size
                ]
                for i in size
            ]
            lower = cholesky(inverse)
            right = [along[i] / variance for i in which]
            white = forward(lower, right)
            mean = backward(lower, white)
            cov = [backward(lower, forward(lower, [float(i == j) for j in size])) for i in size]
            log = math.log(prior) - 0.5 * (
                ALIKE_SHARE * len(times) * math.log(variance)
                + squares / variance
                - dot(white, white)
            )
            log -= math.fsum(math.log(lower[i][i] * sizes[i]) for i in size)
            if len(which) == 3:  # two decays are two falls, not a rise within a fall
                log += math.fsum(
                    math.log(max(2 * _below(mean[i] / math.sqrt(cov[i][i])), 1e-300))
                    for i in (1, 2)
                )
            tau = tuple(taus[i] for i in which[1:])
            share = [math.exp(-end / one) for one in tau]
            found.append(
                (
                    log,
                    Fall(
                        0.0,
                        middle + mean[0],
                        math.sqrt(cov[0][0]),
                        tau,
                        tuple(s * m for s, m in zip(share, mean[1:], strict=True)),
                        tuple(
                            tuple(a * b * cov[i + 1][j + 1] for j, b in enumerate(share))
                            for i, a in enumerate(share)
                        ),
                    ),
                )
            )
    return _weighed(found, step_mbar)


def _weighed(found: Sequence[tuple[float, Fall]], step_mbar: float) -> Forecast:
    most = max(log for log, _ in found)
    whole = math.fsum(math.exp(log - most) for log, _ in found)
    falls = tuple(
        Fall(weight, f.level, f.u_level, f.tau, f.left, f.spread)
        for log, f in found
        if (weight := math.exp(log - most) / whole) > _LIGHT
    )
    sums = math.fsum(f.weight for f in falls)
    level = math.fsum(f.weight * f.level for f in falls) / sums
    squares = math.fsum(f.weight * (f.u_level**2 + (f.level - level) ** 2) for f in falls) / sums
    return Forecast(falls, level, math.sqrt(squares + step_mbar**2 / 12))


def _below(x: float) -> float:
    """The chance of a normal quantity to lie below ``x`` standard deviations."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))
