"""Backup and restore: all of it comes back, nothing else goes in, a changed one is refused."""

import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.backup import MANIFEST, back_up, restore
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.record import DataFolder, JobFolder, NotRecordable
from steplatch.runner.record.lock import JobLock

from tests.played import Played


@pytest.fixture
def data(good: Played, tmp_path: Path) -> DataFolder:
    """A data folder with a job, a key, settings, a leftover and a link that leads out of it."""
    data = DataFolder(tmp_path / "data", "the test")
    shutil.copytree(good.folder.path, data.jobs / good.folder.id)
    key_folder(data).make(bytes(range(32)))
    (data.path / "settings.yaml").write_text("keep_personal_months: 60\n")
    (data.path / "settings.yaml.new").write_text("cut")
    (data.path / "jobs.sqlite3").write_bytes(b"derived")
    (tmp_path / "outside").write_text("not ours")
    (data.path / "link").symlink_to(tmp_path / "outside")
    return data


def files(folder: Path) -> dict[str, bytes]:
    """Every plain file by its name in the folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.is_symlink()
    }


def test_what_is_restored_is_what_was_there_and_audits(data: DataFolder, tmp_path: Path) -> None:
    made = tmp_path / "b.zip"
    said: list[tuple[int, int]] = []
    copied = back_up(data, made, with_key=True, say=lambda *both: said.append(both))
    assert said[-1] == (2 * copied.files, 2 * copied.files)
    assert [done for done, _ in said] == list(range(1, 2 * copied.files + 1))
    assert all(done <= of for done, of in said)
    assert made.stat().st_mode & 0o777 == 0o600 and copied.personal >= 1
    there = DataFolder(tmp_path / "new" / "place", "the test")
    said.clear()
    assert restore(made, there, say=lambda *both: said.append(both)) == copied
    assert [done for done, _ in said] == list(range(1, 2 * copied.files + 1))
    before, after = files(data.path), files(there.path)
    left_out = {n for n in before if n.endswith((".new", "/lock")) or n.startswith("jobs.sqlite3")}
    assert after == {name: content for name, content in before.items() if name not in left_out}
    assert all(p.stat().st_mode & 0o077 == 0 for p in [there.path, *there.path.rglob("*")])
    assert main(["--data", str(there.path), "audit", "--all"]) == exits.OK


def test_the_private_key_is_in_it_only_when_asked_for(data: DataFolder, tmp_path: Path) -> None:
    back_up(data, tmp_path / "b.zip", with_key=False)
    names = zipfile.ZipFile(tmp_path / "b.zip").namelist()
    assert not [n for n in names if n.endswith("workshop-key.pem")]
    assert [n for n in names if n.startswith("keys/public/")] and "link" not in names


def test_a_job_that_is_open_elsewhere_is_named_and_left_out(
    data: DataFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = next(data.jobs.iterdir())
    with JobLock.take(JobFolder(job)):
        code = main(["--data", str(data.path), "backup", str(tmp_path / "b.zip")])
    assert code == exits.HELD_BY_ANOTHER and job.name in capsys.readouterr().err
    names = zipfile.ZipFile(tmp_path / "b.zip").namelist()
    assert not [n for n in names if n.startswith("jobs/")] and "settings.yaml" in names


def test_nothing_is_replaced_and_no_backup_lies_in_what_it_backs_up(
    data: DataFolder, tmp_path: Path
) -> None:
    back_up(data, tmp_path / "b.zip", with_key=False)
    for target, why in ((tmp_path / "b.zip", "already"), (data.path / "b.zip", "backed up")):
        with pytest.raises(NotRecordable, match=why):
            back_up(data, target, with_key=False)
    with pytest.raises(NotRecordable, match="not empty"):
        restore(tmp_path / "b.zip", data)


def changed(source: Path, target: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    """A copy of a backup with another content."""
    with zipfile.ZipFile(source) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    change(held)
    with zipfile.ZipFile(target, "w") as out:
        for name, content in held.items():
            out.writestr(name, content)
    return target


def listed(held: dict[str, bytes], name: str, content: bytes) -> None:
    """Add a file and an entry for it."""
    import hashlib

    manifest = json.loads(held[MANIFEST])
    entry = {"path": name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    manifest["files"].append({**entry, "personal": False})
    held[MANIFEST] = json.dumps(manifest).encode()
    held[name] = content


SPOILED: dict[str, Callable[[dict[str, bytes]], None]] = {
    "another byte": lambda held: held.update({"settings.yaml": b"keep_personal_months: 61\n"}),
    "a file more": lambda held: held.update({"extra": b"x"}),
    "a file less": lambda held: held.__delitem__("settings.yaml") or None,
    "no list": lambda held: held.__delitem__(MANIFEST) or None,
    "a list that is no JSON": lambda held: held.update({MANIFEST: b"{"}),
    "a list of another form": lambda held: held.update({MANIFEST: b'{"files":[]}'}),
    "a name that climbs": lambda held: listed(held, "../out", b"x"),
    "an absolute name": lambda held: listed(held, "/out", b"x"),
    "a drive": lambda held: listed(held, "C:out", b"x"),
    "a file beside the jobs": lambda held: listed(held, "jobs/notes.txt", b"x"),
}


@pytest.mark.parametrize("how", sorted(SPOILED))
def test_a_changed_backup_is_refused_and_nothing_is_written(
    how: str, data: DataFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    back_up(data, tmp_path / "b.zip", with_key=False)
    spoiled = changed(tmp_path / "b.zip", tmp_path / "c.zip", SPOILED[how])
    place = tmp_path / "new"
    assert main(["--data", str(place), "restore", str(spoiled)]) == exits.BAD_FILE
    assert "nothing was restored" in capsys.readouterr().err
    assert not place.exists() and not (tmp_path / "out").exists()


@pytest.mark.parametrize("content", [b"", b"no archive", b"PK\x03\x04"])
def test_what_is_no_archive_is_refused(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "c.zip").write_bytes(content)
    assert main(["--data", str(tmp_path / "n"), "restore", str(tmp_path / "c.zip")]) == 3
    assert main(["--data", str(tmp_path / "n"), "restore", str(tmp_path / "none.zip")]) == 3


def test_a_backup_cut_off_anywhere_is_refused(data: DataFolder, tmp_path: Path) -> None:
    whole = back_up(data, tmp_path / "b.zip", with_key=False) and (tmp_path / "b.zip").read_bytes()
    for share in range(1, 20):
        (tmp_path / "c.zip").write_bytes(whole[: len(whole) * share // 20])
        with pytest.raises(NotRecordable):
            restore(tmp_path / "c.zip", DataFolder(tmp_path / "n", "the test"))
    assert not (tmp_path / "n").exists()


def test_an_empty_folder_that_is_there_may_be_restored_into(
    data: DataFolder, tmp_path: Path
) -> None:
    back_up(data, tmp_path / "b.zip", with_key=False)
    (tmp_path / "there").mkdir()
    assert restore(tmp_path / "b.zip", DataFolder(tmp_path / "there", "the test")).files > 3
