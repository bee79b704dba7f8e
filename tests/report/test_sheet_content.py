"""What a sheet says, and what it never says."""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.assess.judge import judge
from steplatch.runner.assess.tables import load_table
from steplatch.runner.core.codec import decode_event, encode
from steplatch.runner.core.events import Recorded
from steplatch.runner.sheet.agreement_part import agreement_part
from steplatch.runner.sheet.blocks import Pairs, SheetPart, TableBlock, TableCell, VerdictBlock
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.record_view import JobRecord
from steplatch.runner.sheet.subject import subject_of
from steplatch.runner.sheet.text_page import to_text
from steplatch.runner.sheet.texts import ABANDONED, DRAFT, INCIDENT, PRACTICE
from steplatch.safety.bay import Triage, Trip

from tests.assess.never_said import NEVER
from tests.report.job_book import AFTER, BEFORE, JobBook, files, procedure
from tests.report.page_reading import Page, said_in
from tests.report.sample_sheets import (
    EVERY_JOB,
    fluid_and_drying,
    good_job,
    page_of,
    record_of,
    sheet_of,
    to_the_end,
    until_agreed,
    with_line,
    with_verdict,
)

GOLDEN = Path(__file__).parent / "golden"
FORBIDDEN = (
    *NEVER, "restore", "guarant", "like new", "brand-new", "cleaned by", "fully restored",
    "at your own risk", "owner’s risk", "warranty", "sil 1", "sil 2", "safety integrity",
    "performance level",
)  # fmt: skip
PERCENT_CLEANED = re.compile(
    r"\d\s*(%|percent)\s*(clean|restored|of the (soot|ash) (removed|gone))"
)


def cells(part: SheetPart, title: str) -> dict[str, TableCell]:
    """Names and values of the pairs under a section, and first and last cell of table rows."""
    section = next(s for s in part.sections if s.title == title)
    out: dict[str, TableCell] = {}
    for block in section.blocks:
        if isinstance(block, Pairs):
            out |= dict(block.rows)
        if isinstance(block, TableBlock):
            out |= {row[0].text: row[1] for row in block.rows}
    return out


@pytest.mark.parametrize("verdict", load_table("verdict")["titles"])
@pytest.mark.parametrize("name", ["good", "bare"])
def test_no_verdict_makes_the_customer_pages_promise_anything(name: str, verdict: str) -> None:
    row = next(r for r in load_table("verdict")["rows"] if r["verdict"] == verdict)
    answers = {"root_cause": "open", "soot_model": "high", "one_hose": "no"}
    changed = with_verdict(record_of(name), state=verdict, row=row["id"], answers=answers)
    sheet = sheet_content(changed)
    text = to_text(sheet, 4000).lower()
    for word in FORBIDDEN:
        assert word not in text, word
    assert not PERCENT_CLEANED.search(text)
    shown = load_table("verdict")["titles"][verdict].partition(":")[0].lower()
    assert shown in to_text(sheet, 4000, "customer").lower()


def judge_of(record: JobRecord) -> Any:
    """The verdict of a record, judged again from its readings."""
    vehicle, _, workshop, _ = files()
    from steplatch.runner.core.reading_set import ReadingSet

    sets = [ReadingSet.from_json(v) for v in record.job.log.every("reading")]
    before = [s for s in sets if s.phase == "before"]
    after = [s for s in sets if s.phase == "after"]
    return judge(before, after, None, vehicle, workshop, {"filter_dry": "yes"})


def test_the_gain_stands_on_the_customers_page_with_its_range_and_its_limit() -> None:
    text = to_text(sheet_of("good"), 4000, "customer")
    found = judge_of(record_of("good"))
    assert f"{found.gain.percent:.0f} % more easily" in text
    assert f"between {found.gain.low_percent:.0f} and {found.gain.high_percent:.0f} %" in text
    assert f"up to {found.clean.today_high_mbar:.0f} mbar" in text
    assert found.clean.source in text
    assert "Flows as expected today" in text


