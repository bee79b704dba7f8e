"""Read a journal and check it: every byte, every line, the chain, the head.

Nothing here writes. A journal that a running program is just writing can be checked too.
"""

import errno
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _

from ..core.clock import Times
from ..input.findings import shown
from .disk import Disk, let_go, open_to_read, read_whole
from .faults import JournalBroken, failed
from .findings import HEAD_LAG, FindingGrade, FindingKind, RecordFinding, Verification, finding
from .folders import TORN_PREFIX, JobFolder
from .head import MAX_HEAD_BYTES, Anchor, Head, decode_head, partly_overwritten
from .line import (
    MAX_LINE_BYTES,
    ZERO_HASH,
    JournalLine,
    Unreadable,
    hash_of,
    line_of,
    line_start,
)

_CHUNK_BYTES: Final = 1 << 18
MAX_FINDINGS: Final = 200
MAX_JOURNAL_BYTES: Final = 32_000_000
"""Twenty thousand of the usual lines: a journal of this program has a few hundred to some
thousands (a design choice, so that a stranger's file cannot fill the memory)."""


def _raw_lines(disk: Disk, fd: int) -> Iterator[bytes]:
    """Split the file at newlines only; the last piece may lack its newline.

    A piece longer than a line may be is handed out as it is, and ends the reading.
    """
    pending, taken = b"", 0
    while chunk := disk.read(fd, _CHUNK_BYTES):
        taken += len(chunk)
        if taken > MAX_JOURNAL_BYTES:
            raise OSError(
                errno.EFBIG,
                _(
                    "it has more than {max_journal_bytes} MB",
                    max_journal_bytes=MAX_JOURNAL_BYTES // 1000000,
                ),
            )
        *whole, pending = (pending + chunk).split(b"\n")
        for piece in whole:
            yield piece + b"\n"
        if len(pending) > MAX_LINE_BYTES:
            break
    if pending:
        yield pending


class _Follower:
    """Judges one raw line after the other against the lines before."""

    def __init__(self, job: str) -> None:
        self.job = job
        self.number = 0
        self.sha256 = ZERO_HASH
        self._seq = 0
        self._clock: tuple[str, int] | None = None

    def judge(self, raw: bytes) -> tuple[JournalLine | None, list[RecordFinding]]:
        """The line, if it can be read, and what is wrong with it."""
        self.number += 1
        before, self.sha256 = self.sha256, hash_of(raw)
        if len(raw) > MAX_LINE_BYTES:
            wrong = _(
                "the line is longer than {max_line_bytes} bytes", max_line_bytes=MAX_LINE_BYTES
            )
            return None, [finding(FindingKind.LINE_TOO_LONG, wrong, self.number)]
        try:
            line = line_of(raw, self.sha256)
        except Unreadable as error:
            self._seq += 1
            return None, [finding(error.kind, f"{error.kind}: {error.detail}", self.number)]
        found = []
        told = line.envelope
        if told.job != self.job:
            wrong = _(
                "the line belongs to job {job!r}, not {job_2!r}", job=told.job, job_2=self.job
            )
            found.append(finding(FindingKind.OTHER_JOB, wrong, self.number))
        if told.seq != self._seq + 1:
            wrong = _("sequence {seq} follows {seq_2}", seq=told.seq, seq_2=self._seq)
            found.append(finding(FindingKind.SEQUENCE, wrong, self.number))
        if told.prev != before:
            wrong = _(
                "it names {prev}... as the hash of the line before, which is {before}...",
                prev=told.prev[:8],
                before=before[:8],
            )
            found.append(finding(FindingKind.CHAIN, wrong, self.number))
        if self._went_back(told.times):
            wrong = _("the running clock shows less than on the line before, in the same boot")
            found.append(finding(FindingKind.CLOCK_WENT_BACK, wrong, self.number))
        self._seq = told.seq
        return line, found

    def _went_back(self, times: Times) -> bool:
        before, self._clock = self._clock, (times.boot, times.monotonic_ms)
        return before is not None and before[0] == times.boot and before > self._clock


def read(folder: Path, disk: Disk | None = None) -> Iterator[JournalLine]:
    """The lines of a job's journal, one after the other, each checked against those before.

    Ends before a torn last line (one without its newline), which ``verify`` reports and
    ``JournalWriter.open`` sets aside. Raises ``JournalBroken`` at the first line that does not
    follow, ``JournalFailed`` if the disk does not give the file.
    """
    disk = disk or Disk()
    job = JobFolder(folder)
    try:
        fd = open_to_read(disk, job.journal)
    except OSError as error:
        raise failed(job.journal, _("open the journal"), error) from error
    try:
        follower = _Follower(job.id)
        for raw in _raw_lines(disk, fd):
            if not raw.endswith(b"\n") and len(raw) <= MAX_LINE_BYTES:
                return
            line, found = follower.judge(raw)
            broken = tuple(item for item in found if item.grade is FindingGrade.BROKEN)
            if line is None or broken:
                raise JournalBroken(str(job.journal), broken)
            yield line
    except OSError as error:
        raise failed(job.journal, _("read the journal"), error) from error
    finally:
        let_go(disk, fd)


