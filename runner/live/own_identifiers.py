"""Identifiers that a user brings: a maker's own values, from a strict table with origin and check.

None is shipped: public lists of them are mostly wrong, or copied from each other. A row is shown
and not used, unless it feeds the pressure over the filter: that needs a zero and a check against an
own instrument in the table, and is proven in each job again (``proving``). Nothing else is fed, no
fact rests on a row, and they are read by service 22 of the engine's ECU, in its usual session.

    identifiers:
      - id: "22 2001"
        name: pressure over the filter
        origin: found beside the own gauge on this van, technician-1, 2026-02-11
        answer_bytes: 2
        field: {at: 0, bytes: 2, signed: true, scale: "1/10", unit: mbar, range: ["-20", "1000"]}
        every_s: 1.0
        feeds: pressure
        zero: {raw: "0003", says: "0.3"}
        check: {raw: "00D6", says: "21.4", read: "20.9", instrument: own gauge, by: technician-1,
                on: "2026-02-11"}
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field as Bounded
from pydantic import model_validator
from steplatch.safety.catalogue import _

from ..input.strict_yaml import StrictModel, load, validate
from .proving import GAUGE_PA, GAUGE_SHARE, ZERO_PA
from .samples import Sample

MAX_ROWS: Final = 4
LONGEST_EVERY_S: Final = 1.5
"""For a pressure: a reading is the mean of ten seconds, and no less than five values."""
FEEDS: Final = {"pressure": "delta_pa"}
PA_IN: Final = {"Pa": 1, "hPa": 100, "mbar": 100, "kPa": 1000}
KEPT_OUT: Final = (0xF1, 0xF4, 0xF8)
"""First bytes of what stands elsewhere: who the vehicle is, and the values of the standard."""


class OwnField(StrictModel):
    """Where the value stands in the answer, how it is scaled, and what may be believed."""

    at: int = Bounded(ge=0, le=255)
    bytes: int = Bounded(ge=1, le=4)
    signed: bool
    scale: str
    add: str = "0"
    unit: str = Bounded(min_length=1, max_length=8)
    range: tuple[str, str]


class Zero(StrictModel):
    """What came with the ignition on and the engine stopped."""

    raw: str
    says: str


class OwnCheck(Zero):
    """What came while an own instrument read ``read``, in the unit of the row."""

    read: str
    instrument: str = Bounded(min_length=3)
    by: str = Bounded(min_length=1)
    on: date


class OwnRow(StrictModel):
    """One identifier."""

    id: str = Bounded(pattern=r"^22 [0-9A-F]{4}$")
    name: str = Bounded(min_length=3, max_length=40)
    origin: str = Bounded(min_length=10)
    answer_bytes: int = Bounded(ge=1, le=255)
    field: OwnField
    every_s: float = Bounded(ge=0.5, le=60.0)
    feeds: Literal["pressure"] | None = None
    zero: Zero | None = None
    check: OwnCheck | None = None

    @model_validator(mode="after")
    def _adds_up(self) -> "OwnRow":
        if self.number >> 8 in KEPT_OUT:
            raise ValueError(_("this identifier is the standard's or says who the vehicle is"))
        if self.field.at + self.field.bytes > self.answer_bytes:
            raise ValueError(
                _(
                    "its value ends behind byte {answer_bytes} of the answer",
                    answer_bytes=self.answer_bytes,
                )
            )
        low, high = (Fraction(text) for text in self.field.range)
        if not low < high:
            raise ValueError(_("its range is upside down"))
        for seen in (self.zero, self.check):
            if seen is not None and self.exact(bytes.fromhex(seen.raw)) != Fraction(seen.says):
                says = float(self.exact(bytes.fromhex(seen.raw)))
                raise ValueError(
                    _(
                        "{raw} says {says:g} by its scale, not {says_2}",
                        raw=seen.raw,
                        says=says,
                        says_2=seen.says,
                    )
                )
        if self.feeds is not None:
            self._may_feed()
        return self

    def _may_feed(self) -> None:
        if self.field.unit not in PA_IN:
            raise ValueError(_("a pressure stands in one of {pa_in}", pa_in=", ".join(PA_IN)))
        if self.every_s > LONGEST_EVERY_S:
            raise ValueError(
                _(
                    "a pressure is asked for every {longest_every_s:g} s or oftener",
                    longest_every_s=LONGEST_EVERY_S,
                )
            )
        if self.zero is None or self.check is None:
            raise ValueError(_("it feeds nothing without a zero and a check of an own instrument"))
        factor = PA_IN[self.field.unit]
        if abs(Fraction(self.zero.says)) * factor > ZERO_PA:
            raise ValueError(_("its zero is more than {zero_pa} Pa from nil", zero_pa=ZERO_PA))
        shown, read = Fraction(self.check.says) * factor, Fraction(self.check.read) * factor
        within = max(Fraction(GAUGE_PA), abs(read) / GAUGE_SHARE)
        if abs(shown - read) > within or abs(read) <= within:
            raise ValueError(
                _("its check does not bear it out: the instrument read another pressure")
            )

    @property
    def number(self) -> int:
        """The identifier of two bytes."""
        return int(self.id[3:], 16)

    @property
    def channel(self) -> str:
        """The channel of its samples: the one it feeds, or one of its own."""
        return f"own_{self.number:04x}" if self.feeds is None else FEEDS[self.feeds]

    def exact(self, raw: bytes) -> Fraction:
        """The value of an answer in the row's unit. Raises ValueError for a wrong length."""
        if len(raw) != self.answer_bytes:
            raise ValueError(
                _(
                    "{id}: {count} bytes where {answer_bytes} belong",
                    id=self.id,
                    count=len(raw),
                    answer_bytes=self.answer_bytes,
                )
            )
        place = self.field
        part = raw[place.at : place.at + place.bytes]
        number = int.from_bytes(part, "big", signed=place.signed)
        return number * Fraction(place.scale) + Fraction(place.add)

    def sample(self, raw: bytes, at_ms: int) -> Sample:
        """The sample of an answer; good where it is inside its range. Raises ValueError."""
        value = self.exact(raw)
        low, high = (Fraction(text) for text in self.field.range)
        factor = 1 if self.feeds is None else PA_IN[self.field.unit]
        return Sample(at_ms, self.channel, round(value * factor * 1000), low <= value <= high)