def test_readings_that_were_never_taken_show_as_missing_in_every_part() -> None:
    sheet = sheet_of("bare")
    after = cells(sheet.customer, "Before and after")
    assert after["Shown, raised speed"] == TableCell("missing", missing=True)
    assert cells(sheet.agreement, "What was measured")["Raised engine speed"].missing
    rows = cells(sheet.technical, "Readings")
    assert rows["before, raised"].missing
    assert rows["after, zero"].missing
    assert not rows["before, idle"].missing


def test_a_quantity_that_the_vehicle_does_not_show_is_said_to_be_not_shown() -> None:
    table = next(
        b for s in sheet_of("bare").technical.sections if s.id == "t-readings"
        for b in s.blocks if isinstance(b, TableBlock)
    )  # fmt: skip
    idle = next(row for row in table.rows if row[0].text == "before, idle")
    air = idle[table.heads.index("Air")]
    assert air == TableCell("not shown", missing=True)


def test_a_reading_that_was_taken_again_stays_on_the_sheet_beside_the_one_that_counts() -> None:
    book = JobBook()
    until_agreed(book)
    book.read("before", "raised", "119 2475 40.1 209 86 shut")
    sheet = sheet_content(book.record(""))
    rows = cells(sheet.technical, "Readings")
    assert "118" in rows["before, raised (replaced by a later set)"].text
    assert "119" in rows["before, raised"].text


def test_erased_personal_data_shows_as_erased_and_the_roster_of_the_workshop_stays() -> None:
    sheet = sheet_of("bare")
    for name in ("Customer", "Registration", "Vehicle number ends"):
        assert cells(sheet.customer, "The result")[name] == TableCell("erased", missing=True)
    text = to_text(sheet, 4000)
    assert "Alex Example" not in text
    assert "Example Supervisor" in text


def test_the_agreement_page_of_a_finished_job_is_the_one_that_was_handed_over() -> None:
    book = JobBook()
    until_agreed(book)
    then = agreement_part(subject_of(book.record("")))
    fluid_and_drying(book)
    to_the_end(book)
    now = agreement_part(subject_of(book.record("finished")))
    assert now == then
    assert "2025-01-31" in str(now)


def test_before_the_second_yes_the_agreement_page_says_so() -> None:
    sheet = sheet_of("empty")
    assert "not given yet" in sheet.agreement.lead
    assert cells(sheet.agreement, "Price, and your two answers")["second yes: do the clean"].missing


def test_the_agreement_page_says_when_it_was_signed_and_that_no_fluid_had_gone_in() -> None:
    def handed(book: JobBook) -> TableCell:
        part = agreement_part(subject_of(book.record("")))
        return cells(part, "Price, and your two answers")["Handed over before fluid"]

    book = JobBook()
    until_agreed(book)
    signed = handed(book).text
    assert (
        signed == "signed by the customer 2025-01-31 14:10:45 +01:00; no fluid had gone in by then"
    )
    fluid_and_drying(book)
    book.sign("sign-agreed", "customer", "agreed")
    assert handed(book).text == signed  # what was signed after fluid counts for nothing


def test_a_signature_after_the_first_fluid_is_not_taken_for_one_before_it() -> None:
    book = JobBook()
    fluid_and_drying(book)
    book.sign("sign-agreed", "customer", "agreed")
    part = agreement_part(subject_of(book.record("")))
    handed = cells(part, "Price, and your two answers")["Handed over before fluid"]
    assert handed == TableCell("no signature before fluid is in the record", missing=True)


def test_a_job_that_was_not_cleaned_says_so_before_it_says_that_nothing_can_be_compared() -> None:
    book = JobBook()
    until_agreed(book)
    unsure = "We cannot say from today's readings whether it is better."
    vehicle, _, workshop, _ = files()
    found = judge([], [], None, vehicle, workshop, {}).to_json()
    book.step(
        "judge-triage", "read", Recorded("verdict", found, "judge-triage", procedure="sheet-test")
    )
    core = book.job.core
    dont = replace(book.job, core=replace(core, bay=replace(core.bay, triage=Triage.DONT)))
    why = "The findings speak against a clean. No fluid was used."
    for job, first in ((dont, why), (book.job, unsure)):
        part = sheet_content(replace(book.record("finished"), job=job)).customer
        box = next(b for s in part.sections for b in s.blocks if isinstance(b, VerdictBlock))
        assert box.sentences[0] == first


