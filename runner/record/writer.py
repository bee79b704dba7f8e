"""The one writer of a job's journal.

A line counts as confirmed when ``append`` has returned: by then it is on the disk and counted in
the head file. After any failure the writer is *held*: it refuses everything until the job is
opened again, because what stands on the disk has to be read before it is added to.
"""

import contextlib
import errno
import os
import signal
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from steplatch.safety.catalogue import _

from ..core.clock import Times
from ..system.machine import signals
from .disk import (
    APPEND_FLAGS,
    IN_PLACE_FLAGS,
    NEW_APPEND_FLAGS,
    NEW_FLAGS,
    Disk,
    fsync_folder,
    let_go,
    replace_file,
    write_and_sync,
)
from .faults import JournalBroken, JournalFailed, LineState, NotRecordable, failed
from .findings import HEAD_LAG, FindingKind, RecordFinding, Verification
from .folders import TORN_PREFIX, JobFolder
from .head import HEAD_BYTES, Head, encode_head
from .line import (
    MAX_LINE_BYTES,
    ZERO_HASH,
    Header,
    JournalLine,
    decode_fields,
    encode,
    hash_of,
    line_from,
)
from .lock import JobLock
from .seal import is_sealed
from .verify import read_head, verify, verify_and_read

_PUT_OFF = signals("SIGINT", "SIGTERM", "SIGHUP")


