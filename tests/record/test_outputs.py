"""Files that commands write: never over what is there, never into a record, for the owner alone."""

import os
import stat
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.record import DataFolder, JobFolder, find_data_folder

from tests.attacks.real_jobs import real_job
from tests.test_reading_writes_nothing import seen


@pytest.fixture
def data(quick: Path) -> DataFolder:
    made = find_data_folder(quick / "data", {})
    real_job(made)
    return made


def job_in(data: DataFolder) -> JobFolder:
    return JobFolder(next(data.jobs.iterdir()))


def wrote(data: DataFolder, option: str, path: Path, *more: str) -> int:
    command = "export" if option == "--file" else "sheet"
    return main(["--data", str(data.path), command, job_in(data).id, option, str(path), *more])


@pytest.mark.parametrize("option", ["--html", "--file"])
@pytest.mark.parametrize("name", ["journal.jsonl", "head", "new.html", "texts/new", "seal/new"])
def test_nothing_is_written_into_a_job(data: DataFolder, option: str, name: str) -> None:
    before = seen(data.path)
    for more in ((), ("--overwrite",)):
        assert wrote(data, option, job_in(data).path / name, *more) == exits.FAILED
    assert seen(data.path) == before


@pytest.mark.parametrize("option", ["--html", "--file"])
def test_what_is_there_stays_unless_it_is_said(
    data: DataFolder, option: str, tmp_path: Path
) -> None:
    path = tmp_path / "out"
    assert wrote(data, option, path) == exits.OK
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.write_text("mine")
    assert wrote(data, option, path) == exits.FAILED and path.read_text() == "mine"
    assert wrote(data, option, path, "--overwrite") == exits.OK and path.read_text() != "mine"
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []


@pytest.mark.parametrize("option", ["--html", "--file"])
@pytest.mark.parametrize("kind", ["link", "dangling", "pipe", "folder"])
def test_what_is_no_plain_file_is_never_replaced(
    data: DataFolder, option: str, kind: str, tmp_path: Path
) -> None:
    path, aim = tmp_path / "out", tmp_path / "aim"
    match kind:
        case "pipe":
            os.mkfifo(path)
        case "folder":
            path.mkdir()
        case _:
            path.symlink_to(aim)
    if kind == "link":
        aim.write_text("mine")
    for more in ((), ("--overwrite",)):
        assert wrote(data, option, path, *more) == exits.FAILED
    assert not path.is_file() or path.is_symlink()
    assert not aim.exists() or aim.read_text() == "mine"


def test_the_key_and_the_ledger_are_no_places_to_write_to(data: DataFolder) -> None:
    (data.path / "people.json").write_text("{}")
    for path in (key_folder(data).private, data.path / "ledger" / "lines.jsonl"):
        before = path.read_bytes()
        assert wrote(data, "--html", path, "--overwrite") == exits.FAILED
        assert path.read_bytes() == before
