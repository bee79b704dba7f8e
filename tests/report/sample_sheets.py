"""Invented jobs for the tests of the sheet: built event by event, judged by the real judges."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from runner.assess.judge import judge
from runner.assess.plateau import trend
from runner.assess.triage import triage
from runner.clock import Times
from runner.commands import Answer, Begin, Command, Look, Open, Report, Sign
from runner.files import load_fluid, load_gun, load_vehicle, load_workshop
from runner.gun_entry import GunShots, parse_gun
from runner.job import (
    Begun,
    Done,
    Ended,
    Event,
    Held,
    Job,
    LimitsSet,
    Moved,
    Opened,
    Recorded,
    Signed,
    Ticked,
    WentOn,
    evolve,
)
from runner.procedure import Procedure, load_procedure
from runner.readings.entry import parse_set
from runner.readings.model import ReadingSet
from runner.report import JobRecord, RecordLine, sheet_content, to_html, to_pdf
from runner.report.blocks import Sheet
from runner.wire import encode
from safety.bay import Act, Agreed, Crew, Port, Tier, Trip, state_of
from safety.happenings import Happening
from safety.kernel import Granted, Happened, Seen, Tripped
from safety.limits.worked import to_json, work_limits

WORKSHOP = Path(__file__).parents[2] / "examples" / "workshop"
START = datetime(2025, 1, 31, 13, 0, tzinfo=UTC)
PEOPLE = (
    {"id": "apprentice-1", "name": "Example Apprentice", "role": "apprentice", "under_18": True},
    {"id": "technician-1", "name": "Example Technician", "role": "technician", "under_18": False},
    {"id": "supervisor-1", "name": "Example Supervisor", "role": "supervisor", "under_18": False},
)
PERSONAL = {
    "customer_name": "Alex Example",
    "contact": "01234 567890",
    "registration": "EX25 AMP",
    "vin_tail": "A1B2C3",
}

BEFORE = {
    "raised": "118 2480 40.0 208 86 shut",
    "idle": "27 820 9.0 170 86 open",
    "zero": "0.5 0 x 150 85 shut",
}
AFTER = {
    "raised": "24 2490 40.5 212 88 shut",
    "idle": "6.0 820 9.1 168 87 open",
    "zero": "0.6 0 x 148 86 shut",
}


@cache
def procedure() -> Procedure:
    """The short procedure of these tests."""
    return load_procedure(Path(__file__).parent / "sheet_procedure.yaml")[0]


@cache
def files() -> tuple[Any, Any, Any, Any]:
    """The example vehicle, fluid, workshop and gun."""
    return (
        load_vehicle(WORKSHOP / "vehicle.yaml")[0],
        load_fluid(WORKSHOP / "fluid.yaml")[0],
        load_workshop(WORKSHOP / "workshop.yaml")[0],
        load_gun(WORKSHOP / "gun.yaml")[0],
    )


class JobBook:
    """Builds one job line by line: every line moves the clock and the job."""

    def __init__(self, practice: bool = False, who: str = "technician-1") -> None:
        """Open a job at the first step of the short procedure."""
        self.job = Job()
        self.lines: list[RecordLine] = []
        self.ms = 0
        self.who = who
        self.line(
            Open(practice, PEOPLE, {}),
            Opened(practice, PEOPLE, {"vehicle": "ab" * 32, "procedure": "cd" * 32}),
            Moved("ask-complaint", "sheet-test", "open"),
        )
        vehicle, fluid, workshop, gun = files()
        worked = work_limits(vehicle, fluid, workshop, gun)
        doses = worked.kernel_dml()
        self.line(
            Begin("limits"),
            LimitsSet(
                doses.strict_dml,
                doses.extended_dml,
                doses.running_dml,
                {"rev_ceiling_rpm": "2500.0", "reaction_s": "0.5"},
                to_json(worked),
                {"vehicle": "ab" * 32, "gun": "ef" * 32},
            ),
        )

    def line(
        self,
        command: Command,
        *events: Event,
        seconds: float = 20,
        who: str = "",
        refused: tuple[dict[str, str], ...] = (),
    ) -> None:
        """One journal line of one command and what it led to."""
        self.ms += int(seconds * 1000)
        at = START + timedelta(milliseconds=self.ms)
        times = Times(
            at.strftime("%Y-%m-%dT%H:%M:%S.") + "417Z", "+01:00", self.ms, self.ms, "boot-1"
        )
        every = (Ticked(times, self.ms, self.ms), *events)
        for event in every:
            self.job = evolve(self.job, event)
        who = who or self.who
        role = {str(p["id"]): str(p["role"]) for p in PEOPLE}.get(who, "customer")
        self.lines.append(
            RecordLine(
                len(self.lines) + 1,
                times.utc,
                times.zone,
                who,
                role,
                encode(command),
                {"events": [encode(e) for e in every], "refused": list(refused)},
            )
        )

    def step(self, step: str, answer: str, *events: Event, seconds: float = 40) -> None:
        """Begin a step, answer it, move to the one that follows."""
        self.line(Begin(step), Begun(step), seconds=5)
        self.line(
            Answer(step, answer), *events, Done(step, answer, self.who), *self._next(step),
            seconds=seconds,
        )  # fmt: skip

    def ask(self, step: str, name: str, value: dict[str, Any], answer: str) -> None:
        """Answer an ``ask`` step."""
        self.step(step, answer, Recorded(name, value, step))

    def look(self, step: str, fact: str, state: str) -> None:
        """Answer a ``look`` step."""
        self.line(Begin(step), Begun(step), seconds=5)
        self.line(
            Look(fact, state), Seen(fact, state_of(fact, state)), Done(step, state, self.who),
            *self._next(step),
        )  # fmt: skip

    def sign(self, step: str, person: str, meaning: str, who: str = "other") -> None:
        """Sign a step."""
        role = {str(p["id"]): str(p["role"]) for p in PEOPLE}.get(person, "customer")
        self.line(Begin(step), Begun(step), seconds=5)
        self.line(
            Sign(step, person), Signed(step, person, role, meaning, who, ()),
            Done(step, person, ""), *self._next(step), seconds=15,
        )  # fmt: skip

    def read(self, phase: str, condition: str, typed: str, step: str = "") -> None:
        """Take a set of readings."""
        step = step or f"read-{phase}-{condition}"
        one = parse_set(
            typed, condition, phase, line_name="exhaust differential pressure",  # type: ignore[arg-type]
            burning=False, by=self.who,
        )  # fmt: skip
        self.step(step, typed, Recorded("reading", one.to_json(), step), seconds=60)

    def sets(self, phase: str) -> list[ReadingSet]:
        """The sets of one phase so far."""
        every = [ReadingSet.from_json(v) for v in self.job.log.every("reading")]
        return [s for s in every if s.phase == phase]

    def spray(self, step: str, act: Act, seconds: str, counted: int | None) -> None:
        """One spray and its report."""
        self.line(Begin(step, seconds), Begun(step), Granted(act, counted or 1), seconds=5)
        what = Happening.SPRAY_ENDED
        happened = Happened(what, counted)
        bay = evolve(self.job, happened).bay
        record = Recorded(
            "spray",
            {"act": act.value, "what": what.value, "seconds": seconds,
             "reserved_dml": self.job.bay.reserved, "wet_dml": bay.wet},
            step,
        )  # fmt: skip
        moved = (
            (Moved(step, "sheet-test", "again"),)
            if act is Act.SPRAY_RUNNING
            else (Done(step, what.value, self.who), *self._next(step))
        )
        self.line(Report(what.value, seconds), happened, record, *moved, seconds=12)

    def _next(self, step: str) -> tuple[Event, ...]:
        ids = [s.id for s in procedure().steps()]
        place = ids.index(step) + 1
        return (Moved(ids[place], "sheet-test"),) if place < len(ids) else ()

    def record(self, ended: str = "", **changes: Any) -> JobRecord:
        """The finished record."""
        given = JobRecord(
            job=self.job,
            procedures={"sheet-test": procedure()},
            lines=self.lines,
            head_hash="3f2a91bc" * 8,
            line_count=len(self.lines),
            job_id="2025-01-31-a7k2",
            personal=PERSONAL,
            practice=self.job.log.practice,
            ended=ended,
            program="steplatch 0.1.0",
            rules_sha256="0a1b2c3d" * 8,
            audit="chain intact, 0 of the recorded decisions differ",
            labels={
                "vehicle": "example van, 2.0 L four-cylinder",
                "fluid": "example aqueous cleaner",
                "gun": "example pressure gun, one litre bottle",
                "workshop": "example workshop",
            },
        )
        return replace(given, **changes)


def until_agreed(book: JobBook, before: dict[str, str] = BEFORE, complaint: str = "") -> None:
    """Take in, before readings, triage, both yeses."""
    words = complaint or "Yellow lamp since Monday, no power uphill. It does mostly short trips."
    book.ask("ask-complaint", "complaint", {"text": words}, words)
    book.ask(
        "ask-distance", "distance",
        {"typed": "148000 km", "si": "148000000.0", "echo": "148000 km"}, "148000 km",
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
    plain = _plain(found.to_json())
    state = "go" if found.decision.startswith("go") else "dont"
    book.step(
        "judge-triage", "read",
        Recorded("triage", {**plain, "state": state}, "judge-triage"),
        Seen("triage", state_of("triage", state)),
    )  # fmt: skip
    book.ask("ask-price", "price", {"text": "180.00, tax included"}, "180.00, tax included")
    book.look("look-clean", "agreed", Agreed.CLEAN.value)
    book.sign("sign-agreed", "customer", "agreed")


def _plain(value: Any) -> Any:
    """What the journal gives back: numbers as text, sequences as lists."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return repr(value) if isinstance(value, float) else value


