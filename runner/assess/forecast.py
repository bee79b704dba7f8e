"""How far a falling pressure has still to fall, and how sure that is: every plausible fall weighed.

A fall is level + height (share e^(-t / fast) + (1 - share) e^(-t / slow)), the slow part up to six
times slower and up to seven tenths of the fall. One curve fitted by least squares is surest of
itself where it is wrong: while a slow part hides in the noise. So nothing is fitted; every shape up
to the longest plausible one keeps the weight that the readings leave it (Bayes' theorem for linear
models with known shape and scatter: A. Gelman et al., Bayesian Data Analysis, 3rd ed. (2013),
chapter 14), and what is said is a sum over all of them. The prior is of this program's choice: time
constants alike by their logarithm, one decay as likely as two, heights of some 60 mbar, a rise ten
times rarer than a fall. The scatter of the readings is that of drifting revs: the sooner they
follow each other the more they are alike (exponential covariance, solved by differences of
neighbours: C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning (2006),
sections 2.2 and 4.2.1).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, TypeAlias

from steplatch.safety.catalogue import _

from .linear import dot

TIMES_S: Final = tuple(25.0 * 60.0 ** (k / 18) for k in range(19))
"""Time constants, 25 s to 25 min: below, a fall is over between two readings. Steps of a quarter:
at steps of a half the weighing was surer of itself than it was right."""
SLOWER_STEPS: Final = (3, 4, 5, 6, 7, 8)
"""How many steps further the slow part of a double fall may lie: two to six times slower."""
SLOW_SHARE: Final = (0.1, 0.25, 0.4, 0.55, 0.7)
"""Shares of a double fall that may be slow."""
STRAIGHT_S: Final = 5400.0
"""A fall so slow that it looks straight; weighed alone, of any size."""
SCATTER_MBAR: Final = (0.15, 0.3, 0.5, 0.9, 2.5)
"""Scatter of a reading beside the step in which it is shown: pulsation, revs, the eye."""
ALIKE_S: Final = 40.0
"""Time in which the drift of the revs forgets itself: readings a minute apart still share a fifth
of it (design choice)."""
BESIDE_SHARE: Final = 0.1
"""Part of what is left by which the true fall may differ from the nearest shape that is weighed:
long series leave one shape alone, and it is not the true one (design choice, by simulation)."""
_HEIGHT_MBAR: Final = 60.0
_STRAIGHT_MBAR: Final = 200.0
_NONE: Final = 0.1
_STRAIGHT: Final = 0.005
_DOUBLE: Final = 0.5
_RISES: Final = 0.1
_LIGHT: Final = 1e-5
_NOTHING_MBAR: Final = 1e-6
_TO_A_SECOND: Final = 1.0


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
        return self.left_of(self.shape.at(seconds))

    def left_of(self, share: float) -> tuple[float, float]:
        """What is left to fall when this share of it is: mean and spread, mbar."""
        left = share * self.height
        beside = BESIDE_SHARE * left
        return left, math.sqrt((share * self.u_height) ** 2 + beside**2) + _NOTHING_MBAR


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
        at, erfc, root = self.end_s + seconds, math.erfc, math.sqrt(2.0)
        shape: Shape | None = None
        share = 0.0
        for fall in self.falls:  # some hundred falls, a dozen times a reading
            if fall.shape is not shape:
                shape, share = fall.shape, fall.shape.at(at)
            mean, spread = fall.left_of(share)
            up = _RISES * fall.weight
            under = 0.5 * erfc((mean - small_mbar) / spread / root)
            nought = 0.5 * erfc(mean / spread / root)
            risen = 0.5 * erfc((mean + small_mbar) / spread / root)
            level += [fall.weight * (under - nought), up * (nought - risen)]
            more.append(fall.weight * (1.0 - under))
            rises.append(up * risen)
        sums = [math.fsum(level), math.fsum(more), math.fsum(rises)]
        whole = math.fsum(sums)
        return sums[0] / whole, sums[1] / whole, sums[2] / whole

    def level_in_s(self, small_mbar: float, chance: float) -> float:
        """After how many seconds at most ``small_mbar`` is left with that chance; 60 000 is
        never."""
        if 1.0 - self.chances(small_mbar)[1] >= chance:
            return 0.0
        low, high, size = 0.0, 60_000.0, 60.0
        while size < high and 1.0 - self.chances(small_mbar, size)[1] < chance:
            low, size = size, 2.0 * size
        high = min(size, high)
        while high - low > _TO_A_SECOND:
            middle = (low + high) / 2
            if 1.0 - self.chances(small_mbar, middle)[1] >= chance:
                high = middle
            else:
                low = middle
        return high


def forecast(points: Sequence[tuple[float, float]], step_mbar: float) -> Forecast:
    """Weigh every plausible fall by readings (s, Pa) shown in steps of ``step_mbar``.

    Valid for three readings or more. Raises ValueError for fewer, or where times do not rise.
    """
    if len(points) < 3 or any(b[0] <= a[0] for a, b in pairwise(points)):
        raise ValueError(_("no forecast from fewer than three readings, or times that do not rise"))
    count = len(points)
    times = [t - points[0][0] for t, _ in points]
    middle = math.fsum(p for _, p in points) / count / 100
    known = _Readings(times, [p / 100 - middle for _, p in points])
    found: list[tuple[float, _Weighed]] = []
    for prior, one in known.shapes():
        log_prior = math.log(prior)
        for scatter in SCATTER_MBAR:
            variance = scatter**2 + step_mbar**2 / 12
            weight = one.size / variance + one.beforehand**-2
            height = one.along / variance / weight
            log = log_prior - 0.5 * (
                (count - 1) * math.log(variance)
                + known.squares / variance
                - height**2 * weight
                + math.log(weight * one.beforehand**2)
            )
            found.append((log, (one, variance, height, math.sqrt(1.0 / weight))))
    most = max(log for log, _ in found)
    whole = math.fsum(math.exp(log - most) for log, _ in found)
    heavy = [(weight, f) for log, f in found if (weight := math.exp(log - most) / whole) > _LIGHT]
    sums = math.fsum(weight for weight, _ in heavy)
    falls = tuple(known.fall(weight / sums, middle, *f) for weight, f in heavy)
    level = math.fsum(f.weight * f.level for f in falls)
    spread = math.fsum(f.weight * (f.u_level**2 + (f.level - level) ** 2) for f in falls)
    return Forecast(falls, times[-1], level, math.sqrt(spread + step_mbar**2 / 12))


@dataclass(frozen=True, slots=True)
class _Sums:
    """A shape against the readings: its squares and its product with them beside their mean, and
    its mean; all of them as drifting revs weigh them."""

    shape: Shape
    size: float
    along: float
    mean: float
    beforehand: float = _HEIGHT_MBAR


_Weighed: TypeAlias = tuple[_Sums, float, float, float]


class _Readings:
    """Readings whose neighbours share their drift, as independent ones: what a reading adds to
    what its neighbour foretold of it."""

    def __init__(self, times: Sequence[float], values: Sequence[float]) -> None:
        alike = [math.exp((a - b) / ALIKE_S) for a, b in pairwise(times)]
        self._alike = [(a, 1.0 / math.sqrt(1.0 - a * a)) for a in alike]
        self._times = times
        self._ones = self._apart([1.0] * len(times))
        self._values = self._apart(values)
        self._count = dot(self._ones, self._ones)
        self._sum = dot(self._ones, self._values)
        self.squares = dot(self._values, self._values) - self._sum**2 / self._count

    def _apart(self, column: Sequence[float]) -> list[float]:
        pairs = zip(pairwise(column), self._alike, strict=True)
        return [column[0], *((b - alike * a) * scale for (a, b), (alike, scale) in pairs)]

    def fall(
        self, weight: float, middle: float, one: _Sums, variance: float, height: float, u: float
    ) -> Fall:
        """One plausible fall, its level from what the readings have left of it."""
        level = middle + self._sum / self._count - one.mean * height
        u_level = math.sqrt(variance / self._count + (one.mean * u) ** 2)
        return Fall(weight, one.shape, height, u, level, u_level)

    def shapes(self) -> Iterator[tuple[float, _Sums]]:
        """Every shape that is weighed, with its prior."""
        yield _NONE, _Sums(Shape(0.0), 0.0, 0.0, 0.0)
        straight = Shape(STRAIGHT_S)
        column = self._apart([straight.at(t) for t in self._times])
        yield _STRAIGHT, self._beside(straight, *self._parts(column), _STRAIGHT_MBAR)
        columns = [self._apart([math.exp(-t / tau) for t in self._times]) for tau in TIMES_S]
        parts = [self._parts(column) for column in columns]
        for tau, part in zip(TIMES_S, parts, strict=True):
            yield (1.0 - _DOUBLE) / len(TIMES_S), self._beside(Shape(tau), *part)
        top = len(TIMES_S) - 1
        pairs = [
            (fast, slow)
            for fast in range(top)
            for slow in sorted({min(fast + steps, top) for steps in SLOWER_STEPS})
        ]
        prior = _DOUBLE / (len(pairs) * len(SLOW_SHARE))
        for fast, slow in pairs:
            both = dot(columns[fast], columns[slow])
            for share in SLOW_SHARE:
                rest = 1.0 - share
                mean, along = (rest * parts[fast][i] + share * parts[slow][i] for i in (0, 1))
                size = (
                    rest**2 * parts[fast][2] + 2.0 * rest * share * both + share**2 * parts[slow][2]
                )
                shape = Shape(TIMES_S[fast], TIMES_S[slow], share)
                yield prior, self._beside(shape, mean, along, size)

    def _parts(self, column: Sequence[float]) -> tuple[float, float, float]:
        """The product of a column with ones, with the readings and with itself."""
        return dot(column, self._ones), dot(column, self._values), dot(column, column)

    def _beside(
        self, shape: Shape, ones: float, along: float, size: float, beforehand: float = _HEIGHT_MBAR
    ) -> _Sums:
        mean = ones / self._count
        return _Sums(
            shape, max(size - mean * ones, 0.0), along - mean * self._sum, mean, beforehand
        )
