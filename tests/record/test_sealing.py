"""Sealing at the end and later, keeping files, and the audit of one job and of many."""

import json
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from steplatch.runner.cli import exits
from steplatch.runner.cli import main as cli
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.jobs.projection import fold
from steplatch.runner.jobs.sealing import seal_at_end
from steplatch.runner.record import JobFolder, JournalLine, find_data_folder, read
from steplatch.runner.record.keys import SigningKey

from tests.attacks.real_jobs import real_job
from tests.known_people import PIN, WHO, who_types_a_pin
from tests.played import Played


@pytest.fixture
def data(good: Played, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder with the good job, taken as a real one where it matters."""
    folder = tmp_path / "data"
    shutil.copytree(good.folder.path, folder / "jobs" / good.folder.id)

    def real(lines: Sequence[JournalLine]) -> object:
        job = fold(lines)
        return replace(job, log=replace(job.log, practice=False))

    monkeypatch.setattr("steplatch.runner.jobs.sealing.fold", real)
    return folder


def steplatch(data: Path, *words: str) -> int:
    return cli.main(["--data", str(data), *words])


def job_in(data: Path) -> JobFolder:
    return JobFolder(next((data / "jobs").iterdir()))


def test_a_job_is_sealed_at_its_end_and_the_audit_says_whose_key(
    data: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, who = job_in(data), who_types_a_pin(data, monkeypatch)
    assert steplatch(data, "key", "new") == exits.OK
    said = seal_at_end(folder, find_data_folder(data, {}), lambda _: None)[0]
    assert said[0].startswith("SEALED")
    capsys.readouterr()
    assert steplatch(data, "audit", folder.id) == exits.OK
    out = capsys.readouterr().out
    assert "seal: good, made at the end" in out and "a key of this data folder" in out
    assert steplatch(data, "seal", folder.id, "--as", who) == exits.RECORD_FAILED  # already
    assert "sealed already" in capsys.readouterr().err


def test_without_a_key_the_job_ends_unsealed_and_says_how_to_seal_it_later(
    data: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, who = job_in(data), who_types_a_pin(data, monkeypatch)
    said = seal_at_end(folder, find_data_folder(data, {}), lambda _: None)[0]
    assert said[0].startswith("NOT SEALED") and "steplatch key new" in said[0]
    assert steplatch(data, "seal", folder.id, "--as", who) == exits.FAILED
    assert steplatch(data, "key", "new") == exits.OK
    assert steplatch(data, "seal", folder.id, "--as", who) == exits.OK
    capsys.readouterr()
    steplatch(data, "audit", folder.id)
    assert "made later" in capsys.readouterr().out


def test_a_key_with_a_passphrase_seals_only_with_it(data: Path) -> None:
    folder = job_in(data)
    home = find_data_folder(data, {})
    key_folder(home).make(b"k" * 32, "correct horse")
    assert "no passphrase" in seal_at_end(folder, home, lambda _: None)[0][0]
    assert "wrong" in seal_at_end(folder, home, lambda _: "battery")[0][0]
    assert seal_at_end(folder, home, lambda _: "correct horse")[0][0].startswith("SEALED")


def test_practice_is_never_sealed(
    good: Played,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    data = tmp_path / "data"
    data.mkdir()
    who = who_types_a_pin(data, monkeypatch)
    shutil.copytree(good.folder.path, data / "jobs" / good.folder.id)
    assert steplatch(data, "key", "new") == exits.OK
    assert steplatch(data, "seal", good.folder.id, "--as", who) == exits.RECORD_FAILED
    assert "practice is never sealed" in capsys.readouterr().err
    steplatch(data, "audit", good.folder.id)
    assert "practice is never sealed" in capsys.readouterr().out


def test_a_key_is_made_once_and_shown(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert steplatch(data, "key", "show") == exits.FAILED
    assert steplatch(data, "key", "new") == exits.OK
    assert steplatch(data, "key", "new") == exits.FAILED
    capsys.readouterr()
    assert steplatch(data, "key", "new", "--again") == exits.OK
    assert steplatch(data, "key", "show") == exits.OK
    out = capsys.readouterr().out
    assert out.count("BEGIN PUBLIC KEY") == 2 and "PRIVATE KEY" not in out


def test_the_audit_of_all_sums_up_and_ends_with_the_worst(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = job_in(data)
    for name in ("2026-03-02-aaaaaaaa", "2026-03-02-bbbbbbbb"):
        (data / "jobs" / name).mkdir()
    assert steplatch(data, "audit", "--all") == exits.OK
    assert "3 jobs" in capsys.readouterr().out
    raw = folder.journal.read_bytes()
    folder.journal.write_bytes(raw.replace(b"mbar", b"bar ", 1))
    assert steplatch(data, "audit", "--all") == exits.AUDIT_BROKEN
    out = capsys.readouterr().out
    assert "2 good, 1 changed or forged" in out and "line " in out
    assert steplatch(data, "audit", "--all", "--json") == exits.AUDIT_BROKEN
    plain = json.loads(capsys.readouterr().out)
    assert [job["exit_code"] for job in plain["jobs"]].count(exits.AUDIT_BROKEN) == 1
    assert steplatch(data, "audit") == exits.USAGE
    assert steplatch(data, "audit", "--all", folder.id) == exits.USAGE


def test_a_file_is_kept_with_a_job_that_goes_on_and_not_with_one_that_has_ended(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = job_in(data)
    photo = tmp_path / "photo.txt"
    photo.write_text("freeze frame: 1 mbar")
    words = ("attach", folder.id, str(photo), "--label", "freeze frame", "--as", "technician-1")
    assert steplatch(data, *words) == exits.FAILED
    assert "has ended" in capsys.readouterr().err
    _cut_before_the_end(folder)
    assert steplatch(data, *words) == exits.OK
    noted = fold(list(read(folder.path))).log.latest("attachment")
    assert noted is not None and noted["label"] == "freeze frame"
    assert steplatch(data, "audit", folder.id) == exits.OK
    kept = next((folder.path / "attachments").iterdir())
    kept.write_text("freeze frame: 9 mbar")
    capsys.readouterr()
    assert steplatch(data, "audit", folder.id) == exits.AUDIT_BROKEN
    assert "kept file: attachment 'freeze frame'" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("person", "typed", "kept"),
    [(WHO, PIN, True), (WHO, "4822", False), ("nobody-known", PIN, False)],
)
def test_nobody_attaches_a_file_to_a_real_job_who_is_not_proven(
    quick: Path, monkeypatch: pytest.MonkeyPatch, person: str, typed: str, kept: bool
) -> None:
    made = find_data_folder(quick / "data", {})
    folder, _ = real_job(made, key=False, close=False)
    _cut_before_the_end(folder)
    who_types_a_pin(made.path, monkeypatch, typed)
    photo = quick / "photo.txt"
    photo.write_text("freeze frame: 1 mbar")
    before = folder.journal.read_bytes()
    words = ("attach", folder.id, str(photo), "--label", "freeze frame", "--as", person)
    assert (steplatch(made.path, *words) == exits.OK) is kept
    assert (folder.journal.read_bytes() != before) is kept
    assert (folder.path / "attachments").exists() is kept


def test_a_picture_for_the_page_is_kept_cleaned_by_the_command(
    quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = find_data_folder(quick / "data", {})
    folder, _ = real_job(made, key=False, close=False)
    _cut_before_the_end(folder)
    who = who_types_a_pin(made.path, monkeypatch)
    picture = quick / "stub.jpg"
    Image.effect_noise((32, 24), 60).save(picture, "JPEG", comment=b"Nowhere Lane 7")
    words = ("attach", folder.id, str(picture), "--label", "the stub", "--as", who, "--page")
    assert steplatch(made.path, *words) == exits.OK
    noted = fold(list(read(folder.path))).log.latest("attachment")
    assert noted is not None and (noted["page"], noted["cleaned"]) == ("yes", "yes")
    (kept,) = (folder.path / "attachments").iterdir()
    assert b"Nowhere Lane" in picture.read_bytes() and b"Nowhere Lane" not in kept.read_bytes()
    picture.write_bytes(b"no picture")
    assert steplatch(made.path, *words) == exits.RECORD_FAILED


def _cut_before_the_end(folder: JobFolder) -> None:
    """Leave the job as it stood some lines before its end, with a head that fits."""
    from steplatch.runner.record.head import Head, encode_head
    from steplatch.runner.record.line import hash_of

    lines = folder.journal.read_bytes().splitlines(keepends=True)[:-40]
    folder.journal.write_bytes(b"".join(lines))
    folder.head.write_bytes(encode_head(Head(folder.id, len(lines), hash_of(lines[-1]))))


def test_the_signing_key_of_a_job_is_the_one_whose_short_form_is_shown(data: Path) -> None:
    public = key_folder(find_data_folder(data, {})).make(b"z" * 32)
    assert public.short == SigningKey(b"z" * 32).public.short


def test_ctrl_d_at_a_passphrase_ends_the_command_and_makes_nothing(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(*_: object, **__: object) -> str:
        raise EOFError

    monkeypatch.setattr("getpass.getpass", gone)
    monkeypatch.setattr("steplatch.runner.cli.seal.has_terminal", lambda: True)
    assert steplatch(data, "key", "new", "--passphrase") == exits.STOPPED
    assert not key_folder(find_data_folder(data, {})).is_there()
