"""The job book: ``jobs.sqlite3`` in the data folder, brought up to date before every list.

It is derived: a damaged or foreign file is replaced and filled again, with a note. What tells
that a job has changed is size and time of its journal, head, side file and hold. So a change that
keeps all of them goes unseen here; ``steplatch audit`` is what looks at every byte.

Personal data stand in it only while the job's side file keeps them. ``secure_delete`` overwrites
what is taken out, and no rollback file is ever on the disk (``journal_mode`` memory: a crash may
damage the book, which is then made again).
"""

import contextlib
import json
import os
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..input.findings import shown
from ..record import DataFolder, RecordError, is_job_id
from ..record.disk import FILE_MODE
from ..record.folders import HEAD_NAME, JOURNAL_NAME, PERSONAL_NAME
from ..record.seal import FOLDER as SEAL_FOLDER
from ..system.files import PLAIN
from ..system.over_cores import over_cores
from .digest import JobRow, digest
from .holds import HOLD_NAME
from .questions import NEXT_VISIT, SCHEMA, Answer, answers, put_facts, sqlite_triggers

BOOK_NAME: Final = "jobs.sqlite3"
APPLICATION_ID: Final = 0x53744A42
VERSION: Final = 4
BUSY_S: Final = 20.0
BATCH: Final = 100
_WATCHED: Final = (JOURNAL_NAME, HEAD_NAME, PERSONAL_NAME, HOLD_NAME, SEAL_FOLDER)
_SCHEMA: Final = (
    """
CREATE TABLE job (
    id TEXT PRIMARY KEY, stamp TEXT NOT NULL, kind TEXT NOT NULL, state TEXT NOT NULL,
    step TEXT NOT NULL, lines INTEGER NOT NULL, begun TEXT NOT NULL, last TEXT NOT NULL,
    ended TEXT NOT NULL, vehicle TEXT NOT NULL, verdict TEXT NOT NULL, title TEXT NOT NULL,
    people TEXT NOT NULL, personal TEXT NOT NULL, hold INTEGER NOT NULL, why TEXT NOT NULL,
    who TEXT NOT NULL, sealed INTEGER NOT NULL
) WITHOUT ROWID;
CREATE TABLE found_by (id TEXT NOT NULL, field TEXT NOT NULL, value TEXT NOT NULL,
    folded TEXT NOT NULL, PRIMARY KEY (id, field)) WITHOUT ROWID;
CREATE TABLE words (id TEXT PRIMARY KEY, folded TEXT NOT NULL);
"""
    + SCHEMA
)
_TABLES: Final = ("job", "found_by", "words", "job_fact", "stumble")
_OF_ALL: Final = "tally"
_COLUMNS: Final = (
    "id, kind, state, step, lines, begun, last, ended, vehicle, verdict, title, people, personal, "
    "hold, why, sealed"
)


class BookBusy(RecordError):  # noqa: N818 - the name says the fact
    """Another program has been writing the job book for too long."""


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


