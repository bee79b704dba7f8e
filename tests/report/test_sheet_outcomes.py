"""What a customer reads first when a job was given up, not cleaned, or stands still."""

import re
from dataclasses import replace
from typing import Any

import pytest
from steplatch.runner.assess.words import FINDINGS
from steplatch.runner.core.commands import Answer, Depart, Report
from steplatch.runner.core.events import Departed, Recorded
from steplatch.runner.core.job import Job
from steplatch.runner.sheet.blocks import BarPlot, Points, TableBlock, VerdictBlock
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.plots import drawing_of
from steplatch.runner.sheet.result import result_box
from steplatch.runner.sheet.subject import Subject, subject_of
from steplatch.runner.sheet.text_page import to_text
from steplatch.safety.bay import Act, Agreed, Tag, Triage, Trip
from steplatch.safety.kernel import Granted, Seen, Tripped

from tests.report.job_book import JobBook
from tests.report.sample_sheets import (
    fluid_and_drying,
    pictures_of,
    record_of,
    sheet_of,
    until_agreed,
    with_verdict,
)


def with_bay(job: Job, **facts: Any) -> Job:
    """The job with other facts."""
    return replace(job, core=replace(job.core, bay=replace(job.core.bay, **facts)))


def subject_with(book: JobBook, ended: str, **facts: Any) -> Subject:
    """The subject of a book's job with other facts."""
    record = book.record(ended)
    return subject_of(replace(record, job=with_bay(record.job, **facts)))


def next_words(subject: Subject) -> tuple[str, ...]:
    """What the customer's page says comes next."""
    part = sheet_content(subject.record).customer
    block = next(s for s in part.sections if s.id == "next").blocks[0]
    assert isinstance(block, Points)
    return block.items


@pytest.mark.parametrize("wet", [100, None])
def test_a_job_given_up_with_fluid_in_says_before_all_else_not_to_start_it(wet: int | None) -> None:
    book = JobBook()
    until_agreed(book)
    fluid_and_drying(book)
    reason = "hose burst"
    book.line(
        Answer("reason", reason),
        Recorded("abandon_reason", {"text": reason}, "reason", procedure="sheet-test"),
    )
    book.line(Answer("tag", "do_not_start"), Seen("tag", Tag.DO_NOT_START))
    subject = subject_with(book, "abandoned", wet=wet, tag=Tag.DO_NOT_START)
    box = result_box(subject)
    assert (box.title, box.kind) == ("Stopped before the end", "bad")
    assert box.sentences[0].startswith("DO NOT START THE ENGINE: cleaning fluid may still be")
    assert f"Reason written down: “{reason}”" in box.sentences
    assert any("must not be started" in item for item in next_words(subject))
    glance = to_text(sheet_content(subject.record), 200, "technical")
    assert "DO NOT START notice signed" in glance and "Fluid that may be left in" in glance


def test_a_notice_without_fluid_keeps_the_engine_off_but_tells_of_no_fluid() -> None:
    book = JobBook()
    until_agreed(book)
    box = result_box(subject_with(book, "abandoned", wet=0, tag=Tag.DO_NOT_START))
    assert box.sentences[0].startswith("DO NOT START THE ENGINE: a notice says so")
    assert box.sentences[-1] == "No fluid was used."


def test_a_job_given_up_dry_warns_of_nothing_that_is_not_there() -> None:
    book = JobBook()
    until_agreed(book)
    box = result_box(subject_with(book, "abandoned", wet=0, tag=Tag.KEY_TAGGED))
    assert box.kind == "none" and not any("START" in s for s in box.sentences)


def test_a_spray_that_was_let_through_and_never_counted_is_not_called_no_fluid() -> None:
    book = JobBook()
    until_agreed(book)
    book.step("spray-off", "3", Granted(Act.SPRAY_OFF, 150))
    box = result_box(subject_with(book, "abandoned", wet=None, tag=Tag.DO_NOT_START))
    assert box.sentences[-1] == "No fluid was counted; whether any went in is not known."


def dont(*reasons: str) -> Subject:
    """A job whose triage speaks against a clean: rows of its table, or findings of readings."""
    book = JobBook()
    until_agreed(book)
    given = {"phase": "before", "condition": "zero", "zero_mbar": "10.0"}
    found = {
        "state": "dont",
        "decision": "dont",
        "reasons": [
            {"effect": "dont", "row": "", "finding": {"kind": "refused", "id": i, "given": given}}
            if i in FINDINGS
            else {"effect": "dont", "row": i, "finding": None}
            for i in reasons
        ],
    }
    book.step(
        "judge-triage", "read", Recorded("triage", found, "judge-triage", procedure="sheet-test")
    )
    return subject_with(book, "finished", triage=Triage.DONT, wet=0, agreed=Agreed.MEASURE)