def test_a_signature_given_for_the_second_yes_is_not_counted_for_the_first() -> None:
    table = next(
        b for s in sheet_of("good").agreement.sections if s.id == "a-yes"
        for b in s.blocks if isinstance(b, TableBlock)
    )  # fmt: skip
    first, second = table.rows
    assert first[2] == TableCell("not recorded", missing=True)
    assert "signed by Alex Example" in second[2].text


def test_marks_say_practice_draft_and_abandoned_and_a_finished_job_has_none() -> None:
    assert sheet_of("good").marks == ()
    assert sheet_content(good_job(practice=True)).marks == (PRACTICE,)
    assert sheet_of("draft").marks == (PRACTICE, DRAFT)
    book = JobBook()
    assert sheet_content(book.record("abandoned")).marks == (ABANDONED,)


def test_every_spray_stands_in_the_dose_log_with_ledger_and_limit() -> None:
    section = next(s for s in sheet_of("good").technical.sections if s.id == "t-dose")
    log = next(b for b in section.blocks if isinstance(b, TableBlock) and "Dose" in b.caption)
    counted = [row[3].text for row in log.rows]
    assert counted == ["14.7 mL", "131.0 mL", "102.0 mL"]
    assert [row[4].text for row in log.rows] == ["14.7 mL", "145.7 mL", "247.7 mL"]
    assert log.rows[0][5].text.endswith("mL (strict)")
    assert log.rows[1][5].text.endswith("mL (running)")


def test_an_unknown_volume_makes_the_sum_unknown_instead_of_smaller() -> None:
    from steplatch.runner.sheet.fluid import sprays, total
    from steplatch.safety.bay import Act

    book = JobBook()
    until_agreed(book)
    book.spray("spray-running", Act.SPRAY_RUNNING, "31", 1310)
    book.spray("spray-running", Act.SPRAY_RUNNING, "?", None)
    subject = subject_of(book.record(""))
    assert total(sprays(subject), engine_off=False) is None
    assert "an unknown amount" in to_text(sheet_content(book.record("")), 4000, "customer")


def test_a_refusal_is_printed_with_its_reason_remedy_rule_and_source() -> None:
    text = to_text(sheet_of("good"), 4000, "technical")
    for words in ("spray-off-ledger", "Remedy:", "strict"):
        assert words in text


def test_trips_and_holds_are_printed_and_their_absence_is_said() -> None:
    draft = to_text(sheet_of("draft"), 4000, "technical")
    assert "TRIP latched: spill" in draft
    assert "held: stop" in draft
    assert "Trips, holds, interruptions: none." in to_text(sheet_of("good"), 4000, "technical")


def test_every_limit_is_printed_with_each_line_of_its_working_and_its_source() -> None:
    record = record_of("good")
    text = to_text(sheet_content(record), 4000, "listing")
    worked = [v for v in record.working.values() if isinstance(v, dict) and "lines" in v]
    assert len(worked) >= 9
    for limit in worked:
        assert limit["name"] in text
        assert limit["source"] in text
        for line in limit["lines"]:
            assert line in text


def test_every_step_that_was_worked_is_printed_with_answer_person_and_both_times() -> None:
    section = next(s for s in sheet_of("good").listing.sections if s.id == "t-steps")
    rows = [row for b in section.blocks if isinstance(b, TableBlock) for row in b.rows]
    assert len(rows) == sum(len(s.steps) for s in stages()) + 2  # two sprays more at idle
    for row in rows:
        assert row[1].text and row[2].text and row[3].text and row[4].text
    assert any("two of us until the end" in row[1].text for row in rows)


