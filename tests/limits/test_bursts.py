"""Bursts: seconds rounded down, so that who obeys hardly ever goes over."""

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from steplatch.safety.limits import (
    GunInput,
    burst,
    dml_down,
    dml_up,
    rate_spread_m3_s,
    reaction_allowance_s,
)
from steplatch.safety.limits.burst import STUDENT_999
from steplatch.safety.limits.choices import LONGEST_OFF_BURST

ML = 1e-6
SHOTS = tuple(ml / 5.0 * ML for ml in (19.0, 20.0, 21.0))


# By hand, 3.8, 4.0 and 4.2 mL/s: s^2 = (8 x 0.2^2 + 2 x 0.2^2) / 10, t for 10 degrees of freedom
# and one in a thousand 4.144 (Federighi, J. Am. Stat. Assoc. 54 (1959) 683), sqrt(1 + 1/3) =
# 1.1547: 4.144 x 0.2 x 1.1547 = 0.9570.
UPPER = 4.95702


def test_three_shots_of_19_20_and_21_ml_count_as_what_one_burst_in_a_thousand_gives() -> None:
    worked = burst(38e-6, 0.0, SHOTS, 0.5)
    assert worked.rate_mean_m3_s * 1e6 == pytest.approx(4.0, rel=1e-12)
    assert worked.rate_upper_m3_s * 1e6 == pytest.approx(UPPER, rel=1e-5)
    assert rate_spread_m3_s(SHOTS) == worked.rate_spread_m3_s


def test_a_limit_of_38_ml_gives_7_seconds_and_counts_38_ml() -> None:
    worked = burst(38e-6, 0.0, SHOTS, 0.5)
    assert worked.advice() == "7 s = 38 mL counted"
    assert worked.counted_m3 * 1e6 == pytest.approx(UPPER * 7.5, rel=1e-5)


def test_what_is_already_in_shortens_the_burst() -> None:
    assert burst(38e-6, 20e-6, SHOTS, 0.5).seconds == 3
    assert burst(38e-6, 18e-6, SHOTS, 0.0).seconds == 4


def test_what_is_already_in_is_rounded_up_to_the_kernels_tenth() -> None:
    # 6 s count 4.957 x 6.69 = 33.16 mL; 35.45 less 2.25 would leave 33.2, less 2.3 only 33.1.
    assert burst(35.4e-6, 2.25e-6, SHOTS, 0.69).seconds == 5
    assert burst(35.4e-6, 2.2e-6, SHOTS, 0.69).seconds == 6


def test_under_3_seconds_it_is_too_short_to_time() -> None:
    worked = burst(17e-6, 0.0, SHOTS, 0.5)
    assert worked.too_short and worked.seconds == 0 and worked.counted_m3 == 0.0
    assert worked.counted_ml == worked.counted_dml == 0
    assert worked.advice() == "too short to time, use the syringe: load 17 mL"
    assert len(worked.lines) == 3
    longer = burst(17.4e-6, 0.0, SHOTS, 0.5)
    assert longer.seconds == 3 and not longer.too_short


def test_nothing_left_means_no_spray() -> None:
    assert burst(15e-6, 15e-6, SHOTS, 0.5).advice() == "nothing left: no spray"
    over = burst(15e-6, 20e-6, SHOTS, 0.5)
    assert over.advice() == "nothing left: no spray" and over.room_m3 == 0.0
    assert burst(15e-6, 14.5e-6, SHOTS, 0.5).advice() == "less than 1 mL left: no spray"


def test_equal_shots_and_a_single_shot_still_carry_a_spread() -> None:
    # By hand: 4.144 x sqrt(8 x 0.05^2 / 10) x 1.1547 and 4.501 x 0.05 x sqrt(2).
    assert rate_spread_m3_s((4e-6, 4e-6, 4e-6)) == pytest.approx(0.21400 * 4e-6, rel=1e-4)
    assert rate_spread_m3_s((4e-6,)) == pytest.approx(0.31827 * 4e-6, rel=1e-4)


def test_the_highest_shot_is_always_covered() -> None:
    shots = (4e-6, 4e-6, 4e-6, 4e-6, 4e-6, 4e-6, 4e-6, 40e-6)
    assert sum(shots) / 8 + rate_spread_m3_s(shots) >= 40e-6


