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
import re
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
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
from .book_search import COLUMNS, INDEXES, TABLES, Wanted, number_of, sql_of
from .digest import JobRow, digest
from .holds import HOLD_NAME
from .questions import BEGUN, NEXT_VISIT, SCHEMA, Answer, answers, put_facts, sqlite_triggers

BOOK_NAME: Final = "jobs.sqlite3"
APPLICATION_ID: Final = 0x53744A42
VERSION: Final = 5
BUSY_S: Final = 20.0
BATCH: Final = 100
_WATCHED: Final = (JOURNAL_NAME, HEAD_NAME, PERSONAL_NAME, HOLD_NAME, SEAL_FOLDER)
_SCHEMA: Final = TABLES + SCHEMA + BEGUN
_TABLES: Final = ("job", "found_by", "job_fact", "stumble", "tally")
_INDEX: Final = re.compile("(searched|found)(_data|_idx|_docsize|_config)?")


class BookBusy(RecordError):  # noqa: N818 - the name says the fact
    """Another program has been writing the job book for too long."""


class JobBook:
    """An open job book. ``notes`` say what was put right on the way."""

    def __init__(self, data: DataFolder, database: sqlite3.Connection, notes: list[str]) -> None:
        self._data = data
        self._database = database
        self._made_again = False
        self._in_memory = False
        self._letters_went = False
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
                    self._take_out(job, gone=True)
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
        if self._letters_went:
            with _transaction(self._database):
                self._database.execute("INSERT INTO found (found) VALUES ('optimize')")
            self._letters_went = False
        return len(changed)

    @property
    def _indexed(self) -> bool:
        """Whether the index of words is there."""
        named = "SELECT 1 FROM sqlite_master WHERE name = 'searched'"
        return self._database.execute(named).fetchone() is not None

    def _take_out(self, job: str, gone: bool = False) -> None:
        """Take a job's row out; what one can find it by only where the job is ``gone``."""
        run = self._database.execute
        car = run("SELECT car FROM job_fact WHERE id = ?", (job,)).fetchone()
        stood = run("SELECT n, folded FROM job WHERE id = ?", (job,)).fetchone()
        if stood is not None:
            if gone:
                self._put_found_by(stood[0], {})
            if self._indexed:
                run("INSERT INTO searched (searched, rowid, folded) VALUES ('delete', ?, ?)", stood)
        for table in ("job", "job_fact", "stumble"):
            run(f"DELETE FROM {table} WHERE id = ?", (job,))
        if car is not None:
            run(NEXT_VISIT, car)

    def _put_found_by(self, number: int, found_by: dict[str, str]) -> None:
        """What of the customer a job is found by, where it is not what stands there."""
        run, indexed = self._database.execute, self._indexed
        listed = json.dumps(found_by, ensure_ascii=False) if found_by else ""
        stood = run("SELECT listed, folded FROM found_by WHERE n = ?", (number,)).fetchone()
        if (stood[0] if stood is not None else "") == listed:
            return
        if stood is not None:
            if indexed:
                run("INSERT INTO found (found, rowid, folded) VALUES ('delete', ?, ?)",
                    (number, stood[1]))  # fmt: skip
                self._letters_went = True
            run("DELETE FROM found_by WHERE n = ?", (number,))
        if found_by:
            plates = [found_by.get(name, "").casefold() for name in ("registration", "vin_tail")]
            searched = "\n".join((*plates, *(plate.replace(" ", "") for plate in plates)))
            folded = f"{searched}\n{found_by.get('customer_name', '').casefold()}"
            run("INSERT INTO found_by VALUES (?, ?, ?, ?)", (number, listed, searched, folded))
            if indexed:
                run("INSERT INTO found (rowid, folded) VALUES (?, ?)", (number, folded))

    def _number(self, job: str) -> int:
        """The number of a job's row: the one after it where another id has the same."""
        number, run = number_of(job), self._database.execute
        while (other := run("SELECT id FROM job WHERE n = ?", (number,)).fetchone()) is not None:
            if other[0] == job:
                break
            number += 1
        return number

    def _put(self, row: JobRow, stamp: str) -> None:
        stood = self._database.execute("SELECT n FROM job WHERE id = ?", (row.job,)).fetchone()
        self._take_out(row.job)
        number = self._number(row.job) if stood is None else stood[0]
        people = json.dumps(row.people, ensure_ascii=False)
        who = "\n".join(f"{person}\n{name}" for person, name in row.people).casefold()
        words = (row.verdict_title, row.verdict, row.step, row.vehicle, row.text)
        folded = "\n".join((row.job, who, *(text.casefold() for text in words)))
        self._database.execute(
            f"INSERT INTO job (n, stamp, who, folded, {COLUMNS}) VALUES ({', '.join('?' * 20)})",
            (number, stamp, who, folded, row.job, row.kind, row.state, row.step, row.lines,
             row.begun, row.last, row.ended, row.vehicle, row.verdict, row.verdict_title, people,
             row.personal, int(row.hold), row.why_broken, int(row.sealed)),
        )  # fmt: skip
        if self._indexed:
            added = "INSERT INTO searched (rowid, folded) VALUES (?, ?)"
            self._database.execute(added, (number, folded))
        self._put_found_by(number, row.found_by)
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

    def rows(
        self, wanted: Wanted | None = None, with_personal: bool = False, most: int | None = None
    ) -> list[JobRow]:
        """The jobs that are asked for, oldest first, without the texts; with ``most`` only so many
        of the newest, newest first. Raises BookBusy.

        ``found_by`` is filled only ``with_personal``.
        """
        while True:
            try:
                sql, values = sql_of(wanted or Wanted(), self._indexed, most)
                found = self._database.execute(sql, values).fetchall()
                personal = {n: self._found_by(n) for n, *_ in found} if with_personal else {}
                break
            except sqlite3.DatabaseError as error:
                self._start_again(error)
                self.sync()
        return [_row_of(columns, personal.get(n, {})) for n, *columns in found]

    def _found_by(self, number: int) -> dict[str, str]:
        asked = "SELECT listed FROM found_by WHERE n = ?"
        listed = self._database.execute(asked, (number,)).fetchone()
        return {} if listed is None else dict(json.loads(listed[0]))

    def count(self) -> int:
        """How many jobs there are. Raises as ``rows``."""
        while True:
            try:
                return int(self._database.execute("SELECT count(*) FROM job").fetchone()[0])
            except sqlite3.DatabaseError as error:
                self._start_again(error)
                self.sync()


