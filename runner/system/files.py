"""Flags, locks and syncing of files, as far as the system at hand has them.

Where a system has no flag for it (Windows), a link is followed like any file, and others' access is
left to the folder's own permissions: mode bits are not enforced there.
"""

import importlib
import os
from types import ModuleType
from typing import Any, Final


def _only_some_have(name: str) -> Any:
    """A module of the standard library that only some systems have; None without it."""
    try:
        return importlib.import_module(name)
    except ImportError:
        return None


_POSIX: Final[ModuleType | None] = _only_some_have("fcntl")
_LOCKED_AT: Final = 1 << 30
"""Where one byte of a lock file is locked on Windows: behind all that it holds, so that others can
still read who holds it."""


def flag(*names: str) -> int:
    """Flags of ``os.open`` by their names; those that the system lacks count 0."""
    bits = 0
    for name in names:
        bits |= getattr(os, name, 0)
    return bits


PLAIN: Final = flag("O_CLOEXEC", "O_NOFOLLOW", "O_NOINHERIT", "O_BINARY")
"""Not for child processes, no link followed, bytes as they are."""
AT_ONCE: Final = flag("O_NONBLOCK")
"""Do not wait for the other end of a pipe."""
FOLDER: Final = flag("O_RDONLY", "O_DIRECTORY", "O_CLOEXEC")
FOLDERS_SYNC: Final = hasattr(os, "O_DIRECTORY")
"""Whether a folder can be opened and its names be synced. Windows keeps names by itself."""


def sync(fd: int) -> None:
    """Have the disk keep what was written to a file, also through a loss of power."""
    full = getattr(_POSIX, "F_FULLFSYNC", None)
    if _POSIX is not None and full is not None:  # macOS: fsync stops at the drive's own cache
        _POSIX.fcntl(fd, full)
    else:
        os.fsync(fd)


def lock(fd: int) -> None:
    """Take the exclusive lock of an open file or raise ``BlockingIOError``. It dies with its
    holder."""
    if _POSIX is not None:
        _POSIX.flock(fd, _POSIX.LOCK_EX | _POSIX.LOCK_NB)
        return
    windows = importlib.import_module("msvcrt")
    here = os.lseek(fd, 0, os.SEEK_CUR)
    os.lseek(fd, _LOCKED_AT, os.SEEK_SET)
    try:
        windows.locking(fd, windows.LK_NBLCK, 1)
    except OSError as error:
        raise BlockingIOError(error.errno, error.strerror) from error
    finally:
        os.lseek(fd, here, os.SEEK_SET)
