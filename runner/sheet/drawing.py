"""A small drawing in SVG: marks, labels whose room is known, and areas with a scale.

Lengths are points (1/72 inch), from the top left. No date, no id that changes: the same calls give
the same bytes. Letters stay text, set in the first font of ``FAMILY`` that the reader has; the room
that a label takes is estimated for the widest of them, so that none is drawn over another.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from .palette import INK, PAPER, RULE

FAMILY: Final = "DejaVu Sans, Verdana, Arial, Helvetica, sans-serif"
SIZE: Final = 8.0
_NARROW: Final = frozenset(" .,;:'|!()[]iljtfIr/-")
_WIDE: Final = frozenset("mwMWQO@%±+<>=×")
Point = tuple[float, float]
_CORNERS: Final[dict[str, list[Point]]] = {
    "s": [(-1, -1), (1, -1), (1, 1), (-1, 1)],
    "^": [(-1.1, 0.95), (1.1, 0.95), (0, -1.2)],
}


def width_of(words: str, size: float = SIZE, *, bold: bool = False) -> float:
    """Points that ``words`` need at most in DejaVu Sans, the widest of the fonts."""
    em = sum(0.46 if c in _NARROW else 1.0 if c in _WIDE or ord(c) > 0x24F else 0.78 if c.isupper()
             else 0.65 for c in words)  # fmt: skip
    return em * size * (1.13 if bold else 1.0)


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a place: ``x`` is their start, middle or end (``anchor``), ``y`` their middle.

    ``upright``: they run upwards, and ``y`` is where they start. ``ground``: they stand on paper,
    so that no line strikes them through.
    """

    x: float
    y: float
    words: str
    colour: str = INK
    size: float = SIZE
    bold: bool = False
    anchor: str = "start"
    upright: bool = False
    ground: bool = False

    @property
    def lines(self) -> list[str]:
        """Its lines, from the top."""
        return self.words.split("\n")

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of the room that it takes."""
        wide = max(width_of(line, self.size, bold=self.bold) for line in self.lines)
        tall = self.size * 1.15 * len(self.lines)
        if self.upright:
            return self.x - tall / 2, self.y - wide, self.x + tall / 2, self.y
        left = self.x - {"start": 0.0, "middle": wide / 2, "end": wide}[self.anchor]
        return left, self.y - tall / 2, left + wide, self.y + tall / 2


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle of a drawing and the ranges of numbers that its sides stand for."""

    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at(self, x: float, y: float) -> Point:
        """The place of a pair of numbers."""
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return self.left + across * self.width, self.top + (1 - up) * self.height

    def along(self, points: Iterable[Point]) -> list[Point]:
        """The places of several pairs."""
        return [self.at(x, y) for x, y in points]