def _row_of(columns: Sequence[Any], found_by: dict[str, str]) -> JobRow:
    job, kind, state, step, lines, begun, last, ended, vehicle, verdict, title = columns[:11]
    people, personal, hold, why, sealed = columns[11:]
    return JobRow(job, kind, state, step, lines, begun, last, ended, vehicle, verdict, title,
               _people_of(people), personal, hold != 0, why, found_by, "", sealed != 0)  # fmt: skip


@lru_cache(maxsize=1024)
def _people_of(listed: str) -> tuple[tuple[str, str], ...]:
    """People as the row has them; most jobs of a workshop have the same."""
    return tuple((str(who), str(name)) for who, name in json.loads(listed))


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
            _index_words(database)
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


def _index_words(database: sqlite3.Connection) -> None:
    """The index of groups of three letters, where this SQLite has it."""
    with contextlib.suppress(sqlite3.OperationalError):
        for statement in INDEXES:
            database.execute(statement)


def _check(database: sqlite3.Connection) -> None:
    mark, version = _number(database, "application_id"), _number(database, "user_version")
    tables = {name for name in _tables(database) if not _INDEX.fullmatch(name)}
    if mark == 0 and not tables:
        return
    if mark != APPLICATION_ID:
        raise _NotOurs(_("a database of another program"))
    if version != VERSION or tables != set(_TABLES):
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
