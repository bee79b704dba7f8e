"""A real terminal for tests: a pty whose other end is read as a screen.

``Typist`` is the program's own ``FullScreen`` on that pty; at each prompt it types, through the
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
from steplatch.runner.screen.page import ScreenPart
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.screen.terminal.full_screen import FullScreen
from steplatch.runner.training.lesson import Script

ROOT = Path(__file__).resolve().parents[2]


SHOWN = "\x1b[?25h"
"""Written when a screen is drawn to its end."""


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
        self.drawn = 0
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        tail = b""
        with contextlib.suppress(OSError):
            while data := os.read(self.master, 65536):
                if b"\a" in data:
                    self.bells.append(time.monotonic())
                with self._lock:
                    self._stream.feed(data)
                    joined = tail + data
                    self.drawn += joined.count(SHOWN.encode())
                    tail = joined[-(len(SHOWN) - 1) :]

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
            time.sleep(0.02)  # the lock is not fair: leave time to whoever reads
        return words in self.text()

    def rang(self, within: float = 2.0) -> bool:
        """Wait for a bell."""
        until = time.monotonic() + within
        while not self.bells and time.monotonic() < until:
            time.sleep(0.005)
        return bool(self.bells)

    def settled(self, written: int, within: float = 5.0) -> str:
        """What stands on the screen once the cursor was shown ``written`` times."""
        until = time.monotonic() + within
        while self.drawn < written and time.monotonic() < until:
            time.sleep(0.0005)
        return self.text()

    def close(self) -> None:
        """Take the terminal away."""
        self.stdin.close()
        self.stdout.close()
        self._reader.join(5)  # else it may read what the next terminal of this number gets
        os.close(self.master)


class Typist(FullScreen):
    """The real console, with a lesson's answers typed through the terminal.

    ``seen`` keeps, for each prompt, what stood on the screen when it was answered; ``parts`` the
    parts that were read before.
    """

    def __init__(self, screen: Screen, script: Script) -> None:
        super().__init__(screen.stdin, screen.stdout)
        self._screen = screen
        self._script = script
        self.seen: list[tuple[Prompt, str]] = []
        self.parts: list[str] = []
        self._due = ""
        self._at = self._written = 0

    def _write(self, text: str) -> None:
        self._written += text.count(SHOWN)
        super()._write(text)

    def ask(self, prompt: Prompt) -> str:
        """Type the lesson's answer once the prompt stands on the screen."""
        self._due, self._at = self._script.ask(prompt), 0
        return super().ask(prompt)

    def _draw(self, part: ScreenPart, size: os.terminal_size, prompt: Prompt) -> None:
        super()._draw(part, size, prompt)
        if part.number <= self._at:
            return
        self._at = part.number
        shown = self._screen.settled(self._written)
        if part.last:
            self.seen.append((prompt, shown))
        else:
            self.parts.append(shown)
        self._screen.type(self._due if part.last else "")


UNSET = ("NO_COLOR", "COLORTERM", "PYTHONDONTWRITEBYTECODE", "PYTHONUNBUFFERED")
COMPILED = str(Path(tempfile.gettempdir()) / "steplatch-tests-compiled")
"""Compiled modules of the programs that the tests start: kept, so that each starts quickly."""
PART = ": Enter reads on"


class Program:
    """The program in a process and terminal of its own, read as a screen."""

    def __init__(
        self,
        data: Path,
        *words: str,
        columns: int = 80,
        rows: int = 24,
        module: str = "steplatch.runner.cli",
        **env: str,
    ) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self._answered = self._sent = 0
        self.plain = env.get("TERM") == "dumb" or "--plain" in words
        kept = {k: v for k, v in os.environ.items() if k not in UNSET}
        self.child: Any = pexpect.spawn(
            sys.executable,
            ["-m", module, "--data", str(data), *words],
            cwd=str(ROOT),
            dimensions=(rows, columns),
            env={**kept, "TERM": "xterm-256color", "PYTHONPYCACHEPREFIX": COMPILED, **env},
            timeout=30,
        )
        self.child.delaybeforesend = None

    @classmethod
    def goes_on(
        cls, child: Any, raw: bytes, sent: int, columns: int = 80, rows: int = 24
    ) -> "Program":
        """The same program in the same terminal, after its questions before a job."""
        program = cls.__new__(cls)
        program.screen = pyte.Screen(columns, rows)
        program._stream = pyte.ByteStream(program.screen)
        program._stream.feed(raw)
        program.raw, program.child, program.plain = raw, child, False
        program._answered = program._sent = sent
        return program

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
            line = self._row() if self._drawn() else ""
            if line == ">" and self.screen.cursor.x == 2:
                return self.text()
            if line.endswith(PART):
                if not parts:
                    return self.text()
                answered = self._answered
                self.send("")
                self._answered = answered
            if not self.pump():
                raise AssertionError(f"the program ended:\n{self.text()}")
        raise AssertionError(f"no question came:\n{self.text()}")

    def _row(self) -> str:
        """The row that the cursor stands in."""
        row = self.screen.buffer[self.screen.cursor.y]
        return "".join(row[x].data for x in range(self.screen.columns)).rstrip()

    def _drawn(self) -> bool:
        """Whether a screen was drawn to its end since the last key; plain lines just stand."""
        if self.plain:
            return True
        return self.raw.rfind(b"\x1b[?25h") > max(self.raw.rfind(b"\x1b[?25l"), self._sent)

    def resize(self, columns: int, rows: int) -> str:
        """Change the size of the terminal; the screen as it is drawn anew, no key pressed."""
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self._sent = len(self.raw)
        self.child.setwinsize(rows, columns)
        until = time.monotonic() + 5
        while not self._drawn() and time.monotonic() < until:
            self.pump()
        return self.text()

    def shows(self, words: str, within: float = 10.0) -> None:
        """Wait until ``words`` stand on the screen."""
        until = time.monotonic() + within
        while words not in self.text():
            assert self.pump() and time.monotonic() < until, f"{words!r} never came:\n{self.text()}"

    def said(self) -> str:
        """Everything written since the last answer, read through its parts; of a wide screen the
        side with the question."""
        text = self.raw[self._answered :].decode("utf-8", "replace").replace("\r", "")
        text = re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", text)
        return "\n".join(line.split(" │ ")[0].rstrip() for line in text.split("\n"))

    def send(self, text: str) -> None:
        """Type an answer; returns once the program has taken it."""
        self.press(self.typed(text))

    def typed(self, text: str) -> str:
        """The keys that an answer takes: a figure of a list stands alone, Enter ends the rest."""
        return text if text and text in self.whole else text + "\n"

    @property
    def whole(self) -> str:
        """The keys that are taken as they are pressed."""
        shown = " ".join(self.text().split())
        found = re.search(r"[Pp]ress (?:(g|=)[ .]|1(?: to (\d))?)", shown)
        if found is None:
            return ""
        return found[1] or "123456789"[: int(found[2] or 1)]

    def press(self, keys: str) -> None:
        """Press keys; returns once the program has taken them."""
        self._answered = self._sent = len(self.raw)
        self.child.send(keys)
        until = time.monotonic() + 1
        line = self.screen.cursor.y, self.screen.cursor.x
        while time.monotonic() < until:
            if not self.pump():
                return
            if self.plain and (self.screen.cursor.y, self.screen.cursor.x) != line:
                return
            if not self.plain and b"\x1b[?25l" in self.raw[self._sent :]:
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
