"""The table of standard identifiers, and what the bytes of one of them say.

One table serves service 01 (one identifier byte) and service 22 F4xx (the same byte after F4).
Values are exact fractions while they are worked and thousandths of the channel's unit, half to
even, when they leave: an integer is the same on every processor.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files
from typing import Final

from pydantic import Field as Bounded
from pydantic import model_validator

from ..input.strict_yaml import StrictModel, load_text, validate

SUPPORT_PIDS: Final = (0x00, 0x20, 0x40, 0x60, 0x80, 0xA0, 0xC0)
"""Identifiers whose four bytes say which of the next 32 exist. They are no values."""


class Quality(Enum):
    """Whether a value may feed anything: only ``GOOD`` does."""

    GOOD = "good"
    OUT_OF_RANGE = "out_of_range"


class FullScale(StrictModel):
    """A byte of another identifier that changes the scale: ``times`` x byte / ``of``, if not 0."""

    id: str
    at: int
    times: int
    of: int


class FieldRow(StrictModel):
    """Where a value stands in the answer, how it is scaled, and what may be believed."""

    channel: str
    at: int = Bounded(ge=0)
    bytes: int = Bounded(default=1, ge=1, le=4)
    signed: bool = False
    mask: str | None = None
    there: str | None = None
    scale: str = "1"
    add: str = "0"
    unit: str
    range: tuple[str, str]
    likely: tuple[str, str] | None = None
    full_scale: FullScale | None = None


class IdentifierRow(StrictModel):
    """One identifier: its length, its values, where that is from."""

    id: str
    name: str
    bytes: int = Bounded(ge=1)
    source: str
    fields: tuple[FieldRow, ...] = Bounded(min_length=1)
    checks: tuple[dict[str, str], ...] = Bounded(min_length=1)

    @model_validator(mode="after")
    def _fits(self) -> "IdentifierRow":
        for field in self.fields:
            if field.at + field.bytes > self.bytes:
                raise ValueError(f"{self.id} {field.channel}: it ends behind byte {self.bytes}")
        return self


class TableFile(StrictModel):
    """The file as it is written."""

    edition: int
    identifiers: tuple[IdentifierRow, ...]


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a channel, in thousandths of its unit."""

    channel: str
    milli: int
    quality: Quality


@dataclass(frozen=True, slots=True)
class Field:
    """A row of ``FieldRow`` made ready for decoding."""

    channel: str
    at: int
    length: int
    signed: bool
    mask: int | None
    there: int | None
    scale: Fraction
    add: Fraction
    unit: str
    low: Fraction
    high: Fraction
    likely_low: Fraction
    likely_high: Fraction
    full_scale: tuple[int, int, Fraction] | None


@dataclass(frozen=True, slots=True)
class Identifier:
    """One identifier of the table."""

    number: int
    name: str
    length: int
    source: str
    fields: tuple[Field, ...]
    checks: tuple[Mapping[str, str], ...]


Scales = Mapping[int, bytes]
"""What the vehicle answered to 4F and 50: the scales that it sets itself. Empty where none."""


@lru_cache(maxsize=1)
def table() -> Mapping[int, Identifier]:
    """Every identifier of ``identifiers.yaml`` by its number. Raises BadFile for a bad table."""
    name = "identifiers.yaml"
    text = files(__name__.rpartition(".")[0]).joinpath(name).read_text(encoding="utf-8")
    rows = validate(load_text(text, name), TableFile).identifiers
    made = {int(row.id, 16): _identifier(row) for row in rows}
    if len(made) != len(rows):
        raise ValueError(f"{name}: an identifier stands twice")
    return made


@lru_cache(maxsize=1)
def units() -> Mapping[str, str]:
    """The unit of each channel. A channel belongs to one identifier."""
    out: dict[str, str] = {}
    for identifier in table().values():
        for field in identifier.fields:
            if field.channel in out:
                raise ValueError(f"channel {field.channel} stands twice")
            out[field.channel] = field.unit
    return out


def length_of(pid: int) -> int | None:
    """How many bytes answer ``pid``; None where this program does not know."""
    if pid in SUPPORT_PIDS:
        return 4
    known = table().get(pid)
    return known.length if known else None


def decode(pid: int, raw: bytes, scales: Scales | None = None) -> list[Value]:
    """The values in the bytes that answer ``pid``; what the vehicle says it lacks is left out.

    ``scales`` are the answers to 4F and 50. Raises KeyError for an identifier that the table
    lacks, ValueError for a wrong number of bytes.
    """
    identifier = table()[pid]
    if len(raw) != identifier.length:
        raise ValueError(f"{pid:02X}: {len(raw)} bytes where {identifier.length} belong")
    out = []
    for field in identifier.fields:
        if field.there is not None and not raw[0] & field.there:
            continue
        exact = _exact(field, raw, scales or {})
        good = field.likely_low <= exact <= field.likely_high
        quality = Quality.GOOD if good else Quality.OUT_OF_RANGE
        out.append(Value(field.channel, round(exact * 1000), quality))
    return out


def _exact(field: Field, raw: bytes, scales: Scales) -> Fraction:
    part = raw[field.at : field.at + field.length]
    number = int.from_bytes(part, "big", signed=field.signed)
    if field.mask is not None:
        low_bit = field.mask & -field.mask
        number = (number & field.mask) // low_bit
    scale = field.scale
    if field.full_scale is not None:
        other, at, step = field.full_scale
        byte = scales[other][at] if other in scales else 0
        if byte:
            scale = step * byte
    return number * scale + field.add


def _identifier(row: IdentifierRow) -> Identifier:
    return Identifier(
        int(row.id, 16),
        row.name,
        row.bytes,
        row.source,
        tuple(_field(field) for field in row.fields),
        row.checks,
    )


def _field(row: FieldRow) -> Field:
    low, high = (Fraction(text) for text in row.range)
    likely_low, likely_high = (Fraction(text) for text in row.likely or row.range)
    if not low <= likely_low < likely_high <= high:
        raise ValueError(f"{row.channel}: what is likely is not inside the range")
    full = row.full_scale
    return Field(
        channel=row.channel,
        at=row.at,
        length=row.bytes,
        signed=row.signed,
        mask=None if row.mask is None else int(row.mask, 16),
        there=None if row.there is None else int(row.there, 16),
        scale=Fraction(row.scale),
        add=Fraction(row.add),
        unit=row.unit,
        low=low,
        high=high,
        likely_low=likely_low,
        likely_high=likely_high,
        full_scale=None if full is None else _scaled(full),
    )


def _scaled(full: FullScale) -> tuple[int, int, Fraction]:
    return int(full.id, 16), full.at, Fraction(full.times, full.of)
