"""A day as people write it: 2024-05-31, 31.05.2024, 31/5/2024, 31 May 2024, May 31, 2024."""

import re
from datetime import date
from typing import Final

from steplatch.safety.catalogue import _

_MONTHS: Final = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_LEAST_LETTERS: Final = 3
_TWELVE: Final = 12
EXAMPLES: Final = _("2026-03-31, 31.3.2026 or 31 March 2026")


class NoDay(ValueError):  # noqa: N818 - it names the thing
    """A text that is no day, or could be two; says which, and how to write it."""


def day_of(text: str) -> date:
    """The day that ``text`` names. Raises NoDay: for two figures with a slash that could each be
    the month it is not guessed which."""
    typed = " ".join(text.split())
    if match := re.fullmatch(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", typed, re.ASCII):
        return _made(typed, match[1], int(match[2]), match[3])
    if match := re.fullmatch(r"(\d{1,2})([./-]) ?(\d{1,2})\2 ?(\d{4})", typed, re.ASCII):
        first, second = int(match[1]), int(match[3])
        if match[2] != "." and first != second and max(first, second) <= _TWELVE:
            raise NoDay(
                _(
                    "{text!r} could be two days; write it like {examples}",
                    text=text,
                    examples=EXAMPLES,
                )
            )
        if match[2] != "." and second > _TWELVE:
            return _made(typed, match[4], first, match[3])
        return _made(typed, match[4], second, match[1])
    words = typed.replace(",", " ").split()
    if match := re.fullmatch(r"(\d{1,2})\.? ([A-Za-z]+)\.? (\d{4})", " ".join(words), re.ASCII):
        return _made(typed, match[3], _month(typed, match[2]), match[1])
    if match := re.fullmatch(r"([A-Za-z]+)\.? (\d{1,2}) (\d{4})", " ".join(words), re.ASCII):
        return _made(typed, match[3], _month(typed, match[1]), match[2])
    raise NoDay(_("{text!r} is no date; write it like {examples}", text=text, examples=EXAMPLES))


def _month(text: str, word: str) -> int:
    fits = [n for n, name in enumerate(_MONTHS, 1) if name.startswith(word.lower())]
    if len(word) < _LEAST_LETTERS or len(fits) != 1:
        raise NoDay(
            _("{text!r} is no date; write it like {examples}", text=text, examples=EXAMPLES)
        )
    return fits[0]


def _made(text: str, year: str, month: int, day: str) -> date:
    try:
        return date(int(year), month, int(day))
    except ValueError:
        raise NoDay(
            _("{text!r} is no date; write it like {examples}", text=text, examples=EXAMPLES)
        ) from None
