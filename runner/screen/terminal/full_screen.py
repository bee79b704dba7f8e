"""One screen per step, drawn anew for each question: the console at a terminal that can.

Nothing scrolls. The place to type is always the last row; the words that always work stand right
above it. While nobody types, clock lines go on, the time is noticed, and a changed size is drawn.
"""

import atexit
import os
import sys
import time
from dataclasses import replace
from functools import partial
from typing import TextIO

from rich.cells import cell_len, set_cell_size
from steplatch.safety.catalogue import _

from ..page import TYPED_AT, ScreenCell, ScreenPart, ScreenRow, parts_of, side_of
from ..talk import (
    ANYWHERE,
    EVENT,
    NARROWEST,
    WHO,
    WIDEST,
    HeardAt,
    Prompt,
    StyledLine,
)
from .big_digits import big
from .keyboard import Gone, NotTaken, Stopped
from .keys import IDLE_S, LEAVE_PASTES, MARK_PASTES, TURN_BACK, TURN_ON, Keys
from .paint import depth_here, painted
from .plain_lines import PlainLines, forgiving, size_of, write_or_lose

ALARM_EVERY_S = 2.0
"""How often the bell rings until an alarm is answered."""
TICK_S = 0.05
BELLS_BEFORE = (2, 1)
"""Seconds before the cap of a burst at which the bell rings once, as a warning."""


