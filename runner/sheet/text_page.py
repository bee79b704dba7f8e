"""A sheet as plain text for a terminal: the same words, wrapped to a width."""

import textwrap
from collections.abc import Iterator
from typing import assert_never

from steplatch.safety.catalogue import _

from .blocks import (
    JobSheet,
    Pairs,
    Paragraph,
    Photo,
    Picture,
    Points,
    SheetBlock,
    SignLine,
    TableBlock,
    TableCell,
    VerdictBlock,
    Warned,
)
from .typed import cells_wide

NARROWEST = 40


def to_text(sheet: JobSheet, width: int = 80, part: str = "all") -> str:
    """The sheet in lines of at most ``width`` columns. Under 40 columns: ValueError."""
    if width < NARROWEST:
        raise ValueError(
            _(
                "a sheet needs at least {narrowest} columns, not {width}",
                narrowest=NARROWEST,
                width=width,
            )
        )
    return "\n".join(_lines(sheet, width, part)) + "\n"


def _lines(sheet: JobSheet, width: int, part: str) -> Iterator[str]:
    yield from _wrap(sheet.title.upper(), width)
    yield from _wrap(sheet.subtitle, width)
    for mark in sheet.marks:
        yield from _wrap(f"*** {mark} ***", width)
    for one in sheet.parts(part):
        yield ""
        yield "=" * width
        yield from _wrap(one.title.upper(), width)
        for mark in sheet.marks:
            yield from _wrap(f"*** {mark} ***", width)
        if one.lead:
            yield from _wrap(one.lead, width)
        for section in one.sections:
            yield ""
            yield from _wrap(section.title, width)
            yield "-" * min(width, cells_wide(section.title))
            for block in section.blocks:
                yield from _block(block, width)
    yield ""
    yield from _wrap(sheet.foot, width)


def _block(block: SheetBlock, width: int) -> Iterator[str]:
    match block:
        case Paragraph():
            yield from _wrap(block.text, width)
        case Points():
            for item in block.items:
                yield from _wrap(item, width, "- ", "  ")
        case Pairs():
            for name, value in block.rows:
                yield from _wrap(f"{name}: {_cell(value)}", width, "", "    ")
        case TableBlock():
            yield from _table(block, width)
        case VerdictBlock():
            yield from _wrap(f">> {block.title}", width)
            for sentence in block.sentences:
                yield from _wrap(sentence, width, "   ", "   ")
        case Warned():
            words = f"{_(block.word)}: {block.hazard} {block.consequence} {block.avoid}"
            source = _("Source: {source}.", source=block.source)
            yield from _wrap(f"{words} {source}", width, "", "  ")
        case SignLine():
            yield ""
            yield from _wrap(
                "_" * 30 + " " + _("{who}: signature, name, date", who=block.who), width
            )
        case Picture():
            yield from _wrap(
                _("[picture] {title}. {words}", title=block.title, words=block.words),
                width,
                "",
                "  ",
            )
        case Photo():
            yield from _wrap(_("[photo] {label}", label=block.label), width, "", "  ")
        case _:
            assert_never(block)


def _cell(cell: TableCell) -> str:
    return f"– {cell.text}" if cell.missing and cell.text else cell.text


def _table(table: TableBlock, width: int) -> Iterator[str]:
    """In columns where every column is wide enough, else one small block a row."""
    yield from _wrap(table.caption, width)
    room = width - 2 * (len(table.widths) - 1)
    columns = [int(room * share / sum(table.widths)) for share in table.widths]
    fits = all(
        column >= max(cells_wide(w) for w in (head.split() or [""]))
        for column, head in zip(columns, table.heads, strict=True)
    )
    if fits and min(columns) >= 8:
        yield from _row([TableCell(head) for head in table.heads], columns)
        yield "  ".join("-" * c for c in columns)
        for row in table.rows:
            yield from _row(list(row), columns)
        return
    for row in table.rows:
        for place, (head, cell) in enumerate(zip(table.heads, row, strict=True)):
            if cell.text:
                name = f"{head}: " if head and place else ""
                indent = "" if place == 0 else "    "
                yield from _wrap(f"{name}{_cell(cell)}", width, indent, indent + "  ")


def _row(row: list[TableCell], columns: list[int]) -> Iterator[str]:
    wrapped = [
        [line for part in _cell(cell).split("\n") for line in _wrap(part, column)]
        for cell, column in zip(row, columns, strict=True)
    ]
    for place in range(max(len(w) for w in wrapped)):
        line = [w[place] if place < len(w) else "" for w in wrapped]
        yield "  ".join(
            text + " " * (column - cells_wide(text))
            for text, column in zip(line, columns, strict=True)
        ).rstrip()


def _wrap(text: str, width: int, first: str = "", later: str = "") -> list[str]:
    """Lines of at most ``width`` columns, wide letters counted as two."""
    out: list[str] = []
    for part in text.split("\n"):
        wide = cells_wide(part) > len(part)
        lines = textwrap.wrap(
            part,
            width if not wide else max(width // 2, 12),
            initial_indent=first if not out else later,
            subsequent_indent=later,
            break_long_words=True,
            break_on_hyphens=False,
        )
        out += lines or [""]
    return out
