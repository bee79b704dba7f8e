"""What people type and files say, to SI and back, by the exact factors of ``unit_table``.

Rules for a number (nothing malformed is ever repaired):

- a point is always a decimal point, with digits on both sides;
- a single comma is a decimal comma, except before exactly three digits: "1,234" could be one
  thousand or a little over one, and is refused;
- no thousands marks, no exponents, no leading zeros, at most 15 digits;
- digits are 0 to 9: those of other scripts look alike and are not ("٤" is a four, "৪" too).

Units are read as people type them, spaces and capitals forgiven where nothing else in that
dimension could be meant; the echo shows what was understood. Speeds stay in 1/min and oil use
in L per 1000 km, as ``safety/limits/inputs.py`` holds them; all else is SI.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Context, Decimal
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from steplatch.safety.catalogue import _

from .findings import BadValue
from .foreign_units import foreign_unit_words
from .units import DIMENSIONS, Dimension, convert, dimension_of

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic_core import CoreSchema

__all__ = [
    "DIMENSIONS", "BadQuantity", "Band", "Dimension", "Quantity", "dimension_of", "echo",
    "format_si", "mass_flow_from_stroke_mass", "other_digits", "parse_number", "parse_quantity",
]  # fmt: skip

MAX_DIGITS = 15
MAX_LENGTH = 60
Rounding = Literal["nearest", "down", "up"]
_ROUNDING = {"nearest": ROUND_HALF_UP, "down": ROUND_FLOOR, "up": ROUND_CEILING}


class BadQuantity(BadValue):
    """A number or unit that cannot be taken: what is wrong, and the remedy."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in the inside unit of its dimension, with what was typed and the unit understood."""

    si_value: float
    typed_text: str
    unit: str
    dimension: str
    number: Decimal


_WIDE = Context(prec=400)  # holds any float written out

_NUMBER = re.compile(r"[+\-−]?(?:0|[1-9][0-9]*)(?:[.,][0-9]+)?")
_RUN = re.compile(r"[0-9.,'+\-−]*")


def parse_number(text: str) -> Decimal:
    """Return the number that ``text`` holds, by the rules at the top of this module.

    Raises BadQuantity. "−" (U+2212) is a minus.

    >>> parse_number("12,5")
    Decimal('12.5')
    """
    text = _taken(text)
    if not _NUMBER.fullmatch(text):
        raise BadQuantity(*_number_words(text))
    if sum(c.isdigit() for c in text) > MAX_DIGITS:
        raise BadQuantity(
            _(
                '"{short}" has more than {max_digits} digits',
                short=_short(text),
                max_digits=MAX_DIGITS,
            ),
            _("Retype it"),
        )
    whole, comma, part = text.partition(",")
    if comma and len(part) == 3:
        raise BadQuantity(
            _('"{text}" can be read in two ways', text=text),
            _("Write {whole}{part} or {whole}.{part}, whichever you mean", whole=whole, part=part),
        )
    return Decimal(text.replace(",", ".").replace("−", "-"))


def other_digits(text: str) -> str:
    """The digits in ``text`` that are not 0 to 9, each once, in the order they come."""
    return "".join(dict.fromkeys(c for c in text if c.isdecimal() and not c.isascii()))


def _taken(text: str) -> str:
    if len(text) > MAX_LENGTH:
        raise BadQuantity(
            _('"{short}" is too long', short=_short(text)), _("Type one number and its unit")
        )
    if others := other_digits(text):
        raise BadQuantity(
            _(
                '"{short}" has digits other than 0 to 9: {others}',
                short=_short(text),
                others=others,
            ),
            _("Type it anew with the digits 0 to 9"),
        )
    return text.strip()


def _number_words(text: str) -> tuple[str, str]:
    """Return problem and remedy for a text that is no number."""
    shown = f'"{_short(text)}"'
    if not text:
        return _("the number is missing"), _("Type digits and a unit")
    if re.fullmatch(r"[+\-−]?[.,][0-9]+", text):
        return _("{shown} has no digit before the point", shown=shown), _("Write 0.5, not .5")
    if re.fullmatch(r"[+\-−]?[0-9]+[.,]", text):
        return _("{shown} has no digit after the point", shown=shown), _("Write 5 or 5.0, not 5.")
    if re.fullmatch(r"[+\-−]?0[0-9]+(?:[.,][0-9]+)?", text):
        return _("{shown} begins with a zero", shown=shown), _(
            "Leave the zero out, or put the point in"
        )
    if re.fullmatch(r"[+\-−]?[0-9.,]+[eE][+\-−]?[0-9]+", text):
        return _("{shown} has an exponent", shown=shown), _("Write the number out")
    if re.fullmatch(r"[+\-−]?[0-9OoIlSB.,]*[0-9][0-9OoIlSB.,]*", text) and re.search(
        "[OoIlSB]", text
    ):
        return _("{shown} has a letter where a digit is meant", shown=shown), _(
            "Retype it with digits only"
        )
    if re.fullmatch(r"[+\-−]?[0-9.,' ]+", text):
        return (
            _("{shown} is no number", shown=shown),
            _("Write digits with at most one decimal mark, and no thousands mark"),
        )
    return _("{shown} is no number", shown=shown), _("Type digits, then the unit")


