"""What a check of a journal can find, what each finding may mean, and what to do about it."""

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final

from steplatch.safety.catalogue import _

HEAD_LAG: Final = 16
"""Lines that a head on the disk may be behind after a loss of power: it is synced so often (a
design choice between one wait for the disk an answer and how much a cut could hide then)."""


class FindingGrade(IntEnum):
    """How bad a finding is. The worst one is the verdict on the journal."""

    INTACT = 0
    NOTE = 1
    """Worth knowing; nothing is lost."""
    CRASH = 2
    """What a crash or a loss of power leaves behind; opening puts it right and says so."""
    BROKEN = 3
    """No crash leaves this. The journal is not continued."""


class FindingKind(StrEnum):
    """The closed list of findings."""

    TORN_KEPT = "torn bytes kept aside"
    CLOCK_WENT_BACK = "running clock went back"
    BEING_WRITTEN = "written while it was read"
    NOT_BEGUN = "not begun"
    HEAD_BEHIND = "head behind"
    TORN_TAIL = "torn last line"
    FOREIGN_TAIL = "foreign bytes at the end"
    JOURNAL_MISSING = "journal missing"
    LINE_TOO_LONG = "line too long"
    NOT_UTF8 = "not UTF-8"
    NOT_JSON = "not JSON"
    DUPLICATE_KEY = "duplicate key"
    NOT_CANONICAL = "not canonical"
    UNKNOWN_SCHEMA = "unknown schema"
    WRONG_MEMBERS = "wrong members"
    OTHER_JOB = "line of another job"
    SEQUENCE = "sequence"
    CHAIN = "chain"
    HEAD_MISSING = "head missing"
    HEAD_UNREADABLE = "head unreadable"
    HEAD_OF_OTHER_JOB = "head of another job"
    HEAD_AHEAD = "head ahead"
    HEAD_FAR_BEHIND = "head far behind"
    HEAD_DIFFERS = "head differs"
    SHEET_AHEAD = "sheet ahead"
    SHEET_DIFFERS = "sheet differs"
    MORE = "more findings"


@dataclass(frozen=True, slots=True)
class RecordFinding:
    """One finding: where, what is wrong, what that may mean, what to do.

    line: the line's number in the journal, or None where the finding is not about one line.
    """

    kind: FindingKind
    grade: FindingGrade
    line: int | None
    wrong: str
    may_mean: str
    remedy: str

    def __str__(self) -> str:
        where = "journal" if self.line is None else _("line {line}", line=self.line)
        return _(
            "{where}: {wrong}. May mean: {may_mean}. {remedy}",
            where=where,
            wrong=self.wrong,
            may_mean=self.may_mean,
            remedy=self.remedy,
        )


_STOP = _(
    "Keep the whole folder as it is and compare it with a backup and with the printed head; "
    "don't go on in this journal: open a new job, in which everything starts unknown"
)
_CHANGED = _("the line was changed after it was written, or the disk damaged it")

