"""What can go wrong with the record, as errors that say where, what and the remedy.

A broken or half-written journal is *reported* as findings (see ``findings``); an error is
raised only where the caller must not go on as if the line had been kept.
"""

import errno
from enum import StrEnum
from pathlib import Path

from steplatch.safety.catalogue import _

from .findings import FindingGrade, RecordFinding


class LineState(StrEnum):
    """What became of the line that was being written when the disk failed."""

    NOT_WRITTEN = "nothing of the line is in the journal"
    TORN = "a part of the line stands at the end of the journal"
    UNSURE = "the line may or may not survive a loss of power"
    WRITTEN = "the line is on the disk, but the head file does not yet count it"
    NONE = "no line was being written"


class RecordError(Exception):
    """Base of all errors of the record: ``where``, ``what`` and ``remedy`` are plain words."""

    def __init__(self, where: str, what: str, remedy: str) -> None:
        super().__init__(f"{where}: {what}. {remedy}")
        self.where = where
        self.what = what
        self.remedy = remedy


class JournalFailed(RecordError):  # noqa: N818 - the name says the fact
    """The disk did not keep what it was given. The writer refuses all further lines."""

    def __init__(
        self, where: str, what: str, remedy: str, line_state: LineState = LineState.NONE
    ) -> None:
        super().__init__(where, what, remedy)
        self.line_state = line_state


class HeldByAnother(RecordError):  # noqa: N818 - the name says the fact
    """Another running program writes this job; ``who`` is what it wrote about itself."""

    def __init__(self, where: str, who: str) -> None:
        super().__init__(
            where,
            _("this job is open in another program ({who})", who=who),
            _("Go on there, or close it there first; then open the job again"),
        )
        self.who = who


class JournalBroken(RecordError):  # noqa: N818 - the name says the fact
    """The journal shows tampering or damage, so it is neither continued nor read on.

    ``findings`` are all that the check found, in the order of the file.
    """

    def __init__(self, where: str, findings: tuple[RecordFinding, ...]) -> None:
        worst = next(found for found in findings if found.grade is FindingGrade.BROKEN)
        more = len(findings) - 1
        place = "" if worst.line is None else _("line {line}: ", line=worst.line)
        super().__init__(
            where,
            _(
                "{place}{wrong}; may mean: {may_mean}",
                place=place,
                wrong=worst.wrong,
                may_mean=worst.may_mean,
            )
            + (_(" (and {more} more)", more=more) if more else ""),
            worst.remedy,
        )
        self.findings = findings


class NotRecordable(RecordError, ValueError):  # noqa: N818 - the name says the fact
    """The caller handed over something that a journal line cannot hold. Nothing was written."""


class BadSideFile(RecordError):  # noqa: N818 - the name says the fact
    """The side file with personal data cannot be read as one."""


_CAUSES: dict[int, tuple[str, str]] = {
    errno.ENOSPC: (_("the disk is full"), _("Free space on that disk, then open the job again")),
    errno.EDQUOT: (
        _("the disk quota of this user is used up"),
        _("Free space or have the quota raised, then open the job again"),
    ),
    errno.EROFS: (
        _("the disk is mounted read-only"),
        _("Make it writable (after a disk error: check the disk first), then open the job again"),
    ),
    errno.EACCES: (
        _("this user has no permission"),
        _("Give this user read and write permission on the data folder, then open the job again"),
    ),
    errno.EPERM: (
        _("this user has no permission"),
        _("Give this user read and write permission on the data folder, then open the job again"),
    ),
    errno.EIO: (
        _("the disk reported an input/output error"),
        _("Copy the data folder to another disk, check this disk, and go on from the copy"),
    ),
    errno.ENOENT: (
        _("the file or folder is not there"),
        _("Check the path, and that the disk is plugged in; nothing was made anew in its place"),
    ),
    errno.ENOTDIR: (_("a part of the path is not a folder"), _("Check the path")),
    errno.EISDIR: (_("a folder stands where a file belongs"), _("Move it away, then try again")),
    errno.EINVAL: (
        _("no plain file stands there (a pipe, a device, a socket or a folder)"),
        _("Look who put it there; take it away, or restore the file from a backup"),
    ),
    errno.ENXIO: (
        _("no plain file stands there (a pipe, a device, a socket or a folder)"),
        _("Look who put it there; take it away, or restore the file from a backup"),
    ),
    errno.EFBIG: (
        _("it is larger than any file that this program writes there"),
        _("Look what it is; keep it, and restore the right one from a backup"),
    ),
    errno.ELOOP: (
        _("a symbolic link stands where a file belongs"),
        _("Put the file itself there; links are not followed, so that no other file is written"),
    ),
    errno.ENOLCK: (
        _("this disk cannot lock files"),
        _("Use a data folder on a local disk: without a lock two programs could write one job"),
    ),
    errno.EOPNOTSUPP: (
        _("this disk cannot lock files"),
        _("Use a data folder on a local disk: without a lock two programs could write one job"),
    ),
    errno.EMFILE: (
        _("too many files are open"),
        _("Close other programs, then open the job again"),
    ),
    errno.ENFILE: (
        _("too many files are open"),
        _("Close other programs, then open the job again"),
    ),
}


def failed(
    where: Path | str, doing: str, error: OSError, line_state: LineState = LineState.NONE
) -> JournalFailed:
    """Turn an ``OSError`` met while ``doing`` something into a ``JournalFailed`` in plain words."""
    cause, remedy = _CAUSES.get(
        error.errno or 0,
        (_("the system said: {error}", error=error), _("Check the disk, then open the job again")),
    )
    return JournalFailed(
        str(where), _("could not {doing}: {cause}", doing=doing, cause=cause), remedy, line_state
    )
