"""A sheet as one self-contained HTML page: no script, no outside address, prints on A4."""

import base64
import re
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, NoReturn

from steplatch.safety.catalogue import _

from . import palette
from .blocks import JobSheet
from .page_fit import density
from .plots import plot_svg

TEMPLATES: Final = Path(__file__).parent / "templates"
LANGUAGE: Final = _("en")
"""The language of the texts, as a page names it; a catalogue says which it is."""
_UNIT: Final = re.compile(r"(?:(?<![\w.])[-+]?\d[\d.]* |\b)(?:g/s|1/min|mL/s|mbar/min)\b", re.ASCII)


def to_html(sheet: JobSheet, part: str = "all") -> str:
    """The page. ``part`` as ``JobSheet.parts`` takes it; else ValueError."""
    parts = sheet.parts(part)
    mark_text = " · ".join(sheet.marks)
    page: str = page_template().render(
        sheet=sheet,
        parts=parts,
        density={one.name: density(sheet, one) for one in parts},
        lang=LANGUAGE,
        colour=colours(),
        mark_text=mark_text,
        no_such_block=_no_such_block,
        svg_uri=lambda picture: _uri("svg+xml", plot_svg(picture)),
        photo_uri=lambda photo: _uri(photo.kind, photo.data),
        css_foot=_css_string(sheet.foot),
        css_mark=_css_string(mark_text) if sheet.marks else "",
    )
    return page


def _no_such_block(kind: str) -> NoReturn:
    raise TypeError(f"the page has no form for a block of the kind {kind}")


@lru_cache(maxsize=1)
def page_template() -> Any:
    """The template of the page, loaded once."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["kind"] = lambda block: type(block).__name__
    environment.filters["said"] = _units_whole
    environment.globals["_"] = _
    return environment.get_template("sheet.html.j2")


def _units_whole(text: str) -> Any:
    """``text`` escaped, each unit with a slash, and its number, in an element that no line
    end may part."""
    from markupsafe import Markup, escape

    return Markup(_UNIT.sub(r'<span class="u">\g<0></span>', str(escape(text))))


def _css_string(text: str) -> Any:
    """A CSS string that holds ``text`` and nothing else: all but plain letters is escaped."""
    from markupsafe import Markup

    safe = "".join(
        c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in text
    )
    return Markup(f'"{safe}"')


def _uri(kind: str, data: bytes) -> str:
    return f"data:image/{kind};base64," + base64.b64encode(data).decode("ascii")


def colours() -> dict[str, Any]:
    """Every colour by the name that the templates use."""
    names = ("INK", "MUTED", "PAPER", "TINT", "RULE", "ACCENT", "MARK_INK", "MARK_PAPER")
    return {
        **{name.lower(): getattr(palette, name) for name in names},
        "kind": palette.KIND,
        "signal": palette.SIGNAL,
    }