def read_head(job: JobFolder, disk: Disk) -> bytes | None:
    """The head file's bytes, None if there is none. Raises ``JournalFailed``."""
    try:
        return read_whole(disk, job.head, MAX_HEAD_BYTES)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise failed(job.head, _("read the head file"), error) from error


class _Scan:
    """One pass over the journal: what is wrong line by line, and what the head check needs."""

    def __init__(
        self, job: JobFolder, disk: Disk, wanted: frozenset[int], keep_lines: bool = False
    ) -> None:
        self.findings: list[RecordFinding] = []
        self.read: list[JournalLine] | None = [] if keep_lines else None
        self.lines = 0
        self.sha256 = ZERO_HASH
        self.size_bytes = 0
        self.before_last = (0, ZERO_HASH, 0)
        self.tail = b""
        self.last_unreadable = b""
        self.hashes = {0: ZERO_HASH}
        self._wanted = wanted
        fd = open_to_read(disk, job.journal)
        try:
            self._run(disk, fd, job.id)
        finally:
            let_go(disk, fd)

    def _run(self, disk: Disk, fd: int, job: str) -> None:
        follower = _Follower(job)
        for raw in _raw_lines(disk, fd):
            if not raw.endswith(b"\n") and len(raw) <= MAX_LINE_BYTES:
                self.tail = raw
                return
            line, found = follower.judge(raw)
            self.last_unreadable = raw if line is None else b""
            self.before_last = (self.lines, self.sha256, self.size_bytes)
            self.lines, self.sha256 = follower.number, follower.sha256
            self.size_bytes += len(raw)
            if self.lines in self._wanted:
                self.hashes[self.lines] = self.sha256
            self.findings += found
            if self.read is not None and line is not None:
                self.read.append(line)
            if len(self.findings) >= MAX_FINDINGS:
                wrong = _(
                    "more than {max_findings} findings; the rest of the file was not read",
                    max_findings=MAX_FINDINGS,
                )
                self.findings.append(finding(FindingKind.MORE, wrong))
                return

    def take_garbled_line_as_torn(self) -> None:
        """Count the unreadable last line as a torn tail: a loss of power can leave such bytes."""
        self.findings = [item for item in self.findings if item.line != self.lines]
        self.lines, self.sha256, self.size_bytes = self.before_last
        self.tail, self.last_unreadable = self.last_unreadable, b""


def _may_be_torn(raw: bytes, before: str, job: str, seq: int) -> bool:
    """Whether a crash can have left these bytes of the line that would have come next.

    They begin as that line would, up to where the write was cut; a loss of power may have left
    zeros in place of any of them. With a newline at the end, some zeros must be there.
    """
    if len(raw) > MAX_LINE_BYTES or (raw.endswith(b"\n") and 0 not in raw):
        return False
    return all(got in (0, due) for got, due in zip(raw, line_start(before, job, seq), strict=False))


def _judge_head(scan: _Scan, job: str, raw: bytes | None, live: bool) -> Iterator[RecordFinding]:
    """Compare the journal with its head file, as read before the journal was."""
    if raw is None:
        if scan.lines == 0 and not scan.tail:
            yield finding(FindingKind.NOT_BEGUN, _("the journal is empty and has no head file"))
        else:
            yield finding(FindingKind.HEAD_MISSING, _("the head file is missing"))
        return
    head = decode_head(raw)
    old, new = Head(job, *scan.before_last[:2]), Head(job, scan.lines, scan.sha256)
    if not scan.tail and partly_overwritten(raw, old, new):
        yield finding(FindingKind.HEAD_BEHIND, _("the head file was being overwritten"), scan.lines)
        return
    if head is None:
        yield finding(
            FindingKind.HEAD_UNREADABLE, _("the head file is not as this program writes it")
        )
        return
    if head.job != job:
        wrong = _("the head file belongs to job {job!r}, not {job_2!r}", job=head.job, job_2=job)
        yield finding(FindingKind.HEAD_OF_OTHER_JOB, wrong)
    yield from _compare_head(scan, head, job, live)


