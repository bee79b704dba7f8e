"""What the job book answers over many jobs: ten questions, each one SQL text for both databases.

No question asks about a person, and none puts people in an order. A count stands beside every
share, the share has its exact interval, and small numbers say that they are small.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from steplatch.safety.catalogue import _

from .csv_cells import CsvValue, to_csv
from .digest import JobRow
from .intervals import FEW, exact_interval

WITHIN_DAYS: Final = 365
SUCCESS: Final = "as_expected"
"""The verdict that counts as success: flows as expected today."""

SCHEMA: Final = """
CREATE TABLE job_fact (
    id TEXT PRIMARY KEY, kind TEXT NOT NULL, state TEXT NOT NULL, day INTEGER NOT NULL,
    month TEXT NOT NULL, procedure TEXT NOT NULL, car TEXT NOT NULL, triage TEXT NOT NULL,
    verdict TEXT NOT NULL, gain_tenths INTEGER, km INTEGER, duty TEXT NOT NULL,
    fluid_tenths INTEGER NOT NULL, back_days INTEGER, bay TEXT NOT NULL DEFAULT '');
CREATE TABLE stumble (
    id TEXT NOT NULL, kind TEXT NOT NULL, what TEXT NOT NULL, procedure TEXT NOT NULL,
    step TEXT NOT NULL, name TEXT NOT NULL, times INTEGER NOT NULL, bay TEXT NOT NULL DEFAULT '',
    PRIMARY KEY (id, what, procedure, step, name));
CREATE INDEX job_car ON job_fact (car, day, id);
CREATE TABLE tally (
    bay TEXT NOT NULL, kind TEXT NOT NULL, question TEXT NOT NULL, a TEXT NOT NULL, b TEXT NOT NULL,
    c TEXT NOT NULL, jobs BIGINT NOT NULL, part BIGINT NOT NULL, early BIGINT NOT NULL,
    total BIGINT NOT NULL, squares BIGINT NOT NULL, PRIMARY KEY (kind, question, a, b, c, bay));
"""
BEGUN: Final = "ALTER TABLE job_fact ADD COLUMN begun TEXT NOT NULL DEFAULT ''"
"""Tables in words that SQLite and PostgreSQL share, and what was added later: ``begun`` (UTC), by
which jobs of one day stand in the order in which they were begun. ``back_days``: days until the
same car came back, from one job to its next. ``tally`` is kept by triggers, so that no question
reads a million jobs; its numbers are whole (tenths of a percent or of a mL): taking a job out is
exact."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What one row adds to the tally, as SQL over the row ``R``."""

    question: str
    where: str
    a: str
    b: str = "''"
    c: str = "''"
    part: str = "0"
    early: str = "0"
    total: str = "0"
    squares: str = "0"

    def values(self, row: str, sign: str = "") -> str:
        """The values of a line of the tally for this ``row``, or its opposite."""
        counted = ("1", self.part, self.early, self.total, self.squares)
        keys = ("R.bay", "R.kind", self.question, self.a, self.b, self.c)
        text = ", ".join((*keys, *(f"{sign}({one})" for one in counted)))
        return text.replace("R.", f"{row}.")

    def added(self, row: str, sign: str = "") -> str:
        """A statement that adds a row's values to the tally, or with ``-`` takes them out."""
        return (
            f"INSERT INTO tally SELECT {self.values(row, sign)} "
            f"WHERE {self.where.replace('R.', f'{row}.')} "
            "ON CONFLICT (kind, question, a, b, c, bay) DO UPDATE SET "
            "jobs = tally.jobs + excluded.jobs, part = tally.part + excluded.part, "
            "early = tally.early + excluded.early, total = tally.total + excluded.total, "
            "squares = tally.squares + excluded.squares"
        )

    def rebuilt(self, table: str) -> str:
        """A statement that fills its part of an empty tally from all rows."""
        counted = (self.part, self.early, self.total, self.squares)
        keys = f"R.bay, R.kind, {self.question}, {self.a}, {self.b}, {self.c}"
        sums = ", ".join(f"sum({one})" for one in counted)
        return (
            f"INSERT INTO tally SELECT {keys}, count(*), {sums} FROM {table} R "
            f"WHERE {self.where} GROUP BY 1, 2, 3, 4, 5, 6"
        )


_GOOD: Final = f"CASE WHEN R.verdict = '{SUCCESS}' THEN 1 ELSE 0 END"
_JUDGED: Final = "R.verdict <> ''"
_GAIN: Final = {"where": "R.gain_tenths IS NOT NULL", "total": "R.gain_tenths",
                "squares": "R.gain_tenths * R.gain_tenths"}  # fmt: skip
