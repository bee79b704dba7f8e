"""What the job book answers, as one page: tables, and a picture of every share."""

from collections.abc import Iterator, Sequence
from typing import Any

from steplatch.safety.catalogue import _, spoken

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

LEAD = _(
    "Counted from the records of jobs. A share stands with its exact 95 % interval (Clopper "
    "and Pearson); * marks rows of fewer than {few} jobs, which say next to nothing. No "
    "question is about a person.",
    few=FEW,
)
MOST_ROWS = 60


def book_page(answers: Sequence[Answer], whose: str, day: str, kind: str) -> JobSheet:
    """The page. ``whose`` says which jobs, ``kind`` real or practice."""
    words = _("real jobs") if kind == "real" else _("PRACTICE jobs")
    subtitle = plain_text(_("{whose}, {words}, on {day}", whose=whose, words=words, day=day), 160)
    sections = tuple(Section(one.id, one.title, tuple(_blocks(one))) for one in answers)
    return page_of(_("Job book"), subtitle, subtitle, sections, LEAD)


def _blocks(answer: Answer) -> Iterator[SheetBlock]:
    if not answer.rows:
        yield Paragraph(_("no job yet"), "missing")
        return
    heads = (*answer.columns, *((_("95 % from to"),) if answer.intervals else ()))
    rows = [_row(answer, number) for number in range(min(len(answer.rows), MOST_ROWS))]
    yield TableBlock("", heads, tuple(rows), (1 / len(heads),) * len(heads))
    if len(answer.rows) > MOST_ROWS:
        left = len(answer.rows) - MOST_ROWS
        yield Paragraph(
            _("{left} more rows: steplatch book answers {id} --json", left=left, id=answer.id),
            "small",
        )
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
        cells.append(TableCell(_("{low:g} to {high:g}", low=low, high=high)))
    return tuple(cells)


def _said(cell: Any) -> str:
    if cell is None:
        return "none"
    return plain_text(spoken(str(cell)), 60) or _("not said")


def _picture(answer: Answer) -> Picture:
    part, whole = (answer.columns.index(name) for name in answer.share)
    shares = []
    for row, (low, high) in zip(answer.rows, answer.intervals, strict=True):
        value = 100 * row[part] / row[whole]
        shares.append(
            Share(
                _said(row[0]),
                value,
                low,
                high,
                _("{row} of {row_2}", row=row[part], row_2=row[whole]),
            )
        )
    words = "; ".join(
        _(
            "{label}: {words}, {low:g} to {high:g} %",
            label=s.label,
            words=s.words,
            low=s.low,
            high=s.high,
        )
        for s in shares
    )
    return Picture(
        answer.id,
        _("{title}, in percent", title=answer.title),
        words,
        SharePlot(tuple(shares)),
        True,
    )