_MEANING: dict[FindingKind, tuple[FindingGrade, str, str]] = {
    FindingKind.TORN_KEPT: (
        FindingGrade.NOTE,
        _("an earlier crash cut a line off in the middle; it had never been confirmed"),
        _("Nothing to do; the bytes are kept for whoever wants to look"),
    ),
    FindingKind.CLOCK_WENT_BACK: (
        FindingGrade.NOTE,
        _("a virtual machine was set back, or the line was made up"),
        _("Count no wait across this line and take every age across it as unknown"),
    ),
    FindingKind.BEING_WRITTEN: (
        FindingGrade.NOTE,
        _("the job is open in a running program"),
        _("Check again when it is closed"),
    ),
    FindingKind.NOT_BEGUN: (
        FindingGrade.CRASH,
        _("a crash while the job was being made; no line had been confirmed"),
        _("Open the job to finish making it"),
    ),
    FindingKind.HEAD_BEHIND: (
        FindingGrade.CRASH,
        _(
            "a crash between writing the line and counting it, or the line is being written "
            "now: the screen had not confirmed it. Or a loss of power took back the last "
            "counts, of at most {head_lag} lines. Nothing but the chain speaks for these "
            "lines",
            head_lag=HEAD_LAG,
        ),
        _("Open the job: the lines are kept and counted; ask again whether the last was done"),
    ),
    FindingKind.TORN_TAIL: (
        FindingGrade.CRASH,
        _("a crash while the line was being written; the screen had not confirmed it"),
        _("Open the job: the torn bytes are kept in a file of their own; ask again what was done"),
    ),
    FindingKind.FOREIGN_TAIL: (
        FindingGrade.BROKEN,
        _("something was added to the file by other means, or the disk damaged its end"),
        _STOP,
    ),
    FindingKind.JOURNAL_MISSING: (
        FindingGrade.BROKEN,
        _("the journal was moved or deleted"),
        _STOP,
    ),
    FindingKind.LINE_TOO_LONG: (
        FindingGrade.BROKEN,
        _("this is not a journal, or it was damaged"),
        _STOP,
    ),
    FindingKind.NOT_UTF8: (FindingGrade.BROKEN, _CHANGED, _STOP),
    FindingKind.NOT_JSON: (FindingGrade.BROKEN, _CHANGED, _STOP),
    FindingKind.DUPLICATE_KEY: (
        FindingGrade.BROKEN,
        _("the line was made or changed by other means, so that two readers see two things"),
        _STOP,
    ),
    FindingKind.NOT_CANONICAL: (
        FindingGrade.BROKEN,
        _("the line was made or changed by other means (an editor, another program)"),
        _STOP,
    ),
    FindingKind.UNKNOWN_SCHEMA: (
        FindingGrade.BROKEN,
        _("a newer version of this program wrote it, or the line was changed"),
        _("Read it with the version that wrote it; don't go on in this journal with this one"),
    ),
    FindingKind.WRONG_MEMBERS: (FindingGrade.BROKEN, _CHANGED, _STOP),
    FindingKind.OTHER_JOB: (
        FindingGrade.BROKEN,
        _("a line was taken over from another job's journal"),
        _STOP,
    ),
    FindingKind.SEQUENCE: (
        FindingGrade.BROKEN,
        _("lines were dropped, added or put in another order"),
        _STOP,
    ),
    FindingKind.CHAIN: (
        FindingGrade.BROKEN,
        _(
            "the line before was changed after it was written, or lines were dropped, added "
            "or moved"
        ),
        _STOP,
    ),
    FindingKind.HEAD_MISSING: (
        FindingGrade.BROKEN,
        _("the head file was deleted or not copied along; a cut tail would not show without it"),
        _STOP,
    ),
    FindingKind.HEAD_UNREADABLE: (
        FindingGrade.BROKEN,
        _("the head file was changed or damaged"),
        _STOP,
    ),
    FindingKind.HEAD_OF_OTHER_JOB: (
        FindingGrade.BROKEN,
        _("the head file was taken from another job"),
        _STOP,
    ),
    FindingKind.HEAD_AHEAD: (
        FindingGrade.BROKEN,
        _("lines were cut off the end, or the disk lost what it had promised to keep"),
        _STOP,
    ),
    FindingKind.HEAD_FAR_BEHIND: (
        FindingGrade.BROKEN,
        _("lines were added by other means, or an old head file was put back"),
        _STOP,
    ),
    FindingKind.HEAD_DIFFERS: (
        FindingGrade.BROKEN,
        _("that line or the head file was changed after it was written"),
        _STOP,
    ),
    FindingKind.SHEET_AHEAD: (
        FindingGrade.BROKEN,
        _("lines were cut off the end after the sheet was printed, or it is another job's sheet"),
        _STOP,
    ),
    FindingKind.SHEET_DIFFERS: (
        FindingGrade.BROKEN,
        _(
            "the journal was written anew after the sheet was printed, or it was mistyped, "
            "or it is another job's sheet"
        ),
        _("Compare the typed groups with the sheet. ") + _STOP,
    ),
    FindingKind.MORE: (FindingGrade.BROKEN, _("this is another file, or much was changed"), _STOP),
}


def finding(kind: FindingKind, wrong: str, line: int | None = None) -> RecordFinding:
    """A finding of this kind with its fixed meaning, grade and remedy."""
    grade, may_mean, remedy = _MEANING[kind]
    return RecordFinding(kind, grade, line, wrong, may_mean, remedy)


@dataclass(frozen=True, slots=True)
class Verification:
    """The result of checking one journal.

    lines: whole lines at the front of the file, up to the first that cannot be counted.
    sha256: hash of the last of them (64 zeros if there is none).
    size_bytes: where that line ends in the file.
    findings: in the order of the file.
    """

    job: str
    lines: int
    sha256: str
    size_bytes: int
    findings: tuple[RecordFinding, ...]

    @property
    def grade(self) -> FindingGrade:
        """The worst grade found; INTACT without findings."""
        return max((found.grade for found in self.findings), default=FindingGrade.INTACT)

    @property
    def sound(self) -> bool:
        """True if nothing speaks of tampering or damage (notes and crash traces may stand)."""
        return self.grade < FindingGrade.BROKEN

    def has(self, kind: FindingKind) -> bool:
        """Whether a finding of this kind stands."""
        return any(found.kind is kind for found in self.findings)
