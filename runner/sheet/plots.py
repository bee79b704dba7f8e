"""The pictures of a sheet as SVG: labels at the lines, units, limits, uncertainty.

They are told apart by label, dash and marker as well as by colour, so that they read in black and
white. Lengths in points.
"""

import math
from functools import lru_cache
from itertools import pairwise
from typing import Final

from steplatch.safety.catalogue import _

from .blocks import BarPlot, FlowLine, FlowPlot, Picture, SharePlot, TrendPlot
from .drawing import Area, Drawing, Label, Point, ticks, width_of
from .palette import INK, LINES, MUTED, RULE

_WIDTH: Final = 511.0
_LEFT: Final = 40.0
_DASH: Final = {_("before"): "6 3", _("after"): "", _("after the road test"): "1.5 1.8"}
_LIMIT_DASH: Final = "9 3 1.5 3"
_MARKER: Final = {_("before"): "s", _("after"): "o", _("after the road test"): "^"}
_COLOUR: Final = {
    _("before"): LINES["before"],
    _("after"): LINES["after"],
    _("after the road test"): LINES["road"],
}
_FILLS: Final = (("#d9d2c4", "/"), ("#b9cbd8", ""), ("#c3d8cb", "."))


@lru_cache(maxsize=16)
def plot_svg(picture: Picture) -> bytes:
    """The picture as SVG. The same picture gives the same bytes (page and PDF share them)."""
    return drawing_of(picture).svg()


def drawing_of(picture: Picture) -> Drawing:
    """The picture as marks and labels."""
    match picture.plot:
        case BarPlot():
            return _bars(picture.plot)
        case FlowPlot():
            return _flow(picture.plot)
        case TrendPlot():
            return _trend(picture.plot)
        case SharePlot():
            return _shares(picture.plot)


def _shares(plot: SharePlot) -> Drawing:
    tall, count = 16.0, len(plot.shares)
    names = max(width_of(one.label) for one in plot.shares) + 8
    room = max(width_of(one.words) for one in plot.shares) + 10
    drawing = Drawing(_WIDTH, 2 + tall * count + 14)
    area = Area(names, 2, _WIDTH - names - room, tall * count, (0, 100), (0, count))
    for place, one in enumerate(plot.shares):
        y = count - place - 0.5
        drawing.line([area.at(one.low, y), area.at(one.high, y)], INK, 1.1)
        for end in (one.low, one.high):
            drawing.line([area.at(end, y - 0.2), area.at(end, y + 0.2)], INK, 1.1)
        drawing.dot("o", area.at(one.value, y), LINES["after"])
        drawing.labels.append(Label(names - 5, area.at(0, y)[1], one.label, anchor="end"))
        drawing.labels.append(Label(_WIDTH - room + 8, area.at(0, y)[1], one.words))
    _foot(drawing, area, 100)
    return drawing


def _bars(plot: BarPlot) -> Drawing:
    tall = 20.0
    names = max(width_of(bar.label) for bar in plot.bars) + 8
    says = [f"{bar.value:.0f} ± {bar.half_width:.0f} {plot.axis}" for bar in plot.bars]
    room = max(width_of(said, bold=True) for said in says)
    if plot.limit is not None:
        room = max(room, width_of(plot.limit_label))
    head = 14.0 if plot.limit is not None else 2.0
    drawing = Drawing(_WIDTH, head + tall * len(plot.bars) + 14)
    width = _WIDTH - names - 6
    reach = max(max(b.value + b.half_width for b in plot.bars), plot.limit or 0.0)
    edge = reach * width / (width - room - 14)
    area = Area(names, head, width, tall * len(plot.bars), (0, edge), (0, len(plot.bars)))
    for place, (bar, said) in enumerate(zip(plot.bars, says, strict=True)):
        y = len(plot.bars) - place - 0.5
        drawing.bar(area.at(0, y - 0.3), area.at(max(bar.value, 0), y + 0.3), *_FILLS[place % 3])
        low, high = bar.value - bar.half_width, bar.value + bar.half_width
        drawing.line([area.at(max(low, 0), y), area.at(high, y)], INK, 1.1)
        for end in (max(low, 0), high):
            drawing.line([area.at(end, y - 0.16), area.at(end, y + 0.16)], INK, 1.1)
        x, middle = area.at(high, y)
        limit = None if plot.limit is None else area.at(plot.limit, y)[0]
        start = _clear_of(limit, x + 6, width_of(said, bold=True))
        drawing.labels.append(Label(start, middle, said, bold=True, ground=True))
        drawing.labels.append(Label(names - 5, middle, bar.label, anchor="end"))
    if plot.limit is not None:
        drawing.line([area.at(plot.limit, 0), area.at(plot.limit, len(plot.bars) + 0.3)],
                     INK, 1.2, "6 2.5")  # fmt: skip
        x = area.at(plot.limit, 0)[0]
        drawing.labels.append(Label(x + 4, 6, plot.limit_label, ground=True))
    _foot(drawing, area, reach)
    return drawing


