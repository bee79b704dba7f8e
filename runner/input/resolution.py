"""The resolution at which a computed number enters an outcome, and so the record.

A number that a program worked out is quantised before anything is decided by it: first
``quantised``, then classified. The unit at the end of a field's name says the resolution, so
whoever reads a record knows by how much two honest computations of it may differ: one step.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal, InvalidOperation
from typing import Any, Final

from steplatch.safety.catalogue import _

RESOLUTIONS: Final[dict[str, str]] = {
    "mbar": "0.1",
    "mbar_min": "0.001",
    "pa": "10",
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
    "degc": "0.1",
    "g_s": "0.01",
    "kg_s": "0.00001",
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
    "in_unit": "0.001",
}
"""Smallest step of a recorded number by the unit that ends its field's name (design choice)."""


class NoResolution(KeyError):  # noqa: N818 - it names what is missing
    """A field's name ends in no unit that has a resolution: a mistake of the programmer."""


def unit_of(name: str) -> str:
    """The unit that ends ``name``, the longest that fits. Raises NoResolution."""
    fits = [unit for unit in RESOLUTIONS if name == unit or name.endswith(f"_{unit}")]
    if not fits:
        raise NoResolution(_("{name!r} ends in no unit with a resolution", name=name))
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
        raise ValueError(_("{name}: {value!r} is no finite number", name=name, value=value))
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
        raise NoResolution(_("no resolution is stated for {quantity!r}", quantity=quantity))
    unit, factor = _TAKEN[quantity]
    return {"quantity": quantity, unit: quantised(unit, value * factor)}


def agrees(name: str, recorded: str, computed: str) -> bool:
    """Whether two decimals of ``name`` differ by one step of its resolution at most."""
    return abs(Decimal(recorded) - Decimal(computed)) <= Decimal(RESOLUTIONS[unit_of(name)])


class Disagreement(ValueError):  # noqa: N818 - it names the outcome
    """A recorded number that cannot be the one worked out: where, what stands, what came out."""

    def __init__(self, name: str, recorded: object, computed: str) -> None:
        super().__init__(
            _(
                "{name}: {recorded!r} is recorded, {computed} comes out",
                name=name,
                recorded=recorded,
                computed=computed,
            )
        )
        self.name = name
        self.recorded = recorded
        self.computed = computed


class Numbers:
    """The numbers of one outcome on their way to what is decided by them.

    ``take`` gives a number at its resolution, as the float nearest to the decimal that the record
    holds. Where the outcome stands already in a record, the recorded number is given, so that
    every class follows from it exactly, if it agrees with the one worked out now; else
    Disagreement is raised. ``part`` and ``each`` go into a mapping or a list of the outcome.
    ``given`` is all that was taken, as a record holds it.
    """

    def __init__(self, recorded: Any = None, again: bool | None = None, name: str = "") -> None:
        """``recorded`` is the outcome that stands; with None nothing is compared."""
        self._again = recorded is not None if again is None else again
        self._recorded = recorded
        self._name = name
        self.given: dict[str, str] = {}

    def take(self, name: str, value: float) -> float:
        """``value`` at the resolution of ``name``. Raises Disagreement and NoResolution."""
        text = computed = quantised(name, value)
        if self._again:
            found = self._recorded.get(name) if isinstance(self._recorded, Mapping) else None
            if not (isinstance(found, str) and _is_quantised(name, found)) or not agrees(
                name, found, computed
            ):
                raise Disagreement(f"{self._name}{name}", found, computed)
            text = found
        self.given[name] = text
        return float(text)

    def part(self, name: str) -> "Numbers":
        """The numbers of a mapping inside this one."""
        inside = self._recorded.get(name) if isinstance(self._recorded, Mapping) else None
        return Numbers(inside, self._again, f"{self._name}{name}.")

    def each(self, name: str, at: int) -> "Numbers":
        """The numbers of one mapping of a list inside this one, counted from 0."""
        rows = self._recorded.get(name) if isinstance(self._recorded, Mapping) else None
        inside = rows[at] if isinstance(rows, list | tuple) and at < len(rows) else None
        return Numbers(inside, self._again, f"{self._name}{name}.{at}.")


def _is_quantised(name: str, text: str) -> bool:
    try:
        return quantised(name, float(Decimal(text))) == text
    except (InvalidOperation, ValueError, OverflowError):
        return False


def outcome(value: Any, name: str = "") -> Any:
    """A result as its record holds it: mappings, lists, words, integers, and decimals as text.

    ``value`` is a dataclass, mapping, sequence or single value; a float is written at the
    resolution of the field it stands in. Raises NoResolution for a float in any other field, and
    TypeError for what no record holds.
    """
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return quantised(name, value)
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: outcome(getattr(value, f.name), f.name) for f in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): outcome(item, str(key)) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [outcome(item, name) for item in value]
    raise TypeError(f"{name}: a record holds no {type(value).__name__}")


def revived(value: Any, name: str = "") -> Any:
    """A recorded outcome for showing: its decimals floats again, all else as it stands."""
    if isinstance(value, Mapping):
        return {key: revived(item, key) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [revived(item, name) for item in value]
    if isinstance(value, str) and _has_unit(name) and _is_quantised(name, value):
        return float(value)
    return value


def _has_unit(name: str) -> bool:
    return any(name == unit or name.endswith(f"_{unit}") for unit in RESOLUTIONS)
