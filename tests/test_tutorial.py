"""The tutorial in procedures/README.md, line by line."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main

ROOT = Path(__file__).resolve().parents[1]
LINES = [
    line
    for block in re.findall(
        r"```sh\n(.*?)```", (ROOT / "procedures" / "README.md").read_text("utf-8"), re.S
    )
    for line in block.splitlines()
]


def test_the_tutorial_works_line_by_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    for folder in ("procedures", "examples"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STEPLATCH_DATA", str(tmp_path / "data"))
    assert len(LINES) == 11
    said = {}
    for line in LINES:
        words, _, remark = line.partition("    # ")
        if words.startswith("steplatch "):
            refused = remark == "refused"
            assert main(words.split()[1:]) == (exits.UNSAFE if refused else exits.OK), line
        else:
            subprocess.run(words, shell=True, check=True, cwd=tmp_path)
        said[line] = capfd.readouterr().out
    mistake = next(text for line, text in said.items() if "my-mistake" in line and text)
    assert "hand-over-codes" in mistake and "my-mistake.yaml:" in mistake
    show = next(text for line, text in said.items() if "procedure show" in line)
    assert "Look at the plug, type what it shows." in show
    diff = next(text for line, text in said.items() if "procedure diff" in line)
    assert "step plug-look is new" in diff and "Say how the zero stood." in diff
    assert "approved by" in said[LINES[-1]]
    assert (tmp_path / "data" / "procedures" / "approvals.jsonl").is_file()