def stages() -> Any:
    """Stages of the short procedure."""
    return procedure().stages


def test_personal_answers_are_never_printed_from_the_journal() -> None:
    first, *others = stages()
    asked = first.steps[0].model_copy(update={"personal": True})
    stage = first.model_copy(update={"steps": (asked, *first.steps[1:])})
    personal = procedure().model_copy(update={"stages": (stage, *others)})
    record = replace(good_job(complaint="hash-of-the-value"), procedures={"sheet-test": personal})
    assert "hash-of-the-value" not in to_text(sheet_content(record), 4000)
    assert "kept apart from the record" in to_text(sheet_content(record), 4000)


def test_a_procedure_that_is_not_at_hand_leaves_its_steps_named_by_id() -> None:
    text = to_text(sheet_of("bare"), 4000, "listing")
    assert "is not at hand" in text
    assert "read-after-raised" in text


def test_the_head_hash_stands_in_short_groups_on_the_first_page() -> None:
    text = to_text(sheet_of("good"), 4000, "customer")
    assert "3f2a 91bc 3f2a 91bc 3f2a 91bc 3f2a 91bc" in text


def test_the_first_page_and_the_glance_answer_accountant_customer_and_adjudicator() -> None:
    sheet = sheet_of("good")
    first = to_text(sheet, 4000, "customer")
    for words in ("180.00, tax included", "2025-01-31", "Yellow lamp since Monday", "EXAMPLE 25"):
        assert words in first
    glance = cells(sheet.technical, "At a glance")
    for name in ("What was asked", "Price told", "Second yes", "Before and after alike", "Cause",
                 "Who did it", "Who checked it", "Audit"):  # fmt: skip
        assert not glance[name].missing, name


def test_who_did_the_work_is_never_named_as_the_one_who_checked_it() -> None:
    book = JobBook()
    until_agreed(book)
    book.sign("sign-fluid", "technician-1", "checked", who="same")
    glance = cells(sheet_content(book.record("")).technical, "At a glance")
    assert glance["Who checked it"] == TableCell("nobody", missing=True)


def test_the_sheet_of_a_poor_result_says_so_and_what_comes_next() -> None:
    text = to_text(sheet_of("poor"), 4000, "customer")
    assert "Not improved" in text
    assert "It will fill again" in text
    assert "Come back for a check by" in text


@pytest.mark.parametrize("name", EVERY_JOB)
def test_every_job_renders_in_every_part_and_width(name: str) -> None:
    sheet = sheet_of(name)
    for part in ("customer", "agreement", "technical", "listing", "all"):
        assert page_of(name, part)
    for width in (40, 80, 132):
        assert to_text(sheet, width)


def test_an_unknown_part_is_refused_with_the_names_that_exist() -> None:
    with pytest.raises(ValueError, match="customer, agreement, technical, listing"):
        to_html(sheet_of("empty"), "finances")


@pytest.mark.parametrize("name", EVERY_JOB)
def test_page_and_terminal_say_the_same(name: str) -> None:
    sheet = sheet_of(name)
    page = " ".join(Page(page_of(name)).words.split())
    terminal = " ".join(to_text(sheet, 4000).lower().split())
    for part in sheet.parts():
        for words in said_in(part):
            plain = " ".join(words.split())
            assert plain in page, words
            assert plain.lower() in terminal, words


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_in_the_terminal_is_wider_than_asked(width: int) -> None:
    from steplatch.runner.sheet.typed import cells_wide

    for line in to_text(sheet_of("good"), width).splitlines():
        assert cells_wide(line) <= width, line


def test_a_terminal_narrower_than_forty_columns_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 40 columns"):
        to_text(sheet_of("empty"), 39)


def test_the_return_date_counts_from_the_last_line_of_the_record() -> None:
    changed = with_verdict(record_of("good"), return_days=28, return_km=800)
    assert "by 2025-02-28 or within 800 km" in to_text(sheet_content(changed), 4000, "customer")


