"""The keyboard of a full screen, key by key: one key stops, the typed text is drawn by the screen.

Esc stops at once, whatever was typed so far; so does Ctrl-C. Page-up and page-down turn the parts
of a screen. The terminal is given back as it was found when the program ends.
"""

import atexit
import time
from collections.abc import Callable
from typing import TextIO

from .keyboard import AT_ONCE, LONGEST_PASTE_S, MOST_TYPED, Gone, Keyboard, NotTaken, Stopped, clean

KEY_S = 0.04
"""Keys of one sequence (arrows) follow each other within this time; a lone Esc does not."""
PASTE_S = 0.03
"""Keys that follow an Enter within this time were not typed by a person: each one is read as it
comes, so less is waited for than where whole lines are handed on. A terminal that says that it
marks what is pasted is not waited for at all."""
MARK_PASTES, LEAVE_PASTES = "\x1b[?2004h\x1b[?2004$p", "\x1b[?2004l"
"""Mark what is pasted, and say whether you do (xterm control sequences, "bracketed paste mode" and
"DECRQM"; from memory, tried with a terminal)."""
IDLE_S = 0.25
"""How often the screen may look at clock and size while nobody types."""
TURN_BACK, TURN_ON = "<", ">"
"""What page-up and page-down are read as."""
_PAGES = {b"[5~": TURN_BACK, b"[D": TURN_BACK, b"[6~": TURN_ON, b"[C": TURN_ON}
_MARKS = (b"[?2004;1$y", b"[?2004;3$y")
_PASTED, _PASTE_ENDS = b"[200~", b"\x1b[201~"
_ENTER, _ESCAPE, _END = b"\n", b"\x1b", b"\x04"
_RUB_OUT, _CLEAR = (b"\x7f", b"\x08"), b"\x15"
_MOST_BYTES = 8 * MOST_TYPED

Shown = Callable[[str], None]
"""Told the text typed so far, after each key."""


class Keys(Keyboard):
    """Reads one terminal key by key. ``typed`` is what stands in the line now."""

    def __init__(self, stdin: TextIO) -> None:
        super().__init__(stdin)
        self._data, self._carried = b"", False
        self._marks_pastes = False

    @property
    def typed(self) -> str:
        """The text typed so far."""
        return self._data.decode("utf-8", "replace")

    def stands(self, text: str) -> None:
        """Put ``text`` into the line: Enter takes it, rub-out mends it, and any other key begins
        another answer."""
        self._data, self._carried = text.encode("utf-8", "replace"), True

    def take(self) -> None:
        """Read key by key from now on; ``give_back`` undoes it, at the latest at the end."""
        if self.live:
            self._console.by_key()
            atexit.register(self.give_back)

    def give_back(self) -> None:
        """Leave the terminal as it was found."""
        self._console.by_line()
        atexit.unregister(self.give_back)

    def drop(self) -> None:
        """Forget what was typed before."""
        self._data = b""
        super().drop()

    def typed_within(self, seconds: float, shown: Shown, whole: str = "") -> str | None:
        """The answer once Enter is pressed, or one of the keys ``whole`` that are an answer by
        themselves; None when ``seconds`` have passed, with what was typed so far kept. Raises
        Stopped, Gone, NotTaken."""
        until = time.monotonic() + seconds
        while True:
            left = until - time.monotonic()
            with self._waited_for():
                if not self._console.wait(left):
                    return None
                part = self._console.read()
            if not part:
                raise Gone
            answer = self._keys(part, whole)
            if answer is not None:
                return answer
            shown(self.typed)

    def key_within(self, seconds: float) -> bytes | None:
        """Any one key (a sequence counts as one), or None. Raises Stopped for Esc or s, or Gone."""
        with self._waited_for():
            part = self._console.read() if self._console.wait(seconds) else None
        if part is None or self._answers(part[1:]):
            return None
        if part in (b"", _END):
            raise Gone
        if part in (b"s", b"S", b"s\n") or (part == _ESCAPE and not self._sequence()):
            raise Stopped
        return part

    def _keys(self, part: bytes, whole: str) -> str | None:
        """Work in the bytes that came at once; the answer when a line is complete."""
        while part:
            key, part = part[:1], part[1:]
            if self._carried and key != _ENTER:
                self._data = self._data if key in _RUB_OUT else b""
                self._carried = False
            if not self._data and key.decode("ascii", "replace") in (*whole,):
                self._data = key
                return self._entered(part, more=_ENTER)
            if key == _ENTER:
                return self._entered(part)
            if key == _ESCAPE:
                sequence, part = _split(part or self._sequence())
                if not sequence:
                    raise Stopped
                if sequence == _PASTED:
                    part = self._pasted(part)
                elif not self._answers(sequence) and not self._data and sequence in _PAGES:
                    return _PAGES[sequence]
            elif key in _RUB_OUT:
                self._data = self.typed[:-1].encode() if self._data else b""
            elif key == _CLEAR:
                self._data = b""
            elif key == _END:
                if not self._data:
                    raise Gone
            elif len(self._data) < _MOST_BYTES:
                self._data += key
        return None

    def _entered(self, rest: bytes, more: bytes = b"") -> str:
        """The text typed, unless something but ``more`` followed at once."""
        data, self._data, self._carried = self._data, b"", False
        if rest + self._more(0.0 if self._marks_pastes else PASTE_S) not in (b"", more):
            raise NotTaken(AT_ONCE)
        return clean(data)

    def _answers(self, sequence: bytes) -> bool:
        """Whether this is what the terminal answers to ``MARK_PASTES``."""
        if not sequence.startswith(b"[?2004;"):
            return False
        self._marks_pastes = sequence in _MARKS
        return True

    def _pasted(self, part: bytes) -> bytes:
        """Put one pasted line into the answer; several are none. Gives what was typed after it."""
        until = time.monotonic() + LONGEST_PASTE_S
        while _PASTE_ENDS not in part and time.monotonic() < until:
            part += self._sequence()
        text, _, after = part.partition(_PASTE_ENDS)
        if b"\n" in text or b"\r" in text or b"\x1b" in text:
            self._data = b""
            raise NotTaken(AT_ONCE)
        self._data = (self._data + text)[:_MOST_BYTES]
        return after

    def _sequence(self) -> bytes:
        """What follows at once; nothing where an Esc was pressed alone."""
        with self._waited_for():
            return self._console.read() if self._console.wait(KEY_S) else b""


def _split(after: bytes) -> tuple[bytes, bytes]:
    """The sequence at the head of ``after`` (behind its Esc), and the rest; none: stop."""
    if after[:1] not in (b"[", b"O"):
        return b"", after
    for at in range(1, len(after)):
        if 0x40 <= after[at] <= 0x7E:
            return after[: at + 1], after[at + 1 :]
    return after, b""
