"""What the screen says of facts and refusals comes from words written for it."""

import pytest
from steplatch.runner.screen.notices import TO_KNOW, look_again, news_of, refusal_lines
from steplatch.safety.bay import FACTS
from steplatch.safety.effects import LASTS_S
from steplatch.safety.interlocks import INTERLOCKS, Refusal
from steplatch.safety.kernel import Lapsed


def test_every_fact_has_its_words_and_none_is_a_docstring() -> None:
    assert TO_KNOW.keys() == FACTS.keys()
    assert len(set(TO_KNOW.values())) == len(TO_KNOW)
    for fact, text in TO_KNOW.items():
        assert text[0].isupper() and not text.endswith("."), fact
        assert text not in (FACTS[fact].__doc__ or ""), fact


@pytest.mark.parametrize("fact", sorted(LASTS_S))
def test_what_is_too_old_is_said_as_what_to_do_and_fits_a_small_screen(fact: str) -> None:
    text = news_of(Lapsed(fact))
    assert text == f"TOO OLD {TO_KNOW[fact]} again."
    assert len(text) <= 58, "two rows at 44 columns"
    assert look_again(fact)[0] == f"DO     {TO_KNOW[fact]} again."


def test_under_a_refusal_stands_what_to_do() -> None:
    row = next(row for row in INTERLOCKS if row.id == "start-ledger")
    lines = refusal_lines(Refusal(row.id, row.reason, row.remedy, row.source))
    assert [text[:7] for text, _ in lines] == ["REFUSED", "DO     ", "       "]
    assert "ALLOWED" not in str(lines) and "would allow" not in str(lines)
