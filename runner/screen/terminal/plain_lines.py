"""Plain lines in order: for dumb terminals, screen readers, and whoever wants them."""

import io
import os
import sys
import textwrap
import time
from typing import TextIO

from steplatch.safety.catalogue import _

from ..page import page_lines, question_lines
from ..talk import NARROWEST, WATCH_S, WIDEST, HeardAt, Prompt, StyledLine, hang_of
from .keyboard import Keyboard, NotTaken, Stopped

PLAIN_CLOCK_S = 30
"""How often it is said how much of a wait is left."""


class PlainLines:
    """Plain lines in order, nothing drawn over, no colour: what a screen reader can follow.

    A question comes last, after all that belongs to it.
    """

    def __init__(self, stdin: TextIO | None = None, stdout: TextIO | None = None) -> None:
        self.keyboard = Keyboard(stdin or sys.stdin)
        self._out = forgiving(stdout or sys.stdout)
        self._page = ("", "")
        self._rests = self._alarm = ""

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
        for text, style in self._new_page(prompt):
            self.say(text, style)
        while True:
            for text, style in question_lines(prompt):
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

    def count(self, cap_s: float, heard: HeardAt | None = None, practice: bool = True) -> str:
        """Two presses of Enter: trigger open, trigger shut. A bell at the cap."""
        if not self.keyboard.live:
            return ""
        self.say(_("Press Enter as the trigger opens (s: stop)."))
        self.keyboard.drop()
        if self.keyboard.line().lower() in ("s", "stop"):
            raise Stopped
        begun, told, sounded = time.monotonic(), -1, ""
        self.say(
            _("SPRAYING: press Enter as the trigger shuts. Shut by {cap_s:.0f} s.", cap_s=cap_s)
        )
        try:
            while True:
                passed = time.monotonic() - begun
                if int(passed) > told:
                    told = int(passed)
                    self._write(
                        f"{told} " if told < int(cap_s) else _("\x07{told} SHUT NOW  ", told=told)
                    )
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
            self.say(_("Stopped after {monotonic:.1f} s.", monotonic=time.monotonic() - begun))
            raise
        seconds = f"{time.monotonic() - begun:.1f}"
        if typed.lower() in ("s", "stop"):
            self.say(_("Stopped after {seconds} s.", seconds=seconds))
            raise Stopped
        self.say(_("Counted: {seconds} s.", seconds=seconds))
        return seconds

    def rest(self, seconds: float, around: Prompt) -> str:
        """Say the time left until it is over (bell) or a line is typed. Enter alone waits on."""
        until, told = time.monotonic() + seconds, -1
        if self._rests != around.key:
            for text, style in (*self._new_page(around), *around.lead):
                self.say(text, style)
        self._rests = around.key
        self.keyboard.drop()
        while (left := until - time.monotonic()) > 0:
            whole = int(left + 0.999)
            if told < 0 or (whole != told and whole % PLAIN_CLOCK_S == 0):
                told = whole
                name = around.key.removesuffix(":wait")
                self._write(
                    _(
                        "  {name}: {whole}:{whole_2:02d} left   (s stop)\n",
                        name=name,
                        whole=whole // 60,
                        whole_2=whole % 60,
                    )
                )
            try:
                typed = self._within(around, min(left, WATCH_S))
            except NotTaken:
                typed = None
            if typed:
                return typed
        self._write("\a\n")
        return ""

    def ring(self, until_answered: bool = False) -> None:
        """Ring once."""
        self._write("\a")

    def close(self) -> None:
        """Nothing is drawn, so nothing is taken back."""

    def _line(self, prompt: Prompt) -> str:
        if prompt.watch is None or not self.keyboard.live:
            return self.keyboard.line()
        while (typed := self._within(prompt, prompt.watch_s)) is None:
            pass
        return typed

    def _within(self, prompt: Prompt, seconds: float) -> str | None:
        """A line typed within ``seconds``; else the time is noticed, and what is new is said."""
        typed = self.keyboard.line_within(seconds)
        if typed is not None or prompt.watch is None:
            return typed
        alarm = prompt.watch()
        if alarm and alarm != self._alarm:
            self._write("\a\n")
            self.say(alarm)
            self._write("> ")
        self._alarm = alarm
        return None

    def _new_page(self, prompt: Prompt) -> list[StyledLine]:
        """What stands above the questions of a step, once."""
        page, before = prompt.page, self._page
        if page is None or page.step == before[1]:
            return []
        self._page = (page.group, page.step)
        return page_lines(page, self.width, page.group != before[0])

    def _write(self, text: str) -> None:
        write_or_lose(self._out, text, self.keyboard)


def write_or_lose(out: TextIO, text: str, keyboard: Keyboard) -> None:
    """Write at once; a terminal that is gone, or closed, is lost to the keyboard as well."""
    try:
        out.write(text)
        out.flush()
    except (OSError, ValueError):
        keyboard.lost()


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