def fluid_and_drying(book: JobBook, falls_to: float = 25.0) -> None:
    """Gun, one burst with the engine off, two sprays at idle, drying."""
    shots = parse_gun("19 20 21 mL in 5 s", 0.5)
    assert isinstance(shots, GunShots)
    book.step("gun", "19 20 21 mL in 5 s", Recorded("gun", shots.to_json(), "gun"),
              Happened(Happening.RATE_MEASURED))  # fmt: skip
    book.sign("sign-fluid", "supervisor-1", "checked")
    book.step(
        "temperature", "62",
        Recorded("exhaust", {"typed": "62", "si": "335.15", "at_ms": book.ms, "class": "cool"},
                 "temperature"),
        Seen("port", Port.COOL), Seen("arrival", state_of("arrival", "dry")),
        Seen("tier", Tier.STRICT),
    )  # fmt: skip
    book.line(
        Begin("spray-off", "9"),
        refused=(
            {"interlock": "dose-strict", "reason": "9 s would put in more than the strict limit.",
             "remedy": "Ask for 3 s or less.", "source": "worked limit, strict"},
        ),
    )  # fmt: skip
    book.spray("spray-off", Act.SPRAY_OFF, "3", 147)
    book.spray("spray-running", Act.SPRAY_RUNNING, "31", 1310)
    book.spray("spray-running", Act.SPRAY_RUNNING, "24", 1020)
    book.step("spray-running", "done")
    book.line(Begin("hold-dry"), Begun("hold-dry"), Happened(Happening.RUN_ON_BEGUN))
    points = []
    for minute in range(9):
        value = falls_to + 18 * 2.718281828 ** (-minute / 1.6)
        book.line(
            Answer("hold-dry", f"{value:.1f}"),
            Recorded("trend", {"at_ms": book.ms, "typed": f"{value:.1f}",
                               "si": repr(value * 100)}, "hold-dry"),
            seconds=60,
        )  # fmt: skip
        points.append((book.ms / 1000, value * 100))
    found = trend(points)
    plateau = {"state": found.state, "text": found.text(), "minutes_to_go": None}
    book.line(
        Answer("hold-dry", "done"), Happened(Happening.RUN_ON_DUE),
        Recorded("plateau", plateau, "hold-dry"),
        Done("hold-dry", "done", book.who), *book._next("hold-dry"),
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
    verdict = {**_plain(found.to_json()), "state": found.id}
    book.step("judge-verdict", "read", Recorded("verdict", verdict, "judge-verdict"))
    book.sign("sign-release", "supervisor-1", "released")
    book.step("end", "handed_over", Ended("finished"))


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
def sheet_of(name: str) -> Sheet:
    """The sheet of an invented job."""
    return sheet_content(record_of(name))


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
        book.line(Answer(step, words), Recorded(name, {"text": words}, step))
    book.look("look-clean", "agreed", Agreed.CLEAN.value)
    fluid_and_drying(book)
    book.line(Report("stop"), Held(words))
    book.line(
        Answer("x", words),
        refused=({"interlock": words, "reason": words, "remedy": words, "source": words},),
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
