"""What a reading is, and what a set of readings taken together is.

A pressure without its flow and temperature is not a reading: one set therefore holds the
pressure, engine speed, air flow, exhaust and coolant temperature and the recirculation state
of one condition. ``None`` means "not shown on this vehicle", never zero. SI floats inside;
what was typed, and in which unit, is kept beside them word for word.
"""

import math
from dataclasses import dataclass, fields
from typing import Any, Final, Literal, TypeAlias, cast

from steplatch.safety.catalogue import _

from ..input.resolution import quantised

ReadingCondition: TypeAlias = Literal["zero", "idle", "raised"]
Phase: TypeAlias = Literal["before", "after", "road"]
Recirculation: TypeAlias = Literal["open", "shut", "part"]
ReadingSource: TypeAlias = Literal["typed", "logged", "car"]

CONDITIONS: Final[tuple[ReadingCondition, ...]] = ("zero", "idle", "raised")
SOURCES: Final[tuple[ReadingSource, ...]] = ("typed", "logged", "car")
PHASES: Final[tuple[Phase, ...]] = ("before", "after", "road")
RECIRCULATION: Final[tuple[Recirculation, ...]] = ("open", "shut", "part")

SI_UNIT: Final[dict[str, str]] = {
    "pressure": "Pa",
    "speed": "1/min",
    "air": "kg/s",
    "exhaust": "K",
    "coolant": "K",
    "manifold": "Pa",
    "intake": "K",
}
"""The quantities that a set may hold, each with the unit of its stored value."""

FIELD: Final[dict[str, str]] = {
    "pressure": "pressure_pa",
    "speed": "speed_rpm",
    "air": "air_kg_s",
    "exhaust": "exhaust_k",
    "coolant": "coolant_k",
    "manifold": "manifold_pa",
    "intake": "intake_k",
}
"""Where in a set the value of each quantity stands."""


class BadReading(ValueError):  # noqa: N818 - it names the thing refused, as people say it
    """A reading that cannot be taken as it stands: where, what, and the remedy.

    ``item`` counts from 1 in what was typed; 0 when the whole line is meant.
    """

    def __init__(self, item: int, what: str, remedy: str) -> None:
        where = _("item {item}", item=item) if item else _("the line")
        super().__init__(f"{where}: {what}. {remedy}")
        self.item = item
        self.what = what
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class Reading:
    """One quantity as it was given: the text, the unit it was read in, the SI value."""

    quantity: str
    typed: str
    unit: str
    si: float
    source: ReadingSource = "typed"


