"""One writer a job: a lock that the system itself gives up when its holder dies."""

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final, Self

from steplatch.safety.catalogue import _

from ..system import machine
from .clocks import utc_now
from .disk import LOCK_FLAGS, Disk, let_go
from .faults import HeldByAnother, RecordError, failed
from .folders import JobFolder

_MAX_WHO_BYTES = 400
LOCK_WAIT_S: Final = 20.0
"""How long one program waits for another (a PIN's check takes under 1 s, a line less)."""


@contextlib.contextmanager
def held(disk: Disk, path: Path, what: str = _("the pin book")) -> Iterator[None]:
    """Hold the lock that lies beside ``path``, waiting for its turn. Raises JournalFailed, and
    RecordError when another program holds it for too long."""
    lock = path.with_name(path.name + ".lock")
    try:
        fd = disk.open(lock, LOCK_FLAGS)
    except OSError as error:
        raise failed(lock, _("open the lock of {what}", what=what), error) from error
    try:
        until = time.monotonic() + LOCK_WAIT_S
        while True:
            try:
                disk.lock(fd)
                break
            except BlockingIOError:
                if time.monotonic() > until:
                    raise RecordError(
                        str(lock),
                        _("another program holds {what}", what=what),
                        _("Close it; try again"),
                    ) from None
                time.sleep(0.02)
            except OSError as error:
                raise failed(lock, _("lock {what}", what=what), error) from error
        yield
    finally:
        let_go(disk, fd)


def this_program() -> str:
    """What a holder writes into the lock file about itself."""
    return f"process {os.getpid()} on {machine.name()}, since {utc_now()}"


def _who(disk: Disk, fd: int) -> str:
    """What the holder wrote about itself; only for people, so a failing disk is no failure."""
    try:
        text = disk.read(fd, _MAX_WHO_BYTES).decode("utf-8", "replace")
    except OSError:
        return _("its name cannot be read")
    shown = "".join(char if char.isprintable() else " " for char in text).strip()
    return shown or _("it has not given its name yet")


class JobLock:
    """Held from ``take`` to ``release`` or to the death of the process, whichever is first.

    The text in the file is only for people; the lock itself is the system's. The file is never
    deleted: two programs could otherwise each lock a file of that name.
    """

    def __init__(self, job: JobFolder, disk: Disk, fd: int) -> None:
        self.job = job
        self._disk = disk
        self._fd: int | None = fd

    @classmethod
    def take(cls, job: JobFolder, disk: Disk | None = None) -> Self:
        """Take the lock. Raises ``HeldByAnother`` or ``JournalFailed``; never waits."""
        disk = disk or Disk()
        try:
            fd = disk.open(job.lock, LOCK_FLAGS)
        except OSError as error:
            raise failed(job.lock, _("open the lock file"), error) from error
        taken = False
        try:
            disk.lock(fd)
            disk.truncate(fd, 0)
            disk.write(fd, this_program().encode("utf-8", "replace")[:_MAX_WHO_BYTES])
            taken = True
        except BlockingIOError:
            raise HeldByAnother(str(job.path), _who(disk, fd)) from None
        except OSError as error:
            raise failed(job.lock, _("lock the job"), error) from error
        finally:
            if not taken:
                let_go(disk, fd)
        return cls(job, disk, fd)

    @property
    def held(self) -> bool:
        """Whether this object still holds the lock."""
        return self._fd is not None

    def release(self) -> None:
        """Give the lock up. Calling it again does nothing."""
        fd, self._fd = self._fd, None
        if fd is not None:
            let_go(self._disk, fd)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()
