"""Personal data: bound by salted hashes, erasable for good, never in the journal or in names."""

import hashlib
import json
import stat
from pathlib import Path

import pytest
from steplatch.runner.record import (
    BadSideFile,
    Erased,
    FieldState,
    FindingGrade,
    JobFolder,
    JobLock,
    JournalFailed,
    JournalWriter,
    NotRecordable,
    PersonalField,
    SaltedValue,
    bind,
    change_personal,
    compare,
    create_personal,
    erase_personal,
    load_personal,
    read,
    verify,
)

from tests.record.failing_disk import Crashed, FailingDisk, Fault
from tests.record.sample_jobs import HEADER, JOB, OTHER_JOB, UnsyncedDisk, add_line, at_ms, make_job

F = PersonalField
VALUES = {
    F.CUSTOMER_NAME: "Jürgen Beispiel",
    F.CONTACT: "example number 1",
    F.REGISTRATION: "KA RL 123",
    F.VIN_TAIL: "8H123456",
    F.VIN: "WPRACTCE0VEH1CLE0",
}
ERASED = Erased("anna", "2026-01-31T10:00:00.000Z", "asked for by the customer")


def _states(folder: Path, recorded: dict[str, str]) -> dict[PersonalField, FieldState]:
    return {item.field: item.state for item in compare(load_personal(folder), recorded)}


def _job_with_data(tmp_path: Path) -> tuple[Path, dict[str, str]]:
    folder = tmp_path / JOB
    with JournalWriter.create(folder, HEADER, UnsyncedDisk()) as writer:
        bound = create_personal(writer.lock, VALUES).bindings()
        writer.append("anna", "technician", {"report": "customer", "bound": bound}, {}, at_ms(1))
    return folder, bound


def test_the_journal_holds_hashes_only_and_the_side_file_is_for_this_user_only(
    tmp_path: Path,
) -> None:
    folder, bound = _job_with_data(tmp_path)
    journal = (folder / "journal.jsonl").read_text(encoding="utf-8")
    for value in VALUES.values():
        assert value not in journal
    assert stat.S_IMODE((folder / "personal.json").stat().st_mode) == 0o600
    recorded = next(read(folder)).command["bound"]
    assert recorded == bound
    assert set(_states(folder, recorded).values()) == {FieldState.SAME}
    salts = {
        kept.salt for kept in load_personal(folder).fields.values() if isinstance(kept, SaltedValue)
    }  # type: ignore[union-attr]
    assert len(salts) == len(VALUES) and {len(salt) for salt in salts} == {32}


def test_the_hash_is_sha256_of_salt_field_zero_byte_and_value() -> None:
    salt = bytes(range(32))
    expected = hashlib.sha256(salt + b"registration\x00KA RL 123").hexdigest()
    assert bind(F.REGISTRATION, "KA RL 123", salt) == expected
    assert bind(F.CONTACT, "KA RL 123", salt) != expected
    assert bind(F.REGISTRATION, "KA RL 124", salt) != expected
    with pytest.raises(ValueError, match="32 bytes"):
        bind(F.REGISTRATION, "KA RL 123", b"short")


def test_an_exchanged_value_is_found(tmp_path: Path) -> None:
    folder, bound = _job_with_data(tmp_path)
    path = folder / "personal.json"
    path.write_text(path.read_text(encoding="utf-8").replace("RL 123", "RL 124"), encoding="utf-8")
    states = _states(folder, bound)
    assert states[F.REGISTRATION] is FieldState.CHANGED
    assert states[F.CONTACT] is FieldState.SAME


