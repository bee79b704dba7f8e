"""The tutorial in procedures/README.md, line by line: commands as they stand, questions answered at
a terminal with what the page says."""

import re
import shutil
import subprocess
from itertools import pairwise
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main

from tests.start.terminal import Start

ROOT = Path(__file__).resolve().parents[1]
PAGE = (ROOT / "procedures" / "README.md").read_text("utf-8").split("## The form")[0]
LINES = [
    line for block in re.findall(r"```sh\n(.*?)```", PAGE, re.S) for line in block.splitlines()
]
ASKED = re.findall(r"^\| (\w[^|`]*) \| `([^`]+)` \|$", PAGE.split("| it asks")[1], re.M)
BY_QUESTIONS = "steplatch procedure new"


def test_the_tutorial_works_line_by_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    for folder in ("procedures", "examples"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STEPLATCH_DATA", str(tmp_path / "data"))
    said: list[tuple[str, str]] = []
    for line in LINES:
        words, _, remark = line.partition("    # ")
        if line == BY_QUESTIONS:
            said.append((line, answered_at_a_terminal(tmp_path)))
            continue
        if words.startswith("steplatch "):
            refused = remark == "refused"
            assert main(words.split()[1:]) == (exits.UNSAFE if refused else exits.OK), line
        else:
            subprocess.run(words, shell=True, check=True, cwd=tmp_path)
        said.append((line, capfd.readouterr().out))
    assert len(said) > 15
    (mistake,) = (text for line, text in said if "# refused" in line)
    assert "hand-over-codes" in mistake and "my-zero.yaml:" in mistake
    told = dict(said)
    assert "Look at the plug, type what it shows." in told["steplatch procedure show my-zero.yaml"]
    diff = told["steplatch procedure diff zero-check my-zero.yaml"]
    assert "step plug-look is new" in diff and "Say how the zero stood." in diff
    assert "proven" not in told[BY_QUESTIONS] and "no step is refused" in told[BY_QUESTIONS]
    approvals = tmp_path / "data" / "procedures" / "approvals.jsonl"
    assert [text.count("approved by") for line, text in said if " approve " in line] == [1, 1]
    assert len(approvals.read_text("utf-8").splitlines()) == 2


def answered_at_a_terminal(cwd: Path) -> str:
    """What was written while the questions were answered as the page says."""
    program = Start(cwd, *BY_QUESTIONS.split()[1:])
    program.asked(ASKED[0][0])
    for (_, typed), (then, _) in pairwise(ASKED):
        program.type(typed, then)
    program.keys(ASKED[-1][1] + "\r")
    assert program.end(40.0) == exits.OK, program.text()
    return program.said()
