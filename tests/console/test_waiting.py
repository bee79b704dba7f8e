"""What stands on the screen while something lasts: trend, cooling, calls, reminders, alarms."""

import contextlib
import os
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from steplatch.runner.assess import told
from steplatch.runner.cli.practice_job import bundle_for
from steplatch.runner.core.attention import QUICK_MS, quick_answer
from steplatch.runner.core.engine import Outcome
from steplatch.runner.core.events import Done, Recorded
from steplatch.runner.core.job import Job, StepMark
from steplatch.runner.core.steps import ReadStep, TemperatureStep
from steplatch.runner.screen.checkers import next_visit, visit_lines, visits
from steplatch.runner.screen.expected import cooling_line, ranges_of, unit_line
from steplatch.runner.screen.meanwhile import ahead_lines, paperwork, useful_now
from steplatch.runner.screen.talk import PICTURE, Prompt, Stopped
from steplatch.runner.screen.terminal.full_screen import FullScreen
from steplatch.runner.screen.terminal.plain_lines import PlainLines
from steplatch.runner.screen.timed import _with_speed, judged_trend, trend_lines, trend_points
from steplatch.runner.screen.trend_plot import MARK, plot

from tests.console.terminal import Screen
from tests.played import Stands


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    monkeypatch.setenv("TERM", "xterm-256color")
    made = Screen(60, 16)
    yield made
    made.close()


def recorded(job: Job, *records: Recorded) -> Job:
    return replace(job, log=replace(job.log, records=(*job.log.records, *records)))


# -- the trend -------------------------------------------------------------------------------


def test_a_falling_pressure_is_drawn_falling_from_left_to_right() -> None:
    points = [(60.0 * n, 9000.0 - 1000.0 * n) for n in range(6)]
    rows = plot(points, 40, 6)
    marks = [row.index(MARK) for row in rows if MARK in row]
    assert len(marks) == 6 and marks == sorted(marks)
    assert rows[0].startswith("    90 |") and rows[5].startswith("    40 |")
    assert rows[-1].endswith("5 min") and max(len(row) for row in rows) <= 40


def test_a_level_pressure_is_drawn_level_and_one_point_makes_no_picture() -> None:
    rows = plot([(0.0, 5000.0), (60.0, 5000.0), (120.0, 5000.0)], 40)
    assert sum(MARK in row for row in rows) == 1
    assert plot([(0.0, 5000.0)], 40) == []


def test_the_trend_of_a_hold_is_the_pressures_noted_since_it_began(stands: Stands) -> None:
    job = stands.at("hold-level", begun=True, last=True)
    points = trend_points(job)
    assert len(points) >= 5 and points == sorted(points) and points[0][0] >= 0
    lines = trend_lines(points, 80)
    assert lines[-1][0].startswith("TREND  ") and lines[-1][0].endswith("mbar")
    assert all(style == PICTURE for _, style in lines[:-1])


def test_a_judge_that_fails_on_the_screen_says_so_and_nothing_breaks(stands: Stands) -> None:
    def broken(job: Job, recorded: Any = None) -> dict[str, Any]:
        raise ZeroDivisionError("planted")

    plan = replace(stands.plan, judges=replace(stands.plan.judges, trend=broken))
    got = judged_trend(plan, stands.at("hold-level", begun=True, last=True))
    assert got["state"] == "not_shown" and "fault of the program" in told.trend(got)


def test_a_second_number_in_a_hold_is_the_engine_speed_and_a_unit_is_not() -> None:
    assert _with_speed("61 2450") == ("61", 2450.0)
    assert _with_speed("6.1 kPa") == ("6.1 kPa", None)
    assert _with_speed("61 22") == ("61 22", None), "too small for a speed: the engine refuses it"
    assert _with_speed("done") == ("done", None)


# -- expected values -------------------------------------------------------------------------


