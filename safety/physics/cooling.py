"""Cooling of the exhaust towards the air around it, from two temperature readings.

Lumped cooling: ``(T - T_air)`` falls as ``exp(-t / tau)`` (Incropera and DeWitt,
Fundamentals of Heat and Mass Transfer, eq. 5.6). A real exhaust is not lumped: radiation
makes it fall faster at first, and heat from core and engine makes it fall slower later.
So tau is fitted from readings, never assumed, and a wait comes as a band. Time since the
engine stopped never replaces a reading.
"""

import math
from dataclasses import dataclass
from typing import Final

from ..catalogue import _
from .domain import not_negative, positive

SLOWER_LATER: Final = 1.4
"""Factor on the lumped wait for the slow side. Design choice: a hot core inside its can."""


@dataclass(frozen=True, slots=True)
class Wait:
    """A wait as a band, s: ``fast_s`` if cooling is lumped, ``slow_s`` if it flattens."""

    fast_s: float
    slow_s: float


def time_constant_s(first_k: float, second_k: float, between_s: float, ambient_k: float) -> float:
    """Time constant, s, from two readings ``between_s`` apart and the air temperature in K.

    ``between / ln((T1 - T_air) / (T2 - T_air))``. Raises ValueError, saying why, when the
    readings do not show cooling towards the air.

    >>> round(time_constant_s(447.15, 441.15, 60.0, 293.15), 0)
    1510.0
    """
    for name, value in (("first_k", first_k), ("second_k", second_k), ("ambient_k", ambient_k)):
        positive(name, value, "K")
    positive("between_s", between_s, "s")
    if second_k <= ambient_k:
        raise ValueError(
            _(
                "second_k is {second_k:g} K, not above the air at {ambient_k:g} K: nothing "
                "is left to cool, or one of the two is read wrongly; measure both again",
                second_k=second_k,
                ambient_k=ambient_k,
            )
        )
    if first_k <= second_k:
        raise ValueError(
            _(
                "first_k is {first_k:g} K and second_k {second_k:g} K: not cooling; wait and "
                "take two new readings, the later one lower",
                first_k=first_k,
                second_k=second_k,
            )
        )
    return between_s / math.log((first_k - ambient_k) / (second_k - ambient_k))


def time_to_reach_s(
    time_constant_s: float, start_k: float, target_k: float, ambient_k: float
) -> float:
    """Time, s, to go from ``start_k`` to ``target_k`` by lumped cooling (or heating).

    ``tau ln((T_start - T_air) / (T_target - T_air))``. Raises ValueError when the target is
    never reached: on the far side of the air temperature, or further off than the start.

    >>> round(time_to_reach_s(16.0, 1000.0, 350.0, 300.0), 2)
    42.22
    """
    positive("time_constant_s", time_constant_s, "s")
    for name, value in (("start_k", start_k), ("target_k", target_k), ("ambient_k", ambient_k)):
        positive(name, value, "K")
    from_air, to_air = start_k - ambient_k, target_k - ambient_k
    if from_air * to_air <= 0.0:
        raise ValueError(
            _(
                "target_k is {target_k:g} K: with air at {ambient_k:g} K it is never reached "
                "from {start_k:g} K; choose a target between the two",
                target_k=target_k,
                ambient_k=ambient_k,
                start_k=start_k,
            )
        )
    if abs(to_air) > abs(from_air):
        raise ValueError(
            _(
                "target_k is {target_k:g} K, further from the air at {ambient_k:g} K than "
                "the start at {start_k:g} K: it is already passed",
                target_k=target_k,
                ambient_k=ambient_k,
                start_k=start_k,
            )
        )
    return time_constant_s * math.log(from_air / to_air)


def cooling_wait_s(
    first_k: float,
    second_k: float,
    between_s: float,
    ambient_k: float,
    target_k: float,
    reading_step_k: float = 0.0,
) -> Wait:
    """Wait from the second reading until ``target_k``, s, as a band.

    ``reading_step_k`` is the step of the thermometer: the fall may be that much larger
    (fast side) or smaller (slow side) than read; the slow side also carries
    :data:`SLOWER_LATER`. Zero wait when the second reading is at or below the target.
    Raises ValueError as :func:`time_constant_s` and :func:`time_to_reach_s` do, and when
    the fall is no larger than the step.

    >>> wait = cooling_wait_s(447.15, 441.15, 60.0, 293.15, 373.15)
    >>> round(wait.fast_s / 60, 1), round(wait.slow_s / 60, 1)
    (15.5, 21.7)
    """
    not_negative("reading_step_k", reading_step_k, "K")
    time_constant_s(first_k, second_k, between_s, ambient_k)
    if second_k <= target_k:
        return Wait(fast_s=0.0, slow_s=0.0)
    if first_k - second_k <= reading_step_k:
        raise ValueError(
            _(
                "the reading fell by {first_k:g} K, no more than its step of "
                "{reading_step_k:g} K: leave more time between the two readings",
                first_k=first_k - second_k,
                reading_step_k=reading_step_k,
            )
        )
    quick = time_constant_s(first_k + reading_step_k, second_k, between_s, ambient_k)
    slow = time_constant_s(first_k - reading_step_k, second_k, between_s, ambient_k)
    return Wait(
        fast_s=time_to_reach_s(quick, second_k, target_k, ambient_k),
        slow_s=SLOWER_LATER * time_to_reach_s(slow, second_k, target_k, ambient_k),
    )
