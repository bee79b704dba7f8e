"""What the job book answers over many jobs: ten questions, each one SQL text for both databases.

No question asks about a person, and none puts people in an order. A count stands beside every
share, the share has its exact interval, and small numbers say that they are small.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

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
    verdict TEXT NOT NULL, gain_percent DOUBLE PRECISION, km INTEGER, duty TEXT NOT NULL,
    fluid_ml DOUBLE PRECISION NOT NULL, back_days INTEGER);
CREATE TABLE stumble (
    id TEXT NOT NULL, kind TEXT NOT NULL, what TEXT NOT NULL, procedure TEXT NOT NULL,
    step TEXT NOT NULL, name TEXT NOT NULL, times INTEGER NOT NULL,
    PRIMARY KEY (id, what, procedure, step, name));
CREATE INDEX job_car ON job_fact (car, day, id);
CREATE INDEX job_back ON job_fact (kind, verdict, back_days, car);
CREATE INDEX job_triage ON job_fact (kind, triage, verdict);
CREATE INDEX job_procedure ON job_fact (kind, procedure, verdict);
CREATE INDEX job_km ON job_fact (kind, km, gain_percent);
CREATE INDEX job_duty ON job_fact (kind, duty, gain_percent);
CREATE INDEX job_fluid ON job_fact (kind, procedure, fluid_ml);
CREATE INDEX job_month ON job_fact (kind, month, state);
CREATE INDEX stumble_at ON stumble (kind, what, procedure, step, name, times);
"""
"""Tables and indexes, in words that SQLite and PostgreSQL share. ``back_days``: days until the same
car came back, from one job to its next."""

COLUMNS: Final = (
    "id, kind, state, day, month, procedure, car, triage, verdict, gain_percent, km, duty, fluid_ml"
)
NEXT_VISIT: Final = """
UPDATE job_fact SET back_days = (
    SELECT n.day - job_fact.day FROM job_fact n
    WHERE n.car = job_fact.car AND n.kind = job_fact.kind
    AND (n.day > job_fact.day OR (n.day = job_fact.day AND n.id > job_fact.id))
    ORDER BY n.day, n.id LIMIT 1)
WHERE car = ? AND car <> ''
"""


@dataclass(frozen=True, slots=True)
class Question:
    """One question. ``share`` names the columns (part, whole) of whose quotient an interval is
    worked out; ``count`` the column that says how many jobs a row rests on."""

    id: str
    title: str
    sql: str
    columns: tuple[str, ...]
    count: str
    share: tuple[str, str] | None = None
    note: str = ""


def _gain(by: str, name: str, title: str, key: str) -> Question:
    return Question(
        name, title,
        f"SELECT {by} AS band, count(*), avg(gain_percent), min(gain_percent), max(gain_percent) "
        "FROM job_fact WHERE kind = ? AND gain_percent IS NOT NULL GROUP BY band",
        (key, "jobs", "mean %", "least %", "most %"), "jobs",
        note="The gain is how much easier the filter flows at the same flow, as the verdict has "
        "it. Jobs without one are left out.",
    )  # fmt: skip


def _stumbles(what: str, title: str, name: str) -> Question:
    return Question(
        name, title,
        "SELECT procedure, step, name, count(*), sum(times) FROM stumble WHERE kind = ? AND "
        f"what = '{what}' GROUP BY procedure, step, name",
        ("procedure", "step", what, "jobs", "times"), "jobs",
        note="Where people stumble: a step with many may be worded badly. Nobody is named.",
    )  # fmt: skip