@contextmanager
def _signals_put_off() -> Iterator[None]:
    """Let Ctrl-C, a stop or a closed terminal act after the line is whole, not in its middle.

    Handlers are exchanged, since a blocked signal would reach the process through any other
    thread (a sum's library keeps some), and its handler runs in the main thread all the same.
    Elsewhere than in the main thread nothing has to be put off.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before: dict[signal.Signals, Any] = {}
    try:
        for number in _PUT_OFF:
            before[number] = signal.signal(number, lambda got, _: came.append(got))
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)
        for got in sorted(set(came), key=signal.SIGINT.__eq__):  # last: it ends this loop
            signal.raise_signal(got)


class JournalWriter:
    """Appends lines to one job's journal. For one thread of one process.

    findings: what the check at opening found (a torn line set aside, a head one behind, notes).
    The caller must show them and take the job as interrupted.
    found: the lines that stood there at opening, read in the same pass.
    """

    def __init__(
        self,
        lock: JobLock,
        header: Header | None,
        disk: Disk,
        fds: tuple[int, int],
        checked: Verification,
        found: tuple[JournalLine, ...] = (),
    ) -> None:
        self.findings: tuple[RecordFinding, ...] = checked.findings
        self.found = found
        self.lock = lock
        self._disk = disk
        self._fd: int | None = fds[0]
        self._head_fd: int | None = fds[1]
        self._head_kept = True
        self._header = header
        self._job = lock.job
        self._head = Head(checked.job, checked.lines, checked.sha256)
        self._size = checked.size_bytes
        self._held: str | None = None
        self._pid = os.getpid()

    @classmethod
    def create(cls, folder: Path, header: Header, disk: Disk | None = None) -> Self:
        """Make a job's folder with an empty journal. Its parent folder must exist.

        A folder left by a crash before the journal was made is taken over. Raises
        ``JournalFailed`` (also if there is a journal already), ``HeldByAnother``,
        ``NotRecordable`` if the folder's name is no job id.
        """
        disk = disk or Disk()
        job = JobFolder(folder)
        try:
            disk.mkdir(folder)
        except FileExistsError:
            pass
        except OSError as error:
            raise failed(folder, _("make the job's folder"), error) from error
        lock = JobLock.take(job, disk)
        fd = None
        try:
            if not verify(folder, disk).has(FindingKind.NOT_BEGUN):
                raise JournalFailed(
                    str(job.journal),
                    _("there is a journal already"),
                    _("Open the job, or use a new id"),
                )
            try:
                fsync_folder(disk, folder.parent)
                fd = _open_or_new(disk, job)
            except OSError as error:
                raise failed(job.path, _("make the journal"), error) from error
            head_fd = _put_head(disk, job, Head(job.id, 0, ZERO_HASH), LineState.NONE)
            checked = Verification(job.id, 0, ZERO_HASH, 0, ())
            return cls(lock, header, disk, (fd, head_fd), checked)
        except BaseException:
            _let_go(disk, (fd,), lock)
            raise

    @classmethod
    def open(cls, folder: Path, header: Header | None = None, disk: Disk | None = None) -> Self:
        """Open a job to go on with it, after checking the whole journal.

        A torn last line is moved to a file ``torn-<n>``; a head that is behind is brought up to
        date; both stand in ``findings``. ``header`` is what new lines carry: the program, rules
        and procedure of *now*, whatever the earlier lines say; where it follows from the lines
        themselves, ``use_header`` gives it before the first ``append``.

        Raises ``JournalBroken`` if anything speaks of tampering or damage, ``NotRecordable`` if
        the job is sealed, ``HeldByAnother``, ``JournalFailed``.
        """
        disk = disk or Disk()
        job = JobFolder(folder)
        if not folder.is_dir():
            raise failed(folder, _("open the job"), FileNotFoundError(2, _("no such folder")))
        _refuse_sealed(job)  # a sealed job may lie where nothing can be written, not even a lock
        lock = JobLock.take(job, disk)
        fd = None
        try:
            _refuse_sealed(job)  # who held the lock until now may have sealed it
            checked, found = verify_and_read(folder, disk)
            if not checked.sound:
                raise JournalBroken(str(job.path), checked.findings)
            try:
                new = checked.has(FindingKind.NOT_BEGUN)
                fd = _open_or_new(disk, job) if new else disk.open(job.journal, APPEND_FLAGS)
                if checked.has(FindingKind.TORN_TAIL):
                    _set_aside(disk, job, fd, checked.size_bytes)
                # What a killed program wrote may be in memory only, and the head comes next.
                disk.fsync(fd)
            except OSError as error:
                raise failed(job.journal, _("put right what the crash left"), error) from error
            head = Head(job.id, checked.lines, checked.sha256)
            if read_head(job, disk) == encode_head(head):
                head_fd = _open_head(disk, job, LineState.NONE)
            else:
                head_fd = _put_head(disk, job, head, LineState.NONE)
            return cls(lock, header, disk, (fd, head_fd), checked, found)
        except BaseException:
            _let_go(disk, (fd,), lock)
            raise

    @property
    def head(self) -> Head:
        """Count and hash of the last confirmed line."""
        return self._head

    @property
    def held(self) -> str | None:
        """Why the writer refuses further lines, in plain words; None while it works."""
        return self._held

    def use_header(self, header: Header) -> None:
        """Have later lines carry another header (the procedure was revised during the job)."""
        self._header = header

    def append(
        self,
        actor: str,
        role: str,
        command: Mapping[str, Any],
        outcome: Mapping[str, Any],
        times: Times,
    ) -> JournalLine:
        """Write one line and return it once it is on the disk and counted in the head file.

        The line is returned as read back from the bytes written, so tuples are lists.

        Raises ``NotRecordable`` for what a line cannot hold (nothing is written and the writer
        goes on working) and ``JournalFailed`` for everything else (the writer is then held).
        Ctrl-C and stop signals act after the line is whole; if they get through all the same
        (from another thread), the writer is held.
        """
        self._refuse_if_held()
        if self._header is None:
            raise NotRecordable(self._job.id, _("no header was given"), _("Give it: use_header"))
        raw = encode(
            self._head.sha256,
            self._job.id,
            self._head.lines + 1,
            times,
            actor,
            role,
            self._header,
            command,
            outcome,
        )
        line = line_from(decode_fields(raw), hash_of(raw))
        with _signals_put_off():
            self._held = _("a line was interrupted while it was being written")
            try:
                self._put(raw)
                head = Head(self._job.id, line.envelope.seq, line.sha256)
                self._count(head)
            except JournalFailed as failure:
                self._held = failure.what
                raise
            self._head, self._size, self._held = head, self._size + len(raw), None
        return line

    def _refuse_if_held(self) -> None:
        if self._fd is None:
            raise JournalFailed(
                str(self._job.path), _("the journal is closed"), _("Open the job again")
            )
        if os.getpid() != self._pid:
            raise JournalFailed(
                str(self._job.path),
                _("this process is a copy of the one that opened the journal"),
                _("Write from the process that opened it"),
            )
        if self._held is not None:
            raise JournalFailed(
                str(self._job.path),
                _("nothing more is recorded after an earlier failure ({held})", held=self._held),
                _("Hold the job, put the cause right, then open the job again"),
            )

    def _put(self, raw: bytes) -> None:
        """Write the line's bytes and have the disk keep them."""
        fd, where = self._fd, self._job.journal
        assert fd is not None
        try:
            size, links = self._disk.size_and_links(fd)
        except OSError as error:
            raise failed(where, _("look at the journal"), error, LineState.NOT_WRITTEN) from error
        if size != self._size or links == 0:
            what = (
                _("was deleted")
                if links == 0
                else _("has {size} bytes instead of {size_2}", size=size, size_2=self._size)
            )
            raise JournalFailed(
                str(where),
                _(
                    "the journal {what}: something else has changed it since the last line",
                    what=what,
                ),
                _(
                    "Close what else works on this folder (copying, synchronising, an editor), "
                    "then check the job"
                ),
                LineState.NOT_WRITTEN,
            )
        try:
            taken = self._disk.write(fd, raw)
        except OSError as error:
            raise failed(where, _("write the line"), error, self._take_back(fd)) from error
        if taken != len(raw):
            state = self._take_back(fd)
            raise JournalFailed(
                str(where),
                _(
                    "the disk took only {taken} of the line's {count} bytes; {state}",
                    taken=taken,
                    count=len(raw),
                    state=state,
                ),
                _("Free space on that disk, then open the job again"),
                state,
            )
        try:
            self._disk.fsync(fd)
        except OSError as error:
            raise failed(where, _("have the line kept"), error, LineState.UNSURE) from error

    def _count(self, head: Head) -> None:
        """Overwrite the head. It waits for the disk only every ``HEAD_LAG`` lines: the line itself
        is kept, and the head of a disk that lost power is brought up to date at the next opening.
        """
        fd = self._head_fd
        assert fd is not None
        try:
            if self._disk.size_and_links(fd)[1] == 0:  # it was deleted, or put back by a copy
                let_go(self._disk, fd)
                self._head_fd = fd = _put_head(self._disk, self._job, head, LineState.WRITTEN)
                return
            taken = self._disk.overwrite(fd, encode_head(head))
            if taken != HEAD_BYTES:
                raise OSError(
                    errno.ENOSPC,
                    _(
                        "only {taken} of {head_bytes} bytes were taken",
                        taken=taken,
                        head_bytes=HEAD_BYTES,
                    ),
                )
            self._head_kept = head.lines % HEAD_LAG == 0
            if self._head_kept:
                self._disk.fsync(fd)
        except OSError as error:
            where, what = self._job.head, _("bring the head file up to date")
            raise failed(where, what, error, LineState.WRITTEN) from error

    def _take_back(self, fd: int) -> LineState:
        """Cut off what a failed write may have left."""
        try:
            if self._disk.size_and_links(fd)[0] != self._size:
                self._disk.truncate(fd, self._size)
                self._disk.fsync(fd)
        except OSError:
            return LineState.TORN  # the check at the next opening finds it and sets it aside
        return LineState.NOT_WRITTEN

    def close(self) -> None:
        """Close the journal and give up the lock. Calling it again does nothing."""
        fds, self._fd, self._head_fd = (self._fd, self._head_fd), None, None
        if fds[1] is not None and not self._head_kept and os.getpid() == self._pid:
            with contextlib.suppress(OSError):  # a head that is behind is found and put right
                self._disk.fsync(fds[1])
        _let_go(self._disk, fds, self.lock)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _refuse_sealed(job: JobFolder) -> None:
    if is_sealed(job):
        raise NotRecordable(
            str(job.path), _("the job is sealed: no line is added to it"), _("Begin a new job")
        )


