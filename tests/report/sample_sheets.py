"""Invented jobs for the tests of the sheet: built event by event, judged by the real judges."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any

from steplatch.runner.assess.judge import judge
from steplatch.runner.assess.plateau import trend
from steplatch.runner.assess.triage import triage
from steplatch.runner.core.commands import Answer, Begin, Report
from steplatch.runner.core.events import Begun, Done, Ended, Held, Recorded, WentOn
from steplatch.runner.core.gun_entry import GunShots, parse_gun
from steplatch.runner.sheet.blocks import JobSheet, Picture
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.pdf_page import to_pdf
from steplatch.runner.sheet.record_view import JobRecord
from steplatch.safety.bay import Act, Agreed, Crew, Port, Tier, Trip, state_of
from steplatch.safety.kernel import Happened, Seen, Tripped
from steplatch.safety.occurrences import Happening

from tests.report.job_book import (
    AFTER,
    BEFORE,
    PEOPLE,
    PERSONAL,
    JobBook,
    files,
)


def until_agreed(book: JobBook, before: dict[str, str] = BEFORE, complaint: str = "") -> None:
    """Take in, before readings, triage, both yeses."""
    words = complaint or "Yellow lamp since Monday, no power uphill. It does mostly short trips."
    book.ask("ask-complaint", "complaint", {"text": words}, words)
    book.ask(
        "ask-distance", "distance",
        {"typed": "148000 km", "quantity": "distance", "km": "148000"}, "148000 km",
    )  # fmt: skip
    book.look("look-crew", "crew", Crew.PAIR.value)
    book.look("look-measure", "agreed", Agreed.MEASURE.value)
    codes = "P2463 soot accumulation, stored; freeze frame saved"
    book.ask("ask-codes", "codes_stored", {"text": codes}, codes)
    for condition, typed in before.items():
        book.read("before", condition, typed)
    cause = "split boost hose: too much fuel, too little air"
    book.ask("ask-cause-text", "root_cause_text", {"text": cause}, cause)
    book.ask("ask-cause", "root_cause", {"choice": "mended"}, "mended")
    vehicle, _, workshop, _ = files()
    found = triage(
        book.sets("before"), vehicle, workshop,
        {"codes": ["P2463"], "line_test": "ok", "oil_level": "ok", "root_cause": "mended",
         "fuel": "diesel", "core_condition": "no_sign", "distance_km": 148000, "duty": "town",
         "age_years": 7, "coating": "approved", "oil_or_coolant_in_filter": "no",
         "burning": "no", "soot_model": "high"},
    )  # fmt: skip
    plain = found.to_json()
    state = "go" if found.decision.startswith("go") else "dont"
    book.step(
        "judge-triage", "read",
        Recorded("triage", {**plain, "state": state}, "judge-triage", procedure="sheet-test"),
        Seen("triage", state_of("triage", state)),
    )  # fmt: skip
    book.ask("ask-price", "price", {"text": "180.00, tax included"}, "180.00, tax included")
    book.look("look-clean", "agreed", Agreed.CLEAN.value)
    book.sign("sign-agreed", "customer", "agreed")


def fluid_and_drying(book: JobBook, falls_to: float = 25.0) -> None:
    """Gun, one burst with the engine off, two sprays at idle, drying."""
    shots = parse_gun("19 20 21 mL in 5 s", 0.5)
    assert isinstance(shots, GunShots)
    book.step("gun-step", "19 20 21 mL in 5 s",
              Recorded("gun", shots.to_json(), "gun-step", procedure="sheet-test"),
              Happened(Happening.RATE_MEASURED))  # fmt: skip
    book.sign("sign-fluid", "supervisor-1", "checked")
    book.step(
        "temperature-step", "62",
        Recorded("exhaust", {"typed": "62", "k": "335.15", "at_ms": book.ms, "class": "cool"},
                 "temperature-step", procedure="sheet-test"),
        Seen("port", Port.COOL), Seen("arrival", state_of("arrival", "dry")),
        Seen("tier", Tier.STRICT),
    )  # fmt: skip
    book.line(
        Begin("spray-off", "9"),
        refused=(
            {"interlock": "spray-off-ledger", "about": {}},
        ),
    )  # fmt: skip
    book.spray("spray-off", Act.SPRAY_OFF, "3", 147)
    book.spray("spray-running", Act.SPRAY_RUNNING, "31", 1310)
    book.spray("spray-running", Act.SPRAY_RUNNING, "24", 1020)
    book.step("spray-running", "done")
    book.line(
        Begin("hold-dry"),
        Begun("hold-dry", procedure="sheet-test"),
        Happened(Happening.RUN_ON_BEGUN),
    )
    points = []
    for minute in range(9):
        value = falls_to + 18 * 2.718281828 ** (-minute / 1.6)
        book.line(
            Answer("hold-dry", f"{value:.1f}"),
            Recorded("trend", {"at_ms": book.ms, "typed": f"{value:.1f}",
                               "pa": repr(value * 100)}, "hold-dry", procedure="sheet-test"),
            seconds=60,
        )  # fmt: skip
        points.append((book.ms / 1000, value * 100))
    plateau = trend(points).to_json()
    book.line(
        Answer("hold-dry", "done"), Happened(Happening.RUN_ON_DUE),
        Recorded("plateau", plateau, "hold-dry", procedure="sheet-test"),
        Done("hold-dry", "done", book.who, procedure="sheet-test"), *book._next("hold-dry"),
    )  # fmt: skip


def to_the_end(book: JobBook, after: dict[str, str] = AFTER, **facts: Any) -> None:
    """After readings, codes, waste, verdict, release, hand-over."""
    for condition, typed in after.items():
        book.read("after", condition, typed)
    book.step("clear-codes", "codes_cleared", Happened(Happening.CODES_CLEARED))
    book.ask("ask-codes-after", "codes_after", {"text": "none stored"}, "none stored")
    waste = "2 L wash water in the marked drum, 16 10 01*"
    book.ask("ask-waste", "waste", {"text": waste}, waste)
    vehicle, _, workshop, _ = files()
    known = {"codes": ["P2463"], "root_cause": "mended", "filter_dry": "yes",
             "plateau": "levelled", "hose_clear": "yes", "core_condition": "no_sign",
             "distance_km": 148000, **facts}  # fmt: skip
    found = judge(book.sets("before"), book.sets("after"), None, vehicle, workshop, known)
    book.step(
        "judge-verdict",
        "read",
        Recorded("verdict", found.to_json(), "judge-verdict", procedure="sheet-test"),
    )
    book.sign("sign-release", "supervisor-1", "released")
    book.step("end-step", "handed_over", Ended("finished"))


def good_job(practice: bool = False, complaint: str = "", **changes: Any) -> JobRecord:
    """Before high, after as expected: a finished job."""
    book = JobBook(practice)
    until_agreed(book, complaint=complaint)
    fluid_and_drying(book)
    to_the_end(book)
    return book.record("finished", **changes)


def poor_job() -> JobRecord:
    """Ash: no gain beyond what the readings show; finished."""
    book = JobBook()
    until_agreed(book)
    fluid_and_drying(book, falls_to=112)
    to_the_end(book, {"raised": "114 2490 40.2 210 88 shut", "idle": "26.5 820 9.0 168 87 open",
                      "zero": "0.6 0 x 148 86 shut"}, root_cause="open")  # fmt: skip
    return book.record("finished")


def bare_job() -> JobRecord:
    """No raised "before", no air flow, no zero after, personal data erased, no labels."""
    book = JobBook()
    until_agreed(book, {"idle": "27 820 x x 86 x", "zero": "0.5 0 x x 85 x"})
    fluid_and_drying(book)
    to_the_end(book, {"raised": "44 2490 x x 88 x", "idle": "10.5 820 x x 87 x"})
    return book.record(
        "finished", personal=dict.fromkeys(PERSONAL, "erased"), labels={}, audit="",
        procedures={},
    )  # fmt: skip


def draft_job(practice: bool = True) -> JobRecord:
    """Stands after the second yes; a hold and a trip on the way."""
    book = JobBook(practice)
    until_agreed(book)
    book.line(Report("stop"), Held("stop"))
    book.line(Begin("go"), WentOn())
    book.line(Report("spilled"), Happened(Happening.SPILLED), Tripped(Trip.SPILL))
    return book.record("")


def empty_job() -> JobRecord:
    """Opened, and nothing more."""
    return JobBook().record("")


EVERY_JOB: dict[str, Callable[[], JobRecord]] = {
    "good": good_job,
    "poor": poor_job,
    "bare": bare_job,
    "draft": draft_job,
    "empty": empty_job,
}
"""Every invented job by name."""


@cache
def record_of(name: str) -> JobRecord:
    """The record of an invented job; also "hostile" and "wordy"."""
    if name == "wordy":
        return hostile_job("wholly ordinary words in a row " * 60)
    return hostile_job() if name == "hostile" else EVERY_JOB[name]()


@cache
def sheet_of(name: str) -> JobSheet:
    """The sheet of an invented job."""
    return sheet_content(record_of(name))


def pictures_of(name: str) -> Iterator[Picture]:
    """Every picture on the sheet of an invented job."""
    for part in sheet_of(name).parts():
        for section in part.sections:
            yield from (block for block in section.blocks if isinstance(block, Picture))


@cache
def page_of(name: str, part: str = "all") -> str:
    """The page of an invented job."""
    return to_html(sheet_of(name), part)


@cache
def pdf_of(name: str, part: str = "all") -> bytes:
    """The PDF of an invented job."""
    return to_pdf(sheet_of(name), part)


HOSTILE = (
    "<script>alert('x')</script><b>bold</b> &amp; {{ 7*7 }} {% raw %} "
    '#import "x.typ": * #panic("no") $ x^2 $ *strong* _emph_ `raw` @ref <label> \\ ~ -- --- // /* '
    "]]> --> \"'; } body{display:none} url(http://example.invalid/x) "
    "\x1b[31mred\x07\r\n\u202egnirts\u2066 \u200b\ufeff\ud800 "
    "z\u0300\u0301\u0302\u0303\u0304\u0305\u0306\u0307algo שלום مرحبا 漢字 😀 "
)
"""Markup of every kind, control characters, marks of direction, half a pair, many scripts."""
LONG_WORD = "Donaudampfschiff" * 40


def hostile_job(words: str = HOSTILE + LONG_WORD) -> JobRecord:
    """Every text that a person or a file can give holds ``words``."""
    book = JobBook()
    book.job = replace(
        book.job, log=replace(book.job.log, people=tuple({**p, "name": words} for p in PEOPLE))
    )
    until_agreed(book, complaint=words)
    for step, name in (("ask-codes", "codes_stored"), ("ask-cause-text", "root_cause_text"),
                       ("ask-price", "price"), ("ask-waste", "waste"), ("x", "alternatives"),
                       ("y", "warning"), ("z", "advice"), ("r", "return_date"),
                       ("l", "line_name"), ("h", "agreed_how"),
                       ("n", "a name\nwith a line")):  # fmt: skip
        book.line(
            Answer(step, words), Recorded(name, {"text": words}, step, procedure="sheet-test")
        )
    book.look("look-clean", "agreed", Agreed.CLEAN.value)
    fluid_and_drying(book)
    book.line(Report("stop"), Held(words))
    book.line(
        Answer("x", words),
        refused=({"interlock": words, "about": {words: words}},),
    )
    for _ in range(9):
        book.sign("sign-fluid", words, "checked")
    to_the_end(book)
    return book.record(
        "finished",
        personal=dict.fromkeys(PERSONAL, words),
        labels=dict.fromkeys(("vehicle", "fluid", "gun", "workshop"), words),
        audit=words,
        program=words,
    )


def with_verdict(record: JobRecord, **changes: Any) -> JobRecord:
    """The record with its verdict line changed."""
    return with_line(record, "verdict", **changes)


def with_line(record: JobRecord, name: str, **changes: Any) -> JobRecord:
    """The record with what it recorded under a name changed."""
    lines = []
    for line in record.lines:
        events = tuple(
            replace(e, value={**e.value, **changes})
            if isinstance(e, Recorded) and e.name == name
            else e
            for e in line.events
        )
        lines.append(replace(line, events=events))
    return replace(record, lines=lines)
