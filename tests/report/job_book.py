"""Builds one invented job line by line, event by event, for the tests of the sheet."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from steplatch.runner.core.clock import Times
from steplatch.runner.core.codec import encode
from steplatch.runner.core.commands import Answer, Begin, Command, Look, Open, Report, Sign
from steplatch.runner.core.events import (
    Begun,
    Done,
    Event,
    LimitsSet,
    Moved,
    Opened,
    Recorded,
    Signed,
    Ticked,
)
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.loading import load_kept
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.runner.jobs.projection import TypedLine
from steplatch.runner.record import Header, JournalLine
from steplatch.runner.record.line import Envelope
from steplatch.runner.sheet.record_view import JobRecord
from steplatch.runner.workshop.files import load_fluid, load_gun, load_vehicle, load_workshop
from steplatch.safety.bay import Act, state_of
from steplatch.safety.kernel import Granted, Happened, Seen
from steplatch.safety.limits.worked import to_json, work_limits
from steplatch.safety.occurrences import Happening

WORKSHOP = Path(__file__).parents[2] / "examples" / "workshop"
START = datetime(2025, 1, 31, 13, 0, tzinfo=UTC)
PEOPLE = (
    {"id": "apprentice-1", "name": "Example Apprentice", "role": "apprentice", "under_18": True},
    {"id": "technician-1", "name": "Example Technician", "role": "technician", "under_18": False},
    {"id": "supervisor-1", "name": "Example Supervisor", "role": "supervisor", "under_18": False},
)
HEADER = Header("sheet-test", "1", "", "steplatch 0.1.0", "", "", "")
PERSONAL = {
    "customer_name": "Alex Example",
    "contact": "example number 1",
    "registration": "EXAMPLE 25",
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
    return load_kept(Path(__file__).parent / "sheet_procedure.yaml")[0]


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
        self.lines: list[TypedLine] = []
        self.ms = 0
        self.who = who
        self.line(
            Open(practice, PEOPLE, {}),
            Opened(practice, PEOPLE, {"vehicle": "ab" * 32, "procedure": "cd" * 32}),
            Moved("ask-complaint", "sheet-test", "open"),
        )
        vehicle, fluid, workshop, gun = files()
        worked = work_limits(vehicle, fluid, workshop, gun)
        self.working = to_json(worked)
        doses = worked.kernel_dml()
        self.line(
            Begin("limits"),
            LimitsSet(
                doses.strict_dml,
                doses.extended_dml,
                doses.running_dml,
                {"rev_ceiling_rpm": "2500", "reaction_ms": "500"},
                {"vehicle": "ab" * 32, "gun": "ef" * 32},
            ),
        )

    def line(
        self,
        command: Command,
        *events: Event,
        seconds: float = 20,
        who: str = "",
        refused: tuple[dict[str, Any], ...] = (),
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
        outcome = {"events": [encode(e) for e in every], "refused": list(refused)}
        seq = len(self.lines) + 1
        envelope = Envelope("", 1, "2025-01-31-a7k2", seq, times, who, role, HEADER)
        written = JournalLine(envelope, encode(command), outcome, "")
        self.lines.append(TypedLine(written, every))

    def step(self, step: str, answer: str, *events: Event, seconds: float = 40) -> None:
        """Begin a step, answer it, move to the one that follows."""
        self.line(Begin(step), Begun(step, procedure="sheet-test"), seconds=5)
        self.line(
            Answer(step, answer), *events,
            Done(step, answer, self.who, procedure="sheet-test"), *self._next(step),
            seconds=seconds,
        )  # fmt: skip

    def ask(self, step: str, name: str, value: dict[str, Any], answer: str) -> None:
        """Answer an ``ask`` step."""
        self.step(step, answer, Recorded(name, value, step, procedure="sheet-test"))

    def look(self, step: str, fact: str, state: str) -> None:
        """Answer a ``look`` step."""
        self.line(Begin(step), Begun(step, procedure="sheet-test"), seconds=5)
        self.line(
            Look(fact, state), Seen(fact, state_of(fact, state)),
            Done(step, state, self.who, procedure="sheet-test"), *self._next(step),
        )  # fmt: skip

    def sign(self, step: str, person: str, meaning: str, who: str = "other") -> None:
        """Sign a step."""
        role = {str(p["id"]): str(p["role"]) for p in PEOPLE}.get(person, "customer")
        self.line(Begin(step), Begun(step, procedure="sheet-test"), seconds=5)
        self.line(
            Sign(step, person),
            Signed(step, person, role, meaning, who, (), procedure="sheet-test"),
            Done(step, person, "", procedure="sheet-test"), *self._next(step), seconds=15,
        )  # fmt: skip

    def read(self, phase: str, condition: str, typed: str, step: str = "") -> None:
        """Take a set of readings."""
        step = step or f"read-{phase}-{condition}"
        one = parse_set(
            typed, condition, phase, line_name="exhaust differential pressure",  # type: ignore[arg-type]
            burning=False, by=self.who,
        )  # fmt: skip
        self.step(
            step,
            typed,
            Recorded("reading", one.to_json(), step, procedure="sheet-test"),
            seconds=60,
        )

    def sets(self, phase: str) -> list[ReadingSet]:
        """The sets of one phase so far."""
        every = [ReadingSet.from_json(v) for v in self.job.log.every("reading")]
        return [s for s in every if s.phase == phase]

    def spray(self, step: str, act: Act, seconds: str, counted: int | None) -> None:
        """One spray and its report."""
        self.line(
            Begin(step, seconds),
            Begun(step, procedure="sheet-test"),
            Granted(act, counted or 1),
            seconds=5,
        )
        what = Happening.SPRAY_ENDED
        happened = Happened(what, counted)
        bay = evolve(self.job, happened).bay
        record = Recorded(
            "spray",
            {"act": act.value, "what": what.value, "seconds": seconds,
             "reserved_dml": self.job.bay.reserved, "wet_dml": bay.wet},
            step, procedure="sheet-test",
        )  # fmt: skip
        moved = (
            (Moved(step, "sheet-test", "again"),)
            if act is Act.SPRAY_RUNNING
            else (Done(step, what.value, self.who, procedure="sheet-test"), *self._next(step))
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
            judge_sha256="4e5f6a7b" * 8,
            audit="chain intact, 0 of the recorded decisions differ",
            labels={
                "vehicle": "example van, 2.0 L four-cylinder",
                "fluid": "example aqueous cleaner",
                "gun": "example pressure gun, one litre bottle",
                "workshop": "example workshop",
            },
            working=self.working,
        )
        return replace(given, **changes)
