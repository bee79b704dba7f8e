"""One typed line -> one set of readings, and the set back in words.

The order is fixed: pressure, speed, air, exhaust, coolant, recirculation; ``x`` = not shown on
this vehicle. ``22 820 9.0 168 86 open``. Without a unit the figures are mbar, 1/min, g/s, degC,
degC; a unit may be written at the figure without a space: ``2.2kPa``. What is malformed is
refused with its place and the remedy; what is merely odd is the business of ``second_looks``.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from steplatch.safety.catalogue import _, spoken

from ..input import quantities
from ..input.quantities import BadQuantity, format_si, parse_quantity
from .reading_set import (
    RECIRCULATION,
    BadReading,
    Phase,
    Reading,
    ReadingCondition,
    ReadingSet,
    Recirculation,
)

__all__ = ["BadReading", "echo", "parse_set", "parse_value"]

ORDER: Final[tuple[str, ...]] = ("pressure", "speed", "air", "exhaust", "coolant", "recirculation")
"""The fixed order of a typed line."""

NOT_SHOWN: Final = "x"

DIMENSION: Final[dict[str, str]] = {
    "pressure": "pressure",
    "speed": "speed",
    "air": "mass_flow",
    "exhaust": "temperature",
    "coolant": "temperature",
    "manifold": "absolute_pressure",
    "intake": "temperature",
}
"""The dimension of each quantity, as ``runner.input.quantities`` names it."""

DEFAULT_UNIT: Final[dict[str, str]] = {
    "pressure": "mbar",
    "speed": "1/min",
    "air": "g/s",
    "exhaust": "degC",
    "coolant": "degC",
    "manifold": "mbar abs",
    "intake": "degC",
}
"""The unit taken where none is typed."""

PER_STROKE: Final = "mg/stroke"

_OTHER_UNIT: Final = {"pressure": "kPa", "air": "kg/h"}
_WORD_ITEMS: Final = (NOT_SHOWN, *RECIRCULATION)

_FLOOR: Final = {"speed": 0.0, "air": 0.0, "exhaust": 200.0, "coolant": 200.0, "intake": 200.0}
_CEILING: Final = {"speed": 8000.0, "air": 2.0, "exhaust": 1500.0, "coolant": 500.0}
_WORDS: Final = {
    "pressure": _("pressure over the filter"),
    "speed": _("engine speed"),
    "air": _("air flow"),
    "exhaust": _("exhaust temperature"),
    "coolant": _("coolant temperature"),
    "manifold": _("manifold pressure"),
    "intake": _("intake temperature"),
    "recirculation": "recirculation",
}


def parse_set(
    text: str,
    condition: ReadingCondition,
    phase: Phase,
    *,
    units: Mapping[str, str] | None = None,
    line_name: str = "",
    burning: bool | None = None,
    cylinders: int | None = None,
    taken_at: str = "",
    by: str = "",
    instrument: str = "",
    car: frozenset[str] = frozenset(),
) -> ReadingSet:
    """The set typed as one line of six items.

    ``units`` replaces default units by quantity (``{"pressure": "kPa"}``); ``cylinders`` is
    needed for air in mg/stroke; ``car`` names the quantities that the vehicle gave. Raises
    ``BadReading`` with the item's number, what is wrong and the remedy. Source of the
    order: common practice, no source.
    """
    items = text.split()
    if len(items) != len(ORDER):
        raise BadReading(0, *_wrong_count(items))
    values: dict[str, float | None] = {}
    readings: list[Reading] = []
    for place, (quantity, item) in enumerate(zip(ORDER, items, strict=True), start=1):
        if quantity == "recirculation" or item.lower() == NOT_SHOWN:
            continue
        reading = _read(place, quantity, item, units, values.get("speed"), cylinders)
        values[quantity] = reading.si
        readings.append(replace(reading, source="car") if quantity in car else reading)
    return ReadingSet(
        condition=condition,
        phase=phase,
        pressure_pa=values.get("pressure"),
        speed_rpm=values.get("speed"),
        air_kg_s=values.get("air"),
        exhaust_k=values.get("exhaust"),
        coolant_k=values.get("coolant"),
        recirculation=_recirculation(len(ORDER), items[-1]),
        line_name=line_name,
        burning=burning,
        typed=text,
        readings=tuple(readings),
        taken_at=taken_at,
        by=by,
        instrument=instrument,
    )


def parse_value(
    quantity: str, text: str, *, default_unit: str | None = None, item: int = 0
) -> Reading:
    """One quantity by itself (``parse_value("manifold", "985hPa")``). Raises ``BadReading``."""
    units = {quantity: default_unit} if default_unit else None
    return _read(item, quantity, text.strip(), units, None, None)


def echo(readings: ReadingSet) -> list[str]:
    """The set in words, each value with its unit and an equivalent, to be read back.

    One line a quantity; what is not shown on this vehicle is said to be so.
    """
    typed = {r.quantity: r for r in readings.readings}
    lines = []
    for quantity in ORDER[:-1]:
        value = readings.value(quantity)
        word = _WORDS[quantity]
        if value is None:
            lines.append(_("{word}: not shown on this vehicle", word=word))
        else:
            lines.append(f"{word}: {_equivalents(quantity, value, typed.get(quantity))}")
    state = readings.recirculation
    shown = spoken(state) if state else _("not shown on this vehicle")
    lines.append(_("recirculation: {shown}", shown=shown))
    if readings.line_name:
        lines.append(_("read from the line called {line_name!r}", line_name=readings.line_name))
    if readings.burning is not None:
        lines.append(
            _("regeneration: ") + (_("running now") if readings.burning else _("not running"))
        )
    return lines


def _equivalents(quantity: str, si: float, typed: Reading | None) -> str:
    dimension = DIMENSION[quantity]
    other = _OTHER_UNIT.get(quantity)
    also = f" = {format_si(si, dimension, unit=other, decimals=2)}" if other else ""
    if typed is None:
        return format_si(si, dimension) + also
    if typed.source == "car":
        return _(
            "{format_si}{also}, from the vehicle", format_si=format_si(si, dimension), also=also
        )
    if typed.source == "logged":
        return f"{format_si(si, dimension)}{also}, {typed.typed}"
    if typed.unit == PER_STROKE:
        return f"{typed.typed} = {format_si(si, dimension)}{also}"
    said = quantities.echo(parse_quantity(typed.typed, dimension, typed.unit))
    return said if typed.unit == other or " " in said.partition(" ")[2] else said + also


def _read(
    place: int,
    quantity: str,
    item: str,
    units: Mapping[str, str] | None,
    speed_rpm: float | None,
    cylinders: int | None,
) -> Reading:
    unit = (units or {}).get(quantity, DEFAULT_UNIT[quantity])
    try:
        if quantity == "air" and _is_per_stroke(item, unit):
            return _from_strokes(place, item, speed_rpm, cylinders)
        read = parse_quantity(item, DIMENSION[quantity], unit)
    except BadQuantity as bad:
        remedy = _(
            "{remedy}, or {not_shown} if this vehicle does not show it.",
            remedy=bad.remedy,
            not_shown=NOT_SHOWN,
        )
        raise BadReading(place, f"{bad.problem} ({_WORDS[quantity]})", remedy) from None
    return _checked(place, Reading(quantity, item, read.unit, read.si_value))


def _is_per_stroke(item: str, unit: str) -> bool:
    suffix = item.lstrip("+-0123456789.,").lower()
    return (suffix or unit.lower()).startswith("mg/str")


def _from_strokes(place: int, item: str, speed_rpm: float | None, cylinders: int | None) -> Reading:
    mass = parse_quantity(item, "stroke_mass", PER_STROKE)
    if not speed_rpm or not cylinders:
        raise BadReading(
            place,
            _("air in mg/stroke needs the engine speed and the number of cylinders"),
            _("Type the speed, name the vehicle, or give the air in g/s or kg/h."),
        )
    si = quantities.mass_flow_from_stroke_mass(mass.si_value, speed_rpm, cylinders)
    return _checked(place, Reading("air", item, PER_STROKE, si))


def _checked(place: int, reading: Reading) -> Reading:
    quantity, si = reading.quantity, reading.si
    low, high = _FLOOR.get(quantity), _CEILING.get(quantity)
    if (low is not None and si < low) or (high is not None and si > high):
        raise BadReading(
            place,
            _("{typed!r} cannot be the {words}", typed=reading.typed, words=_WORDS[quantity]),
            _("Read it again; the order is: {order}.", order=" ".join(ORDER)),
        )
    return reading


def _recirculation(place: int, item: str) -> Recirculation | None:
    word = item.lower()
    if word == NOT_SHOWN:
        return None
    if word not in RECIRCULATION:
        raise BadReading(
            place,
            _("{item!r} does not say how the recirculation valve stands", item=item),
            _(
                "Type open, shut or part, or {not_shown} if this vehicle does not show it.",
                not_shown=NOT_SHOWN,
            ),
        )
    return word


def _wrong_count(items: list[str]) -> tuple[str, str]:
    loose = [i for i in items if i[0].isalpha() and i.lower() not in _WORD_ITEMS]
    if loose and len(items) > len(ORDER):
        return (
            _("{loose!r} stands by itself", loose=loose[0]),
            _("Write a unit at its figure without a space, such as 2.2kPa."),
        )
    return (
        _("{count} items where {count_2} belong", count=len(items), count_2=len(ORDER)),
        _(
            "Type in this order: {order}; {not_shown} for what is not shown.",
            order=" ".join(ORDER),
            not_shown=NOT_SHOWN,
        ),
    )
