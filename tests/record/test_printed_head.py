"""The head printed on the sheet: the only thing that shows a journal written anew."""

import hashlib
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.record import (
    FindingGrade,
    FindingKind,
    JournalWriter,
    NotRecordable,
    read_anchor,
    short_head,
    verify,
)

from tests.record.forged_journals import forge, kinds_of
from tests.record.sample_jobs import HEADER, UnsyncedDisk, add_line, lines_of, make_job


def test_a_journal_written_anew_with_its_head_shows_only_against_the_printed_head(
    tmp_path: Path,
) -> None:
    folder = make_job(tmp_path, 3)
    anchor = read_anchor(3, f"  {short_head(verify(folder).sha256).upper()} ")
    assert verify(folder, anchor=anchor).grade is FindingGrade.INTACT
    lines = lines_of(folder)
    forge(folder, [lines[0], lines[1].replace(b'"6.5"', b'"5.5"'), lines[2]])
    assert verify(folder).grade is FindingGrade.INTACT
    assert kinds_of(verify(folder, anchor=anchor)) == {FindingKind.SHEET_DIFFERS}
    forge(folder, lines[:2])
    assert kinds_of(verify(folder, anchor=anchor)) == {FindingKind.SHEET_AHEAD}
    forge(folder, lines)
    with JournalWriter.open(folder, HEADER, UnsyncedDisk()) as writer:
        add_line(writer, 4)
    assert verify(folder, anchor=anchor).grade is FindingGrade.INTACT


def test_a_mistyped_printed_head_is_refused_with_what_to_type() -> None:
    for lines, typed in ((3, "7f3a 91c2"), (3, "x" * 32), (0, "0" * 32)):
        with pytest.raises(NotRecordable, match="groups as printed"):
            read_anchor(lines, typed)


def test_the_short_head_is_eight_groups_of_four_of_the_hash() -> None:
    sha256 = hashlib.sha256(b"abc").hexdigest()
    assert sha256.startswith("ba7816bf8f01cfea")  # FIPS 180-4 example "abc", SHA-256
    assert short_head(sha256) == "ba78 16bf 8f01 cfea 4141 40de 5dae 2223"
    with pytest.raises(ValueError, match="SHA-256"):
        short_head("BA78")


def test_audit_holds_a_record_to_the_head_that_a_customer_was_given(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = str(make_job(tmp_path, 3))
    whole = verify(Path(job))
    audited = ["--data", str(tmp_path), "audit", job]
    main(audited)
    plain = capsys.readouterr().out
    main([*audited, "--printed", "3", *short_head(whole.sha256).upper().split()])
    assert capsys.readouterr().out == plain
    assert main([*audited, "--printed", "3", *("0000",) * 8]) == exits.AUDIT_BROKEN
    assert "the sheet has another hash for line 3" in capsys.readouterr().out
    assert main([*audited, "--printed", "3", "0000"]) == exits.USAGE
    assert main(["--data", str(tmp_path), "audit", "--all", "--printed", "3"]) == exits.USAGE
