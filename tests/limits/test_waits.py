"""Drying and cooling waits."""

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.limits import (
    drying,
    work_limits,
)
from steplatch.safety.limits.waits import drying_at_most

from tests.limits.cars import FLUID, GUN, USUAL, WORKSHOP

LIMITS = work_limits(USUAL, FLUID, WORKSHOP, GUN)


def degc(value: float) -> float:
    return value + 273.15


def test_drying_at_raised_revs_credits_no_more_than_the_trade_expects() -> None:
    # Common practice, no source: 1 L in 8 to 12 min at 35 g/s and 200 to 250 degC.
    seconds = drying(1e-3, USUAL, FLUID, WORKSHOP, 2400.0, degc(225.0), 0.035).value
    assert seconds > 8 * 60
    assert seconds == pytest.approx(9.8 * 60 / 0.7, rel=0.01)


def test_drying_at_idle_credits_no_more_than_the_trade_expects() -> None:
    # Common practice, no source: 1 L in 45 to 90 min at idle.
    seconds = drying(1e-3, USUAL, FLUID, WORKSHOP, 820.0, degc(160.0), 0.010).value
    assert seconds > 45 * 60


def test_the_slow_end_counts_a_cold_core_and_a_quarter_that_is_wet() -> None:
    """By hand: 3 L of 0.74 kJ/(L K) from 20 to 100 degC by 40 g/s of 220 degC, of which 0.7 counts:
    2.22 kJ/K / (0.7 x 0.0404 kW/K) x ln(200 / 120) = 40.1 s. Half the heat reaches the water, so
    it takes twice the time."""
    for dose_ml in (15, 250):
        slow = drying_at_most(dose_ml * 1e-6, USUAL, FLUID, WORKSHOP, 2400.0, degc(220.0), 0.040)
        least = drying(dose_ml * 1e-6, USUAL, FLUID, WORKSHOP, 2400.0, degc(220.0), 0.040)
        assert slow.cold_s == pytest.approx(40.1, rel=0.01)
        assert slow.wet_s == pytest.approx(2 * least.value, rel=1e-9)
        assert least.lines[-1].endswith(f"= {slow.cold_s + slow.wet_s:.4g} s")
    unknown = replace(USUAL, filter_volume_m3=None)
    assert drying_at_most(1e-4, unknown, FLUID, WORKSHOP, 2400.0).cold_s > (
        drying_at_most(1e-4, USUAL, FLUID, WORKSHOP, 2400.0).cold_s
    )


def test_estimates_are_on_the_low_side_and_said_to_be_estimates() -> None:
    guess = drying(3e-4, USUAL, FLUID, WORKSHOP, 2400.0)
    read = drying(3e-4, USUAL, FLUID, WORKSHOP, 2400.0, degc(220.0), 0.040)
    assert guess.value > read.value
    assert len(guess.assumptions) == 2 and read.assumptions == ()
    idle = drying(3e-4, USUAL, FLUID, WORKSHOP, 820.0)
    assert idle.value > 5 * guess.value
    assert "130 degC taken" in idle.assumptions[1]
    assert "200 degC taken" in guess.assumptions[1]


def test_the_estimated_idle_airflow_is_that_of_open_recirculation() -> None:
    # Common practice, no source: 2.0 L at 800 1/min with recirculation open, 8.8 g/s.
    line = next(
        text
        for text in drying(3e-4, USUAL, FLUID, WORKSHOP, 800.0).lines
        if text.startswith("air flow")
    )
    flow = float(re.findall(r"([\d.]+) g/s", line)[0])
    assert flow == pytest.approx(8.8, rel=0.02)
    # 2 L at 800 1/min, half of it a turn, filled to 0.85 with air of 101325 / (287.05 x 293.15)
    # kg/m3, of which 0.35 is exhaust again.
    density = 101325.0 / (287.05 * 293.15)
    assert flow == pytest.approx(2.0 / 2 * 800 / 60 * density * 0.85 * (1 - 0.35), rel=5e-4)


@given(st.floats(1e-6, 1e-3), st.floats(1.01, 2.0), st.floats(110.0, 300.0))
def test_more_fluid_or_cooler_exhaust_never_dries_sooner(
    wet: float, factor: float, gas: float
) -> None:
    base = drying(wet, USUAL, FLUID, WORKSHOP, 2400.0, degc(gas)).value
    assert drying(wet * factor, USUAL, FLUID, WORKSHOP, 2400.0, degc(gas)).value > base
    assert drying(wet, USUAL, FLUID, WORKSHOP, 2400.0, degc(gas + 5.0)).value < base


def test_exhaust_counts_as_that_of_raised_revs_from_1500_on() -> None:
    assert "200 degC taken" in drying(3e-4, USUAL, FLUID, WORKSHOP, 1500.0).assumptions[1]
    assert "130 degC taken" in drying(3e-4, USUAL, FLUID, WORKSHOP, 1499.0).assumptions[1]


def test_the_heat_balance_is_written_out_in_the_units_of_its_words() -> None:
    """250 mL of water from 20 degC, gas of 33 g/s at 220 degC; 7/10 of the heat. Latent heat at
    99.97 degC 2256.5 J/g: Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387."""
    limit = drying(250e-6, USUAL, FLUID, WORKSHOP, 2400.0, degc(220.0), 0.033)
    assert [str(line) for line in limit.lines] == [
        "water, all fluid counted = 250 mL x 1 g/mL = 250 g",
        "heat needed = 250 g x (4.2 x 79.97 + 2256.5) J/g = 6.481e+05 J",
        "air flow as read: 33 g/s",
        "heat given = 0.7 x 33 g/s x 1.01 J/(g K) x (220 - 99.974) K = 2800 W",
        "time = 6.481e+05 J / 2800 W = 231.4 s",
        "slow end, a cold core and a quarter of it wet = 48.59 s + 462.9 s = 511.5 s",
    ]


def test_nothing_wet_needs_no_drying_and_times_round_up() -> None:
    assert drying(0.0, USUAL, FLUID, WORKSHOP, 820.0).whole() == 0
    limit = drying(1e-5, USUAL, FLUID, WORKSHOP, 2400.0, degc(225.0), 0.035)
    assert limit.whole() - 1 < limit.value <= limit.whole()


def test_exhaust_below_boiling_is_refused() -> None:
    with pytest.raises(ValueError, match="too cold to dry"):
        drying(3e-4, USUAL, FLUID, WORKSHOP, 820.0, degc(95.0))


def test_air_above_boiling_needs_no_warming() -> None:
    # Not a bay anyone works in; the balance must still not turn warming into a gain.
    oven = replace(WORKSHOP, air_k=degc(110.0))
    text = drying(3e-4, USUAL, FLUID, oven, 2400.0, degc(220.0), 0.03).lines[1]
    assert "4.2 x 0 +" in text


@pytest.mark.parametrize(
    ("wet", "speed", "exhaust", "air", "named"),
    [
        (-1e-6, 820.0, None, None, "wet_m3"),
        (1e-6, 0.0, None, None, "speed_rpm"),
        (1e-6, 0.0, degc(220.0), 0.03, "speed_rpm"),
        (1e-6, 820.0, -5.0, None, "exhaust_k"),
        (1e-6, 820.0, None, 0.0, "air_kg_s"),
    ],
)
def test_values_out_of_range_are_refused_by_name(
    wet: float, speed: float, exhaust: float | None, air: float | None, named: str
) -> None:
    with pytest.raises(ValueError, match=named):
        drying(wet, USUAL, FLUID, WORKSHOP, speed, exhaust, air)
