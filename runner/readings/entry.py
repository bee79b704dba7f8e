"""One typed line -> one set of readings, and the set back in words.

The order is fixed: pressure, speed, air, exhaust, coolant, recirculation; ``x`` = not shown on
this vehicle. ``22 820 9.0 168 86 open``. Without a unit the figures are mbar, 1/min, g/s, degC,
degC; a unit may be written at the figure without a space: ``2.2kPa``. What is malformed is
refused with its place and the remedy; what is merely odd is the business of ``second_looks``.
"""

from collections.abc import Mapping
from typing import Final

from runner.readings.model import (
    FIELD,
    RECIRCULATION,
    BadReading,
    Condition,
    Phase,
    Reading,
    ReadingSet,
    Recirculation,
)
from runner.readings.units import (
    DEFAULT_UNIT,
    PER_STROKE,
    Unit,
    decimal,
    find_unit,
    split_number,
    unit_names,
)

ORDER: Final[tuple[str, ...]] = ("pressure", "speed", "air", "exhaust", "coolant", "recirculation")
"""The fixed order of a typed line."""

PROMPT: Final = "mbar 1/min g/s exhaust coolant recirculation"
"""The reminder to stand before the place where the line is typed."""

NOT_SHOWN: Final = "x"

_FLOOR: Final = {"speed": 0.0, "air": 0.0, "exhaust": 200.0, "coolant": 200.0, "intake": 200.0}
_CEILING: Final = {"speed": 8000.0, "air": 2.0, "exhaust": 1500.0, "coolant": 450.0}
_WORDS: Final = {
    "pressure": "pressure over the filter",
    "speed": "engine speed",
    "air": "air flow",
    "exhaust": "exhaust temperature",
    "coolant": "coolant temperature",
    "manifold": "manifold pressure",
    "intake": "intake temperature",
    "recirculation": "recirculation",
}


def parse_set(
    text: str,
    condition: Condition,
    phase: Phase,
    *,
    units: Mapping[str, str] | None = None,
    line_name: str = "",
    burning: bool | None = None,
    cylinders: int | None = None,
    taken_at: str = "",
    by: str = "",
    instrument: str = "",
) -> ReadingSet:
    """The set typed as one line of six items.

    ``units`` replaces default units by quantity (``{"pressure": "kPa"}``); ``cylinders`` is
    needed for air in mg/stroke. Raises ``BadReading`` with the item's number, what is wrong
    and the remedy. Source of the order: common practice, no source.
    """
    items = text.split()
    if len(items) != len(ORDER):
        raise BadReading(0, *_wrong_count(items, units))
    values: dict[str, float | None] = {}
    readings: list[Reading] = []
    for place, (quantity, item) in enumerate(zip(ORDER, items, strict=True), start=1):
        if quantity == "recirculation" or item.lower() == NOT_SHOWN:
            continue
        reading = _read(place, quantity, item, units, values.get("speed"), cylinders)
        values[quantity] = reading.si
        readings.append(reading)
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
    """The set in words, each value with its unit and its equivalents, to be read back.

    One line a quantity; what is not shown on this vehicle is said to be so.
    """
    typed = {r.quantity: r for r in readings.readings}
    lines = []
    for quantity in ORDER[:-1]:
        value = readings.value(quantity)
        word = _WORDS[quantity]
        if value is None:
            lines.append(f"{word}: not shown on this vehicle")
            continue
        equal = _equivalents(quantity, value)
        first = typed.get(quantity)
        if first is not None and first.unit not in ("", equal[0].partition(" ")[2]):
            number = split_number(first.typed)
            shown = number[0] if number else first.typed
            equal = [f"{shown} {first.unit}", *[e for e in equal if not e.endswith(first.unit)]]
        lines.append(f"{word}: {' = '.join(equal)}")
    state = readings.recirculation
    lines.append(f"recirculation: {state if state else 'not shown on this vehicle'}")
    if readings.line_name:
        lines.append(f"read from the line called {readings.line_name!r}")
    if readings.burning is not None:
        lines.append("regeneration: " + ("running now" if readings.burning else "not running"))
    return lines


