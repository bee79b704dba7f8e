"""What lies in a job's folder and is no part of its record: an added file, a text nobody named."""

import re
from collections.abc import Iterator

from steplatch.safety.catalogue import _

from ..core.events import Opened, Recorded
from ..input.findings import shown
from ..record import Disk, JobFolder, RecordError
from ..record.attachments import FOLDER as ATTACHMENTS
from ..record.disk import ASIDE_SUFFIX
from ..record.faults import failed
from ..record.folders import HEAD_NAME, JOURNAL_NAME, LOCK_NAME, PERSONAL_NAME
from ..record.late import LATE_NAME, late_files
from ..record.seal import EARLIER, PUBLIC_KEY, SIGNATURE, STATEMENT, earlier_seals
from ..record.seal import FOLDER as SEAL
from .holds import HOLD_NAME
from .ledgers import SHEET_NAME
from .projection import BrokenJob, Journal, typed
from .vehicle_link import ROOM as LINKS

TEXTS = "texts"
_FILES = (
    HEAD_NAME,
    JOURNAL_NAME,
    LOCK_NAME,
    PERSONAL_NAME,
    HOLD_NAME,
    SHEET_NAME,
    LATE_NAME,
    "practice.json",
)
_ROOMS = (TEXTS, ATTACHMENTS, LINKS, SEAL, f"{SEAL}{ASIDE_SUFFIX}")
_LINK = re.compile(r"[1-9][0-9]{0,5}\.raw")
_KNOWN = re.compile(f"torn-[0-9]{{1,6}}|{EARLIER.pattern}")
"""A sheet that the program put there, and what a crash leaves, are known; so is every name that
it gives a file."""


def beside(journal: Journal) -> tuple[str, ...]:
    """Each file or folder that the record does not name. Nothing where it cannot be read."""
    try:
        return tuple(
            _("{shown} lies in its folder", shown=shown(name)) for name in _strange(journal)
        )
    except (BrokenJob, RecordError):
        return ()


def _strange(journal: Journal) -> Iterator[str]:
    folder, disk = journal.folder, Disk()
    known = {*_FILES, *(f"{name}{ASIDE_SUFFIX}" for name in _FILES)}
    for name in _names(folder, disk, ""):
        if name not in known and name not in _ROOMS and not _KNOWN.fullmatch(name):
            yield name
    named = _named(journal)
    for name in _names(folder, disk, LINKS):
        if not _LINK.fullmatch(name):  # its content is compared with the journal by the audit
            yield f"{LINKS}/{name}"
    seals = (SEAL, *(path.name for path in earlier_seals(folder)))
    late = {one.sha256 for one in late_files(folder, disk)}
    for room, allowed in (
        (TEXTS, named[0]), (ATTACHMENTS, named[1] | late),
        *((seal, {STATEMENT, SIGNATURE, PUBLIC_KEY}) for seal in seals),
    ):  # fmt: skip
        for name in _names(folder, disk, room):
            if (name if room in seals else name.split(".")[0]) not in allowed:
                yield f"{room}/{name}"


def _named(journal: Journal) -> tuple[set[str], set[str]]:
    """The hashes of texts and attachments that the journal names."""
    texts: set[str] = set()
    kept: set[str] = set()
    for line in typed(journal.lines):
        for event in line.events:
            match event:
                case Opened(files=files):
                    texts |= set(files.values())
                case Recorded("attachment", value):
                    kept.add(str(value.get("sha256", "")))
    return texts, kept


def _names(folder: JobFolder, disk: Disk, room: str) -> list[str]:
    path = folder.path / room if room else folder.path
    try:
        return disk.names(path)
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise failed(path, _("list the job's files"), error) from error
