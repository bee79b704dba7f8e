"""Exact intervals for a share: Clopper and Pearson, 1934.

Source: C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits illustrated in
the case of the binomial", Biometrika 26 (1934), 404-413. The bounds are quantiles of the beta
distribution; its integral is the continued fraction of NIST Digital Library of Mathematical
Functions, 8.17.22 (both equations from memory, the numbers checked in the tests).
"""

import math
from typing import Final

from steplatch.safety.catalogue import _

COVERAGE: Final = 0.95
FEW: Final = 10
"""Below so many a share says next to nothing, and the text says so (a design choice)."""
_TINY: Final = 1e-300
_MOST_STEPS: Final = 200
_CLOSE: Final = 1e-13


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
    low = 0.0 if successes == 0 else _quantile(tail, successes, of - successes + 1)
    high = 1.0 if successes == of else _quantile(1.0 - tail, successes + 1, of - successes)
    return low, high


def _quantile(share: float, a: int, b: int) -> float:
    """Where the beta distribution with whole ``a`` and ``b`` reaches ``share``: by Newton's steps
    from its mean, each held inside what is known to bracket it."""
    low, high, x = 0.0, 1.0, a / (a + b)
    for _other in range(_MOST_STEPS):
        over = _beta(x, a, b) - share
        low, high = (low, x) if over > 0.0 else (x, high)
        slope = math.exp(_log_front(x, a, b)) / (x * (1.0 - x))
        step = x - over / slope if slope > 0.0 else low
        last, x = x, step if low < step < high else (low + high) / 2.0
        if abs(x - last) <= _CLOSE * x:
            break
    return x


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