def _foot(drawing: Drawing, area: Area, reach: float) -> None:
    bottom = area.top + area.height
    drawing.line([(area.left, area.top), (area.left, bottom), (area.left + area.width, bottom)],
                 INK, 0.6)  # fmt: skip
    for x in ticks(0, reach):
        place = area.at(x, 0)[0]
        drawing.line([(place, bottom), (place, bottom + 2)], INK, 0.6)
        drawing.labels.append(Label(place, bottom + 8, f"{x:g}", anchor="middle"))


def _clear_of(limit: float | None, start: float, wide: float) -> float:
    """Where the label of a bar begins: behind its end, and behind the limit where that line would
    run through the label."""
    if limit is not None and start - 6 < limit < start + wide:
        return limit + 6
    return start


def _flow(plot: FlowPlot) -> Drawing:
    reach = max([x for line in plot.lines for x, _ in line.points] or [1.0]) * 1.08
    flow = [reach * k / 59 for k in range(60)]
    bands = {line: [(x, *_band(line, x, plot.coverage)) for x in flow] for line in plot.lines}
    heights = [high for band in bands.values() for _, _, high in band]
    shown = [y for line in plot.lines for _, y in line.points]
    top = max(0.0, *heights, *shown, *(slope * reach for _, slope in plot.limits))
    bottom = min(0.0, *shown)
    room = (top - bottom) * 0.055
    drawing = Drawing(_WIDTH, 245.0)
    area = Area(_LEFT, 4, _WIDTH - _LEFT - 2, 211, (0, reach * 1.38),
                (bottom - room, top + 1.5 * room))  # fmt: skip
    drawing.axes(area, plot.axis_x, plot.axis_y, reach)
    ends: list[tuple[float, str, str, bool]] = []
    for line, band in bands.items():
        colour = _COLOUR.get(line.label, INK)
        outline = [(x, low) for x, low, _ in band] + [(x, high) for x, _, high in reversed(band)]
        drawing.band(area.along(outline), colour, 0.16)
        last = line.offset + line.slope * reach
        drawing.line(area.along([(0, line.offset), (reach, last)]), colour, 1.5,
                     _DASH.get(line.label, ""))  # fmt: skip
        for at in area.along(line.points):
            drawing.dot(_MARKER.get(line.label, "o"), at, colour)
        ends.append((last, line.label, colour, True))
    for label, slope in plot.limits:
        drawing.line(area.along([(0, 0), (reach, slope * reach)]), INK, 0.9, _LIMIT_DASH)
        ends.append((slope * reach, label, INK, False))
    words = [label.replace(" (", "\n(") if len(label) > 26 else label for _, label, *_ in ends]
    places = _spread([area.at(0, end)[1] for end, *_ in ends], 19.0, area)
    for y, said, (*_where, colour, strong) in zip(places, words, ends, strict=True):
        x = area.at(reach, 0)[0] + 4
        drawing.labels.append(Label(x, y, said, colour, 8.0 if strong else 7.0, strong,
                                    ground=True))  # fmt: skip
    return drawing


