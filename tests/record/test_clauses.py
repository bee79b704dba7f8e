"""The record against the clauses that it is modelled on, one test for each clause that applies.

Each docstring says how the clause is kept; ``python -m tests.record.test_clauses`` prints the
table in ``runner/record/CLAUSES.md`` from them, and a test here holds the two together. The
clauses are those of 21 CFR Part 11 (2003 text), EU GMP Annex 11 (2011), ICH E6(R3) 4.2.2 (2025)
and the ALCOA words of MHRA and FDA (2018). They are taken as a model: none is a duty here, and
nothing in this project is validated or certified against them.
"""

import ast
import hashlib
import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from steplatch.runner.core.commands import Correct, NotApplicable
from steplatch.runner.core.refusals import recorded
from steplatch.runner.core.sign_off import NO_PIN
from steplatch.runner.jobs.auditing import audit, audit_job
from steplatch.runner.jobs.export import export_job
from steplatch.runner.record import JobFolder, read, verify
from steplatch.runner.record.head import Head, encode_head
from steplatch.runner.record.keys import SigningKey
from steplatch.runner.record.line import SCHEMA, decode_fields, hash_of
from steplatch.runner.record.seal import check_seal, make_seal
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.of_job import record_of
from steplatch.runner.sheet.text_page import to_text
from steplatch.runner.sheet.texts import DRAFT
from steplatch.runner.workshop.pins import Accepted, Locked, NoPin, PinBook, PinRefused, Wrong

from tests.played import Played, Stands
from tests.test_amend import WHY
from tests.test_engine import refused_by

HERE = Path(__file__)
TABLE = HERE.parents[2] / "runner" / "record" / "CLAUSES.md"
KEY = SigningKey(b"c" * 32)
NOT_HERE = {
    "21 CFR 11.10(i)": "Trained people: a workshop's own record, outside this program.",
    "21 CFR 11.10(j)": "Written accountability for one's signature: the workshop's paper; the "
    "README says what a PIN is worth and what it is not.",
    "21 CFR 11.300 ageing": "PINs do not age: for a few people at one terminal a lock-out and a "
    "voucher do more (NIST SP 800-63B 5.1.1.2 advises against forced changes).",
    "Annex 11 7 restore": "Backups and trying to restore them are the workshop's; a job is a "
    "plain folder, and 'audit' says whether a restored one is whole.",
    "Annex 11 13": "Reporting of incidents is the workshop's; refusals and trips are all kept.",
}


@pytest.fixture(scope="module")
def folder(good: Played, tmp_path_factory: pytest.TempPathFactory) -> JobFolder:
    copy = JobFolder(tmp_path_factory.mktemp("clauses") / "jobs" / good.folder.id)
    shutil.copytree(good.folder.path, copy.path)
    return copy


@pytest.fixture(scope="module")
def page(folder: JobFolder) -> str:
    return " ".join(to_text(sheet_content(record_of(folder))).split())


@pytest.fixture
def pins(tmp_path: Path) -> PinBook:
    return PinBook(tmp_path / "people.json")


# -- 21 CFR Part 11 ----------------------------------------------------------------------------


