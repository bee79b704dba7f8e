"""The few file-system calls that the record makes, in one class that a test can make fail.

Every call raises ``OSError`` as the system does. Nothing here retries: an fsync that failed
once may report success the second time although the data are lost, so the caller must stop.
"""

import contextlib
import errno
import os
import stat
from pathlib import Path

from steplatch.safety.catalogue import _

from ..system.files import AT_ONCE, FOLDER, FOLDERS_SYNC, PLAIN, lock, sync

READ_FLAGS = os.O_RDONLY | AT_ONCE | PLAIN
APPEND_FLAGS = os.O_RDWR | os.O_APPEND | PLAIN
NEW_APPEND_FLAGS = APPEND_FLAGS | os.O_CREAT | os.O_EXCL
NEW_FLAGS = os.O_WRONLY | os.O_CREAT | os.O_EXCL | PLAIN
ASIDE_FLAGS = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | PLAIN
IN_PLACE_FLAGS = os.O_WRONLY | PLAIN
LOCK_FLAGS = os.O_RDWR | os.O_CREAT | PLAIN

FILE_MODE = 0o600
FOLDER_MODE = 0o700
ASIDE_SUFFIX = ".new"


class NotPlainFile(OSError):  # noqa: N818 - it names the thing, as the other refusals do
    """A pipe, a device, a socket or a folder stands where a plain file belongs; it is not read."""

    def __init__(self, path: Path) -> None:
        super().__init__(errno.EINVAL, _("no plain file stands there"), str(path))


class Disk:
    """The real disk. Tests subclass it to fail, to cut short or to crash at a chosen call."""

    def open(self, path: Path, flags: int) -> int:
        """Open ``path``; a new file gets mode 0600. Returns the descriptor."""
        return os.open(path, flags, FILE_MODE)

    def close(self, fd: int) -> None:
        """Close a descriptor (and so give up a lock held through it)."""
        os.close(fd)

    def read(self, fd: int, count: int) -> bytes:
        """Read up to ``count`` bytes; empty at the end of the file."""
        return os.read(fd, count)

    def write(self, fd: int, data: bytes) -> int:
        """Write once; returns how many bytes were taken, which may be fewer than given."""
        return os.write(fd, data)

    def overwrite(self, fd: int, data: bytes) -> int:
        """Write once from the beginning of the file on; returns how many bytes were taken."""
        os.lseek(fd, 0, os.SEEK_SET)
        return os.write(fd, data)

    def fsync(self, fd: int) -> None:
        """Have the disk keep what was written, also through a loss of power."""
        sync(fd)

    def truncate(self, fd: int, size: int) -> None:
        """Cut the open file to ``size`` bytes."""
        os.ftruncate(fd, size)

    def size_and_links(self, fd: int) -> tuple[int, int]:
        """Size of the open file in bytes and how many names it still has (0: deleted)."""
        status = os.fstat(fd)
        return status.st_size, status.st_nlink

    def mode(self, fd: int) -> int:
        """Kind and permissions of the open file, as ``stat`` gives them."""
        return os.fstat(fd).st_mode

    def lock(self, fd: int) -> None:
        """Take the exclusive lock or raise ``BlockingIOError``; the lock dies with its holder."""
        lock(fd)

    def replace(self, source: Path, target: Path) -> None:
        """Give ``source`` the name ``target`` in one step, in place of what had it."""
        source.replace(target)

    def mkdir(self, path: Path) -> None:
        """Make one folder with mode 0700; its parent must exist."""
        path.mkdir(FOLDER_MODE)

    def names(self, path: Path) -> list[str]:
        """The names in a folder, sorted."""
        return sorted(entry.name for entry in path.iterdir())


def let_go(disk: Disk, fd: int) -> None:
    """Close a descriptor to which nothing unsynced was written, so that an error loses nothing."""
    with contextlib.suppress(OSError):
        disk.close(fd)


def fsync_folder(disk: Disk, path: Path) -> None:
    """Have the disk keep the *names* in a folder: a new or renamed file needs this too.

    Where the system cannot sync a folder (Windows) it is left to the file system's own journal.
    """
    if not FOLDERS_SYNC:
        return
    fd = disk.open(path, FOLDER)
    try:
        disk.fsync(fd)
    finally:
        let_go(disk, fd)


def open_to_read(disk: Disk, path: Path) -> int:
    """Open a plain file for reading, whoever made the folder it lies in; gives the descriptor.

    A link is not followed, a pipe is not waited for, a device is not read. Raises ``OSError``.
    """
    fd = disk.open(path, READ_FLAGS)
    try:
        if not stat.S_ISREG(disk.mode(fd)):
            raise NotPlainFile(path)
    except BaseException:
        let_go(disk, fd)
        raise
    return fd


def read_whole(disk: Disk, path: Path, limit_bytes: int) -> bytes:
    """The bytes of a small file; at most ``limit_bytes`` + 1, so that the caller sees too many."""
    fd = open_to_read(disk, path)
    try:
        parts: list[bytes] = []
        left = limit_bytes + 1
        while left > 0 and (part := disk.read(fd, left)):
            parts.append(part)
            left -= len(part)
        return b"".join(parts)
    finally:
        let_go(disk, fd)


def write_and_sync(disk: Disk, path: Path, flags: int, data: bytes) -> None:
    """Write a whole small file and fsync it (not its folder). A short write is an ``OSError``."""
    fd = disk.open(path, flags)  # closed only after fsync, or when the caller is told to stop
    try:
        taken = disk.write(fd, data)
        if taken != len(data):
            raise OSError(
                errno.ENOSPC,
                _("only {taken} of {count} bytes were taken", taken=taken, count=len(data)),
            )
        disk.fsync(fd)
    finally:
        let_go(disk, fd)


def replace_file(disk: Disk, path: Path, data: bytes) -> None:
    """Replace a small file in one step: write aside, fsync, rename, fsync the folder.

    After a crash at any moment the file holds either the old or the new bytes, whole.
    """
    aside = path.with_name(path.name + ASIDE_SUFFIX)
    write_and_sync(disk, aside, ASIDE_FLAGS, data)
    disk.replace(aside, path)
    fsync_folder(disk, path.parent)