def test_a_job_that_was_not_cleaned_gives_the_plainest_reason_and_what_comes_first() -> None:
    subject = dont("unreadable", "zero_out", "frozen")
    box = result_box(subject)
    assert box.title == "Not cleaned"
    assert box.sentences[1].startswith("Main reason: The pressure shown did not move")
    assert "A clean can be tried once it is put right and read again." in next_words(subject)
    assert not any("Not measured today" in item for item in next_words(subject))


def test_a_reason_alone_is_told_though_it_gives_way_to_others() -> None:
    box = result_box(dont("zero_out"))
    assert "With the engine stopped" in box.sentences[1]


def test_a_reason_that_never_passes_promises_no_later_clean() -> None:
    subject = dont("other_fuel")
    assert result_box(subject).sentences[1] == (
        "Main reason: A filter behind petrol or another fuel: not this procedure."
    )
    assert not any("can be tried" in item for item in next_words(subject))


def test_an_unfinished_job_with_an_open_trip_says_what_it_stands_still_for() -> None:
    book = JobBook()
    until_agreed(book)
    book.line(Report("spilled"), Tripped(Trip.SPILL))
    box = result_box(subject_with(book, "", trips=frozenset({Trip.SPILL})))
    assert box == VerdictBlock(
        "Not finished",
        ("The work stands still: fluid was spilled. Nothing is judged yet.",),
        "none",
    )


def test_nobodys_age_stands_on_a_page_that_leaves_the_workshop() -> None:
    for part in ("customer", "agreement"):
        assert "under 18" not in to_text(sheet_of("good"), 80, part)
    assert "Under 18" in to_text(sheet_of("good"), 200, "technical")


def test_the_limit_runs_through_no_label_of_a_bar() -> None:
    picture = next(p for p in pictures_of("good") if p.id == "bars")
    assert isinstance(picture.plot, BarPlot)
    for limit in (20.0, 30.0, 45.0, 60.0, 90.0, 110.0, 130.0):
        drawing = drawing_of(replace(picture, plot=replace(picture.plot, limit=limit)))
        line = next(label for label in drawing.labels if "up to" in label.words).x - 4
        said = [label for label in drawing.labels if "±" in label.words]
        assert len(said) == len(picture.plot.bars)
        for label in said:
            left, _, right, _ = label.box
            assert not left < line < right, (limit, label.words)


def test_a_flow_that_was_estimated_is_said_to_be_on_the_customers_page() -> None:
    said = "The vehicle does not show its air flow: it was estimated"
    assert said in to_text(sheet_of("bare"), 4000, "customer")
    assert said not in to_text(sheet_of("good"), 4000, "customer")


def test_a_job_without_verdict_shows_what_the_readings_before_the_work_gave() -> None:
    section = next(s for s in sheet_of("draft").technical.sections if s.id == "t-verdict")
    kinds = [type(b).__name__ for b in section.blocks]
    assert kinds == ["Paragraph", "Paragraph", "TableBlock", "Picture"]
    none = next(s for s in sheet_of("empty").technical.sections if s.id == "t-verdict")
    assert [type(b).__name__ for b in none.blocks] == ["Paragraph"]


def test_how_a_line_was_fitted_is_said_once() -> None:
    section = next(s for s in sheet_of("bare").technical.sections if s.id == "t-verdict")
    lines = next(b for b in section.blocks if isinstance(b, TableBlock) and "Fitted" in b.caption)
    for row in lines.rows:
        said = row[-1].text.split("; ")
        assert len(said) == len(set(said))


def test_a_verdict_without_a_gain_says_how_sure_it_is_unless_nothing_may_be_compared() -> None:
    box = result_box(subject_of(record_of("poor")))
    assert "122 ± 18 mbar when you came and 118 ± 17 mbar after" in box.sentences[-1]
    assert "95 % sure" in box.sentences[-1]
    unlike = with_verdict(record_of("poor"), facts={"comparable": "no"})
    assert not any("95 %" in said for said in result_box(subject_of(unlike)).sentences)


def test_readings_that_were_taken_once_only_are_not_called_compared() -> None:
    assert "Taken before the work only" in to_text(sheet_of("draft"), 4000, "customer")
    assert "No readings were taken with the engine running" in to_text(
        sheet_of("empty"), 4000, "customer"
    )


def test_who_went_in_mid_job_stands_beside_their_role() -> None:
    book = JobBook()
    until_agreed(book)
    book.line(Depart("supervisor-1"), Departed("supervisor-1", ("technician-1",)))
    people = to_text(sheet_content(book.record("")), 200, "technical")
    assert re.search(r"supervisor +\(went \d{4}-\d\d-\d\d ", people)
