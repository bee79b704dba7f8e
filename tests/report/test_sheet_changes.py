"""What was changed, left out, set aside or kept beside the record stands on the sheet."""

import os
import zlib
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from steplatch.runner.core.commands import Correct, NotApplicable, Note, Waive
from steplatch.runner.core.events import (
    Corrected,
    MarkedNotApplicable,
    Recorded,
    Signed,
    Waived,
    WaiverLapsed,
    WaiverUsed,
)
from steplatch.runner.core.job import StepMark
from steplatch.runner.record import JobFolder, NotRecordable
from steplatch.runner.record.attachments import attachment_path, for_the_page, keep_file
from steplatch.runner.sheet.blocks import Photo
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.pdf_page import to_pdf
from steplatch.runner.sheet.record_view import JobRecord
from steplatch.runner.sheet.technical_changes import kept_beside
from steplatch.runner.sheet.text_page import to_text
from steplatch.runner.sheet.timeline import read_timeline

from tests.report.job_book import JobBook
from tests.report.page_reading import pdf_words
from tests.report.sample_sheets import good_job, until_agreed

WRONG = "118 2480 40.0 208 86 shut"
RIGHT = "108 2480 40.0 208 86 shut"


@cache
def changed_job() -> JobRecord:
    """A job in which one of each was done: correction, not-applicable, waiver, notes."""
    from steplatch.runner.core.typed_set import parse_set

    book = JobBook()
    until_agreed(book)
    was = next(r.value for r in book.job.log.records if r.name == "reading")
    now = parse_set(
        RIGHT, "raised", "before", line_name="exhaust differential pressure", burning=False
    ).to_json()
    why = "one digit typed wrong, see the photo"
    book.line(
        Correct("reading", 0, RIGHT, why),
        Corrected("reading", 0, was, now, why, "technician-1"),
    )
    no_lamp = "this vehicle has no such display"
    book.line(
        NotApplicable("ask-codes", no_lamp),
        MarkedNotApplicable("ask-codes", no_lamp, "technician-1", procedure="sheet-test"),
    )
    reason = "the photo is taken after the drive"
    book.line(
        Waive("photo-missing", "supervisor-1", reason, "pin"),
        Waived("photo-missing", reason, "technician-1", "supervisor-1", "supervisor", "pin", 900),
        WaiverUsed("photo-missing", "read_before"),
    )
    book.line(Waive("again", "supervisor-1", reason), WaiverLapsed("again"))
    for name, value in (
        ("doubted", {"typed": "1180 2480 40 208 86 shut", "topics": "pressure repeats"}),
        ("attachment", {"sha256": "5e" * 32, "bytes": "48213", "kind": "photo",
                        "label": "dash, raised, before <b>"}),
        ("called", {"role": "supervisor"}),
        ("text_fault", {"step": "ask-codes", "text": "this vehicle shows no pending codes"}),
    ):  # fmt: skip
        book.line(Note(name, value), Recorded(name, value, "hold-dry", procedure="sheet-test"))
    return book.record("")


@cache
def technical() -> str:
    """The technical pages in one long line a paragraph."""
    return to_text(sheet_content(changed_job()), 4000, "technical")


def test_a_correction_shows_both_values_with_reason_person_and_place() -> None:
    assert WRONG in technical() and RIGHT in technical()
    assert "reading (before, raised), entry 1" in technical()
    assert "one digit typed wrong, see the photo; technician-1" in technical()


def test_the_corrected_value_is_the_one_that_counts_from_then_on_and_not_before() -> None:
    timeline = read_timeline(changed_job())
    corrected = timeline.of(Corrected)[0].seq
    typed = [str(r.event.value["typed"]) for r in timeline.records("reading")]  # type: ignore[union-attr]
    then = [str(r.event.value["typed"]) for r in timeline.records("reading", corrected - 1)]  # type: ignore[union-attr]
    assert typed[0] == RIGHT and then[0] == WRONG
    assert typed[1:] == then[1:]


def test_the_agreement_keeps_the_reading_that_the_customer_was_told() -> None:
    sheet = sheet_content(changed_job())
    assert "118.0 mbar" in to_text(sheet, 4000, "agreement")
    assert "108.0 mbar" not in to_text(sheet, 4000, "agreement")


def test_the_customer_is_told_that_readings_were_put_right_and_checks_set_aside() -> None:
    page = to_text(sheet_content(changed_job()), 4000, "customer")
    assert "Readings put right afterwards: 1;" in page
    assert "Checks set aside with a reason: 1;" in page


def test_a_step_left_as_not_applicable_stands_with_its_reason() -> None:
    assert "this vehicle has no such display" in technical()


def test_a_waiver_stands_with_who_asked_who_approved_how_and_what_for() -> None:
    assert (
        "asked by technician-1; approved by Example Supervisor (supervisor), by name and PIN"
        in (technical())
    )
    assert "used for: read before" in technical()
    assert "ended unused" in technical()


def test_a_doubted_reading_stands_as_first_typed_beside_why_it_was_doubted() -> None:
    assert "1180 2480 40 208 86 shut" in technical()
    assert "the pressure for this flow and filter, the same value as in" in technical()


def test_an_attached_file_stands_with_label_kind_size_and_hash() -> None:
    assert "dash, raised, before <b>" in technical()
    assert "48 213 bytes" in technical()
    assert " ".join(["5e5e"] * 16) in technical()


def test_notes_are_not_taken_for_answers_of_the_customer_or_the_vehicle() -> None:
    sheet = sheet_content(changed_job())
    codes = to_text(sheet, 4000, "technical").split("Codes\n-----")[1].split("Triage\n")[0]
    assert "photo" not in codes and "1180" not in codes


