"""Closing a job that has ended: put right what a crash left, list it, seal it. Each may be done
again: what is done already is left as it is, so a job that died at its end is closed later.
"""

from collections.abc import Callable
from typing import Any

from steplatch.safety.catalogue import _

from ..record import (
    DataFolder,
    Disk,
    JobFolder,
    JournalWriter,
    NotRecordable,
    RecordError,
    verify,
)
from ..record.clocks import utc_now
from ..record.keys import NoKey, SigningKey
from ..record.ledger import FOLDER, PRACTICE, Entry, read_ledger
from ..record.seal import SealTime, Statement, is_sealed, lacks_late, make_seal
from .late import seal_again
from .ledgers import data_of, key_folder, practice_goes_on, tell, told_ended
from .projection import fold


def seal_ended(
    folder: JobFolder,
    signing: SigningKey,
    made: SealTime,
    by: str = "",
    disk: Disk | None = None,
) -> Statement:
    """Seal one job that has ended, under its lock, once what a crash left is put right.

    Raises NotRecordable for practice, a job that goes on or is sealed already; HeldByAnother,
    JournalBroken, JournalFailed.
    """
    if is_sealed(folder):
        if lacks_late(folder, verify(folder.path, disk), disk):
            return seal_again(folder, signing, by, disk)
        raise NotRecordable(folder.id, _("it is sealed already"), _("See: steplatch audit"))
    data = data_of(folder)
    with JournalWriter.open(folder.path, disk=disk) as writer:
        job = fold(writer.found)
        if job.log.practice:
            raise NotRecordable(folder.id, _("practice is never sealed"), _("Seal real jobs only"))
        if not job.core.ended:
            raise NotRecordable(
                folder.id, _("the job has not ended"), _("Finish or abandon it first")
            )
        head = writer.head
        about: dict[str, Any] = {
            "job": folder.id, "by": by, "lines": head.lines, "head": head.sha256,
        }  # fmt: skip
        mark = ""
        if data is not None:
            if not told_ended(data, folder.id):
                tell(data, Entry("ended", **about), signing, disk)
            ledger = read_ledger(data, (signing.public,), disk)
            mark = ledger.mark if ledger else ""
        said = make_seal(folder, head, job.core.ended, made, utc_now(), signing, disk, mark)
        if data is not None:
            tell(data, Entry("sealed", key=said.key, **about), signing, disk)
        return said


def put_right(folder: JobFolder, by: str = "", disk: Disk | None = None) -> None:
    """Bring the head of a job that has ended up to date, and list its end in the ledger; that of
    practice where its beginning stands there.

    Does nothing to a sealed job. Raises as ``JournalWriter.open`` does.
    """
    if is_sealed(folder):
        return
    data = data_of(folder)
    with JournalWriter.open(folder.path, disk=disk) as writer:
        job, head = fold(writer.found), writer.head
    if data is None:
        return
    practice, entry = job.log.practice, Entry("ended", folder.id, by, head.lines, head.sha256)
    if practice_goes_on(data, folder.id) if practice else not told_ended(data, folder.id):
        tell(data, entry, disk=disk, folder=PRACTICE if practice else FOLDER)


def seal_at_end(
    folder: JobFolder,
    data: DataFolder,
    ask_passphrase: Callable[[str], str | None],
    by: str = "",
    disk: Disk | None = None,
) -> tuple[list[str], bool]:
    """Seal a real job that has ended; what came of it in words, and whether the disk failed.

    Never raises for a key or a disk: the job has ended whole, and can be sealed later.
    ``ask_passphrase`` gives None when nobody types one.
    """
    if is_sealed(folder) and not lacks_late(folder, verify(folder.path, disk), disk):
        return [_("SEALED   already")], False
    later = _("Seal it later: steplatch seal {id} --as PERSON", id=folder.id)
    keys = key_folder(data)
    try:
        passphrase = None
        if keys.locked():
            passphrase = ask_passphrase(
                _("Type the passphrase of the signing key; it is not shown.")
            )
            if not passphrase:
                return [_("NOT SEALED: no passphrase was typed. {later}", later=later)], False
        said = seal_ended(folder, keys.open(passphrase), "at the end", by, disk)
    except NoKey as error:
        return [_("NOT SEALED: {error}", error=error), later], False
    except RecordError as error:
        return [_("NOT SEALED: {error}", error=error), later], True
    return [_("SEALED   {lines} lines, key {key}", lines=said.lines, key=said.key)], False
