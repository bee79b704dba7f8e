"""The questions before a job at a real terminal: lists to move in, and plain lines."""

import re
import shutil
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.making import KINDS
from steplatch.runner.screen.terminal.keyboard import AT_ONCE

from tests.start.terminal import Start
from tests.start.test_making import ANSWERS

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples" / "workshop"
SIZES = [(80, 24), (44, 12)]
WAYS = ["drawn", "plain", "dumb"]
TO_BEGIN = [
    ("2", "Which procedure?"),
    ("1", "Which vehicle?"),
    ("1", "Who does the work?"),
    ("2", "Who else"),
    ("none", "Type begin"),
]
"""What is typed from the first question on, and what is asked then."""


def start(cwd: Path, *words: str, way: str = "drawn", size: tuple[int, int] = (80, 24)) -> Start:
    """The program in a folder with the example workshop."""
    if not (cwd / "gun.yaml").exists():
        shutil.copytree(EXAMPLES, cwd, dirs_exist_ok=True)
    more = ["--plain"] if way == "plain" else []
    env = {"TERM": "dumb"} if way == "dumb" else {}
    return Start(cwd, *words, *more, columns=size[0], rows=size[1], **env)


def jobs(cwd: Path) -> list[Path]:
    return list((cwd / "data" / "jobs").glob("*/journal.jsonl"))


