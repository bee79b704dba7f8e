"""A whole clean stays within its pages and keystrokes, read from the screen alone."""

import re
from pathlib import Path

import pytest

from tests.console.keys_and_pages import StaysHere, page_of, played
from tests.console.reader import Reader

PAGES, ANSWER_PAGE = 60, 8
KEYS, HELD_LINES, LINE_KEYS = 400, 8, 3
"""What a clean may cost, drive and third set of readings with it. Each pressure of the drying run
beyond the eighth is asked for by the filter, which levels when it does: it counts on top."""


@pytest.mark.slow
def test_a_clean_on_a_known_car_stays_within_its_pages_and_keystrokes(tmp_path: Path) -> None:
    new = played(tmp_path, Reader())
    reader = Reader(been_here=True)
    known = played(tmp_path, reader)
    here = played(tmp_path, StaysHere(been_here=True))
    print(f"new car: {new}\nknown car: {known}\nknown car, no drive: {here}")
    for cost in (new, known, here):
        assert cost.pages <= PAGES
        assert 0 < cost.answer_page <= ANSWER_PAGE
        assert cost.questions > 140, "a whole job was worked"
    for cost in (known, here):
        more = max(0, sum("Dry and level" in text for _, text in cost.longest) - HELD_LINES - 2)
        assert cost.keys <= KEYS + LINE_KEYS * more, cost
    assert known.keys < 0.6 * new.keys, "what is known is not typed again"
    said = "\n".join(reader.seen)
    assert "FIRST LOOK  GO AHEAD, provisionally" in said
    assert re.search(r"^LAST   20\d\d-\d\d-\d\d: ", said, re.MULTILINE)


def test_lines_share_a_page_and_another_instruction_makes_a_new_one() -> None:
    first = " PRACTICE  1/37 Take in, line 1 of 9      begun 21:05\nDO     Say who is here."
    second = " PRACTICE  1/37 Take in, line 2 of 9      begun 21:06\nDO     Type the plate."
    assert page_of(first) == page_of(second)
    step = " PRACTICE  7/37 Before, zero, step 1 of 3  begun 21:07\nDO     Wait two minutes."
    aside = step.replace("Wait two minutes", "Look at the extraction again")
    assert page_of(first) != page_of(step) and page_of(step) != page_of(aside)
    assert page_of(step) != page_of(step + "\nREAD   hose: on")
