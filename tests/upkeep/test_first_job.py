"""The first job of the guide, followed word by word at a terminal of 80 x 24."""

import re
import time
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main

from tests.start.terminal import Start
from tests.upkeep.write_guide import GUIDE

PAGE = (GUIDE / "first-job.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (.+?) \| (?:\*\*(.+?)\*\*|`(.+?)`) \|$", PAGE, re.M)
COMMANDS = [
    line.split() for block in re.findall(r"```console\n(.*?)```", PAGE, re.S)
    for line in block.splitlines()
]  # fmt: skip


def test_the_first_job_goes_as_its_page_says(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert len(ROWS) > 25 and [words[:2] for words in COMMANDS] == [
        ["steplatch", "practise"], ["steplatch", "debrief"], ["steplatch", "audit"],
    ]  # fmt: skip
    program = Start(tmp_path, *COMMANDS[0][1:])
    for asked, beside, typed in ROWS:
        shown(program, asked)
        if beside:
            program.keys(
                number_beside(program, beside) + "\r" * ("Type the number" in text(program))
            )
        else:
            program.keys(typed if len(typed) == 1 else f"{typed}\r")
    assert program.end(30.0) == exits.OK, program.text()
    assert b": finished" in program.raw and b"sheet.html" in program.raw
    for words in COMMANDS[1:]:
        assert main(["--data", str(tmp_path / "data"), *words[1:]]) == exits.OK
    told = capsys.readouterr().out
    assert "1 jobs," in told and "1 good" in told


def text(program: Start) -> str:
    return " ".join(program.text().split())


def shown(program: Start, words: str) -> None:
    """Wait until the words stand on the screen, above a place to answer."""
    until = time.monotonic() + 30.0
    while time.monotonic() < until:
        open_ = program.pump(0.05)
        if open_ is False:
            break
        if open_ is None and words in text(program) and program.text().rstrip().endswith(">"):
            return
    raise AssertionError(f"{words!r} was not asked:\n{program.text()}")


def number_beside(program: Start, words: str) -> str:
    """The number on the screen beside the words."""
    numbered = re.findall(r"^ +(\d)  (.+(?:\n {5,}.+)*)", program.text(), re.M)
    found = [number for number, said in numbered if words in " ".join(said.split())]
    assert len(found) == 1, f"{words!r}: {found}\n{program.text()}"
    return found[0]