def test_records_and_readings_of_these_tests_are_what_the_engine_writes() -> None:
    record = record_of("good")
    assert BEFORE.keys() == AFTER.keys()
    for line in record.lines:
        for event in line.line.outcome["events"]:
            assert event == encode(decode_event(event))
    assert {r.name for r in record.job.log.records if isinstance(r, Recorded)} >= {
        "reading", "triage", "verdict", "plateau", "trend", "gun", "spray", "exhaust",
    }  # fmt: skip


def test_a_sensor_with_one_hose_gets_no_limit() -> None:
    changed = with_verdict(
        record_of("good"),
        answers={"root_cause": "mended", "soot_model": "unknown", "one_hose": "yes"},
    )
    text = to_text(sheet_content(changed), 4000, "customer")
    assert "no limit applies" in text
    assert "up to 29 mbar" not in text


def test_the_customer_is_told_what_went_wrong_on_the_way() -> None:
    assert set(INCIDENT) == set(Trip)
    text = to_text(sheet_of("draft"), 4000, "customer")
    assert "It happened meanwhile: fluid was spilled (not closed)." in text
    assert "happened meanwhile" not in to_text(sheet_of("good"), 4000, "customer")


def test_before_the_verdict_the_resistance_is_that_of_the_triage() -> None:
    row = cells(sheet_of("draft").customer, "Before and after")["At the same flow"]
    assert row.text.endswith("mbar") and not row.missing


@pytest.mark.parametrize("name", ["good", "poor"])
def test_the_customers_page_reads_as_it_was_reviewed(name: str) -> None:
    kept = (GOLDEN / f"{name}.txt").read_text(encoding="utf-8")
    assert to_text(sheet_of(name), 80, "customer") == kept, (
        "read the difference; if it is right: python -m tests.report.write_golden"
    )


def test_what_the_workshop_has_to_do_is_no_advice_to_the_customer() -> None:
    table = load_table("verdict")["rows"]
    for row in table:
        changed = with_verdict(record_of("good"), state=row["verdict"], row=row["id"],
                               codes=["P2463", "P2453"])  # fmt: skip
        sheet = sheet_content(changed)
        first, workshop = (to_text(sheet, 4000, part) for part in ("customer", "technical"))
        for to_do in (*row["to_do"], "the work itself can set these"):
            assert to_do.rstrip(".") not in first, (row["id"], to_do)
            assert to_do.rstrip(".").lower() in workshop.lower(), (row["id"], to_do)
        for advice in row["advice"]:
            assert advice.rstrip(".") in first, (row["id"], advice)
    assert sum(bool(row["to_do"]) for row in table) > 10


def test_a_number_that_stood_on_no_display_says_so_wherever_a_customer_reads_it() -> None:
    for name in ("good", "poor"):
        for part in ("customer", "agreement"):
            said = to_text(sheet_of(name), 4000, part)
            assert "at the same flow" in said.lower() and "on no display" in said, (name, part)


def test_the_workshops_address_stands_at_the_head_where_its_file_names_one() -> None:
    record = record_of("good")
    told = replace(record, labels={**record.labels, "address": "1 Test Lane, Exampleton"})
    for part in ("customer", "agreement", "technical"):
        assert "Address: 1 Test Lane, Exampleton" in to_text(sheet_content(told), 4000, part)
        assert "Address" not in to_text(sheet_of("good"), 4000, part)


def test_ash_is_told_to_the_customer_only_where_there_is_much_of_it() -> None:
    for state, told in (("high", True), ("low", False), ("unknown", False)):
        record = record_of("good")
        triage = record.job.log.latest("triage")
        assert triage is not None and triage["ash"]
        facts = {**triage["facts"], "ash_by_distance": state}
        changed = with_line(record, "triage", facts=facts)
        assert ("of oil use" in to_text(sheet_content(changed), 4000, "agreement")) is told
        assert "of oil use" in to_text(sheet_content(changed), 4000, "technical")
