"""How jobs are found in the job book: its tables, and one SQL text for what is asked for.

A job's row has a number that grows as its id does, so that the newest come first without sorting.
Words are found by groups of three letters (SQLite's trigram index, from 3.34 on); shorter ones, and
all where there is none, are looked for row by row, from the newest on. What of the customer one can
find a job by stands in an index of its own, which is written anew when anything of it goes: no
group of letters of it stays.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final

from .digest import STATES

TABLES: Final = """
CREATE TABLE job (
    n INTEGER PRIMARY KEY, id TEXT NOT NULL UNIQUE, stamp TEXT NOT NULL, kind TEXT NOT NULL,
    state TEXT NOT NULL, step TEXT NOT NULL, lines INTEGER NOT NULL, begun TEXT NOT NULL,
    last TEXT NOT NULL, ended TEXT NOT NULL, vehicle TEXT NOT NULL, verdict TEXT NOT NULL,
    title TEXT NOT NULL, people TEXT NOT NULL, personal TEXT NOT NULL, hold INTEGER NOT NULL,
    why TEXT NOT NULL, sealed INTEGER NOT NULL, who TEXT NOT NULL, folded TEXT NOT NULL);
CREATE INDEX job_state ON job (state, n);
CREATE INDEX job_kind ON job (kind, n);
CREATE TABLE found_by (n INTEGER PRIMARY KEY, listed TEXT NOT NULL, plates TEXT NOT NULL,
    folded TEXT NOT NULL);
"""
INDEXES: Final = tuple(
    f"CREATE VIRTUAL TABLE {name} USING fts5(folded, content='{table}', content_rowid='n', "
    "tokenize='trigram case_sensitive 1', detail=none)"
    for name, table in (("searched", "job"), ("found", "found_by"))
)
LEAST: Final = 3
"""Letters from which on the index is asked."""
COLUMNS: Final = (
    "id, kind, state, step, lines, begun, last, ended, vehicle, verdict, title, people, personal, "
    "hold, why, sealed"
)
_ORDER: Final = {letter: at for at, letter in enumerate("234567abcdefghijklmnopqrstuvwxyz")}
_JOB: Final = ", ".join(f"job.{name}" for name in COLUMNS.split(", "))
_LETTERS: Final = 8
_DAY: Final = 5 * _LETTERS
_STATES: Final = {state.lower(): state for state in STATES}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to list; empty means any. Texts match anywhere, capitals aside; all must match.

    since, until: dates (year-month-day) of the job's beginning, both included.
    """

    state: str = ""
    kind: str = ""
    since: str = ""
    until: str = ""
    vehicle: str = ""
    person: str = ""
    verdict: str = ""
    text: str = ""

    def any(self) -> bool:
        """Whether anything is asked for."""
        return self != Wanted()


def number_of(job: str) -> int:
    """A number that orders job ids as their texts do, by day and the first letters of the token."""
    number = date.fromisoformat(job[:10]).toordinal()
    for letter in job[11 : 11 + _LETTERS].ljust(_LETTERS, "2"):
        number = number << 5 | _ORDER[letter]
    return number


def sql_of(wanted: Wanted, indexed: bool, most: int | None) -> tuple[str, list[str | int]]:
    """The question in SQL with its values: the newest ``most``, newest first; all of them, oldest
    first, where that is None. Every text travels as a value, none as SQL."""
    parts, values = _plain(wanted)
    last = "ORDER BY n DESC LIMIT ?" if most is not None else "ORDER BY n"
    limit: list[str | int] = [] if most is None else [most]
    ways = list(_ways(wanted, indexed))
    if not ways:
        where = f"WHERE {' AND '.join(parts)}" if parts else ""
        return f"SELECT n, {COLUMNS} FROM job {where} {last}", [*values, *limit]
    texts, all_values = [], []
    for way in ways:
        where = " AND ".join((way.where, *parts))
        order = f"ORDER BY {way.rowid} DESC LIMIT ?" if most is not None else ""
        one = f"SELECT job.n, {_JOB} FROM {way.table} WHERE {where} {order}"
        texts.append(f"SELECT * FROM ({one})")
        all_values += [*way.values, *values, *limit]
    return f"{' UNION '.join(texts)} {last}", [*all_values, *limit]


def _plain(wanted: Wanted) -> tuple[list[str], list[str | int]]:
    """The conditions that every way of finding a job has to meet."""
    parts: list[str] = []
    values: list[str | int] = []

    def add(part: str, *texts: str | int) -> None:
        parts.append(part)
        values.extend(texts)

    if wanted.state:
        add("job.state = ?", _STATES.get(wanted.state.lower(), wanted.state))
    if wanted.kind:
        add("job.kind = ?", wanted.kind)
    if wanted.since:
        add("job.n >= ?", date.fromisoformat(wanted.since).toordinal() << _DAY)
    if wanted.until:
        add("job.n < ?", (date.fromisoformat(wanted.until).toordinal() + 1) << _DAY)
    if wanted.vehicle and wanted.text:
        text = wanted.vehicle.casefold()
        add(
            "(instr(fold(job.vehicle), ?) OR EXISTS (SELECT 1 FROM found_by f WHERE f.n = job.n "
            "AND (instr(f.plates, ?) OR instr(f.plates, ?))))",
            text, text, text.replace(" ", ""),
        )  # fmt: skip
    if wanted.person:
        add("instr(job.who, ?)", wanted.person.casefold())
    if wanted.verdict:
        text = wanted.verdict.casefold()
        add("(instr(fold(job.verdict), ?) OR instr(fold(job.title), ?))", text, text)
    return parts, values


@dataclass(frozen=True, slots=True)
class _Way:
    """One place where a word is looked for: the tables, by which number, and the condition."""

    table: str
    rowid: str
    where: str
    values: tuple[str, ...]


def _ways(wanted: Wanted, indexed: bool) -> Iterator[_Way]:
    """Where the word that leads is looked for; none where no word is asked for."""
    if wanted.text:
        text = wanted.text.casefold()
        yield _way("searched", text, indexed)
        yield _way("found", text, indexed)
    elif wanted.vehicle:
        text = wanted.vehicle.casefold()
        yield _way("searched", text, indexed, "instr(fold(job.vehicle), ?)")
        for plate in dict.fromkeys((text, text.replace(" ", ""))):
            yield _way("found", plate, indexed, "instr(found_by.plates, ?)")
    elif indexed and len(word := max(wanted.person, wanted.verdict, key=len).casefold()) >= LEAST:
        yield _way("searched", word, indexed)


def _way(index: str, text: str, indexed: bool, also: str = "") -> _Way:
    """A word in all that is searched, or in what of the customer a job is found by; ``also`` is
    asked of the rows that have it."""
    found = index == "found"
    table = "found_by CROSS JOIN job ON job.n = found_by.n" if found else "job"
    rowid, column = ("found_by.n", "found_by.folded") if found else ("job.n", "job.folded")
    where, value = f"instr({column}, ?)", text
    if indexed and len(text) >= LEAST:
        join = "CROSS JOIN found_by ON found_by.n = found.rowid " if found else ""
        table, rowid = f"{index} {join}CROSS JOIN job ON job.n = {index}.rowid", f"{index}.rowid"
        where, value = f"{index}.folded GLOB ?", f"*{_escaped(text)}*"
    if not also:
        return _Way(table, rowid, where, (value,))
    return _Way(table, rowid, f"{where} AND {also}", (value, text))


def _escaped(text: str) -> str:
    """The text with nothing in it that GLOB reads as a sign."""
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in text)
