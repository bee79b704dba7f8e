"""Job ids hold no personal data; the data folder is found in a stated order and is private."""

import os
import stat
from datetime import date
from pathlib import Path

import pytest
from steplatch.runner.record import (
    DataFolder,
    Disk,
    JobFolder,
    JournalFailed,
    JournalWriter,
    NotRecordable,
    find_data_folder,
    is_job_id,
    job_id,
    job_token,
    list_jobs,
    make_data_folder,
    verify,
)

from tests.record.sample_jobs import HEADER, JOB, UnsyncedDisk, make_job


def test_a_job_id_is_its_date_and_a_random_token() -> None:
    assert job_id(date(2025, 1, 31), "k3f7qa2m") == JOB
    assert job_token(bytes(5)) == "aaaaaaaa"
    assert job_token(bytes([255] * 5)) == "77777777"
    for count in range(4, 11):
        assert is_job_id(job_id(date(2025, 1, 31), job_token(os.urandom(count))))
    with pytest.raises(ValueError, match="random bytes"):
        job_token(b"abc")


@pytest.mark.parametrize(
    "text",
    [
        "2025-01-31", "2025-02-30-k3f7qa2m", "2025-01-31-KARL123", "2025-01-31-k3f7q",
        "2025-01-31-k3f7qa2m/..", "2025-01-31-k3f7qa2m\n", "..", "", "2025-01-31-k3f7qa2m.bak",
        "2025-01-31-" + "a" * 17, "٢٠٢٥-01-31-k3f7qa2m",
    ],
)  # fmt: skip
def test_anything_else_is_no_job_id(text: str) -> None:
    assert not is_job_id(text)


def test_a_token_of_the_wrong_form_is_refused_with_a_remedy() -> None:
    with pytest.raises(NotRecordable, match="don't use a registration"):
        job_id(date(2025, 1, 31), "EXAMPLE-1")


def test_the_argument_goes_before_the_variable_and_that_before_the_users_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    named = {"STEPLATCH_DATA": str(tmp_path / "named")}
    assert find_data_folder(tmp_path, named) == DataFolder(tmp_path, "the command line")
    assert find_data_folder(None, named) == DataFolder(tmp_path / "named", "STEPLATCH_DATA")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    own = find_data_folder(None, {})
    assert own.path.name == "steplatch" and own.came_from == "this user's own folder"
    monkeypatch.chdir(tmp_path)
    assert find_data_folder(Path("here"), {}).path == tmp_path / "here"
    with pytest.raises(NotRecordable, match="set but empty"):
        find_data_folder(None, {"STEPLATCH_DATA": " "})


def test_the_data_folder_is_made_for_this_user_only(tmp_path: Path) -> None:
    data = DataFolder(tmp_path / "a" / "data", "a test")
    assert make_data_folder(data) == ()
    for path in (data.path, data.jobs):
        assert stat.S_IMODE(path.stat().st_mode) == 0o700
    assert make_data_folder(data) == ()


def test_an_open_data_folder_is_warned_about_but_not_changed(tmp_path: Path) -> None:
    data = DataFolder(tmp_path / "data", "a test")
    data.path.mkdir()
    data.path.chmod(0o755)
    (warning,) = make_data_folder(data)
    assert "0755" in warning and "chmod 700" in warning
    assert stat.S_IMODE(data.path.stat().st_mode) == 0o755


def test_a_data_folder_that_cannot_be_made_says_where_and_why(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(JournalFailed, match=r"not a folder|a file stands"):
        make_data_folder(DataFolder(tmp_path / "file", "a test"))
    with pytest.raises(JournalFailed, match=r"not a folder|a file stands"):
        make_data_folder(DataFolder(tmp_path / "file" / "data", "a test"))

    class ReadOnly(Disk):
        def mkdir(self, path: Path) -> None:
            raise OSError(30, "injected")

    with pytest.raises(JournalFailed, match=r"from a test.*read-only") as caught:
        make_data_folder(DataFolder(tmp_path / "new", "a test"), ReadOnly())
    assert caught.value.where == str(tmp_path / "new")


def test_jobs_are_listed_by_date_and_nothing_else_is_taken_for_one(tmp_path: Path) -> None:
    data = DataFolder(tmp_path, "a test")
    assert list_jobs(data) == ()
    make_data_folder(data)
    ids = ["2025-02-01-aaaaaaaa", "2024-12-31-zzzzzzzz", JOB]
    for identity in ids:
        JournalWriter.create(data.job(identity).path, HEADER, UnsyncedDisk()).close()
    (data.jobs / "notes").mkdir()
    (data.jobs / "2025-02-02-aaaaaaaa").touch()
    assert [job.id for job in list_jobs(data)] == sorted(ids)


def test_a_job_folder_names_its_files(tmp_path: Path) -> None:
    job = JobFolder(make_job(tmp_path, 1))
    assert job.id == JOB
    assert job.journal.is_file() and job.head.is_file() and job.lock.is_file()
    assert job.personal.name == "personal.json"
    with pytest.raises(NotRecordable, match="not a job id"):
        JobFolder(tmp_path / "EXAMPLE 1")


def test_a_renamed_copy_is_the_job_that_its_journal_names(tmp_path: Path) -> None:
    renamed = make_job(tmp_path, 3).rename(tmp_path / "grey van, May")
    assert JobFolder(renamed).id == JOB
    assert verify(renamed).sound
    (renamed / "journal.jsonl").write_bytes(b'{"prev":"no"}\n')
    with pytest.raises(NotRecordable, match="not begin with one"):
        JobFolder(renamed)


@pytest.mark.parametrize("value", ["~nobody-of-this-name/x", "a\0b", "a\nb", "\x1b[2J"])
def test_an_odd_value_of_the_variable_is_refused_in_words(value: str) -> None:
    with pytest.raises(NotRecordable, match="STEPLATCH_DATA"):
        find_data_folder(None, {"STEPLATCH_DATA": value})
