"""Nothing on a sheet lies over something else, and no number loses its unit at a line's end."""

from collections.abc import Iterator
from itertools import combinations
from typing import Any

import pytest
from steplatch.runner.sheet.blocks import FlowLine, FlowPlot, Picture, TrendPlot
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.plots import STYLE, figure_of

from tests.report.sample_sheets import EVERY_JOB, sheet_of

RISING = tuple((float(m), 68.0 if m == 0 else 74.0 + (m % 3 == 0)) for m in range(40))
"""A filter that got no drier: the last reading lies on the fitted level."""
SAME = tuple(
    FlowLine(name, ((9.0, 15.0), (45.0, 75.0)), 0.0, 1.6, 0.5, 0.2, -0.5)
    for name in ("before", "after", "after the road test")
)
"""Three lines that lie on one another, as after a clean that did nothing."""
HARD = (
    Picture("trend", "t", "w", TrendPlot(RISING, (), 74.3, 0.2, RISING, "min", "mbar")),
    Picture("trend", "t", "w", TrendPlot(RISING, (), 74.0, 0.2, RISING, "min", "mbar")),
    Picture("trend", "t", "w", TrendPlot(RISING[-3:], RISING[:9], None, None, (), "min", "mbar")),
    Picture("flow", "t", "w", FlowPlot(SAME, (("expected up to (64 mbar at 40 g/s)", 1.6),
                                              ("leak or damage below (62 mbar)", 1.55)),
                                       "x", "y", 1.96)),
)  # fmt: skip


def every_picture() -> Iterator[Picture]:
    """The pictures of every invented job, and some that are hard to label."""
    for name in EVERY_JOB:
        yield from sheet_of(name).pictures()
    yield from HARD


def drawn(axes: Any) -> list[Any]:
    """Every text that is drawn: labels, axes, and the ticks within the axes' ends."""
    out = [*axes.texts, axes.xaxis.label, axes.yaxis.label]
    for axis in (axes.xaxis, axes.yaxis):
        low, high = sorted(axis.get_view_interval())
        out += [t.label1 for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
    return [text for text in out if text.get_text()]


def test_no_label_in_a_picture_lies_over_another_or_over_the_edge() -> None:
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    for picture in every_picture():
        with matplotlib.rc_context(STYLE):
            figure = figure_of(picture)
            canvas: Any = FigureCanvasAgg(figure)
            canvas.draw()
            renderer = canvas.get_renderer()
            shown = [(t.get_text(), t.get_window_extent(renderer)) for t in drawn(figure.axes[0])]
            inside = figure.bbox
        assert len(shown) > 4
        for words, box in shown:
            assert inside.x0 <= box.x0 and box.x1 <= inside.x1, (picture.id, words)
            assert inside.y0 <= box.y0 and box.y1 <= inside.y1, (picture.id, words)
        for (one, a), (two, b) in combinations(shown, 2):
            apart = a.x1 <= b.x0 or b.x1 <= a.x0 or a.y1 <= b.y0 + 1 or b.y1 <= a.y0 + 1
            assert apart, (picture.id, one, two)


def test_no_label_of_a_fall_hides_a_reading() -> None:
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    for picture in every_picture():
        if not isinstance(picture.plot, TrendPlot):
            continue
        with matplotlib.rc_context(STYLE):
            figure = figure_of(picture)
            canvas: Any = FigureCanvasAgg(figure)
            canvas.draw()
            axes = figure.axes[0]
            boxes = [t.get_window_extent(canvas.get_renderer()) for t in axes.texts]
            places = [axes.transData.transform(point) for point in picture.plot.points]
        for x, y in places:
            assert not any(b.x0 <= x <= b.x1 and b.y0 <= y <= b.y1 for b in boxes)


@pytest.mark.parametrize("said", ["39.7 g/s", "2376 1/min", "4.13 mL/s", "-0.5 mbar/min"])
def test_a_number_and_its_unit_with_a_slash_stay_on_one_line(said: str) -> None:
    from steplatch.runner.sheet.html_page import _units_whole

    assert f'<span class="u">{said}</span>' in _units_whole(f"13.7 mbar at {said}, and")
    assert _units_whole("not 9.g/s, x39 1/min or &") == (
        'not 9.<span class="u">g/s</span>, x39 <span class="u">1/min</span> or &amp;'
    )


def test_the_page_marks_every_such_number() -> None:
    assert '<span class="u">40.0 g/s</span>' in to_html(sheet_of("good"))