class JobBook:
    """An open job book. ``notes`` say what was put right on the way."""

    def __init__(self, data: DataFolder, database: sqlite3.Connection, notes: list[str]) -> None:
        self._data = data
        self._database = database
        self._made_again = False
        self._in_memory = False
        self.notes = notes

    @classmethod
    @contextlib.contextmanager
    def open(cls, data: DataFolder, rebuild: bool = False) -> "Iterator[JobBook]":
        """Open or make the book; ``rebuild`` empties it first. Raises BookBusy."""
        notes: list[str] = []
        path = data.path / BOOK_NAME
        if rebuild:
            _remove(path, notes)
        book = cls(data, _opened(path, notes), notes)
        try:
            yield book
        finally:  # of a book that was made again on the way, the new one too
            book._database.close()

    def sync(self, progress: Callable[[int, int], None] | None = None) -> int:
        """Bring the book up to date; returns how many jobs were read. Raises BookBusy.

        ``progress`` is called with how many of how many jobs that have changed were read.
        """
        while True:
            try:
                return self._sync(progress)
            except sqlite3.DatabaseError as error:
                self._start_again(error)

    def _start_again(self, error: sqlite3.DatabaseError) -> None:
        """Make a damaged book again, once; on a disk that fails go on without one."""
        if _busy(error):
            raise _book_busy(self._data) from error
        if self._in_memory:
            raise error
        path = self._data.path / BOOK_NAME
        self._database.close()
        if _damaged(error) and not self._made_again:
            self._made_again = True
            self.notes.append(
                _("the job book was damaged ({shown}); it was made again", shown=shown(error))
            )
            if _remove(path, self.notes):
                self._database = _opened(path, self.notes)
                return
        self.notes.append(
            _("the job book cannot be kept ({shown}): listed without it", shown=shown(error))
        )
        self._database, self._in_memory = _connected(None), True

    def _sync(self, progress: Callable[[int, int], None] | None) -> int:
        there = stamps(self._data)
        known = dict(self._database.execute("SELECT id, stamp FROM job"))
        gone = [job for job in known if job not in there]
        changed = [job for job, stamp in there.items() if known.get(job) != stamp]
        if gone:
            with _transaction(self._database):
                for job in gone:
                    self._take_out(job)
        rows = zip(over_cores(digest, list(map(self._data.job, changed))), changed, strict=True)
        for start in range(0, len(changed), BATCH):
            batch = []
            for row, job in islice(rows, BATCH):
                batch.append((row, there[job]))
                if progress is not None:
                    progress(start + len(batch), len(changed))
            with _transaction(self._database):
                for row, stamp in batch:
                    self._put(row, stamp)
        return len(changed)

    def _take_out(self, job: str) -> None:
        run = self._database.execute
        car = run("SELECT car FROM job_fact WHERE id = ?", (job,)).fetchone()
        for table in _TABLES:
            run(f"DELETE FROM {table} WHERE id = ?", (job,))
        if car is not None:
            run(NEXT_VISIT, car)

    def _put(self, row: JobRow, stamp: str) -> None:
        self._take_out(row.job)
        people = json.dumps(row.people, ensure_ascii=False)
        who = "\n".join(f"{person}\n{name}" for person, name in row.people).casefold()
        self._database.execute(
            f"INSERT INTO job (stamp, who, {_COLUMNS}) VALUES ({', '.join('?' * 18)})",
            (stamp, who, row.job, row.kind, row.state, row.step, row.lines, row.begun, row.last,
             row.ended, row.vehicle, row.verdict, row.verdict_title, people, row.personal,
             int(row.hold), row.why_broken, int(row.sealed)),
        )  # fmt: skip
        for field, value in row.found_by.items():
            self._database.execute(
                "INSERT INTO found_by VALUES (?, ?, ?, ?)",
                (row.job, field, value, value.casefold()),
            )
        self._database.execute("INSERT INTO words VALUES (?, ?)", (row.job, row.text.casefold()))
        if row.facts.day:
            put_facts(self._database.execute, row)

    def answers(self, kind: str = "real") -> tuple[Answer, ...]:
        """The ten questions answered. Raises BookBusy."""
        while True:
            try:
                return answers(lambda sql, by: self._database.execute(sql, by).fetchall(), kind)
            except sqlite3.DatabaseError as error:
                self._start_again(error)
                self.sync()

    def rows(self, wanted: Wanted | None = None, with_personal: bool = False) -> list[JobRow]:
        """The jobs that are asked for, oldest first, without the texts. Raises BookBusy.

        ``found_by`` is filled only ``with_personal``.
        """
        where, values = _where(wanted or Wanted())
        while True:
            try:
                found = self._database.execute(
                    f"SELECT {_COLUMNS} FROM job {where} ORDER BY id", values
                ).fetchall()
                personal: dict[str, dict[str, str]] = {}
                if with_personal:
                    for job, field, value in self._database.execute(
                        "SELECT id, field, value FROM found_by"
                    ):
                        personal.setdefault(job, {})[field] = value
                break
            except sqlite3.DatabaseError as error:
                self._start_again(error)
                self.sync()
        return [_row_of(columns, personal.get(columns[0], {})) for columns in found]

    def count(self) -> int:
        """How many jobs there are. Raises as ``rows``."""
        while True:
            try:
                return int(self._database.execute("SELECT count(*) FROM job").fetchone()[0])
            except sqlite3.DatabaseError as error:
                self._start_again(error)
                self.sync()


