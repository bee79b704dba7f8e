"""Reading a page the way a browser or a screen reader does: elements, headings, words."""

import re
import unicodedata
from html.parser import HTMLParser
from io import BytesIO

from steplatch.runner.sheet.blocks import (
    JobSheet,
    Pairs,
    Paragraph,
    Photo,
    Picture,
    Points,
    SheetBlock,
    SheetPart,
    TableBlock,
    VerdictBlock,
    Warned,
)

VOID = frozenset({"meta", "img", "br", "col"})


class Page(HTMLParser):
    """A parsed page: tags with attributes in order, headings, words outside style."""

    def __init__(self, source: str) -> None:
        """Parse ``source``; every element must be closed in order."""
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.headings: list[int] = []
        self.words = ""
        self.alts: list[str] = []
        self._open: list[str] = []
        self.feed(source)
        self.close()
        assert self._open == [], f"never closed: {self._open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note the element."""
        self.tags.append((tag, dict(attrs)))
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if tag == "img":
            self.alts.append(dict(attrs).get("alt") or "")
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close the element that was opened last; any other is a fault."""
        assert self._open and self._open[-1] == tag, f"</{tag}> closes {self._open[-1:]}"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        """Collect words that are shown."""
        if not {"style", "title"} & set(self._open):
            self.words += data


def squeezed(text: str) -> str:
    """Letters alone: no spaces, no invisible marks, compatibility forms made equal."""
    plain = unicodedata.normalize("NFKC", text)
    return "".join(
        c for c in plain if not c.isspace() and unicodedata.category(c) not in ("Cf", "Cc")
    )


def said_by(block: SheetBlock) -> list[str]:
    """Every text of a block that has to be readable in every output."""
    match block:
        case Paragraph():
            return [block.text]
        case Points():
            return list(block.items)
        case Pairs():
            return [t for name, value in block.rows for t in (name, value.text)]
        case TableBlock():
            cells = [c.text for row in block.rows for c in row]
            return [block.caption, *block.heads, *cells]
        case VerdictBlock():
            return [block.title, *block.sentences]
        case Warned():
            return [block.word, block.hazard, block.consequence, block.avoid, block.source]
        case Photo():
            return [block.label]
        case Picture():
            return [block.title] if block.short else [block.title, block.words]
        case _:
            return []


def said_in(part: SheetPart) -> list[str]:
    """Every text of a part."""
    out = [part.title, part.lead]
    for section in part.sections:
        out.append(section.title)
        for block in section.blocks:
            out += said_by(block)
    return [line for text in out for line in text.split("\n") if line]


def said_on(sheet: JobSheet, part: str = "all") -> list[str]:
    """Every text of the parts called ``part``, and what stands over them."""
    out = [sheet.title, sheet.subtitle, *sheet.marks]
    for one in sheet.parts(part):
        out += said_in(one)
    return out


def pdf_words(data: bytes) -> tuple[int, str]:
    """Number of pages and all words of a PDF."""
    from pypdf import PdfReader

    reader = PdfReader(BytesIO(data))
    return len(reader.pages), "\n".join(page.extract_text() for page in reader.pages)
