"""Room air against published exercises and worked values."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from steplatch.safety.physics.room_air import (
    co_mg_m3_to_ppm,
    co_ppm_to_mg_m3,
    room_level,
    time_to_level_s,
)

FT3_M3 = 0.3048**3
CFM_M3_S = FT3_M3 / 60.0


def test_a_university_exercise_takes_about_1_3_hours() -> None:
    # University of Southampton, edshare 5370, mathematics exercise on a room with CO: V 40 m3,
    # G 1.2e-6 m3/s, Q 3e-3 m3/s, level 1.2e-4: "approximately 1.3 hrs"; exact 4755.67 s.
    seconds = time_to_level_s(0.0, 0.0, 1.2e-6, 3.0e-3, 40.0, 1.2e-4)
    assert seconds == pytest.approx(4755.67, abs=0.01)
    assert seconds / 3600.0 == pytest.approx(1.3, abs=0.05)
    closed = 4e-4 * (1.0 - math.exp(-7.5e-5 * 1000.0))
    assert room_level(0.0, 0.0, 1.2e-6, 3.0e-3, 40.0, 1000.0) == pytest.approx(closed, rel=1e-12)


def test_a_shut_garage_clears_in_43_8_minutes() -> None:
    # Published calculus exercise: 768 ft3 with 3 % CO, 100 ft3/min of fresh air, to 0.01 %;
    # its result 43.8 min.
    seconds = time_to_level_s(0.03, 0.0, 0.0, 100.0 * CFM_M3_S, 768.0 * FT3_M3, 1e-4)
    assert seconds / 60.0 == pytest.approx(43.8, abs=0.05)


def test_an_industrial_ventilation_example_is_followed() -> None:
    # ACGIH Industrial Ventilation manual, dilution example; its numbers FROM MEMORY, so this
    # only supports the two published exercises above: 1.2 and 2000 ft3/min, 100 000 ft3.
    source, exchange, volume = 1.2 * CFM_M3_S, 2000.0 * CFM_M3_S, 100_000.0 * FT3_M3
    to_200 = time_to_level_s(0.0, 0.0, source, exchange, volume, 200e-6)
    assert to_200 / 60.0 == pytest.approx(20.27, abs=0.01)
    after_hour = room_level(0.0, 0.0, source, exchange, volume, 3600.0)
    assert after_hour * 1e6 == pytest.approx(419.3, abs=0.1)
    purge = time_to_level_s(100e-6, 0.0, 0.0, exchange, volume, 25e-6)
    assert purge / 60.0 == pytest.approx(69.3, abs=0.05)


@pytest.mark.parametrize(
    ("changes_per_hour", "mg_m3", "ppm"),
    # Worked apart: 20 g/h into 60 m3, 20 min.
    [(0.0, 111.1, 97.0), (0.5, 102.35, 89.3)],
)
def test_a_small_bay_fills_as_worked(changes_per_hour: float, mg_m3: float, ppm: float) -> None:
    level = room_level(0.0, 0.0, 20e3 / 3600.0, changes_per_hour * 60.0 / 3600.0, 60.0, 1200.0)
    assert level == pytest.approx(mg_m3, rel=5e-4)
    assert co_mg_m3_to_ppm(level) == pytest.approx(ppm, rel=1e-3)


def test_ppm_and_mg_convert_as_the_exposure_limits_are_published() -> None:
    # EH40/2005 (2018), Table 1: CO 20 ppm or 23 mg/m3, 100 ppm or 117 mg/m3 (at 20 degC; the
    # 25 degC of this conversion gives 2 % less).
    assert co_ppm_to_mg_m3(1.0) == pytest.approx(1.1456, rel=1e-4)
    assert co_ppm_to_mg_m3(20.0) == pytest.approx(23.0, rel=0.02)
    assert co_ppm_to_mg_m3(100.0) == pytest.approx(117.0, rel=0.025)
    assert co_mg_m3_to_ppm(co_ppm_to_mg_m3(35.0)) == pytest.approx(35.0, rel=1e-12)


LEVELS = st.floats(0.0, 500.0)
SOURCES = st.floats(0.0, 20.0)
EXCHANGES = st.floats(1e-4, 1.0)
VOLUMES = st.floats(20.0, 2000.0)


@given(LEVELS, LEVELS, SOURCES, EXCHANGES, VOLUMES, st.floats(1.0, 7200.0))
def test_time_to_a_level_inverts_the_level_after_a_time(
    start: float, outside: float, source: float, exchange: float, volume: float, time_s: float
) -> None:
    steady = outside + source / exchange
    assume(exchange * time_s / volume < 5.0)
    level = room_level(start, outside, source, exchange, volume, time_s)
    assume(abs(level - start) > 1e-3 * max(1.0, steady, start))
    found = time_to_level_s(start, outside, source, exchange, volume, level)
    assert found == pytest.approx(time_s, rel=1e-4)


@given(LEVELS, SOURCES, VOLUMES, st.floats(0.0, 7200.0))
def test_a_tiny_exchange_joins_smoothly_onto_none(
    start: float, source: float, volume: float, time_s: float
) -> None:
    none = room_level(start, 0.0, source, 0.0, volume, time_s)
    tiny = room_level(start, 0.0, source, 1e-12, volume, time_s)
    assert tiny == pytest.approx(none, rel=1e-6, abs=1e-9)


@given(SOURCES, st.floats(0.001, 1.0), EXCHANGES, VOLUMES)
def test_more_source_means_a_higher_level(
    source: float, more: float, exchange: float, volume: float
) -> None:
    base = room_level(0.0, 0.0, source, exchange, volume, 600.0)
    assert room_level(0.0, 0.0, source + more, exchange, volume, 600.0) > base


@pytest.mark.parametrize(
    ("start", "outside", "source", "exchange", "level", "expected"),
    [
        (5.0, 0.0, 1.0, 0.1, 5.0, 0.0),
        (0.0, 0.0, 0.0, 0.0, 5.0, math.inf),
        (9.0, 0.0, 1.0, 0.0, 5.0, math.inf),
        (0.0, 0.0, 1.0, 0.0, 5.0, 200.0),
        (2.0, 0.0, 0.5, 0.0, 5.0, 240.0),
        (0.0, 0.0, 1.0, 0.1, 10.0, math.inf),
        (0.0, 0.0, 1.0, 0.1, 11.0, math.inf),
        (5.0, 0.0, 1.0, 0.1, 4.0, math.inf),
        (20.0, 0.0, 1.0, 0.1, 9.0, math.inf),
        (20.0, 0.0, 1.0, 0.1, 21.0, math.inf),
    ],
)
def test_a_level_that_is_never_reached_takes_forever(
    start: float, outside: float, source: float, exchange: float, level: float, expected: float
) -> None:
    assert time_to_level_s(start, outside, source, exchange, 40.0, level) == expected


def test_a_level_a_hair_above_the_start_is_reached_at_once_and_one_below_it_never() -> None:
    """Near the start the level rises at G / V: 1e-12 at 1 / 40 a second takes 4e-11 s."""
    assert time_to_level_s(1.0, 0.0, 1.0, 0.05, 40.0, 1.0 + 1e-12) == pytest.approx(
        40e-12 / 0.95, rel=1e-3
    )
    assert time_to_level_s(1.0, 0.0, 1.0, 0.05, 40.0, 1.0 - 1e-12) == math.inf
    assert time_to_level_s(0.0, 0.0, 1.0, 0.1, 40.0, 5e-324) == 0.0


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: room_level(-1.0, 0.0, 0.0, 0.0, 40.0, 1.0), "start"),
        (lambda: room_level(0.0, -1.0, 0.0, 0.0, 40.0, 1.0), "outside"),
        (lambda: room_level(0.0, 0.0, -1.0, 0.0, 40.0, 1.0), "source_per_s"),
        (lambda: room_level(0.0, 0.0, 0.0, math.nan, 40.0, 1.0), "exchange_m3_s"),
        (lambda: room_level(0.0, 0.0, 0.0, 0.0, 0.0, 1.0), "volume_m3"),
        (lambda: room_level(0.0, 0.0, 0.0, 0.0, 40.0, -1.0), "time_s"),
        (lambda: time_to_level_s(0.0, 0.0, 0.0, 0.0, 40.0, -1.0), "level"),
        (lambda: time_to_level_s(-1.0, 0.0, 0.0, 0.1, 40.0, 1.0), "start"),
        (lambda: time_to_level_s(0.0, 0.0, 1.0, 0.0, 0.0, 1.0), "volume_m3"),
        (lambda: co_ppm_to_mg_m3(-1.0), "level_ppm"),
        (lambda: co_mg_m3_to_ppm(math.inf), "level_mg_m3"),
    ],
)
def test_values_that_no_room_has_are_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()


def test_a_room_that_stands_at_the_level_already_is_there_at_once() -> None:
    """By the definition of the time to a level, also where nothing will ever change."""
    assert time_to_level_s(5.0, 5.0, 0.0, 1.0, 40.0, 5.0) == 0.0
