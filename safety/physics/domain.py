"""Bounds on what a formula may be given, with a message that says what to give instead."""

import math

from ..catalogue import _


def positive(name: str, value: float, unit: str) -> float:
    """Return ``value`` if it is finite and above zero.

    Raises ValueError naming the quantity, the value and what is wanted.
    """
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(
            _(
                "{name} is {value!r}: give a finite value above 0 {unit}",
                name=name,
                value=value,
                unit=unit,
            )
        )
    return value


def not_negative(name: str, value: float, unit: str) -> float:
    """Return ``value`` if it is finite and zero or above.

    Raises ValueError naming the quantity, the value and what is wanted.
    """
    if not (math.isfinite(value) and value >= 0.0):
        raise ValueError(
            _(
                "{name} is {value!r}: give a finite value of 0 {unit} or above",
                name=name,
                value=value,
                unit=unit,
            )
        )
    return value


def share(name: str, value: float) -> float:
    """Return ``value`` if it is a share from 0 to 1, both included.

    Raises ValueError naming the quantity, the value and what is wanted.
    """
    if not 0.0 <= value <= 1.0:
        raise ValueError(
            _(
                "{name} is {value!r}: give a share from 0 to 1, not a percentage",
                name=name,
                value=value,
            )
        )
    return value


def within(name: str, value: float, low: float, high: float, unit: str) -> None:
    """Refuse ``value`` unless it lies from ``low`` to ``high``, both included.

    Raises ValueError naming the quantity, the value and the range.
    """
    if not low <= value <= high:
        raise ValueError(
            _(
                "{name} is {value!r}: give a value from {low:g} to {high:g} {unit}",
                name=name,
                value=value,
                low=low,
                high=high,
                unit=unit,
            )
        )
