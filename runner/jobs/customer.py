"""Customers' data: whose they are, when they are due, taking them out, keeping them for a dispute.

Erasing replaces every kept value of a job's side file, with its salt, by who erased it, when and
why. The journal is not touched: its chain and its seal stay whole, and its salted hashes say
nothing any more. What was derived from the values in the job's folder goes with them: sheets,
and what a crash may have left of the side file. Not reached: printed sheets, exports, backups,
photos, and free text in the journal; ``Erasure`` names what of these is known.
"""

import html
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..record import (
    DataFolder,
    Erased,
    JobFolder,
    JobLock,
    PersonalField,
    RecordError,
    SaltedValue,
    erase_personal,
    list_jobs,
    load_personal,
    read,
)
from ..record.attachments import FOLDER as ATTACHMENTS
from ..record.disk import ASIDE_SUFFIX, Disk, fsync_folder, read_whole
from ..record.faults import failed
from ..workshop.pins import plain_name
from .digest import ENDS, JobRow
from .export import export_job, free_text_lines
from .holds import DataRequestRefused, holds_of, is_held

DERIVED: Final = ("sheet.html", "sheet.pdf", "sheet.txt", f"personal.json{ASIDE_SUFFIX}")
"""Files of a job's folder that hold personal values and are made from them."""
MAX_COPY_BYTES: Final = 25_000_000


class KeptForDispute(DataRequestRefused):
    """A hold stands: the data are not erased."""


@dataclass(frozen=True, slots=True)
class Erasure:
    """What was erased, which files went with it, and where the values may still stand.

    lines: journal lines in whose free text one of the values stands; attachments: files whose
    pictures or texts somebody has to look at; copies: other files of the folder that hold a value.
    """

    fields: tuple[str, ...]
    removed: tuple[str, ...]
    lines: tuple[int, ...]
    attachments: int
    copies: tuple[str, ...] = ()


def erase_customer(folder: JobFolder, record: Erased, disk: Disk | None = None) -> Erasure:
    """Erase every kept personal value of one job.

    Raises KeptForDispute, Refused (nothing to erase), HeldByAnother (the job is open),
    BadSideFile, JournalFailed.
    """
    disk = disk or Disk()
    with JobLock.take(folder, disk) as lock:
        _refuse_held(folder, disk)
        personal = load_personal(folder.path, disk)
        entries = personal.fields if personal is not None else {}
        kept = {f: e.value for f, e in entries.items() if isinstance(e, SaltedValue)}
        removed = _remove_derived(folder, disk)
        if not kept:
            state = _("were erased already") if entries else _("were never kept")
            raise DataRequestRefused(
                str(folder.path), _("its customer's data {state}", state=state), _("Nothing to do")
            )
        lines = _lines_with(folder, list(kept.values()))
        erase_personal(lock, kept, record, disk)
    fields = tuple(field.value for field in kept)
    copies = _copies(folder, disk, list(kept.values()))
    return Erasure(fields, tuple(removed), lines, _attachments(folder), copies)


def _copies(folder: JobFolder, disk: Disk, values: list[str]) -> tuple[str, ...]:
    """Files that somebody put into the folder and that hold one of the values, or cannot be read.

    Looked at as text, as a page writes it too; a value inside a picture or PDF is not found.
    """
    wanted = {form.encode("utf-8") for value in values for form in (value, html.escape(value))}
    found = []
    for path in sorted(folder.path.rglob("*")):
        if path == folder.journal or path.is_dir():
            continue
        try:
            raw = read_whole(disk, path, MAX_COPY_BYTES)
        except OSError:
            found.append(str(path.relative_to(folder.path)))
            continue
        if any(value in raw for value in wanted):
            found.append(str(path.relative_to(folder.path)))
    return tuple(found)


def _refuse_held(folder: JobFolder, disk: Disk) -> None:
    if not is_held(folder):
        return
    last = holds_of(folder, disk)[-1]  # a file that cannot be read says so itself
    raise KeptForDispute(
        str(folder.path),
        _(
            "{by} has held its data since {utc}: {reason}",
            by=last.by,
            utc=last.utc[:10],
            reason=last.reason,
        ),
        _("When the dispute is over: steplatch customer release {id} --reason ...", id=folder.id),
    )


