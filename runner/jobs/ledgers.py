"""What the workshop's ledger is told, and what an audit makes of it.

Real jobs stand in the ledger. Practice is no evidence of a job, but of who practised: where
somebody works it by hand as themselves, it stands in a ledger of its own, from before they are
named in its journal. So a practice job that was copied, made up or taken away shows.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from steplatch.safety.catalogue import _

from ..input.findings import shown
from ..record import DataFolder, Disk, JobFolder, JournalLine, RecordError, list_jobs
from ..record.disk import read_whole
from ..record.folders import JOBS_NAME
from ..record.keys import KeyFolder, NoKey, PublicKey, SigningKey
from ..record.late import late_files
from ..record.ledger import FOLDER, PRACTICE, Entry, Ledger, note, read_ledger
from ..record.seal import SealCheck

SHEET_NAME = "sheet.html"
MAX_SHEET_BYTES = 50_000_000


def key_folder(data: DataFolder) -> KeyFolder:
    """Where a data folder keeps its keys."""
    return KeyFolder(data.path / "keys")


def data_of(folder: JobFolder) -> DataFolder | None:
    """The data folder that a job lies in; None for a copy that lies elsewhere."""
    room = folder.path.parent
    return DataFolder(room.parent, _("the job's")) if room.name == JOBS_NAME else None


def key_at_hand(data: DataFolder) -> SigningKey | None:
    """The workshop's key where it opens without a passphrase."""
    keys = key_folder(data)
    try:
        return None if not keys.is_there() or keys.locked() else keys.open()
    except NoKey:
        return None


def tell(
    data: DataFolder, entry: Entry, signing: SigningKey | None = None, disk: Disk | None = None,
    folder: str = FOLDER,
) -> Ledger:  # fmt: skip
    """Add a line to the ledger, signed where the key is at hand. Raises JournalFailed."""
    there = () if folder == PRACTICE else tuple(one.id for one in list_jobs(data, disk))
    return note(data, entry, signing or key_at_hand(data), disk, there, folder)


def list_act(folder: JobFolder, what: str, by: str, why: str) -> None:
    """Have the ledger name what was done with a real job that it knows: held, released, erased.

    Raises JournalFailed.
    """
    data = data_of(folder)
    ledger = None if data is None else read_ledger(data)
    if data is not None and ledger is not None and ledger.of(folder.id):
        tell(data, Entry(what, folder.id, by, note=why))


def told_ended(data: DataFolder, job: str) -> bool:
    """Whether the ledger has the end of a job."""
    ledger = read_ledger(data)
    return ledger is not None and any(entry.what == "ended" for entry in ledger.of(job))


def practice_goes_on(data: DataFolder, job: str) -> bool:
    """Whether the ledger of practice has the beginning of a job and not its end."""
    ledger = read_ledger(data, folder=PRACTICE)
    told = [] if ledger is None else [entry.what for entry in ledger.of(job)]
    return "begun" in told and "ended" not in told


def sheet_sha256(folder: JobFolder) -> str:
    """SHA-256 of the page that lies with a job; '' where there is none that can be read."""
    try:
        raw = read_whole(Disk(), folder.path / SHEET_NAME, MAX_SHEET_BYTES)
    except OSError:
        return ""
    return hashlib.sha256(raw).hexdigest()


@dataclass(frozen=True, slots=True)
class LedgerCheck:
    """What the ledger says against one job. ``listed``: it has a line of it, or knew it as there
    before; ``wrong`` speaks of a change, ``sheet`` of the page alone."""

    listed: bool
    wrong: tuple[str, ...] = ()
    sheet: str = ""


def compared(
    ledger: Ledger, folder: JobFolder, lines: tuple[JournalLine, ...], practice: bool,
    seal: SealCheck,
) -> LedgerCheck:  # fmt: skip
    """One job against the ledger of the data folder that it lies in."""
    entries = ledger.of(folder.id)
    began = any(entry.what == "begun" for entry in entries)
    wrong = [
        *_heads(entries, lines),
        *_seals(entries, seal),
        *_attached(entries, folder),
        *(["the ledger has it as a real job, its journal says practice"] * (began and practice)),
    ]
    mark = seal.statement.ledger if seal.statement is not None else ""
    if mark and not ledger.holds(mark):
        wrong.append(_("its seal names a line that the ledger has not: it was cut, or is another"))
    return LedgerCheck(began or folder.id in ledger.before(), tuple(wrong), _sheet(entries, folder))


