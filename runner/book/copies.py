"""Every copy on the server audited: its chain, its seal, and every decision made again.

A copy is written out into an empty folder, as the bay had it, and goes through the audit of any
job. What never goes to the server (names, attachments, raw logs of the vehicle) is not checked
here; what an audit would say of that is left out.
"""

import contextlib
import re
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from steplatch.safety.catalogue import _

from ..input.findings import BadFile
from ..jobs.auditing import AuditGrade, audit
from ..jobs.projection import BrokenJob
from ..record import JobFolder, RecordError, is_job_id
from ..record.folders import HEAD_NAME
from ..record.head import Head, encode_head
from ..record.keys import PublicKey
from ..record.late import LATE_NAME, decoded
from ..record.seal import EARLIER
from ..record.seal import FOLDER as SEAL
from .findings import Found, found_there
from .server import connected

if TYPE_CHECKING:
    from psycopg import Connection

_ROOMS: Final = re.compile(f"texts|{SEAL}|{EARLIER.pattern}")


@dataclass(frozen=True, slots=True)
class CopyAudit:
    """One copy: whose, its grade, and what is wrong with it."""

    bay: str
    job: str
    grade: AuditGrade
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BookAudit:
    """All copies, and what bays and server have found."""

    copies: tuple[CopyAudit, ...]
    findings: tuple[Found, ...]

    @property
    def worst(self) -> AuditGrade:
        """The worst of the grades."""
        from ..jobs.auditing import WORST_FIRST

        grades = {one.grade for one in self.copies}
        return next((g for g in WORST_FIRST if g in grades), AuditGrade.GOOD)


def audit_book(
    dsn: str,
    known: tuple[PublicKey, ...] | None = None,
    say: Callable[[int, int], None] | None = None,
) -> BookAudit:
    """Audit every copy; ``known`` are the workshop's keys. Raises NoServer."""
    out = []
    with connected(dsn) as connection:
        jobs = connection.execute(
            "SELECT bay, job, lines, head FROM copy_job ORDER BY bay, job"
        ).fetchall()
        for number, (bay, job, lines, head) in enumerate(jobs, start=1):
            out.append(_one(connection, str(bay), str(job), (lines, str(head)), known))
            if say is not None:
                say(number, len(jobs))
        found = found_there(connection)
    return BookAudit(tuple(out), found)


def _one(
    connection: "Connection[Any]", bay: str, job: str, said: tuple[int, str],
    known: tuple[PublicKey, ...] | None,
) -> CopyAudit:  # fmt: skip
    if not is_job_id(job):
        return CopyAudit(bay, job[:60], AuditGrade.CHANGED, (_("its id is none of a job"),))
    with tempfile.TemporaryDirectory(prefix="steplatch-copy-") as room:
        folder = JobFolder(Path(room) / job)
        wrong = list(_written_out(connection, bay, folder))
        (folder.path / HEAD_NAME).write_bytes(encode_head(Head(job, *said)))
        try:
            found = audit(folder, known_keys=known)
        except (BrokenJob, RecordError, BadFile) as error:
            return CopyAudit(bay, job, AuditGrade.CHANGED, (*wrong, str(error)[:300]))
    found = replace(found, files=(), beside=(), vehicle=())
    grade = AuditGrade.CHANGED if wrong else found.grade
    wrong += [*map(str, found.chain.findings), *found.wrong, *map(str, found.differences)]
    wrong += found.seal.lines() if found.seal.state == "broken" else []
    return CopyAudit(bay, job, grade, tuple(wrong))


def _written_out(connection: "Connection[Any]", bay: str, folder: JobFolder) -> Iterator[str]:
    """Write the copy into its folder; gives what is wrong with its files."""
    folder.path.mkdir(0o700)
    with folder.journal.open("wb") as stream:
        for (raw,) in connection.execute(
            "SELECT raw FROM copy_line WHERE bay = %s AND job = %s ORDER BY seq", (bay, folder.id)
        ):
            stream.write(raw)
    rows = connection.execute(
        "SELECT path, content FROM copy_file WHERE bay = %s AND job = %s ORDER BY sent",
        (bay, folder.id),
    ).fetchall()
    seen: dict[str, list[bytes]] = {}
    for path, content in rows:
        seen.setdefault(str(path), []).append(bytes(content))
    for name, sent in seen.items():
        room, _other, file = name.partition("/")
        plain = file == Path(file).name and file not in ("", ".", "..")
        if name != LATE_NAME and not (_ROOMS.fullmatch(room) and plain):
            yield _("{name!r} is no file of a job", name=name[:60])
            continue
        if not all(_goes_on(name, before, sent[-1], seen) for before in sent[:-1]):
            yield _("{name!r} was sent twice with another content", name=name[:60])
        (folder.path / name).parent.mkdir(exist_ok=True)
        (folder.path / name).write_bytes(sent[-1])


def _goes_on(name: str, before: bytes, after: bytes, seen: dict[str, list[bytes]]) -> bool:
    """Whether a file may stand there as ``after``, which was sent as ``before``: the list of what
    was attached after the end grows, and a seal that is made anew leaves the one before beside it.
    """
    room, _other, file = name.partition("/")
    if name == LATE_NAME:
        with contextlib.suppress(ValueError):
            return decoded(after)[: len(decoded(before))] == decoded(before)
        return False
    beside = (sent[-1] for path, sent in seen.items() if path != name and path.endswith(f"/{file}"))
    return room == SEAL and before in beside
