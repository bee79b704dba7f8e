"""``doctor`` finds planted troubles, each with a remedy, and writes nothing; completion works."""

import json
import os
import shutil
import subprocess
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.cli import doctor as page
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.record import DataFolder

from tests.played import Played
from tests.test_contracts import ROOT

Patch = pytest.MonkeyPatch


@pytest.fixture
def data(good: Played, tmp_path: Path) -> DataFolder:
    """A data folder in order."""
    data = DataFolder(tmp_path / "data", "the test")
    shutil.copytree(good.folder.path, data.jobs / good.folder.id)
    for place in (data.path, data.jobs):
        place.chmod(0o700)
    key_folder(data).make(bytes(range(32)))
    return data


def found(data: DataFolder, capsys: pytest.CaptureFixture[str]) -> tuple[int, list[dict[str, str]]]:
    """Exit code, and what was found that is no good."""
    code = main(["--data", str(data.path), "doctor", "--json"])
    said: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert said["schema"] == 1 and said["troubles"] == sum(
        one["state"] == "trouble" for one in said["found"]
    )
    return code, [one for one in said["found"] if one["state"] == "trouble"]


def test_a_folder_in_order_has_no_trouble_and_stays_as_it_is(
    data: DataFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    before = {path: path.stat().st_mtime_ns for path in data.path.rglob("*")}
    assert found(data, capsys) == (exits.OK, [])
    assert {path: path.stat().st_mtime_ns for path in data.path.rglob("*")} == before
    assert main(["--data", str(data.path), "doctor"]) == exits.OK
    assert "No trouble found." in capsys.readouterr().out


def _journal(data: DataFolder) -> Path:
    return next(data.jobs.iterdir()) / "journal.jsonl"


def _damaged(data: DataFolder, patch: Patch) -> None:
    path = _journal(data)
    path.write_bytes(path.read_bytes().replace(b"stopped", b"stoppet", 1))


def _behind(data: DataFolder, patch: Patch) -> None:
    class Early(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> "Early":
            return cls(2020, 1, 1, tzinfo=tz)

    patch.setattr(page, "datetime", Early)


PLANTED: dict[str, tuple[Callable[[DataFolder, Patch], Any], str]] = {
    "a damaged journal": (_damaged, "audit"),
    "a clock that is behind": (_behind, "clock"),
    "others can get in": (lambda data, patch: data.path.chmod(0o755), "chmod 700"),
    "others can read the key": (
        lambda data, patch: key_folder(data).private.chmod(0o644),
        "chmod 600",
    ),
    "a public key that is none": (
        lambda data, patch: (data.path / "keys/public/x.pem").write_text("no key"),
        "backup",
    ),
    "settings that cannot be read": (
        lambda data, patch: (data.path / "settings.yaml").write_text("keep_personal_months: x\n"),
        "settings.yaml",
    ),
    "PINs that cannot be read": (
        lambda data, patch: (data.path / "people.json").write_text("{"),
        "people.json",
    ),
    "a full disk": (
        lambda data, patch: patch.setattr(
            page.shutil,
            "disk_usage",
            lambda path: shutil._ntuple_diskusage(1, 1, 50_000_000),  # type: ignore[attr-defined]
        ),
        "free some space",
    ),
    "a library that is missing": (
        lambda data, patch: patch.setattr(page.metadata, "requires", lambda name: ["nosuch>=1"]),
        "pip install nosuch",
    ),
    "a folder that is none": (
        lambda data, patch: (shutil.rmtree(data.path), data.path.write_text("")),
        "move it away",
    ),
    "a job's journal that is gone": (lambda data, patch: _journal(data).unlink(), "audit"),
}


@pytest.mark.parametrize("trouble", sorted(PLANTED))
def test_each_planted_trouble_is_found_with_its_remedy(
    trouble: str, data: DataFolder, capsys: pytest.CaptureFixture[str], monkeypatch: Patch
) -> None:
    plant, remedy = PLANTED[trouble]
    plant(data, monkeypatch)
    code, troubles = found(data, capsys)
    assert code == exits.FAILED and len(troubles) == 1, troubles
    assert remedy in f"{troubles[0]['what']} {troubles[0]['remedy']}"


def test_a_terminal_that_is_too_small_is_found(monkeypatch: Patch) -> None:
    class Small:
        encoding = "ascii"

        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(page.sys, "stdout", Small())
    monkeypatch.setattr(page.shutil, "get_terminal_size", lambda: os.terminal_size((40, 10)))
    said = [(one.state, one.what) for one in page._terminal()]
    assert [state for state, _ in said] == ["note", "trouble"] and "40 x 10" in said[1][1]


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_names_every_command(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == exits.OK
    script = capsys.readouterr().out
    for name in ("practise", "resume", "audit", "doctor"):
        assert name in script


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash reads its script")
def test_bash_completes_a_command_with_the_script(capsys: pytest.CaptureFixture[str]) -> None:
    main(["completion", "bash"])
    script = capsys.readouterr().out
    ask = "\nCOMP_WORDS=(steplatch au); COMP_CWORD=1\n_shtab_steplatch\necho ${COMPREPLY[@]}\n"
    done = subprocess.run(
        ["bash", "-c", script + ask], cwd=ROOT, capture_output=True, text=True, timeout=20
    )
    assert done.stdout.split() == ["audit"], done.stderr