def _heads(entries: tuple[Entry, ...], lines: tuple[JournalLine, ...]) -> Iterator[str]:
    for entry in entries:
        if entry.lines > len(lines):
            yield _(
                "the ledger knows {lines} lines of it, there are {count}",
                lines=entry.lines,
                count=len(lines),
            )
        elif entry.lines and lines[entry.lines - 1].sha256 != entry.head:
            yield _(
                "the ledger has another hash for its line {lines} ({what})",
                lines=entry.lines,
                what=entry.what,
            )


def _seals(entries: tuple[Entry, ...], seal: SealCheck) -> Iterator[str]:
    keys = [entry.key for entry in entries if entry.what == "sealed"]
    if keys and seal.state == "none":
        yield _("the ledger has it sealed with key {keys}: its seal was taken away", keys=keys[-1])
    elif seal.state == "good" and len(keys) > 1 + seal.earlier:
        yield _(
            "the ledger has it sealed {times} times, {count} seals are there",
            times=len(keys),
            count=1 + seal.earlier,
        )
    elif keys and seal.statement is not None and seal.statement.key != keys[-1]:
        yield _(
            "the ledger has it sealed with key {keys}, the seal is by {key}",
            keys=keys[-1],
            key=seal.statement.key,
        )


def _attached(entries: tuple[Entry, ...], folder: JobFolder) -> Iterator[str]:
    """What the ledger has as attached after the end, against what lies there."""
    told = [(entry.note, entry.by) for entry in entries if entry.what == "attached"]
    try:
        files = late_files(folder)
    except RecordError:
        return  # the audit says it of the file itself
    lies = [(f"{n} {one.sha256} {one.utc}", one.by) for n, one in enumerate(files, start=1)]
    for said, by in told:
        if (said, by) not in lies:
            number, digest, utc = (*said.split(" "), "", "")[:3]
            yield _(
                "the ledger has file {number} ({digest}...) attached after the end by {by} on "
                "{day}: it was taken away, or attaching it was broken off",
                number=number,
                digest=digest[:8],
                by=by,
                day=utc[:10],
            )
    for said, by in lies:
        if (said, by) not in told:
            yield _(
                "file {said}... is attached after the end, and the ledger has it not",
                said=said[:10],
            )


def _sheet(entries: tuple[Entry, ...], folder: JobFolder) -> str:
    kept = [entry for entry in entries if entry.what in ("sheet", "erased")]
    if not kept or kept[-1].what == "erased":
        return ""
    stands = sheet_sha256(folder)
    if stands == kept[-1].sheet:
        return ""
    return _(
        "{sheet_name} is {part}",
        sheet_name=SHEET_NAME,
        part="not the page that was written" if stands else "gone",
    )


def of_the_whole(
    data: DataFolder, ledger: Ledger | None, known: tuple[PublicKey, ...], there: frozenset[str]
) -> tuple[str, ...]:
    """What is wrong with the ledger itself, and which of its jobs are gone; of the ledger of
    practice, what is wrong with it (which of its jobs are gone, a person's record says)."""
    practised = read_ledger(data, known, folder=PRACTICE)
    of_practice = [] if practised is None else practised.findings
    found = [_("ledger of practice: {text}", text=text) for text in of_practice]
    if ledger is None:
        return tuple(found)
    found += [f"ledger: {text}" for text in ledger.findings]
    if known and ledger.entries and not ledger.signed:
        found.append(_("ledger: it is not signed, though this workshop has a key"))
    gone = [job for job in ledger.jobs() if job not in there]
    found += [
        _(
            "{shown}: the ledger has it begun, its folder is gone from {jobs}",
            shown=shown(job),
            jobs=data.jobs,
        )
        for job in gone
    ]
    return tuple(found)