def test_erasing_removes_value_and_salt_and_leaves_the_journal_intact(tmp_path: Path) -> None:
    folder, bound = _job_with_data(tmp_path)
    before = (folder / "personal.json").read_text(encoding="utf-8")
    salts = [entry["salt"] for entry in json.loads(before)["fields"].values()]
    with JournalWriter.open(folder, HEADER, UnsyncedDisk()) as writer:
        erase_personal(writer.lock, list(F), ERASED)
        add_line(writer, 2)
    everything = b"".join(path.read_bytes() for path in folder.iterdir()).decode("utf-8")
    for secret in (*VALUES.values(), *salts):
        assert secret not in everything
    found = compare(load_personal(folder), bound)
    assert {item.state for item in found} == {FieldState.ERASED}
    assert found[0].detail == (
        "customer name: erased by anna at 2026-01-31T10:00:00.000Z: asked for by the customer"
    )
    assert verify(folder).grade is FindingGrade.INTACT


def test_one_erased_field_cannot_be_guessed_from_what_is_left(tmp_path: Path) -> None:
    folder, bound = _job_with_data(tmp_path)
    with JobLock.take(JobFolder(folder)) as lock:
        personal = erase_personal(lock, [F.REGISTRATION], ERASED)
    kept = [entry for entry in personal.fields.values() if isinstance(entry, SaltedValue)]
    assert len(kept) == len(VALUES) - 1
    guesses = {bind(F.REGISTRATION, VALUES[F.REGISTRATION], entry.salt) for entry in kept}
    assert bound["registration"] not in guesses
    states = _states(folder, bound)
    assert states.pop(F.REGISTRATION) is FieldState.ERASED
    assert set(states.values()) == {FieldState.SAME}


def test_an_erased_field_keeps_its_first_erasure_record(tmp_path: Path) -> None:
    folder, _ = _job_with_data(tmp_path)
    with JobLock.take(JobFolder(folder)) as lock:
        erase_personal(lock, [F.CONTACT], ERASED)
        later = Erased("bert", "2027-01-01T00:00:00.000Z", "retention time is over")
        after = erase_personal(lock, [F.CONTACT, F.VIN_TAIL], later)
    assert after.fields[F.CONTACT] == ERASED
    assert after.fields[F.VIN_TAIL] == later


def test_a_corrected_value_gets_a_new_salt_and_is_to_be_recorded_anew(tmp_path: Path) -> None:
    folder, bound = _job_with_data(tmp_path)
    with JobLock.take(JobFolder(folder)) as lock:
        personal = change_personal(lock, F.CONTACT, "anna@example.org")
        again = change_personal(lock, F.CONTACT, VALUES[F.CONTACT])
    assert personal.fields[F.CONTACT] != again.fields[F.CONTACT]
    assert _states(folder, bound)[F.CONTACT] is FieldState.CHANGED
    assert _states(folder, again.bindings())[F.CONTACT] is FieldState.SAME


def test_a_missing_file_or_field_and_an_unrecorded_one_are_told_apart(tmp_path: Path) -> None:
    folder, bound = _job_with_data(tmp_path)
    unbound = {key: value for key, value in bound.items() if key != "contact"}
    assert _states(folder, unbound)[F.CONTACT] is FieldState.UNBOUND
    (folder / "personal.json").unlink()
    assert load_personal(folder) is None
    assert set(_states(folder, bound).values()) == {FieldState.MISSING}
    assert compare(None, {}) == ()
    with pytest.raises(NotRecordable, match="unknown field 'shoe_size'"):
        compare(None, {"shoe_size": "0" * 64})


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"schema": 1', '"schema": 2'),
        ('"schema": 1', '"schema": true'),
        (JOB, OTHER_JOB),
        ('"contact"', '"shoe_size"'),
        ('"contact"', '"registration"'),
        ('"salt": "', '"salt": "zz'),
        ('"8H123456"', "7"),
        ('"8H123456"', '"WXY0001118H123456"'),
        ('"fields": {', '"fields": {"erased": 1,'),
        ("{", "["),
        ("Jürgen", "J\ufffdrgen\\n"),
    ],
)
def test_a_side_file_of_another_form_is_refused_without_repeating_its_data(
    tmp_path: Path, old: str, new: str
) -> None:
    folder, _ = _job_with_data(tmp_path)
    path = folder / "personal.json"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadSideFile) as caught:
        load_personal(folder)
    assert "personal.json" in caught.value.where and "backup" in caught.value.remedy
    for value in VALUES.values():
        assert value not in str(caught.value)


