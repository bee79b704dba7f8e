"""A limit with its working, and the rule that the tightest figure wins."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum
from typing import Final, NewType

from ..catalogue import _

Working = NewType("Working", str)
"""One line of a sum, with its numbers and units, so that it can be redone by hand."""

_HAIR: Final = 1e-6  # of the last whole shown: 14.9999999 mL that was typed as 15 stays 15

DML_PER_M3: Final = 1e7
"""Tenths of a millilitre in a cubic metre: the unit in which the kernel counts fluid."""


class Bound(Enum):
    """Which side of the value is safe."""

    AT_MOST = "at most"
    AT_LEAST = "at least"


class Unit(Enum):
    """SI unit of the value, and the unit that people see."""

    M3 = ("m3", "mL")
    K = ("K", "degC")
    S = ("s", "s")
    RPM = ("1/min", "1/min")
    RATIO = ("(no unit)", "times")

    @property
    def si(self) -> str:
        """Unit of ``Limit.value``."""
        return self.value[0]

    @property
    def seen(self) -> str:
        """Unit on screen and sheet."""
        return self.value[1]

    def to_seen(self, value: float) -> float:
        """Convert from SI to the unit that people see."""
        if self is Unit.M3:
            return value * 1e6
        if self is Unit.K:
            return value - 273.15
        return value


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure that somebody gives for a limit; ``value`` is None when they give none."""

    who: str
    value: float | None


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit: value in SI, each line of its working, where it comes from, where it holds.

    ``validity`` says what it holds for; ``assumptions`` what was taken for want of a
    known value.
    """

    name: str
    value: float
    unit: Unit
    bound: Bound
    lines: tuple[Working, ...]
    source: str
    validity: str
    assumptions: tuple[str, ...] = ()

    def whole(self) -> int:
        """Whole number in the unit that people see, rounded to the safe side."""
        seen = self.unit.to_seen(self.value)
        if self.bound is Bound.AT_MOST:
            return math.floor(seen + _HAIR)
        return math.ceil(seen - _HAIR)

    def shown(self) -> str:
        """Short text: name, bound, whole number, unit, source.

        Example: ``engine-off dose, strict: at most 15 mL (worked from the vehicle)``.
        """
        return f"{self.name}: {self.bound.value} {self.whole()} {self.unit.seen} ({self.source})"

    def is_tighter_than(self, value: float) -> bool:
        """True when this limit is strictly tighter than ``value``."""
        return self.value < value if self.bound is Bound.AT_MOST else self.value > value


class LooserThanWorked(ValueError):  # noqa: N818 - the name says what is wrong
    """A workshop figure that would loosen a worked limit."""

    def __init__(self, limit: Limit, figure: Figure, asked: float) -> None:
        """Name the limit, the workshop's figure and the worked one."""
        unit = limit.unit
        side = "less" if limit.bound is Bound.AT_MOST else "more"
        worked = tenth(limit)
        super().__init__(
            _(
                "{who} sets {name} to {to_seen:.4g} {seen}, looser than the worked "
                "{worked:.1f} {seen} ({source}): give {worked:.1f} {seen} or {side}, or "
                "leave it out",
                who=figure.who,
                name=limit.name,
                to_seen=unit.to_seen(asked),
                seen=unit.seen,
                worked=worked,
                source=limit.source,
                side=side,
            )
        )
        self.limit = limit
        self.asked = asked


def tenth(limit: Limit) -> float:
    """The limit in the unit that people see, to one decimal, rounded to the safe side."""
    seen = limit.unit.to_seen(limit.value) * 10.0
    if limit.bound is Bound.AT_MOST:
        return math.floor(seen + _HAIR) / 10.0
    return math.ceil(seen - _HAIR) / 10.0


def dml_down(volume_m3: float) -> int:
    """A volume that limits, in whole tenths of a millilitre, rounded down."""
    return math.floor(volume_m3 * DML_PER_M3 + _HAIR)


def dml_up(volume_m3: float) -> int:
    """A volume that counts against a limit, in whole tenths of a millilitre, rounded up."""
    return math.ceil(volume_m3 * DML_PER_M3 - _HAIR)


def tightened(limit: Limit, figures: Iterable[Figure]) -> Limit:
    """Return ``limit`` narrowed by every figure that is tighter.

    A looser figure changes nothing and is named in the working. Raises ValueError on a
    figure that is not finite or is negative.
    """
    for figure in figures:
        if figure.value is None:
            continue
        value = _sound(limit, figure, figure.value)
        seen = f"{limit.unit.to_seen(value):.4g} {limit.unit.seen}"
        if limit.is_tighter_than(value) or limit.value == value:
            note = Working(
                _("{who} gives {seen}: not tighter, changes nothing", who=figure.who, seen=seen)
            )
            limit = replace(limit, lines=(*limit.lines, note))
        else:
            note = Working(
                _("{who} gives {seen}: tighter, so it is the limit", who=figure.who, seen=seen)
            )
            limit = replace(limit, value=value, lines=(*limit.lines, note), source=figure.who)
    return limit


def set_by_workshop(limit: Limit, figure: Figure) -> Limit:
    """Return ``limit`` narrowed by the workshop's own figure.

    Raises LooserThanWorked when the figure is looser than the limit, ValueError when it is
    not finite or is negative.
    """
    if figure.value is not None:
        value = _sound(limit, figure, figure.value)
        if limit.is_tighter_than(value):
            raise LooserThanWorked(limit, figure, value)
    return tightened(limit, (figure,))


def _sound(limit: Limit, figure: Figure, value: float) -> float:
    if not (math.isfinite(value) and value >= 0.0):
        raise ValueError(
            _(
                "{who} gives {name} as {value!r} {si}: give a finite value of 0 or above, or "
                "leave it out",
                who=figure.who,
                name=limit.name,
                value=value,
                si=limit.unit.si,
            )
        )
    return value
