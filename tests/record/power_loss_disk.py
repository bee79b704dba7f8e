"""A disk that keeps account of what a loss of power would leave behind.

POSIX promises little without fsync: of a file, what its last fsync saw; of a folder, the names
that its last fsync saw. Anything later may be there, in part, or not at all. ``aftermaths`` gives
such worlds for the moment at which it is called.
"""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path

from steplatch.runner.record import Disk


@dataclass
class _Folder:
    """Names to file numbers: as they are, and as the last fsync of the folder saw them."""

    names: dict[str, int] = field(default_factory=dict)
    kept: dict[str, int] = field(default_factory=dict)


def _part_kept(folder: _Folder) -> Iterator[dict[str, int]]:
    """Every way in which a part of the changes to a folder's names may have been kept."""
    open_names = sorted(
        name
        for name in folder.names.keys() | folder.kept.keys()
        if folder.names.get(name) != folder.kept.get(name)
    )
    for count in range(len(open_names) + 1):
        for changed in combinations(open_names, count):
            mixed = {**folder.kept}
            for name in changed:
                mixed.pop(name, None)
                if name in folder.names:
                    mixed[name] = folder.names[name]
            yield mixed


class PowerLossDisk(Disk):
    """The real disk under ``root``, with an account of what has been fsynced.

    ``watch`` is called after every call that changes something.
    """

    def __init__(self, root: Path) -> None:
        self._root = root
        self._kept: list[bytes] = []
        self._folders: dict[Path, _Folder] = {root: _Folder()}
        self._open: dict[int, tuple[Path, int | None]] = {}
        self.worlds = 0
        self.watch: Callable[[], None] = lambda: None

    def open(self, path: Path, flags: int) -> int:
        fd = super().open(path, flags)
        number = None
        if not flags & os.O_DIRECTORY:
            names = self._folders[path.parent].names
            if path.name not in names:
                names[path.name] = len(self._kept)
                self._kept.append(b"")
            number = names[path.name]
        self._open[fd] = path, number
        self.watch()
        return fd

    def close(self, fd: int) -> None:
        super().close(fd)
        del self._open[fd]

    def write(self, fd: int, data: bytes) -> int:
        taken = super().write(fd, data)
        self.watch()
        return taken

    def overwrite(self, fd: int, data: bytes) -> int:
        taken = super().overwrite(fd, data)
        self.watch()
        return taken

    def truncate(self, fd: int, size: int) -> None:
        super().truncate(fd, size)
        self.watch()

    def fsync(self, fd: int) -> None:
        path, number = self._open[fd]
        if number is None:
            folder = self._folders[path]
            folder.kept = dict(folder.names)
        else:
            self._kept[number] = path.read_bytes()
        self.watch()

    def replace(self, source: Path, target: Path) -> None:
        super().replace(source, target)
        names = self._folders[source.parent].names
        names[target.name] = names.pop(source.name)
        self.watch()

    def mkdir(self, path: Path) -> None:
        super().mkdir(path)
        self._folders[path] = _Folder()
        self._folders[path.parent].names[path.name] = -1
        self.watch()

    def _versions(self, number: int, now: bytes) -> list[bytes]:
        """What a file may hold: what was kept, all, half of what came later, or zeros for it."""
        kept = self._kept[number]
        found = [kept, now]
        later = len(now) - len(kept)
        if later > 0 and now.startswith(kept):
            half = len(kept) + later // 2
            found += [now[:half], kept + b"\0" * later, kept + b"\0" * (later // 2) + now[half:]]
        return list(dict.fromkeys(found))

    def aftermaths(self, folder: Path, into: Path) -> Iterator[Path]:
        """Paths under ``into``, each one way in which ``folder`` may be found afterwards.

        The path of a folder that may not be found at all is handed out without being made.
        """
        account = self._folders.get(folder)
        if account is None or folder.name not in self._folders[self._root].kept:
            yield into / "gone" / folder.name
        if account is None:
            return
        files = {name: number for name, number in account.names.items() if number >= 0}
        now = {number: (folder / name).read_bytes() for name, number in files.items()}
        for names in _part_kept(account):
            choices = {
                name: self._versions(number, now.get(number, self._kept[number]))
                for name, number in names.items()
                if number >= 0
            }
            rooms = [folder / name for name, number in names.items() if number < 0]
            for pick in range(max((len(found) for found in choices.values()), default=1)):
                self.worlds += 1
                world = into / str(self.worlds) / folder.name
                world.mkdir(parents=True)
                for name, found in choices.items():
                    (world / name).write_bytes(found[min(pick, len(found) - 1)])
                for room in rooms:
                    self._room(room, world / room.name)
                yield world

    def _room(self, folder: Path, into: Path) -> None:
        """A folder inside, as its last fsync and those of its files saw it: the worst there is."""
        into.mkdir()
        for name, number in self._folders[folder].kept.items():
            (into / name).write_bytes(self._kept[number])
