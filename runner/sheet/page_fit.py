"""How much of a printed page a part takes, roughly, so that a page without scripts can fit one.

The PDF measures; a page in HTML cannot. Lines are counted as they fall at the print size of
``sheet.css.j2``, and more text is set smaller.
"""

import math
from typing import Final

from .blocks import (
    ONE_PAGE,
    BarPlot,
    JobSheet,
    Pairs,
    Paragraph,
    Picture,
    Points,
    Section,
    SheetBlock,
    SheetPart,
    SignLine,
    TableBlock,
    VerdictBlock,
)

LINE_LETTERS: Final = 122
"""Letters on a full line of body text in print."""
USUAL_LINES: Final = 71.0
SMALL_LINES: Final = 83.0
"""Lines that a page holds at the usual and at the smaller size."""


def density(sheet: JobSheet, part: SheetPart) -> str:
    """The class of a part: "" (usual), "dense" or "denser"; only for parts of one page."""
    if part.name not in ONE_PAGE:
        return ""
    lines = lines_of(sheet, part)
    if lines <= USUAL_LINES:
        return ""
    return "dense" if lines <= SMALL_LINES else "denser"


def lines_of(sheet: JobSheet, part: SheetPart) -> float:
    """Lines of body text that a part takes at the usual size."""
    head = 4.5 + (1.6 if sheet.marks else 0.0) + _wrapped(part.lead, LINE_LETTERS)
    return head + sum(
        max(_section(s, LINE_LETTERS / len(row)) for s in row) for row in sheet.rows(part)
    )


def _section(section: Section, letters: float) -> float:
    signs = sum(isinstance(b, SignLine) for b in section.blocks)
    return 1.9 + sum(_block(b, letters) for b in section.blocks) + (4.5 if signs else 0.0)


def _block(block: SheetBlock, letters: float) -> float:
    match block:
        case Paragraph():
            small = block.tone == "small"
            return (
                _wrapped(block.text, letters * (1.18 if small else 1)) * (0.9 if small else 1) + 0.3
            )
        case Points():
            return sum(_wrapped(i, letters - 4) + 0.1 for i in block.items) + 0.3
        case Pairs(twice=True):
            tall = [_wrapped(v.text, letters / 2 - 26) for _, v in block.rows]
            return sum(max(tall[i : i + 2]) for i in range(0, len(tall), 2)) + 0.4
        case Pairs():
            return sum(_wrapped(v.text, letters * 0.72) + 0.08 for _, v in block.rows) + 0.4
        case TableBlock():
            rows = [
                max(
                    _wrapped(c.text, letters * 1.02 * w / sum(block.widths) - 2)
                    for c, w in zip(row, block.widths, strict=True)
                )
                for row in block.rows
            ]
            return 2.6 + sum(r * 0.95 + 0.35 for r in rows)
        case VerdictBlock():
            return 3.2 + sum(_wrapped(s, letters - 6) + 0.25 for s in block.sentences)
        case Picture(plot=BarPlot(bars=bars)):
            return 4.6 + 1.9 * len(bars)
        case _:
            return 0.0


def _wrapped(text: str, letters: float) -> int:
    return sum(math.ceil(len(line) / max(letters, 8)) for line in text.split("\n") if line)