@dataclass(slots=True)
class Drawing:
    """What is drawn so far: marks first, all labels above them."""

    width: float
    height: float
    marks: list[str] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def line(self, points: Sequence[Point], colour: str = INK, width: float = 1.0,
             dash: str = "") -> None:  # fmt: skip
        """A line through places; ``dash`` as in SVG, empty for a solid one."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.marks.append(
            f'<polyline points="{_places(points)}" fill="none" stroke="{colour}" '
            f'stroke-width="{width}"{dashes}/>'
        )

    def band(self, points: Sequence[Point], colour: str, opacity: float) -> None:
        """A filled outline without an edge."""
        self.marks.append(
            f'<polygon points="{_places(points)}" fill="{colour}" fill-opacity="{opacity}"/>'
        )

    def bar(self, low: Point, high: Point, fill: str, hatch: str) -> None:
        """An upright rectangle between two corners with an edge; ``hatch``: '', '/' or '.'."""
        (left, bottom), (right, top) = low, high
        corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
        self.marks.append(f'<polygon points="{_places(corners)}" fill="{fill}"/>')
        self._hatch(left, right, top, bottom, hatch)
        self.marks.append(
            f'<polygon points="{_places(corners)}" fill="none" stroke="{INK}" stroke-width="0.7"/>'
        )

    def _hatch(self, left: float, right: float, top: float, bottom: float, hatch: str) -> None:
        tall, gap = bottom - top, 4.0
        if hatch == "/":
            for k in range(int((right - left + tall) / gap) + 1):
                low, high = left - tall + k * gap, left + k * gap
                start, end = max(low, left), min(high, right)
                if start < end:
                    self.line(
                        [(start, bottom - (start - low)), (end, bottom - (end - low))], INK, 0.5
                    )
        elif hatch == ".":
            for k in range(int((right - left) / gap)):
                for row in range(int(tall / gap)):
                    self.dot(
                        "o", (left + (k + 0.5) * gap, top + (row + 0.5) * gap), INK, 0.5, INK, 0.2
                    )

    def dot(self, shape: str, at: Point, colour: str, size: float = 2.6, fill: str = PAPER,
            edge: float = 1.3) -> None:  # fmt: skip
        """A mark at a place: o circle, s square, ^ triangle, x cross; ``size`` is half of it."""
        x, y = at
        paint = f'fill="{fill}" stroke="{colour}" stroke-width="{edge}"'
        if shape == "o":
            self.marks.append(f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size}" {paint}/>')
        elif shape == "x":
            for k in (1, -1):
                self.line([(x - size, y - k * size), (x + size, y + k * size)], colour, edge)
        else:
            places = _places([(x + a * size, y + b * size) for a, b in _CORNERS[shape]])
            self.marks.append(f'<polygon points="{places}" {paint}/>')

    def axes(self, area: Area, x_label: str, y_label: str, x_most: float) -> None:
        """Both axes of an area with a grid, ticks (across up to ``x_most``) and their words."""
        bottom = area.top + area.height
        for x in ticks(area.x[0], x_most):
            place, _ = area.at(x, 0)
            self.line([(place, area.top), (place, bottom)], RULE, 0.2)
            self.labels.append(Label(place, bottom + 8, f"{x:g}", anchor="middle"))
        for y in ticks(*area.y):
            _, place = area.at(area.x[0], y)
            self.line([(area.left, place), (area.left + area.width, place)], RULE, 0.2)
            self.labels.append(Label(area.left - 4, place, f"{y:g}", anchor="end"))
        edge = [(area.left, area.top), (area.left, bottom), (area.left + area.width, bottom)]
        self.line(edge, INK, 0.6)
        self.labels.append(Label(area.left, bottom + 19, x_label))
        self.labels.append(Label(6, bottom, y_label, upright=True))

    def svg(self) -> bytes:
        """The drawing."""
        size = f"{self.width:.1f} {self.height:.1f}"
        words = "".join(map(_text, self.labels))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" '
            f'width="{self.width:.1f}pt" height="{self.height:.1f}pt" '
            f"font-family={quoteattr(FAMILY)}>"
            f'<rect width="100%" height="100%" fill="{PAPER}"/>{"".join(self.marks)}{words}</svg>'
        ).encode()


def ticks(low: float, high: float, most: int = 9) -> list[float]:
    """Round numbers from ``low`` to ``high``, at most ``most``: steps of 1, 2 or 5 times 10^n."""
    least = (high - low) / most
    unit = 10.0 ** math.floor(math.log10(least))
    step = next(unit * k for k in (1, 2, 5, 10, 20) if unit * k >= least)
    first = math.ceil(low / step - 1e-9)
    return [round(k * step, 9) for k in range(first, math.floor(high / step + 1e-9) + 1)]


def _places(points: Sequence[Point]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def _text(label: Label) -> str:
    left, top, right, bottom = label.box
    out = ""
    if label.ground:
        out = (
            f'<rect x="{left - 1:.2f}" y="{top:.2f}" width="{right - left + 2:.2f}" '
            f'height="{bottom - top:.2f}" fill="{PAPER}"/>'
        )
    weight = ' font-weight="bold"' if label.bold else ""
    for place, line in enumerate(label.lines):
        y = label.y + (place - (len(label.lines) - 1) / 2) * label.size * 1.15 + label.size * 0.36
        where = f'x="{label.x:.2f}" y="{y:.2f}"'
        if label.upright:
            x = label.x + label.size * 0.36
            where = f'transform="translate({x:.2f} {label.y:.2f}) rotate(-90)"'
        out += (
            f'<text {where} font-size="{label.size}" fill="{label.colour}" '
            f'text-anchor="{label.anchor}"{weight}>{escape(line)}</text>'
        )
    return out
