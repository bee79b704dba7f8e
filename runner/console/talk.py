"""How the console and a person talk: one prompt at a time, as plain lines.

``LineTalk`` is a terminal; ``ScriptTalk`` (in ``runner.practice.lesson``) plays a lesson. The
console knows only the protocol.
"""

import os
import select
import sys
import termios
import textwrap
import time
from dataclasses import dataclass
from typing import Protocol, TextIO

from rich.console import Console
from rich.text import Text


class Stopped(Exception):  # noqa: N818 - a word that a person says, not a fault
    """The person pressed Ctrl-C: stop."""


class Gone(Exception):  # noqa: N818 - as above
    """The terminal is gone: no more input will come."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer of a list: its word in the record and the words on the screen."""

    value: str
    say: str


@dataclass(frozen=True, slots=True)
class Prompt:
    """One question.

    ``key`` names it for scripts (a step id, or ``look:fact``), ``kind`` the form: choice,
    line, begin, person, word. ``truth`` is what the simulated vehicle shows (practice only)
    and ``want`` what the step hopes for; a terminal shows neither.
    """

    key: str
    kind: str
    text: str
    choices: tuple[Choice, ...] = ()
    truth: str = ""
    want: str = ""


KEYS = "s stop  ? help  back  event  leave  dk = I don't know"
"""The words that work at every prompt; they stand once, right above the place to type."""

WHO = "person"
"""Key of the question that comes before the job, where these words mean nothing yet."""


class Talk(Protocol):
    """One line in, many lines out."""

    def say(self, text: str = "", style: str = "") -> None:
        """Show text."""

    def ask(self, prompt: Prompt) -> str:
        """Ask; returns the words as typed. Raises Stopped or Gone."""

    def count(self, cap_s: float) -> str:
        """Count a burst: from one key press to the next. Returns the seconds, '' if asked later."""

    @property
    def width(self) -> int:
        """Columns to write in."""


STYLES = {
    "DANGER": "bold white on #9b2423",
    "WARNING": "bold #000000 on #d05d29",
    "CAUTION": "bold #000000 on #f9a900",
    "NOTICE": "bold white on #005387",
    "head": "bold",
    "do": "bold",
    "refused": "bold",
}
"""Colours after ISO 3864-4; every pair has a contrast of 4.5:1 or better (tested)."""


class LineTalk:
    """A terminal, line by line: also for dumb terminals and screen readers.

    Typed-ahead lines are dropped before each question, so that a paste of many answers
    answers one of them at the most.
    """

    def __init__(self, stdin: TextIO = sys.stdin, stdout: TextIO = sys.stdout) -> None:
        self._in = stdin
        self._console = Console(file=stdout, highlight=False, soft_wrap=True)
        self._live = stdin.isatty()

    @property
    def width(self) -> int:
        """Columns of the terminal, at most 100."""
        return max(30, min(self._console.width, 100))

    def say(self, text: str = "", style: str = "") -> None:
        """Print one piece of text, broken between words where it is wider than the terminal."""
        indent = " " * (len(text) - len(text.lstrip()) + 3)
        for line in textwrap.wrap(text, self.width, subsequent_indent=indent) or [""]:
            self._console.print(Text(line, style=STYLES.get(style, "")))

    def ask(self, prompt: Prompt) -> str:
        """Show the question and read one line."""
        for paragraph in prompt.text.splitlines():
            self.say(paragraph)
        for number, choice in enumerate(prompt.choices, start=1):
            self.say(f"  {number}  {choice.say}")
        if prompt.key != WHO:
            self.say(f"({KEYS})")
        self._drop_typed_ahead()
        self._console.print(Text("> "), end="")
        self._console.file.flush()
        return self._line().strip()

    def count(self, cap_s: float) -> str:
        """Two key presses of Enter: trigger open, trigger shut. A bell at the cap."""
        if not self._live:
            return ""
        self.say("Press Enter as the trigger opens.")
        self._drop_typed_ahead()
        self._line()
        begun, told = time.monotonic(), -1
        self.say(f"SPRAYING: press Enter as the trigger shuts. Shut by {cap_s:.0f} s.")
        while True:
            passed = time.monotonic() - begun
            if int(passed) > told:
                told = int(passed)
                bell = "\a" if told >= int(cap_s) else ""
                self._console.file.write(f"{bell}{told} ")
                self._console.file.flush()
            ready, _, _ = select.select([self._in], [], [], 0.05)
            if ready:
                self._line()
                return f"{time.monotonic() - begun:.1f}"

    def _line(self) -> str:
        try:
            line = self._in.readline()
        except KeyboardInterrupt:
            raise Stopped from None
        if not line:
            raise Gone
        return line

    def _drop_typed_ahead(self) -> None:
        if self._live:
            termios.tcflush(self._in.fileno(), termios.TCIFLUSH)


def has_terminal() -> bool:
    """Whether a person can answer: input and output are terminals."""
    return os.isatty(0) and os.isatty(1)
