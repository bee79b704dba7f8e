"""A bay sends its jobs: in order, once, from where it stopped; nothing there is overwritten.

The bay's folder stays the record, and no job waits for this. Each batch of lines is one
transaction; the server itself refuses a line that does not follow. So a killed server, a cut
network and a bay that sends twice lose and double nothing. What does not fit is found and named:

    altered       the bay's line differs from the one that was sent
    rolled-back   the bay has fewer lines than it sent
    gone          a job that was sent is not in the bay's folder any more (until acknowledged)
    doubled       another bay has sent a job of this id (found by the server)
    broken        the bay's own chain is not sound: nothing of it is sent
    unread        it could not be read now: tried the next time, and the server is told nothing
"""

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

from steplatch.safety.catalogue import _

from ..jobs.book import JobBook, stamps
from ..jobs.digest import JobRow, digest_of
from ..jobs.facts import JobFacts
from ..jobs.projection import Journal
from ..jobs.questions import put_facts
from ..record import DataFolder, Disk, JobFolder, RecordError
from ..record.clocks import utc_now
from ..record.disk import read_whole
from ..record.late import LATE_NAME, late_path
from ..record.line import hash_of
from ..record.seal import earlier_seals
from .findings import found_there, known_of, open_of
from .server import BookFile, connected, own_path, run_on

if TYPE_CHECKING:
    from psycopg import Connection

BATCH: Final = 200
MAX_FILE_BYTES: Final = 50_000_000
_ROOMS: Final = ("texts", "seal")
"""What goes beside the journal, with earlier seals and the list of what was attached after the end.
Names, attachments and raw logs of the vehicle stay at the bay."""


