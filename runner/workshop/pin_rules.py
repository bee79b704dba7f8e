"""Which PINs are taken: 4 to 8 digits, and none of those that anybody tries first."""

import re
from typing import Final

from steplatch.safety.catalogue import _

LEAST_DIGITS: Final = 4
MOST_DIGITS: Final = 8
GUESSED_FIRST: Final = _("it is one of those that are tried first, or somebody here already has it")
"""One wording for both, so that a refusal does not plainly say that a colleague has it."""

_DIGITS = re.compile(rf"[0-9]{{{LEAST_DIGITS},{MOST_DIGITS}}}")
_RUN_UP = "01234567890123456789"
_RUN_DOWN = _RUN_UP[::-1]
_KEYPAD_LINES = frozenset({"2580", "0852", "1470", "3690", "1379", "9731", "147258", "258369"})


def is_pin(text: str) -> bool:
    """Whether ``text`` could be a PIN at all: 4 to 8 of the digits 0 to 9, nothing else."""
    return _DIGITS.fullmatch(text) is not None


def tried_first(pin: str) -> bool:
    """Whether a PIN is one that is tried first.

    One digit or one block of two to four digits over and over, a run up or down (over 9 to 0
    too), a line on the keypad, a year from 1900 to 2099. These are rules, not a list of what
    people choose (common practice, no source); they leave many weak PINs in.
    """
    for width in (1, 2, 3, 4):
        times, rest = divmod(len(pin), width)
        if not rest and times > 1 and pin == pin[:width] * times:
            return True
    if pin in _RUN_UP or pin in _RUN_DOWN or pin in _KEYPAD_LINES:
        return True
    return len(pin) == LEAST_DIGITS and pin[:2] in ("19", "20")


def why_not(pin: str) -> str:
    """Why a PIN is not taken, in words that do not repeat it; empty when the rules take it."""
    if not is_pin(pin):
        return _(
            "a PIN has {least_digits} to {most_digits} digits (0 to 9) and nothing else",
            least_digits=LEAST_DIGITS,
            most_digits=MOST_DIGITS,
        )
    return GUESSED_FIRST if tried_first(pin) else ""
