"""Dry is credited by the worst exhaust reading taken in the run, and by nothing else."""

import pytest
from steplatch.runner.core.commands import Answer, Begin, Correct, Look
from steplatch.runner.core.steps.hold import is_temperature
from steplatch.safety.bay import RunOn, Trip
from steplatch.safety.limits.waits import drying_as_read_s

from tests.procedure_walk import Walk, new_walk

HOLD = "stopped-dry"


def at_the_hold(**answers: str) -> Walk:
    """A lone adult who has sprayed the running dose and begins to dry at idle, gun on."""
    walk = new_walk(crew="alone_adult", tier="none", reach="not_clear", **answers)
    assert walk.to_step(lambda job: job.core.step == HOLD)
    walk.must(Begin(HOLD))
    assert walk.job.bay.wet
    return walk


def refused(walk: Walk) -> str:
    outcome = walk.give(Answer(HOLD, "done"))
    assert outcome.refused
    return outcome.refusals[0].reason


def test_time_alone_dries_nothing_and_the_refusal_says_what_to_read() -> None:
    walk = at_the_hold()
    walk.wait(510)
    walk.wait(7200)
    assert walk.job.bay.wet and walk.job.bay.run_on is not RunOn.DONE


def test_without_a_reading_there_is_no_credit_and_it_is_asked_for() -> None:
    walk = at_the_hold()
    walk.wait(510)
    assert "exhaust was not read" in refused(walk)


def test_an_exhaust_of_78_degc_gives_no_credit_however_long_it_idles() -> None:
    walk = at_the_hold()
    walk.must(Answer(HOLD, "78 degC"))
    wet = walk.job.bay.wet
    walk.wait(510)
    assert wet and walk.job.bay.wet == wet
    assert "too cold" in refused(walk)
    walk.must(Answer(HOLD, "200 degC"))
    walk.wait(550)
    assert walk.job.bay.wet == wet, "the run that the cold reading ended stays ended"


def test_one_cold_reading_ends_a_run_that_hot_ones_would_have_carried() -> None:
    walk = at_the_hold()
    walk.must(Answer(HOLD, "200 degC"))
    walk.wait(400)
    walk.must(Answer(HOLD, "95 degC"))
    assert walk.job.bay.run_on is RunOn.UNKNOWN and walk.job.bay.wet


def test_a_new_run_with_readings_that_bear_it_ends_dry_for_one_alone() -> None:
    walk = at_the_hold()
    walk.must(Answer(HOLD, "78 degC"))
    walk.must(Begin(HOLD))
    assert walk.to_end() == "finished"
    assert walk.job.bay.wet == 0


def test_a_reading_too_old_credits_nothing_until_the_next_one() -> None:
    walk = at_the_hold()
    walk.must(Answer(HOLD, "210 degC"))
    while walk._left_s("run_on") > 0:
        walk.wait(300)
        walk.fresh()
    assert walk.job.bay.wet, "the only reading is more than ten minutes old"
    assert "too long ago" in refused(walk)
    walk.must(Answer(HOLD, "210 degC"))
    assert walk.job.bay.run_on is RunOn.LINE and walk.job.bay.wet, "the line was not blown"


def test_the_worst_reading_decides_and_a_hot_one_shortens_nothing() -> None:
    due = {}
    for said in (("115 degC",), ("115 degC", "240 degC"), ("240 degC",), ("130 degC",)):
        walk = at_the_hold()
        for reading in said:
            walk.must(Answer(HOLD, reading))
        due[said] = walk.job.log.timers["run_on"] - walk.job.log.timers["run_from"]
    assert due["115 degC",] == due["115 degC", "240 degC"] > due["240 degC",] == due["130 degC",]


def test_the_run_lasts_as_long_as_a_cold_core_that_is_wet_in_one_part_may_take() -> None:
    walk = at_the_hold()
    wet = walk.job.bay.wet
    walk.must(Answer(HOLD, "130 degC"))
    log = walk.job.log
    assert wet
    slow_s = log.number("drying_idle_cold_s") + wet / 10 * log.number("drying_idle_slow_s_per_ml")
    assert slow_s > 2 * wet / 10 * log.number("drying_idle_s_per_ml")
    left_s = (log.timers["run_on"] - log.timers["run_from"]) / 1000
    assert left_s == pytest.approx(slow_s, abs=0.001)


def test_a_reading_corrected_to_a_colder_one_takes_the_credit_back() -> None:
    walk = at_the_hold()
    walk.must(Answer(HOLD, "210 degC"))
    number = len(walk.job.log.named("exhaust")) - 1
    walk.must(Correct("exhaust", number, "78 degC", "the wrong line was read out"))
    assert walk.job.bay.run_on is RunOn.UNKNOWN
    walk = at_the_hold()
    walk.must(Answer(HOLD, "210 degC"))
    _dry_at_idle(walk)
    wet = walk.job.bay.wet
    walk.must(Correct("exhaust", number, "78 degC", "the wrong line was read out"))
    assert walk.job.bay.run_on is RunOn.UNKNOWN and walk.job.bay.wet == wet
    walk = at_the_hold()
    _dry_at_idle(walk)
    walk.must(Answer(HOLD, "done"))
    assert walk.to_step(lambda job: job.core.step == "stopped-clear")
    assert walk.job.bay.wet == 0 and walk.job.bay.run_on is RunOn.DONE, "let out low over the jug"
    walk.must(Correct("exhaust", number, "78 degC", "the wrong line was read out"))
    assert walk.job.bay.wet is None and Trip.OVERDOSE in walk.job.bay.trips


def _dry_at_idle(walk: Walk) -> None:
    while walk.job.bay.run_on is not RunOn.LINE:
        walk.wait(300)
        walk.fresh()
        walk.must(Answer(HOLD, "210 degC"))


@pytest.mark.parametrize(("said", "trips"), [("drained", set()), ("fluid", {Trip.OVERDOSE})])
def test_what_stands_in_the_line_after_drying_at_idle_counts_until_it_was_let_out_low(
    said: str, trips: set[Trip]
) -> None:
    walk = at_the_hold()
    _dry_at_idle(walk)
    walk.must(Answer(HOLD, "done"))
    assert walk.to_step(lambda job: job.core.step == "stopped-low")
    wet = walk.job.bay.wet
    assert wet and walk.job.bay.wet > walk.job.core.limits.strict and not walk.job.bay.trips
    walk.must(Look("line", said))
    assert walk.job.bay.trips == trips
    assert walk.job.bay.wet == (wet if trips else 0)


@pytest.mark.parametrize(
    ("worst_degc", "seconds"), [(130.0, 100.0), (200.0, 100.0), (115.0, 200.0), (100.5, None)]
)
def test_the_time_grows_as_the_difference_to_boiling_falls(
    worst_degc: float, seconds: float | None
) -> None:
    # by hand: 40 s, and 10 mL at 6 s/mL, for exhaust 30 K above boiling; half the difference, twice
    # the time
    got = drying_as_read_s(10.0, 40.0, 6.0, 130.0, 100.0, worst_degc)
    assert got == (None if seconds is None else pytest.approx(seconds))


@pytest.mark.parametrize(
    ("typed", "is_one"), [("168 degC", True), ("61", False), ("61 mbar", False), ("2 kPa", False)]
)
def test_a_temperature_is_told_from_a_pressure_by_its_unit(typed: str, is_one: bool) -> None:
    assert is_temperature(typed) == is_one
