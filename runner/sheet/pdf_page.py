"""A sheet as PDF: tagged (PDF/UA-1), fonts inside, the same job always the same bytes.

typst sets it, an optional extra: without it ``NoPrinter`` says how to get it, and that the page in
HTML prints too. The sheet travels to typst as JSON; no text of a job is ever part of the markup.
Fonts are those inside typst and in ``fonts/``, never those of the computer, so that a sheet looks
alike everywhere. A letter that none of them has is drawn as a box; it can still be copied, and the
page in HTML shows it.
"""

import dataclasses
import json
import re
import unicodedata
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from steplatch.safety.catalogue import _

from .blocks import ONE_PAGE, JobSheet, Photo, Picture, Section, SheetBlock, SignLine, Warned
from .html_page import LANGUAGE, TEMPLATES, colours
from .plots import plot_svg

if TYPE_CHECKING:
    import typst

STANDARD: Final = "ua-1"
_LONG: Final = re.compile(r"\S{22,}")
_HOLDS_TO: Final = "\u200c\u200d\u2068\u2069"
FONTS: Final = Path(__file__).parent / "fonts"
NO_DATE: Final = datetime(1970, 1, 1, tzinfo=UTC)
"""The date in the metadata of a sheet whose job has no line."""


class NoPrinter(RuntimeError):  # noqa: N818 - it names the thing, as the other errors do
    """What sets a PDF is not installed; says the remedies."""


NO_PRINTER: Final = _(
    "no PDF: what sets it is an extra that is not installed. Add it with pip install "
    "'steplatch[pdf]' (in its folder: pip install -e '.[pdf]'), or write the page with --html FILE "
    "and print it from the browser."
)


def to_pdf(sheet: JobSheet, part: str = "all") -> bytes:
    """The PDF of ``part``, as ``JobSheet.parts`` takes it; else ValueError.

    Raises NoPrinter where typst is not installed; ``typst.TypstError`` only for a fault of the
    template, never for what a job holds.
    """
    fonts = load_printer()
    import typst

    when = moment_of(sheet)
    data = json.dumps(plain_of(sheet, part, when), ensure_ascii=False)
    made = typst.compile(
        (TEMPLATES / "sheet.typ").read_bytes(),
        font_paths=fonts,
        format="pdf",
        sys_inputs={"sheet": data},
        pdf_standards=STANDARD,
        timestamp=when,
    )
    assert isinstance(made, bytes)  # one document, asked for without a file
    return made


@cache
def load_printer() -> "typst.Fonts":
    """The fonts that a PDF is set in, loaded once, and typst with them. Raises NoPrinter."""
    try:
        import typst
    except ImportError as error:
        raise NoPrinter(NO_PRINTER) from error

    return typst.Fonts(include_system_fonts=False, font_paths=[FONTS])


def moment_of(sheet: JobSheet) -> datetime:
    """The only date in the document: the second of the job's last line, in UTC."""
    if not sheet.utc:
        return NO_DATE
    at = datetime.fromisoformat(sheet.utc.replace("Z", "+00:00")).astimezone(UTC)
    return at.replace(microsecond=0)  # a PDF holds whole seconds


def plain_of(sheet: JobSheet, part: str, when: datetime) -> dict[str, Any]:
    """A part of the sheet as plain values, as the template takes it."""
    return {
        "title": sheet.title,
        "subtitle": sheet.subtitle,
        "author": "steplatch",
        "date": [when.year, when.month, when.day, when.hour, when.minute, when.second],
        "lang": LANGUAGE,
        "marks": list(sheet.marks),
        "mark_text": " · ".join(sheet.marks),
        "ghost": sheet.marks[0].split(":")[0] if sheet.marks else "",
        "foot": sheet.foot,
        "colour": colours(),
        "parts": _breakable(
            [
                {
                    "title": one.title,
                    "lead": one.lead,
                    "one_page": one.name in ONE_PAGE,
                    "rows": [[_section(s) for s in row] for row in sheet.rows(one)],
                }
                for one in sheet.parts(part)
            ]
        ),
    }


def _breakable(value: Any) -> Any:
    """Every text with places to break in words longer than a narrow column; pictures as is."""
    if isinstance(value, dict):
        return {k: v if k in ("svg", "bytes") else _breakable(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_breakable(item) for item in value]
    if isinstance(value, str):
        return _LONG.sub(_with_places, value)
    return value


def _with_places(found: re.Match[str]) -> str:
    """A place to break after every letter that no combining mark and no joiner follows."""
    word = found[0]
    return word[0] + "".join(
        c if unicodedata.combining(c) or c in _HOLDS_TO else f"\u200b{c}" for c in word[1:]
    )


def _section(section: Section) -> dict[str, Any]:
    return {"title": section.title, "blocks": [_block(b) for b in section.blocks]}


def _block(block: SheetBlock) -> dict[str, Any]:
    kind = type(block).__name__
    if isinstance(block, Picture):
        svg = plot_svg(block).decode("utf-8")
        return {
            "kind_of": kind, "title": block.title, "words": block.words, "short": block.short,
            "svg": svg,
        }  # fmt: skip
    if isinstance(block, Photo):
        form = "jpg" if block.kind == "jpeg" else block.kind
        return {"kind_of": kind, "label": block.label, "form": form, "bytes": list(block.data)}
    words = {}
    if isinstance(block, Warned):
        words = {"signal": _(block.word), "sourced": _("Source: {source}.", source=block.source)}
    if isinstance(block, SignLine):
        words = {"signs": _("{who}: signature, name, date", who=block.who)}
    return {"kind_of": kind, **dataclasses.asdict(block), **words}
