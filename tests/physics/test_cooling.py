"""Cooling against textbook examples and against an exhaust that is not lumped."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from steplatch.safety.physics.cooling import (
    SLOWER_LATER,
    Wait,
    cooling_wait_s,
    time_constant_s,
    time_to_reach_s,
)

AIR_K = 293.15


def degc(value: float) -> float:
    return value + 273.15


def test_thermocouple_reaches_199_degc_in_5_2_seconds() -> None:
    # Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, Example 5.1: time constant
    # 1 s, from 25 to 199 degC in gas at 200 degC; "t = 5.2 s", exact 5.159 to 5.165.
    # rho c D / (6 h) = 1 s with rho 8500, c 400, h 400 gives D = 7.06e-4 m.
    tau = 8500.0 * 400.0 * 7.06e-4 / (6.0 * 400.0)
    assert tau == pytest.approx(1.0, rel=1e-3)
    assert time_to_reach_s(1.0, degc(25.0), degc(199.0), degc(200.0)) == pytest.approx(
        math.log(175.0), rel=1e-12
    )
    assert time_to_reach_s(tau, degc(25.0), degc(199.0), degc(200.0)) == pytest.approx(
        5.16, abs=0.01
    )


def test_thermocouple_closes_99_percent_in_10_seconds() -> None:
    # Cengel, Heat Transfer, Example 4-1: D 1 mm, rho 8500, cp 320, h 210; "10 s".
    tau = 8500.0 * 320.0 * 1.0e-3 / (6.0 * 210.0)
    assert 1.0 / tau == pytest.approx(0.4632, rel=1e-3)
    assert time_to_reach_s(tau, 300.0, 399.0, 400.0) == pytest.approx(9.94, abs=0.01)


def test_steel_ball_cools_in_42_seconds() -> None:
    # A common worked example: tau 16 s, 1000 to 350 K in 300 K; its source rounds to 42.23 s.
    assert time_to_reach_s(16.0, 1000.0, 350.0, 300.0) == pytest.approx(42.22, abs=0.005)


def test_exhaust_at_168_falling_6_a_minute_needs_about_15_to_20_minutes() -> None:
    # Common practice, no source: "now 168, falling 6 a minute, about 15 to 20 min" to 100 degC.
    wait = cooling_wait_s(degc(171.0), degc(165.0), 60.0, AIR_K, degc(100.0))
    assert wait.fast_s / 60.0 == pytest.approx(15.0, abs=1.0)
    assert wait.slow_s / 60.0 == pytest.approx(20.0, abs=1.5)


def test_exhaust_after_a_hold_takes_20_to_40_minutes_to_100_degc() -> None:
    # Common practice, no source: after raised revs, at a close-coupled filter. From 210 degC
    # falling 5 to 7 degC a minute.
    for fall in (5.0, 7.0):
        wait = cooling_wait_s(degc(210.0), degc(210.0 - fall), 60.0, AIR_K, degc(100.0))
        assert wait.fast_s / 60.0 >= 17.0
        assert wait.slow_s / 60.0 <= 45.0


@given(st.floats(AIR_K + 20.0, 700.0), st.floats(10.0, 5000.0), st.floats(1.0, 600.0))
def test_time_constant_is_recovered_from_two_points_of_its_own_curve(
    start_k: float, tau: float, between_s: float
) -> None:
    second = AIR_K + (start_k - AIR_K) * math.exp(-between_s / tau)
    assume(start_k - second > 0.01 and second - AIR_K > 0.01)
    assert time_constant_s(start_k, second, between_s, AIR_K) == pytest.approx(tau, rel=1e-6)


def two_body_exhaust(start_k: float, core_tau_s: float, step_s: float = 1.0) -> list[float]:
    """Gas-side temperature, once a second, of a can that radiates and is fed by its core.

    Written apart from the program: explicit steps, radiation by Stefan and Boltzmann from the
    can (emissivity 0.6) with free convection of 8 W/(m2 K), core of 2 kJ/K behind it.
    """
    can_k = core_k = start_k
    can_j_k, core_j_k, area_m2 = 1500.0, 2000.0, 0.2
    trace = []
    for _ in range(3 * 3600):
        trace.append(can_k)
        lost = area_m2 * (0.6 * 5.670374419e-8 * (can_k**4 - AIR_K**4) + 8.0 * (can_k - AIR_K))
        fed = core_j_k / core_tau_s * (core_k - can_k)
        can_k += step_s * (fed - lost) / can_j_k
        core_k -= step_s * fed / core_j_k
    return trace


@pytest.mark.parametrize("start_degc", [180.0, 220.0, 260.0])
@pytest.mark.parametrize("core_tau_s", [120.0, 240.0, 360.0])
@pytest.mark.parametrize("read_after_s", [240, 420])
def test_a_radiating_exhaust_with_a_hot_core_reaches_the_limit_within_the_band(
    start_degc: float, core_tau_s: float, read_after_s: int
) -> None:
    trace = two_body_exhaust(degc(start_degc), core_tau_s)
    target = degc(100.0)
    first, second = trace[read_after_s], trace[read_after_s + 120]
    assert second > target + 5.0, "the case must still be hot at the second reading"
    reached = next(i for i, value in enumerate(trace) if value <= target)
    wait = cooling_wait_s(first, second, 120.0, AIR_K, target)
    left = reached - (read_after_s + 120)
    assert wait.fast_s <= left <= wait.slow_s
    assert left / wait.fast_s > 1.02, "the case must differ from lumped cooling"


def test_the_step_of_the_thermometer_widens_the_band_to_both_sides() -> None:
    sharp = cooling_wait_s(degc(198.0), degc(168.0), 300.0, AIR_K, degc(100.0))
    coarse = cooling_wait_s(degc(198.0), degc(168.0), 300.0, AIR_K, degc(100.0), 1.0)
    assert coarse.fast_s < sharp.fast_s
    assert coarse.slow_s > sharp.slow_s
    assert sharp.slow_s == pytest.approx(SLOWER_LATER * sharp.fast_s)


def test_no_wait_is_left_at_or_below_the_target() -> None:
    assert cooling_wait_s(degc(101.0), degc(100.0), 60.0, AIR_K, degc(100.0)) == Wait(0.0, 0.0)
    assert cooling_wait_s(degc(101.0), degc(90.0), 60.0, AIR_K, degc(100.0)) == Wait(0.0, 0.0)


def test_no_wait_is_left_at_the_target_however_coarse_the_thermometer() -> None:
    coarse = cooling_wait_s(degc(101.0), degc(100.0), 60.0, AIR_K, degc(100.0), 2.0)
    assert coarse == Wait(0.0, 0.0)


def test_a_start_that_is_the_target_takes_no_time() -> None:
    assert time_to_reach_s(16.0, 350.0, 350.0, 300.0) == 0.0


def test_the_last_kelvin_above_the_air_takes_as_long_as_any_equal_share() -> None:
    """Lumped cooling knows shares only: from 0.5 to 0.25 K over the air as from 80 to 40 K."""
    assert time_to_reach_s(16.0, 300.5, 300.25, 300.0) == pytest.approx(16.0 * math.log(2.0))
    assert time_to_reach_s(16.0, 380.0, 340.0, 300.0) == pytest.approx(16.0 * math.log(2.0))


@given(st.floats(310.0, 600.0), st.floats(1.0, 50.0))
def test_a_lower_target_always_takes_longer(target_k: float, less: float) -> None:
    assume(target_k - less > AIR_K + 1.0)
    higher = time_to_reach_s(1000.0, 650.0, target_k, AIR_K)
    assert time_to_reach_s(1000.0, 650.0, target_k - less, AIR_K) > higher


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: time_constant_s(400.0, 410.0, 60.0, AIR_K), "not cooling"),
        (lambda: time_constant_s(400.0, 400.0, 60.0, AIR_K), "not cooling"),
        (lambda: time_constant_s(400.0, AIR_K, 60.0, AIR_K), "not above the air"),
        (lambda: time_constant_s(400.0, 390.0, 0.0, AIR_K), "between_s"),
        (lambda: time_constant_s(math.nan, 390.0, 60.0, AIR_K), "first_k"),
        (lambda: time_constant_s(400.0, -1.0, 60.0, AIR_K), "second_k"),
        (lambda: time_constant_s(400.0, 390.0, 60.0, 0.0), "ambient_k"),
        (lambda: time_to_reach_s(0.0, 400.0, 350.0, AIR_K), "time_constant_s"),
        (lambda: time_to_reach_s(10.0, math.nan, 350.0, AIR_K), "start_k"),
        (lambda: time_to_reach_s(10.0, 400.0, math.inf, AIR_K), "target_k"),
        (lambda: time_to_reach_s(10.0, 400.0, 350.0, -1.0), "ambient_k"),
        (lambda: time_to_reach_s(10.0, 400.0, 290.0, AIR_K), "never reached"),
        (lambda: time_to_reach_s(10.0, 400.0, AIR_K, AIR_K), "never reached"),
        (lambda: time_to_reach_s(10.0, 400.0, 420.0, AIR_K), "already passed"),
        (lambda: cooling_wait_s(401.0, 400.0, 60.0, AIR_K, 373.15, 1.0), "more time between"),
        (lambda: cooling_wait_s(401.0, 400.0, 60.0, AIR_K, 373.15, -1.0), "reading_step_k"),
        (lambda: cooling_wait_s(410.0, 400.0, 60.0, AIR_K, 280.0), "never reached"),
        (lambda: cooling_wait_s(360.0, 365.0, 60.0, AIR_K, 373.15), "not cooling"),
        (lambda: cooling_wait_s(360.0, 290.0, 60.0, AIR_K, 373.15), "not above the air"),
    ],
)
def test_readings_that_do_not_show_cooling_are_refused_saying_why(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
