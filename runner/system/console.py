"""The keys of a console: wait for input, read it, key by key or by line, shown or not.

Two kinds with one face. A terminal of a POSIX system is asked through ``termios``; a Windows
console through ``msvcrt``, its keys given as the bytes that a terminal sends for them.
"""

import contextlib
import ctypes
import importlib
import os
import select
import sys
import time
from collections.abc import Iterator, Mapping
from typing import Any, Protocol, TextIO

LOOK_S = 0.01
"""How often a Windows console is looked at for a key: it cannot be waited for with a limit."""
MOST_BYTES = 65536
_STANDARD_OUTPUT, _ESCAPES = -11, 0x0004
"""STD_OUTPUT_HANDLE and ENABLE_VIRTUAL_TERMINAL_PROCESSING (Microsoft, Console API, from memory)"""


class Console(Protocol):
    """What a keyboard needs of the system."""

    def wait(self, seconds: float) -> bool:
        """Whether input came within ``seconds``."""

    def read(self) -> bytes:
        """The input that is there, waiting for some; empty when the console is gone."""

    def by_key(self) -> None:
        """Give input key by key and show none of it, until ``by_line``."""

    def by_line(self) -> None:
        """Give it as it was found."""

    def drop(self) -> None:
        """Forget what came and was not read."""

    def unseen(self) -> contextlib.AbstractContextManager[None]:
        """While it is open, lines that are typed are not shown."""


def console_of(stdin: TextIO) -> Console:
    """The console behind ``stdin``, a terminal or not."""
    try:
        termios = importlib.import_module("termios")
    except ImportError:
        return WindowsConsole(stdin, importlib.import_module("msvcrt"))
    return Terminal(stdin, termios)


def kind_of_terminal(environ: Mapping[str, str]) -> str:
    """What ``TERM`` says; where nothing sets it, a Windows console that takes the escape sequences
    of terminals is told to, and counts as one of 256 colours; ``dumb`` for any other."""
    said = environ.get("TERM")
    if said is not None or sys.platform != "win32":
        return said or "dumb"
    kernel: Any = ctypes.windll.kernel32
    handle, mode = kernel.GetStdHandle(_STANDARD_OUTPUT), ctypes.c_ulong()
    if not kernel.GetConsoleMode(handle, ctypes.byref(mode)):
        return "dumb"
    able = kernel.SetConsoleMode(handle, mode.value | _ESCAPES)
    return "xterm-256color" if able else "dumb"


class Terminal:
    """A terminal of a POSIX system."""

    def __init__(self, stdin: TextIO, termios: Any) -> None:
        self._in = stdin
        self._termios = termios
        self._found: list[Any] | None = None

    def wait(self, seconds: float) -> bool:
        """Whether input came within ``seconds``."""
        ready, _, _ = select.select([self._in], [], [], max(0.0, seconds))
        return bool(ready)

    def read(self) -> bytes:
        """The input that is there, waiting for some."""
        return os.read(self._in.fileno(), MOST_BYTES)

    def by_key(self) -> None:
        """Key by key, not shown."""
        if self._found is not None:
            return
        t = self._termios
        found = t.tcgetattr(self._in.fileno())
        self._found = list(found)
        keys = [*found[:3], found[3] & ~(t.ICANON | t.ECHO), *found[4:]]
        keys[6] = list(found[6])
        keys[6][t.VMIN], keys[6][t.VTIME] = 1, 0
        t.tcsetattr(self._in.fileno(), t.TCSADRAIN, keys)

    def by_line(self) -> None:
        """As it was found."""
        found, self._found = self._found, None
        if found is not None:
            with contextlib.suppress(self._termios.error, ValueError, OSError):
                self._termios.tcsetattr(self._in.fileno(), self._termios.TCSADRAIN, found)

    def drop(self) -> None:
        """Forget what came."""
        with contextlib.suppress(self._termios.error):
            self._termios.tcflush(self._in.fileno(), self._termios.TCIFLUSH)

    @contextlib.contextmanager
    def unseen(self) -> Iterator[None]:
        """Lines that are typed are not shown."""
        t = self._termios
        before = t.tcgetattr(self._in.fileno())
        quiet = [*before[:3], before[3] & ~t.ECHO, *before[4:]]
        t.tcsetattr(self._in.fileno(), t.TCSADRAIN, quiet)
        try:
            yield
        finally:
            with contextlib.suppress(t.error):
                t.tcsetattr(self._in.fileno(), t.TCSADRAIN, before)


_SENT = {"H": "\x1b[A", "P": "\x1b[B", "M": "\x1b[C", "K": "\x1b[D", "I": "\x1b[5~", "Q": "\x1b[6~"}
"""What a terminal sends for up, down, right, left, page-up, page-down, by the second code that a
Windows console gives for them (Microsoft C runtime, _getwch; from memory)."""


class WindowsConsole:
    """A console of Windows. Never run there: tried with a simulated ``msvcrt``."""

    def __init__(self, stdin: TextIO, msvcrt: Any) -> None:
        self._in = stdin
        self._msvcrt = msvcrt
        self._keys = False
        self._shown = True

    def wait(self, seconds: float) -> bool:
        """Whether a key was pressed within ``seconds``; a file or pipe is not waited for."""
        if not self._in.isatty():
            return True
        until = time.monotonic() + seconds
        while not self._msvcrt.kbhit():
            if time.monotonic() >= until:
                return False
            time.sleep(LOOK_S)
        return True

    def read(self) -> bytes:
        """The keys that were pressed, or one line."""
        if not self._keys:
            return self._line().encode("utf-8", "surrogateescape")
        typed = self._key()
        while self._msvcrt.kbhit():
            typed += self._key()
        return typed.encode("utf-8", "surrogatepass")

    def _line(self) -> str:
        if self._shown:
            return self._in.readline()
        line = ""
        while not line.endswith("\n"):
            key = self._key()
            line = line[:-1] if key == "\x08" else line + key
        return line

    def _key(self) -> str:
        key = str(self._msvcrt.getwch())
        if key in ("\x00", "\xe0"):
            return _SENT.get(str(self._msvcrt.getwch()), "")
        if key == "\x03":
            raise KeyboardInterrupt
        return {"\r": "\n", "\x1a": "\x04"}.get(key, key)

    def by_key(self) -> None:
        """Key by key, not shown."""
        self._keys = True

    def by_line(self) -> None:
        """By line."""
        self._keys = False

    def drop(self) -> None:
        """Forget what came."""
        while self._msvcrt.kbhit():
            self._msvcrt.getwch()

    @contextlib.contextmanager
    def unseen(self) -> Iterator[None]:
        """Lines that are typed are not shown."""
        self._shown = False
        try:
            yield
        finally:
            self._shown = True