def test_a_list_takes_nothing_for_enter_or_other_keys_and_leaves_without_a_job(
    tmp_path: Path,
) -> None:
    program = start(tmp_path, "run", size=(44, 12))
    first = program.asked("What now?")
    assert "1) practise first" in first and "l leave" in first
    for keys in ("\r", "\r\r", "x\r", "y\r", " \r", "\x1b[C\r"):
        program.keys(keys)
        program.pump(0.1)
    assert "Which procedure?" not in program.text() and "practise first" in program.text()
    program.keys("\x1b[B\r")
    program.asked("Which procedure?")
    assert "Which procedure? Type 1 to" in " ".join(program.text().split())
    program.keys("leave\r")
    assert program.end() == exits.STOPPED
    assert "Left. No job was begun." in program.text()
    assert b"Traceback" not in program.raw and not jobs(tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("way", WAYS)
def test_a_job_is_chosen_by_numbers_and_begun_by_its_word(
    tmp_path: Path, way: str, size: tuple[int, int]
) -> None:
    program = start(tmp_path, "run", way=way, size=size)
    program.asked("What now?")
    for typed, then in TO_BEGIN:
        program.type(typed, then)
    shown = " ".join(program.text().split())
    for words in ("PROCEDURE", "VEHICLE", "GUN", "FLUID", "WORKSHOP", "WORK BY Example Technician"):
        assert words in shown, program.text()
    for typed in ("y", "yes", "1"):
        program.type(typed, "begins nothing")
    assert not jobs(tmp_path)
    program.keys("begin\r")
    for _ in range(100):
        program.pump(0.1)
        if jobs(tmp_path) and "1/" in program.text():
            break
    assert len(jobs(tmp_path)) == 1
    program.child.close()


@pytest.mark.slow
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("key", ["\x03", "\x04", "leave"])
def test_every_question_can_be_left_and_no_job_is_begun(tmp_path: Path, way: str, key: str) -> None:
    for answered in range(len(TO_BEGIN) + 1):
        program = start(tmp_path, "run", way=way)
        program.asked("What now?")
        for typed, then in TO_BEGIN[:answered]:
            program.type(typed, then)
        listed = way == "drawn" and answered < len(TO_BEGIN) - 1  # then a line is typed
        leave = "l" if listed else "leave\r"
        program.keys(leave if key == "leave" else key)
        assert program.end() == exits.STOPPED, program.text()
        assert "No job was begun" in program.text()
        assert b"Traceback" not in program.raw
        assert not jobs(tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("way", WAYS)
def test_a_closed_terminal_begins_no_job(tmp_path: Path, way: str) -> None:
    program = start(tmp_path, "run", way=way)
    program.asked("What now?")
    program.type("2", "Which vehicle?")
    program.child.close(force=True)
    assert not jobs(tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("way", WAYS)
def test_a_paste_and_what_was_typed_ahead_are_not_taken(tmp_path: Path, way: str) -> None:
    program = start(tmp_path, "run", way=way)
    program.keys("2\r1\r2\rbegin\r")
    program.asked("What now?")
    program.keys("2\r1\r2\rbegin\r")
    assert AT_ONCE in program.asked(AT_ONCE)
    for typed, then in TO_BEGIN:
        program.type(typed, then)
    program.keys("change\rbegin\r")
    assert AT_ONCE in program.asked(AT_ONCE)
    if way == "drawn":
        program.keys("\x1b[200~begin\nbegin\x1b[201~\r")
        assert AT_ONCE in program.asked(AT_ONCE)
    assert not jobs(tmp_path)
    program.keys("\x03")
    assert program.end() == exits.STOPPED


@pytest.mark.slow
@pytest.mark.parametrize("way", ["drawn", "plain"])
@pytest.mark.parametrize("typed", ["9", "0", "-1", "nothing", "1 2", "é", "\x1b[A"])
def test_what_is_not_on_the_list_is_not_taken(tmp_path: Path, way: str, typed: str) -> None:
    program = start(tmp_path, "run", way=way)
    program.asked("What now?")
    program.type("2", "Which vehicle?")
    program.type("1", "Who does the work?")
    if way == "plain":
        program.keys(typed + "\r")
        said = program.asked("Type 1 to 3")
        assert "is not on the list" in said or "control key" in said
    else:
        program.keys(typed)
        program.pump(0.2)
        assert "Who does the work?" in program.text()
    assert "Type begin" not in program.text()
    program.keys("\x03")
    assert program.end() == exits.STOPPED


@pytest.mark.slow
@pytest.mark.parametrize(
    ("way", "size"), [("drawn", (80, 24)), ("drawn", (44, 12)), ("plain", (44, 12))]
)
@pytest.mark.parametrize("name", list(KINDS))
def test_each_file_is_made_by_answering_and_carries_the_limits(
    tmp_path: Path, name: str, way: str, size: tuple[int, int]
) -> None:
    shutil.copytree(EXAMPLES, tmp_path, dirs_exist_ok=True)
    (tmp_path / f"{name}.yaml").unlink()
    more = ["--plain"] if way == "plain" else []
    program = Start(tmp_path, "make", name, *more, columns=size[0], rows=size[1])
    program.asked()
    for typed in ANSWERS[name]:
        program.type(pressed(program, typed, way))
    if name == "people":
        program.type("1", "Who else")
        program.keys("2\r")
    else:
        assert "That is the file." in program.said()
        program.keys("1\r")
    assert program.end() == exits.OK, program.text()
    assert (tmp_path / f"{name}.yaml").exists()
    limits = Start(tmp_path, "limits", "--vehicle", str(tmp_path / "vehicle.yaml"))
    assert limits.end() == exits.OK, limits.text()


def pressed(program: Start, typed: str, way: str) -> str:
    """The number that stands before ``typed`` in a drawn list; else ``typed``."""
    if way != "drawn" or "Number or arrow" not in program.text():
        return typed
    words = "answer the other" if typed == "more" else f"{typed}$"
    found = re.search(rf"(\d)\) {words}", program.text(), re.M)
    return found[1] if found else typed


@pytest.mark.slow
def test_nothing_is_coloured_and_no_mark_of_the_library_is_shown(tmp_path: Path) -> None:
    for env in ({}, {"NO_COLOR": "1"}):
        program = Start(tmp_path, "make", "gun", **env)
        for typed in ("my gun", "1 L", "0.5 s"):
            program.asked("Type it")
            program.keys(typed + "\r")
        program.asked("yes")
        program.keys("\x03")
        assert program.end() == exits.STOPPED
        coloured = re.findall(rb"\x1b\[(?:\d+;)*(?:3\d|4\d|9\d|10\d)(?:;\d+)*m", program.raw)
        assert not coloured
        text = program.raw.decode()
        assert "»" not in text and "Use arrow" not in text and "shortcuts" not in text
        assert "\x1b[6n" not in text and "Cancelled" not in text


@pytest.mark.slow
def test_a_dumb_terminal_gets_no_escape_codes(tmp_path: Path) -> None:
    program = start(tmp_path, "run", way="dumb", size=(44, 12))
    program.asked("What now?")
    program.type("2", "Which vehicle?")
    program.keys("\x03")
    assert program.end() == exits.STOPPED
    assert b"\x1b" not in program.raw


@pytest.mark.slow
def test_a_list_is_drawn_anew_when_the_size_changes(tmp_path: Path) -> None:
    program = start(tmp_path, "run")
    program.asked("What now?")
    program.type("2", "Which vehicle?")
    program.screen.resize(12, 44)
    program.child.setwinsize(12, 44)
    for _ in range(5):
        program.pump(0.1)
    program.type("1", "Who does the work?")
    program.keys("l")
    assert program.end() == exits.STOPPED