def test_cooling_is_told_from_two_measurements_and_about_how_long_it_takes(stands: Stands) -> None:
    job = stands.at("line-cool")
    step = stands.plan.main.step("line-cool")
    assert isinstance(step, TemperatureStep)
    first = Recorded(
        "exhaust", {"k": repr(447.15), "at_ms": 0, "class": "hot"}, step.id, procedure="clean-above"
    )
    second = Recorded(
        "exhaust",
        {"k": repr(441.15), "at_ms": 60_000, "class": "hot"},
        step.id,
        procedure="clean-above",
    )
    assert cooling_line(recorded(job, first), step) == ""
    # 174 to 168 degC in a minute, air 20 degC, target 100 degC: about 15 min lumped, Incropera
    # and DeWitt, Fundamentals of Heat and Mass Transfer, eq. 5.6, worked by hand:
    # tau = 60 / ln(154/148) = 1510 s; 1510 ln(148/80) = 929 s = 15.5 min; a step of 1 K: 13 min
    limit = replace(job.log, numbers={**job.log.numbers, "gloved_k": repr(373.15)})
    line = cooling_line(recorded(replace(job, log=limit), first, second), step)
    assert line.startswith("COOLS  now 168 degC, falling 6 a minute: about 13 to ")
    rising = Recorded(
        "exhaust",
        {"k": repr(450.15), "at_ms": 60_000, "class": "hot"},
        step.id,
        procedure="clean-above",
    )
    assert cooling_line(recorded(job, first, rising), step) == ""


def test_usual_ranges_name_the_raised_band_and_never_a_pressure_over_the_filter(
    stands: Stands,
) -> None:
    bundle = bundle_for("clean-above")
    ranges = ranges_of(bundle.vehicle, bundle.workshop)
    job = stands.at("before-raised")
    raised = stands.plan.main.step("before-raised")
    assert isinstance(raised, ReadStep)
    line = ranges(job, raised)
    low, high = job.log.number("revs_low_rpm"), job.log.number("revs_high_rpm")
    assert f"{low:.0f} to {high:.0f} 1/min" in line and "mbar" not in line
    zero = stands.plan.main.step("before-zero-read")
    assert isinstance(zero, ReadStep)
    assert ranges(job, zero) == "USUAL  -10 to +5 mbar, engine stopped"


def test_the_unit_of_the_last_set_is_recalled_but_never_supplied(stands: Stands) -> None:
    job = stands.at("before-idle")
    ids = frozenset({("clean-above", "before-raised")})
    assert unit_line(job, ids) == ""
    marks = tuple(
        replace(m, answer="7.59kPa 2376 39.7 224 87 shut") if m.step == "before-raised" else m
        for m in job.log.marks
    )
    typed = replace(job, log=replace(job.log, marks=marks))
    assert unit_line(typed, ids) == (
        "UNIT   last time the pressure was typed in kPa: write it again"
    )


# -- who is needed, what can be done ------------------------------------------------------------


def test_checker_visits_are_announced_at_the_start_and_called_in_time(stands: Stands) -> None:
    job, main = stands.at("crew"), stands.plan.main
    coming = [step.id for step, _, _ in visits(main, job)]
    assert {"check-fluid", "off-check", "release"} <= set(coming)
    lines = visit_lines(main, job)
    assert 3 <= len(lines) <= 5 and all("min" in line for line in lines)
    called = [
        step.id
        for step in main.steps()
        for at in [j for j in stands.jobs if j.core.step == step.id][:1]
        if next_visit(main, step, at)
    ]
    steps = [s.id for s in main.steps()]
    before = steps[steps.index("check-fluid") - 1]
    assert before in called and "check-fluid" not in called and "crew" not in called


def test_a_wait_offers_the_paper_to_come_and_no_act_at_the_vehicle(stands: Stands) -> None:
    job, main = stands.at("line-cool"), stands.plan.main
    ahead = paperwork(main, job)
    assert ahead and all(step.kind == "ask" for step in ahead)
    at_the_vehicle = ("Read", "Look at", "Look for", "Look into", "Look whether", "Blow", "Count")
    assert not any(step.do.startswith(at_the_vehicle) for step in ahead)
    assert useful_now(main, job).startswith("the customer's agreement page; ")
    assert useful_now(main, job).endswith("Type write.")
    lines = ahead_lines(main, job, "2026-03-02-aaaaaaaa")
    assert any("steplatch sheet 2026-03-02-aaaaaaaa --agreement" in line for line in lines)
    late = stands.at("hand-over")
    assert useful_now(main, late) == ""


