"""Customers' data: exported, erased so that the record stays whole, held, and due in time."""

import json
import os
import shutil
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.runner.cli import customer as commands_customer
from steplatch.runner.cli import exits, proving
from steplatch.runner.cli.main import main
from steplatch.runner.input.findings import BadFile
from steplatch.runner.jobs.customer import (
    KeptForDispute,
    after_months,
    due,
    erase_customer,
    export_customer,
    jobs_of_customer,
)
from steplatch.runner.jobs.digest import JobRow
from steplatch.runner.jobs.holds import (
    DataRequestRefused,
    HoldEntry,
    hold_path,
    holds_of,
    is_held,
    write_hold,
)
from steplatch.runner.jobs.personal_audit import PersonalAudit, personal_checks
from steplatch.runner.jobs.projection import Journal
from steplatch.runner.jobs.settings import DEFAULT_MONTHS, keep_for, load_settings
from steplatch.runner.record import (
    BadSideFile,
    DataFolder,
    Disk,
    Erased,
    FieldState,
    HeldByAnother,
    JobFolder,
    JobLock,
    JournalFailed,
    PersonalField,
    create_personal,
    load_personal,
    read,
    verify,
)
from steplatch.runner.workshop.pin_file import Cost
from steplatch.runner.workshop.pins import PinBook

from tests.book.small_jobs import DISK, data_in, ended, recorded, small_job
from tests.played import Played

ROOT = Path(__file__).resolve().parents[2]
ONE, TWO, THREE = "2026-01-31-aaaaaaaa", "2026-02-28-bbbbbbbb", "2026-03-31-cccccccc"
PLATE, CUSTOMER, CONTACT = "EXAMPLE 17", "Erika Example", "phone 555-0100"
WHO = Erased("supervisor-1", "2026-05-01T12:00:00Z", "asked for by the customer")


def keep(folder: JobFolder, name: str = CUSTOMER, plate: str = PLATE) -> None:
    values = {PersonalField.CUSTOMER_NAME: name, PersonalField.REGISTRATION: plate,
              PersonalField.CONTACT: CONTACT}  # fmt: skip
    with JobLock.take(folder, DISK) as lock:
        create_personal(lock, values, DISK)


@pytest.fixture
def data(quick: Path) -> DataFolder:
    """Three ended jobs, two of one customer, one of another."""
    made = data_in(quick)
    for job, name in ((ONE, CUSTOMER), (TWO, "Other Person"), (THREE, "ERIKA  example")):
        keep(small_job(made, job, [recorded("complaint", text="smokes")], [ended()]), name)
    return made


def bytes_under(path: Path) -> bytes:
    return b"\n".join(p.read_bytes() for p in sorted(path.rglob("*")) if p.is_file())


def test_a_job_played_to_its_end_is_erased_and_its_record_is_not_touched(
    good: Played, quick: Path
) -> None:
    folder = JobFolder(quick / "jobs" / good.folder.id)
    shutil.copytree(good.folder.path, folder.path)
    before = (folder.journal.read_bytes(), folder.head.read_bytes())
    lines = list(read(folder.path))
    assert {c.state for c in personal_checks(folder, lines)} == {FieldState.SAME}
    values = [e.value for e in load_personal(folder.path).fields.values()]  # type: ignore[union-attr]
    (folder.path / "sheet.html").write_text(" ".join(values))
    (folder.path / "personal.json.new").write_text(" ".join(values))
    erasure = erase_customer(folder, WHO)
    assert set(erasure.fields) == {"customer_name", "contact", "registration", "vin_tail"}
    assert erasure.removed == ("sheet.html", "personal.json.new")
    assert (folder.journal.read_bytes(), folder.head.read_bytes()) == before
    assert verify(folder.path).sound
    checks = personal_checks(folder, lines)
    assert {c.state for c in checks} == {FieldState.ERASED}
    assert all("supervisor-1 at 2026-05-01T12:00:00Z" in c.detail for c in checks)
    whole = bytes_under(folder.path)
    assert not [value for value in values if value.encode() in whole]


