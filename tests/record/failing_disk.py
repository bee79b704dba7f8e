"""Disks that fail on purpose: at one call, from one call on, or by losing power."""

import contextlib
import errno
import os
from collections.abc import Callable
from enum import Enum
from pathlib import Path
from typing import TypeVar

from steplatch.runner.record import Disk

T = TypeVar("T")


class Crashed(BaseException):
    """The process is gone: nothing that the program does afterwards reaches the disk."""


class Fault(Enum):
    """What happens at the chosen call."""

    FULL = "it fails: no space"
    BROKEN = "it fails: input/output error"
    READ_ONLY = "it fails: read-only"
    FULL_FROM_HERE = "this and all later writing calls fail: no space"
    BROKEN_FROM_HERE = "this and all later calls fail: input/output error"
    DONE_BUT_FAILED = "it is done, yet reports an input/output error"
    HALF = "a write takes half of the bytes, then all is well"
    HALF_FROM_HERE = "a write takes half of the bytes, then all writing calls fail"
    CRASH_BEFORE = "the process dies before the call"
    CRASH_AFTER = "the process dies after the call"
    CRASH_HALFWAY = "the process dies with half of the bytes written"


_WRITING = frozenset({"write", "fsync", "truncate", "replace", "mkdir"})


class FailingDisk(Disk):
    """Counts the calls and does ``fault`` at number ``at`` (from 1). fsync does nothing here."""

    def __init__(self, at: int = 0, fault: Fault = Fault.BROKEN) -> None:
        self.at = at
        self.fault = fault
        self.calls = 0
        self.struck = ""  # the name of the call that was struck
        self.closing = False  # what fails then loses nothing, and is not said
        self._dead = False
        self._open: set[int] = set()

    def bury(self) -> None:
        """Close what a dead process had open, as the system does."""
        for fd in self._open:
            os.close(fd)
        self._open.clear()

    def _gate(self, name: str, call: Callable[[], T]) -> T:
        if self._dead:
            raise Crashed
        self.calls += 1
        if self.struck and name != "close":
            if self.fault is Fault.BROKEN_FROM_HERE:
                raise OSError(errno.EIO, "injected")
            if self.fault in (Fault.FULL_FROM_HERE, Fault.HALF_FROM_HERE) and name in _WRITING:
                raise OSError(errno.ENOSPC, "injected")
        if self.calls != self.at:
            return call()
        self.struck = "close" if self.closing else name
        match self.fault:
            case Fault.FULL | Fault.FULL_FROM_HERE:
                raise OSError(errno.ENOSPC, "injected")
            case Fault.BROKEN | Fault.BROKEN_FROM_HERE:
                raise OSError(errno.EIO, "injected")
            case Fault.READ_ONLY:
                raise OSError(errno.EROFS, "injected")
            case Fault.DONE_BUT_FAILED:
                with contextlib.suppress(OSError):
                    call()
                raise OSError(errno.EIO, "injected")
            case Fault.CRASH_AFTER:
                with contextlib.suppress(OSError):
                    call()
                self._dead = True
                raise Crashed
            case Fault.CRASH_BEFORE | Fault.CRASH_HALFWAY:
                self._dead = True
                raise Crashed
            case Fault.HALF | Fault.HALF_FROM_HERE:
                return call()

    def open(self, path: Path, flags: int) -> int:
        def call() -> int:
            fd = super(FailingDisk, self).open(path, flags)
            self._open.add(fd)
            return fd

        return self._gate("open", call)

    def close(self, fd: int) -> None:
        def call() -> None:
            self._open.discard(fd)
            super(FailingDisk, self).close(fd)

        self._gate("close", call)

    def read(self, fd: int, count: int) -> bytes:
        return self._gate("read", lambda: super(FailingDisk, self).read(fd, count))

    def write(self, fd: int, data: bytes) -> int:
        half = self.calls + 1 == self.at and self.fault in (
            Fault.HALF,
            Fault.HALF_FROM_HERE,
            Fault.CRASH_HALFWAY,
        )
        if half and not self._dead:
            data = data[: len(data) // 2]
            if self.fault is Fault.CRASH_HALFWAY:
                os.write(fd, data)
        return self._gate("write", lambda: super(FailingDisk, self).write(fd, data))

    def overwrite(self, fd: int, data: bytes) -> int:
        os.lseek(fd, 0, os.SEEK_SET)
        return self.write(fd, data)

    def fsync(self, fd: int) -> None:
        self._gate("fsync", lambda: None)

    def truncate(self, fd: int, size: int) -> None:
        self._gate("truncate", lambda: super(FailingDisk, self).truncate(fd, size))

    def size_and_links(self, fd: int) -> tuple[int, int]:
        return self._gate("stat", lambda: super(FailingDisk, self).size_and_links(fd))

    def lock(self, fd: int) -> None:
        self._gate("lock", lambda: super(FailingDisk, self).lock(fd))

    def replace(self, source: Path, target: Path) -> None:
        self._gate("replace", lambda: super(FailingDisk, self).replace(source, target))

    def mkdir(self, path: Path) -> None:
        self._gate("mkdir", lambda: super(FailingDisk, self).mkdir(path))

    def names(self, path: Path) -> list[str]:
        return self._gate("names", lambda: super(FailingDisk, self).names(path))