def test_a_side_file_that_is_not_text_or_far_too_large_is_refused(tmp_path: Path) -> None:
    folder, _ = _job_with_data(tmp_path)
    for rubbish in (b"\xff", b"", b" " * 100_000, b"[" * 60_000, b"[]"):
        (folder / "personal.json").write_bytes(rubbish)
        with pytest.raises(BadSideFile):
            load_personal(folder)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        (F.CONTACT, ""),
        (F.CONTACT, "   "),
        (F.CONTACT, "two\nlines"),
        (F.CONTACT, "x" * 201),
        (F.VIN_TAIL, "WXY0001118H123456"),
        (F.VIN_TAIL, "I0O0Q0"),
        (F.VIN_TAIL, "abc123"),
    ],
)
def test_a_value_that_cannot_be_kept_is_refused_before_anything_is_written(
    tmp_path: Path, field: PersonalField, value: str
) -> None:
    folder = make_job(tmp_path, 1)
    with JobLock.take(JobFolder(folder)) as lock:
        with pytest.raises(NotRecordable) as caught:
            create_personal(lock, {field: value})
        assert caught.value.where == field.value
        assert not (folder / "personal.json").exists()


def test_the_side_file_is_changed_only_by_who_holds_the_job(tmp_path: Path) -> None:
    folder, _ = _job_with_data(tmp_path)
    lock = JobLock.take(JobFolder(folder))
    lock.release()
    with pytest.raises(JournalFailed, match="not held"):
        erase_personal(lock, [F.CONTACT], ERASED)
    with JobLock.take(JobFolder(folder)) as held:
        with pytest.raises(JournalFailed, match="already"):
            create_personal(held, VALUES)
        with pytest.raises(NotRecordable, match="'why'"):
            erase_personal(held, [F.CONTACT], Erased("anna", "2026-01-31T10:00:00.000Z", " "))
    empty = make_job(tmp_path, 1, OTHER_JOB)
    with JobLock.take(JobFolder(empty)) as held:
        with pytest.raises(BadSideFile, match="no side file"):
            erase_personal(held, [F.CONTACT], ERASED)
        create_personal(held, {F.CONTACT: "x"})
        with pytest.raises(NotRecordable, match="no 'registration' to erase"):
            erase_personal(held, [F.REGISTRATION], ERASED)


@pytest.mark.parametrize("fault", list(Fault), ids=lambda fault: fault.name.lower())
def test_any_failing_call_while_erasing_leaves_the_old_or_the_new_file_whole(
    tmp_path: Path, fault: Fault
) -> None:
    folder, bound = _job_with_data(tmp_path)
    text = (folder / "personal.json").read_bytes()
    at = 0
    while True:
        at += 1
        (folder / "personal.json").write_bytes(text)
        disk = FailingDisk(at, fault)
        said = False
        with JobLock.take(JobFolder(folder)) as lock:
            try:
                erase_personal(lock, list(F), ERASED, disk)
            except (JournalFailed, Crashed):
                said = True
            finally:
                disk.bury()
        if not disk.struck:
            assert at > 8
            return
        states = set(_states(folder, bound).values())
        assert len(states) == 1 and states <= {FieldState.SAME, FieldState.ERASED}
        assert said or states == {FieldState.ERASED}
        with JobLock.take(JobFolder(folder)) as lock:
            erase_personal(lock, list(F), ERASED)
        left = b"".join(path.read_bytes() for path in folder.iterdir()).decode("utf-8")
        assert not any(value in left for value in VALUES.values())
