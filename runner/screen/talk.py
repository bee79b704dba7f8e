"""How the console and a person talk: one question at a time.

``LineTalk`` is the plain line mode: for dumb terminals, screen readers, and whoever wants it.
``PageTalk`` (in ``full_screen``) is one screen per step; ``ScriptTalk`` (in
``runner.training.lesson``) plays a lesson. The console knows only the protocol.
"""

import io
import os
import re
import sys
import textwrap
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TextIO

from .terminal.keyboard import Gone, Keyboard, NotTaken, Stopped

__all__ = ["Choice", "Gone", "LineTalk", "Prompt", "Stopped", "StyledLine", "Talk"]

StyledLine = tuple[str, str]
"""A line of text and the name of its style ('' for none)."""
HeardAt = Callable[[float], StyledLine]
"""Told the seconds since the trigger opened, says what is heard then."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer of a list: its word in the record and the words on the screen."""

    value: str
    say: str


@dataclass(frozen=True, slots=True)
class Page:
    """What a screen shows of a step, whatever is asked: where we are, what is done and next, the
    cautions and the why, what is known and what is not, when a checker is needed.

    ``reason`` stands in for a ``why`` that the step does not give, where there is room.
    ``stages`` are (done, left out, now or to come; title); ``known`` are (name, state in words).
    """

    step: str
    place: str
    short: str
    practice: bool
    mark: str
    stages: tuple[tuple[str, str], ...] = ()
    done: tuple[str, ...] = ()
    following: str = ""
    cautions: tuple[str, ...] = ()
    why: str = ""
    reason: str = ""
    known: tuple[tuple[str, str], ...] = ()
    unknown: tuple[str, ...] = ()
    visit: str = ""


@dataclass(frozen=True, slots=True)
class Prompt:
    """One question.

    ``key`` names it for scripts (a step id, or ``look:fact``), ``kind`` the form: choice,
    line, begin, person, secret. ``truth`` is what the simulated vehicle shows (practice only)
    and ``want`` what the step hopes for; a terminal shows neither. ``lead`` (limit and
    instruction) and ``foot`` (what to do if it stalls) stand with the question each time that
    it is asked, so that they are on the screen when it is answered. ``live`` gives lines that
    change while nobody types; ``watch`` lets the time be noticed and returns an alarm, or ''.
    """

    key: str
    kind: str
    text: str
    choices: tuple[Choice, ...] = ()
    truth: str = ""
    want: str = ""
    lead: tuple[StyledLine, ...] = ()
    foot: tuple[StyledLine, ...] = ()
    page: Page | None = None
    live: Callable[[], tuple[StyledLine, ...]] | None = None
    watch: Callable[[], str] | None = None


PICTURE = "picture"
"""Style of rows that make a picture together: shown whole and unbroken, or not at all."""
KEYS = "Esc or s stop   ? help   dk I don't know   back   fix   event   leave"
KEYS_NARROW = "Esc s stop  ? help  dk  back  event  leave"
"""The words that work at every prompt; they stand once, right above the place to type."""
ANYWHERE = frozenset({"?", "dk", "back", "fix", "event", "leave"})
"""Those words: none permits anything, so that each works before all of a question is read."""
DONT_KNOW = "I don't know, or none of these"

EVENT = "event"
"""Key of the question what has happened: it is answered from any part of its list."""
WHO = "person"
"""Key of the questions that come before the job, where these words mean nothing yet."""
WHO_WORKS = "Who does the work?"
NOBODY = "none"
WHO_STAYS = f"Who else stays to the end? Type the numbers, or {NOBODY}."
WIDEST, NARROWEST, NARROW = 100, 30, 60
SMALL = 16
"""On a screen with fewer rows, how things stand gets what room is left."""
WATCH_S = 1.0
"""How often an open question lets the time be noticed."""
PLAIN_CLOCK_S = 30
"""How often the plain line mode says how much of a wait is left."""


class Talk(Protocol):
    """One line in, many lines out."""

    def say(self, text: str = "", style: str = "") -> None:
        """Show text."""

    def ask(self, prompt: Prompt) -> str:
        """Ask; returns the words as typed. Raises Stopped or Gone."""

    def count(self, cap_s: float, heard: HeardAt | None = None) -> str:
        """Count a burst: from one key press to the next. Returns the seconds, '' if asked later.
        ``heard`` says what a practice vehicle lets a person hear meanwhile."""

    def rest(self, seconds: float, text: str) -> str:
        """Wait: returns a line typed meanwhile, or '' when ``seconds`` have passed."""

    @property
    def width(self) -> int:
        """Columns to write in."""