def test_21_cfr_11_10_a_altered_records_can_be_told_apart(
    folder: JobFolder, tmp_path: Path
) -> None:
    """Hash chain over exact bytes, head, seal; `steplatch audit` names the line."""
    copy = JobFolder(tmp_path / folder.id)
    shutil.copytree(folder.path, copy.path)
    raw = bytearray(copy.journal.read_bytes())
    raw[len(raw) // 2] ^= 1
    copy.journal.write_bytes(raw)
    found = audit_job(copy)
    assert found.code == 5 and any("line " in text for text in found.lines())


def test_21_cfr_11_10_b_accurate_and_complete_copies_for_people_and_machines(
    folder: JobFolder, page: str
) -> None:
    """The sheet for people; `steplatch export` for programs: every line, nothing left out."""
    exported = json.dumps(export_job(folder))
    for line in read(folder.path):
        assert f'"seq": {line.envelope.seq}' in exported
    assert folder.id in page and len(page) > 5000


def test_21_cfr_11_10_c_protected_and_retrievable(folder: JobFolder) -> None:
    """Files are for this user only; texts that a job rests on lie beside it, found by hash."""
    assert folder.journal.stat().st_mode & 0o077 == 0
    opened = next(read(folder.path)).command["files"]
    for digest in opened.values():
        kept = folder.path / "texts" / f"{digest}.yaml"
        assert hashlib.sha256(kept.read_bytes()).hexdigest() == digest


def test_21_cfr_11_10_d_only_those_on_the_roster_sign(stands: Stands) -> None:
    """A signature is asked of a person on the job's roster, with their PIN; others are refused."""
    from steplatch.runner.core.commands import Sign

    job = stands.at("check-fluid", begun=True)
    refused_by(stands.decide(job, Sign("check-fluid", "a-stranger", "pin")), "person")


def test_21_cfr_11_10_e_changes_leave_earlier_entries_readable(stands: Stands) -> None:
    """A correction is a new line that points at the old one; what stood there stays and prints."""
    job = stands.at("age")
    was = job.log.latest("distance")
    after = stands.after(job, Correct("distance", 0, "123000 km", WHY))
    (correction,) = after.log.corrections
    assert correction.was == was and correction.now != was and correction.by and correction.reason


def test_21_cfr_11_10_f_permitted_sequence_is_enforced(stands: Stands) -> None:
    """A step that is not due is refused, and the refusal is in the record."""
    from steplatch.runner.core.commands import Begin

    refused_by(stands.decide(stands.at("age"), Begin("off-spray")), "out-of-order")


def test_21_cfr_11_10_g_authority_is_checked(stands: Stands) -> None:
    """The role that a hold point names must sign; who did the work never checks it."""
    from steplatch.runner.core.commands import Sign

    job = stands.at("check-fluid", begun=True)
    refused_by(stands.decide(job, Sign("check-fluid", "apprentice-1")), "checker-is-doer")


def test_21_cfr_11_10_h_source_of_each_reading_is_kept(good: Played) -> None:
    """A reading says whether it was typed or logged, by whom, when, and the line's name."""
    for reading in good.session.job.log.every("reading"):
        assert reading["by"] and reading["taken_at"]
        assert all(r["source"] in ("typed", "logged") for r in reading["readings"])


def test_21_cfr_11_10_k_procedures_are_controlled_documents(folder: JobFolder) -> None:
    """Each line names procedure, revision and hash; the text itself is kept with the job."""
    for line in read(folder.path):
        header = line.envelope.header
        assert header.procedure == "clean-above" and header.revision.isdecimal()
        kept = (folder.path / "texts" / f"{header.procedure_sha256}.yaml").read_text("utf-8")
        assert f"revision: {header.revision}\n" in kept


def test_21_cfr_11_50_a_a_signature_shows_name_time_and_meaning(good: Played, page: str) -> None:
    """Name, role, meaning and time with zone stand beside each signature on the sheet."""
    names = {str(p["id"]): str(p["name"]) for p in good.session.job.log.people}
    for signature in good.session.job.log.signatures:
        if signature.person in names:
            assert names[signature.person] in page
        assert signature.meaning in page
    assert "+00:00" in page or "UTC" in page


def test_21_cfr_11_50_b_screen_and_print_show_the_same(good: Played, page: str) -> None:
    """Screen and sheet both take signature and meaning from the one event in the record."""
    shown = " ".join(" ".join(good.talk.said).split()) if hasattr(good.talk, "said") else ""
    for signature in good.session.job.log.signatures:
        assert signature.meaning in page
        assert not shown or signature.meaning in shown


def test_21_cfr_11_70_a_signature_cannot_be_moved_to_another_record(
    folder: JobFolder, tmp_path: Path
) -> None:
    """A signature is a line of the chain: taken out, copied or moved, the chain no longer fits."""
    raw = folder.journal.read_bytes().splitlines(keepends=True)
    at = next(i for i, line in enumerate(raw) if b'"kind":"Signed"' in line)
    for lines in (raw[:at] + raw[at + 1 :], [*raw[: at + 1], raw[at], *raw[at + 1 :]]):
        copy = JobFolder(tmp_path / str(len(lines)) / folder.id)
        shutil.copytree(folder.path, copy.path)
        copy.journal.write_bytes(b"".join(lines))
        assert not verify(copy.path).sound


def test_21_cfr_11_100_an_identity_is_one_persons_for_ever(pins: PinBook) -> None:
    """The book of people remembers each id; under another name it is refused, retired or not."""
    from steplatch.runner.record import RecordError

    pins.register("technician-1", "Example Technician")
    pins.retire("technician-1", "Example Technician")
    with pytest.raises(RecordError, match="technician-1"):
        pins.register("technician-1", "Somebody Else")


def test_21_cfr_11_200_a_a_signature_has_two_components(pins: PinBook, stands: Stands) -> None:
    """Id and PIN at every signature; one by name alone is recorded and printed as that."""
    from steplatch.runner.core.commands import Sign
    from steplatch.runner.core.events import Signed

    pins.set_pin("technician-1", "Example Technician", "7281")
    assert isinstance(pins.check("technician-1", "7281"), Accepted)
    assert isinstance(pins.check("technician-1", "7282"), Wrong)
    assert isinstance(pins.check("supervisor-1", "7281"), NoPin)
    job = stands.at("check-fluid", begun=True)
    job = replace(job, log=replace(job.log, practice=False))
    outcome = stands.decide(job, Sign("check-fluid", "technician-1"))
    signed = next(e for e in outcome.events if isinstance(e, Signed))
    assert signed.how == "name" and signed.exceptions == (NO_PIN,)


def test_21_cfr_11_300_tries_are_counted_and_pins_are_not_shared(pins: PinBook) -> None:
    """Five wrong tries lock the PIN, also for the right one; two people cannot have one PIN."""
    pins.set_pin("technician-1", "Example Technician", "7281")
    with pytest.raises(PinRefused):
        pins.set_pin("supervisor-1", "Example Supervisor", "7281")
    for _ in range(5):
        pins.check("technician-1", "1111")
    assert isinstance(pins.check("technician-1", "7281"), Locked)


# -- EU GMP Annex 11 ---------------------------------------------------------------------------


def test_annex_11_5_entries_are_checked_as_they_are_made(stands: Stands) -> None:
    """A number that is none, has no unit or lies outside its range is refused, never repaired."""
    from steplatch.runner.core.commands import Answer, Begin

    job = stands.after(stands.at("distance"), Begin("distance"))
    for typed in ("many", "12", "1e99 km", "5000000 km"):
        assert stands.decide(job, Answer("distance", typed)).refused


def test_annex_11_6_critical_entries_have_a_second_check(good: Played) -> None:
    """Fluid, start and release each wait for a second person's signature at a hold point."""
    slots = {s.step for s in good.session.job.log.signatures if s.who == "other"}
    assert {"check-fluid", "off-check", "release"} <= slots


def test_annex_11_8_2_the_print_shows_what_was_changed_since_it_was_entered(
    stands: Stands,
) -> None:
    """Corrections and not-applicable steps print with what stood before, reason and name."""
    job = stands.after(
        stands.at("freeze-frame"),
        NotApplicable("freeze-frame", "this reader shows none at all"),
        Correct("complaint", 0, "lamp on, and weak uphill", WHY),
    )
    (left,), (correction,) = job.log.not_applicable, job.log.corrections
    assert left.reason and left.by and correction.reason and correction.by
    assert correction.was == stands.at("freeze-frame").log.latest("complaint") != correction.now
    printed = (HERE.parents[2] / "runner" / "sheet" / "technical_changes.py").read_text("utf-8")
    assert "corrections" in printed and "not_applicable" in printed


def test_annex_11_9_a_change_has_a_reason(stands: Stands) -> None:
    """Without a reason of ten characters no correction, waiver or not-applicable is taken."""
    refused_by(stands.decide(stands.at("age"), Correct("distance", 0, "1 km", "")), "reason")


def test_annex_11_10_the_program_says_its_version_in_every_line(folder: JobFolder) -> None:
    """Each line holds the program's version and the hash of its rules."""
    for line in read(folder.path):
        assert line.envelope.header.program.startswith("steplatch ")
        assert re.fullmatch(r"[0-9a-f]{64}", line.envelope.header.rules_sha256)


def test_annex_11_12_4_grants_of_access_are_kept(pins: PinBook) -> None:
    """The book keeps since when, retired when, and when each PIN was set."""
    pins.set_pin("technician-1", "Example Technician", "7281")
    pins.retire("technician-1", "Example Technician")
    kept = (pins.path).read_text("utf-8")
    assert "since" in kept and "retired" in kept and "7281" not in kept


def test_annex_11_14_a_signature_is_linked_for_ever_with_date_and_time(folder: JobFolder) -> None:
    """The line of a signature holds its time; the seal at the end binds all of them."""
    copy_lines = [line for line in read(folder.path) if line.command["kind"] == "Sign"]
    assert copy_lines and all(line.envelope.times.utc.endswith("Z") for line in copy_lines)
    make_seal(folder, verify(folder.path), "finished", "later", "2026-03-02T12:00:00Z", KEY)
    assert check_seal(folder, verify(folder.path)).state == "good"


def test_annex_11_16_a_paper_copy_is_at_hand_when_it_breaks_down(
    folder: JobFolder, tmp_path: Path
) -> None:
    """The sheet prints at any moment of a job, marked as a draft until it has ended."""
    copy = JobFolder(tmp_path / folder.id)
    shutil.copytree(folder.path, copy.path, ignore=shutil.ignore_patterns("seal"))
    lines = copy.journal.read_bytes().splitlines(keepends=True)[:-40]
    copy.journal.write_bytes(b"".join(lines))
    copy.head.write_bytes(encode_head(Head(copy.id, len(lines), hash_of(lines[-1]))))
    assert DRAFT in to_text(sheet_content(record_of(copy)))


def test_annex_11_17_the_archive_stays_readable(folder: JobFolder) -> None:
    """Plain UTF-8 lines of JSON, checked by sha256sum and openssl, see README.md beside this."""
    for raw in folder.journal.read_bytes().splitlines(keepends=True):
        assert decode_fields(raw)["schema"] == SCHEMA


# -- ALCOA and ICH E6(R3) ----------------------------------------------------------------------


def test_alcoa_each_entry_says_who_what_and_when(folder: JobFolder) -> None:
    """Each line: actor, role, command as given, outcome, UTC, zone, running clock, sequence."""
    for number, line in enumerate(read(folder.path), start=1):
        assert line.envelope.actor and line.envelope.seq == number
        assert line.command["kind"] and "events" in line.outcome and "refused" in line.outcome


def test_alcoa_original_what_was_typed_stands_beside_what_was_made_of_it(good: Played) -> None:
    """Numbers are kept as typed, with their value in SI and the echo that was shown."""
    for name, unit in (("distance", "km"), ("exhaust", "k")):
        record = good.session.job.log.latest(name)
        assert record is not None and record["typed"] and float(record[unit]) > 0


def test_alcoa_complete_refusals_are_entries_too(folder: JobFolder) -> None:
    """A refused command is a line with its refusals; nothing that was asked is left out."""
    refused = [line for line in read(folder.path) if line.outcome["refused"]]
    for line in refused:
        assert all(recorded(r).reason and recorded(r).remedy for r in line.outcome["refused"])
    assert audit(folder).differences == ()


def test_ich_e6_4_2_2_times_cannot_be_misread(folder: JobFolder) -> None:
    """UTC in RFC 3339 with the workshop's offset beside it; the running clock orders the waits."""
    for line in read(folder.path):
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", line.envelope.times.utc)
        assert re.fullmatch(r"[+-]\d\d:\d\d", line.envelope.times.zone)


def test_aviation_sign_off_a_signature_covers_one_point_and_lists_it(good: Played) -> None:
    """Checked and released are different signatures; each lists the steps that it covers."""
    log = good.session.job.log
    assert {s.meaning for s in log.signatures} >= {"checked", "released", "agreed"}
    for signature in log.signatures:
        assert 0 < len(signature.covers) <= 9


def test_erasure_leaves_the_audit_intact_and_says_so(folder: JobFolder, tmp_path: Path) -> None:
    """Customers' data lie apart, bound by salted hashes; erased, the journal stays whole."""
    from steplatch.runner.jobs.customer import erase_customer
    from steplatch.runner.record import Erased

    copy = JobFolder(tmp_path / folder.id)
    shutil.copytree(folder.path, copy.path)
    erase_customer(copy, Erased("supervisor-1", "2026-04-01T09:00:00Z", "asked for by letter"))
    found = audit_job(copy)
    assert found.result is not None and found.result.intact
    assert "erased" in " ".join(found.lines())


# -- the table ---------------------------------------------------------------------------------


def clause_of(name: str) -> str:
    """The clause in a test's name: test_21_cfr_11_10_a_... is 21 CFR 11.10(a)."""
    if match := re.match(r"test_21_cfr_11_(\d+)(?:_([a-k])_)?", name):
        return f"21 CFR 11.{match[1]}" + (f"({match[2]})" if match[2] else "")
    if match := re.match(r"test_annex_11_(\d+)(?:_(\d))?_", name):
        return f"Annex 11 {match[1]}" + (f".{match[2]}" if match[2] else "")
    return {
        "alcoa": "ALCOA+",
        "ich": "ICH E6(R3) 4.2.2",
        "aviation": "aviation sign-off",
        "erasure": "erasure on request",
    }[name.split("_")[1]]


def rows() -> list[tuple[str, str, str]]:
    """Clause, how, test: from the tests of this file, in their order."""
    found = []
    for node in ast.parse(HERE.read_text("utf-8")).body:
        if not isinstance(node, ast.FunctionDef) or not node.name.startswith("test_"):
            continue
        if how := ast.get_docstring(node):
            found.append((clause_of(node.name), " ".join(how.split()), node.name))
    return found


def table() -> str:
    """The whole page."""
    about = " ".join((__doc__ or "").split("Each docstring")[1].split("They are")[1].split())
    lines = [
        "# Clauses that the record is modelled on",
        "",
        "Printed by `python -m tests.record.test_clauses > runner/record/CLAUSES.md`; a test holds",
        f"it to the tests. The clauses are {about}",
        "",
        "| clause | how it is kept | test in tests/record/test_clauses.py |",
        "|---|---|---|",
        *(f"| {clause} | {how} | `{name}` |" for clause, how, name in rows()),
        "",
        "| clause | why it does not apply |",
        "|---|---|",
        *(f"| {clause} | {why} |" for clause, why in NOT_HERE.items()),
        "",
    ]
    return "\n".join(lines)


def test_the_printed_table_is_that_of_these_tests() -> None:
    assert TABLE.read_text("utf-8") == table()


def test_no_clause_is_both_kept_and_left_out() -> None:
    assert not {clause for clause, _, _ in rows()} & set(NOT_HERE)


if __name__ == "__main__":
    print(table(), end="")
