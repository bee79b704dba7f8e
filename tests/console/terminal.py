"""A real terminal for tests: a pty whose other end is read as a screen.

``Typist`` is the program's own ``LineTalk`` on that pty; at each prompt it types, through the
terminal, what a lesson answers. ``spawned`` runs the program in a process of its own.
"""

import contextlib
import os
import pty
import struct
import sys
import termios
import threading
import time
import tty
from fcntl import ioctl
from pathlib import Path
from typing import Any

import pexpect
import pyte

from runner.console.talk import LineTalk, Prompt
from runner.practice.lesson import ScriptTalk

ROOT = Path(__file__).resolve().parents[2]


class Screen:
    """A pty of a given size; everything written to it ends on a screen of characters."""

    def __init__(self, columns: int, rows: int) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.master, slave = pty.openpty()
        ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        tty.setcbreak(slave, termios.TCSANOW)
        attributes = termios.tcgetattr(slave)
        attributes[3] |= termios.ICANON | termios.ISIG
        attributes[3] &= ~termios.ECHO
        termios.tcsetattr(slave, termios.TCSANOW, attributes)
        self.stdin = os.fdopen(os.dup(slave), "r", encoding="utf-8", buffering=1)
        self.stdout = os.fdopen(slave, "w", encoding="utf-8")
        self._lock = threading.Lock()
        self.fed = 0
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        with contextlib.suppress(OSError):
            while data := os.read(self.master, 65536):
                with self._lock:
                    self._stream.feed(data)
                    self.fed += len(data)

    def type(self, text: str) -> None:
        """Type a line at the keyboard."""
        os.write(self.master, text.encode() + b"\n")

    def text(self) -> str:
        """What stands on the screen now."""
        with self._lock:
            return "\n".join(line.rstrip() for line in self.screen.display)

    def close(self) -> None:
        """Take the terminal away."""
        self.stdin.close()
        self.stdout.close()
        os.close(self.master)


class Typist(LineTalk):
    """The real line console, with a lesson's answers typed through the terminal.

    ``seen`` keeps, for each prompt, what stood on the screen when it was answered.
    """

    def __init__(self, screen: Screen, script: ScriptTalk) -> None:
        super().__init__(screen.stdin, screen.stdout)
        self._screen = screen
        self._script = script
        self._answer = ""
        self.seen: list[tuple[Prompt, str]] = []
        self._prompt: Prompt | None = None
        self._fed = 0

    def ask(self, prompt: Prompt) -> str:
        """Type the lesson's answer once the prompt stands on the screen."""
        self._prompt = prompt
        self._fed = self._screen.fed
        self._answer = self._script.ask(prompt)
        return super().ask(prompt)

    def _line(self) -> str:
        shown = ""
        for _ in range(500):
            last, shown = shown, self._screen.text()
            whole = shown == last and self._screen.fed > self._fed
            if whole and shown.rstrip().endswith("\n>"):
                break
            time.sleep(0.005)
        assert self._prompt is not None
        self.seen.append((self._prompt, shown))
        self._screen.type(self._answer)
        return super()._line()


def spawned(data: Path, *words: str, columns: int = 80, rows: int = 24, **env: str) -> Any:
    """The program in a process and terminal of its own."""
    return pexpect.spawn(
        sys.executable,
        ["-m", "runner.cli", "--data", str(data), *words],
        cwd=str(ROOT),
        dimensions=(rows, columns),
        env={**os.environ, "TERM": "xterm", **env},
        encoding="utf-8",
        timeout=30,
        echo=False,
    )
