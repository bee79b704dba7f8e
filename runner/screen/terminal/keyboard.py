"""The keyboard of a terminal, one line at a time.

What was typed before a question stood there is dropped. Several lines that arrive at once are
a paste: none of them is taken. Stop (Ctrl-C) and a lost terminal come as exceptions, and only
where a person is waited for: never in the middle of writing the record.
"""

import contextlib
import signal
import threading
import time
import unicodedata
from collections.abc import Iterator
from types import FrameType
from typing import TextIO

from steplatch.safety.catalogue import _

from ...system.console import console_of
from ...system.machine import signals

PASTE_S = 0.06
"""Lines that follow each other within this time were not typed by a person, also where a slow line
or a terminal program hands a paste on with pauses."""
LONGEST_PASTE_S = 5.0
AT_ONCE = _("Several lines came at once; none of them was taken. Type one answer.")
MOST_TYPED = 400
"""Characters of one answer; nobody needs more, and the record stays readable."""


class Stopped(Exception):  # noqa: N818 - a word that a person says, not a fault
    """The person pressed Ctrl-C: stop."""


class Gone(Exception):  # noqa: N818 - as above
    """The terminal is gone: no more input will come."""


class NotTaken(Exception):  # noqa: N818 - as above
    """The line is no answer; the text says why and what to do."""


class Keyboard:
    """Reads from one terminal. Without a terminal it reads lines as they are."""

    def __init__(self, stdin: TextIO) -> None:
        self._in = stdin
        self._console = console_of(stdin)
        self.live = stdin.isatty()
        self._waiting = False
        self._stop = False
        self._gone = False
        self.woken = False
        """The program was stopped by the shell and goes on: the screen is not as it was drawn."""

    @contextlib.contextmanager
    def listening(self) -> Iterator[None]:
        """While it is open, Ctrl-C means stop, and a closed terminal is noticed."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        before = {
            number: signal.signal(number, handler)
            for names, handler in (
                (("SIGINT",), self._on_stop),
                (("SIGHUP", "SIGTERM"), self._on_gone),
                (("SIGCONT",), self._on_wake),
            )
            for number in signals(*names)
        }
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def line(self) -> str:
        """One answer. Raises Stopped, Gone, NotTaken."""
        with self._waited_for():
            data = self._bytes()
        if self.live and self._more():
            raise NotTaken(AT_ONCE)
        return clean(data)

    def line_within(self, seconds: float) -> str | None:
        """One answer, or None when ``seconds`` have passed. Raises as ``line`` does."""
        with self._waited_for():
            came = self._console.wait(seconds)
        return self.line() if came else None

    @contextlib.contextmanager
    def unseen(self) -> Iterator[None]:
        """While it is open, what is typed is not shown (a PIN)."""
        if not self.live:
            yield
            return
        with self._console.unseen():
            yield

    def drop(self) -> None:
        """Forget what was typed before."""
        if self.live:
            self._console.drop()

    def lost(self) -> None:
        """The terminal cannot be written to any more: the next wait says that it is gone."""
        self._gone = True

    @contextlib.contextmanager
    def _waited_for(self) -> Iterator[None]:
        self._waiting = True
        try:
            if self._gone:
                raise Gone
            if self._stop:
                raise Stopped
            yield
        except KeyboardInterrupt:
            raise Stopped from None
        except OSError:
            raise Gone from None
        finally:
            self._waiting = False
            self._stop = False

    def _bytes(self) -> bytes:
        if not self.live:
            text = self._in.readline()
            if not text:
                raise Gone
            return text.encode("utf-8", "surrogateescape")
        data = b""
        while not data.endswith(b"\n"):
            part = self._console.read()
            if not part:
                raise Gone
            data += part
        return data

    def _more(self, within_s: float | None = None) -> bytes:
        """What follows at once; it is read away."""
        apart_s = PASTE_S if within_s is None else within_s
        found, until = b"", time.monotonic() + LONGEST_PASTE_S
        while time.monotonic() < until:
            with self._waited_for():
                if not self._console.wait(apart_s):
                    break
                more = self._console.read()
                if not more:
                    raise Gone
                found = (found + more)[:MOST_TYPED]
        return found

    def _on_stop(self, number: int, frame: FrameType | None) -> None:
        if self._waiting:
            raise Stopped
        self._stop = True

    def _on_wake(self, number: int, frame: FrameType | None) -> None:
        self.woken = True

    def _on_gone(self, number: int, frame: FrameType | None) -> None:
        self._gone = True
        if self._waiting:
            raise Gone


def clean(data: bytes) -> str:
    """The answer in ``data``; raises NotTaken for what no answer looks like, Stopped for Esc."""
    try:
        text = data.decode("utf-8").replace("\t", " ").strip()
    except UnicodeDecodeError:
        raise NotTaken(_("That line is no readable text. Type it again.")) from None
    if text == "\x1b":
        raise Stopped
    if any(unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn") for letter in text):
        raise NotTaken(_("An arrow or control key was pressed. Type the answer again."))
    if len(text) > MOST_TYPED:
        raise NotTaken(
            _(
                "{count} characters are too many. Type at most {most_typed}.",
                count=len(text),
                most_typed=MOST_TYPED,
            )
        )
    return text
