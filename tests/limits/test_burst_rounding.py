"""What a burst counts is rounded up to the kernel's tenth, and its lines say no second too many."""

import pytest
from steplatch.safety.limits import burst

SHOTS = tuple(ml / 5.0 * 1e-6 for ml in (19.0, 20.0, 21.0))


def test_a_counted_volume_between_two_tenths_counts_as_the_greater() -> None:
    worked = burst(38e-6, 2.2e-6, SHOTS, 0.51)
    assert worked.counted_m3 * 1e6 == pytest.approx(4.95702 * 6.51, rel=1e-5)  # 32.270 mL
    assert worked.counted_dml == 323
    assert worked.counted_ml == 33


def test_a_burst_of_no_time_is_written_down_as_0_seconds() -> None:
    assert burst(0.0, 0.0, SHOTS, 0.5).lines[2].endswith("rounded down 0 s")


def test_a_time_of_a_little_under_1_second_is_not_written_as_1() -> None:
    assert burst(5e-6, 0.0, SHOTS, 0.5).lines[2].endswith("= 0.5087 s, rounded down 0 s")


def test_the_mean_rate_stands_in_the_first_line_beside_what_is_counted() -> None:
    line = burst(38e-6, 0.0, SHOTS, 0.5).lines[0]
    assert line == "rate: mean of 3 = 4 mL/s, counted 4 + 0.957 = 4.957 mL/s"
