"""The program in a process and terminal of its own: wrong keys, pastes, stop, kill, resume."""

import json
import os
import re
import signal
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from steplatch.runner.cli import exits

from tests.console.reader import Reader, work
from tests.console.terminal import PART, Program, begun


def lines_of(data: Path) -> list[dict[str, Any]]:
    journal = next((data / "jobs").glob("*/journal.jsonl"))
    return [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]


def steps_done(data: Path) -> list[str]:
    return [
        event["step"]
        for line in lines_of(data)
        for event in line["outcome"]["events"]
        if event["kind"] == "Done"
    ]


def kinds(data: Path) -> list[str]:
    return [line["command"]["kind"] for line in lines_of(data)]


WRONG = (
    *("", "y", "0", "-1", "4", "²", "٣", "1.0", "null", "--help", "crew", "P A I R"),
    *("é\x07\x1b[31m", "\x1b[A", "\u202e1", "9" * 350, "a" * 3000),
)


@pytest.fixture(scope="module")
def standing() -> Iterator[tuple[Program, Path]]:
    """A job at its first step, shared by tests that must leave it there."""
    with TemporaryDirectory(prefix="steplatch-test-") as name:
        program = begun(Path(name))
        yield program, Path(name)
        program.send("leave")
        assert program.end() == exits.LEFT_OPEN
        assert steps_done(Path(name)) == []


@pytest.mark.parametrize("typed", WRONG)
def test_a_wrong_line_is_named_as_such_and_the_job_stands_at_the_same_step(
    standing: tuple[Program, Path], typed: str
) -> None:
    program, data = standing
    program.answer(typed)
    said = program.said()
    assert any(w in said for w in ("no answer", "Type the answer again", "characters are too many"))
    assert "Say who is here until the end." in program.text()
    assert steps_done(data) == [] and "Look" not in kinds(data)


@pytest.mark.parametrize("key", ["", "y", "yes", "0", "go"])
def test_the_same_word_over_and_over_never_leaves_the_first_step(
    standing: tuple[Program, Path], key: str
) -> None:
    program, data = standing
    for _ in range(8):
        program.answer(key)
    assert steps_done(data) == []


def test_all_ones_stand_still_before_the_vehicle_is_compared(quick: Path) -> None:
    program = begun(quick)
    for _ in range(10):
        program.answer("1")
    stands = steps_done(quick)
    for _ in range(6):
        program.answer("1")
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    assert steps_done(quick) == stands
    assert "identity" not in stands


@pytest.mark.parametrize("at_once", ["3\n3\n", "go\ngo\n1\n" * 40])
def test_of_a_paste_not_one_answer_is_taken(standing: tuple[Program, Path], at_once: str) -> None:
    program, data = standing
    program.answer("x")
    program.child.send(at_once)
    program.shows("none of them was taken")
    program.ready()
    assert steps_done(data) == [] and "Look" not in kinds(data)


def test_a_changed_size_is_drawn_anew_without_a_key_and_keeps_what_was_typed(
    standing: tuple[Program, Path],
) -> None:
    program, data = standing
    program.answer("x")
    program.child.send("tw")
    program.shows("> tw")
    for columns, rows in ((44, 12), (160, 50), (40, 4), (80, 24)):
        shown = program.resize(columns, rows)
        assert shown.splitlines()[rows - 1] == "> tw" or "Enter reads on" in shown
        assert "two of us" in shown or rows < 24
    program.child.send("\x7f\x7f\x15")
    program.shows(">")
    program.answer("x")
    assert steps_done(data) == []


def test_what_was_typed_before_the_question_stood_there_is_dropped(quick: Path) -> None:
    program = Program(quick, "practise")
    program.child.send("1\n3\n")  # while the program still starts
    program.ready()
    assert not list((quick / "jobs").glob("*")) if (quick / "jobs").exists() else True
    program.send("s")
    assert program.end() == exits.STOPPED


def test_stop_before_anything_has_begun_ends_without_a_trace(quick: Path) -> None:
    program = Program(quick, "practise")
    program.ready()
    program.child.send("\x1b")
    assert program.end() == exits.STOPPED
    assert not list((quick / "jobs").glob("*"))