def _row_of(columns: tuple[Any, ...], found_by: dict[str, str]) -> JobRow:
    job, kind, state, step, lines, begun, last, ended, vehicle = columns[:9]
    verdict, title, people, personal, hold, why, sealed = columns[9:]
    named = tuple((str(who), str(name)) for who, name in json.loads(people))
    return JobRow(job, kind, state, step, lines, begun, last, ended, vehicle, verdict, title, named,
               personal, bool(hold), why, found_by, sealed=bool(sealed))  # fmt: skip


def _where(wanted: Wanted) -> tuple[str, list[str]]:
    """The condition in SQL; every text travels as a value, none as SQL."""
    parts: list[str] = []
    values: list[str] = []

    def add(part: str, *texts: str) -> None:
        parts.append(part)
        values.extend(texts)

    if wanted.state:
        add("lower(state) = ?", wanted.state.lower())
    if wanted.kind:
        add("kind = ?", wanted.kind)
    if wanted.since:
        add("substr(id, 1, 10) >= ?", wanted.since)
    if wanted.until:
        add("substr(id, 1, 10) <= ?", wanted.until)
    if wanted.vehicle:
        text = wanted.vehicle.casefold()
        add(
            "(instr(fold(vehicle), ?) OR EXISTS (SELECT 1 FROM found_by f WHERE f.id = job.id AND "
            "f.field IN ('registration', 'vin_tail') AND (instr(f.folded, ?) OR "
            "instr(replace(f.folded, ' ', ''), ?))))",
            text,
            text,
            text.replace(" ", ""),
        )
    if wanted.person:
        add("instr(who, ?)", wanted.person.casefold())
    if wanted.verdict:
        text = wanted.verdict.casefold()
        add("(instr(fold(verdict), ?) OR instr(fold(title), ?))", text, text)
    if wanted.text:
        text = wanted.text.casefold()
        add(
            "(instr(id, ?) OR instr(who, ?) OR instr(fold(title), ?) OR instr(step, ?) OR "
            "EXISTS (SELECT 1 FROM words w WHERE w.id = job.id AND instr(w.folded, ?)) OR "
            "EXISTS (SELECT 1 FROM found_by f WHERE f.id = job.id AND instr(f.folded, ?)))",
            *([text] * 6),
        )
    return ("WHERE " + " AND ".join(parts) if parts else ""), values


def stamps(data: DataFolder) -> dict[str, str]:
    """Every job folder with size and time of what is watched in it, oldest id first."""
    try:
        with os.scandir(data.jobs) as entries:
            names = sorted(e.name for e in entries if is_job_id(e.name) and e.is_dir())
    except FileNotFoundError:
        return {}
    jobs = str(data.jobs)
    stamps = {}
    for name in names:
        parts = []
        for watched in _WATCHED:
            try:
                status = os.stat(f"{jobs}/{name}/{watched}")  # noqa: PTH116 - 5 a job, of 10 000
                parts.append(f"{status.st_size}:{status.st_mtime_ns}:{status.st_ino}")
            except OSError:
                parts.append("-")
        stamps[name] = " ".join(parts)
    return stamps


@contextlib.contextmanager
def _transaction(database: sqlite3.Connection) -> Iterator[None]:
    database.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        with contextlib.suppress(sqlite3.DatabaseError):
            database.execute("ROLLBACK")
        raise
    database.execute("COMMIT")


def _opened(path: Path, notes: list[str]) -> sqlite3.Connection:
    """The book at ``path``, put right or made; in memory, with a note, where none can be."""
    for _other in range(2):
        try:
            return _connected(path)
        except _NotOurs as reason:
            notes.append(
                _("the job book was {reason}; it was made again from the jobs", reason=reason)
            )
            if not _remove(path, notes):
                break
        except sqlite3.OperationalError as error:
            if _busy(error):
                raise BookBusy(str(path), _("another program holds it"), _("Try again")) from error
            notes.append(
                _(
                    "the job book cannot be kept ({shown}): listed without it, slowly",
                    shown=shown(error),
                )
            )
            break
        except OSError as error:
            notes.append(
                _("the job book cannot be kept ({error}): listed without it, slowly", error=error)
            )
            break
    return _connected(None)


