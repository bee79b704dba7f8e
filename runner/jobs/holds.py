"""A hold keeps a job's personal data from being erased while a dispute runs.

``hold.json`` in the job's folder is a list of what was said, oldest first; nothing in it is ever
changed. It stands beside the journal, because a job that has ended gets no more lines. A file
that cannot be read counts as a hold: in doubt nothing is erased.

    {"schema":1,"entries":[{"act":"hold","by":"supervisor-1","utc":"2026-..Z","reason":"..."}]}
"""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _

from ..record import BadSideFile, JobFolder, JobLock, RecordError
from ..record.disk import Disk, read_whole, replace_file
from ..record.faults import failed

HOLD_NAME: Final = "hold.json"
SCHEMA: Final = 1
MAX_FILE_BYTES: Final = 256 * 1024
MAX_TEXT_CHARS: Final = 400
LEAST_REASON: Final = 10


class DataRequestRefused(RecordError):  # noqa: N818 - the name says the fact
    """Something asked about customers' data is refused; nothing was changed."""


@dataclass(frozen=True, slots=True)
class HoldEntry:
    """One act: ``hold`` or ``release``, who, when (RFC 3339, UTC), why."""

    act: str
    by: str
    utc: str
    reason: str


def hold_path(folder: JobFolder) -> Path:
    """Where a job's holds stand."""
    return folder.path / HOLD_NAME


def holds_of(folder: JobFolder, disk: Disk | None = None) -> tuple[HoldEntry, ...]:
    """Every hold and release, oldest first. Raises BadSideFile, JournalFailed."""
    path = hold_path(folder)
    try:
        raw = read_whole(disk or Disk(), path, MAX_FILE_BYTES)
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise failed(path, _("read the holds"), error) from error
    try:
        members = json.loads(raw.decode("utf-8"))
        if set(members) != {"schema", "entries"} or members["schema"] != SCHEMA:
            raise ValueError("members")
        entries = tuple(HoldEntry(**entry) for entry in members["entries"])
        if not all(_sound(entry) for entry in entries):
            raise ValueError("entries")
    except (ValueError, TypeError, AttributeError, RecursionError):
        raise BadSideFile(
            str(path),
            _("it is no list of holds as this program writes it"),
            _("Restore it from a backup; until then the job counts as held"),
        ) from None
    return entries


def is_held(folder: JobFolder) -> bool:
    """Whether a hold stands. A file that cannot be read counts as one."""
    try:
        entries = holds_of(folder)
    except Exception:  # in doubt nothing is erased
        return True
    return bool(entries) and entries[-1].act == "hold"


def write_hold(lock: JobLock, entry: HoldEntry, disk: Disk | None = None) -> None:
    """Add an entry. Raises Refused when it says nothing or changes nothing."""
    disk = disk or Disk()
    path = hold_path(lock.job)
    entries = holds_of(lock.job, disk)
    if not _sound(entry) or len(entry.reason.strip()) < LEAST_REASON:
        raise DataRequestRefused(
            str(path),
            _(
                "name or reason is missing, or the reason has not {least_reason} to "
                "{max_text_chars} characters on one line",
                least_reason=LEAST_REASON,
                max_text_chars=MAX_TEXT_CHARS,
            ),
            _("Say who and why, so that somebody else understands it in a year"),
        )
    standing = bool(entries) and entries[-1].act == "hold"
    if standing == (entry.act == "hold"):
        state = _("held already") if standing else _("not held")
        raise DataRequestRefused(
            str(path), _("the job is {state}", state=state), _("Nothing to do")
        )
    members = {"schema": SCHEMA, "entries": [asdict(e) for e in (*entries, entry)]}
    raw = json.dumps(members, ensure_ascii=False, indent=1).encode("utf-8", "strict") + b"\n"
    try:
        replace_file(disk, path, raw)
    except OSError as error:
        raise failed(path, _("write the hold"), error) from error


def _sound(entry: HoldEntry) -> bool:
    texts = (entry.by, entry.utc, entry.reason)
    return entry.act in ("hold", "release") and all(
        isinstance(t, str) and 0 < len(t.strip()) <= MAX_TEXT_CHARS and t.isprintable()
        for t in texts
    )