class FullScreen:
    """A terminal that is drawn on. What is said is kept and shown with the next question."""

    def __init__(self, stdin: TextIO | None = None, stdout: TextIO | None = None) -> None:
        self.keyboard = Keys(stdin or sys.stdin)
        self._out = forgiving(stdout or sys.stdout)
        self._depth = depth_here(self._out)
        self._notes: list[StyledLine] = []
        self._answered: tuple[str, str] = ("", "")
        self._alarm = False
        self._drawn = False
        self._closed = False
        self._practice = False

    @property
    def width(self) -> int:
        """Columns that a line of text gets."""
        columns = size_of(self._out).columns
        return max(NARROWEST, min(WIDEST, columns - side_of(columns)))

    def say(self, text: str = "", style: str = "") -> None:
        """Keep a piece of text for the screen of the next question; once closed, print it."""
        if self._closed:
            PlainLines(sys.stdin, self._out).say(text, style)
        elif text:
            self._notes.append((text, style))

    def ring(self, until_answered: bool = False) -> None:
        """Ring once, or until the next question is answered."""
        self._alarm = self._alarm or until_answered
        if not until_answered:
            self._write("\a")

    def ask(self, prompt: Prompt) -> str:
        """Draw the question and read one answer; what is no answer is asked for again."""
        self._begin()
        again = self._answered == _asked_of(prompt)
        while True:
            try:
                answer = self._asked(prompt, again, None)
            except NotTaken as why:
                self.say(str(why), "refused")
                again = True
                continue
            assert answer is not None
            self._notes, self._alarm = [], False
            self._answered = _asked_of(prompt)
            return answer

    def count(self, cap_s: float, heard: HeardAt | None = None, practice: bool = True) -> str:
        """Any key as the trigger opens, any key as it shuts: a big count, and bells at the cap."""
        self._begin()
        self.keyboard.drop()
        self._practice = practice and heard is not None
        self._face(_("Trigger opens: press any key."), "0", cap_s, "do")
        while self.keyboard.key_within(IDLE_S) is None:
            pass
        begun, told, sounded = time.monotonic(), -1, ("", "")
        try:
            while True:
                passed = time.monotonic() - begun
                note = ("", "") if heard is None else heard(passed)
                if note != sounded and note[1] == "DANGER":
                    self.ring()
                if int(passed) > told or note != sounded:
                    rings, told, sounded = int(passed) > told, int(passed), note
                    self._counted(told, cap_s, note, rings)
                if self.keyboard.key_within(TICK_S) is not None:
                    break
        except Stopped:
            self.say(
                _("Stopped after {monotonic:.1f} s.", monotonic=time.monotonic() - begun), "refused"
            )
            raise
        seconds = f"{time.monotonic() - begun:.1f}"
        self.say(_("Counted: {seconds} s.", seconds=seconds), "head")
        return seconds

    def rest(self, seconds: float, around: Prompt) -> str:
        """Wait with the time left in view, and what stands ``around`` it, or until a line is
        typed; a bell at the end."""
        self._begin()
        until = time.monotonic() + seconds

        def left() -> tuple[StyledLine, ...]:
            whole = int(max(0.0, until - time.monotonic()) + 0.999)
            return (
                (_("LEFT   {whole}:{whole_2:02d}", whole=whole // 60, whole_2=whole % 60), "do"),
            )

        prompt = replace(around, live=left)
        while (more := until - time.monotonic()) > 0:
            try:
                answer = self._asked(prompt, True, more)
            except NotTaken as why:
                self.say(str(why), "refused")
                continue
            if answer:
                self._notes = []
                return answer
        self._notes = []
        self._write("\a")
        return ""

    def close(self) -> None:
        """Give the terminal back; what was said last stays on it as plain lines."""
        self.keyboard.give_back()
        if self._drawn:
            self._drawn = False
            self._write(
                f"{LEAVE_PASTES}\x1b[{max(1, size_of(self._out).lines - 1)};1H\x1b[J\x1b[?25h"
            )
            atexit.unregister(self.close)
        self._closed = True
        notes, self._notes = self._notes, []
        for text, style in notes:
            self.say(text, style)

    # -- drawing ---------------------------------------------------------------------------

    def _begin(self) -> None:
        self.keyboard.take()
        if not self._drawn:
            self._drawn = True
            self._write(MARK_PASTES)
            atexit.register(self.close)

    def _asked(self, prompt: Prompt, again: bool, seconds: float | None) -> str | None:
        """One answer to the question, turning its parts; None when ``seconds`` have passed."""
        self.keyboard.drop()
        until = None if seconds is None else time.monotonic() + seconds
        number, told, rung = 1, "", 0.0
        size, parts, shown = self._laid(prompt, again)
        self._draw(parts[0], size, prompt)
        checked = time.monotonic()
        while until is None or time.monotonic() < until:
            part = parts[min(number, len(parts)) - 1]
            shown_as = partial(self._typed, part, prompt)
            whole = prompt.keys if part.last else ""
            typed = self.keyboard.typed_within(IDLE_S, shown_as, whole)
            if typed is not None:
                turned = self._turn(typed, part, prompt, again)
                if turned is None:
                    self._typed(part, prompt, None)
                    return typed
                number = turned
                if typed not in (TURN_BACK, TURN_ON) and prompt.kind != "go":
                    self.keyboard.stands(typed)
                self._draw(parts[number - 1], size, prompt)
                continue
            now = time.monotonic()
            if self._alarm and now - rung >= ALARM_EVERY_S:
                self._write("\a")
                rung = now
            if prompt.watch is not None and now - checked >= prompt.watch_s:
                checked = now
                alarm = prompt.watch()
                if alarm and alarm != told:
                    self.say(alarm, "CAUTION")
                    self._write("\a")
                told = alarm
            laid = self._laid(prompt, again)
            if laid[0] != size or laid[2] != shown or self.keyboard.woken:
                self.keyboard.woken = False
                number = 1 if laid[0] != size else min(number, len(laid[1]))
                size, parts, shown = laid
                self._draw(parts[number - 1], size, prompt)
        return None

    def _laid(self, prompt: Prompt, again: bool) -> tuple[os.terminal_size, list[ScreenPart], str]:
        size = size_of(self._out)
        parts = parts_of(prompt, self._notes, size.columns, size.lines, again)
        return size, parts, repr([part.rows for part in parts])

    @staticmethod
    def _turn(typed: str, part: ScreenPart, prompt: Prompt, again: bool) -> int | None:
        """The part to turn to, or None when what was typed is an answer.

        An emergency is answered from any part of its list, and the words of the last row work on
        every part. Any other word turns on, to the question itself where the step was read before
        (``again``): there it stands typed, and Enter takes it. The deliberate key has to be pressed
        at its question.
        """
        if typed == TURN_BACK and part.of > 1:
            return max(1, part.number - 1)
        if typed == TURN_ON and part.of > 1:
            return min(part.of, part.number + 1)
        if part.last or (prompt.key == EVENT and typed):
            return None
        if prompt.key != WHO and typed.lower() in ANYWHERE:
            return None
        if typed.lower() in ("s", "stop"):
            raise Stopped
        if typed and prompt.kind == "go":
            return part.number
        return part.of if typed and again else part.number + 1

    def _draw(self, part: ScreenPart, size: os.terminal_size, prompt: Prompt) -> None:
        """The whole screen anew, from the top left; the last row is left without a new line."""
        rows = [*part.rows][: max(1, size.lines - 2)]
        blank: ScreenRow = (ScreenCell("", "", size.columns),)
        rows += [blank] * (size.lines - 2 - len(rows))
        keys = part.keys
        out = ["\x1b[?25l\x1b[H"]
        out += [f"{self._row(row)}\x1b[K\r\n" for row in rows]
        out.append(f"{set_cell_size(keys, min(cell_len(keys), size.columns - 1))}\x1b[K\r\n")
        out.append("\x1b[J")
        self._write("".join(out))
        self._typed(part, prompt, self.keyboard.typed)

    def _row(self, row: ScreenRow) -> str:
        out = []
        for number, cell in enumerate(row):
            text = set_cell_size(cell.text, cell.width) if len(row) > 1 else cell.text
            if number == len(row) - 1:
                text = text.rstrip()
            out.append(painted(text, cell.style, cell.width, self._depth))
        return "".join(out)

    def _typed(self, part: ScreenPart, prompt: Prompt, text: str | None) -> None:
        """The last row: what is typed so far; None once it is taken."""
        columns = size_of(self._out).columns
        if text is None:
            self._write("\r:\x1b[K\x1b[?25l")
            return
        head = (
            TYPED_AT
            if part.last
            else _("part {number} of {of}: Enter reads on ", number=part.number, of=part.of)
        )
        shown = "" if prompt.kind == "secret" else text
        room = max(1, columns - len(head) - 1)
        while cell_len(shown) > room:
            shown = shown[1:]
        self._write(f"\r{head}{shown}\x1b[K\x1b[?25h")

    def _counted(self, seconds: int, cap_s: float, note: StyledLine, rings: bool) -> None:
        cap = int(cap_s)
        if seconds >= cap:
            self._face(_("SHUT NOW: any key as it shuts."), str(seconds), cap_s, "DANGER", note)
        else:
            text = _("SPRAYING: any key as the trigger shuts.")
            self._face(text, str(seconds), cap_s, "do", note)
        if rings and (seconds >= cap or cap - seconds in BELLS_BEFORE):
            self._write("\a")

    def _face(
        self, text: str, number: str, cap_s: float, style: str, note: StyledLine = ("", "")
    ) -> None:
        """The count of a burst, to be read from the filter."""
        size = size_of(self._out)
        mark = _("  PRACTICE") if self._practice else ""
        lines: list[StyledLine] = [
            (f" {text}", style),
            (_(" Shut by {cap_s:.0f} s.{mark}", cap_s=cap_s, mark=mark), "head"),
        ]
        if note[0]:
            lines.append((f" {note[0]}", note[1]))
        tall = big(number) if size.lines >= len(big(number)) + len(lines) + 3 else [number]
        lines += [("", ""), *((f"    {line}", "head") for line in tall)]
        out = ["\x1b[?25l\x1b[H"]
        for line, how in lines[: size.lines - 1]:
            shown = painted(line[: size.columns - 1], how, size.columns, self._depth)
            out.append(f"{shown}\x1b[K\r\n")
        out.append("\x1b[J" + f"\x1b[{size.lines};1H" + _("Esc or s stops") + "\x1b[K")
        self._write("".join(out))

    def _write(self, text: str) -> None:
        write_or_lose(self._out, text, self.keyboard)


def _asked_of(prompt: Prompt) -> tuple[str, str]:
    """The step that a question belongs to, with what it is about: what was read for its first
    question is not read through again for what came of it."""
    return prompt.page.step if prompt.page else "", prompt.key.split(":")[0]


def talk_here(plain: bool = False) -> FullScreen | PlainLines:
    """The talk for this terminal: one screen per step, or plain lines where it cannot draw (a dumb
    terminal, no terminal) or where plain lines are asked for."""
    if plain or depth_here(sys.stdout) == "none" or not sys.stdin.isatty():
        return PlainLines()
    return FullScreen()


__all__ = ["FullScreen", "Gone", "talk_here"]
