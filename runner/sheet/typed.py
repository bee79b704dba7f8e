"""Text that people typed, made safe to show: it stays text, and it can break no page.

Nothing is repaired or dropped without a sign: a control character, a mark that turns the
direction of writing, or half of a surrogate pair is shown as its escape (``\\u202e``); what is
longer than a bound is cut, with a note of how much more the journal holds.
"""

import unicodedata
from typing import Final

from steplatch.safety.catalogue import _

MAX_CHARS: Final = 1200
"""Longest text shown in one place; a whole complaint in the customer's words fits."""
MAX_MARKS: Final = 3
"""Combining marks on one letter that are drawn; more would run over the lines above."""
_JOINERS: Final = "\u200c\u200d"
_ISOLATE: Final = "\u2068"
_END_ISOLATE: Final = "\u2069"


def plain_text(value: object, limit: int = MAX_CHARS) -> str:
    """``value`` as one printable line, cut at ``limit`` characters with a note.

    A text that holds letters written from right to left is wrapped in isolates (U+2068,
    U+2069), so that it cannot reorder the words around it.
    """
    text = " ".join(str(value).split(" "))
    cut = len(text) - limit
    if cut > 0:
        text = text[:limit]
    out: list[str] = []
    marks = 0
    for char in text:
        marks = marks + 1 if unicodedata.combining(char) else 0
        shown = (char.isprintable() or char in _JOINERS) and marks <= MAX_MARKS
        out.append(char if shown else _escape(char))
    text = "".join(out).strip()
    if any(unicodedata.bidirectional(c) in ("R", "AL", "AN") for c in text):
        text = f"{_ISOLATE}{text}{_END_ISOLATE}"
    if cut > 0:
        text += _(" … ({cut} more characters are in the journal)", cut=cut)
    return text


def plain_lines(value: object, limit: int = MAX_CHARS) -> str:
    """A text of several lines of the program's own making; each line as ``plain_text``."""
    return "\n".join(plain_text(line, limit) for line in str(value).splitlines())


def _escape(char: str) -> str:
    code = ord(char)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def cells_wide(text: str) -> int:
    """How many columns of a terminal ``text`` takes: wide letters two, marks none."""
    if text.isascii():
        return len(text)
    width = 0
    for char in text:
        if unicodedata.combining(char) or char in (_ISOLATE, _END_ISOLATE, *_JOINERS):
            continue
        width += 2 if unicodedata.east_asian_width(char) in ("W", "F") else 1
    return width