def _remove_derived(folder: JobFolder, disk: Disk) -> list[str]:
    removed = []
    try:
        for name in DERIVED:
            path = folder.path / name
            if path.is_file() or path.is_symlink():
                path.unlink()
                removed.append(name)
        if removed:
            fsync_folder(disk, folder.path)
    except OSError as error:
        raise failed(folder.path, _("remove the sheet with the data on it"), error) from error
    return removed


def _lines_with(folder: JobFolder, values: list[str]) -> tuple[int, ...]:
    """The lines with a value in free text; none known when the journal cannot be read."""
    try:
        return tuple(free_text_lines(list(read(folder.path)), values))
    except RecordError:
        return ()


def _attachments(folder: JobFolder) -> int:
    room = folder.path / ATTACHMENTS
    return sum(file.is_file() for file in room.iterdir()) if room.is_dir() else 0


def jobs_of_customer(data: DataFolder, text: str) -> tuple[str, list[JobFolder]]:
    """The customer's name and all jobs that keep it; ``text`` is the name or a job's id.

    Names are compared without capitals, extra spaces and compatible forms: two customers of one
    name cannot be told apart here. Raises Refused when there is none.
    """
    named: dict[str, tuple[str, list[JobFolder]]] = {}
    by_job: dict[str, str] = {}
    for folder in list_jobs(data):
        name = _customer(folder)
        if name is not None:
            by_job[folder.id] = plain_name(name)
            named.setdefault(plain_name(name), (name, []))[1].append(folder)
    if plain_name(text) in named:
        return named[plain_name(text)]
    fits = [job for job in by_job if job == text or job.startswith(text) or job.endswith(text)]
    if text and len(fits) == 1:
        return named[by_job[fits[0]]]
    raise DataRequestRefused(
        str(data.jobs),
        _(
            "no job keeps a customer of that name, nor is it the id of one that does{part}",
            part=" (it fits several jobs)" if text and len(fits) > 1 else "",
        ),
        _("Type the name as it was given, or a job's id; erased names find nothing any more"),
    )


def _customer(folder: JobFolder) -> str | None:
    try:
        personal = load_personal(folder.path)
    except RecordError:
        return None
    entry = personal.fields.get(PersonalField.CUSTOMER_NAME) if personal is not None else None
    return entry.value if isinstance(entry, SaltedValue) else None


def export_customer(data: DataFolder, text: str) -> dict[str, Any]:
    """All jobs of one customer, values included, as one JSON object."""
    name, folders = jobs_of_customer(data, text)
    jobs, unreadable = [], []
    for folder in folders:
        try:
            jobs.append(export_job(folder, with_personal=True))
        except RecordError as error:
            unreadable.append({"job": folder.id, "why": error.what})
    return {
        "format": "steplatch-customer-export",
        "version": 1,
        "customer": name,
        "jobs": jobs,
        "unreadable": unreadable,
    }


@dataclass(frozen=True, slots=True)
class Due:
    """A job whose customer's data have been kept for long enough; ``held`` names a hold."""

    job: str
    since: str
    ended: bool
    held: bool


def due(rows: Iterable[JobRow], months: int, today: date) -> list[Due]:
    """What is due on a day: kept ``months`` after the end, or after the last line of a job that
    never ended. A job that cannot be read counts from the date in its id.
    """
    found = []
    for row in rows:
        if row.personal not in ("kept", "partly erased", "unreadable"):
            continue
        end = date.fromisoformat((row.ended or row.last or row.job)[:10])
        if after_months(end, months) <= today:
            found.append(Due(row.job, end.isoformat(), row.state in ENDS, row.hold))
    return found


def after_months(day: date, months: int) -> date:
    """The same day so many months later, or that month's last day when it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    for last in (day.day, 30, 29, 28):
        try:
            return date(year, month + 1, min(day.day, last))
        except ValueError:
            continue
    raise AssertionError("every month has 28 days")
