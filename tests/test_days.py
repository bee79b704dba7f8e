"""A day as people write it, and no form of the program's own is ever shown to anybody."""

import re
from datetime import date
from pathlib import Path

import pytest
from steplatch.runner.input.days import NoDay, day_of
from steplatch.runner.input.model_findings import _FORMS

RUNNER = Path(__file__).resolve().parents[1] / "runner"


@pytest.mark.parametrize(
    "typed",
    ["2024-05-31", "2024/5/31", "31.05.2024", "31. 5. 2024", "31/5/2024", "5/31/2024", "31-05-2024",
     "31 May 2024", "31. may 2024", "May 31, 2024", "MAY 31 2024"],
)  # fmt: skip
def test_a_day_is_taken_as_people_write_it(typed: str) -> None:
    assert day_of(typed) == date(2024, 5, 31)


@pytest.mark.parametrize("typed", ["3/4/2024", "03-04-2024"])
def test_a_day_that_could_be_two_is_not_guessed(typed: str) -> None:
    with pytest.raises(NoDay, match="could be two days"):
        day_of(typed)
    assert day_of("3.4.2024") == date(2024, 4, 3), "with points the day comes first"
    assert day_of("4/4/2024") == date(2024, 4, 4)


@pytest.mark.parametrize(
    "typed",
    ["", "31.13.2024", "30 Feb 2024", "ma 31 2024", "31 mayy 2024", "20240531", "٣١.5.2024"],
)
def test_what_is_no_day_is_refused_with_how_to_write_one(typed: str) -> None:
    with pytest.raises(NoDay, match="31 March 2026"):
        day_of(typed)


def test_every_form_that_a_model_asks_for_is_said_in_words() -> None:
    asked = set()
    for path in RUNNER.rglob("*.py"):
        asked |= set(re.findall(r'pattern=r?"([^"]*)"', path.read_text(encoding="utf-8")))
    assert len(asked) > 6 and asked <= set(_FORMS)
    assert not any("^" in words or "[" in words for words in _FORMS.values())