def _compare_head(scan: _Scan, head: Head, job: str, live: bool) -> Iterator[RecordFinding]:
    lag = scan.lines - head.lines
    if scan.last_unreadable and not scan.tail and 1 <= lag <= HEAD_LAG + 1:
        before = scan.before_last[1]
        if _may_be_torn(scan.last_unreadable, before, job, scan.lines):
            scan.take_garbled_line_as_torn()
    if head.lines > scan.lines:
        part = _(", and a part of one more") if scan.tail else ""
        wrong = _(
            "the head file counts {lines} lines, the journal has {lines_2}{part}",
            lines=head.lines,
            lines_2=scan.lines,
            part=part,
        )
        yield finding(FindingKind.HEAD_AHEAD, wrong)
        return
    if scan.hashes.get(head.lines) != head.sha256:
        wrong = _(
            "the head file has another hash for line {lines} than the journal", lines=head.lines
        )
        yield finding(FindingKind.HEAD_DIFFERS, wrong, head.lines)
    if live:
        yield finding(
            FindingKind.BEING_WRITTEN, _("lines were added while the journal was being read")
        )
        return
    lag = scan.lines - head.lines
    if lag > HEAD_LAG:
        wrong = _(
            "the head file counts {lines} lines, {lag} more stand after them",
            lines=head.lines,
            lag=lag,
        )
        yield finding(FindingKind.HEAD_FAR_BEHIND, wrong)
        return
    if lag:
        wrong = _(
            "the head file counts {lines} lines, the journal has {lines_2}",
            lines=head.lines,
            lines_2=scan.lines,
        )
        yield finding(FindingKind.HEAD_BEHIND, wrong, scan.lines)
    if scan.tail and _may_be_torn(scan.tail, scan.sha256, job, scan.lines + 1):
        wrong = _("{count} bytes of a line that was not written to its end", count=len(scan.tail))
        yield finding(FindingKind.TORN_TAIL, wrong, scan.lines + 1)
    elif scan.tail:
        wrong = _(
            "{count} bytes after the last line are no part of a next one", count=len(scan.tail)
        )
        yield finding(FindingKind.FOREIGN_TAIL, wrong, scan.lines + 1)


def _judge_anchor(scan: _Scan, anchor: Anchor) -> Iterator[RecordFinding]:
    if anchor.lines > scan.lines:
        wrong = _(
            "the sheet counts {lines} lines, the journal has {lines_2}",
            lines=anchor.lines,
            lines_2=scan.lines,
        )
        yield finding(FindingKind.SHEET_AHEAD, wrong)
    elif not scan.hashes.get(anchor.lines, "").startswith(anchor.short):
        wrong = _(
            "the sheet has another hash for line {lines} than the journal", lines=anchor.lines
        )
        yield finding(FindingKind.SHEET_DIFFERS, wrong, anchor.lines)


def verify(folder: Path, disk: Disk | None = None, anchor: Anchor | None = None) -> Verification:
    """Check a job's journal against itself, its head file and, if given, a printed head.

    Finds any changed byte, dropped, added, moved or foreign line, cut tail, and what a crash
    left. What it cannot find: a whole journal written anew with its head file, unless a printed
    head is given; and a change to a last line that the head file does not yet count.

    Raises ``JournalFailed`` if the folder or a file in it cannot be read.
    """
    return _checked(folder, disk or Disk(), anchor, keep_lines=False)[0]


def verify_and_read(
    folder: Path, disk: Disk | None = None, anchor: Anchor | None = None
) -> tuple[Verification, tuple[JournalLine, ...]]:
    """``verify`` and the lines, in one pass over the file; no lines where it is not sound.

    Raises ``JournalFailed`` if the folder or a file in it cannot be read.
    """
    checked, lines = _checked(folder, disk or Disk(), anchor, keep_lines=True)
    return checked, tuple(lines) if checked.sound else ()


def _checked(
    folder: Path, disk: Disk, anchor: Anchor | None, keep_lines: bool
) -> tuple[Verification, list[JournalLine]]:
    job = JobFolder(folder)
    try:
        names = disk.names(folder)
    except OSError as error:
        raise failed(folder, _("read the job's folder"), error) from error
    torn = tuple(
        finding(
            FindingKind.TORN_KEPT,
            _("{shown} holds bytes of a line that was cut off", shown=shown(name)),
        )
        for name in names
        if name.startswith(TORN_PREFIX)
    )
    raw_head = read_head(job, disk)
    if raw_head is not None and decode_head(raw_head) is None:
        raw_head = read_head(job, disk)  # it may have been read while it was overwritten
    counted = None if raw_head is None else decode_head(raw_head)
    wanted = {0 if counted is None else counted.lines, 0 if anchor is None else anchor.lines}
    try:
        scan = _Scan(job, disk, frozenset(wanted), keep_lines)
    except FileNotFoundError:
        kind = (
            FindingKind.NOT_BEGUN if raw_head is None and not torn else FindingKind.JOURNAL_MISSING
        )
        missing = finding(kind, _("there is no journal in the folder"))
        return Verification(job.id, 0, ZERO_HASH, 0, (missing, *torn)), []
    except OSError as error:
        raise failed(job.journal, _("read the journal"), error) from error
    live = read_head(job, disk) != raw_head
    of_head = list(_judge_head(scan, job.id, raw_head, live))
    of_sheet = () if anchor is None else tuple(_judge_anchor(scan, anchor))
    checked = Verification(
        job=job.id,
        lines=scan.lines,
        sha256=scan.sha256,
        size_bytes=scan.size_bytes,
        findings=(*scan.findings, *of_head, *of_sheet, *torn),
    )
    return checked, scan.read or []