# -- quick answers ---------------------------------------------------------------------------


@pytest.mark.parametrize(("took_ms", "told"), [(QUICK_MS - 1, True), (QUICK_MS, False)])
def test_an_answer_faster_than_a_look_is_told_quietly(
    stands: Stands, took_ms: int, told: bool
) -> None:
    job = stands.at("gun-away")
    mark = StepMark("secured", 5000, 5000 + took_ms, "yes", "apprentice-1", "clean-above")
    marks = (*job.log.marks, mark)
    real = replace(job, log=replace(job.log, marks=marks, practice=False))
    outcome = Outcome((Done("secured", "yes", "apprentice-1", procedure="clean-above"),))
    text = quick_answer(stands.plan.main, real, outcome)
    assert bool(text) == told
    practice = replace(real, log=replace(real.log, practice=True))
    assert quick_answer(stands.plan.main, practice, outcome) == ""


# -- bells -----------------------------------------------------------------------------------


def _later(screen: Screen, words: str, keys: bytes) -> None:
    def run() -> None:
        screen.shows(words)
        with contextlib.suppress(OSError):
            os.write(screen.master, keys)

    threading.Thread(target=run, daemon=True).start()


@pytest.mark.parametrize("kind", [FullScreen, PlainLines])
def test_a_fact_that_lapses_at_an_open_question_rings_and_is_named(
    screen: Screen, kind: type[FullScreen] | type[PlainLines]
) -> None:
    talk = kind(screen.stdin, screen.stdout)
    _later(screen, "LAPSED fumes", b"1\n")
    prompt = Prompt("k", "line", "Type 1.", watch=lambda: "LAPSED fumes: look again.")
    assert talk.ask(prompt) == "1"
    assert screen.rang()
    talk.close()


def test_an_alarm_rings_until_it_is_answered(
    screen: Screen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("steplatch.runner.screen.terminal.full_screen.ALARM_EVERY_S", 0.2)
    talk = FullScreen(screen.stdin, screen.stdout)
    talk.say(" TRIP LATCHED: over ceiling", "DANGER")
    talk.ring(until_answered=True)

    def answer() -> None:
        until = time.monotonic() + 5
        while len(screen.bells) < 3 and time.monotonic() < until:
            time.sleep(0.01)
        os.write(screen.master, b"1\n")

    threading.Thread(target=answer, daemon=True).start()
    assert talk.ask(Prompt("k", "line", "Is it back under the ceiling? Type 1.")) == "1"
    assert len(screen.bells) >= 3
    assert screen.shows("TRIP LATCHED: over ceiling")
    rung = len(screen.bells)
    _later(screen, "Type 2.", b"2\n")
    assert talk.ask(Prompt("k2", "line", "Type 2.")) == "2"
    assert len(screen.bells) == rung, "answered: it is quiet"
    talk.close()


def test_a_pin_is_not_drawn(screen: Screen) -> None:
    for kind in (FullScreen, PlainLines):
        talk = kind(screen.stdin, screen.stdout)
        _later(screen, f"PIN {kind.__name__}", b"583914\n")
        assert talk.ask(Prompt("pin", "secret", f"PIN {kind.__name__}?")) == "583914"
        assert "583914" not in screen.text() and "***" not in screen.text()
        talk.close()


def test_esc_stops_at_once_whatever_was_typed_and_an_arrow_key_does_not(screen: Screen) -> None:
    talk = FullScreen(screen.stdin, screen.stdout)
    _later(screen, "Type it.", b"ab\x1b[A\x7fc\n")
    assert talk.ask(Prompt("k", "line", "Type it.")) == "ac"
    _later(screen, "Type more.", b"half an ans")

    def press() -> None:
        screen.shows("> half an ans")
        os.write(screen.master, b"\x1b")

    threading.Thread(target=press, daemon=True).start()
    with pytest.raises(Stopped):
        talk.ask(Prompt("k2", "line", "Type more."))
    talk.close()
