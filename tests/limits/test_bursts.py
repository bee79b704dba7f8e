"""Bursts: seconds rounded down, so that who obeys never trips."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.limits import burst, dml_down, dml_up, rate_spread_m3_s
from steplatch.safety.limits.choices import LONGEST_OFF_BURST

ML = 1e-6
SHOTS = tuple(ml / 5.0 * ML for ml in (19.0, 20.0, 21.0))


def test_three_shots_of_19_20_and_21_ml_count_as_4_2_ml_a_second() -> None:
    # Common practice, no source: "19, 20, 21 mL in 5 s: 4.0 mL/s, counted as 4.2".
    worked = burst(38e-6, 0.0, SHOTS, 0.5)
    assert worked.rate_mean_m3_s * 1e6 == pytest.approx(4.0, rel=1e-12)
    assert worked.rate_upper_m3_s * 1e6 == pytest.approx(4.2, rel=1e-12)
    assert rate_spread_m3_s(SHOTS) == worked.rate_spread_m3_s


def test_a_limit_of_38_ml_gives_8_seconds_and_counts_36_ml() -> None:
    # Common practice, no source: "8 s = 36 mL counted, limit 38".
    worked = burst(38e-6, 0.0, SHOTS, 0.5)
    assert worked.advice() == "8 s = 36 mL counted"
    assert worked.counted_m3 * 1e6 == pytest.approx(4.2 * 8.5, rel=1e-12)


def test_what_is_already_in_shortens_the_burst() -> None:
    assert burst(38e-6, 20e-6, SHOTS, 0.5).seconds == 3
    assert burst(38e-6, 20.1e-6, SHOTS, 0.0).seconds == 4


def test_what_is_already_in_is_rounded_up_to_the_kernels_tenth() -> None:
    # 8 s count 4.2 x 8.51 = 35.74 mL; 38 less 2.25 would leave 35.75, but 2.25 counts as 2.3.
    assert burst(38e-6, 2.25e-6, SHOTS, 0.51).seconds == 7
    assert burst(38e-6, 2.2e-6, SHOTS, 0.51).seconds == 8


def test_under_3_seconds_it_is_too_short_to_time() -> None:
    worked = burst(14e-6, 0.0, SHOTS, 0.5)
    assert worked.too_short and worked.seconds == 0 and worked.counted_m3 == 0.0
    assert worked.counted_ml == worked.counted_dml == 0
    assert worked.advice() == "too short to time, use the syringe: load 14 mL"
    assert len(worked.lines) == 3
    longer = burst(14.8e-6, 0.0, SHOTS, 0.5)
    assert longer.seconds == 3 and not longer.too_short


def test_nothing_left_means_no_spray() -> None:
    assert burst(15e-6, 15e-6, SHOTS, 0.5).advice() == "nothing left: no spray"
    over = burst(15e-6, 20e-6, SHOTS, 0.5)
    assert over.advice() == "nothing left: no spray" and over.room_m3 == 0.0
    assert burst(15e-6, 14.5e-6, SHOTS, 0.5).advice() == "less than 1 mL left: no spray"


def test_equal_shots_and_a_single_shot_still_carry_a_spread() -> None:
    assert rate_spread_m3_s((4e-6, 4e-6, 4e-6)) == pytest.approx(0.05 * 4e-6)
    assert rate_spread_m3_s((4e-6,)) == pytest.approx(0.10 * 4e-6)


def test_the_highest_shot_is_always_covered() -> None:
    shots = (4e-6, 4e-6, 4e-6, 4e-6, 6e-6)
    assert sum(shots) / 5 + rate_spread_m3_s(shots) >= 6e-6


RATES = st.lists(st.floats(0.5e-6, 20e-6), min_size=1, max_size=5).map(tuple)
VOLUMES = st.floats(0.0, 400e-6)
REACTIONS = st.floats(0.0, 2.0)


@given(VOLUMES, VOLUMES, RATES, REACTIONS)
def test_who_obeys_never_trips(
    limit: float, already: float, rates: tuple[float, ...], reaction: float
) -> None:
    worked = burst(limit, already, rates, reaction)
    # The kernel counts in whole 0.1 mL: limit down, what is in and what is added up.
    if not worked.too_short:
        assert dml_up(already) + worked.counted_dml <= dml_down(limit)
        assert worked.seconds >= 3
    assert worked.load_ml * 10 <= max(0, dml_down(limit) - dml_up(already))


@given(VOLUMES, VOLUMES, RATES, REACTIONS)
def test_one_second_more_would_go_over(
    limit: float, already: float, rates: tuple[float, ...], reaction: float
) -> None:
    worked = burst(limit, already, rates, reaction)
    if not worked.too_short:
        assert worked.counted_for_m3(worked.seconds + 1.0) > worked.room_m3 * (1.0 - 1e-9)


@given(VOLUMES, VOLUMES, RATES, REACTIONS, st.floats(0.0, 50e-6), st.floats(0.0, 1.0))
def test_more_room_never_shortens_and_slower_hands_never_lengthen_a_burst(
    limit: float,
    already: float,
    rates: tuple[float, ...],
    reaction: float,
    more: float,
    slower: float,
) -> None:
    base = burst(limit, already, rates, reaction)
    assert burst(limit + more, already, rates, reaction).seconds >= base.seconds
    assert burst(limit, already + more, rates, reaction).seconds <= base.seconds
    assert burst(limit, already, rates, reaction + slower).seconds <= base.seconds


def test_no_burst_with_the_engine_off_is_offered_longer_than_15_seconds() -> None:
    # 30.1 mL at a counted 0.42 mL/s: 71 s; the interlock row stands at 15 s as well.
    slow = tuple(ml / 50.0 * ML for ml in (19.0, 20.0, 21.0))
    worked = burst(30.1e-6, 0.0, slow, 0.5, LONGEST_OFF_BURST.value)
    assert LONGEST_OFF_BURST.value == 15.0 and worked.seconds == 15
    assert worked.counted_m3 * 1e6 == pytest.approx(0.42 * 15.5, rel=1e-9)
    assert "no burst with the engine off lasts longer than 15 s" in worked.lines
    assert burst(30.1e-6, 0.0, slow, 0.5).seconds == 71
    assert burst(38e-6, 0.0, SHOTS, 0.5, 15.0) == burst(38e-6, 0.0, SHOTS, 0.5)


def test_a_reported_spray_counts_the_upper_rate_and_the_reaction() -> None:
    worked = burst(38e-6, 0.0, SHOTS, 0.5)
    assert worked.counted_for_m3(9.0) * 1e6 == pytest.approx(4.2 * 9.5, rel=1e-12)
    with pytest.raises(ValueError, match="sprayed_s"):
        worked.counted_for_m3(-1.0)


def test_without_a_rate_there_is_no_spray() -> None:
    with pytest.raises(ValueError, match="no rate since the gun was last filled"):
        burst(38e-6, 0.0, (), 0.5)
    with pytest.raises(ValueError, match=r"rate of shot 2 is 0\.0"):
        rate_spread_m3_s((4e-6, 0.0))


@pytest.mark.parametrize(
    ("limit", "already", "reaction", "named"),
    [
        (-1e-6, 0.0, 0.5, "limit_m3"),
        (38e-6, math.nan, 0.5, "already_m3"),
        (38e-6, 0.0, -0.5, "reaction_s"),
    ],
)
def test_values_out_of_range_are_refused_by_name(
    limit: float, already: float, reaction: float, named: str
) -> None:
    with pytest.raises(ValueError, match=named):
        burst(limit, already, SHOTS, reaction)