def _short(text: str) -> str:
    line = "".join(c if c.isprintable() else "?" for c in text)
    return line if len(line) <= 40 else line[:39] + "…"


def parse_quantity(text: str, dimension: str, unit: str | None = None) -> Quantity:
    """Return what ``text`` says, in the inside unit of ``dimension``.

    ``unit`` is the unit to take where none is typed (a column whose heading names it); without
    it, a number alone is refused. Raises BadQuantity for a malformed number, a missing or
    unknown unit, a unit of another dimension, a value below the least that exists; LookupError
    for an unknown ``dimension`` (a programmer's mistake).

    >>> parse_quantity("12 kPa", "pressure").si_value
    12000.0
    """
    kind = dimension_of(dimension)
    typed = _taken(text)
    number_text, unit_text = _split(typed)
    spelled = None if unit_text or unit is None else unit
    try:
        number = parse_number(number_text)
    except BadQuantity as bad:
        if number_text or not unit_text:
            raise
        raise BadQuantity(
            _('"{short}" does not begin with a number', short=_short(typed)),
            _("Type it like {example}", example=kind.example),
        ) from bad
    understood = _understood_unit(spelled or unit_text, kind, number_text, number)
    exact = convert(number, kind.units[understood], kind.inside)
    if kind.lowest is not None and exact < kind.lowest:
        raise BadQuantity(
            _("{short} is less than {words} can be", short=_short(typed), words=kind.words),
            _("Check sign, number and unit"),
        )
    return Quantity(float(exact) + 0.0, typed, understood, dimension, number)


def _split(text: str) -> tuple[str, str]:
    parts = text.split(maxsplit=1)
    if len(parts) == 2:
        run = _RUN.match(parts[0])
        if run is not None and run.end() == len(parts[0]):
            return parts[0], parts[1]
    run = _RUN.match(text)
    end = run.end() if run else 0
    return text[:end], text[end:].strip()


def _plain_unit(text: str) -> str:
    """Return a unit without spaces and typographic variants (superscripts, micro signs)."""
    folded = unicodedata.normalize("NFKC", text.replace("º", "°").replace("⁻", "-"))
    return "".join(folded.split()).replace("μ", "µ").replace("−", "-").replace("^", "")


@cache
def _spellings(dimension: str) -> tuple[dict[str, str], dict[str, str]]:
    """Return exact spelling -> standard, and small-letter spelling -> standard where unique."""
    kind = DIMENSIONS[dimension]
    exact = {_plain_unit(name): name for name in kind.units}
    exact |= {_plain_unit(other): name for other, name in kind.also.items()}
    small: dict[str, str] = {}
    clash: set[str] = set()
    for spelling, name in exact.items():
        if small.setdefault(spelling.lower(), name) != name:
            clash.add(spelling.lower())
    return exact, {key: name for key, name in small.items() if key not in clash}


def _lookup(unit: str, dimension: str) -> str | None:
    exact, small = _spellings(dimension)
    return exact.get(unit) or small.get(unit.lower())


def _understood_unit(text: str, kind: Dimension, number_text: str, number: Decimal) -> str:
    unit = _plain_unit(text)
    if not unit:
        raise BadQuantity(
            _(
                "{number_text} has no unit; {words} is wanted",
                number_text=number_text,
                words=kind.words,
            ),
            _(
                "Type it like {example} (units: {units})",
                example=kind.example,
                units=", ".join(kind.units),
            ),
        )
    found = _lookup(unit, kind.name)
    if found is not None:
        return found
    remedy = _(
        "Type it like {example} (units: {units})", example=kind.example, units=", ".join(kind.units)
    )
    other = next((d for d in DIMENSIONS.values() if _lookup(unit, d.name)), None)
    if other is not None:
        raise BadQuantity(
            _(
                '"{short}" is a unit of {words}; {words_2} is wanted',
                short=_short(text),
                words=other.words,
                words_2=kind.words,
            ),
            remedy,
        )
    if re.match(r"[eE][+\-]?[0-9]", unit):
        raise BadQuantity(
            _('"{short}" has an exponent', short=_short(number_text + text)), _("Write it out")
        )
    if re.match(r"[0-9]", unit):
        raise BadQuantity(
            _('"{short}" is two numbers', short=_short(number_text + " " + text)), remedy
        )
    if re.match(r"[OoIlSB](?:[0-9]|\s|$)", text):
        raise BadQuantity(
            _('"{short}" has a letter where a digit is meant', short=_short(number_text + text)),
            _("Retype it with digits only"),
        )
    said = foreign_unit_words(number, text.strip(), kind)
    if said:
        remedy += _(". {said}; type that if you mean it", said=said)
    raise BadQuantity(
        _(
            '"{short}" is no unit known here; {words} is wanted',
            short=_short(text),
            words=kind.words,
        ),
        remedy,
    )