@dataclass(frozen=True, slots=True)
class ReadingSet:
    """All that was read in one condition (zero = engine stopped, idle, raised).

    ``line_name`` is the name of the pressure line as the instrument shows it; ``burning`` the
    regeneration flag (None = not shown). ``spread_pa`` and ``averaged_s`` come from a steady
    window of a log: the spread of the pressure in it and its length. ``held_s`` is how long revs or
    idle were held before, by the clock of waits (None: not timed). ``taken_at``, ``by`` and
    ``instrument`` are texts handed in by the caller; nothing here reads a clock.
    """

    condition: ReadingCondition
    phase: Phase
    pressure_pa: float | None
    speed_rpm: float | None = None
    air_kg_s: float | None = None
    exhaust_k: float | None = None
    coolant_k: float | None = None
    recirculation: Recirculation | None = None
    line_name: str = ""
    burning: bool | None = None
    typed: str = ""
    readings: tuple[Reading, ...] = ()
    manifold_pa: float | None = None
    intake_k: float | None = None
    spread_pa: float | None = None
    averaged_s: float | None = None
    held_s: float | None = None
    taken_at: str = ""
    by: str = ""
    instrument: str = ""

    def __post_init__(self) -> None:
        """Refuse what no caller may build: unknown words, numbers that are not finite."""
        if self.condition not in CONDITIONS:
            raise BadReading(
                0,
                _("condition {condition!r} is not known", condition=self.condition),
                _one_of(CONDITIONS),
            )
        if self.phase not in PHASES:
            raise BadReading(
                0, _("phase {phase!r} is not known", phase=self.phase), _one_of(PHASES)
            )
        if self.recirculation is not None and self.recirculation not in RECIRCULATION:
            what = _(
                "recirculation {recirculation!r} is not known", recirculation=self.recirculation
            )
            raise BadReading(0, what, _one_of(RECIRCULATION))
        for name in _NUMBERS:
            value = getattr(self, name)
            if value is not None and not math.isfinite(value):
                raise BadReading(
                    0, _("{name} is {value}", name=name, value=value), _("Read the value again.")
                )

    def value(self, quantity: str) -> float | None:
        """The SI value of a quantity by its short name (see ``FIELD``), None if not shown."""
        return cast("float | None", getattr(self, FIELD[quantity]))

    def to_json(self) -> dict[str, Any]:
        """A plain dict for the journal. Numbers are decimals of the resolution that their names
        state (``runner.input.resolution``); the value of each typed reading stands there once."""
        out: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name == "readings":
                out["readings"] = [
                    {
                        "quantity": r.quantity,
                        "typed": r.typed,
                        "unit": r.unit,
                        "source": r.source,
                    }
                    for r in self.readings
                ]
            else:
                number = _is_number(field.name, value)
                out[field.name] = quantised(field.name, value) if number else value
        return out

    @classmethod
    def from_json(cls, plain: dict[str, Any]) -> "ReadingSet":
        """The set that ``to_json`` wrote. Unknown keys and wrong types raise ``BadReading``."""
        known = {field.name for field in fields(cls)}
        unknown = sorted(set(plain) - known)
        if unknown:
            raise BadReading(
                0,
                _("unknown key {unknown!r}", unknown=unknown[0]),
                _("Known are {known}.", known=", ".join(known)),
            )
        given: dict[str, Any] = dict(plain)
        for name in ("condition", "phase"):
            if name not in given:
                raise BadReading(0, _("key {name!r} is missing", name=name), _("Write it."))
        given.setdefault("pressure_pa", None)
        for name in _NUMBERS:
            if given.get(name) is not None:
                given[name] = _number(name, given[name])
        for name in ("line_name", "typed", "taken_at", "by", "instrument"):
            if not isinstance(given.get(name, ""), str):
                raise BadReading(0, _("{name} is not a text", name=name), _("Write it in quotes."))
        if given.get("burning") not in (None, True, False):
            raise BadReading(
                0, _("burning is neither true, false nor null"), _("Write one of these.")
            )
        given["readings"] = tuple(_reading(r, given) for r in given.get("readings") or ())
        return cls(**given)


_NUMBERS: Final = (*FIELD.values(), "spread_pa", "averaged_s", "held_s")


def _is_number(name: str, value: object) -> bool:
    return name in _NUMBERS and value is not None


def _one_of(words: tuple[str, ...]) -> str:
    return _("Use one of: {words}.", words=", ".join(words))


def _number(name: str, text: object) -> float:
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise BadReading(
            0, _("{name} is not a number", name=name), _("Write it as a decimal number in quotes.")
        )
    try:
        return float(text)
    except ValueError:
        raise BadReading(
            0,
            _("{name} is {text!r}, not a number", name=name, text=text),
            _("Write it as a decimal number in quotes."),
        ) from None


def _reading(plain: object, given: dict[str, Any]) -> Reading:
    keys = {"quantity", "typed", "unit", "source"}
    if not isinstance(plain, dict) or set(plain) != keys:
        raise BadReading(
            0, _("a reading lacks a key or has one too many"), f"Keys: {sorted(keys)}."
        )
    if plain["quantity"] not in SI_UNIT or plain["source"] not in SOURCES:
        raise BadReading(
            0, _("a reading names an unknown quantity or source"), _one_of((*SI_UNIT,))
        )
    return Reading(
        quantity=plain["quantity"],
        typed=str(plain["typed"]),
        unit=str(plain["unit"]),
        si=_number(plain["quantity"], given.get(FIELD[plain["quantity"]])),
        source=plain["source"],
    )
