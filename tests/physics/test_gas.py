"""Air properties against handbook code, reference equations of state and a published value."""

import math

import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.physics.gas import R_AIR, density_kg_m3, standard_atmosphere, viscosity_pa_s

from tests.physics.reference import props

ATM_PA = 101325.0

# degC, density kg/m3 (ideal gas, R = 287.053), viscosity uPa s (Sutherland): computed with
# the constants of the US Standard Atmosphere 1976.
TABLE = [
    (15.0, 1.22500, 17.894),
    (20.0, 1.20411, 18.134),
    (100.0, 0.94596, 21.734),
    (150.0, 0.83418, 23.786),
    (200.0, 0.74603, 25.714),
    (280.0, 0.63813, 28.586),
    (300.0, 0.61587, 29.268),
    (400.0, 0.52438, 32.498),
    (600.0, 0.40426, 38.247),
]

# US Standard Atmosphere 1976, NOAA-S/T 76-1562, Table I: geometric m -> K, Pa, kg/m3.
STANDARD = [
    (0.0, 288.150, 101325.0, 1.22500),
    (250.0, 286.525, 98357.7, 1.19587),
    (500.0, 284.900, 95461.3, 1.16727),
    (1000.0, 281.651, 89876.3, 1.11166),
    (1500.0, 278.402, 84559.7, 1.05810),
    (2000.0, 275.154, 79501.4, 1.00655),
    (3000.0, 268.659, 70121.2, 0.90925),
]


@pytest.mark.parametrize(("degc", "density", "viscosity"), TABLE)
def test_air_follows_the_tabulated_density_and_viscosity(
    degc: float, density: float, viscosity: float
) -> None:
    assert density_kg_m3(ATM_PA, degc + 273.15) == pytest.approx(density, abs=6e-6)
    assert viscosity_pa_s(degc + 273.15) * 1e6 == pytest.approx(viscosity, rel=1e-4)


@pytest.mark.parametrize("degc", [row[0] for row in TABLE])
def test_air_is_close_to_the_reference_equation_of_state(degc: float) -> None:
    # Lemmon, Jacobsen, Penoncello, Friend, J. Phys. Chem. Ref. Data 29 (2000) 331; Lemmon and
    # Jacobsen, Int. J. Thermophys. 25 (2004) 21; as in CoolProp.
    kelvin = degc + 273.15
    true_density = props("D", "T", kelvin, "P", ATM_PA, "Air")
    true_viscosity = props("V", "T", kelvin, "P", ATM_PA, "Air")
    assert density_kg_m3(ATM_PA, kelvin) == pytest.approx(true_density, rel=1e-3)
    assert viscosity_pa_s(kelvin) == pytest.approx(true_viscosity, rel=0.035)
    assert viscosity_pa_s(kelvin) < true_viscosity, "Sutherland is on the low side here"


def test_viscosity_at_200_degc_is_within_1_5_percent_of_the_reference() -> None:
    assert viscosity_pa_s(473.15) == pytest.approx(2.5714e-5, rel=1e-4)
    assert viscosity_pa_s(473.15) == pytest.approx(2.6046e-5, rel=0.015)


def test_air_at_280_degc_agrees_with_a_published_exhaust_value() -> None:
    # Konstandopoulos et al., SAE 2000-01-1016 (2000), Table A1: 0.64 kg/m3, 2.87e-5 Pa s.
    assert viscosity_pa_s(553.15) == pytest.approx(2.87e-5, rel=5e-3)
    assert density_kg_m3(ATM_PA, 553.15) == pytest.approx(0.64, abs=0.005)


@pytest.mark.parametrize(("altitude_m", "kelvin", "pascal", "density"), STANDARD)
def test_standard_atmosphere_follows_its_published_table(
    altitude_m: float, kelvin: float, pascal: float, density: float
) -> None:
    air = standard_atmosphere(altitude_m)
    assert air.temperature_k == pytest.approx(kelvin, abs=1e-3)
    assert air.pressure_pa == pytest.approx(pascal, abs=0.1)
    assert density_kg_m3(air.pressure_pa, air.temperature_k) == pytest.approx(density, rel=1e-5)


@given(st.floats(-600.0, 11000.0))
def test_standard_atmosphere_agrees_with_an_independent_program(altitude_m: float) -> None:
    reference = ATMOSPHERE_1976(altitude_m)
    air = standard_atmosphere(altitude_m)
    assert air.temperature_k == pytest.approx(reference.T, rel=1e-6)
    assert air.pressure_pa == pytest.approx(reference.P, rel=1e-5)


def test_gas_constant_of_air_is_that_of_the_standard() -> None:
    # US Standard Atmosphere 1976, Table 2: R* = 8314.32 N m/(kmol K), M0 = 28.9644 kg/kmol.
    assert pytest.approx(287.053, abs=5e-4) == R_AIR


@given(st.floats(150.0, 1500.0), st.floats(1.001, 1.2))
def test_hotter_air_is_thinner_and_more_viscous(kelvin: float, factor: float) -> None:
    assert viscosity_pa_s(kelvin * factor) > viscosity_pa_s(kelvin)
    assert density_kg_m3(ATM_PA, kelvin * factor) < density_kg_m3(ATM_PA, kelvin)


@pytest.mark.parametrize("kelvin", [0.0, 99.9, 1900.1, -1.0, math.nan, math.inf])
def test_viscosity_outside_its_range_is_refused(kelvin: float) -> None:
    with pytest.raises(ValueError, match=r"temperature_k is .*: give a value from 100 to 1900 K"):
        viscosity_pa_s(kelvin)


def test_gauge_pressure_of_zero_and_absolute_zero_are_refused() -> None:
    with pytest.raises(ValueError, match=r"pressure_pa is 0\.0: .*absolute"):
        density_kg_m3(0.0, 300.0)
    with pytest.raises(ValueError, match="temperature_k is nan"):
        density_kg_m3(ATM_PA, math.nan)


@pytest.mark.parametrize("altitude_m", [-2001.0, 11001.0, math.nan])
def test_altitude_outside_the_lowest_layer_is_refused(altitude_m: float) -> None:
    with pytest.raises(ValueError, match="altitude_m"):
        standard_atmosphere(altitude_m)
