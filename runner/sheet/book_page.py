"""What the job book answers, as one page: tables, and a picture of every share."""

from collections.abc import Iterator, Sequence
from typing import Any

from ..jobs.intervals import FEW
from ..jobs.questions import Answer
from .blocks import (
    JobSheet,
    Paragraph,
    Picture,
    Section,
    Share,
    SharePlot,
    SheetBlock,
    TableBlock,
    TableCell,
    page_of,
)
from .typed import plain_text

LEAD = (
    "Counted from the records of jobs. A share stands with its exact 95 % interval (Clopper and "
    f"Pearson); * marks rows of fewer than {FEW} jobs, which say next to nothing. No question is "
    "about a person."
)
MOST_ROWS = 60


def book_page(answers: Sequence[Answer], whose: str, day: str, kind: str) -> JobSheet:
    """The page. ``whose`` says which jobs, ``kind`` real or practice."""
    words = "real jobs" if kind == "real" else "PRACTICE jobs"
    subtitle = plain_text(f"{whose}, {words}, on {day}", 160)
    sections = tuple(Section(one.id, one.title, tuple(_blocks(one))) for one in answers)
    return page_of("Job book", subtitle, subtitle, sections, LEAD)


def _blocks(answer: Answer) -> Iterator[SheetBlock]:
    if not answer.rows:
        yield Paragraph("no job yet", "missing")
        return
    heads = (*answer.columns, *(("95 % from to",) if answer.intervals else ()))
    rows = [_row(answer, number) for number in range(min(len(answer.rows), MOST_ROWS))]
    yield TableBlock("", heads, tuple(rows), (1 / len(heads),) * len(heads))
    if len(answer.rows) > MOST_ROWS:
        left = len(answer.rows) - MOST_ROWS
        yield Paragraph(f"{left} more rows: steplatch book answers {answer.id} --json", "small")
    if answer.intervals:
        yield _picture(answer)
    if answer.note:
        yield Paragraph(answer.note, "small")


def _row(answer: Answer, number: int) -> tuple[TableCell, ...]:
    cells = [TableCell(_said(cell), missing=cell is None) for cell in answer.rows[number]]
    if answer.few[number]:
        cells[0] = TableCell(f"{cells[0].text} *")
    if answer.intervals:
        low, high = answer.intervals[number]
        cells.append(TableCell(f"{low:g} to {high:g}"))
    return tuple(cells)


def _said(cell: Any) -> str:
    if cell is None:
        return "none"
    return plain_text(str(cell).replace("_", " "), 60) or "not said"


def _picture(answer: Answer) -> Picture:
    part, whole = (answer.columns.index(name) for name in answer.share)
    shares = []
    for row, (low, high) in zip(answer.rows, answer.intervals, strict=True):
        value = 100 * row[part] / row[whole]
        shares.append(Share(_said(row[0]), value, low, high, f"{row[part]} of {row[whole]}"))
    words = "; ".join(
        f"{s.label}: {s.words}, {s.low:g} to {s.high:g} %" for s in shares
    )  # fmt: skip
    return Picture(answer.id, f"{answer.title}, in percent", words, SharePlot(tuple(shares)), True)
