"""The resolution at which a computed number enters an outcome, and so the record.

A number that a program worked out is quantised before anything is decided by it: first
``quantised``, then classified. The unit at the end of a field's name says the resolution, so
whoever reads a record knows by how much two honest computations of it may differ: one step.
"""

from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

RESOLUTIONS: Final[dict[str, str]] = {
    "mbar": "0.1",
    "pa": "10",
    "percent": "0.1",
    "share": "0.001",
    "ml": "0.1",
    "s": "1",
    "min": "0.1",
    "k": "0.1",
    "g": "0.1",
    "g_s": "0.01",
    "rpm": "1",
    "km": "1",
}
"""Smallest step of a recorded number by the unit that ends its field's name (design choice)."""


class NoResolution(KeyError):  # noqa: N818 - it names what is missing
    """A field's name ends in no unit that has a resolution: a mistake of the programmer."""


def unit_of(name: str) -> str:
    """The unit that ends ``name``, the longest that fits. Raises NoResolution."""
    fits = [unit for unit in RESOLUTIONS if name == unit or name.endswith(f"_{unit}")]
    if not fits:
        raise NoResolution(f"{name!r} ends in no unit with a resolution")
    return max(fits, key=len)


def quantised(name: str, value: float) -> str:
    """``value`` as the decimal text that a record holds under ``name``, half to even.

    ``quantised("level_mbar", 30.049)`` is ``"30.0"``. Raises NoResolution, and ValueError for
    what is no finite number.
    """
    exact = Decimal(repr(float(value)))
    if not exact.is_finite():
        raise ValueError(f"{name}: {value!r} is no finite number")
    step = Decimal(RESOLUTIONS[unit_of(name)])
    rounded = (exact / step).to_integral_value(ROUND_HALF_EVEN) * step
    return str(rounded + 0)


def agrees(name: str, recorded: str, computed: str) -> bool:
    """Whether two decimals of ``name`` differ by one step of its resolution at most."""
    return abs(Decimal(recorded) - Decimal(computed)) <= Decimal(RESOLUTIONS[unit_of(name)])