QUESTIONS: Final = (
    Question(
        "returns", f"Return visits within {WITHIN_DAYS} days, by verdict",
        "SELECT verdict, count(*), sum(CASE WHEN back_days <= 365 THEN 1 ELSE 0 END), "
        "sum(CASE WHEN back_days <= 90 THEN 1 ELSE 0 END), "
        "avg(CASE WHEN back_days <= 365 THEN back_days END) "
        "FROM job_fact WHERE kind = ? AND car <> '' AND verdict <> '' "
        "GROUP BY verdict",
        ("verdict", "jobs", "came back", "within 90 days", "mean days"), "jobs",
        ("came back", "jobs"),
        "Only cars whose registration is still kept are known again. A job of less than a year ago "
        "may still come back. Coming back is not failing: a check is a visit too.",
    ),
    Question(
        "success-triage", "Success (flows as expected) by what the triage said",
        "SELECT triage, count(*), sum(CASE WHEN verdict = 'as_expected' THEN 1 ELSE 0 END) "
        "FROM job_fact WHERE kind = ? AND verdict <> '' GROUP BY triage",
        ("triage", "jobs", "as expected"), "jobs", ("as expected", "jobs"),
    ),
    Question(
        "success-procedure", "Success (flows as expected) by procedure",
        "SELECT procedure, count(*), sum(CASE WHEN verdict = 'as_expected' THEN 1 ELSE 0 END) "
        "FROM job_fact WHERE kind = ? AND verdict <> '' GROUP BY procedure",
        ("procedure", "jobs", "as expected"), "jobs", ("as expected", "jobs"),
    ),
    Question(
        "verdicts", "Verdicts",
        "SELECT verdict, count(*) FROM job_fact WHERE kind = ? AND verdict <> '' "
        "GROUP BY verdict",
        ("verdict", "jobs"), "jobs",
    ),
    _gain("coalesce((km / 50000) * 50000, -1)", "gain-distance",
          "Gain by distance, in bands of 50 000 km", "from km (-1: not said)"),
    _gain("duty", "gain-duty", "Gain by what the vehicle mostly does", "duty"),
    _stumbles("refusal", "Refusals by step", "refusals"),
    _stumbles("trip", "Trips by step", "trips"),
    Question(
        "fluid", "Fluid counted, by procedure",
        "SELECT procedure, count(*), sum(fluid_ml), avg(fluid_ml), max(fluid_ml) FROM job_fact "
        "WHERE kind = ? AND fluid_ml > 0 GROUP BY procedure",
        ("procedure", "jobs", "sum mL", "mean mL", "most mL"), "jobs",
        note="What the ledger counted, which is the most that may have gone in.",
    ),
    Question(
        "months", "Jobs by month and how they stand",
        "SELECT month, state, count(*) FROM job_fact WHERE kind = ? "
        "GROUP BY month, state",
        ("month", "state", "jobs"), "jobs",
    ),
)  # fmt: skip


def put_facts(
    run: Callable[[str, Sequence[Any]], Any], row: JobRow, next_visit: str = NEXT_VISIT
) -> None:
    """Enter the facts of a job that has none in the tables yet."""
    facts = row.facts
    marks = ", ".join("?" * 13)
    run(
        f"INSERT INTO job_fact ({COLUMNS}) VALUES ({marks})",
        (row.job, row.kind, row.state, facts.day, facts.month, facts.procedure, facts.car,
         facts.triage, row.verdict, facts.gain_percent, facts.km, facts.duty, facts.fluid_ml),
    )  # fmt: skip
    for one in facts.stumbles:
        run(
            "INSERT INTO stumble (id, kind, what, procedure, step, name, times) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (row.job, row.kind, one.what, one.procedure, one.step, one.name, one.times),
        )
    run(next_visit, (facts.car,))


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
        extra = ("low %", "high %") if self.intervals else ()
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
    at = question.columns.index
    names = at(question.count)  # sorted here: each database has an order of texts of its own
    rows = tuple(sorted((tuple(map(_plain, row)) for row in found), key=lambda row: row[:names]))
    intervals: list[tuple[float, float]] = []
    if question.share is not None:
        part, whole = (at(name) for name in question.share)
        for row in rows:
            low, high = exact_interval(int(row[part]), int(row[whole]))
            intervals.append((round(100 * low, 1), round(100 * high, 1)))
    few = tuple(int(row[at(question.count)]) < FEW for row in rows)
    return Answer(question.id, question.title, question.columns, rows, tuple(intervals), few,
                  question.note, question.share or ())  # fmt: skip


def _plain(cell: Any) -> Any:
    """A cell as a text, a whole number, or a number to one decimal."""
    if cell is None or isinstance(cell, str | int):
        return cell
    number = round(float(cell), 1)
    return int(cell) if type(cell).__name__ == "Decimal" and cell == int(cell) else number
