"""Exhaust flow against worked values and common airflow figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.physics.exhaust import (
    exhaust_mass_flow_kg_s,
    speed_density_air_kg_s,
    volume_flow_m3_s,
)


@pytest.mark.parametrize(
    ("speed_rpm", "recirculated", "grams_per_second"),
    # 2.0 L, efficiency 0.9, 101325 Pa, 313.15 K: standard four-stroke algebra, worked apart
    # with R = 287.05 J/(kg K).
    [(800.0, 0.0, 13.527), (800.0, 0.3, 9.469), (2500.0, 0.0, 42.271)],
)
def test_speed_density_air_follows_worked_values(
    speed_rpm: float, recirculated: float, grams_per_second: float
) -> None:
    air = speed_density_air_kg_s(2.0e-3, speed_rpm, 0.9, 101325.0, 313.15, recirculated)
    assert air * 1e3 == pytest.approx(grams_per_second, rel=5e-4)


def test_raised_air_in_kg_an_hour_follows_a_worked_value() -> None:
    air = speed_density_air_kg_s(2.0e-3, 2500.0, 0.9, 101325.0, 313.15, 0.0)
    assert air * 3600.0 == pytest.approx(152.17, rel=5e-4)


@pytest.mark.parametrize(
    ("litres", "idle", "raised"),
    # Common practice, no source: g/s at 800 and 2500 1/min, recirculation shut, efficiency
    # 0.85 at 20 degC.
    [(1.3, 8.8, 27.0), (1.6, 10.8, 34.0), (2.0, 13.5, 42.0), (3.0, 20.0, 63.0)],
)
def test_airflow_matches_what_technicians_expect(litres: float, idle: float, raised: float) -> None:
    for speed_rpm, expected in ((800.0, idle), (2500.0, raised)):
        air = speed_density_air_kg_s(litres * 1e-3, speed_rpm, 0.85, 101325.0, 293.15, 0.0)
        assert air * 1e3 == pytest.approx(expected, rel=0.03)


def test_exhaust_is_air_and_fuel_and_grows_with_heat() -> None:
    # Worked apart with R = 287.05 J/(kg K): 10 g/s air, air to fuel 40, 150 degC, 101325 Pa.
    mass = exhaust_mass_flow_kg_s(0.010, 40.0)
    assert mass * 1e3 == pytest.approx(10.25, rel=1e-9)
    assert volume_flow_m3_s(mass, 423.15, 101325.0) == pytest.approx(0.012287, rel=5e-4)


@given(st.floats(0.0, 0.95), st.floats(0.001, 0.05))
def test_more_recirculation_means_less_fresh_air(share: float, more: float) -> None:
    base = speed_density_air_kg_s(2.0e-3, 800.0, 0.9, 101325.0, 313.15, share)
    assert speed_density_air_kg_s(2.0e-3, 800.0, 0.9, 101325.0, 313.15, share + more) < base


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: exhaust_mass_flow_kg_s(0.0, 40.0), "air_kg_s"),
        (lambda: exhaust_mass_flow_kg_s(0.01, 0.0), "air_fuel_ratio"),
        (lambda: volume_flow_m3_s(-0.01, 400.0, 101325.0), "mass_flow_kg_s"),
        (lambda: speed_density_air_kg_s(0.0, 800.0, 0.9, 1e5, 300.0, 0.0), "displacement_m3"),
        (lambda: speed_density_air_kg_s(2e-3, 0.0, 0.9, 1e5, 300.0, 0.0), "speed_rpm"),
        (lambda: speed_density_air_kg_s(2e-3, 800.0, 0.0, 1e5, 300.0, 0.0), "volumetric"),
        (lambda: speed_density_air_kg_s(2e-3, 800.0, 0.9, 0.0, 300.0, 0.0), "pressure_pa"),
        (lambda: speed_density_air_kg_s(2e-3, 800.0, 0.9, 1e5, 300.0, 30.0), "not a percentage"),
    ],
)
def test_values_that_no_engine_has_are_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
