"""Sealing a job: at its end with the workshop's key, or later, which the seal then says."""

from collections.abc import Callable

from ..record import DataFolder, JobFolder, NotRecordable, RecordError, verify
from ..record.clocks import utc_now
from ..record.keys import KeyFolder, NoKey, SigningKey
from ..record.seal import SealTime, Statement, make_seal
from .store import job_of


def key_folder(data: DataFolder) -> KeyFolder:
    """Where a data folder keeps its keys."""
    return KeyFolder(data.path / "keys")


def seal_ended(folder: JobFolder, signing: SigningKey, made: SealTime) -> Statement:
    """Seal one job that has ended.

    Raises NotRecordable for practice, a job that goes on or is sealed already; JournalFailed.
    """
    chain = verify(folder.path)
    job = job_of(folder) if chain.sound else None
    if job is not None and job.log.practice:
        raise NotRecordable(folder.id, "practice is never sealed", "Seal real jobs only")
    return make_seal(folder, chain, job.core.ended if job else "", made, utc_now(), signing)


def seal_at_end(
    folder: JobFolder, data: DataFolder, ask_passphrase: Callable[[str], str | None]
) -> list[str]:
    """Seal a real job that has just ended, and say what came of it.

    Never raises for a key or a disk: the job has ended whole, and can be sealed later.
    ``ask_passphrase`` gives None when nobody types one.
    """
    later = f"Seal it later: steplatch seal {folder.id}"
    keys = key_folder(data)
    try:
        passphrase = None
        if keys.locked():
            passphrase = ask_passphrase("Type the passphrase of the signing key; it is not shown.")
            if not passphrase:
                return [f"NOT SEALED: no passphrase was typed. {later}"]
        said = seal_ended(folder, keys.open(passphrase), "at the end")
    except NoKey as error:
        return [f"NOT SEALED: {error}", later]
    except RecordError as error:
        return [f"NOT SEALED: {error}", later]
    return [f"SEALED   {said.lines} lines, key {said.key}"]
