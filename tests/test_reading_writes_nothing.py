"""Whoever reads a job's folder, their own or a stranger's, changes nothing on the computer.

The folder's names are untrusted: a record may name its texts ``../x`` or ``/etc/x``, with a chain
that is sound, since whoever wrote it made the chain.
"""

import shutil
import stat
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.projection import BrokenJob
from steplatch.runner.jobs.store import bundle_of, load
from steplatch.runner.record import JobFolder, read
from steplatch.runner.record.attachments import check_attachment

from tests.played import Played
from tests.test_changed_records import forge


def seen(room: Path) -> dict[str, tuple[Any, ...]]:
    """Every name below a folder with its kind, mode, size, time of change and bytes."""
    found = {}
    for path in sorted([room, *room.rglob("*")]):
        info = path.lstat()
        held = path.read_bytes() if stat.S_ISREG(info.st_mode) else b""
        found[str(path.relative_to(room))] = (info.st_mode, info.st_mtime_ns, held)
    return found


@pytest.fixture
def room(good: Played, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with a data folder that holds one job; home and temporary folder lie in it too."""
    (tmp_path / "tmp").mkdir()
    (tmp_path / "home").mkdir()
    shutil.copytree(good.folder.path, tmp_path / "data" / "jobs" / good.folder.id)
    for name in ("tmp", "home"):
        monkeypatch.setenv({"tmp": "TMPDIR", "home": "HOME"}[name], str(tmp_path / name))
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "tmp"))
    monkeypatch.chdir(tmp_path / "home")
    yield tmp_path
    for path in [tmp_path, *tmp_path.rglob("*")]:
        path.chmod(0o700)


def job_in(room: Path) -> JobFolder:
    (path,) = (room / "data" / "jobs").iterdir()
    return JobFolder(path)


def read_only(room: Path) -> None:
    """As a copy on a disk that cannot be written to; for root the modes are only a sign."""
    for path in [*room.rglob("*")]:
        path.chmod(0o500 if path.is_dir() else 0o400)


READERS: dict[str, tuple[str, ...]] = {
    "audit": ("audit", "JOB"),
    "audit all": ("audit", "--all"),
    "audit as JSON": ("audit", "JOB", "--json"),
    "sheet": ("sheet", "JOB"),
    "customer's sheet": ("sheet", "JOB", "--customer"),
    "debrief": ("debrief", "JOB"),
    "debrief as JSON": ("debrief", "JOB", "--json"),
    "export": ("export", "JOB"),
    "list of a folder": ("jobs", "PATH"),
    "start page": (),
}


@pytest.mark.parametrize("words", READERS.values(), ids=READERS.keys())
def test_a_read_only_copy_is_audited_printed_and_debriefed_and_nothing_changes(
    room: Path, words: tuple[str, ...], capfd: pytest.CaptureFixture[str]
) -> None:
    folder = job_in(room)
    read_only(room)
    before = seen(room)
    named = {"JOB": folder.id, "PATH": str(folder.path)}
    said = [named.get(word, word) for word in words]
    assert main(["--data", str(room / "data"), *said]) == exits.OK
    assert capfd.readouterr().out
    assert seen(room) == before


@pytest.mark.parametrize(
    "words", [words for words in READERS.values() if "JOB" in words or "--all" in words]
)
def test_reading_where_there_is_no_data_folder_makes_none(
    tmp_path: Path, words: tuple[str, ...], capfd: pytest.CaptureFixture[str]
) -> None:
    said = ["2026-03-02-abcdefgh" if word == "JOB" else word for word in words]
    code = main(["--data", str(tmp_path / "none"), *said])
    assert code == (exits.OK if "--all" in words else exits.NO_SUCH_JOB)
    assert list(tmp_path.iterdir()) == []


Lines = list[dict[str, Any]]


def named(change: Callable[[dict[str, Any]], None]) -> Callable[[Lines], Lines]:
    """Changes the list of texts wherever line 1 carries it."""

    def forge(lines: Lines) -> Lines:
        change(lines[0]["command"]["files"])
        for event in lines[0]["outcome"]["events"]:
            if "files" in event:
                change(event["files"])
        return lines

    return forge


def key_becomes(old: str, new: str) -> Callable[[dict[str, Any]], None]:
    def change(files: dict[str, Any]) -> None:
        files[new] = files.pop(old)

    return change


HOSTILE_KEYS = (
    "../x",
    "../../planted",
    "procedure:../../planted",
    "procedure:../vehicle",
    "/planted",
    "procedure:/planted",
    "procedure:",
    "gun.yaml",
    "a" * 5000,
    "",
)


@pytest.mark.parametrize("key", HOSTILE_KEYS, ids=[k[:24] or "empty" for k in HOSTILE_KEYS])
def test_a_text_by_a_hostile_name_is_refused_and_written_nowhere(room: Path, key: str) -> None:
    key = key.replace("/planted", f"{room}/planted") if key.startswith("/") else key
    key = key.replace(":/planted", f":{room}/planted")
    folder = job_in(room)
    forge(folder, named(key_becomes("procedure:abandon", key)))
    before = seen(room)
    with pytest.raises(BrokenJob, match="no text that a job rests on"):
        bundle_of(folder, list(read(folder.path)))
    assert seen(room) == before


@pytest.mark.parametrize("digest", ["../../secret", "/dev/zero", "", "0" * 63, "A" * 64, "."])
def test_a_text_that_no_hash_names_is_not_opened(
    room: Path, digest: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = job_in(room)
    forge(folder, named(lambda files: files.update(gun=digest)))
    lines = list(read(folder.path))
    opened: list[Path] = []
    plain = Path.open
    monkeypatch.setattr(
        Path, "open", lambda self, *a, **k: (opened.append(self), plain(self, *a, **k))[1]
    )
    with pytest.raises(BrokenJob, match="no text that a job rests on"):
        bundle_of(folder, lines)
    assert all(path.parent == folder.path / "texts" for path in opened)
    assert all(len(path.stem) == 64 for path in opened)


@pytest.mark.parametrize("procedure", ["../../x", "/etc/x", "no-such", "abandon/../clean-above"])
def test_a_header_that_names_no_kept_procedure_is_refused(room: Path, procedure: str) -> None:
    folder = job_in(room)

    def change(lines: Lines) -> Lines:
        for line in lines:
            line["procedure"] = procedure
        return lines

    forge(folder, change)
    with pytest.raises(BrokenJob, match="names no text of"):
        bundle_of(folder, list(read(folder.path)))


def test_a_text_under_another_procedures_name_is_refused(room: Path) -> None:
    folder = job_in(room)
    forge(folder, named(key_becomes("procedure:abandon", "procedure:no-such")))
    with pytest.raises(BrokenJob, match="are not those that line 1 names"):
        bundle_of(folder, list(read(folder.path)))


def test_the_bundle_read_back_is_the_one_that_the_job_began_with(good: Played) -> None:
    bundle = load(good.folder).bundle
    assert bundle.main == good.session.plan.main
    assert dict(bundle.others) == dict(good.session.plan.others)
    assert list(bundle.hashes().values()) == [
        sha256(bundle.texts[name]).hexdigest() for name in bundle.texts
    ]
    assert {path.stem for path in (good.folder.path / "texts").iterdir()} == set(
        bundle.hashes().values()
    )


def test_an_attachment_that_no_hash_names_is_not_looked_for(room: Path) -> None:
    folder = job_in(room)
    (room / "planted.bin").write_bytes(b"x")
    for name in ("../../../planted", str(room / "planted"), ""):
        noted = {"sha256": name, "kind": "other", "label": "a photo"}
        assert "not looked for" in (check_attachment(folder, noted) or "")
