"""The units that people type, by kind of quantity, and what one of each is, exactly.

Factors are exact fractions by the definitions of the units (A. Thompson, B. N. Taylor, "Guide for
the Use of the International System of Units (SI)", NIST Special Publication 811, 2008, appendix B:
pound, inch, mile, conventional water and mercury, standard gravity), so that "2.0 L" is 0.002 m3
and not a float's neighbour. Tests hold every one to that table and to the list of the unit library
pint; to load pint and build a registry would cost a third of a second at each start.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from typing import Final

from steplatch.safety.catalogue import _


@dataclass(frozen=True, slots=True)
class Dimension:
    """One kind of quantity: its inside unit, the unit the trade reads, what people may type.

    ``units`` maps the standard spelling to pint's name, ``also`` other spellings to the
    standard one; ``lowest`` is the least value that exists, in the inside unit.
    """

    name: str
    words: str
    inside: str
    trade: str
    decimals: int
    example: str
    units: Mapping[str, str]
    also: Mapping[str, str]
    lowest: Decimal | None = None


_ZERO = Decimal(0)
_PRESSURE = {
    "mbar": "millibar", "hPa": "hectopascal", "kPa": "kilopascal", "Pa": "pascal",
    "psi": "psi", "bar": "bar", "inH2O": "inH2O", "mmH2O": "mmH2O", "mmHg": "mmHg",
    "inHg": "inHg",
}  # fmt: skip
_GAUGE_MARKS = {"barg": "bar", "bar(g)": "bar", "mbarg": "mbar", "psig": "psi", "psid": "psi"}
_ABSOLUTE = {f"{name} abs": pint_name for name, pint_name in _PRESSURE.items()}
_ABSOLUTE_MARKS = {name: f"{name} abs" for name in _PRESSURE} | {
    f"{name}{mark}": f"{name} abs"
    for name in ("bar", "mbar", "psi", "kPa")
    for mark in ("a", "(a)")
}
_MASS_FLOW = {"g/s": "gram/second", "kg/h": "kilogram/hour", "kg/s": "kilogram/second"}
_VOLUME = {"mL": "milliliter", "L": "liter", "cm3": "centimeter**3", "m3": "meter**3"}
_VOLUME_RATE = {"mL/s": "milliliter/second", "L/min": "liter/minute", "mL/min": "milliliter/minute"}
_LENGTH = {"mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "µm": "micrometer"}
_DENSITY = {"kg/L": "kilogram/liter", "g/mL": "gram/milliliter", "kg/m3": "kilogram/meter**3"}
_SPEED_ALSO = dict.fromkeys(("rpm", "rev/min", "r/min", "min-1", "min^-1", "1/minute"), "1/min")
_TEMPERATURE_ALSO = {
    "degC": "°C", "C": "°C", "degF": "°F", "F": "°F", "celsius": "°C", "fahrenheit": "°F",
    "kelvin": "K",
}  # fmt: skip


def _dimensions() -> dict[str, Dimension]:
    d = Dimension
    rows = (
        d("pressure", _("a pressure (gauge or differential)"), "pascal", "mbar", 1, "22 mbar",
          _PRESSURE, _GAUGE_MARKS),
        d("absolute_pressure", _("an absolute pressure"), "pascal", "mbar abs", 0, "1013 mbar abs",
          _ABSOLUTE, _ABSOLUTE_MARKS, _ZERO),
        d("mass_flow", _("a mass flow"), "kilogram/second", "g/s", 1, "9.0 g/s", _MASS_FLOW, {},
          _ZERO),
        d("stroke_mass", _("an air mass per stroke"), "kilogram", "mg/stroke", 0, "450 mg/stroke",
          {"mg/stroke": "milligram"}, {"mg/str": "mg/stroke"}, _ZERO),
        d("temperature", _("a temperature"), "kelvin", "°C", 0, "86 °C",
          {"°C": "degC", "°F": "degF", "K": "kelvin"}, _TEMPERATURE_ALSO, _ZERO),
        d("temperature_difference", _("a temperature difference"), "kelvin", "K", 0, "20 K",
          {"K": "kelvin", "°C": "delta_degC", "°F": "delta_degF"}, _TEMPERATURE_ALSO),
        d("speed", _("an engine speed"), "1/minute", "1/min", 0, "820 1/min",
          {"1/min": "1/minute"}, _SPEED_ALSO, _ZERO),
        d("road_speed", _("a road speed"), "meter/second", "km/h", 0, "60 km/h",
          {"km/h": "kilometer/hour", "mph": "mile/hour"}, {"kph": "km/h", "mi/h": "mph"}, _ZERO),
        d("distance", _("a distance driven"), "meter", "km", 0, "148000 km",
          {"km": "kilometer", "miles": "mile"}, {"mi": "miles", "mile": "miles"}, _ZERO),
        d("volume", _("a volume"), "meter**3", "mL", 1, "300 mL", _VOLUME,
          {"cc": "cm3", "ccm": "cm3", "litre": "L", "litres": "L", "liter": "L", "liters": "L"},
          _ZERO),
        d("volume_rate", _("a volume rate"), "meter**3/second", "mL/s", 2, "4.0 mL/s", _VOLUME_RATE,
          {}, _ZERO),
        d("length", _("a length"), "meter", "mm", 2, "150 mm", _LENGTH,
          {"inch": "in", "inches": "in", '"': "in", "um": "µm"}),
        d("mass", _("a mass"), "kilogram", "g", 1, "12 g",
          {"g": "gram", "kg": "kilogram", "mg": "milligram"}, {}, _ZERO),
        d("share", _("a share"), "dimensionless", "%", 1, "42 %", {"%": "percent"},
          {"percent": "%", "pct": "%"}),
        d("time", _("a time"), "second", "min", 1, "5 min",
          {"s": "second", "min": "minute", "h": "hour"},
          {"sec": "s", "seconds": "s", "minutes": "min", "mins": "min", "hours": "h", "hr": "h"},
          _ZERO),
        d("density", _("a density"), "kilogram/meter**3", "kg/L", 3, "1.01 kg/L", _DENSITY, {},
          _ZERO),
        d("cell_density", _("a cell density"), "1/meter**2", "cpsi", 0, "200 cpsi",
          {"cpsi": "1/inch**2", "1/cm2": "1/centimeter**2"},
          {"cells/in2": "cpsi", "cells/cm2": "1/cm2"}, _ZERO),
        d("permeability", _("a permeability"), "meter**2", "µm2", 3, "0.53 µm2",
          {"µm2": "micrometer**2"}, {"um2": "µm2"}, _ZERO),
        d("oil_use", _("an oil use"), "liter_per_1000_km", "L/1000km", 2, "0.1 L/1000km",
          {"L/1000km": "liter_per_1000_km"}, {}, _ZERO),
    )  # fmt: skip
    return {row.name: row for row in rows}


DIMENSIONS: Mapping[str, Dimension] = _dimensions()


def dimension_of(name: str) -> Dimension:
    """Return one dimension. Raises LookupError for a name that there is not."""
    if name not in DIMENSIONS:
        raise LookupError(
            _(
                "no dimension is called {name!r}; there are {dimensions}",
                name=name,
                dimensions=", ".join(DIMENSIONS),
            )
        )
    return DIMENSIONS[name]


_EXACT: Final = Context(prec=60)
_INCH: Final = Fraction("0.0254")
_G: Final = Fraction("9.80665")
_WATER: Final = 1000 * _G
_MERCURY: Final = Fraction("13595.1") * _G
_FAHRENHEIT: Final = Fraction(5, 9)

FACTORS: Final[Mapping[str, Fraction]] = {
    "pascal": Fraction(1),
    "hectopascal": Fraction(100),
    "kilopascal": Fraction(1000),
    "millibar": Fraction(100),
    "bar": Fraction(100_000),
    "psi": Fraction("0.45359237") * _G / _INCH**2,
    "inH2O": _INCH * _WATER,
    "mmH2O": _WATER / 1000,
    "mmHg": _MERCURY / 1000,
    "inHg": _INCH * _MERCURY,
    "kilogram": Fraction(1),
    "gram": Fraction(1, 1000),
    "milligram": Fraction(1, 10**6),
    "kilogram/second": Fraction(1),
    "gram/second": Fraction(1, 1000),
    "kilogram/hour": Fraction(1, 3600),
    "kelvin": Fraction(1),
    "degC": Fraction(1),
    "delta_degC": Fraction(1),
    "degF": _FAHRENHEIT,
    "delta_degF": _FAHRENHEIT,
    "1/minute": Fraction(1, 60),
    "meter/second": Fraction(1),
    "kilometer/hour": Fraction(1000, 3600),
    "mile/hour": Fraction("1609.344") / 3600,
    "meter": Fraction(1),
    "kilometer": Fraction(1000),
    "mile": Fraction("1609.344"),
    "centimeter": Fraction(1, 100),
    "millimeter": Fraction(1, 1000),
    "micrometer": Fraction(1, 10**6),
    "inch": _INCH,
    "meter**3": Fraction(1),
    "liter": Fraction(1, 1000),
    "milliliter": Fraction(1, 10**6),
    "centimeter**3": Fraction(1, 10**6),
    "meter**3/second": Fraction(1),
    "milliliter/second": Fraction(1, 10**6),
    "liter/minute": Fraction(1, 60_000),
    "milliliter/minute": Fraction(1, 60 * 10**6),
    "dimensionless": Fraction(1),
    "percent": Fraction(1, 100),
    "second": Fraction(1),
    "minute": Fraction(60),
    "hour": Fraction(3600),
    "kilogram/meter**3": Fraction(1),
    "kilogram/liter": Fraction(1000),
    "gram/milliliter": Fraction(1000),
    "1/meter**2": Fraction(1),
    "1/inch**2": 1 / _INCH**2,
    "1/centimeter**2": Fraction(10_000),
    "meter**2": Fraction(1),
    "micrometer**2": Fraction(1, 10**12),
    "liter_per_1000_km": Fraction(1, 10**9),
}
"""What one of each unit is in coherent SI units, by pint's name of the unit."""

OFFSETS: Final[Mapping[str, Fraction]] = {
    "degC": Fraction("273.15"),
    "degF": Fraction("459.67") * _FAHRENHEIT,
}
"""What a scale shows as 0, in kelvin; every other unit begins at nothing."""


def convert(number: Decimal, from_name: str, to_name: str) -> Decimal:
    """Return ``number`` of one unit in another of the same kind, exact to 60 figures.

    Raises KeyError for a name that ``FACTORS`` does not hold (a programmer's mistake).
    """
    if from_name == to_name:
        return number
    nothing = Fraction(0)
    base = Fraction(number) * FACTORS[from_name] + OFFSETS.get(from_name, nothing)
    value = (base - OFFSETS.get(to_name, nothing)) / FACTORS[to_name]
    return _EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))