_BACK: Final = f"CASE WHEN R.back_days <= {WITHIN_DAYS} THEN"
JOB_CELLS: Final = (
    Cell("'returns'", "R.car <> '' AND R.verdict <> ''", "R.verdict", part=f"{_BACK} 1 ELSE 0 END",
         early="CASE WHEN R.back_days <= 90 THEN 1 ELSE 0 END",
         total=f"{_BACK} R.back_days ELSE 0 END"),
    Cell("'success-triage'", _JUDGED, "R.triage", part=_GOOD),
    Cell("'success-procedure'", _JUDGED, "R.procedure", part=_GOOD),
    Cell("'verdicts'", _JUDGED, "R.verdict"),
    Cell("'gain-distance'", a="CAST(coalesce((R.km / 50000) * 50000, -1) AS TEXT)", **_GAIN),
    Cell("'gain-duty'", a="R.duty", **_GAIN),
    Cell("'fluid'", "R.fluid_tenths > 0", "R.procedure", total="R.fluid_tenths",
         squares="R.fluid_tenths * R.fluid_tenths"),
    Cell("'months'", "R.day > 0", "R.month", "R.state"),
)  # fmt: skip
STUMBLE_CELLS: Final = (
    Cell("R.what", "R.times > 0", "R.procedure", "R.step", "R.name", part="R.times"),
)
CELLS: Final = (("job_fact", JOB_CELLS), ("stumble", STUMBLE_CELLS))


def sqlite_triggers() -> tuple[str, ...]:
    """What keeps the tally in SQLite."""
    out = []
    for table, cells in CELLS:
        gone = "; ".join(one.added("OLD", "-") for one in cells)
        come = "; ".join(one.added("NEW") for one in cells)
        for act, body in (("INSERT", come), ("DELETE", gone), ("UPDATE", f"{gone}; {come}")):
            name = f"{table}_{act.lower()}"
            out.append(f"CREATE TRIGGER {name} AFTER {act} ON {table} BEGIN {body}; END")
    return tuple(out)


COLUMNS: Final = (
    "id, kind, state, day, month, procedure, car, triage, verdict, gain_tenths, km, duty, "
    "fluid_tenths, begun"
)
NEXT_VISIT: Final = """
UPDATE job_fact SET back_days = (
    SELECT n.day - job_fact.day FROM job_fact n
    WHERE n.car = job_fact.car AND n.kind = job_fact.kind
    AND (n.day > job_fact.day OR (n.day = job_fact.day AND (n.begun > job_fact.begun
        OR (n.begun = job_fact.begun AND n.id > job_fact.id))))
    ORDER BY n.day, n.begun, n.id LIMIT 1)
WHERE car = ? AND car <> ''
"""


Made = Callable[[tuple[Any, ...]], tuple[Any, ...]]


@dataclass(frozen=True, slots=True)
class Question:
    """One question. ``keys`` are the columns a, b, c of the tally that it reads, ``sums`` its other
    columns beside the count of jobs; ``made`` makes a row of the answer of a row that was read.
    ``share`` names the columns (part, whole) of whose quotient an interval is worked out."""

    id: str
    title: str
    columns: tuple[str, ...]
    sums: tuple[str, ...] = ()
    made: Made = tuple
    share: tuple[str, str] | None = None
    note: str = ""
    name: str = ""

    @property
    def keys(self) -> int:
        """How many columns stand before the count."""
        return self.columns.index("jobs")

    @property
    def sql(self) -> str:
        """The question to either database; its value is the kind of job."""
        keys = ", ".join("abc"[: self.keys])
        sums = ", ".join(f"CAST(sum({name}) AS BIGINT)" for name in ("jobs", *self.sums))
        return (
            f"SELECT {keys}, {sums} FROM tally WHERE kind = ? "
            f"AND question = '{self.name or self.id}' GROUP BY {keys} HAVING sum(jobs) > 0"
        )


def _back(row: tuple[Any, ...]) -> tuple[Any, ...]:
    *head, back, early, days = row
    return (*head, back, early, round(days / back, 1) if back else None)


def _spread(row: tuple[Any, ...]) -> tuple[Any, ...]:
    """Mean and standard deviation of a number kept in tenths."""
    key, jobs, total, squares = row
    mean = round(total / jobs / 10, 1)
    if jobs < 2:
        return key, jobs, mean, None
    over = (squares - total * total / jobs) / (jobs - 1)
    return key, jobs, mean, round(math.sqrt(max(0.0, over)) / 10, 1)


def _by_km(row: tuple[Any, ...]) -> tuple[Any, ...]:
    return _spread((int(row[0]), *row[1:]))


def _fluid(row: tuple[Any, ...]) -> tuple[Any, ...]:
    key, jobs, mean, spread = _spread(row)
    return key, jobs, row[2] / 10, mean, spread