def test_ctrl_c_holds_the_job_and_go_goes_on_at_the_same_step(quick: Path) -> None:
    program = begun(quick)
    program.child.sendintr()
    program.shows("HELD. Gun shut first.")
    assert "Type go to go on" in program.ready()
    assert "line 1 of" in program.answer("go")
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    assert kinds(quick).count("Stop") == 2 and "GoOn" in kinds(quick)


def test_end_of_input_is_recorded_as_a_stop(quick: Path) -> None:
    program = begun(quick)
    program.child.sendeof()
    assert program.end() == exits.LEFT_OPEN
    assert lines_of(quick)[-1]["command"] == {"kind": "Stop", "why": "terminal_gone"}


def test_a_closed_terminal_is_recorded_as_a_stop_and_keeps_its_exit_code(quick: Path) -> None:
    program = begun(quick)
    os.close(program.child.ptyproc.fd)
    _, status = os.waitpid(program.child.pid, 0)
    program.child.terminated = True
    assert os.waitstatus_to_exitcode(status) == exits.LEFT_OPEN
    assert lines_of(quick)[-1]["command"] == {"kind": "Stop", "why": "terminal_gone"}


def test_help_terms_back_and_event_work_at_a_prompt(quick: Path) -> None:
    program = begun(quick)
    first = program.answer("?", parts=False)
    assert PART in first and "HELP on: Say who is here" in first
    program.ready()
    program.answer("??")
    assert "extended limit:" in program.said() and "ledger:" in program.said()
    assert "no earlier step" in program.answer("back") or "no earlier step" in program.said()
    program.answer("event")
    number = next(line.split()[0] for line in program.text().splitlines() if "fume alarm" in line)
    program.answer(number)
    assert "TRIP LATCHED: fumes" in program.said()
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN


def test_a_first_time_reader_goes_on_from_the_screen_alone_after_a_kill_9(quick: Path) -> None:
    program = begun(quick, COLORTERM="truecolor")
    reader = Reader()
    work(program, reader, until="DO     When held for two minutes")
    os.kill(program.child.pid, signal.SIGKILL)
    program.child.close()
    before = steps_done(quick)
    assert "before-raise" in before and b"48;2;" in program.raw and len(reader.seen) >= 28

    again = Program(quick, "resume", columns=44, rows=12, NO_COLOR="1")
    again.ready()
    said = " ".join(again.said().split())
    assert "Nothing is assumed" in said and "connected or cranked meanwhile?" in said
    assert work(again, reader, until="DO     Measure the bare inlet", most=60) > 15
    again.send("leave")
    assert again.end() == exits.LEFT_OPEN
    assert not re.search(rb"\x1b\[[0-9;]*[34]8;", again.raw), "no colour"
    asked = [c["command"].get("fact") for c in lines_of(quick) if c["command"]["kind"] == "Look"]
    assert {"engine", "hose", "gun"} <= set(asked[-60:])
    assert steps_done(quick)[: len(before)] == before
    assert [shown for shown in reader.seen if "s stop" not in shown] == []


def test_in_plain_lines_every_question_can_be_stopped_at_and_nothing_is_drawn(quick: Path) -> None:
    program = Program(quick, "practise", "--plain")
    program.ready()
    program.answer("1")
    reader = Reader()
    stops = 0
    for _ in range(10):
        screen = program.ready()
        assert "s stop" in screen
        assert "HELD. Gun shut first." in program.answer("s") or (
            "HELD. Gun shut first." in program.said()
        )
        stops += 1
        program.answer("go")
        program.send(reader.answer(program.said()))
    assert kinds(quick).count("Stop") == stops
    assert b"\x1b[" not in program.raw
    program.ready()
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN


def test_the_words_of_the_last_row_work_before_all_of_a_question_is_read(quick: Path) -> None:
    program = Program(quick, "practise", rows=12, columns=44)
    assert "Who does the work" in program.ready()
    first = program.answer("1", parts=False)
    assert "part 1 of" in first and " leave" in first
    program.send("3")
    program.shows("part 2 of 5: Enter reads on 3")  # an answer waits until all is read
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
