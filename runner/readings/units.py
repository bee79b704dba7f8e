"""The units in which instruments show readings, as factor and offset to SI.

Reading entry and log reading need nothing more than SI = text x factor + offset, 200 000 times
a second, so the factors stand here as plain numbers; a test compares each with the unit
registry behind ``runner.quantities``. Exact by definition: bar, hPa, kPa, psi (lbf of
0.45359237 kg x 9.80665 m/s2 on a square inch), inch; conventional: mmHg 133.322387415 Pa, inH2O
at 4 degC 249.08891 Pa (NIST SP 811, 2008, appendix B.8: 133.3224 and 249.089).
"""

import re
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Unit:
    """SI value = shown value x ``factor`` + ``offset``."""

    name: str
    quantity: str
    factor: float
    offset: float = 0.0

    def si(self, shown: float) -> float:
        """The SI value of what was shown."""
        return shown * self.factor + self.offset

    def shown(self, si: float) -> float:
        """What an instrument in this unit would show."""
        return (si - self.offset) / self.factor


_PSI: Final = 0.45359237 * 9.80665 / 0.0254**2

_PRESSURE: Final = (
    (("mbar", "hpa"), 100.0),
    (("kpa",), 1000.0),
    (("pa",), 1.0),
    (("bar",), 1e5),
    (("psi",), _PSI),
    (("inh2o", "in-h2o", "inwc"), 249.08891),
    (("mmhg",), 133.322387415),
)
_FLOW: Final = ((("g/s",), 1e-3), (("kg/h",), 1 / 3600), (("kg/s",), 1.0))
_SPEED: Final = ((("1/min", "rpm", "min-1", "/min"), 1.0),)
_TEMPERATURE: Final = (
    (("degc", "°c", "c"), 1.0, 273.15),
    (("degf", "°f", "f"), 5 / 9, 459.67 * 5 / 9),
    (("k",), 1.0, 0.0),
)

PER_STROKE: Final = ("mg/stroke", "mg/str", "mg/hub")
"""Air per stroke needs the engine speed and the number of cylinders beside it."""

DEFAULT_UNIT: Final[dict[str, str]] = {
    "pressure": "mbar",
    "speed": "1/min",
    "air": "g/s",
    "exhaust": "degC",
    "coolant": "degC",
    "manifold": "mbar",
    "intake": "degC",
}

_SPELLED: Final = {"degc": "degC", "degf": "degF", "kpa": "kPa", "hpa": "hPa", "pa": "Pa"} | {
    "inh2o": "inH2O",
    "mmhg": "mmHg",
    "k": "K",
}


def _table() -> dict[tuple[str, str], Unit]:
    table: dict[tuple[str, str], Unit] = {}
    for quantities, rows in (
        (("pressure", "manifold"), _PRESSURE),
        (("air",), _FLOW),
        (("speed",), _SPEED),
    ):
        for names, factor in rows:
            for quantity in quantities:
                for name in names:
                    shown = name if name == "hpa" else names[0]
                    unit = Unit(_SPELLED.get(shown, shown), quantity, factor)
                    table[quantity, name] = unit
    for names, factor, offset in _TEMPERATURE:
        for quantity in ("exhaust", "coolant", "intake"):
            for name in names:
                unit = Unit(_SPELLED[names[0]], quantity, factor, offset)
                table[quantity, name] = unit
    return table


UNITS: Final[dict[tuple[str, str], Unit]] = _table()
"""(quantity, unit spelled small) -> unit."""

_NUMBER: Final = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")


def find_unit(quantity: str, name: str) -> Unit | None:
    """The unit of that name for a quantity; None when it is not one of its units."""
    return UNITS.get((quantity, name.strip().lower().replace("º", "°")))


def unit_names(quantity: str) -> list[str]:
    """The units a quantity may be given in, as they are written."""
    names = dict.fromkeys(u.name for (q, _), u in UNITS.items() if q == quantity)
    return [*names, "mg/stroke"] if quantity == "air" else [*names]


def split_number(text: str) -> tuple[str, str] | None:
    """``"2.2kPa"`` -> ``("2.2", "kPa")``; None when the text does not begin with a number."""
    match = _NUMBER.match(text.replace("−", "-"))
    if match is None:
        return None
    return match.group(), text[match.end() :].strip()


def decimal(text: str) -> float:
    """The number in ``text``, by one rule: a comma is a decimal comma, nothing groups digits.

    Exactly three digits after a comma could also be thousands, so ``"1,234"`` is refused.
    Raises ``ValueError`` with what is wrong; never repairs.
    """
    plain = text.strip().replace("−", "-")
    if _NUMBER.fullmatch(plain) is None:
        raise ValueError(f"{text!r} is not a plain decimal number")
    whole, comma, after = plain.partition(",")
    if comma and len(after) == 3 and whole.lstrip("+-0"):
        raise ValueError(f"{text!r} could be {whole}.{after} or {whole}{after}")
    return float(plain.replace(",", "."))