class LineTalk:
    """Plain lines in order, nothing drawn over, no colour: what a screen reader can follow.

    A question comes last, after all that belongs to it.
    """

    def __init__(self, stdin: TextIO | None = None, stdout: TextIO | None = None) -> None:
        self.keyboard = Keyboard(stdin or sys.stdin)
        self._out = forgiving(stdout or sys.stdout)

    @property
    def width(self) -> int:
        """Columns of the terminal, at most 100."""
        return max(NARROWEST, min(size_of(self._out).columns, WIDEST))

    def say(self, text: str = "", style: str = "") -> None:
        """Print one piece of text, broken between words where it is wider than the terminal."""
        lines = textwrap.wrap(
            text,
            self.width,
            subsequent_indent=" " * hang_of(text),
            break_on_hyphens=False,
            break_long_words=False,
        )
        for line in lines or [""]:
            self._write(line + "\n")

    def ask(self, prompt: Prompt) -> str:
        """Show the question and read one line; a line that is no answer is asked for again."""
        while True:
            for text, style in self._block(prompt):
                self.say(text, style)
            self.keyboard.drop()
            self._write("> ")
            try:
                if prompt.kind == "secret":
                    with self.keyboard.unseen():
                        typed = self._line(prompt)
                    self._write("\n")
                    return typed
                return self._line(prompt)
            except NotTaken as why:
                self.say(str(why), "refused")

    def count(self, cap_s: float, heard: HeardAt | None = None) -> str:
        """Two presses of Enter: trigger open, trigger shut. A bell at the cap."""
        if not self.keyboard.live:
            return ""
        self.say("Press Enter as the trigger opens (s: stop).")
        self.keyboard.drop()
        if self.keyboard.line().lower() in ("s", "stop"):
            raise Stopped
        begun, told, sounded = time.monotonic(), -1, ""
        self.say(f"SPRAYING: press Enter as the trigger shuts. Shut by {cap_s:.0f} s.")
        try:
            while True:
                passed = time.monotonic() - begun
                if int(passed) > told:
                    told = int(passed)
                    self._write(f"{told} " if told < int(cap_s) else f"\a{told} SHUT NOW  ")
                note = heard(passed)[0] if heard is not None else ""
                if note != sounded:
                    sounded = note
                    self._write(f"\n{note}\n")
                typed = self.keyboard.line_within(0.05)
                if typed is not None:
                    break
        except NotTaken:
            typed = ""
        except Stopped:
            self.say(f"Stopped after {time.monotonic() - begun:.1f} s.")
            raise
        seconds = f"{time.monotonic() - begun:.1f}"
        if typed.lower() in ("s", "stop"):
            self.say(f"Stopped after {seconds} s.")
            raise Stopped
        self.say(f"Counted: {seconds} s.")
        return seconds

    def rest(self, seconds: float, text: str) -> str:
        """Say the time left until it is over (bell) or a line is typed. Enter alone waits on."""
        until, told = time.monotonic() + seconds, -1
        self.keyboard.drop()
        while (left := until - time.monotonic()) > 0:
            whole = int(left + 0.999)
            if told < 0 or (whole != told and whole % PLAIN_CLOCK_S == 0):
                told = whole
                self._write(f"  {text}: {whole // 60}:{whole % 60:02d} left   (s stop)\n")
            try:
                typed = self.keyboard.line_within(min(left, 0.2))
            except NotTaken:
                typed = None
            if typed:
                return typed
        self._write("\a\n")
        return ""

    def close(self) -> None:
        """Nothing is drawn, so nothing is taken back."""

    def _line(self, prompt: Prompt) -> str:
        if prompt.watch is None or not self.keyboard.live:
            return self.keyboard.line()
        told = ""
        while True:
            typed = self.keyboard.line_within(WATCH_S)
            if typed is not None:
                return typed
            alarm = prompt.watch()
            if alarm and alarm != told:
                self._write("\a\n")
                self.say(alarm)
                self._write("> ")
            told = alarm

    @staticmethod
    def _block(prompt: Prompt) -> list[StyledLine]:
        """All that belongs to a question, in the order in which it is read."""
        live = prompt.live() if prompt.live is not None else ()
        choices = [(f"  {n:<2} {c.say}", "") for n, c in enumerate(prompt.choices, start=1)]
        if choices and prompt.key != WHO:
            choices.append((f"  dk {DONT_KNOW}", ""))
        text = [(line, "") for line in prompt.text.splitlines()]
        out = [*live, *prompt.lead, *choices]
        if prompt.key == WHO:
            return [*out, *text]
        return [*out, *text, *prompt.foot, (KEYS, "")]

    def _write(self, text: str) -> None:
        write_or_lose(self._out, text, self.keyboard)


def write_or_lose(out: TextIO, text: str, keyboard: Keyboard) -> None:
    """Write at once; a terminal that is gone, or closed, is lost to the keyboard as well."""
    try:
        out.write(text)
        out.flush()
    except (OSError, ValueError):
        keyboard.lost()


_LABELLED = re.compile(r"^([A-Z][A-Z ]*?) +(?=\S)")
_NUMBERED = re.compile(r"^  (\d+|dk) +")
LABEL = 7
"""Columns of a label with the room behind it."""


def hang_of(text: str) -> int:
    """How far the further lines of a text hang in: under its label, its number, or as it began."""
    found = _NUMBERED.match(text) or _LABELLED.match(text)
    if found is None:
        indent = len(text) - len(text.lstrip())
        return indent + 2 if text[indent : indent + 1] == "(" else indent
    return min(LABEL, len(found.group(0)))


def forgiving(out: TextIO) -> TextIO:
    """``out``, with a question mark for a letter that its encoding does not have."""
    if isinstance(out, io.TextIOWrapper) and not out.closed:
        out.reconfigure(errors="replace")
    return out


def size_of(out: TextIO) -> os.terminal_size:
    """The size of the terminal behind ``out``; 80 by 24 where nobody says."""
    try:
        size = os.get_terminal_size(out.fileno())
    except (OSError, ValueError):
        size = os.terminal_size((0, 0))
    return os.terminal_size((size.columns or 80, size.lines or 24))
