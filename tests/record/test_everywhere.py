"""An honest record audits as honest on another processor and under other words.

A job is played and audited in processes of their own: under two kernels of the linear algebra
library that numpy loads, and in a copy of the program with every sentence of what decides altered.
``python -m tests.record.other_pythons`` does the same for other versions of Python.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.fingerprint import judge_files, rule_files

from tests.record.altered import reworded_code, reworded_yaml

ROOT = Path(__file__).parents[2]
KERNELS = ("Haswell", "Nehalem")


ROOMS = ("safety", "runner", "procedures", "examples")


def steplatch(
    *words: str, copy: Path | None = None, kernel: str = ""
) -> subprocess.CompletedProcess[str]:
    """The program, or its ``copy``, run with these words."""
    env = {**os.environ, **({"OPENBLAS_CORETYPE": kernel} if kernel else {})}
    if copy is not None:
        env["PYTHONPATH"] = str(copy)
    done = subprocess.run(
        [sys.executable, "-m", "steplatch.runner.cli", *words],
        env=env, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "No module named" not in done.stderr, done.stderr
    return done


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A folder from which a copy of the program is imported in place of this one."""
    for room in ROOMS:
        ignored = shutil.ignore_patterns("__pycache__", "jobs" if room == "examples" else "")
        shutil.copytree(ROOT / room, tmp_path / "steplatch" / room, ignore=ignored)
    return tmp_path


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a job that was played in another process, under the first kernel."""
    data = tmp_path_factory.mktemp("everywhere")
    done = steplatch("--data", str(data), "practise", "--hands-free", kernel=KERNELS[0])
    assert done.returncode == exits.OK, done.stdout[-500:] + done.stderr
    (folder,) = (data / "jobs").iterdir()
    return folder


@pytest.mark.parametrize("kernel", KERNELS)
def test_a_job_of_one_processor_audits_as_good_on_another(played: Path, kernel: str) -> None:
    done = steplatch("audit", str(played), kernel=kernel)
    assert done.returncode == exits.OK, done.stdout


@pytest.mark.parametrize("name", ["", "the job of the grey van"], ids=["copied", "renamed"])
def test_a_copy_elsewhere_that_cannot_be_written_to_is_audited_and_printed(
    name: str, played: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "handed on" / (name or played.name)
    shutil.copytree(played, copy)
    held = {path: path.read_bytes() for path in copy.rglob("*") if path.is_file()}
    for path in (*copy.rglob("*"), copy):
        path.chmod(0o555 if path.is_dir() else 0o444)
    try:
        for word in ("audit", "sheet", "export", "debrief", "jobs"):
            code = main(["--data", str(tmp_path / "none"), word, str(copy)])
            said = capsys.readouterr()
            assert code == exits.OK, (word, said.err)
            assert word != "export" or played.name in said.out, said.out[:500]
        assert {p: p.read_bytes() for p in copy.rglob("*") if p.is_file()} == held
        assert not (tmp_path / "none").exists()
    finally:
        copy.chmod(0o755)
        for path in copy.rglob("*"):
            path.chmod(0o755)


def test_a_job_audits_as_good_with_every_sentence_of_what_decides_altered(
    played: Path, copy: Path
) -> None:
    root, altered = copy / "steplatch", 0
    for path in (*rule_files(root), *judge_files(root)):
        text = path.read_text(encoding="utf-8")
        new = reworded_code(text) if path.suffix == ".py" else reworded_yaml(text)
        altered += new != text
        path.write_text(new, encoding="utf-8")
    assert altered > 70
    done = steplatch("audit", str(played), copy=copy)
    assert done.returncode == exits.OK, done.stdout + done.stderr


def test_another_number_in_a_rule_is_told_as_another_part(played: Path, copy: Path) -> None:
    path = copy / "steplatch" / "runner" / "core" / "engine.py"
    text = path.read_text(encoding="utf-8")
    assert "PERMIT_S = 600" in text
    path.write_text(text.replace("PERMIT_S = 600", "PERMIT_S = 1", 1), encoding="utf-8")
    done = steplatch("audit", str(played), copy=copy)
    assert done.returncode == exits.AUDIT_OLDER, done.stdout
    assert "rules" in done.stdout and "would be decided otherwise today" in done.stdout
