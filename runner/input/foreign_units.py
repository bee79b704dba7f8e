"""A unit that is not read here, in one that is: the only place that uses the unit library pint.

Such a unit is refused all the same, since "gal" is one thing here and another there; but whoever
reads "0.3 atm" off a gauge is told what to type instead. pint and its whole list are loaded at the
first such unit, which takes about half a second; nothing else waits for them.
"""

import re
from decimal import Context, Decimal, DecimalException
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from steplatch.safety.catalogue import _

from .units import Dimension, convert

if TYPE_CHECKING:
    from pint import UnitRegistry

FIGURES: Final = 4
NEVER_GUESSED: Final = (
    "absolute_pressure", "temperature", "stroke_mass", "speed", "share", "oil_use",
)  # fmt: skip
"""Kinds of which a unit alone does not say what it is: gauge or absolute, a reading or a
difference, a turn or a radian."""
_PLAIN: Final = re.compile(r"[A-Za-z]{1,24}[23]?(?:/[A-Za-z]{1,12}[23]?)?", re.ASCII)
"""A word, or one over another, with small whole powers: nothing that could be a formula."""
_POWER: Final = re.compile(r"(?<=[A-Za-z])[23]")


@cache
def _registry() -> "UnitRegistry[Decimal]":
    import pint

    return pint.UnitRegistry(non_int_type=Decimal, cache_folder=None)


def foreign_unit_words(number: Decimal, unit: str, kind: Dimension) -> str:
    """Return "0.3 atm is about 304 mbar", or "" where pint knows no such unit of this kind.

    The second value has ``FIGURES`` figures and the trade's unit.
    """
    if kind.name in NEVER_GUESSED:
        return ""
    if not _PLAIN.fullmatch(unit):
        return ""
    inside = _in(unit, number, kind.inside)
    if inside is None:
        return ""
    trade = Context(prec=FIGURES).plus(convert(inside, kind.inside, kind.units[kind.trade]))
    shown = f"{trade.normalize():f}"
    if trade.adjusted() < -FIGURES or len(shown) > 12:
        return ""
    return _(
        "{number:f} {unit} is about {shown} {trade}",
        number=number,
        unit=unit,
        shown=shown,
        trade=kind.trade,
    )


def _in(unit: str, number: Decimal, inside: str) -> Decimal | None:
    """The number in the unit called ``inside``, or None where pint cannot say."""
    import pint

    registry = _registry()
    try:
        quantity: Any = registry.Quantity(
            number, registry.parse_units(_POWER.sub(r"**\g<0>", unit))
        )
        value = quantity.to(registry.Unit(inside)).magnitude
        return Decimal(value) if Decimal(value).is_finite() else None
    except (pint.errors.PintError, DecimalException, ArithmeticError, ValueError, TypeError):
        return None
    except (AttributeError, KeyError, AssertionError, SyntaxError):  # its parser, on odd words
        return None
