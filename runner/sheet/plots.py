"""The pictures of a sheet as SVG: labels at the lines, units, limits, uncertainty.

Drawn without a screen, without a date and with fixed ids, so that the same job gives the same
bytes. They are told apart by label, dash and marker as well as by colour, so that they read in
black and white.
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from .blocks import BarPlot, FlowLine, FlowPlot, Picture, TrendPlot
from .palette import INK, LINES, MUTED, PAPER, RULE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

STYLE: Final[Any] = {
    "svg.hashsalt": "steplatch",
    "svg.fonttype": "path",
    "font.family": "DejaVu Sans",
    "font.size": 8,
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "axes.linewidth": 0.6,
    "text.parse_math": False,
}
_WIDTH_IN: Final = 7.1
_CLEAR: Final[Any] = {"facecolor": PAPER, "edgecolor": "none", "pad": 1}
"""The ground of a label, so that no line of the grid strikes it through."""
_DASH: Final = {"before": (0, (4, 2)), "after": "-", "after the road test": (0, (1, 1.2))}
_MARKER: Final = {"before": "s", "after": "o", "after the road test": "^"}
_COLOUR: Final = {
    "before": LINES["before"],
    "after": LINES["after"],
    "after the road test": LINES["road"],
}


@lru_cache(maxsize=16)
def plot_svg(picture: Picture) -> bytes:
    """The picture as SVG. The same picture gives the same bytes (page and PDF share them)."""
    import matplotlib

    with matplotlib.rc_context(STYLE):
        return _bytes(figure_of(picture))


def figure_of(picture: Picture) -> "Figure":
    """The picture as matplotlib draws it. To be called in ``STYLE``, as ``plot_svg`` does."""
    with _no_manual():
        from matplotlib.figure import Figure

    match picture.plot:
        case BarPlot():
            figure = Figure(figsize=(_WIDTH_IN, 0.5 + 0.27 * len(picture.plot.bars)))
            _bars(figure, picture.plot)
        case FlowPlot():
            figure = Figure(figsize=(_WIDTH_IN, 3.4))
            _flow(figure, picture.plot)
        case TrendPlot():
            figure = Figure(figsize=(_WIDTH_IN, 2.5))
            _trend(figure, picture.plot)
    figure.patch.set_facecolor(PAPER)
    return figure


@contextmanager
def _no_manual() -> Iterator[None]:
    """Import matplotlib without writing its manual: the list of properties that it puts into the
    docstring of each of its hundred classes takes a third of the time that importing it takes."""
    from matplotlib import artist

    write = artist.kwdoc
    artist.kwdoc = lambda artist: ""
    try:
        yield
    finally:
        artist.kwdoc = write


def _bytes(figure: "Figure") -> bytes:
    out = io.BytesIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.savefig(out, format="svg", metadata=nothing)
    text = out.getvalue()
    return text[text.index(b"<svg") :]


def _plain_axes(axes: "Axes") -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.grid(True, color=RULE, linewidth=0.3, alpha=0.6)
    axes.set_axisbelow(True)


def _bars(figure: "Figure", plot: BarPlot) -> None:
    axes = figure.add_axes((0.17, 0.36 / figure.get_figheight(), 0.8, 0.0), label="bars")
    axes.set_position((0.17, 0.2 / figure.get_figheight(), 0.8, 1 - 0.22 / figure.get_figheight()))
    hatches = ("////", "", "....")
    fills = ("#d9d2c4", "#b9cbd8", "#c3d8cb")
    edge = max(max(b.value + b.half_width for b in plot.bars), plot.limit or 0.0) * 1.32
    for place, bar in enumerate(plot.bars):
        y = len(plot.bars) - 1 - place
        axes.barh(
            y, max(bar.value, 0.0), 0.6, color=fills[place % 3], edgecolor=INK, linewidth=0.7,
            hatch=hatches[place % 3],
        )  # fmt: skip
        axes.errorbar(
            bar.value, y, xerr=bar.half_width, color=INK, capsize=3.5, linewidth=1.1, capthick=1.1
        )
        axes.text(
            _clear_of(plot.limit, bar.value + bar.half_width, edge), y,
            f"{bar.value:.0f} ± {bar.half_width:.0f} {plot.axis}", va="center", weight="bold",
            zorder=5, bbox=_CLEAR,
        )  # fmt: skip
    axes.set_yticks(range(len(plot.bars)), [b.label for b in reversed(plot.bars)])
    axes.set_xlim(0, edge)
    axes.set_ylim(-0.5, len(plot.bars) + (0.08 if plot.limit is not None else -0.45))
    if plot.limit is not None:
        axes.axvline(plot.limit, color=INK, linewidth=1.2, linestyle=(0, (5, 2)))
        axes.text(
            plot.limit + edge * 0.008, len(plot.bars) - 0.22, plot.limit_label, va="center",
            bbox=_CLEAR,
        )  # fmt: skip
    axes.tick_params(length=2)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _clear_of(limit: float | None, end: float, edge: float) -> float:
    """Where the label of a bar begins: behind its end, and behind the limit where that line would
    run through the label."""
    place, label, gap = end + edge * 0.012, edge * 0.16, edge * 0.012
    if limit is not None and place - gap < limit < place + label:
        return limit + gap
    return place


def _flow(figure: "Figure", plot: FlowPlot) -> None:
    import numpy as np

    axes = figure.add_axes((0.075, 0.135, 0.9, 0.84))
    _plain_axes(axes)
    reach = max([x for line in plot.lines for x, _ in line.points] or [1.0]) * 1.08
    flow = np.linspace(0.0, reach, 60)
    top = 0.0
    ends: list[tuple[float, str, str, bool]] = []
    for line in plot.lines:
        colour = _COLOUR.get(line.label, INK)
        middle = line.offset + line.slope * flow
        half = plot.coverage * np.sqrt(_variance(line, flow))
        top = max(top, float(np.max(middle + half)), *(y for _, y in line.points))
        axes.fill_between(flow, middle - half, middle + half, color=colour, alpha=0.16, linewidth=0)
        axes.plot(flow, middle, color=colour, linewidth=1.5, linestyle=_DASH.get(line.label, "-"))
        axes.plot(
            [x for x, _ in line.points], [y for _, y in line.points],
            _MARKER.get(line.label, "o"), color=colour, markersize=5.5, markerfacecolor=PAPER,
            markeredgewidth=1.4,
        )  # fmt: skip
        ends.append((float(middle[-1]), line.label, colour, True))
    for label, slope in plot.limits:
        axes.plot(flow, slope * flow, color=INK, linewidth=0.9, linestyle=(0, (6, 2, 1, 2)))
        top = max(top, slope * reach)
        ends.append((slope * reach, label, INK, False))
    bottom = min(0.0, *(y for line in plot.lines for _, y in line.points))
    room = (top - bottom) * 0.055
    axes.set_xlim(0, reach * 1.34)
    axes.set_ylim(bottom - room, top + 1.5 * room)
    for y, (_, label, colour, strong) in zip(
        _spread([e[0] for e in ends], room * 1.15), ends, strict=True
    ):
        axes.text(
            reach * 1.012, y, label.replace(" (", "\n(") if len(label) > 26 else label,
            color=colour, va="center", weight="bold" if strong else "normal",
            fontsize=8 if strong else 7, linespacing=1.0, bbox=_CLEAR,
        )  # fmt: skip
    axes.set_xticks([tick for tick in axes.get_xticks() if 0 <= tick <= reach])
    axes.set_xlabel(plot.axis_x, loc="left")
    axes.set_ylabel(plot.axis_y)


def _variance(line: FlowLine, flow: Any) -> Any:
    return (
        line.u_offset**2
        + (flow * line.u_slope) ** 2
        + 2 * line.correlation * flow * line.u_offset * line.u_slope
    )


def _spread(places: list[float], least: float) -> list[float]:
    """Move label places apart by at least ``least``, keeping their order and their middle."""
    order = sorted(range(len(places)), key=places.__getitem__)
    out = list(places)
    for _ in range(60):
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
    return out


def _trend(figure: "Figure", plot: TrendPlot) -> None:
    axes = figure.add_axes((0.075, 0.18, 0.9, 0.79))
    _plain_axes(axes)
    minutes = [m for m, _ in plot.points]
    shown = [p for _, p in plot.points]
    colour = LINES["after"]
    if plot.curve:
        axes.plot(*zip(*plot.curve, strict=True), "-", color=colour, linewidth=1.2)
    axes.plot(minutes, shown, "o", color=colour, markersize=4.5, markerfacecolor=PAPER,
              markeredgewidth=1.2)  # fmt: skip
    end = max(max(minutes), 1.0)
    every = [*shown, *(p for _, p in plot.earlier)]
    low, high = min(every), max(every)
    if plot.earlier:
        axes.plot(*zip(*plot.earlier, strict=True), "x", color=MUTED, markersize=4.5)
        axes.text(plot.earlier[0][0], plot.earlier[0][1] + 0.04 * max(high - low, 1.0),
                  "broken off", color=MUTED, va="bottom", fontsize=7.5, bbox=_CLEAR)  # fmt: skip
    span = max(high - low, 1.0)
    half = plot.level_half_width or 0.0
    drawn = plot.level is not None and low - 2 * span < plot.level - half < high
    if drawn and plot.level is not None:
        across, level = (0.0, end), (plot.level, plot.level)
        axes.fill_between(across, plot.level - half, plot.level + half, color=RULE, alpha=0.3,
                          linewidth=0)  # fmt: skip
        axes.plot(across, level, color=INK, linewidth=1.0, linestyle=(0, (6, 2, 1, 2)))
        low, high = min(low, plot.level - half), max(high, plot.level + half)
        span = max(high - low, 1.0)
    labels = [(shown[-1], f"last: {shown[-1]:.1f} mbar", colour, "bold")]
    if drawn and plot.level is not None:
        words = f"level by the fit:\n{plot.level:.1f} ± {half:.1f} mbar"
        labels.append((plot.level, words, INK, "normal"))
    places = _spread([y for y, *_ in labels], 0.2 * span)
    for y, (_, words, ink, weight) in zip(places, labels, strict=True):
        axes.text(end * 1.02, y, words, va="center", weight=weight, color=ink, bbox=_CLEAR,
                  linespacing=1.0)  # fmt: skip
    axes.set_xlim(-0.02 * end, end * 1.27)
    axes.set_ylim(min(low, *places) - 0.14 * span, max(high, *places) + 0.14 * span)
    axes.set_xticks([tick for tick in axes.get_xticks() if 0 <= tick <= end])
    axes.set_xlabel(plot.axis_x, loc="left")
    axes.set_ylabel(plot.axis_y)