def test_each_kind_of_change_that_did_not_occur_is_said_to_be_none() -> None:
    book = JobBook()
    until_agreed(book)
    said = to_text(sheet_content(book.record("")), 4000, "technical")
    for words in (
        "Corrections: none.",
        "Waivers: none.",
        "Not applicable: none.",
        "Readings that were doubted when first typed: none.",
        "Attached files: none.",
    ):
        assert words in said, words


def test_an_answer_faster_than_a_look_is_printed_but_not_in_practice() -> None:
    record = changed_job()
    marks = tuple(
        replace(mark, done_ms=mark.begun_ms + 400) if mark.step == "look-crew" else mark
        for mark in record.job.log.marks
    )
    assert all(isinstance(mark, StepMark) for mark in marks)
    quick = replace(record, job=replace(record.job, log=replace(record.job.log, marks=marks)))
    assert "0.4 s" in to_text(sheet_content(quick), 4000, "technical")
    assert "0.4 s" not in technical()
    assert "0.4 s" not in to_text(sheet_content(replace(quick, practice=True)), 4000, "technical")


def test_a_signature_stands_with_how_it_was_given_and_what_is_out_of_the_ordinary() -> None:
    book = JobBook()
    until_agreed(book)
    signed = Signed("sign-agreed", "technician-1", "technician", "checked", "other", (), "name",
                    ("no_pin",), procedure="sheet-test")  # fmt: skip
    book.line(Note("called", {}), signed)
    said = to_text(sheet_content(book.record("")), 4000, "technical")
    assert "by name alone; signed by name, without a PIN" in said


def test_a_record_older_than_notes_has_none_and_says_so() -> None:
    from steplatch.runner.sheet.subject import subject_of

    book = JobBook()
    until_agreed(book)
    blocks = kept_beside(subject_of(book.record("")))
    assert [getattr(b, "text", "") for b in blocks] == [
        "Attached files: none.", "Called to the vehicle: not recorded.",
        "Work handed over to somebody else: not recorded.",
    ]  # fmt: skip


def test_a_text_at_fault_stands_for_its_author_with_its_step() -> None:
    assert "Texts of steps that are at fault, for their author" in technical()
    assert "ask-codes" in technical() and "this vehicle shows no pending codes" in technical()


def test_the_seal_stands_with_its_key_and_a_record_without_one_says_so() -> None:
    key = "0a1b-2c3d-4e5f-6071"
    record = replace(changed_job(), seal=f"sealed at the end, key {key}", seal_key=key)
    sheet = sheet_content(record)
    assert f"Seal: sealed at the end, key {key}" in to_text(sheet, 4000, "technical")
    assert f"with its key {key}." in to_text(sheet, 4000, "customer")
    bare = sheet_content(changed_job())
    assert "Sealed by the workshop" not in to_text(bare, 4000, "customer")
    assert "Seal: – not looked at for this sheet" in to_text(bare, 4000, "technical")


def _folder(room: Path) -> JobFolder:
    folder = JobFolder(room / "2026-03-02-abcdefgh")
    folder.path.mkdir()
    return folder


def png(pixel: bytes = b"\x00\x80") -> bytes:
    """One grey pixel, with a text chunk as a camera writes its name."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        crc = zlib.crc32(kind + data)
        return len(data).to_bytes(4, "big") + kind + data + crc.to_bytes(4, "big")

    head = (1).to_bytes(4, "big") * 2 + bytes([8, 0, 0, 0, 0])
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"tEXt", b"Model\x00Example phone")
        + chunk(b"IDAT", zlib.compress(pixel))
        + chunk(b"IEND", b"")
    )


def test_a_picture_chosen_for_the_customer_stands_behind_the_page_without_its_words(
    quick: Path,
) -> None:
    folder = _folder(quick)
    taken = quick / "taken.png"
    taken.write_bytes(png())
    kept = keep_file(folder, taken, "stub before <b>", page=True)
    assert kept.cleaned and kept.to_json()["page"] == "yes"
    plain = keep_file(folder, taken, "for the record")
    assert for_the_page(folder, plain.to_json()) == b"" and plain.sha256 != kept.sha256
    shown = for_the_page(folder, kept.to_json())
    assert shown and b"Example phone" not in shown
    record = replace(good_job(), photos=(Photo(kept.label, "png", shown),))
    sheet = sheet_content(record)
    assert [p.name for p in sheet.parts("customer")] == ["customer", "photos"]
    assert "[photo] stub before <b>" in to_text(sheet, 80, "customer")
    assert 'alt="stub before &lt;b&gt;"' in to_html(sheet, "customer")
    assert pdf_words(to_pdf(sheet, "customer"))[0] == 2
    path = attachment_path(folder, kept.sha256, "png")
    path.write_bytes(shown[:-1])
    assert for_the_page(folder, kept.to_json()) == b"", "one that was changed is not shown"


def test_a_picture_for_the_page_is_a_picture_of_a_size_for_a_page(quick: Path) -> None:
    folder = _folder(quick)
    (quick / "note.txt").write_text("no picture", encoding="utf-8")
    with pytest.raises(NotRecordable, match="cannot be taken out"):
        keep_file(folder, quick / "note.txt", "a note", page=True)
    (quick / "large.png").write_bytes(png(os.urandom(4_000_001)))
    with pytest.raises(NotRecordable, match="customer's page"):
        keep_file(folder, quick / "large.png", "too large", page=True)