def _band(line: FlowLine, flow: float, coverage: float) -> tuple[float, float]:
    """Low and high end of what a line may be at ``flow``."""
    variance = (
        line.u_offset**2
        + (flow * line.u_slope) ** 2
        + 2 * line.correlation * flow * line.u_offset * line.u_slope
    )
    middle, half = line.offset + line.slope * flow, coverage * math.sqrt(variance)
    return middle - half, middle + half


def _spread(places: list[float], least: float, area: Area) -> list[float]:
    """Move the places of labels apart by at least ``least``, in their order, near their middle and
    within the area."""
    order = sorted(range(len(places)), key=places.__getitem__)
    out = list(places)
    for _other in range(60):
        moved = False
        for low, high in pairwise(order):
            gap = out[high] - out[low]
            if gap < least:
                push = (least - gap) / 2 + 1e-9
                out[low] -= push
                out[high] += push
                moved = True
        if not moved:
            break
    over = max(0.0, out[order[-1]] + least / 2 - area.top - area.height)
    under = max(0.0, area.top - (out[order[0]] - least / 2))
    return [place - over + under for place in out]


def _trend(plot: TrendPlot) -> Drawing:
    colour = LINES["after"]
    shown = [p for _, p in plot.points]
    end = max(*(m for m, _ in plot.points), 1.0)
    every = [*shown, *(p for _, p in plot.earlier)]
    low, high = min(every), max(every)
    span = max(high - low, 1.0)
    half = plot.level_half_width or 0.0
    level = plot.level
    if level is not None and not low - 2 * span < level - half < high:
        level = None
    if level is not None:
        low, high = min(low, level - half), max(high, level + half)
        span = max(high - low, 1.0)
    drawing = Drawing(_WIDTH, 180.0)
    area = Area(_LEFT, 4, _WIDTH - _LEFT - 2, 146, (-0.02 * end, end * 1.33),
                (low - 0.14 * span, high + 0.14 * span))  # fmt: skip
    drawing.axes(area, plot.axis_x, plot.axis_y, end)
    if level is not None:
        corners = [(0, level - half), (end, level - half), (end, level + half), (0, level + half)]
        drawing.band(area.along(corners), RULE, 0.3)
        drawing.line(area.along([(0, level), (end, level)]), INK, 1.0, _LIMIT_DASH)
    if plot.curve:
        drawing.line(area.along(plot.curve), colour, 1.2)
    for at in area.along(plot.earlier):
        drawing.dot("x", at, MUTED, 2.0, edge=1.0)
    for at in area.along(plot.points):
        drawing.dot("o", at, colour, 2.2)
    if plot.earlier:
        drawing.labels.append(_broken_off(area.along(plot.earlier), area.along(plot.points), area))
    ends = [(shown[-1], _("last: {last:.1f} mbar", last=shown[-1]), colour, True)]
    if level is not None:
        ends.append(
            (
                level,
                _("level by the fit:\n{level:.1f} ± {half:.1f} mbar", level=level, half=half),
                INK,
                False,
            )
        )
    places = _spread([area.at(0, y)[1] for y, *_ in ends], 22.0, area)
    for y, (_other, words, ink, strong) in zip(places, ends, strict=True):
        x = area.at(end, 0)[0] + 6
        drawing.labels.append(Label(x, y, words, ink, bold=strong, ground=True))
    return drawing


def _broken_off(earlier: list[Point], points: list[Point], area: Area) -> Label:
    """What the crosses are, above their first one or, where a reading lies there, below it."""
    x, y = earlier[0]
    above = Label(x + 4, max(y - 8, area.top + 5), _("broken off"), MUTED, 7.5)
    left, top, right, bottom = above.box
    if any(left <= a <= right and top <= b <= bottom for a, b in points):
        return Label(x + 4, y + 9, _("broken off"), MUTED, 7.5)
    return above
