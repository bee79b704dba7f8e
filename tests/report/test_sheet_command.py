"""``steplatch sheet``: several jobs at once, and a clear error for one that cannot be read."""

import shutil
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main

from tests.played import Played


def test_a_missing_job_is_named_and_stops_none_of_the_others(
    good: Played, capsys: pytest.CaptureFixture[str]
) -> None:
    data = str(good.folder.path.parents[1])
    code = main(["--data", data, "sheet", "zzzzzzzz", good.folder.id, "--customer"])
    said = capsys.readouterr()
    assert code == exits.NO_SUCH_JOB
    assert "no job 'zzzzzzzz'" in said.err
    assert "FOR THE CUSTOMER" in said.out


def test_a_damaged_job_gives_no_sheet_but_says_where_it_is_damaged(
    good: Played, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "jobs" / good.folder.id
    shutil.copytree(good.folder.path, copy)
    journal = copy / "journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    lines[20] = lines[20].replace(b'"', b"'", 1)
    journal.write_bytes(b"".join(lines))
    tmp_path.chmod(0o700)
    code = main(["--data", str(tmp_path), "sheet", good.folder.id, "--html", str(tmp_path / "x")])
    assert code == exits.AUDIT_BROKEN
    assert "21" in capsys.readouterr().err
    assert not (tmp_path / "x").exists()


def test_a_file_that_cannot_be_written_is_named_with_a_remedy(
    good: Played, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data, target = str(good.folder.path.parents[1]), tmp_path / "nowhere" / "x.html"
    code = main(["--data", data, "sheet", good.folder.id, "--customer", "--html", str(target)])
    said = capsys.readouterr().err
    assert code == exits.FAILED
    assert str(target) in said and "Name a file in a folder" in said


def test_several_jobs_at_once_each_get_a_page_and_a_pdf_of_their_own(
    good: Played, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    twin = "2026-03-02-aaaaaaaa"
    for name in (good.folder.id, twin):
        shutil.copytree(good.folder.path, tmp_path / "jobs" / name)
    tmp_path.chmod(0o700)
    code = main(
        ["--data", str(tmp_path), "sheet", good.folder.id, twin, "--customer",
         "--html", str(tmp_path / "s.html"), "--pdf", str(tmp_path / "s.pdf")]
    )  # fmt: skip
    said = capsys.readouterr()
    # The twin is a copy under another name, which its own record gives away.
    assert code == exits.AUDIT_BROKEN and twin in said.err
    made = sorted(p.name for p in tmp_path.glob("s*"))
    assert made == [f"s-{good.folder.id}.html", f"s-{good.folder.id}.pdf"]
    assert (tmp_path / made[1]).read_bytes().startswith(b"%PDF")
