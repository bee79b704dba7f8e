"""Files attached to a job after its end: for fourteen days, in the open, by a named person.

``late.json`` in the job's folder lists them, oldest first; nothing in it is ever changed. It stands
beside the journal, because a job that has ended gets no more lines. Three things bind it: the
workshop's ledger, which has each file before it is kept; the seal, which is made anew and names
count and hash of the list; and the earlier seals, which stay beside it (``seal-1``, ``seal-2``).

    {"schema":1,"entries":[{"by":"technician-1","utc":"2026-..Z","sha256":"..","kind":"jpeg",..}]}
"""

import hashlib
import json
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _

from .disk import Disk, read_whole
from .faults import BadSideFile, failed
from .folders import JobFolder

LATE_NAME: Final = "late.json"
OPEN_DAYS: Final = 14
"""For so long after a job's end a file may be attached (a design choice: until the car has been
driven and the customer has answered)."""
MOST_FILES: Final = 50
MAX_FILE_BYTES: Final = 256 * 1024
SCHEMA: Final = 1
_HASH: Final = re.compile("[0-9a-f]{64}")
_UTC: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z")


@dataclass(frozen=True, slots=True)
class LateFile:
    """One file: who attached it (id), when (RFC 3339, UTC), and what a note of a file in the
    journal says of it, in the same words."""

    by: str
    utc: str
    sha256: str
    bytes: str
    kind: str
    label: str
    cleaned: str
    page: str = ""

    def noted(self) -> dict[str, str]:
        """As the journal notes a file."""
        return {name: text for name, text in asdict(self).items() if text}


def late_path(folder: JobFolder) -> Path:
    """Where the list stands."""
    return folder.path / LATE_NAME


def encoded(files: tuple[LateFile, ...]) -> bytes:
    """The exact bytes of a list."""
    members = {"schema": SCHEMA, "entries": [asdict(one) for one in files]}
    return json.dumps(members, ensure_ascii=False, indent=1).encode("utf-8") + b"\n"


def decoded(raw: bytes) -> tuple[LateFile, ...]:
    """The list that these bytes hold. Raises ValueError for what this program does not write."""
    try:
        members = json.loads(raw.decode("utf-8"))
        files = tuple(LateFile(**one) for one in members["entries"])
        sound = len(files) <= MOST_FILES and all(map(_sound, files)) and encoded(files) == raw
    except (TypeError, KeyError, AttributeError, RecursionError) as error:
        raise ValueError(str(error)) from error
    if not sound:
        raise ValueError("it is not as this program writes it")
    return files


def _sound(one: LateFile) -> bool:
    texts = asdict(one).values()
    return (
        all(isinstance(text, str) and text.isprintable() for text in texts)
        and bool(_HASH.fullmatch(one.sha256))
        and bool(_UTC.fullmatch(one.utc))
        and bool(one.by)
    )


def late_files(folder: JobFolder, disk: Disk | None = None) -> tuple[LateFile, ...]:
    """Every file attached after the end, oldest first. Raises BadSideFile, JournalFailed."""
    path = late_path(folder)
    try:
        return decoded(read_whole(disk or Disk(), path, MAX_FILE_BYTES))
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise failed(path, _("read what was attached after the end"), error) from error
    except ValueError as error:
        raise BadSideFile(
            str(path),
            _("what was attached after the end: {text}", text=error),
            _("Restore it from a backup"),
        ) from None


def late_mark(files: tuple[LateFile, ...]) -> str:
    """Count and hash of a list, as a seal names them; '' of none."""
    return f"{len(files)} {hashlib.sha256(encoded(files)).hexdigest()}" if files else ""


def over_since(ended_utc: str, utc: str) -> str:
    """The day on which the fourteen days after the end were over at ``utc``; '' while they run."""
    last = _at(ended_utc) + timedelta(days=OPEN_DAYS)
    return last.date().isoformat() if _at(utc) > last else ""


def out_of_time(files: tuple[LateFile, ...], ended_utc: str) -> Iterator[str]:
    """Each file that was attached when none could be, in words."""
    for one in files:
        if _at(one.utc) < _at(ended_utc):
            yield _(
                "'{label}' was attached before the end, and not noted in the journal",
                label=one.label,
            )
        elif over := over_since(ended_utc, one.utc):
            yield _(
                "'{label}' was attached on {day}; the {days} days were over on {over}",
                label=one.label,
                day=one.utc[:10],
                days=OPEN_DAYS,
                over=over,
            )


def _at(utc: str) -> datetime:
    return datetime.fromisoformat(utc.replace("Z", "+00:00"))
