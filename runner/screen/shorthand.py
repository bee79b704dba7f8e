"""What may be left out where it is typed, and what it then stands for; the screen echoes it.

Only what nobody could mean otherwise: a missing unit is the unit of the line, the engine stands at
the zero, and the recirculation is named by its first letter, also right behind the coolant. A
shot's seconds are never assumed.
"""

import re

from ..core.reading_set import RECIRCULATION
from ..core.steps import GunStep, ReadStep

_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_PRICE = re.compile(r"\d[\d .,']*")
_SHOTS = re.compile(
    r"(\d+(?:\.\d+)?(?:\s+\d+(?:\.\d+)?)*)\s*(?:(?:ml\s+)?in\s|/)\s*(\d+(?:\.\d+)?)(?:\s*s)?",
    re.IGNORECASE,
)
_BEHIND = re.compile(r"(.*\d)([ospx])", re.IGNORECASE)
"""The recirculation's letter right behind the coolant's figure: no unit is written so."""


def whole_set(step: ReadStep, typed: str) -> str:
    """A set of readings as it is recorded: at the zero the pressure alone will do."""
    if step.condition == "zero" and _NUMBER.fullmatch(typed):
        return f"{typed} 0 0 x x x"
    behind = _BEHIND.fullmatch(typed)
    *rest, last = f"{behind[1]} {behind[2]}".split() if behind else typed.split() or [""]
    names = [name for name in RECIRCULATION if last and name.startswith(last.lower())]
    return " ".join([*rest, names[0]]) if rest and len(names) == 1 else typed


def whole_shots(step: GunStep, typed: str) -> str:
    """Jug shots with their units: ``20 21 21 in 5`` or ``20 21 21/5``."""
    found = _SHOTS.fullmatch(typed.strip())
    return f"{found[1].strip()} mL in {found[2]} s" if found else typed


def with_unit(typed: str, last: str) -> str:
    """A bare number with the unit that the same was typed in last time."""
    unit = last.rpartition(" ")[2]
    bare = _NUMBER.fullmatch(typed) and not _NUMBER.fullmatch(unit)
    return f"{typed} {unit}" if bare and unit else typed


def with_currency(typed: str, currency: str) -> str:
    """A price that is a bare number with the workshop's currency."""
    return f"{typed} {currency}" if currency and _PRICE.fullmatch(typed) else typed


def with_degc(typed: str) -> str:
    """A temperature with its unit."""
    return f"{typed} degC" if _NUMBER.fullmatch(typed) else typed
