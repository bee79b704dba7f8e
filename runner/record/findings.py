"""What a check of a journal can find, what each finding may mean, and what to do about it."""

from dataclasses import dataclass
from enum import IntEnum, StrEnum


class Grade(IntEnum):
    """How bad a finding is. The worst one is the verdict on the journal."""

    INTACT = 0
    NOTE = 1
    """Worth knowing; nothing is lost."""
    CRASH = 2
    """What a crash or a loss of power leaves behind; opening puts it right and says so."""
    BROKEN = 3
    """No crash leaves this. The journal is not continued."""


class Kind(StrEnum):
    """The closed list of findings."""

    TORN_KEPT = "torn bytes kept aside"
    CLOCK_WENT_BACK = "running clock went back"
    BEING_WRITTEN = "written while it was read"
    NOT_BEGUN = "not begun"
    HEAD_ONE_BEHIND = "head one line behind"
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
class Finding:
    """One finding: where, what is wrong, what that may mean, what to do.

    line: the line's number in the journal, or None where the finding is not about one line.
    """

    kind: Kind
    grade: Grade
    line: int | None
    wrong: str
    may_mean: str
    remedy: str

    def __str__(self) -> str:
        where = "journal" if self.line is None else f"line {self.line}"
        return f"{where}: {self.wrong}. May mean: {self.may_mean}. {self.remedy}"


_STOP = (
    "Keep the whole folder as it is and compare it with a backup and with the printed head; "
    "don't go on in this journal: open a new job, in which everything starts unknown"
)
_CHANGED = "the line was changed after it was written, or the disk damaged it"

_MEANING: dict[Kind, tuple[Grade, str, str]] = {
    Kind.TORN_KEPT: (
        Grade.NOTE,
        "an earlier crash cut a line off in the middle; it had never been confirmed",
        "Nothing to do; the bytes are kept for whoever wants to look",
    ),
    Kind.CLOCK_WENT_BACK: (
        Grade.NOTE,
        "a virtual machine was set back, or the line was made up",
        "Count no wait across this line and take every age across it as unknown",
    ),
    Kind.BEING_WRITTEN: (
        Grade.NOTE,
        "the job is open in a running program",
        "Check again when it is closed",
    ),
    Kind.NOT_BEGUN: (
        Grade.CRASH,
        "a crash while the job was being made; no line had been confirmed",
        "Open the job to finish making it",
    ),
    Kind.HEAD_ONE_BEHIND: (
        Grade.CRASH,
        "a crash between writing the line and counting it, or the line is being written now. "
        "The screen had not confirmed it, and nothing but the chain speaks for it",
        "Open the job: the line is kept and counted; ask again whether what it says was done",
    ),
    Kind.TORN_TAIL: (
        Grade.CRASH,
        "a crash while the line was being written; the screen had not confirmed it",
        "Open the job: the torn bytes are kept in a file of their own; ask again what was done",
    ),
    Kind.FOREIGN_TAIL: (
        Grade.BROKEN,
        "something was added to the file by other means, or the disk damaged its end",
        _STOP,
    ),
    Kind.JOURNAL_MISSING: (Grade.BROKEN, "the journal was moved or deleted", _STOP),
    Kind.LINE_TOO_LONG: (Grade.BROKEN, "this is not a journal, or it was damaged", _STOP),
    Kind.NOT_UTF8: (Grade.BROKEN, _CHANGED, _STOP),
    Kind.NOT_JSON: (Grade.BROKEN, _CHANGED, _STOP),
    Kind.DUPLICATE_KEY: (
        Grade.BROKEN,
        "the line was made or changed by other means, so that two readers see two things",
        _STOP,
    ),
    Kind.NOT_CANONICAL: (
        Grade.BROKEN,
        "the line was made or changed by other means (an editor, another program)",
        _STOP,
    ),
    Kind.UNKNOWN_SCHEMA: (
        Grade.BROKEN,
        "a newer version of this program wrote it, or the line was changed",
        "Read it with the version that wrote it; don't go on in this journal with this one",
    ),
    Kind.WRONG_MEMBERS: (Grade.BROKEN, _CHANGED, _STOP),
    Kind.OTHER_JOB: (Grade.BROKEN, "a line was taken over from another job's journal", _STOP),
    Kind.SEQUENCE: (Grade.BROKEN, "lines were dropped, added or put in another order", _STOP),
    Kind.CHAIN: (
        Grade.BROKEN,
        "the line before was changed after it was written, or lines were dropped, added or moved",
        _STOP,
    ),
    Kind.HEAD_MISSING: (
        Grade.BROKEN,
        "the head file was deleted or not copied along; a cut tail would not show without it",
        _STOP,
    ),
    Kind.HEAD_UNREADABLE: (Grade.BROKEN, "the head file was changed or damaged", _STOP),
    Kind.HEAD_OF_OTHER_JOB: (Grade.BROKEN, "the head file was taken from another job", _STOP),
    Kind.HEAD_AHEAD: (
        Grade.BROKEN,
        "lines were cut off the end, or the disk lost what it had promised to keep",
        _STOP,
    ),
    Kind.HEAD_FAR_BEHIND: (
        Grade.BROKEN,
        "lines were added by other means, or an old head file was put back",
        _STOP,
    ),
    Kind.HEAD_DIFFERS: (
        Grade.BROKEN,
        "that line or the head file was changed after it was written",
        _STOP,
    ),
    Kind.SHEET_AHEAD: (
        Grade.BROKEN,
        "lines were cut off the end after the sheet was printed, or it is another job's sheet",
        _STOP,
    ),
    Kind.SHEET_DIFFERS: (
        Grade.BROKEN,
        "the journal was written anew after the sheet was printed, or it was mistyped, "
        "or it is another job's sheet",
        "Compare the typed groups with the sheet. " + _STOP,
    ),
    Kind.MORE: (Grade.BROKEN, "this is another file, or much was changed", _STOP),
}


def finding(kind: Kind, wrong: str, line: int | None = None) -> Finding:
    """A finding of this kind with its fixed meaning, grade and remedy."""
    grade, may_mean, remedy = _MEANING[kind]
    return Finding(kind, grade, line, wrong, may_mean, remedy)


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
    findings: tuple[Finding, ...]

    @property
    def grade(self) -> Grade:
        """The worst grade found; INTACT without findings."""
        return max((found.grade for found in self.findings), default=Grade.INTACT)

    @property
    def sound(self) -> bool:
        """True if nothing speaks of tampering or damage (notes and crash traces may stand)."""
        return self.grade < Grade.BROKEN

    def has(self, kind: Kind) -> bool:
        """Whether a finding of this kind stands."""
        return any(found.kind is kind for found in self.findings)
