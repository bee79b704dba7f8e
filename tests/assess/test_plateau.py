"""A decay to a level is told when it is near, and nothing else is called a level."""

import math
import random
import statistics

import pytest
from steplatch.runner.assess.plateau import trend

from tests.assess.measured_holds import over


def falling(until_s: int, tau_s: float, level: float, seed: int) -> list[tuple[float, float]]:
    rng = random.Random(seed)
    return [
        # Shown in whole mbar, as most instruments do.
        (float(t), 100.0 * round((level + 3500 * math.exp(-t / tau_s) + rng.gauss(0, 30)) / 100))
        for t in range(0, until_s + 1, 15)
    ]


def test_a_long_hold_is_called_level_and_an_early_one_is_not() -> None:
    for seed in range(20):
        early = trend(falling(240, 300, 5000, seed))
        assert early.state != "levelled"
        late = trend(falling(2400, 300, 5000, seed))
        assert late.state == "levelled"
        assert late.level_mbar == pytest.approx(50, abs=1.2)


def test_the_to_go_min_are_about_right_once_they_are_said() -> None:
    ratios, held, late = [], 0, 0
    for seed in range(20):
        for until in (420, 600):
            got = trend(falling(until, 300, 5000, seed))
            assert got.state == "falling"
            assert got.to_go_min is not None and got.to_go_high_min is not None
            truth = (300 * math.log(3500 / 100) - until) / 60
            ratios.append(got.to_go_min / truth)
            held += truth <= got.to_go_high_min
            late += got.to_go_high_min > 8 * truth
    # Of falls like these half are taken to have a slow part; where there is none, it is soon over.
    assert 0.7 < statistics.median(ratios) < 1.7
    assert held >= 36, "nine chances in ten that it is level by then"
    assert late < 10


def test_a_pressure_that_never_moved_shows_nothing_but_the_timer() -> None:
    flat = [(15.0 * i, 4800.0) for i in range(40)]
    got = trend(flat)
    assert (got.state, got.why) == ("not_shown", "steady") and "only the timer" in got.text()
    assert trend(flat, due=False).state == "not_shown"


def test_nothing_is_level_before_drying_is_due() -> None:
    early, late = (trend(falling(2400, 300, 5000, 1), due=due) for due in (False, True))
    assert (early.state, early.why) == ("not_shown", "not_due")
    assert late.state == "levelled"


def test_a_forecast_with_how_sure_it_is_stands_from_the_third_reading_on() -> None:
    for count in (1, 2):
        got = trend(falling(60, 120, 5000, 1)[:count])
        assert got.to_go_min is None and got.why == "few"
    third = trend([(0.0, 9000.0), (60.0, 7800.0), (120.0, 6900.0)])
    assert third.state == "not_shown" and third.to_go_min is not None
    assert third.to_go_high_min is not None and third.to_go_high_min > third.to_go_min > 0
    assert "level in about" in third.text()


def test_a_shelf_while_wet_is_never_level_though_it_lasts_beyond_what_is_due() -> None:
    for seed in range(8):
        rng = random.Random(seed)
        flat = [(30.0 * i, 100.0 * round(60 + rng.gauss(0, 0.3))) for i in range(30)]
        assert {trend(flat[:n]).state for n in range(5, 31, 5)} == {"not_shown"}


def test_levelled_is_wrong_in_one_of_twelve_at_most_and_comes_late() -> None:
    """Falls, double falls and shelves; before, it was wrong in 99 of 150 of them. Two minutes late
    in half of them is wanted: as a person reads, no one can, which MEASURED.md shows."""
    said = over(range(300, 324))
    assert sum(one.wrong for one in said) <= 2  # the whole figures stand in MEASURED.md
    late = [one.late_min for one in said if one.late_min is not None]
    assert len(late) >= 21 and statistics.median(late) < 9


def test_a_rising_pressure_is_not_level() -> None:
    got = trend([(15.0 * i, 4800.0 + 40 * i) for i in range(20)])
    assert got.state == "not_shown" and "rises" in got.text()


def test_a_slow_straight_fall_is_not_level() -> None:
    got = trend([(15.0 * i, 9000.0 - 60 * i) for i in range(40)])
    assert (got.state, got.why) == ("not_shown", "slow")


@pytest.mark.parametrize(
    "points",
    [[], [(0.0, 5000.0)] * 6, [(10.0 * i, 5000.0) for i in range(5)], [(0.0, 1.0), (500.0, 1.0)]],
)
def test_too_few_too_short_or_stopped_times_cannot_be_told(
    points: list[tuple[float, float]],
) -> None:
    got = trend(points)
    assert got.state == "not_shown"
    assert got.text().startswith("not shown to be level")


def test_the_words_for_the_screen_are_short() -> None:
    assert trend(falling(2400, 300, 5000, 1)).text() == "levelled at about 50 mbar"
    assert "level in about" in trend(falling(600, 300, 5000, 1)).text()
    quick = [(30.0 * i, 100.0 * round(50 + 40 * math.exp(-i / 2))) for i in range(9)]
    assert trend(quick).text() == "levels within these two minutes at about 50 mbar"


def test_the_level_is_never_surer_than_the_step_in_which_it_is_shown() -> None:
    smooth = [(20.0 * i, 4000 + 3000 * math.exp(-20.0 * i / 150)) for i in range(60)]
    got = trend(smooth, step_pa=100.0)
    assert got.state == "levelled" and got.level_mbar == pytest.approx(40, abs=0.5)
    assert got.u_level_mbar is not None and got.u_level_mbar >= 0.3