def test_shots_that_differ_more_are_counted_higher_and_many_that_agree_lower() -> None:
    apart = tuple(ml / 5.0 * ML for ml in (16.0, 20.0, 24.0))
    assert rate_spread_m3_s(apart) > 1.5 * rate_spread_m3_s(SHOTS)
    assert rate_spread_m3_s(SHOTS * 10) < 0.75 * rate_spread_m3_s(SHOTS)


def test_practice_bursts_can_lengthen_the_reaction_and_never_shorten_it() -> None:
    gun = GunInput("gun", 1e-3, reaction_s=0.5)
    assert reaction_allowance_s(gun) == 0.5
    # By hand: 0.4 + 4.144 x sqrt((8 x 0.05^2 + 2 x 0.1^2) / 10) x 1.1547 = 0.4 + 0.3026.
    slow = replace(gun, practice_stops_s=(0.3, 0.4, 0.5))
    assert reaction_allowance_s(slow) == pytest.approx(0.7026, abs=1e-4)
    assert reaction_allowance_s(replace(gun, practice_stops_s=(0.1, 0.1, 0.1))) == 0.5


def test_what_one_in_a_thousand_exceeds_is_students() -> None:
    for freedom, student in enumerate(STUDENT_999, start=1):
        assert stats.t.ppf(0.999, freedom) == pytest.approx(student, abs=6e-4)


@pytest.mark.parametrize("count", [1, 3, 6, 12])
@pytest.mark.parametrize(
    ("limit_ml", "scatter"),
    [(20.0, 0.05), (31.2, 0.05), (300.0, 0.05), (31.2, 0.07), (300.0, 0.06)],
)
def test_who_obeys_goes_over_in_one_burst_of_a_thousand_at_most(
    count: int, scatter: float, limit_ml: float
) -> None:
    """A gun that scatters, its rate from ``count`` shots, a hand that stops after 0.25 s, give or
    take 0.05: what comes out against the room, and against what the ledger counts."""
    chance = random.Random(count)
    over = beyond = bursts = 0
    while bursts < BURSTS:
        shots = tuple(4e-6 * chance.gauss(1.0, scatter) for _ in range(count))
        worked = burst(limit_ml * ML, 0.0, shots, 0.5)
        if worked.too_short:
            shots = tuple(shot / 2 for shot in shots)
            worked = burst(limit_ml * ML, 0.0, shots, 0.5)
            rate = 2e-6
        else:
            rate = 4e-6
        for _ in range(5):
            held = worked.seconds + max(0.0, chance.gauss(0.25, 0.05))
            out = rate * chance.gauss(1.0, scatter) * held
            over += out > limit_ml * ML
            beyond += out > worked.counted_m3
            bursts += 1
    assert over <= beyond
    # A count of 1 in 1000 may come out as 2.3 by chance (3 standard deviations of 5000).
    assert beyond / BURSTS <= 0.001 + 3 * math.sqrt(0.001 / BURSTS)


BURSTS = 5000
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
    # 30.1 mL at a counted 0.4957 mL/s: 60 s; the interlock row stands at 15 s as well.
    slow = tuple(ml / 50.0 * ML for ml in (19.0, 20.0, 21.0))
    worked = burst(30.1e-6, 0.0, slow, 0.5, LONGEST_OFF_BURST.value)
    assert LONGEST_OFF_BURST.value == 15.0 and worked.seconds == 15
    assert worked.counted_m3 * 1e6 == pytest.approx(UPPER / 10 * 15.5, rel=1e-5)
    assert "no burst with the engine off lasts longer than 15 s" in worked.lines
    assert burst(30.1e-6, 0.0, slow, 0.5).seconds == 60
    assert burst(38e-6, 0.0, SHOTS, 0.5, 15.0) == burst(38e-6, 0.0, SHOTS, 0.5)


def test_a_reported_spray_counts_the_upper_rate_and_the_reaction() -> None:
    worked = burst(38e-6, 0.0, SHOTS, 0.5)
    assert worked.counted_for_m3(9.0) * 1e6 == pytest.approx(UPPER * 9.5, rel=1e-5)
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
