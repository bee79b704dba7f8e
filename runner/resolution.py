"""The resolution at which a computed number enters an outcome, and so the record.

A number that a program worked out is quantised before anything is decided by it: first
``quantised``, then classified. The unit at the end of a field's name says the resolution, so
whoever reads a record knows by how much two honest computations of it may differ: one step.
"""

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from typing import Final

RESOLUTIONS: Final[dict[str, str]] = {
    "mbar": "0.1",
    "pa": "10",
    "kg_s": "0.00001",
    "percent": "0.1",
    "share": "0.001",
    "ml": "0.1",
    "ml_s": "0.001",
    "s": "1",
    "ms": "1",
    "s_per_ml": "0.001",
    "min": "0.1",
    "k": "0.01",
    "g": "0.1",
    "g_s": "0.01",
    "rpm": "1",
    "mg": "1",
    "mm": "0.01",
    "km": "1",
    "km_h": "0.1",
    "kg_l": "0.001",
    "cpsi": "1",
    "um2": "0.001",
    "l_per_1000km": "0.01",
    "years": "0.1",
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
    return _rounded(name, value, ROUND_HALF_EVEN)


def at_most(name: str, value: float) -> str:
    """A number that limits from above, as the record holds it: never above ``value``, but for a
    float's noise. Raises as ``quantised``."""
    return _rounded(name, value, ROUND_FLOOR, _HAIR)


def at_least(name: str, value: float) -> str:
    """A number that limits from below, or counts against a limit: never below ``value``, but for a
    float's noise. Raises as ``quantised``."""
    return _rounded(name, value, ROUND_CEILING, -_HAIR)


_HAIR: Final = Decimal("1e-6")
"""Share of a step that is a float's noise: 15.0 mL worked as 14.9999999 stays 15.0."""


def _rounded(name: str, value: float, rounding: str, hair: Decimal = Decimal(0)) -> str:
    exact = Decimal(repr(float(value)))
    if not exact.is_finite():
        raise ValueError(f"{name}: {value!r} is no finite number")
    step = Decimal(RESOLUTIONS[unit_of(name)])
    rounded = (exact / step + hair).to_integral_value(rounding) * step
    return f"{rounded + 0:f}"


_TAKEN: Final[dict[str, tuple[str, float]]] = {
    "pressure": ("pa", 1.0),
    "temperature": ("k", 1.0),
    "temperature_difference": ("k", 1.0),
    "absolute_pressure": ("pa", 1.0),
    "mass_flow": ("g_s", 1e3),
    "stroke_mass": ("mg", 1e6),
    "road_speed": ("km_h", 3.6),
    "distance": ("km", 1e-3),
    "volume_rate": ("ml_s", 1e6),
    "length": ("mm", 1e3),
    "density": ("kg_l", 1e-3),
    "cell_density": ("cpsi", 0.0254**2),
    "permeability": ("um2", 1e12),
    "oil_use": ("l_per_1000km", 1.0),
    "volume": ("ml", 1e6),
    "mass": ("g", 1e3),
    "time": ("s", 1.0),
    "speed": ("rpm", 1.0),
    "share": ("percent", 100.0),
    "years": ("years", 1.0),
}
"""Unit in which a typed quantity is recorded, and its factor from the inside unit."""


def taken(quantity: str, value: float) -> dict[str, str]:
    """What a typed quantity (inside unit) is recorded as: its name, and the number by its unit.

    ``taken("distance", 148e6)`` is ``{"quantity": "distance", "km": "148000"}``. Raises
    NoResolution for a quantity that has no unit here.
    """
    if quantity not in _TAKEN:
        raise NoResolution(f"no resolution is stated for {quantity!r}")
    unit, factor = _TAKEN[quantity]
    return {"quantity": quantity, unit: quantised(unit, value * factor)}


def agrees(name: str, recorded: str, computed: str) -> bool:
    """Whether two decimals of ``name`` differ by one step of its resolution at most."""
    return abs(Decimal(recorded) - Decimal(computed)) <= Decimal(RESOLUTIONS[unit_of(name)])