def test_an_audit_of_an_erased_job_stays_intact_and_says_erased(
    good: Played, quick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = JobFolder(quick / "jobs" / good.folder.id)
    shutil.copytree(good.folder.path, folder.path)
    erase_customer(folder, WHO)
    assert main(["--data", str(quick), "audit", folder.id]) == exits.OK
    said = capsys.readouterr().out
    assert "customer name: erased by supervisor-1 at 2026-05-01T12:00:00Z" in said
    assert "chain: intact" in said and "outcomes are the same" in said and "ALTERED" not in said


def test_an_audit_finds_a_value_that_was_exchanged_taken_away_or_damaged(
    good: Played, quick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = JobFolder(quick / "jobs" / good.folder.id)
    shutil.copytree(good.folder.path, folder.path)
    assert PersonalAudit.of(Journal.of(folder)).lines() == ["customer's data: all 4 as recorded"]
    raw = json.loads(folder.personal.read_text())
    raw["fields"]["registration"]["value"] = PLATE
    folder.personal.write_text(json.dumps(raw))
    assert main(["--data", str(quick), "audit", folder.id, "--json"]) == exits.AUDIT_BROKEN
    said = json.loads(capsys.readouterr().out)["personal"]
    assert said["altered"] and "not the one that was recorded" in said["fields"]["registration"]
    folder.personal.write_text("{")
    damaged = PersonalAudit.of(Journal.of(folder))
    assert damaged.altered and "CANNOT BE READ" in damaged.lines()[0]
    folder.personal.unlink()
    missing = PersonalAudit.of(Journal.of(folder))
    assert missing.altered
    assert "  ALTERED: registration: recorded, but not in the side file" in missing.lines()


def test_erasing_takes_values_and_salts_out_of_every_file_of_the_data_folder(
    data: DataFolder,
) -> None:
    main(["--data", str(data.path), "jobs"])
    personal = load_personal(data.job(ONE).path)
    assert personal is not None
    salts = [e.salt.hex() for e in personal.fields.values() if hasattr(e, "salt")]
    erase_customer(data.job(ONE), WHO)
    main(["--data", str(data.path), "jobs"])
    others = bytes_under(data.job(ONE).path)
    assert not [s for s in [*salts, PLATE, CUSTOMER, CONTACT] if s.encode() in others]
    with pytest.raises(DataRequestRefused, match="erased already"):
        erase_customer(data.job(ONE), WHO)


def test_a_value_that_was_typed_into_free_text_is_named_with_its_line(quick: Path) -> None:
    folder = small_job(data_in(quick), ONE, [recorded("advice", text="rang example17's owner")])
    keep(folder)
    (folder.path / "attachments").mkdir()
    (folder.path / "attachments" / "ab12.jpg").write_bytes(b"x")
    erasure = erase_customer(folder, WHO)
    assert (erasure.lines, erasure.attachments) == ((2,), 1)


def test_nothing_kept_and_an_open_job_are_refused(data: DataFolder, quick: Path) -> None:
    bare = small_job(data, "2026-04-30-dddddddd", [ended()])
    with pytest.raises(DataRequestRefused, match="never kept"):
        erase_customer(bare, WHO)
    with JobLock.take(data.job(ONE), DISK), pytest.raises(HeldByAnother):
        erase_customer(data.job(ONE), WHO)
    assert load_personal(data.job(ONE).path).bindings()  # type: ignore[union-attr]


def hold(folder: JobFolder, act: str = "hold", reason: str = "dispute about the invoice") -> None:
    with JobLock.take(folder, DISK) as lock:
        write_hold(lock, HoldEntry(act, "supervisor-1", "2026-05-01T00:00:00Z", reason), DISK)


def test_a_hold_keeps_data_until_it_is_released_and_both_are_kept(data: DataFolder) -> None:
    folder = data.job(ONE)
    hold(folder)
    with pytest.raises(KeptForDispute, match=r"supervisor-1 has held .* dispute about the invoice"):
        erase_customer(folder, WHO)
    with pytest.raises(DataRequestRefused, match="held already"):
        hold(folder)
    hold(folder, "release", "settled out of court")
    with pytest.raises(DataRequestRefused, match="not held"):
        hold(folder, "release", "settled out of court")
    assert [e.act for e in holds_of(folder)] == ["hold", "release"]
    assert erase_customer(folder, WHO).fields


@pytest.mark.parametrize("raw", [b"", b"{}", b"[]", b'{"schema":1,"entries":[{}]}', b"\xff"])
def test_a_damaged_hold_counts_as_a_hold(data: DataFolder, raw: bytes) -> None:
    folder = data.job(ONE)
    hold_path(folder).write_bytes(raw)
    assert is_held(folder)
    with pytest.raises(BadSideFile, match="counts as held"):
        erase_customer(folder, WHO)
    assert load_personal(folder.path).bindings()  # type: ignore[union-attr]


@pytest.mark.parametrize("reason", ["", "short", "x" * 500, "two\nlines of reason", "\x1b[2J" * 5])
def test_a_hold_without_a_reason_that_can_be_read_is_refused(data: DataFolder, reason: str) -> None:
    with pytest.raises(DataRequestRefused, match="Say who and why"):
        hold(data.job(ONE), reason=reason)
    assert not is_held(data.job(ONE))


def test_all_jobs_of_one_customer_are_exported_by_name_or_by_any_of_their_jobs(
    data: DataFolder,
) -> None:
    for text in ("erika example", "ERIKA   EXAMPLE", ONE, "cccccccc"):
        name, folders = jobs_of_customer(data, text)
        assert [f.id for f in folders] == [ONE, THREE], text
    exported = export_customer(data, "Erika Example")
    assert [job["job"]["id"] for job in exported["jobs"]] == [ONE, THREE]
    assert exported["jobs"][0]["personal"]["registration"]["value"] == PLATE
    assert "Other Person" not in json.dumps(exported)
    assert name


@pytest.mark.parametrize("text", ["", "nobody", "erika", "2026", "%", "\x00", TWO + "x"])
def test_a_customer_who_is_not_there_is_refused(data: DataFolder, text: str) -> None:
    with pytest.raises(DataRequestRefused, match="no job keeps a customer"):
        jobs_of_customer(data, text)


def test_an_erased_customer_is_found_by_nothing_and_a_damaged_job_is_named(
    data: DataFolder,
) -> None:
    erase_customer(data.job(ONE), WHO)
    journal = data.job(THREE).journal
    journal.write_bytes(journal.read_bytes().replace(b"smokes", b"sings!"))
    exported = export_customer(data, CUSTOMER)
    assert not exported["jobs"] and exported["unreadable"][0]["job"] == THREE


def test_what_is_due_is_due_on_the_day_and_not_before() -> None:
    rows = [
        JobRow("2020-01-31-aaaaaaaa", state="finished", ended="2020-01-31T10:00:00Z",
               personal="kept"),
        JobRow("2020-01-31-bbbbbbbb", state="open", last="2020-02-01T10:00:00Z", personal="kept"),
        JobRow("2020-01-31-cccccccc", state="finished", ended="2020-01-31T10:00:00Z",
            personal="erased"),
        JobRow("2020-01-31-dddddddd", state="finished", ended="2020-01-31T10:00:00Z",
            personal="partly erased", hold=True),
        JobRow("2020-01-31-eeeeeeee", state="BROKEN", personal="unreadable"),
        JobRow("2020-01-31-ffffffff", state="finished", ended="2020-01-31T10:00:00Z"),
    ]  # fmt: skip
    assert due(rows, 72, date(2026, 1, 30)) == []
    found = {d.job[-1]: d for d in due(rows, 72, date(2026, 1, 31))}
    assert sorted(found) == ["a", "d", "e"]
    assert found["d"].held and not found["a"].held
    later = {d.job[-1]: d for d in due(rows, 72, date(2026, 2, 1))}
    assert sorted(later) == ["a", "b", "d", "e"] and not later["b"].ended


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(1, 360))
def test_months_are_counted_on_the_calendar(day: date, months: int) -> None:
    then = after_months(day, months)
    assert (then.year * 12 + then.month) - (day.year * 12 + day.month) == months
    assert then.day == day.day or (then.day < day.day and then.day >= 28)


def test_months_end_on_the_last_day_there_is() -> None:
    assert after_months(date(2026, 1, 31), 1) == date(2026, 2, 28)
    assert after_months(date(2028, 2, 29), 12) == date(2029, 2, 28)
    assert after_months(date(2026, 3, 31), 72) == date(2032, 3, 31)


def test_the_setting_is_kept_read_back_and_refused_when_it_makes_no_sense(
    data: DataFolder,
) -> None:
    assert load_settings(data).keep_personal_months == DEFAULT_MONTHS == 72
    keep_for(data, 24)
    assert load_settings(data).keep_personal_months == 24
    for months in (0, -1, 361):
        with pytest.raises(ValueError, match="1 to 360"):
            keep_for(data, months)
    (data.path / "settings.yaml").write_text("keep_personal_months: soon\n")
    with pytest.raises(BadFile, match=r"settings.yaml:1:"):
        load_settings(data)


class FailingDisk(Disk):
    """No byte is written any more."""

    def write(self, fd: int, data: bytes) -> int:
        raise OSError(28, "no space")


def test_a_disk_that_fails_erases_nothing_by_half(data: DataFolder) -> None:
    before = data.job(ONE).personal.read_bytes()
    with pytest.raises(JournalFailed):
        erase_customer(data.job(ONE), WHO, FailingDisk())
    assert data.job(ONE).personal.read_bytes() == before
    assert erase_customer(data.job(ONE), WHO).fields


PIN = "4821"


@pytest.mark.parametrize("name", ["agreement.html", "texts/copy.txt", "seal.new/note"])
def test_a_copy_that_somebody_put_into_the_folder_is_named(data: DataFolder, name: str) -> None:
    path = data.job(ONE).path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(f"<p>{PLATE}</p>", encoding="utf-8")
    assert erase_customer(data.job(ONE), WHO).copies == (name,)


def typed(monkeypatch: pytest.MonkeyPatch, *answers: str) -> None:
    """Have a terminal at which these are typed."""
    left = list(answers)
    monkeypatch.setattr(commands_customer, "has_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", lambda _: left.pop(0))
    monkeypatch.setattr("getpass.getpass", lambda *_: left.pop(0))
    monkeypatch.setattr(proving, "has_terminal", lambda: True)
    monkeypatch.setattr(proving, "secret", lambda _: left.pop(0))


def known(data: DataFolder) -> None:
    """A supervisor of this workshop who has a PIN."""
    PinBook(data.path / "people.json", Cost(2, 1, 1)).set_pin("supervisor-1", "Example", PIN)


def run(data: DataFolder, *words: str) -> int:
    return main(["--data", str(data.path), "customer", *words])


def test_the_command_erases_only_when_the_whole_id_is_typed(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(data, "erase", "aaaaaaaa", "--as", "supervisor-1") == exits.NO_TERMINAL
    known(data)
    for answer in ("", "y", "yes", "aaaaaaaa", TWO):
        typed(monkeypatch, PIN, answer)
        assert run(data, "erase", "aaaaaaaa", "--as", "supervisor-1") == exits.FAILED
    assert load_personal(data.job(ONE).path).bindings()  # type: ignore[union-attr]
    typed(monkeypatch, PIN, ONE)
    assert run(data, "erase", "aaaaaaaa", "--as", "supervisor-1") == exits.OK
    said = capsys.readouterr().out
    assert "Erased: customer name, contact, registration." in said and PLATE not in said
    assert main(["--data", str(data.path), "jobs"]) == exits.OK
    assert "customer's data erased" in capsys.readouterr().out


def test_the_command_refuses_to_erase_under_a_hold(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    reason = ("--as", "supervisor-1", "--reason", "dispute about the invoice")
    known(data)
    typed(monkeypatch, PIN, PIN, ONE, PIN, PIN)
    assert run(data, "hold", ONE, *reason) == exits.OK
    assert run(data, "erase", ONE, "--as", "supervisor-1") == exits.FAILED
    assert f"steplatch customer release {ONE}" in capsys.readouterr().err
    assert run(data, "release", ONE, *reason) == exits.OK
    assert run(data, "release", ONE, *reason) == exits.FAILED


@pytest.mark.parametrize("act", ["erase", "hold", "release"])
@pytest.mark.parametrize("person", ["nobody-known", "without-pin", "retired-1"])
def test_nobody_who_is_not_proven_does_what_stays(
    data: DataFolder,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    act: str,
    person: str,
) -> None:
    book = PinBook(data.path / "people.json", Cost(2, 1, 1))
    book.register("without-pin", "Without Example")
    book.set_pin("retired-1", "Retired Example", PIN)
    book.retire("retired-1", "Retired Example")
    typed(monkeypatch, PIN, ONE, PIN, ONE)
    before = data.job(ONE).personal.read_bytes()
    words = (act, ONE, "--as", person, "--reason", "dispute about the invoice")
    assert run(data, *words) == exits.FAILED
    said = capsys.readouterr().err
    assert "steplatch people" in said and data.job(ONE).personal.read_bytes() == before
    assert not hold_path(data.job(ONE)).exists()


def test_whoever_has_a_pin_must_type_it(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book = PinBook(data.path / "people.json", Cost(2, 1, 1))
    book.set_pin("supervisor-1", "Example Supervisor", "4821")
    assert run(data, "hold", ONE, "--as", "supervisor-1", "--reason", "a long dispute") != exits.OK
    typed(monkeypatch, "4822", ONE)
    assert run(data, "erase", ONE, "--as", "supervisor-1") == exits.FAILED
    assert "4 tries are left" in capsys.readouterr().err
    typed(monkeypatch, "4821", ONE)
    assert run(data, "erase", ONE, "--as", "supervisor-1") == exits.OK


def test_the_command_lists_what_is_due_and_keeps_the_setting(
    data: DataFolder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(commands_customer, "_today", lambda: date(2026, 3, 1))
    assert run(data, "due") == exits.OK
    assert "Nothing is due" in capsys.readouterr().out
    assert run(data, "keep", "1") == exits.OK
    assert "Limitation Act 1980, section 5" in capsys.readouterr().out
    hold(data.job(ONE))
    assert run(data, "due") == exits.OK
    assert f"{ONE}  ended 2026-01-31, held for a dispute" in capsys.readouterr().out
    assert run(data, "due", "--json") == exits.OK
    found = json.loads(capsys.readouterr().out)
    assert [d["job"] for d in found["due"]] == [ONE] and found["keep_personal_months"] == 1
    assert run(data, "keep", "0") == exits.USAGE


def test_the_command_exports_a_customer_to_a_file_and_says_when_a_job_is_missing(
    data: DataFolder, quick: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = quick / "customer.json"
    assert run(data, "export", "erika example", "--file", str(path)) == exits.OK
    assert len(json.loads(path.read_text())["jobs"]) == 2
    assert path.stat().st_mode & 0o777 == 0o600
    assert run(data, "export", "nobody") == exits.FAILED
    data.job(THREE).head.write_bytes(b"x")
    assert run(data, "export", "erika example", "--file", str(path)) == exits.FAILED  # it is there
    again = ("--file", str(path), "--overwrite")
    assert run(data, "export", "erika example", *again) == exits.AUDIT_BROKEN


_ERASE = """
import sys
from pathlib import Path
from steplatch.runner.jobs.customer import erase_customer
from steplatch.runner.record import Erased, JobFolder, RecordError
try:
    record = Erased("x", "2026-01-01T00:00:00Z", "asked")
    done = erase_customer(JobFolder(Path(sys.argv[1])), record)
    print("erased", len(done.fields))
except RecordError as error:
    print("refused", type(error).__name__)
"""


def test_of_two_programs_that_erase_at_once_one_erases_and_the_other_is_told(
    data: DataFolder,
) -> None:
    programs = [
        subprocess.Popen([sys.executable, "-c", _ERASE, str(data.job(ONE).path)],
                         stdout=subprocess.PIPE, text=True,
                         env={**os.environ, "PYTHONPATH": str(ROOT)})
        for _ in range(2)
    ]  # fmt: skip
    said = sorted(p.communicate(timeout=60)[0].split()[0] for p in programs)
    assert said == ["erased", "refused"]
    assert not load_personal(data.job(ONE).path).bindings()  # type: ignore[union-attr]


def test_erasing_does_not_change_what_the_chain_says(data: DataFolder) -> None:
    before = verify(data.job(ONE).path)
    erase_customer(data.job(ONE), Erased("x", datetime.now(UTC).isoformat(), "asked"))
    assert verify(data.job(ONE).path) == before and before.sound