@dataclass(slots=True)
class Sent:
    """What sending came to. ``findings`` are (job, what, detail)."""

    jobs: int = 0
    lines: int = 0
    erased: list[str] = field(default_factory=list)
    findings: list[tuple[str, str, str]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class There:
    """A job as the server has it of this bay."""

    lines: int
    head: str
    stamp: str


def send(
    data: DataFolder, settings: BookFile, say: Callable[[int, int], None] | None = None
) -> Sent:
    """Send what is not there yet. Raises NoServer; what was sent until then stays sent."""
    out = Sent()
    local = stamps(data)
    with connected(settings.server) as connection:
        there = jobs_there(connection)
        _gone(connection, out, {job: known for job, known in there.items() if job not in local})
        for number, (job, stamp) in enumerate(local.items(), start=1):
            known = there.get(job, There(0, "", ""))
            marked = f"{settings.personal} {stamp}"
            if known.stamp != marked:
                _send_job(connection, data.job(job), known, marked, settings, out)
            if say is not None:
                say(number, len(local))
    _write_down(data, out.erased)
    return out


def jobs_there(connection: "Connection[Any]") -> dict[str, There]:
    """Every job that the server has of this bay."""
    rows = connection.execute(
        "SELECT job, lines, head, stamp FROM copy_job WHERE bay = current_user ORDER BY job"
    ).fetchall()
    return {str(job): There(lines, head, stamp) for job, lines, head, stamp in rows}


def _send_job(
    connection: "Connection[Any]", folder: JobFolder, known: There, marked: str,
    settings: BookFile, out: Sent,
) -> None:  # fmt: skip
    try:
        journal = Journal.of(folder)
        rows = _raw_lines(folder, journal)
    except (RecordError, OSError) as error:
        out.findings.append((folder.id, "unread", str(error)[:200]))  # of this moment alone
        return
    if not journal.chain.sound:
        _found(
            connection, out, folder.id, "broken", _("its chain is not sound: audit it at the bay")
        )
        return
    if wrong := _differs(connection, folder.id, rows, known):
        _found(connection, out, folder.id, *wrong)
        return
    for start in range(known.lines, len(rows), BATCH):
        with connection.transaction():
            _send_lines(connection, folder.id, start, rows[start : start + BATCH])
    row = digest_of(journal)
    with connection.transaction():
        for path, raw in _files(folder):
            connection.execute(
                "INSERT INTO copy_file (bay, job, path, sha256, content) "
                "VALUES (current_user, %s, %s, %s, %s) ON CONFLICT DO NOTHING",
                (folder.id, path, hashlib.sha256(raw).hexdigest(), raw),
            )
        erased = _put_derived(connection, row, settings)
        connection.execute(
            "UPDATE copy_job SET stamp = %s WHERE bay = current_user AND job = %s",
            (marked, folder.id),
        )
    out.jobs += 1
    out.lines += len(rows) - known.lines
    if erased and not _car_of(connection, folder.id):  # asked again, after it was made safe
        out.erased.append(folder.id)


def _raw_lines(folder: JobFolder, journal: Journal) -> list[bytes]:
    """The exact bytes of the lines that were read, each held against its hash."""
    raw = folder.journal.read_bytes().splitlines(keepends=True)[: len(journal.lines)]
    for line, read in zip(raw, journal.lines, strict=True):
        if hash_of(line) != read.sha256:
            raise RecordError(
                str(folder.journal), _("it changed while it was read"), _("Send again")
            )
    return raw


def _differs(
    connection: "Connection[Any]", job: str, rows: list[bytes], known: There
) -> tuple[str, str] | None:
    """How the bay's copy differs from what was sent; None where it goes on from it."""
    if known.lines > len(rows):
        return "rolled-back", _(
            "{lines} lines were sent, the bay has {count}", lines=known.lines, count=len(rows)
        )
    if not known.lines or hash_of(rows[known.lines - 1]) == known.head:
        return None
    sent = connection.execute(
        "SELECT seq, sha256 FROM copy_line WHERE bay = current_user AND job = %s ORDER BY seq",
        (job,),
    ).fetchall()
    first = next(seq for seq, sha256 in sent if hash_of(rows[seq - 1]) != sha256)
    return "altered", _("line {first} is not the one that was sent", first=first)


def _send_lines(connection: "Connection[Any]", job: str, start: int, rows: Iterable[bytes]) -> None:
    with connection.cursor() as cursor:
        cursor.executemany(
            "INSERT INTO copy_line (bay, job, seq, sha256, raw) "
            "VALUES (current_user, %s, %s, %s, %s)",
            [(job, seq, hash_of(raw), raw) for seq, raw in enumerate(rows, start=start + 1)],
        )


def _files(folder: JobFolder) -> list[tuple[str, bytes]]:
    found = []
    if late_path(folder).is_file():
        found.append((LATE_NAME, read_whole(Disk(), late_path(folder), MAX_FILE_BYTES)))
    for room in (*_ROOMS, *(path.name for path in earlier_seals(folder))):
        place = folder.path / room
        for path in sorted(place.iterdir()) if place.is_dir() else ():
            if path.is_file() and not path.is_symlink():
                found.append((f"{room}/{path.name}", read_whole(Disk(), path, MAX_FILE_BYTES)))
    return found


def _put_derived(connection: "Connection[Any]", row: JobRow, settings: BookFile) -> bool:
    """The job's facts anew; whether a registration that stood there is taken away by it."""
    run, name = run_on(connection), _name(connection, row.job)
    stood = _car_of(connection, row.job)
    for table in ("job_fact", "stumble"):
        run(f"DELETE FROM {table} WHERE id = ?", (name,))
    if stood:
        run("SELECT next_visit(?)", (stood,))
    facts = row.facts if settings.personal == "car" else replace(row.facts, car="")
    if facts == JobFacts() or not facts.day:
        return bool(stood)
    put_facts(run, replace(row, job=name, facts=facts), "SELECT next_visit(?)")
    return bool(stood) and not facts.car


def _name(connection: "Connection[Any]", job: str) -> str:
    """A job's name in the derived book, where several bays may have one id."""
    row = connection.execute("SELECT current_user").fetchone()
    return f"{row[0] if row else ''}/{job}"


def _car_of(connection: "Connection[Any]", job: str) -> str:
    name = _name(connection, job)
    row = connection.execute("SELECT car FROM job_fact WHERE id = %s", (name,)).fetchone()
    return str(row[0]) if row is not None else ""


def _gone(connection: "Connection[Any]", out: Sent, jobs: dict[str, There]) -> None:
    """Say which jobs are gone, but for those of which somebody has said why."""
    known = {one[:3] for one in known_of(found_there(connection, own=True))} if jobs else set()
    for job, there in jobs.items():
        said = _(
            "{lines} lines were sent, it is not in the bay's folder any more", lines=there.lines
        )
        if (job, "gone", said) not in known:
            _found(connection, out, job, "gone", said)


def _found(connection: "Connection[Any]", out: Sent, job: str, what: str, detail: str) -> None:
    out.findings.append((job, what, detail))
    with connection.transaction():
        connection.execute(
            "INSERT INTO finding (bay, job, what, detail) VALUES (current_user, %s, %s, %s) "
            "ON CONFLICT DO NOTHING",
            (job, what, detail),
        )


def _write_down(data: DataFolder, erased: list[str]) -> None:
    """Keep at the bay that the server has confirmed an erasure."""
    with own_path(data).open("a", encoding="utf-8") if erased else _nowhere() as stream:
        for job in erased:
            stream.write(json.dumps({"job": job, "utc": utc_now(), "confirmed": True}) + "\n")


def _nowhere() -> Any:
    import io

    return io.StringIO()


@dataclass(frozen=True, slots=True)
class Status:
    """What stands where. ``unsent`` are jobs that are not, or not wholly, on the server;
    ``findings`` (job, what, detail) of this bay that nobody has acknowledged, ``acknowledged``
    those of which somebody has (by whom, why); ``erasing`` jobs whose registration the server still
    has, though this bay erased it."""

    bay: str
    jobs: int
    sent: int
    unsent: tuple[str, ...]
    findings: tuple[tuple[str, str, str], ...]
    erasing: tuple[str, ...]
    acknowledged: tuple[tuple[str, str, str, str, str], ...] = ()


def status(data: DataFolder, settings: BookFile) -> Status:
    """What is not sent yet, and what was found. Raises NoServer."""
    local = stamps(data)
    with JobBook.open(data) as book:
        book.sync()
        kept = {row.job for row in book.rows(with_personal=True) if "registration" in row.found_by}
    with connected(settings.server) as connection:
        there = jobs_there(connection)
        found = found_there(connection, own=True)
        cars = connection.execute("SELECT id FROM job_fact WHERE car <> ''").fetchall()
        bay = _name(connection, "").rstrip("/")
    marks = {job: f"{settings.personal} {stamp}" for job, stamp in local.items()}
    unsent = tuple(j for j, mark in marks.items() if j not in there or there[j].stamp != mark)
    named = (str(name).partition("/")[2] for (name,) in cars)
    erasing = tuple(job for job in named if job not in kept)
    return Status(bay, len(local), len(local) - len(unsent), unsent, open_of(found), erasing,
                  known_of(found))  # fmt: skip