def format_si(
    value: float,
    dimension: str,
    *,
    unit: str | None = None,
    decimals: int | None = None,
    rounding: Rounding = "nearest",
) -> str:
    """Return a value (inside unit) in the trade's unit, such as "22 mbar".

    ``unit`` chooses another standard spelling. ``decimals`` given: exactly that many; else at
    most the usual number for the dimension, without idle zeros. ``rounding`` down is towards
    minus infinity: a limit is shown rounded down. Raises ValueError for a value that is not
    finite.

    >>> format_si(0.0000369, "volume", decimals=0, rounding="down")
    '36 mL'
    """
    kind = dimension_of(dimension)
    shown_unit = unit or kind.trade
    exact = convert(_finite(value), kind.inside, kind.units[shown_unit])
    # A float is known to about 16 digits: what lies beyond must not carry a directed rounding.
    exact = Context(prec=MAX_DIGITS).plus(exact)
    places = kind.decimals if decimals is None else decimals
    rounded = exact.quantize(
        Decimal(1).scaleb(-places), rounding=_ROUNDING[rounding], context=_WIDE
    )
    return f"{_plain(rounded, strip=decimals is None)} {shown_unit}"


def _finite(value: float) -> Decimal:
    number = Decimal(repr(float(value)))
    if not number.is_finite():
        raise ValueError(_("{value} is not a finite number", value=value))
    return number


def _plain(number: Decimal, *, strip: bool) -> str:
    text = f"{number + 0:f}"
    if strip and "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def echo(quantity: Quantity) -> str:
    """Return what was understood, beside the trade's unit: "12 kPa = 120 mbar".

    At least four figures of the second value are shown; "≈" where it had to be rounded.
    """
    kind = DIMENSIONS[quantity.dimension]
    typed = f"{_plain(quantity.number, strip=False)} {quantity.unit}"
    if quantity.unit == kind.trade:
        return typed
    exact = convert(quantity.number, kind.units[quantity.unit], kind.units[kind.trade])
    places = max(kind.decimals, 3 - exact.adjusted()) if exact else 0
    rounded = exact.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    sign = "=" if abs(rounded - exact) <= abs(exact) * Decimal("1e-12") else "≈"
    return f"{typed} {sign} {_plain(rounded, strip=True)} {kind.trade}"


def mass_flow_from_stroke_mass(stroke_mass_kg: float, speed_rpm: float, cylinders: int) -> float:
    """Return the air mass flow (kg/s) of a four-stroke engine from the mass in each stroke.

    Each cylinder draws once in two turns: flow = mass x cylinders x speed / 120. Valid for
    four-stroke engines only. Raises BadQuantity unless all three are above zero.
    """
    if not (0 < stroke_mass_kg < float("inf") and 0 < speed_rpm < float("inf") and cylinders > 0):
        raise BadQuantity(
            _("an air mass per stroke becomes a flow only with the engine turning"),
            _("Give mass, speed and number of cylinders, each above zero"),
        )
    return stroke_mass_kg * cylinders * speed_rpm / 120.0


@dataclass(frozen=True, slots=True)
class Band:
    """A model field that is written as a quantity: ``Annotated[Quantity, Band("volume", ...)]``.

    ``low`` and ``high`` (typed as people do) are what is believed, ends included.
    """

    dimension: str
    low: str
    high: str

    def check(self, value: object) -> Quantity:
        """Return the quantity. Raises BadQuantity for a bare number, a bad or unlikely value."""
        kind = dimension_of(self.dimension)
        if not isinstance(value, str):
            raise BadQuantity(
                _("{words} with its unit is wanted", words=kind.words),
                _("Write number and unit; {low} to {high} is taken", low=self.low, high=self.high),
            )
        quantity = parse_quantity(value, self.dimension)
        low, high = (_bound(text, self.dimension) for text in (self.low, self.high))
        if not low <= quantity.si_value <= high:
            raise BadQuantity(
                _("{typed_text} is outside what is believed here", typed_text=quantity.typed_text),
                _("Check number and unit; {low} to {high} is taken", low=self.low, high=self.high),
            )
        return quantity

    def __get_pydantic_core_schema__(
        self, source: Any, handler: "GetCoreSchemaHandler"
    ) -> "CoreSchema":
        from pydantic_core import core_schema

        return core_schema.no_info_plain_validator_function(self.check)

    def __get_pydantic_json_schema__(
        self, schema: "CoreSchema", handler: "GetJsonSchemaHandler"
    ) -> dict[str, Any]:
        words = DIMENSIONS[self.dimension].words
        return {
            "type": "string",
            "description": _("{words}, {low} to {high}", words=words, low=self.low, high=self.high),
        }


@cache
def _bound(text: str, dimension: str) -> float:
    return parse_quantity(text, dimension).si_value
