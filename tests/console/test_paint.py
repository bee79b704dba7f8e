"""Contrast of every pair of colours, and what each kind of terminal gets."""

import io
from collections.abc import Mapping

import pytest
from steplatch.runner.screen.terminal.full_screen import FullScreen
from steplatch.runner.screen.terminal.paint import BARS, depth_of, painted, shown
from steplatch.runner.screen.terminal.plain_lines import PlainLines
from steplatch.safety.registers.caution import WORDS

from tests.report.contrast import contrast


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("depth", ["full", "cube"])
@pytest.mark.parametrize("name", BARS)
def test_text_on_every_bar_has_a_contrast_of_at_least_4_5(name: str, depth: str) -> None:
    ink, paper = BARS[name]
    # WCAG 2.2, success criterion 1.4.3 (AA): 4.5:1
    assert contrast(shown(ink, depth), shown(paper, depth)) >= 4.5  # type: ignore[arg-type]


def test_the_contrast_sum_itself_gives_the_known_values() -> None:
    # WCAG 2.2, definition of contrast ratio: black on white 21:1; #777777 on white 4.48:1
    # (the grey just under 4.5, from memory)
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_every_signal_word_has_a_bar_of_its_own_colours() -> None:
    assert set(WORDS) <= set(BARS)
    assert len({BARS[word] for word in WORDS}) == len(WORDS)


@pytest.mark.parametrize(
    ("environ", "depth"),
    [
        ({"TERM": "dumb"}, "none"),
        ({}, "none"),
        ({"TERM": "xterm-256color", "NO_COLOR": "1"}, "mono"),
        ({"TERM": "xterm-256color", "NO_COLOR": ""}, "cube"),
        ({"TERM": "xterm-256color", "COLORTERM": "truecolor"}, "full"),
        ({"TERM": "linux"}, "mono"),
    ],
)
def test_a_terminal_gets_what_it_can_show(environ: Mapping[str, str], depth: str) -> None:
    assert depth_of(Terminal(), environ) == depth


def test_output_into_a_file_is_never_painted() -> None:
    assert depth_of(io.StringIO(), {"TERM": "xterm-256color"}) == "none"


def test_a_bar_sets_text_and_background_together_and_keeps_its_word() -> None:
    line = painted(" DANGER", "DANGER", 20, "full")
    assert "38;2;255;255;255" in line and "48;2;155;36;35" in line and " DANGER" in line
    assert painted(" DANGER", "DANGER", 20, "none") == " DANGER"
    assert ";38;" not in painted(" DANGER", "DANGER", 20, "mono")


@pytest.mark.parametrize("kind", [FullScreen, PlainLines])
def test_a_terminal_without_a_letter_gets_a_question_mark_instead_of_an_end(
    kind: type[FullScreen] | type[PlainLines],
) -> None:
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding="iso-8859-1", write_through=True)
    talk = kind(io.StringIO(), out)
    talk.say("12 \N{DEGREE SIGN}C \N{HORIZONTAL ELLIPSIS}")
    talk.close()
    assert b"12 \xb0C ?" in raw.getvalue()
