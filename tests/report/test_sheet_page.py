"""The page: valid, self-contained, in order, readable, and deaf to what is typed into it."""

import base64
import re
import subprocess
import sys
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.text_page import to_text
from steplatch.runner.sheet.typed import MAX_CHARS, plain_text

from tests.report.contrast import MARKS_ON, TEXT_ON, contrast
from tests.report.page_reading import Page
from tests.report.sample_sheets import (
    EVERY_JOB,
    HOSTILE,
    LONG_WORD,
    page_of,
    sheet_of,
)


@pytest.mark.parametrize("part", ["all", "customer", "agreement", "technical"])
@pytest.mark.parametrize("name", EVERY_JOB)
def test_headings_go_down_one_level_at_a_time_and_every_image_has_its_text(
    name: str, part: str
) -> None:
    page = Page(page_of(name, part))
    assert page.headings[0] == 1
    assert page.headings.count(1) == 1
    for one, two in pairwise(page.headings):
        assert two <= one + 1
    assert all(len(alt) > 40 for alt in page.alts)


def test_the_page_names_language_title_and_mark() -> None:
    source = page_of("draft")
    page = Page(source)
    assert page.tags[0] == ("html", {"lang": "en"})
    assert "<title>Job sheet: particulate filter: Job 2025-01-31-a7k2, not finished" in source
    assert page.words.count("PRACTICE: simulated vehicle, no work was done") == 3


def test_the_mark_is_told_to_the_printer_for_every_page() -> None:
    marked = page_of("draft")
    assert re.search(r"@top-center \{ content: \"PRACTICE", marked, re.DOTALL)
    assert "@top-center" not in page_of("good")


@pytest.mark.parametrize("name", ["good", "bare", "hostile"])
def test_the_page_runs_no_script_and_asks_for_nothing_from_outside(name: str) -> None:
    source = page_of(name)
    page = Page(source)
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "link", "iframe", "object", "embed", "form", "base", "a", "video"}
    for tag, attrs in page.tags:
        assert not [name for name in attrs if name.startswith("on")], tag
        if "src" in attrs:
            assert (attrs["src"] or "").startswith("data:image/svg+xml;base64,")
        assert "href" not in attrs
    styles = re.findall(r"<style>(.*?)</style>", source, re.DOTALL)
    assert len(styles) == 1
    assert "url(" not in styles[0] and "@import" not in styles[0] and "http" not in styles[0]


def test_pictures_inside_the_page_hold_no_address_and_no_script() -> None:
    for tag, attrs in Page(page_of("good")).tags:
        if tag == "img":
            svg = base64.b64decode((attrs["src"] or "").partition(",")[2])
            for element in ElementTree.fromstring(svg).iter():
                assert not element.tag.endswith("script")
                for name, value in element.attrib.items():
                    if name.endswith("href"):
                        assert value.startswith("#")


def test_hostile_text_stays_text() -> None:
    page = Page(page_of("hostile"))
    words = " ".join(page.words.split())
    assert "<script>alert('x')</script><b>bold</b> &amp; {{ 7*7 }}" in words
    assert "\\x1b[31mred\\x07" in words
    assert "\\u202egnirts\\u2066" in words
    assert "\\ud800" in words
    for char in "\x1b\x07\u202e\u2066\u200b\ufeff\ud800":
        assert char not in words


def test_hostile_text_adds_no_kind_of_element_and_no_attribute_to_the_page() -> None:
    def kinds(name: str) -> set[tuple[str, tuple[str, ...]]]:
        pages = [Page(page_of(name, part)) for part in ("all", "listing")]
        return {(tag, tuple(sorted(attrs))) for page in pages for tag, attrs in page.tags}

    assert kinds("hostile") == kinds("wordy")


def test_a_very_long_text_is_cut_with_a_note_and_not_in_silence() -> None:
    shown = plain_text("x" * (MAX_CHARS + 37))
    assert shown == "x" * MAX_CHARS + " … (37 more characters are in the journal)"


def test_letters_written_from_right_to_left_are_isolated_from_their_neighbours() -> None:
    assert plain_text("שלום") == "\u2068שלום\u2069"
    assert plain_text("hello") == "hello"


def test_marks_piled_on_one_letter_are_shown_as_escapes_from_the_fourth_on() -> None:
    assert plain_text("e\u0301") == "e\u0301"
    assert plain_text("z" + "\u0300" * 5) == "z" + "\u0300" * 3 + "\\u0300\\u0300"


@pytest.mark.parametrize("text", [HOSTILE, LONG_WORD, "", " ", "\n\n", "a\u2028b"])
def test_plain_text_is_one_printable_line(text: str) -> None:
    shown = plain_text(text)
    assert all(c.isprintable() or c in "\u2068\u2069\u200c\u200d" for c in shown)


def test_every_pair_of_colours_has_the_contrast_that_wcag_asks() -> None:
    # WCAG 2.2, success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (parts and states, 3:1)
    for text, paper in TEXT_ON:
        assert contrast(text, paper) >= 4.5, (text, paper)
    for mark, paper in MARKS_ON:
        assert contrast(mark, paper) >= 3.0, (mark, paper)


def test_the_contrast_formula_gives_the_published_ends() -> None:
    # WCAG 2.2, definition of contrast ratio: black on white is 21:1, equal colours 1:1
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == pytest.approx(1.0)
    # 767676 on white is the well-known lightest grey that passes 4.5 (from memory)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_importing_the_report_loads_no_library_that_only_drawing_needs() -> None:
    script = (
        "import sys; from steplatch.runner.sheet import content, html_page, pdf_page, text_page; "
    )
    script += "print(sorted(sys.modules))"
    found = subprocess.run(
        [sys.executable, "-c", script], check=True, capture_output=True, text=True, timeout=60,
        cwd=Path(__file__).parents[2],
    ).stdout  # fmt: skip
    for name in ("jinja2", "typst", "pint"):
        assert f"'{name}'" not in found, name


def test_a_block_that_a_page_has_no_form_for_is_an_error_and_not_left_out() -> None:
    @dataclass
    class Stranger:
        text: str = "what nobody has a form for"

    sheet = sheet_of("good")
    section = replace(sheet.technical.sections[0], blocks=(Stranger(),))  # type: ignore[arg-type]
    odd = replace(sheet, technical=replace(sheet.technical, sections=(section,)))
    for printed in (to_html, to_text):
        with pytest.raises((TypeError, AssertionError), match="Stranger"):
            printed(odd)
