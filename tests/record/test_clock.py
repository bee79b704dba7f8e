"""Waits credit the least, ages count the most; doubt credits nothing and lapses."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from steplatch.runner.record import Times, age_ms, read_clock, times_at, wait_credit_ms
from steplatch.runner.record.line import field_fault

THEN = Times("2025-01-31T14:05:09.123Z", "+01:00", 1000, 5000, "boot-1")


def test_a_computer_that_was_awake_counts_the_same_for_wait_and_age() -> None:
    now = replace(THEN, monotonic_ms=61_000, boottime_ms=65_000)
    assert wait_credit_ms(THEN, now) == 60_000
    assert age_ms(THEN, now) == 60_000


def test_a_computer_that_slept_credits_only_the_time_awake_but_ages_all_of_it() -> None:
    now = replace(THEN, monotonic_ms=11_000, boottime_ms=3_605_000)
    assert wait_credit_ms(THEN, now) == 10_000
    assert age_ms(THEN, now) == 3_600_000


@pytest.mark.parametrize(
    "now",
    [
        replace(THEN, monotonic_ms=61_000, boottime_ms=65_000, boot="boot-2"),
        replace(THEN, monotonic_ms=999, boottime_ms=5000),
        replace(THEN, monotonic_ms=1000, boottime_ms=4999),
    ],
)
def test_another_boot_or_a_clock_that_went_back_credits_nothing_and_leaves_no_age(
    now: Times,
) -> None:
    assert wait_credit_ms(THEN, now) == 0
    assert age_ms(THEN, now) is None


def test_without_a_clock_that_goes_on_in_sleep_waits_count_but_ages_are_unknown() -> None:
    now = replace(THEN, monotonic_ms=61_000, boottime_ms=None)
    assert wait_credit_ms(THEN, now) == 60_000
    assert age_ms(THEN, now) is None
    assert age_ms(replace(THEN, boottime_ms=None), now) is None


def test_wall_time_plays_no_part_in_waits_and_ages() -> None:
    now = replace(THEN, monotonic_ms=2000, boottime_ms=6000, utc="1999-01-01T00:00:00.000Z")
    assert wait_credit_ms(THEN, now) == age_ms(THEN, now) == 1000


def test_times_are_written_in_utc_with_the_workshops_offset_beside() -> None:
    # RFC 3339 (2002), section 5.8: 1996-12-19T16:39:57-08:00 is 1996-12-20T00:39:57Z.
    moment = datetime(1996, 12, 19, 16, 39, 57, 999_999, timezone(timedelta(hours=-8)))
    times = times_at(moment, 1, 2, "b")
    assert (times.utc, times.zone) == ("1996-12-20T00:39:57.999Z", "-08:00")
    half = timezone(timedelta(hours=-3, minutes=-30))
    assert times_at(datetime(2025, 1, 1, tzinfo=half), 1, 2, "b").zone == "-03:30"
    assert times_at(datetime(2025, 1, 1, tzinfo=UTC), 1, 2, "b").zone == "+00:00"
    with pytest.raises(ValueError, match="time zone"):
        times_at(datetime(2025, 1, 1), 1, 2, "b")  # noqa: DTZ001 - the fault under test


def test_this_computers_clock_gives_times_that_a_line_can_hold() -> None:
    first, second = read_clock(), read_clock()
    assert first.boot == second.boot
    assert wait_credit_ms(first, second) >= 0
    members: dict[str, object] = {
        **dict.fromkeys(("actor", "role", "procedure", "revision", "program"), "x"),
        **dict.fromkeys(("prev", "procedure_sha256", "rules_sha256"), "0" * 64),
        **dict.fromkeys(("judge_sha256", "files_sha256"), "0" * 64),
        "seq": 1, "command": {}, "outcome": {},
        "utc": first.utc, "zone": first.zone, "boot": first.boot,
        "monotonic_ms": first.monotonic_ms, "boottime_ms": first.boottime_ms,
    }  # fmt: skip
    assert field_fault(members) is None
