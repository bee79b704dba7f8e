"""Factors of units, and what is said of a unit that is not read here.

Checked against A. Thompson, B. N. Taylor, "Guide for the Use of the International System of Units
(SI)", NIST Special Publication 811 (2008 edition), Appendix B.8 and B.9, and against the list of
the unit library pint.
"""

import subprocess
import sys
from decimal import Decimal

import pint
import pytest
from steplatch.runner.input.quantities import BadQuantity, parse_quantity
from steplatch.runner.input.units import DIMENSIONS, FACTORS, convert

from tests.each import each

# Unit, dimension, SI value of 1 in all figures that SP 811 prints, and whether it is exact (by
# the definitions of the units).
SP_811 = [
    ("psi", "pressure", "6.894757E+03", False),
    ("mmHg", "pressure", "1.333224E+02", False),  # millimeter of mercury, conventional
    ("inHg", "pressure", "3.386389E+03", False),  # inch of mercury, conventional
    ("inH2O", "pressure", "2.490889E+02", False),  # inch of water, conventional
    ("mmH2O", "pressure", "9.80665E+00", True),  # millimeter of water, conventional
    ("bar", "pressure", "1.0E+05", True),
    ("mbar", "pressure", "1.0E+02", True),
    ("psi abs", "absolute_pressure", "6.894757E+03", False),
    ("in", "length", "2.54E-02", True),
    ("miles", "distance", "1.609344E+03", True),
    ("mph", "road_speed", "4.4704E-01", True),
    ("L", "volume", "1.0E-03", True),
    ("min", "time", "6.0E+01", True),
    ("h", "time", "3.6E+03", True),
]

# SI prefixes and definitions only (hecto 10^2, kilo 10^3, milli 10^-3, micro 10^-6).
BY_DEFINITION = [
    ("1 hPa", "pressure", 100.0),
    ("1 kPa", "pressure", 1000.0),
    ("1 Pa", "pressure", 1.0),
    ("1 cm3", "volume", 1e-6),
    ("1 mL", "volume", 1e-6),
    ("1 m3", "volume", 1.0),
    ("36 kg/h", "mass_flow", 0.01),
    ("1 g/s", "mass_flow", 0.001),
    ("1 mg/stroke", "stroke_mass", 1e-6),
    ("6 L/min", "volume_rate", 1e-4),
    ("60 mL/min", "volume_rate", 1e-6),
    ("1 cm", "length", 0.01),
    ("1 µm", "length", 1e-6),
    ("1 kg", "mass", 1.0),
    ("1 km", "distance", 1000.0),
    ("36 km/h", "road_speed", 10.0),
    ("1 %", "share", 0.01),
    ("1 kg/L", "density", 1000.0),
    ("1 g/mL", "density", 1000.0),
    ("1 µm2", "permeability", 1e-12),
    ("1 1/cm2", "cell_density", 1e4),
    ("820 1/min", "speed", 820.0),
    ("0.1 L/1000km", "oil_use", 0.1),
    ("20 K", "temperature_difference", 20.0),
]


@pytest.mark.parametrize(("unit", "dimension", "printed", "exact"), SP_811)
def test_a_factor_agrees_with_sp_811_in_every_printed_figure(
    unit: str, dimension: str, printed: str, exact: bool
) -> None:
    value = Decimal(repr(parse_quantity(f"1 {unit}", dimension).si_value))
    expected = Decimal(printed)
    if exact:
        assert value == expected
    else:
        assert value.quantize(expected) == expected


@each(("text", "dimension", "value"), BY_DEFINITION)
def test_a_metric_unit_is_exact(text: str, dimension: str, value: float) -> None:
    assert parse_quantity(text, dimension).si_value == value


def test_a_known_unit_never_loads_the_unit_library() -> None:
    code = (
        "import sys, steplatch.runner.input.quantities as q; "
        "q.parse_quantity('1 psi', 'pressure'); "
        "q.format_si(300.0, 'temperature', unit='°F'); assert 'pint' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


@pytest.mark.parametrize(
    ("text", "dimension", "said"),
    [
        # SP 811 (2008), B.8: standard atmosphere 1.01325 E+05 Pa, torr 1.333224 E+02 Pa, pound
        # 4.535924 E-01 kg, foot 3.048 E-01 m, yard 9.144 E-01 m, US gallon 3.785412 E-03 m3,
        # kilogram-force per square centimeter 9.80665 E+04 Pa.
        ("0.3 atm", "pressure", "0.3 atm is about 304 mbar"),
        ("12 torr", "pressure", "12 torr is about 16 mbar"),
        ("5000 N/m2", "pressure", "5000 N/m2 is about 50 mbar"),
        ("1 kgf/cm2", "pressure", "1 kgf/cm2 is about 980.7 mbar"),
        ("12 lb/h", "mass_flow", "12 lb/h is about 1.512 g/s"),
        ("0,5 ft", "length", "0.5 ft is about 152.4 mm"),
        ("2 gal", "volume", "2 gal is about 7571 mL"),
    ],
)
def test_a_unit_that_is_not_read_here_is_refused_with_what_it_would_be(
    text: str, dimension: str, said: str
) -> None:
    with pytest.raises(BadQuantity) as refused:
        parse_quantity(text, dimension)
    assert refused.value.problem.endswith(
        f"no unit known here; {DIMENSIONS[dimension].words} is wanted"
    )
    assert refused.value.remedy.endswith(f". {said}; type that if you mean it")
    assert refused.value.remedy.startswith(f"Type it like {DIMENSIONS[dimension].example}")


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("3 foo", "pressure"),
        ("3 m3/h", "mass_flow"),  # of another kind
        ("3 ba", "pressure"),  # so small that nobody means it
        ("3 rad/s", "speed"),  # a radian is not a turn
        ("3 atm abs", "absolute_pressure"),
        ("3 degR", "temperature"),
        ("3 m**999999999", "length"),
        ("3 __class__", "length"),
        ("3 lambda/None", "length"),
    ],
)
def test_what_the_unit_library_cannot_settle_is_refused_without_a_guess(
    text: str, dimension: str
) -> None:
    with pytest.raises(BadQuantity) as refused:
        parse_quantity(text, dimension)
    assert "is about" not in refused.value.remedy


def test_every_factor_is_that_of_the_unit_library() -> None:
    """Factors and offsets against pint's list, which cites CODATA and NIST, to 1e-12."""
    whole: pint.UnitRegistry[Decimal] = pint.UnitRegistry(non_int_type=Decimal)
    whole.define("liter_per_1000_km = 0.001 liter / kilometer")
    used = {name for row in DIMENSIONS.values() for name in (*row.units.values(), row.inside)}
    assert used == set(FACTORS)
    for row in DIMENSIONS.values():
        for shown, name in row.units.items():
            for number in (Decimal("12.5"), Decimal(0), Decimal(-40)):
                there = (
                    whole.Quantity(number, whole.Unit(name)).to(whole.Unit(row.inside)).magnitude
                )
                ours = convert(number, name, row.inside)
                near = max(abs(Decimal(there)), Decimal("1e-15")) * Decimal("1e-12")
                assert abs(ours - Decimal(there)) <= near, (row.name, shown)
                back = convert(ours, row.inside, name)
                assert abs(back - number) <= Decimal("1e-50"), (row.name, shown)
            assert parse_quantity(f"12.5 {shown}", row.name).si_value == float(
                whole.Quantity(Decimal("12.5"), whole.Unit(name))
                .to(whole.Unit(row.inside))
                .magnitude
            )