class _NotOurs(Exception):  # noqa: N818 - control flow
    """The file is no job book of this version."""


def _connected(path: Path | None) -> sqlite3.Connection:
    if path is not None and not path.exists():
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | PLAIN, FILE_MODE))
    database = sqlite3.connect(
        ":memory:" if path is None else path, timeout=BUSY_S, isolation_level=None
    )
    try:
        database.create_function("fold", 1, lambda text: str(text).casefold(), deterministic=True)
        for pragma in ("secure_delete=ON", "journal_mode=MEMORY", "synchronous=OFF"):
            database.execute(f"PRAGMA {pragma}").fetchall()
        _check(database)
        database.execute("BEGIN IMMEDIATE")
        if _number(database, "application_id") == 0:
            for statement in (*_SCHEMA.split(";"), *sqlite_triggers()):
                database.execute(statement)
            database.execute(f"PRAGMA application_id={APPLICATION_ID}")
            database.execute(f"PRAGMA user_version={VERSION}")
        database.execute("COMMIT")
    except sqlite3.DatabaseError as error:
        database.close()
        if isinstance(error, sqlite3.OperationalError) and not _damaged(error):
            raise
        raise _NotOurs(_("damaged ({error})", error=error)) from error
    except UnicodeDecodeError as error:  # of a message that repeats damaged bytes of the file
        database.close()
        raise _NotOurs("damaged") from error
    except _NotOurs:
        database.close()
        raise
    return database


def _check(database: sqlite3.Connection) -> None:
    mark, version = _number(database, "application_id"), _number(database, "user_version")
    tables = _tables(database)
    if mark == 0 and not tables:
        return
    if mark != APPLICATION_ID:
        raise _NotOurs(_("a database of another program"))
    if version != VERSION or tables != {*_TABLES, _OF_ALL}:
        raise _NotOurs(_("of another version of this program"))


def _number(database: sqlite3.Connection, pragma: str) -> int:
    return int(database.execute(f"PRAGMA {pragma}").fetchone()[0])


def _tables(database: sqlite3.Connection) -> set[str]:
    found = database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    return {name for (name,) in found if not name.startswith("sqlite_")}


def _remove(path: Path, notes: list[str]) -> bool:
    """Take a book away. One of another program is moved aside, never deleted."""
    try:
        if _foreign(path):
            aside = path.with_name(f"{path.name}.foreign")
            path.replace(aside)
            notes.append(_("what stood there was moved to {aside}", aside=aside))
        else:
            path.unlink(missing_ok=True)
    except OSError as error:
        notes.append(
            _(
                "{path} cannot be replaced ({strerror}): listed without it, slowly",
                path=path,
                strerror=error.strerror,
            )
        )
        return False
    return True


def _foreign(path: Path) -> bool:
    """Whether the file is a sound database with tables that another program marked."""
    if not path.is_file():
        return False
    with contextlib.closing(sqlite3.connect(path, timeout=BUSY_S)) as database:
        try:
            return _number(database, "application_id") != APPLICATION_ID and bool(_tables(database))
        except sqlite3.DatabaseError:
            return False


def _busy(error: sqlite3.DatabaseError) -> bool:
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in (
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_LOCKED,
    )


def _damaged(error: sqlite3.DatabaseError) -> bool:
    """Whether the file's content is at fault, not the disk or the permission."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF in (
        sqlite3.SQLITE_ERROR,
        sqlite3.SQLITE_CORRUPT,
        sqlite3.SQLITE_NOTADB,
        sqlite3.SQLITE_SCHEMA,
        sqlite3.SQLITE_FORMAT,
    )


def _book_busy(data: DataFolder) -> BookBusy:
    return BookBusy(
        str(data.path / BOOK_NAME),
        _("another program has been writing it for {busy_s:.0f} s", busy_s=BUSY_S),
        _("Wait until its list is done, then try again"),
    )
