"""Anyone can check a journal with the few lines printed in the package's docstring."""

import inspect
import subprocess
import sys
from pathlib import Path

import pytest
import steplatch.runner.record
from steplatch.runner.record import FindingGrade, verify

from tests.record.sample_jobs import lines_of, make_job, put_lines


def _scripts() -> dict[str, list[str]]:
    """The two scripts, taken from the docstring itself: commands to run, by name."""
    blocks: list[list[str]] = [[]]
    for text in inspect.cleandoc(steplatch.runner.record.__doc__ or "").splitlines():
        if text.startswith("    "):
            blocks[-1].append(text[4:])
        elif blocks[-1]:
            blocks.append([])
    shell = next(block for block in blocks if any("sha256sum" in text for text in block))
    python = next(block for block in blocks if any("hashlib" in text for text in block))
    return {
        "shell": ["sh", "-c", "\n".join(shell)],
        "python": [sys.executable, "-W", "ignore", "-c", "\n".join(python)],
    }


def _run(name: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(_scripts()[name], cwd=folder, capture_output=True, text=True, timeout=20)


@pytest.mark.parametrize("name", ["shell", "python"])
def test_the_printed_script_agrees_with_verify_on_an_intact_journal(
    tmp_path: Path, name: str
) -> None:
    folder = make_job(tmp_path, 5)
    done = _run(name, folder)
    found = verify(folder)
    assert found.grade is FindingGrade.INTACT
    assert done.stdout == f"intact: 5 lines, {found.sha256}\n", done.stderr
    assert done.returncode == 0


@pytest.mark.parametrize("name", ["shell", "python"])
@pytest.mark.parametrize("damage", ["changed", "changed last", "dropped", "swapped", "cut"])
def test_the_printed_script_refuses_a_changed_journal(
    tmp_path: Path, name: str, damage: str
) -> None:
    folder = make_job(tmp_path, 5)
    lines = lines_of(folder)
    match damage:
        case "changed":
            lines[2] = lines[2].replace(b"6.5", b"5.5")
        case "changed last":
            lines[4] = lines[4].replace(b"6.5", b"5.5")
        case "dropped":
            del lines[1]
        case "swapped":
            lines[1], lines[2] = lines[2], lines[1]
        case "cut":
            del lines[3:]
    put_lines(folder, lines)
    done = _run(name, folder)
    assert done.returncode != 0
    assert "intact" not in done.stdout


def test_sha256sum_of_one_line_is_what_the_next_line_names(tmp_path: Path) -> None:
    folder = make_job(tmp_path, 3)
    done = subprocess.run(
        ["sh", "-c", "sed -n 2p journal.jsonl | sha256sum"],
        cwd=folder, capture_output=True, text=True, check=True, timeout=20,
    )  # fmt: skip
    assert lines_of(folder)[2].startswith(b'{"prev":"' + done.stdout[:64].encode() + b'",')
