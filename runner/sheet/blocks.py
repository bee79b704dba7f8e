"""The shapes that a sheet is built from: few, so that page, PDF and terminal say the same.

A sheet is parts, a part is sections, a section is blocks. Whoever renders it draws each kind of
block and adds no words of its own. Every text that a person typed has gone through
``plain_text`` before it gets here.
"""

from dataclasses import dataclass
from typing import Final, Literal

from steplatch.safety.catalogue import _

Tone = Literal["plain", "quote", "small", "missing", "bold"]
PartName = Literal["customer", "photos", "agreement", "technical", "listing"]


@dataclass(frozen=True, slots=True)
class TableCell:
    """One value. ``missing`` marks that nothing was recorded; the text says so in words too."""

    text: str
    missing: bool = False
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Paragraph:
    """One paragraph."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True)
class Points:
    """A list of sentences, none above the other."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Names with their values; ``twice``: two of them in a row."""

    rows: tuple[tuple[str, TableCell], ...]
    twice: bool = False


@dataclass(frozen=True, slots=True)
class TableBlock:
    """A table: what it shows, its heads, its rows.

    ``widths`` are shares of the page's width, one a column; ``numbers`` the columns (from 0)
    that are set to the right.
    """

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[TableCell, ...], ...]
    widths: tuple[float, ...]
    numbers: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        """Refuse rows of another length than the heads."""
        size = len(self.heads)
        if len(self.widths) != size or any(len(row) != size for row in self.rows):
            raise ValueError(
                _(
                    "table {caption!r}: every row needs {size} cells",
                    caption=self.caption,
                    size=size,
                )
            )


@dataclass(frozen=True, slots=True)
class VerdictBlock:
    """The verdict's title, its sentences, and a name for its colour (never alone in meaning)."""

    title: str
    sentences: tuple[str, ...]
    kind: Literal["good", "between", "bad", "none"]


@dataclass(frozen=True, slots=True)
class Warned:
    """A caution as it was shown: signal word, hazard, consequence, how it is avoided, source."""

    word: str
    hazard: str
    consequence: str
    avoid: str
    source: str


@dataclass(frozen=True, slots=True)
class SignLine:
    """A place to sign on paper."""

    who: str


@dataclass(frozen=True, slots=True)
class ResistanceBar:
    """One resistance as a bar: mbar at the reference flow, and its 95 % half-width."""

    label: str
    value: float
    half_width: float


@dataclass(frozen=True, slots=True)
class BarPlot:
    """Resistances beside the limit; ``limit`` None where none applies."""

    bars: tuple[ResistanceBar, ...]
    limit: float | None
    limit_label: str
    axis: str


@dataclass(frozen=True, slots=True)
class FlowLine:
    """One fitted line: its points (flow share, mbar), offset, slope, and what is known of both."""

    label: str
    points: tuple[tuple[float, float], ...]
    offset: float
    slope: float
    u_offset: float
    u_slope: float
    correlation: float


@dataclass(frozen=True, slots=True)
class FlowPlot:
    """Pressure over flow with every fitted line; limits as slopes through zero, with labels.

    ``coverage``: how many standard uncertainties the drawn bands are wide to each side.
    """

    lines: tuple[FlowLine, ...]
    limits: tuple[tuple[str, float], ...]
    axis_x: str
    axis_y: str
    coverage: float


@dataclass(frozen=True, slots=True)
class TrendPlot:
    """Pressure over time: points and fitted curve (min, mbar), the level that it leads to.

    ``earlier``: points of holds that were broken off; they are not part of the fit.
    """

    points: tuple[tuple[float, float], ...]
    earlier: tuple[tuple[float, float], ...]
    level: float | None
    level_half_width: float | None
    curve: tuple[tuple[float, float], ...]
    axis_x: str
    axis_y: str


@dataclass(frozen=True, slots=True)
class Share:
    """A share in percent with its bounds, which need not lie alike to both sides."""

    label: str
    value: float
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True)
class SharePlot:
    """Shares below each other, each as a point in its interval."""

    shares: tuple[Share, ...]


Plot = BarPlot | FlowPlot | TrendPlot | SharePlot


@dataclass(frozen=True, slots=True)
class Picture:
    """A plot with its title and the same in words, for whoever does not see it.

    ``short``: the words stand in full beside the plot already, so that its caption is the
    title alone.
    """

    id: str
    title: str
    words: str
    plot: Plot
    short: bool = False


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture taken at the vehicle, without the words in it; ``label`` says what it shows."""

    label: str
    kind: Literal["jpeg", "png"]
    data: bytes


SheetBlock = (
    Paragraph | Points | Pairs | TableBlock | VerdictBlock | Warned | SignLine | Picture | Photo
)


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it; two ``half`` ones in a row stand side by side."""

    id: str
    title: str
    blocks: tuple[SheetBlock, ...]
    half: bool = False


@dataclass(frozen=True, slots=True)
class SheetPart:
    """One part of the sheet; it begins on a page of its own."""

    name: PartName
    title: str
    lead: str
    sections: tuple[Section, ...]


ONE_PAGE: Final = ("customer", "agreement")
"""Parts that have to fit one A4 page."""


@dataclass(frozen=True, slots=True)
class JobSheet:
    """A whole sheet.

    marks: what must stand on every page (practice, draft, abandoned). foot: the line at the
    foot of every page. utc: the moment of the last journal line (RFC 3339), the only date that
    a document's metadata may carry.
    """

    title: str
    subtitle: str
    job_id: str
    utc: str
    marks: tuple[str, ...]
    foot: str
    customer: SheetPart
    agreement: SheetPart
    technical: SheetPart
    listing: SheetPart
    photos: SheetPart | None = None

    def parts(self, part: str = "all") -> tuple[SheetPart, ...]:
        """The parts called ``part``: customer, agreement, technical, listing, or all of them but
        the listing, which is made when it is asked for. Photos go with the customer's page. Else
        ValueError."""
        customer = (self.customer, *((self.photos,) if self.photos else ()))
        every = (*customer, self.agreement, self.technical)
        if part == "all":
            return every
        named = (*every, self.listing)
        chosen = customer if part == "customer" else tuple(p for p in named if p.name == part)
        if not chosen:
            raise ValueError(
                _("no part {part!r}. Use all, customer, agreement, technical, listing.", part=part)
            )
        return chosen

    def rows(self, part: SheetPart) -> tuple[tuple[Section, ...], ...]:
        """The sections of a part in rows: two halves together, every other one alone."""
        out: list[tuple[Section, ...]] = []
        for section in part.sections:
            if section.half and out and len(out[-1]) == 1 and out[-1][0].half:
                out[-1] = (*out[-1], section)
            else:
                out.append((section,))
        return tuple(out)


def page_of(
    title: str, subtitle: str, foot: str, sections: tuple[Section, ...], lead: str = ""
) -> JobSheet:
    """A document that is no job's: one part, to be rendered as ``technical``."""
    none = SheetPart("customer", "", "", ())
    part = SheetPart("technical", title, lead, sections)
    return JobSheet(title, subtitle, "", "", (), foot, none, none, part, none)
