"""The least value of a function of one number between two bounds, without derivatives.

The method of R. P. Brent, Algorithms for Minimization without Derivatives (1973), chapter 5
(golden section, with a parabola wherever one helps), as in the procedure ``fmin`` of G. E.
Forsythe, M. A. Malcolm, C. B. Moler, Computer Methods for Mathematical Computations (1977),
section 8.2. A test compares every digit with another program of the same method. It stands here
because that program takes a quarter of a second to load.
"""

import math
from collections.abc import Callable
from typing import Final

_GOLDEN: Final = 0.5 * (3.0 - math.sqrt(5.0))
_ROOT_EPS: Final = math.sqrt(2.2e-16)
MOST_CALLS: Final = 500


def least_between(
    f: Callable[[float], float], low: float, high: float, close: float = 1e-12
) -> float:
    """Where ``f`` is least between ``low`` and ``high``: the place, to about ``close``.

    Meant for a function with one valley between the bounds; with more, one of them is found.
    Near a smooth least the place is known to half the digits only, whatever ``close`` says.
    Raises ValueError unless both bounds are finite and ``low`` < ``high``.
    """
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise ValueError(f"no room to look in between {low} and {high}")
    a, b = low, high
    best = second = third = a + _GOLDEN * (b - a)
    f_best = f_second = f_third = f(best)
    step = before = 0.0
    calls = 1
    while calls < MOST_CALLS:
        middle = 0.5 * (a + b)
        least = _ROOT_EPS * abs(best) + close / 3.0
        if not abs(best - middle) > 2.0 * least - 0.5 * (b - a):
            break
        golden = True
        if abs(before) > least:
            r = (best - second) * (f_best - f_third)
            q = (best - third) * (f_best - f_second)
            p = (best - third) * q - (best - second) * r
            q = 2.0 * (q - r)
            if q > 0.0:
                p = -p
            q = abs(q)
            r, before = before, step
            if abs(p) < abs(0.5 * q * r) and q * (a - best) < p < q * (b - best):
                golden = False
                step = (p + 0.0) / q
                place = best + step
                if place - a < 2.0 * least or b - place < 2.0 * least:
                    step = least if middle >= best else -least
        if golden:
            before = a - best if best >= middle else b - best
            step = _GOLDEN * before
        place = best + (1.0 if step >= 0.0 else -1.0) * max(abs(step), least)
        value = f(place)
        calls += 1
        if value <= f_best:
            if place >= best:
                a = best
            else:
                b = best
            third, f_third = second, f_second
            second, f_second = best, f_best
            best, f_best = place, value
        else:
            if place < best:
                a = place
            else:
                b = place
            if value <= f_second or second == best:
                third, f_third = second, f_second
                second, f_second = place, value
            elif value <= f_third or third in (best, second):
                third, f_third = place, value
    return best
