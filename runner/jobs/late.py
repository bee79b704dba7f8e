"""A file attached to a job that has ended: listed in the ledger first, then kept, then sealed.

Each write may be the last one before a crash. The ledger then has a file that is not there, or the
seal does not cover one that is: an audit says so, and doing the same again ends what was begun.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path

from steplatch.safety.catalogue import _

from ..core.events import Ended
from ..record import Disk, JobFolder, JobLock, JournalLine, NotRecordable, RecordError
from ..record.attachments import Attachment, check_attachment, prepared, store
from ..record.clocks import utc_now
from ..record.disk import replace_file
from ..record.faults import failed
from ..record.keys import SigningKey
from ..record.late import (
    LATE_NAME,
    MOST_FILES,
    OPEN_DAYS,
    LateFile,
    encoded,
    late_files,
    late_path,
    out_of_time,
    over_since,
)
from ..record.ledger import Entry, read_ledger
from ..record.seal import Statement, check_seal, earlier_seals, is_sealed, lacks_late, make_seal
from .ledgers import data_of, tell
from .projection import Journal, TypedLine, fold, typed


def ended_utc(lines: tuple[TypedLine, ...]) -> str:
    """When a job ended, '' while it goes on."""
    for line in reversed(lines):
        if any(isinstance(event, Ended) for event in line.events):
            return line.line.envelope.times.utc
    return ""


def attach_late(
    folder: JobFolder, source: Path, label: str, by: str, signing: SigningKey | None,
    clean: bool = False, page: bool = False, disk: Disk | None = None, utc: str = "",
) -> Attachment:  # fmt: skip
    """Attach a file to a real job that has ended, and seal it again where it was sealed.

    Raises NotRecordable: practice, a job that goes on, the days are over, no such file, another
    attaching was broken off; BrokenJob, JournalBroken, BadSideFile, HeldByAnother, JournalFailed.
    """
    disk, utc, data = disk or Disk(), utc or utc_now(), data_of(folder)
    file, raw = prepared(source, label, clean, page)
    with JobLock.take(folder, disk):
        journal = Journal.of(folder).sound()
        ended = ended_utc(tuple(typed(journal.lines)))
        if fold(journal.lines).log.practice or data is None or not ended:
            why = _("practice, or no job of this workshop that has ended")
            raise NotRecordable(folder.id, why, _("Attach to a real job, where it was worked"))
        if over := over_since(ended, utc):
            raise NotRecordable(
                folder.id,
                _(
                    "it ended on {ended}, and {days} days after that, on {over}, it was closed for "
                    "good: nothing is attached any more",
                    ended=ended[:10],
                    days=OPEN_DAYS,
                    over=over,
                ),
                _("Keep the file with the next job of this vehicle"),
            )
        seal = check_seal(folder, journal.chain, None, disk)
        if seal.state == "broken" and not lacks_late(folder, journal.chain, disk):
            raise NotRecordable(
                folder.id, _("its seal: {text}", text=seal.findings[0]), _("See: steplatch audit")
            )
        sealed = is_sealed(folder) or bool(earlier_seals(folder))
        if sealed and signing is None:
            raise NotRecordable(
                folder.id, _("it is sealed, and no key is at hand"), _("Give the key")
            )
        files = late_files(folder, disk)
        ledger = read_ledger(data, disk=disk)
        told = [] if ledger is None else [e for e in ledger.of(folder.id) if e.what == "attached"]
        if len(told) > len(files):  # it was broken off: the same file ends it
            _number, digest, utc = told[len(files)].note.split(" ")
            by = told[len(files)].by
            if digest != file.sha256:
                raise NotRecordable(
                    folder.id,
                    _(
                        "attaching another file, SHA-256 {digest}..., was broken off on {day}",
                        digest=digest[:8],
                        day=utc[:10],
                    ),
                    _("Attach that file first, with what it shows"),
                )
        elif not (files and files[-1].sha256 == file.sha256):
            if len(files) >= MOST_FILES:
                raise NotRecordable(
                    folder.id, _("it has {most} already", most=MOST_FILES), _("Keep the best")
                )
            head = journal.chain
            note = f"{len(files) + 1} {file.sha256} {utc}"
            tell(data, Entry("attached", folder.id, by, head.lines, head.sha256, note=note),
                 signing, disk)  # fmt: skip
        store(folder, file, raw, disk)
        if not (files and files[-1].sha256 == file.sha256):
            files = (*files, LateFile(by, utc, **file.to_json()))
            try:
                replace_file(disk, late_path(folder), encoded(files))
            except OSError as error:
                raise failed(late_path(folder), _("list the attached file"), error) from error
        if (
            sealed
            and signing is not None
            and (not is_sealed(folder) or lacks_late(folder, journal.chain, disk))
        ):
            _sealed(folder, journal, signing, by, disk)
    return file


def seal_again(
    folder: JobFolder, signing: SigningKey, by: str, disk: Disk | None = None
) -> Statement:
    """Seal a job whose seal does not cover all that was attached after its end. The earlier seal
    stays beside. Raises as ``make_seal`` does."""
    with JobLock.take(folder, disk):
        return _sealed(folder, Journal.of(folder).sound(), signing, by, disk)


def _sealed(
    folder: JobFolder, journal: Journal, signing: SigningKey, by: str, disk: Disk | None
) -> Statement:
    data, chain = data_of(folder), journal.chain
    ledger = None if data is None else read_ledger(data, (signing.public,), disk)
    ended = fold(journal.lines).core.ended
    said = make_seal(folder, chain, ended, "later", utc_now(), signing, disk,
                     ledger.mark if ledger else "", again=True)  # fmt: skip
    if data is not None:
        entry = Entry("sealed", folder.id, by, chain.lines, chain.sha256, key=said.key)
        tell(data, entry, signing, disk)
    return said


def late_wrong(folder: JobFolder, lines: Sequence[JournalLine]) -> Iterator[str]:
    """What is wrong with the files attached after the end: for an audit."""
    try:
        files = late_files(folder)
    except RecordError as error:
        yield str(error)
        return
    ended = ended_utc(tuple(typed(lines))) if files else ""
    if files and not ended:
        yield _(
            "{name} has {count} files attached after the end of a job that goes on",
            name=LATE_NAME,
            count=len(files),
        )
        return
    yield from out_of_time(files, ended)
    for one in files:
        if (wrong := check_attachment(folder, one.noted())) is not None:
            yield wrong
