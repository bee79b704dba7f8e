"""Drying times against steam data and common practice."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.physics.drying import (
    EXHAUST_HEAT_J_KG_K,
    WATER_HEAT_J_KG_K,
    boiling_point_k,
    drying_time_s,
    latent_heat_j_kg,
)

from tests.physics.reference import props


def degc(value: float) -> float:
    return value + 273.15


# IAPWS-95, Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387, as in CoolProp.
@pytest.mark.parametrize("pascal", [70e3, 79501.4, 84559.7, 89876.3, 101325.0, 110e3])
def test_boiling_point_agrees_with_the_steam_formulation(pascal: float) -> None:
    reference = props("T", "P", pascal, "Q", 0, "Water")
    assert boiling_point_k(pascal) == pytest.approx(reference, abs=0.03)


def test_water_boils_near_95_degc_at_1500_m() -> None:
    # Wagner and Pruss 2002 at 84559.7 Pa (US Standard Atmosphere 1976, 1500 m): 94.99 degC.
    assert boiling_point_k(84559.7) - 273.15 == pytest.approx(94.99, abs=0.03)


@pytest.mark.parametrize("kelvin", [303.15, 333.15, 363.15, 373.124, 383.15])
def test_latent_heat_agrees_with_the_steam_formulation(kelvin: float) -> None:
    vapour = props("H", "T", kelvin, "Q", 1, "Water")
    liquid = props("H", "T", kelvin, "Q", 0, "Water")
    assert latent_heat_j_kg(kelvin) == pytest.approx(vapour - liquid, rel=4e-3)


def test_heat_to_warm_water_agrees_with_the_steam_formulation() -> None:
    hot = props("H", "T", 372.0, "P", 101325.0, "Water")
    cold = props("H", "T", 293.15, "P", 101325.0, "Water")
    assert pytest.approx((hot - cold) / (372.0 - 293.15), rel=5e-3) == WATER_HEAT_J_KG_K


def test_heat_of_exhaust_is_on_the_low_side_of_dry_air() -> None:
    hot = props("H", "T", 523.15, "P", 101325.0, "Air")
    cold = props("H", "T", 373.15, "P", 101325.0, "Air")
    mean = (hot - cold) / 150.0
    assert mean * 0.98 < EXHAUST_HEAT_J_KG_K < mean


@pytest.mark.parametrize(
    ("flow_g_s", "gas_degc", "low_min", "high_min"),
    # Common practice, no source: 1 L dries in 8 to 12 min at raised revs (35 g/s, 200 to
    # 250 degC); in 45 to 90 min at idle.
    [(35.0, 205.0, 8.0, 12.0), (35.0, 250.0, 8.0, 12.0), (10.0, 150.0, 45.0, 90.0),
     (11.0, 170.0, 45.0, 90.0)],
)  # fmt: skip
def test_a_litre_dries_in_the_time_that_the_trade_expects(
    flow_g_s: float, gas_degc: float, low_min: float, high_min: float
) -> None:
    seconds = drying_time_s(1.0, flow_g_s * 1e-3, degc(gas_degc), degc(100.0), degc(20.0), 1.0)
    assert low_min <= seconds / 60.0 <= high_min


def test_energy_is_balanced() -> None:
    seconds = drying_time_s(0.3, 0.02, degc(200.0), degc(100.0), degc(20.0), 0.7)
    given_j = 0.7 * 0.02 * 1010.0 * 100.0 * seconds
    needed_j = 0.3 * (4200.0 * 80.0 + latent_heat_j_kg(373.15))
    assert given_j == pytest.approx(needed_j, rel=1e-12)


def test_fluid_that_starts_above_boiling_needs_no_warming() -> None:
    warm = drying_time_s(0.3, 0.02, degc(200.0), degc(95.0), degc(100.0), 0.7)
    assert warm == pytest.approx(0.3 * latent_heat_j_kg(degc(95.0)) / (0.7 * 0.02 * 1010 * 105.0))


def test_no_water_takes_no_time() -> None:
    assert drying_time_s(0.0, 0.02, degc(200.0), degc(100.0), degc(20.0), 0.7) == 0.0


@given(st.floats(0.001, 2.0), st.floats(0.005, 0.05), st.floats(105.0, 300.0), st.floats(0.1, 0.9))
def test_more_water_or_a_cooler_or_thinner_stream_always_takes_longer(
    water: float, flow: float, gas: float, share: float
) -> None:
    def seconds(water_kg: float, kg_s: float, gas_degc: float, part: float) -> float:
        return drying_time_s(water_kg, kg_s, degc(gas_degc), degc(100.0), degc(20.0), part)

    base = seconds(water, flow, gas, share)
    assert seconds(water * 1.1, flow, gas, share) > base
    assert seconds(water, flow * 1.1, gas, share) < base
    assert seconds(water, flow, gas + 1.0, share) < base
    assert seconds(water, flow, gas, share + 0.05) < base


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: boiling_point_k(60e3), "pressure_pa"),
        (lambda: boiling_point_k(115e3), "from 70000 to 110000 Pa"),
        (lambda: latent_heat_j_kg(400.0), "temperature_k"),
        (lambda: drying_time_s(-1.0, 0.02, 450.0, 373.0, 293.0, 0.7), "water_kg"),
        (lambda: drying_time_s(1.0, 0.0, 450.0, 373.0, 293.0, 0.7), "exhaust_kg_s"),
        (lambda: drying_time_s(1.0, 0.02, math.nan, 373.0, 293.0, 0.7), "gas_in_k"),
        (lambda: drying_time_s(1.0, 0.02, 450.0, 373.0, 0.0, 0.7), "water_start_k"),
        (lambda: drying_time_s(1.0, 0.02, 450.0, 373.0, 293.0, 70.0), "not a percentage"),
        (lambda: drying_time_s(1.0, 0.02, 450.0, 373.0, 293.0, 0.0), "heat_share"),
        (lambda: drying_time_s(1.0, 0.02, 373.0, 373.0, 293.0, 0.7), "too cold to dry"),
    ],
)
def test_exhaust_that_cannot_dry_is_refused_saying_why(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
