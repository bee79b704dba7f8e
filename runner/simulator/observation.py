"""What a person sees, hears or feels after an act, and what the vehicle's own diagnostics show.

Nothing here is the truth about the vehicle: that is ``Truth``, kept for debriefs and tests.
Terms are the trade's. The words never say what a person at the vehicle could not notice.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Final

from steplatch.safety.catalogue import _

from ..core.reading_set import Recirculation

_KELVIN_AT_0_DEGC: Final = 273.15


class NoticedKind(Enum):
    """The kind of thing that was noticed, for programs; ``Observation.words`` is for people."""

    DONE = "done"
    NOTHING = "nothing"
    NOT_POSSIBLE = "not possible"
    STARTED = "started"
    STARTED_UNEVEN = "started after an uneven beat"
    SLOW_UNEVEN_CRANK = "slow, uneven crank"
    SOLID_STOP = "solid stop"
    NOT_FIRED = "even crank, did not fire"
    SELF_STARTED = "started by itself"
    STALLED = "stalled"
    SAGGED = "idle sagged"
    EVEN = "even"
    ONE_HARDER = "one harder"
    STEAM = "steam came back"
    FREE = "air passes freely"
    HISS = "air hisses from a split"
    BLOCKED = "no air passes"
    WET = "wet"
    DRY = "dry"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True)
class Observation:
    """What one act let a person notice. ``None`` means that this act shows no such number.

    ``volume_ml`` as read on a jug or counted by who sprayed, ``seconds`` on the watch,
    ``lowest_rpm`` the lowest speed seen during the act.
    """

    sign: NoticedKind
    words: str
    volume_ml: float | None = None
    seconds: float | None = None
    lowest_rpm: float | None = None


@dataclass(frozen=True, slots=True)
class Instruments:
    """What the vehicle's own diagnostics show now, in SI. ``None`` means "not shown".

    The pressure is the sensor's view: zero error, lag, step, hose and all. ``burning`` is the
    regeneration flag, ``codes`` are the stored fault codes.
    """

    pressure_pa: float | None
    speed_rpm: float | None
    air_kg_s: float | None
    exhaust_k: float | None
    coolant_k: float | None
    recirculation: Recirculation | None
    modelled_soot_kg: float | None
    codes: tuple[str, ...]
    manifold_pa: float | None = None
    intake_k: float | None = None
    burning: bool | None = None


@dataclass(frozen=True, slots=True)
class Mishap:
    """Something that would have hurt people or the vehicle, and when (s since the start)."""

    at_s: float
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What a start would do, for debriefs: the fullest cylinder, counted from 1, its liquid,
    the room in it at top dead centre [mL], and the ratio of pressure there to intake pressure
    (infinite when it is full)."""

    cylinder: int
    liquid_ml: float
    clearance_ml: float
    peak_ratio: float
    dry_ratio: float

    @property
    def words(self) -> str:
        """The same as a sentence, in whole numbers."""
        where = _(
            "{liquid_ml:.0f} mL in cylinder {cylinder}, room for ",
            liquid_ml=self.liquid_ml,
            cylinder=self.cylinder,
        )
        room = f"{where}{self.clearance_ml:.0f}"
        if self.liquid_ml >= self.clearance_ml:
            return _("{room}: the piston meets liquid. A rod may bend, a starter break.", room=room)
        return _(
            "{room}: compression reaches {peak_ratio:.0f} times intake pressure, dry "
            "{dry_ratio:.0f}.",
            room=room,
            peak_ratio=self.peak_ratio,
            dry_ratio=self.dry_ratio,
        )


@dataclass(frozen=True, slots=True)
class Truth:
    """How it stands inside, for debriefs and tests only. SI except volumes, which are mL.

    ``viscous_resistance_per_m3`` is pressure drop over viscosity times volume flow [1/m3],
    wet as it is now; ``dry_resistance_per_m3`` the same without its liquid. ``peak_ratio`` is
    the highest ratio of pressure at top dead centre to intake pressure that any crank so far
    would have reached (infinite when a cylinder was full), ``cylinder_ml`` the liquid in each.
    """

    elapsed_s: float
    running: bool
    pressure_pa: float
    volume_flow_m3_s: float
    gas_k: float
    body_k: float
    viscous_resistance_per_m3: float
    dry_resistance_per_m3: float
    soot_kg: float
    loosened_kg: float
    soot_gone_kg: float
    ash_kg: float
    bypass_share: float
    cylinder_ml: tuple[float, ...]
    clearance_ml: float
    filter_ml: float
    pipe_ml: float
    hose_ml: float
    beyond_ml: float
    gun_ml: float
    evaporated_ml: float
    outside_ml: float
    filled_ml: float
    gun_rate_ml_s: float
    peak_ratio: float
    damaged: bool
    mishaps: tuple[Mishap, ...]


def reading_line(instruments: Instruments) -> str:
    """One reading set as a person types it, ``x`` for what this vehicle does not show.

    Order and units: ``READING_LINE_UNITS``, for example ``22 820 9.0 168 86 open``.
    """
    pressure = instruments.pressure_pa
    air = instruments.air_kg_s
    return " ".join(
        (
            "x" if pressure is None else _plain(pressure / 100.0, 1),
            "x" if instruments.speed_rpm is None else _plain(instruments.speed_rpm, 0),
            "x" if air is None else f"{air * 1000.0:.1f}",
            _degc(instruments.exhaust_k),
            _degc(instruments.coolant_k),
            instruments.recirculation or "x",
        )
    )


def _degc(kelvin: float | None) -> str:
    return "x" if kelvin is None else _plain(kelvin - _KELVIN_AT_0_DEGC, 0)


def _plain(value: float, digits: int) -> str:
    """A decimal without trailing zeros and without a minus before nothing."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
