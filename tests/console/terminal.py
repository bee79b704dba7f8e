"""A real terminal for tests: a pty whose other end is read as a screen.

``Typist`` is the program's own ``LineTalk`` on that pty; at each prompt it types, through the
terminal, what a lesson answers. ``Program`` is the program in a process of its own.
"""

import contextlib
import os
import pty
import re
import struct
import sys
import tempfile
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
        attributes[3] |= termios.ECHO
        termios.tcsetattr(slave, termios.TCSANOW, attributes)
        self.stdin = os.fdopen(os.dup(slave), "r", encoding="utf-8", buffering=1)
        self.stdout = os.fdopen(slave, "w", encoding="utf-8")
        self._lock = threading.Lock()
        self.bells: list[float] = []
        self.fed = 0
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        with contextlib.suppress(OSError):
            while data := os.read(self.master, 65536):
                if b"\a" in data:
                    self.bells.append(time.monotonic())
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

    def shows(self, words: str, within: float = 8.0) -> bool:
        """Wait until ``words`` stand on the screen."""
        until = time.monotonic() + within
        while words not in self.text() and time.monotonic() < until:
            time.sleep(0.005)
        return words in self.text()

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
        self.parts: list[str] = []
        self._prompt: Prompt | None = None
        self._fed = 0
        self._parting = False

    def ask(self, prompt: Prompt) -> str:
        """Type the lesson's answer once the prompt stands on the screen."""
        self._prompt = prompt
        self._fed = self._screen.fed
        self._answer = self._script.ask(prompt)
        return super().ask(prompt)

    def _part(self) -> None:
        self._parting = True
        try:
            super()._part()
        finally:
            self._parting = False

    def _line(self) -> str:
        last = ""
        for _ in range(1000):
            shown = self._screen.text()
            end = shown.rstrip().splitlines()[-1:]
            ready = end == [PART] if self._parting else end == [">"]
            if ready and shown == last and self._screen.fed > self._fed:
                break
            last = shown
            time.sleep(0.002)
        assert self._prompt is not None
        if self._parting:
            self.parts.append(shown)
        else:
            self.seen.append((self._prompt, shown))
        self._screen.type("" if self._parting else self._answer)
        return super()._line()


UNSET = ("NO_COLOR", "COLORTERM", "PYTHONDONTWRITEBYTECODE", "PYTHONUNBUFFERED")
COMPILED = str(Path(tempfile.gettempdir()) / "steplatch-tests-compiled")
"""Compiled modules of the programs that the tests start: kept, so that each starts quickly."""
PART = "(more: Enter; s stop)"


class Program:
    """The program in a process and terminal of its own, read as a screen."""

    def __init__(
        self, data: Path, *words: str, columns: int = 80, rows: int = 24, **env: str
    ) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self._answered = 0
        kept = {k: v for k, v in os.environ.items() if k not in UNSET}
        self.child: Any = pexpect.spawn(
            sys.executable,
            ["-m", "runner.cli", "--data", str(data), *words],
            cwd=str(ROOT),
            dimensions=(rows, columns),
            env={**kept, "TERM": "xterm-256color", "PYTHONPYCACHEPREFIX": COMPILED, **env},
            timeout=30,
        )
        self.child.delaybeforesend = None

    def text(self) -> str:
        """What stands on the screen now."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def pump(self, seconds: float = 0.05) -> bool:
        """Take in what the program writes; False when its end is reached."""
        try:
            data = self.child.read_nonblocking(65536, seconds)
        except pexpect.TIMEOUT:
            return True
        except pexpect.EOF:
            return False
        self.raw += data
        self._stream.feed(data)
        return True

    def ready(self, parts: bool = True, within: float = 20.0) -> str:
        """The screen once the program waits for an answer (``parts``: read on to the end)."""
        until = time.monotonic() + within
        while time.monotonic() < until:
            line = self.screen.display[self.screen.cursor.y].rstrip()
            if line == ">" and self.screen.cursor.x == 2:
                return self.text()
            if line == PART:
                if not parts:
                    return self.text()
                answered = self._answered
                self.send("")
                self._answered = answered
            if not self.pump():
                raise AssertionError(f"the program ended:\n{self.text()}")
        raise AssertionError(f"no question came:\n{self.text()}")

    def shows(self, words: str, within: float = 10.0) -> None:
        """Wait until ``words`` stand on the screen."""
        until = time.monotonic() + within
        while words not in self.text():
            assert self.pump() and time.monotonic() < until, f"{words!r} never came:\n{self.text()}"

    def said(self) -> str:
        """Everything written since the last answer, read through its parts."""
        text = self.raw[self._answered :].decode("utf-8", "replace").replace("\r", "")
        text = re.sub(r"\x1b\[[0-9;]*[A-Za-z]", "", text)
        return text.replace(f"{PART} \n", "")

    def send(self, text: str) -> None:
        """Type a line; returns once the terminal has taken it."""
        self._answered = len(self.raw)
        self.child.send(text + "\n")
        until = time.monotonic() + 1
        line = self.screen.cursor.y, self.screen.cursor.x
        while (self.screen.cursor.y, self.screen.cursor.x) == line and time.monotonic() < until:
            if not self.pump():
                return

    def answer(self, text: str, parts: bool = True) -> str:
        """Type an answer; the screen at the next question."""
        self.send(text)
        return self.ready(parts)

    def end(self, within: float = 20.0) -> int:
        """Read to the end; the exit code."""
        until = time.monotonic() + within
        while self.pump() and time.monotonic() < until:
            pass
        self.child.close()
        return int(self.child.exitstatus if self.child.exitstatus is not None else -1)


def begun(data: Path, **kwargs: Any) -> Program:
    """A practice job, at its first step."""
    program = Program(data, "practise", **kwargs)
    assert "Who does the work" in program.ready()
    program.answer("1")
    return program
