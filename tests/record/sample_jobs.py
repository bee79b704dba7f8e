"""Small journals to try things on: fixed names, a clock that the test turns by hand."""

from pathlib import Path

from steplatch.runner.record import Disk, Header, JournalLine, JournalWriter, Times

JOB = "2025-01-31-k3f7qa2m"
OTHER_JOB = "2025-02-01-zzz7qa2m"
HEADER = Header(
    procedure="filter-clean",
    revision="3",
    procedure_sha256="ab" * 32,
    program="0.1.0",
    rules_sha256="cd" * 32,
    judge_sha256="de" * 32,
    files_sha256="ef" * 32,
)


class UnsyncedDisk(Disk):
    """The real disk without the waiting, for tests in which no power is lost."""

    def fsync(self, fd: int) -> None:
        """Take the system's word for it."""


def at_ms(ms: int) -> Times:
    """A moment so many ms after the boot called boot-1."""
    return Times("2025-01-31T14:05:09.123Z", "+01:00", ms, ms, "boot-1")


def add_line(writer: JournalWriter, number: int) -> JournalLine:
    """Append one line that says its number."""
    return writer.append(
        "anna",
        "technician",
        {"report": "sprayed", "seconds": "6.5", "number": number},
        {"events": [{"event": "wet_raised", "dose_ml": "7.8"}], "note": "größer"},
        at_ms(1000 * number),
    )


def make_job(parent: Path, lines: int, job: str = JOB) -> Path:
    """A closed job with so many lines; returns its folder."""
    folder = parent / job
    with JournalWriter.create(folder, HEADER, UnsyncedDisk()) as writer:
        for number in range(1, lines + 1):
            add_line(writer, number)
    return folder


def lines_of(folder: Path) -> list[bytes]:
    """The raw lines of a job's journal."""
    return (folder / "journal.jsonl").read_bytes().splitlines(keepends=True)


def put_lines(folder: Path, lines: list[bytes]) -> None:
    """Write a job's journal anew, as somebody with an editor would."""
    (folder / "journal.jsonl").write_bytes(b"".join(lines))
