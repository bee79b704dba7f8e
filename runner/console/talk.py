"""How the console and a person talk: one prompt at a time, as plain lines.

``LineTalk`` is a terminal; ``ScriptTalk`` (in ``runner.practice.lesson``) plays a lesson. The
console knows only the protocol.
"""

import os
import sys
import textwrap
import time
from dataclasses import dataclass
from typing import Protocol, TextIO

from runner.console.keyboard import Gone, Keyboard, NotTaken, Stopped
from runner.console.paint import BARS, depth_here, painted

__all__ = ["Choice", "Gone", "Line", "LineTalk", "Prompt", "Stopped", "Talk", "has_terminal"]

Line = tuple[str, str]
"""A line of text and the name of its style ('' for none)."""


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
    and ``want`` what the step hopes for; a terminal shows neither. ``lead`` (limit and
    instruction) and ``foot`` (what to do if it stalls) stand with the question each time that
    it is asked, so that they are on the screen when it is answered.
    """

    key: str
    kind: str
    text: str
    choices: tuple[Choice, ...] = ()
    truth: str = ""
    want: str = ""
    lead: tuple[Line, ...] = ()
    foot: tuple[Line, ...] = ()


KEYS = "s stop   ? help   dk I don't know   back   event   leave"
KEYS_NARROW = "s stop  ? help  dk  back  event  leave"
"""The words that work at every prompt; they stand once, right above the place to type."""
DONT_KNOW = "I don't know, or none of these"

WHO = "person"
"""Key of the question that comes before the job, where these words mean nothing yet."""
WIDEST, NARROWEST, NARROW = 100, 30, 60
SMALL = 16
"""On a terminal with fewer rows, lines of the style 'context' are left to the help."""


class Talk(Protocol):
    """One line in, many lines out."""

    def say(self, text: str = "", style: str = "") -> None:
        """Show text."""

    def ask(self, prompt: Prompt) -> str:
        """Ask; returns the words as typed. Raises Stopped or Gone."""

    def count(self, cap_s: float) -> str:
        """Count a burst: from one key press to the next. Returns the seconds, '' if asked later."""

    def rest(self, seconds: float, text: str) -> str:
        """Wait: returns a line typed meanwhile, or '' when ``seconds`` have passed."""

    @property
    def width(self) -> int:
        """Columns to write in."""


class LineTalk:
    """A terminal, line by line: also for dumb terminals and screen readers.

    On a terminal that scrolls, nothing leaves the screen before a key was pressed: what does
    not fit is shown in parts. A question and what belongs to it come last and stay together.
    """

    def __init__(self, stdin: TextIO | None = None, stdout: TextIO | None = None) -> None:
        self.keyboard = Keyboard(stdin or sys.stdin)
        self._out = stdout or sys.stdout
        self._depth = depth_here(self._out)
        self._parts = False
        self._rows_said = 0

    @property
    def width(self) -> int:
        """Columns of the terminal, at most 100."""
        return max(NARROWEST, min(self._size().columns, WIDEST))

    def say(self, text: str = "", style: str = "") -> None:
        """Print one piece of text, broken between words where it is wider than the terminal."""
        if style == "context" and self._size().lines < SMALL:
            return
        for line in self._broken(text, style):
            if self._parts and self._rows_said >= self._size().lines - 2:
                self._part()
            self._write(painted(line, style, self.width, self._depth) + "\n")
            self._rows_said += 1

    def ask(self, prompt: Prompt) -> str:
        """Show the question and read one line; a line that is no answer is asked for again."""
        self._parts = self.keyboard.live and self._depth != "none"
        while True:
            block = self._block(prompt)
            room = self._size().lines - 1
            height = self._height(block)
            if self._parts and self._rows_said and self._rows_said + height > room:
                self._part()
            parts, self._parts = self._parts, self._parts and height > room
            for text, style in block:
                self.say(text, style)
            self._parts = parts
            self.keyboard.drop()
            self._write("> ")
            try:
                return self._line()
            except NotTaken as why:
                self.say(str(why), "refused")

    def count(self, cap_s: float) -> str:
        """Two key presses of Enter: trigger open, trigger shut. A bell at the cap."""
        if not self.keyboard.live:
            return ""
        self.say("Press Enter as the trigger opens (s: stop).")
        self.keyboard.drop()
        if self._line().lower() in ("s", "stop"):
            raise Stopped
        begun, told = time.monotonic(), -1
        self.say(f"SPRAYING: press Enter as the trigger shuts. Shut by {cap_s:.0f} s.", "do")
        try:
            while True:
                passed = time.monotonic() - begun
                if int(passed) > told:
                    told = int(passed)
                    self._write(f"{told} " if told < int(cap_s) else f"\a{told} SHUT NOW  ")
                typed = self.keyboard.line_within(0.05)
                if typed is not None:
                    break
        except NotTaken:
            typed = ""
        except Stopped:
            self.say(f"Stopped after {time.monotonic() - begun:.1f} s.")
            raise
        seconds = f"{time.monotonic() - begun:.1f}"
        self.say(f"Counted: {seconds} s.")
        if typed.lower() in ("s", "stop"):
            raise Stopped
        return seconds

    def rest(self, seconds: float, text: str) -> str:
        """Show the time left until it is over (bell) or a line is typed. Enter alone waits on."""
        until, told = time.monotonic() + seconds, -1
        self.keyboard.drop()
        while (left := until - time.monotonic()) > 0:
            whole = int(left + 0.999)
            plain = self._depth == "none"
            if whole != told and (not plain or told < 0 or whole % 30 == 0):
                told = whole
                shown = f"  {text}: {whole // 60}:{whole % 60:02d} left   (s stop)"
                self._write(f"{shown}\n" if plain else f"\r{shown[: self.width - 1]}\x1b[K")
            try:
                typed = self.keyboard.line_within(min(left, 0.2))
            except NotTaken:
                typed = None
            if typed:
                self._rows_said = 0
                return typed
        self._write("\a\n")
        return ""

    def _block(self, prompt: Prompt) -> list[Line]:
        """All that belongs to a question, in the order in which it stands on the screen."""
        small = self._size().lines < SMALL
        lead = [line for line in prompt.lead if not (small and line[1] == "context")]
        choices = [(f"  {n:<2} {c.say}", "") for n, c in enumerate(prompt.choices, start=1)]
        if choices and prompt.key != WHO:
            choices.append((f"  dk {DONT_KNOW}", ""))
        keys = KEYS if self.width >= NARROW else KEYS_NARROW
        end = [(text, "") for text in prompt.text.splitlines()]
        if prompt.key != WHO:
            end += [*prompt.foot, (keys, "")]
        # A list too long for the screen scrolls up; the instruction then stands under it.
        if self._height([*lead, *choices, *end]) < self._size().lines:
            return [*lead, *choices, *end]
        return [*choices, *lead, *end]

    def _height(self, lines: list[Line]) -> int:
        broken = (part for line in lines for part in self._broken(*line))
        return sum(max(1, -(-len(part) // self._size().columns)) for part in broken)

    def _broken(self, text: str, style: str) -> list[str]:
        indent = " " * (len(text) - len(text.lstrip()) + (0 if style in BARS else 3))
        wrapped = textwrap.wrap(
            text,
            self.width,
            subsequent_indent=indent,
            break_on_hyphens=False,
            break_long_words=False,
        )
        return wrapped or [""]

    def _part(self) -> None:
        """Let the part that stands on the screen be read before it scrolls away."""
        self.keyboard.drop()
        self._write("(more: Enter; s stop) ")
        try:
            typed = self._line()
        except NotTaken:
            typed = ""
        self._write("\x1b[1A\r\x1b[2K")
        if typed.lower() in ("s", "stop"):
            raise Stopped

    def _line(self) -> str:
        try:
            return self.keyboard.line()
        finally:
            self._rows_said = 0

    def _write(self, text: str) -> None:
        try:
            self._out.write(text)
            self._out.flush()
        except OSError:
            self.keyboard.lost()

    def _size(self) -> os.terminal_size:
        try:
            size = os.get_terminal_size(self._out.fileno())
        except (OSError, ValueError):
            size = os.terminal_size((0, 0))
        return os.terminal_size((size.columns or 80, size.lines or 24))


def has_terminal() -> bool:
    """Whether a person can answer: input and output are terminals."""
    return os.isatty(0) and os.isatty(1)
