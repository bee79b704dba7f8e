"""Exact intervals for a share: Clopper and Pearson, 1934.

Source: C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits illustrated in
the case of the binomial", Biometrika 26 (1934), 404-413. The bounds are quantiles of the beta
distribution; its integral is the continued fraction of NIST Digital Library of Mathematical
Functions, 8.17.22 (both equations from memory, the numbers checked in the tests).
"""

import math
from functools import lru_cache
from statistics import NormalDist
from typing import Final

from steplatch.safety.catalogue import _

COVERAGE: Final = 0.95
FEW: Final = 10
"""Below so many a share says next to nothing, and the text says so (a design choice)."""
_TINY: Final = 1e-300
_MOST_STEPS: Final = 200
_CLOSE: Final = 1e-8
"""Newton's last step over the value: the error is then about its square."""
_MANY: Final = 100
"""From so many on both sides the density is near enough to a bell to be summed at few places."""
_REACH: Final = 8.0
"""Standard deviations below which a tail adds less than 1e-12 of itself there."""


@lru_cache(maxsize=4096)
def exact_interval(successes: int, of: int, coverage: float = COVERAGE) -> tuple[float, float]:
    """The two bounds of the true share [0 to 1]; (0, 1) of none. Raises ValueError for counts that
    are none, and for a coverage outside 0 to 1."""
    if not 0 <= successes <= of or not 0.0 < coverage < 1.0:
        raise ValueError(
            _(
                "{successes} of {of} at {coverage} is no share",
                successes=successes,
                of=of,
                coverage=coverage,
            )
        )
    if of == 0:
        return 0.0, 1.0
    tail = (1.0 - coverage) / 2.0
    return _low(successes, of, tail), 1.0 - _low(of - successes, of, tail)


def _low(successes: int, of: int, tail: float) -> float:
    """Where the beta distribution of ``successes`` and one more than the failures reaches ``tail``:
    by Newton's steps from Wilson's bound, each held inside what is known to bracket it."""
    if successes == 0:
        return 0.0
    a, b = successes, of - successes + 1
    below = _tail if min(a, b) >= _MANY else _beta
    low, high, x = 0.0, 1.0, _wilson(successes, of, tail)
    for _other in range(_MOST_STEPS):
        over = below(x, a, b) - tail
        low, high = (low, x) if over > 0.0 else (x, high)
        slope = math.exp(_log_front(x, a, b)) / (x * (1.0 - x))
        step = x - over / slope if slope > 0.0 else low
        last, x = x, step if low < step < high else (low + high) / 2.0
        if abs(x - last) <= _CLOSE * x:
            break
    return x


def _wilson(successes: int, of: int, tail: float) -> float:
    """Wilson's lower bound of half a success less, near the exact one (E. B. Wilson, "Probable
    inference", J. Am. Stat. Assoc. 22 (1927), 209-212; from memory, and only where to begin)."""
    z, counted = NormalDist().inv_cdf(1.0 - tail), successes - 0.5
    middle = counted + z * z / 2.0
    spread = z * math.sqrt(counted * (1.0 - counted / of) + z * z / 4.0)
    return (middle - spread) / (of + z * z)


def _legendre(places: int) -> tuple[tuple[float, float], ...]:
    """Places and weights of Gauss and Legendre's sum over 0 to 1 (NIST DLMF 3.5.15)."""
    out = []
    for number in range(1, places + 1):
        x = math.cos(math.pi * (number - 0.25) / (places + 0.5))
        for _other in range(8):
            before, value = 1.0, x
            for k in range(2, places + 1):
                before, value = value, ((2 * k - 1) * x * value - (k - 1) * before) / k
            slope = places * (x * value - before) / (x * x - 1.0)
            x -= value / slope
        out.append(((1.0 + x) / 2.0, 1.0 / ((1.0 - x * x) * slope * slope)))
    return tuple(out)


_PLACES: Final = _legendre(18)


def _tail(x: float, a: int, b: int) -> float:
    """I_x(a, b) of many on both sides, for an ``x`` below the middle: the density summed."""
    whole = a + b
    low = max(0.0, x - _REACH * math.sqrt(a * b / (whole * whole * (whole + 1.0))))
    front = math.lgamma(whole) - math.lgamma(a) - math.lgamma(b)
    total = 0.0
    for place, weight in _PLACES:
        at = low + (x - low) * place
        total += weight * math.exp(front + (a - 1) * math.log(at) + (b - 1) * math.log1p(-at))
    return total * (x - low)


def _log_front(x: float, a: int, b: int) -> float:
    beta = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    return beta + a * math.log(x) + b * math.log1p(-x)


def _beta(x: float, a: int, b: int) -> float:
    """The regularised incomplete beta function I_x(a, b)."""
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    front = math.exp(_log_front(x, a, b))
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _fraction(x, a, b) / a
    return 1.0 - front * _fraction(1.0 - x, b, a) / b


def _fraction(x: float, a: int, b: int) -> float:
    """Lentz's way through the continued fraction."""
    c, d = 1.0, 1.0 / _held(1.0 - (a + b) * x / (a + 1.0))
    total = d
    for m in range(1, 10_000):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        step = 1.0
        for term in (even, odd):
            d = 1.0 / _held(1.0 + term * d)
            c = _held(1.0 + term / c)
            step = c * d
            total *= step
        if abs(step - 1.0) < 1e-15:
            break
    return total


def _held(value: float) -> float:
    return value if abs(value) > _TINY else _TINY
