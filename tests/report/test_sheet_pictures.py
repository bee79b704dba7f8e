"""The pictures: the same bytes for the same job, limits and uncertainty drawn, words beside."""

from xml.etree import ElementTree

import pytest
from steplatch.runner.sheet.blocks import BarPlot, FlowPlot, Paragraph, Picture, TrendPlot
from steplatch.runner.sheet.pictured import flow_picture, holds, trend_picture
from steplatch.runner.sheet.plots import plot_svg
from steplatch.runner.sheet.subject import subject_of
from steplatch.runner.sheet.timeline import moment, read_timeline

from tests.report.job_book import JobBook
from tests.report.sample_sheets import (
    EVERY_JOB,
    fluid_and_drying,
    pictures_of,
    record_of,
    until_agreed,
)


def pictures(name: str) -> dict[str, Picture]:
    """The pictures of a job by their id."""
    return {p.id: p for p in pictures_of(name)}


def test_a_finished_job_has_bars_lines_and_the_fall_of_pressure() -> None:
    assert set(pictures("good")) == {"bars", "flow", "trend"}


@pytest.mark.parametrize("name", EVERY_JOB)
def test_every_picture_is_drawn_without_date_and_always_alike(name: str) -> None:
    for picture in pictures(name).values():
        first = plot_svg(picture)
        plot_svg.cache_clear()
        assert plot_svg(picture) == first
        assert ElementTree.fromstring(first).tag == "{http://www.w3.org/2000/svg}svg"
        assert b"<dc:date" not in first


def test_the_words_beside_a_picture_hold_every_value_range_and_limit_that_it_shows() -> None:
    bars = pictures("good")["bars"]
    assert isinstance(bars.plot, BarPlot) and bars.plot.limit is not None
    for bar in bars.plot.bars:
        assert f"{bar.value:.0f} ± {bar.half_width:.0f} mbar" in bars.words
    assert f"up to {bars.plot.limit:.0f} mbar" in bars.words
    flow = pictures("good")["flow"]
    assert isinstance(flow.plot, FlowPlot)
    for label, _ in flow.plot.limits:
        assert label in flow.words
    assert all(line.u_slope > 0 for line in flow.plot.lines)


def test_a_wider_uncertainty_draws_another_band() -> None:
    from dataclasses import replace

    flow = pictures("good")["flow"]
    assert isinstance(flow.plot, FlowPlot)
    wider = tuple(replace(line, u_slope=2 * line.u_slope) for line in flow.plot.lines)
    assert plot_svg(replace(flow, plot=replace(flow.plot, lines=wider))) != plot_svg(flow)


def test_the_plausible_falls_lead_to_the_level_that_the_readings_were_made_from() -> None:
    trend = pictures("good")["trend"]
    assert isinstance(trend.plot, TrendPlot) and trend.plot.level is not None
    assert trend.plot.level_half_width is not None and trend.plot.level_half_width < 5.0
    assert trend.plot.level == pytest.approx(25.0, abs=trend.plot.level_half_width)
    assert trend.plot.curve[0][1] == pytest.approx(43.0, abs=1.0)
    assert f"{trend.plot.level:.1f} ±" in trend.words


def test_without_readings_there_is_no_picture_but_a_sentence() -> None:
    timeline = read_timeline(record_of("empty"))
    assert isinstance(trend_picture(timeline), Paragraph)
    assert isinstance(flow_picture({}), Paragraph)


def test_a_hold_that_was_broken_off_is_drawn_apart_and_not_weighed() -> None:
    from steplatch.runner.core.commands import Answer, Begin
    from steplatch.runner.core.events import Begun, Recorded

    book = JobBook()
    until_agreed(book)
    book.line(Begin("hold-dry"), Begun("hold-dry", procedure="sheet-test"))
    value = {"at_ms": book.ms, "typed": "90", "pa": "9000"}
    book.line(
        Answer("hold-dry", "90"),
        Recorded("trend", value, "hold-dry", procedure="sheet-test"),
        seconds=60,
    )
    fluid_and_drying(book)
    timeline = read_timeline(book.record(""))
    earlier, last = holds(timeline)
    assert [p for _, p in earlier] == [9000.0]
    assert len(last) == 9
    picture = trend_picture(timeline)
    assert isinstance(picture, Picture) and isinstance(picture.plot, TrendPlot)
    assert picture.plot.level == pytest.approx(25.0, abs=3.0)
    assert "Before them 1 readings" in picture.words
    assert plot_svg(picture)


def test_a_step_measured_twice_shows_both_values_with_their_times() -> None:
    from steplatch.runner.core.commands import Answer, Begin
    from steplatch.runner.core.events import Begun, Done, Recorded

    book = JobBook()
    for typed in ("168 degC", "79 degC"):
        book.line(Begin("temperature-step"), Begun("temperature-step", procedure="sheet-test"))
        record = Recorded(
            "exhaust", {"typed": typed, "class": "warm"}, "temperature-step", procedure="sheet-test"
        )
        done = (
            (Done("temperature-step", typed, book.who, procedure="sheet-test"),)
            if typed.startswith("79")
            else ()
        )
        book.line(Answer("temperature-step", typed), record, *done)
    worked = subject_of(book.record("")).timeline.worked
    assert [(w.answer, w.how) for w in worked] == [("168 degC", "again"), ("79 degC", "done")]
    assert all(w.begun and w.ended and w.begun.local < w.ended.local for w in worked)


def test_times_are_shown_in_the_workshops_own_time() -> None:
    # RFC 3339: the offset is local time minus UTC
    assert moment("2025-01-31T23:30:00.000Z", "+01:00").full() == "2025-02-01 00:30:00 +01:00"
    assert moment("2025-01-31T02:15:00.000Z", "-03:30").full() == "2025-01-30 22:45:00 -03:30"


def test_a_job_over_midnight_shows_its_days_and_a_short_one_the_clock_alone() -> None:
    book = JobBook()
    assert (
        len(subject_of(book.record("")).timeline.show(moment("2025-01-31T14:00:00Z", "+01:00")))
        == 8
    )
    from steplatch.runner.core.commands import Tick

    book.line(Tick(), seconds=12 * 3600)
    timeline = subject_of(book.record("")).timeline
    assert timeline.show(timeline.first) == "2025-01-31 14:00:20 +01:00"


def test_readings_that_do_not_fall_get_no_curve_and_no_level() -> None:
    from steplatch.runner.core.commands import Answer, Begin
    from steplatch.runner.core.events import Begun, Recorded

    book = JobBook()
    until_agreed(book)
    book.line(Begin("hold-dry"), Begun("hold-dry", procedure="sheet-test"))
    for minute in range(56):  # a sensor that shows whole mbar, its hose off
        pressure = 100.0 if minute in (32, 37, 39, 44, 46, 48, 50) else 0.0
        value = {"at_ms": book.ms, "typed": "0", "pa": repr(pressure)}
        book.line(
            Answer("hold-dry", "0"),
            Recorded("trend", value, "hold-dry", procedure="sheet-test"),
            seconds=60,
        )
    picture = trend_picture(read_timeline(book.record("")))
    assert isinstance(picture, Picture) and isinstance(picture.plot, TrendPlot)
    assert (picture.plot.level, picture.plot.curve) == (None, ())
    assert "No level" in picture.words and "±" in picture.words
