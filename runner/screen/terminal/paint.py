"""Colours of the screens, and how a line is painted for one terminal.

A colour never means anything alone: the word on the bar does. Text and background are always
set together, or neither is. Signal colours after ISO 3864-4 where they give enough contrast.
"""

import os
from collections.abc import Mapping
from typing import Final, Literal, TextIO

from ...system.console import kind_of_terminal

Depth = Literal["none", "mono", "cube", "full"]
"""What a terminal can do: nothing, bold and reverse, the 256 colours, all colours."""

BARS: Final[dict[str, tuple[str, str]]] = {
    "DANGER": ("#ffffff", "#9b2423"),
    "WARNING": ("#000000", "#e58a3c"),
    "CAUTION": ("#000000", "#f9a900"),
    "NOTICE": ("#ffffff", "#005387"),
    "place": ("#2b2b2c", "#ecece7"),
    "practice": ("#ffffff", "#1f6b45"),
}
"""Text and background of each bar."""

BOLD: Final = frozenset({"head", "do", "refused"})
_STEPS: Final = (0, 95, 135, 175, 215, 255)


def depth_of(out: TextIO, environ: Mapping[str, str]) -> Depth:
    """What the terminal behind ``out`` can do. NO_COLOR, when not empty, leaves bold and reverse;
    a dumb terminal, or none at all, gets plain text."""
    if not out.isatty():
        return "none"
    terminal = kind_of_terminal(environ)
    if terminal == "dumb":
        return "none"
    if environ.get("NO_COLOR"):
        return "mono"
    if environ.get("COLORTERM") in ("truecolor", "24bit"):
        return "full"
    return "cube" if "256" in terminal else "mono"


def painted(text: str, style: str, width: int, depth: Depth) -> str:
    """One line of text in its style; a bar fills the width."""
    bar = BARS.get(style)
    if depth == "none":
        return text
    if bar is None:
        return f"\x1b[1m{text}\x1b[0m" if style in BOLD else text
    filled = text.ljust(width)
    if depth == "mono":
        return f"\x1b[1;7m{filled}\x1b[0m"
    ink, paper = bar
    return f"\x1b[1;{_code(38, ink, depth)};{_code(48, paper, depth)}m{filled}\x1b[0m"


def shown(colour: str, depth: Depth) -> str:
    """The ``#rrggbb`` that a terminal of this depth really shows."""
    if depth == "full":
        return colour
    return "#" + "".join(f"{_STEPS[_nearest(part)]:02x}" for part in _rgb(colour))


def _code(kind: int, colour: str, depth: Depth) -> str:
    red, green, blue = _rgb(colour)
    if depth == "full":
        return f"{kind};2;{red};{green};{blue}"
    r, g, b = (_nearest(part) for part in (red, green, blue))
    return f"{kind};5;{16 + 36 * r + 6 * g + b}"


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _nearest(part: int) -> int:
    return min(range(6), key=lambda at: abs(_STEPS[at] - part))


def depth_here(out: TextIO) -> Depth:
    """The depth for ``out`` in this process's environment."""
    return depth_of(out, os.environ)
