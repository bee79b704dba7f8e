"""The program in a process and terminal of its own: wrong keys, stop, kill, resume."""

import json
import os
import re
import signal
import time
from pathlib import Path
from typing import Any

import pexpect
import pytest

from runner import exits
from tests.console.terminal import spawned

READY = r"\r?\n> $"


def _lines(data: Path) -> list[dict[str, Any]]:
    journal = next((data / "jobs").glob("*/journal.jsonl"))
    return [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]


def _steps_done(data: Path) -> list[str]:
    return [
        event["step"]
        for line in _lines(data)
        for event in line["outcome"]["events"]
        if event["kind"] == "Done"
    ]


def _begun(data: Path, **kwargs: Any) -> Any:
    child = spawned(data, "practise", **kwargs)
    child.expect("Who does the work")
    child.expect("> $")
    child.sendline("apprentice-1")
    child.expect("step 1 of")
    child.expect("> $")
    return child


def _end(child: Any) -> int:
    child.expect(pexpect.EOF)
    child.close()
    return int(child.exitstatus)


@pytest.mark.parametrize("key", ["", "y", "1", "é\x07\x1b[31m", "9" * 400])
def test_the_same_key_over_and_over_does_not_get_through_the_job(quick: Path, key: str) -> None:
    child = _begun(quick)
    for _ in range(14):
        child.sendline(key)
        child.expect("> $")
    child.sendline("leave")
    assert _end(child) == exits.LEFT_OPEN
    assert len(_steps_done(quick)) <= 4, _steps_done(quick)


def test_a_paste_of_many_answers_answers_one_question_at_the_most(quick: Path) -> None:
    child = _begun(quick)
    child.send("3\n" * 30)
    time.sleep(1.5)
    child.sendline("leave")
    child.expect("> $|Left")
    child.sendline("leave")
    child.close(force=True)
    assert len(_steps_done(quick)) <= 2, _steps_done(quick)


def test_ctrl_c_holds_the_job_and_shows_the_card_and_go_goes_on_at_the_same_step(
    quick: Path,
) -> None:
    child = _begun(quick, NO_COLOR="1")
    child.sendintr()
    child.expect("HELD. Gun shut first.")
    child.expect("> $")
    child.sendline("go")
    child.expect("step 1 of")
    child.expect("> $")
    child.sendline("leave")
    assert _end(child) == exits.LEFT_OPEN
    kinds = [line["command"]["kind"] for line in _lines(quick)]
    assert "Stop" in kinds and "GoOn" in kinds
    assert "\x1b[" not in (child.before or "")


def test_a_closed_terminal_is_recorded_as_a_stop(quick: Path) -> None:
    child = _begun(quick)
    child.sendeof()
    assert _end(child) == exits.LEFT_OPEN
    assert _lines(quick)[-1]["command"] == {"kind": "Stop", "why": "the terminal is gone"}


def test_after_kill_9_resume_asks_again_and_goes_on_at_the_recorded_step(quick: Path) -> None:
    child = _begun(quick, columns=44, rows=12)
    text = child.before
    number = re.findall(r"(\d)  two of us", text)[-1]
    child.sendline(number)
    child.expect("step 2 of")
    child.expect("> $")
    os.kill(child.pid, signal.SIGKILL)
    child.close()
    before = _steps_done(quick)
    assert before == ["crew"]

    again = spawned(quick, "resume")
    again.expect("Nothing is assumed")
    again.expect("cranked meanwhile")
    again.expect("> $")
    assert "1" in again.before
    number = re.findall(r"(\d)  nothing was sprayed", again.before)[-1]
    again.sendline(number)
    again.expect("Look again: crew")
    again.expect("> $")
    again.sendline("leave")
    assert _end(again) == exits.LEFT_OPEN
    kinds = [line["command"]["kind"] for line in _lines(quick)]
    assert kinds[-2:] == ["Interrupted", "AnswerMeanwhile"]


def test_help_and_back_and_event_work_at_a_prompt(quick: Path) -> None:
    child = _begun(quick)
    child.sendline("?")
    child.expect("HELP")
    child.expect("> $")
    child.sendline("back")
    child.expect("no earlier step")
    child.expect("> $")
    child.sendline("event")
    child.expect("flames")
    child.expect("> $")
    number = re.findall(r"(\d+)  fume alarm", child.before + child.after)
    assert number, child.before
    child.sendline(number[-1])
    child.expect("TRIP LATCHED: fumes")
    child.expect("fresh air")
    child.expect("> $")
    child.sendline("leave")
    assert _end(child) == exits.LEFT_OPEN