class OwnFile(StrictModel):
    """The file as it is written."""

    identifiers: tuple[OwnRow, ...]

    @model_validator(mode="after")
    def _differ(self) -> "OwnFile":
        rows = self.identifiers
        if not 1 <= len(rows) <= MAX_ROWS:
            raise ValueError(
                _(
                    "{count} identifiers: 1 to {max_rows} can be asked for beside the speed",
                    count=len(rows),
                    max_rows=MAX_ROWS,
                )
            )
        if len({row.number for row in rows}) != len(rows):
            raise ValueError(_("an identifier stands twice"))
        if sum(row.feeds is not None for row in rows) > 1:
            raise ValueError(_("more than one row feeds the pressure"))
        return self


def load_own(path: Path | None) -> tuple[OwnRow, ...]:
    """The rows of a user's table; none without a file. Raises BadFile with every finding."""
    return () if path is None else validate(load(path), OwnFile).identifiers


def row_text(row: OwnRow) -> str:
    """A row as a raw log keeps it, one line of ASCII: whoever decodes the log needs no file."""
    return json.dumps(row.model_dump(mode="json"), sort_keys=True, separators=(",", ":"))


def row_of(text: str) -> OwnRow:
    """The inverse of ``row_text``. Raises ValueError."""
    return OwnRow.model_validate_json(text)


@dataclass(frozen=True, slots=True)
class OwnTable:
    """The rows by their identifiers."""

    rows: Mapping[int, OwnRow]

    def samples(self, payload: bytes, asked: int, at_ms: int) -> list[Sample]:
        """The sample in an answer to the question for ``asked``; none in any other message."""
        row = self.rows.get(asked)
        if row is None or payload[:3] != b"\x62" + asked.to_bytes(2, "big"):
            return []
        try:
            return [row.sample(payload[3:], at_ms)]
        except ValueError:
            return []

    def feeds(self, channel: str) -> bool:
        """Whether a row feeds ``channel``."""
        return any(row.feeds and row.channel == channel for row in self.rows.values())


def table_of(rows: Any) -> OwnTable:
    """The table of some rows."""
    return OwnTable({row.number: row for row in rows})