def _let_go(disk: Disk, fds: Iterable[int | None], lock: JobLock) -> None:
    """Close files and lock. Every confirmed line was fsynced, so closing can lose nothing."""
    try:
        for fd in fds:
            if fd is not None:
                let_go(disk, fd)
    finally:
        lock.release()


def _open_or_new(disk: Disk, job: JobFolder) -> int:
    """Open the empty journal that a crash left, or make one, and have its name kept."""
    try:
        fd = disk.open(job.journal, NEW_APPEND_FLAGS)
    except FileExistsError:
        fd = disk.open(job.journal, APPEND_FLAGS)
    try:
        disk.fsync(fd)
        fsync_folder(disk, job.path)
    except BaseException:
        let_go(disk, fd)
        raise
    return fd


def _put_head(disk: Disk, job: JobFolder, head: Head, state: LineState) -> int:
    """Replace the head file whole, and open it to be overwritten in place from now on."""
    try:
        replace_file(disk, job.head, encode_head(head))
    except OSError as error:
        raise failed(job.head, _("replace the head file"), error, state) from error
    return _open_head(disk, job, state)


def _open_head(disk: Disk, job: JobFolder, state: LineState) -> int:
    try:
        return disk.open(job.head, IN_PLACE_FLAGS)
    except OSError as error:
        raise failed(job.head, _("open the head file"), error, state) from error


def _set_aside(disk: Disk, job: JobFolder, fd: int, keep_bytes: int) -> None:
    """Copy the torn bytes to a new file, have it kept, and only then cut them off the journal.

    The caller fsyncs the journal.
    """
    os.lseek(fd, keep_bytes, os.SEEK_SET)  # reading only: writes go to the end all the same
    parts: list[bytes] = []
    while part := disk.read(fd, MAX_LINE_BYTES):
        parts.append(part)
    names = set(disk.names(job.path))
    number = 1
    while f"{TORN_PREFIX}{number}" in names:
        number += 1
    write_and_sync(disk, job.path / f"{TORN_PREFIX}{number}", NEW_FLAGS, b"".join(parts))
    fsync_folder(disk, job.path)
    disk.truncate(fd, keep_bytes)
