"""Nothing on a sheet lies over something else, and no number loses its unit at a line's end."""

import re
from collections.abc import Iterator
from itertools import combinations

import pytest
from fontTools.ttLib import TTFont
from steplatch.runner.sheet.blocks import FlowLine, FlowPlot, Picture, TrendPlot
from steplatch.runner.sheet.drawing import ticks, width_of
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.pdf_page import FONTS
from steplatch.runner.sheet.plots import drawing_of

from tests.report.sample_sheets import EVERY_JOB, pictures_of, sheet_of

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
        yield from pictures_of(name)
    yield from HARD


def test_no_label_in_a_picture_lies_over_another_or_over_the_edge() -> None:
    for picture in every_picture():
        drawing = drawing_of(picture)
        shown = [(label.words, label.box) for label in drawing.labels]
        assert len(shown) > 4
        for words, (left, top, right, bottom) in shown:
            assert left >= 0 and right <= drawing.width, (picture.id, words)
            assert top >= 0 and bottom <= drawing.height, (picture.id, words)
        for (one, a), (two, b) in combinations(shown, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] + 1 or b[3] <= a[1] + 1
            assert apart, (picture.id, one, two)


def test_no_label_of_a_fall_hides_a_reading() -> None:
    circle = re.compile(r'<circle cx="([\d.]+)" cy="([\d.]+)"')
    for picture in every_picture():
        if not isinstance(picture.plot, TrendPlot):
            continue
        drawing = drawing_of(picture)
        places = [(float(x), float(y)) for x, y in circle.findall("".join(drawing.marks))]
        assert len(places) == len(picture.plot.points)
        for left, top, right, bottom in (label.box for label in drawing.labels):
            assert not any(left <= x <= right and top <= y <= bottom for x, y in places)


@pytest.mark.parametrize("bold", [False, True])
def test_the_room_that_a_label_takes_is_never_less_than_its_letters_in_the_widest_font(
    bold: bool,
) -> None:
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    font = TTFont(FONTS / name)
    glyphs, widths = font.getBestCmap(), font["hmtx"].metrics
    em = font["head"].unitsPerEm
    said = {line for p in every_picture() for label in drawing_of(p).labels for line in label.lines}
    for words in (*said, "Worst: WM@ 100 % \u00e9\u017c"):
        real = sum(widths[glyphs[ord(c)]][0] for c in words) / em * 8
        assert real <= width_of(words, 8, bold=bold) <= 1.5 * real + 6, words


def test_ticks_are_round_within_the_range_and_few() -> None:
    assert ticks(0, 47) == [0, 10, 20, 30, 40]
    assert ticks(-3.1, 118) == [0, 20, 40, 60, 80, 100]
    assert ticks(0, 1) == [0, 0.2, 0.4, 0.6, 0.8, 1.0]
    for low, high in ((0.0, 0.013), (-400.0, 9e4), (24.9, 25.3)):
        found = ticks(low, high)
        assert 3 <= len(found) <= 10 and low <= found[0] and found[-1] <= high


@pytest.mark.parametrize("said", ["39.7 g/s", "2376 1/min", "4.13 mL/s", "-0.5 mbar/min"])
def test_a_number_and_its_unit_with_a_slash_stay_on_one_line(said: str) -> None:
    from steplatch.runner.sheet.html_page import _units_whole

    assert f'<span class="u">{said}</span>' in _units_whole(f"13.7 mbar at {said}, and")
    assert _units_whole("not 9.g/s, x39 1/min or &") == (
        'not 9.<span class="u">g/s</span>, x39 <span class="u">1/min</span> or &amp;'
    )


def test_the_page_marks_every_such_number() -> None:
    assert '<span class="u">40.0 g/s</span>' in to_html(sheet_of("good"))