def _equivalents(quantity: str, si: float) -> list[str]:
    if quantity in ("pressure", "manifold"):
        return [f"{_short(si / 100)} mbar", f"{_short(si / 1000)} kPa"]
    if quantity == "air":
        return [f"{_short(si * 1000)} g/s", f"{_short(si * 3600)} kg/h"]
    if quantity == "speed":
        return [f"{_short(si)} 1/min"]
    return [f"{_short(si - 273.15)} degC", f"{_short((si - 273.15) * 1.8 + 32)} degF"]


def _short(value: float) -> str:
    rounded = round(value, 2 if abs(value) < 10 else 1)
    return f"{rounded:.10g}" if rounded else "0"


def _read(
    place: int,
    quantity: str,
    item: str,
    units: Mapping[str, str] | None,
    speed_rpm: float | None,
    cylinders: int | None,
) -> Reading:
    split = split_number(item)
    if split is None:
        raise BadReading(
            place,
            f"{item!r} is not a number for the {_WORDS[quantity]}",
            f"Type digits with or without a unit, or {NOT_SHOWN} if this vehicle does not show it.",
        )
    number, suffix = split
    try:
        shown = decimal(number)
    except ValueError as error:
        raise BadReading(
            place, str(error), "A comma is a decimal comma; write thousands without a mark."
        ) from None
    name = suffix or (units or {}).get(quantity, DEFAULT_UNIT[quantity])
    if quantity == "air" and name.lower() in PER_STROKE:
        si = _from_strokes(place, shown, speed_rpm, cylinders)
        return _checked(place, Reading(quantity, item, "mg/stroke", si))
    unit = find_unit(quantity, name)
    if unit is None:
        raise BadReading(
            place,
            f"{name!r} is not a unit of the {_WORDS[quantity]}",
            f"Use one of: {', '.join(unit_names(quantity))}.",
        )
    return _checked(place, Reading(quantity, item, unit.name, _tidy(unit, shown)))


def _tidy(unit: Unit, shown: float) -> float:
    # 15 digits: 9.0 g/s is stored as 0.009, not as 0.009000000000000001.
    return float(f"{unit.si(shown):.15g}")


def _from_strokes(
    place: int, shown: float, speed_rpm: float | None, cylinders: int | None
) -> float:
    if speed_rpm is None or cylinders is None:
        raise BadReading(
            place,
            "air in mg/stroke needs the engine speed and the number of cylinders",
            "Type the speed, name the vehicle, or give the air in g/s or kg/h.",
        )
    return shown * 1e-6 * cylinders * speed_rpm / 120


def _checked(place: int, reading: Reading) -> Reading:
    quantity, si = reading.quantity, reading.si
    low, high = _FLOOR.get(quantity), _CEILING.get(quantity)
    if (low is not None and si < low) or (high is not None and si > high):
        raise BadReading(
            place,
            f"{reading.typed!r} cannot be the {_WORDS[quantity]}",
            f"Read it again; the order is: {' '.join(ORDER)}.",
        )
    return reading


def _recirculation(place: int, item: str) -> Recirculation | None:
    word = item.lower()
    if word == NOT_SHOWN:
        return None
    if word not in RECIRCULATION:
        raise BadReading(
            place,
            f"{item!r} does not say how the recirculation valve stands",
            f"Type open, shut or part, or {NOT_SHOWN} if this vehicle does not show it.",
        )
    return word


def _wrong_count(items: list[str], units: Mapping[str, str] | None) -> tuple[str, str]:
    loose = [i for i in items if any(find_unit(q, i) for q in FIELD) and i.lower() != NOT_SHOWN]
    if loose and len(items) > len(ORDER):
        return (
            f"{loose[0]!r} stands by itself",
            "Write a unit at its figure without a space, such as 2.2kPa.",
        )
    return (
        f"{len(items)} items where {len(ORDER)} belong",
        f"Type in this order: {' '.join(ORDER)}; {NOT_SHOWN} for what is not shown.",
    )