_GAIN_NOTE: Final = _(
    "The gain is how much easier the filter flows at the same flow, as the verdict has it. Jobs "
    "without one are left out."
)
_STUMBLE_NOTE: Final = _(
    "Where people stumble: a step with many may be worded badly. Nobody is named."
)
_AS_EXPECTED: Final = (_("as expected"), "jobs")
QUESTIONS: Final = (
    Question(
        "returns",
        _("Return visits within {within_days} days, by verdict", within_days=WITHIN_DAYS),
        ("verdict", "jobs", _("came back"), _("within 90 days"), _("mean days")),
        ("part", "early", "total"),
        _back,
        (_("came back"), "jobs"),
        _(
            "Only cars whose registration is still kept are known again. A job of less than "
            "a year ago may still come back. Coming back is not failing: a check is a visit "
            "too."
        ),
    ),
    Question(
        "success-triage",
        _("Success (flows as expected) by what the triage said"),
        ("triage", "jobs", _("as expected")),
        ("part",),
        share=_AS_EXPECTED,
    ),
    Question(
        "success-procedure",
        _("Success (flows as expected) by procedure"),
        ("procedure", "jobs", _("as expected")),
        ("part",),
        share=_AS_EXPECTED,
    ),
    Question("verdicts", _("Verdicts"), ("verdict", "jobs")),
    Question(
        "gain-distance",
        _("Gain by distance, in bands of 50 000 km"),
        (_("from km (-1: not said)"), "jobs", _("mean %"), _("spread %")),
        ("total", "squares"),
        _by_km,
        note=_("{gain_note} The spread is one standard deviation.", gain_note=_GAIN_NOTE),
    ),
    Question(
        "gain-duty",
        _("Gain by what the vehicle mostly does"),
        ("duty", "jobs", _("mean %"), _("spread %")),
        ("total", "squares"),
        _spread,
        note=_GAIN_NOTE,
    ),
    Question(
        "refusals",
        _("Refusals by step"),
        ("procedure", "step", "refusal", "jobs", "times"),
        ("part",),
        note=_STUMBLE_NOTE,
        name="refusal",
    ),
    Question(
        "trips",
        _("Trips by step"),
        ("procedure", "step", "trip", "jobs", "times"),
        ("part",),
        note=_STUMBLE_NOTE,
        name="trip",
    ),
    Question(
        "fluid",
        _("Fluid counted, by procedure"),
        ("procedure", "jobs", _("sum mL"), _("mean mL"), _("spread mL")),
        ("total", "squares"),
        _fluid,
        note=_("What the ledger counted, which is the most that may have gone in."),
    ),
    Question("months", _("Jobs by month and how they stand"), ("month", "state", "jobs")),
)


def put_facts(
    run: Callable[[str, Sequence[Any]], Any], row: JobRow, next_visit: str = NEXT_VISIT
) -> None:
    """Enter the facts of a job that has none in the tables yet."""
    facts = row.facts
    marks = ", ".join("?" * 14)
    run(
        f"INSERT INTO job_fact ({COLUMNS}) VALUES ({marks})",
        (row.job, row.kind, row.state, facts.day, facts.month, facts.procedure, facts.car,
         facts.triage, row.verdict, _tenths(facts.gain_percent), facts.km, facts.duty,
         _tenths(facts.fluid_ml), row.begun),
    )  # fmt: skip
    for one in facts.stumbles:
        run(
            "INSERT INTO stumble (id, kind, what, procedure, step, name, times) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (row.job, row.kind, one.what, one.procedure, one.step, one.name, one.times),
        )
    run(next_visit, (facts.car,))


def _tenths(number: float | None) -> int | None:
    return None if number is None else round(10 * number)


Run = Callable[[str, Sequence[Any]], list[tuple[Any, ...]]]
"""Runs SQL with ``?`` for each value; gives all rows."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A question answered. ``intervals``: of each row, the exact bounds of its share in percent."""

    id: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    intervals: tuple[tuple[float, float], ...] = ()
    few: tuple[bool, ...] = ()
    note: str = ""
    share: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The same as plain values, one object a row."""
        rows = [dict(zip(self.columns, row, strict=True)) for row in self.rows]
        for number, row in enumerate(rows):
            row["few"] = self.few[number]
            if self.intervals:
                row["low_percent"], row["high_percent"] = self.intervals[number]
        return {**{k: v for k, v in asdict(self).items() if k in ("id", "title", "note")},
                "rows": rows}  # fmt: skip

    def to_csv(self) -> bytes:
        """The same as a table that no spreadsheet runs."""
        extra = (_("low %"), _("high %")) if self.intervals else ()
        rows: list[Sequence[CsvValue]] = []
        for number, row in enumerate(self.rows):
            bounds = self.intervals[number] if self.intervals else ()
            rows.append((*row, *bounds, self.few[number]))
        return to_csv((*self.columns, *extra, "few"), rows)


def answers(run: Run, kind: str = "real") -> tuple[Answer, ...]:
    """All ten, of real jobs or of practice."""
    return tuple(answered(run, question, kind) for question in QUESTIONS)


def answered(run: Run, question: Question, kind: str = "real") -> Answer:
    """One question."""
    found = run(question.sql, (kind,))
    rows = tuple(sorted(map(question.made, found)))  # by its keys: each base has its own order
    intervals: list[tuple[float, float]] = []
    if question.share is not None:
        part, whole = map(question.columns.index, question.share)
        for row in rows:
            low, high = exact_interval(row[part], row[whole])
            intervals.append((round(100 * low, 1), round(100 * high, 1)))
    jobs = question.keys
    few = tuple([row[jobs] < FEW for row in rows])
    return Answer(question.id, question.title, question.columns, rows, tuple(intervals), few,
                  question.note, question.share or ())  # fmt: skip
