"""The least value between two bounds is found, digit for digit as another program finds it."""

import math
import random
from collections.abc import Callable

import pytest
from steplatch.runner.assess.least import MOST_CALLS, least_between


def valleys(rng: random.Random) -> Callable[[float], float]:
    """A made-up function: waves on a parabola with a kink."""
    a, b, c, d, e = (rng.uniform(-2, 2) for _ in range(5))
    return lambda v: a * math.sin(3 * b * v + c) + d * (v - e) ** 2 + abs(v) ** 1.5


def test_the_place_is_to_every_digit_that_of_scipys_bounded_search() -> None:
    from scipy.optimize import minimize_scalar

    rng = random.Random(7)
    for _ in range(300):
        f, low = valleys(rng), rng.uniform(-5, 5)
        high = low + rng.uniform(1e-6, 8)
        other = minimize_scalar(f, bounds=(low, high), method="bounded", options={"xatol": 1e-12})
        assert least_between(f, low, high) == float(other.x)


def test_a_known_least_is_found_to_half_the_digits() -> None:
    # x^3 - 2 x - 5: 3 x^2 - 2 = 0 at sqrt(2/3), by hand.
    assert least_between(lambda x: x**3 - 2 * x - 5, 0.0, 1.0) == pytest.approx(
        math.sqrt(2 / 3), abs=1e-7
    )
    assert least_between(lambda x: x, 2.0, 3.0) == pytest.approx(2.0, abs=1e-7)
    assert least_between(lambda x: -x, 2.0, 3.0) == pytest.approx(3.0, abs=1e-7)


def test_a_search_that_never_settles_ends() -> None:
    calls = []
    rng = random.Random(1)

    def noise(x: float) -> float:
        calls.append(x)
        return rng.random()

    assert 0.0 <= least_between(noise, 0.0, 1.0, close=0.0) <= 1.0
    assert len(calls) <= MOST_CALLS


@pytest.mark.parametrize("bounds", [(1.0, 1.0), (2.0, 1.0), (0.0, math.inf), (math.nan, 1.0)])
def test_bounds_without_room_are_refused(bounds: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="no room"):
        least_between(math.cos, *bounds)
