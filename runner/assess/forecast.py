"""How far a falling pressure has still to fall, and how sure that is: every plausible fall weighed.

A fall is level + height (share e^(-t / fast) + (1 - share) e^(-t / slow)), the slow part up to six
times slower and up to seven tenths of the fall. One curve fitted by least squares is surest of
itself where it is wrong: while a slow part hides in the noise. So nothing is fitted; every shape up
to the longest plausible one keeps the weight that the readings leave it (Bayes' theorem for linear
models with known shape and scatter: A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013),
chapter 14), and what is said is a sum over all of them. The prior is of this program's choice: time
constants alike by their logarithm, one decay as likely as two, heights of some 60 mbar, a rise ten
times rarer than a fall.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from .linear import dot

FAST_S: Final = tuple(25.0 * 1.45**k for k in range(12))
"""Time constants, 25 s to 25 min: below, a fall is over between two readings."""
SLOWER: Final = (2.0, 3.5, 6.0)
"""How many times slower the slow part of a double fall may be."""
LONGEST_S: Final = 1500.0
"""No part is slower: that of a large wet filter at idle warmth (design choice)."""
SLOW_SHARE: Final = (0.1, 0.3, 0.5, 0.7)
"""Shares of a double fall that may be slow."""
STRAIGHT_S: Final = 5400.0
"""A fall so slow that it looks straight; weighed alone, of any size."""
SCATTER_MBAR: Final = (0.15, 0.3, 0.5, 0.9, 2.5)
"""Scatter of a reading beside the step in which it is shown: pulsation, revs, the eye."""
ALIKE_SHARE: Final = 0.4
"""What a reading counts for: neighbours share the drift of the revs, so ten count as four."""
_HEIGHT_MBAR: Final = 60.0
_STRAIGHT_MBAR: Final = 200.0
_NONE: Final = 0.1
_STRAIGHT: Final = 0.005
_DOUBLE: Final = 0.5
_RISES: Final = 0.1
_LIGHT: Final = 1e-6
_NOTHING_MBAR: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Shape:
    """A fall of height 1: time constants in s, the share of it that is slow; no fall without."""

    fast_s: float
    slow_s: float = 1.0
    slow_share: float = 0.0

    def at(self, seconds: float) -> float:
        """What is left of it so many seconds after the first reading."""
        if self.slow_share == 0.0:
            return math.exp(-seconds / self.fast_s) if self.fast_s else 0.0
        fast = math.exp(-seconds / self.fast_s)
        return fast + self.slow_share * (math.exp(-seconds / self.slow_s) - fast)


@dataclass(frozen=True, slots=True)
class Fall:
    """One plausible fall: its weight, shape, height and level, with their spread, mbar."""

    weight: float
    shape: Shape
    height: float
    u_height: float
    level: float
    u_level: float

    def left_at(self, seconds: float) -> tuple[float, float]:
        """What is left to fall so many seconds after the first reading: mean and spread, mbar."""
        share = self.shape.at(seconds)
        return share * self.height, share * self.u_height + _NOTHING_MBAR


@dataclass(frozen=True, slots=True)
class Forecast:
    """Every plausible fall with its weight; pressures mbar, the last reading at ``end_s``."""

    falls: tuple[Fall, ...]
    end_s: float
    level_mbar: float
    u_level_mbar: float

    def pressure_mbar(self, seconds: float) -> float:
        """The pressure expected so many seconds after the first reading."""
        return math.fsum(f.weight * (f.level + f.left_at(seconds)[0]) for f in self.falls)

    def chances(self, small_mbar: float, seconds: float = 0.0) -> tuple[float, float, float]:
        """That no more than ``small_mbar`` is left to fall so many seconds after the last reading,
        that more is, that it rises."""
        level, more, rises = [], [], []
        for fall in self.falls:
            mean, spread = fall.left_at(self.end_s + seconds)
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


def shapes() -> Iterator[tuple[float, Shape]]:
    """Every shape that is weighed, with its prior."""
    yield _NONE, Shape(0.0)
    yield _STRAIGHT, Shape(STRAIGHT_S)
    for fast in FAST_S:
        yield (1.0 - _DOUBLE) / len(FAST_S), Shape(fast)
    two = [
        Shape(fast, slow, share)
        for fast in FAST_S
        for slow in sorted({min(LONGEST_S, fast * times) for times in SLOWER})
        for share in SLOW_SHARE
        if slow > 1.3 * fast
    ]
    yield from ((_DOUBLE / len(two), shape) for shape in two)


def forecast(points: Sequence[tuple[float, float]], step_mbar: float) -> Forecast:
    """Weigh every plausible fall by readings (s, Pa) shown in steps of ``step_mbar``.

    Valid for three readings or more whose times rise. Raises ValueError for fewer.
    """
    if len(points) < 3:
        raise ValueError("no forecast from fewer than three readings")
    count = len(points)
    times = [t - points[0][0] for t, _ in points]
    middle = math.fsum(p for _, p in points) / count / 100
    values = [p / 100 - middle for _, p in points]
    squares = dot(values, values)
    found: list[tuple[float, Fall]] = []
    for prior, shape in shapes():
        column = [shape.at(t) for t in times]
        mean = math.fsum(column) / count
        column = [c - mean for c in column]
        size, along = dot(column, column), dot(column, values)
        beforehand = _STRAIGHT_MBAR if shape.fast_s == STRAIGHT_S else _HEIGHT_MBAR
        for scatter in SCATTER_MBAR:
            variance = (scatter**2 + step_mbar**2 / 12) / ALIKE_SHARE
            weight = size / variance + beforehand**-2
            height = along / variance / weight
            log = math.log(prior) - 0.5 * (
                ALIKE_SHARE * count * math.log(variance)
                + squares / variance
                - height**2 * weight
                + math.log(weight * beforehand**2)
            )
            u_height = math.sqrt(1.0 / weight)
            u_level = math.sqrt(variance / count + (mean * u_height) ** 2)
            level = middle - mean * height
            found.append((log, Fall(0.0, shape, height, u_height, level, u_level)))
    return _weighed(found, times[-1], step_mbar)


def _weighed(found: Sequence[tuple[float, Fall]], end_s: float, step_mbar: float) -> Forecast:
    most = max(log for log, _ in found)
    whole = math.fsum(math.exp(log - most) for log, _ in found)
    heavy = [(weight, f) for log, f in found if (weight := math.exp(log - most) / whole) > _LIGHT]
    sums = math.fsum(weight for weight, _ in heavy)
    falls = tuple(
        Fall(w / sums, f.shape, f.height, f.u_height, f.level, f.u_level) for w, f in heavy
    )
    level = math.fsum(f.weight * f.level for f in falls)
    squares = math.fsum(f.weight * (f.u_level**2 + (f.level - level) ** 2) for f in falls)
    return Forecast(falls, end_s, level, math.sqrt(squares + step_mbar**2 / 12))


def _below(x: float) -> float:
    """The chance of a normal quantity to lie below ``x`` standard deviations."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))
