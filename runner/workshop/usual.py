"""Filed numbers that a limit rests on: the band that is usual, and which of a job's lie outside.

``safety.limits.plausible`` refuses what cannot be; it is wide on purpose. Between that and what is
usual lies the slip of a factor: a displacement in another unit, a point one digit on. What lies
outside the usual band is not refused; it is typed a second time before a real job begins.

The bands are design choices, common practice, no source: each is narrower than a factor 3 (for
temperatures on the scale of degC), so that a slip of 3 or more from any usual value leaves it.
The altitude alone passes through zero: there a slip within its band changes the air's pressure by
less than 4 % (ISO 2533:1975, standard atmosphere, from memory: 1013 hPa at 0 m, 978 hPa at 300 m).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from steplatch.safety.catalogue import _, spoken
from steplatch.safety.limits.inputs import Fluid, GunInput, VehicleInput, Workshop

from ..input.quantities import BadQuantity, parse_number, parse_quantity

_SAME: Final = 1e-6  # of the value: 2.0 L and 2000 cm3 are one number


@dataclass(frozen=True, slots=True)
class Usual:
    """One number of a file: its usual band in the inside unit times ``scale`` plus ``offset``.

    ``dimension`` is what it is typed as, empty for a plain number. ``per`` divides the value
    before it is compared: by the cylinders, or by the displacement.
    """

    file: str
    key: str
    low: float
    high: float
    unit: str
    dimension: str
    scale: float = 1.0
    offset: float = 0.0
    per: Callable[[VehicleInput], float] | None = None

    def shown(self, value: float) -> float:
        """A value in the unit that people read."""
        return value * self.scale + self.offset


@dataclass(frozen=True, slots=True)
class Unusual:
    """A number outside its band: which, its value inside, and the words that echo it."""

    usual: Usual
    value: float
    said: str

    def typed_again(self, text: str) -> bool:
        """Whether what was typed is the number of the file."""
        dimension = self.usual.dimension
        try:
            value = parse_quantity(text, dimension).si_value if dimension else float(
                parse_number(text)
            )  # fmt: skip
        except BadQuantity:
            return False
        return abs(value - self.value) <= _SAME * max(abs(self.value), abs(value))


def _cylinders(vehicle: VehicleInput) -> float:
    return float(vehicle.cylinders)


def _displacement(vehicle: VehicleInput) -> float:
    return vehicle.displacement_m3 * 1e3


_ML, _L = 1e6, 1e3
_C: Final = -273.15
TABLE: Final = (
    Usual("vehicle", "displacement_m3", 0.25, 0.7, _("L a cylinder"), "volume", _L, per=_cylinders),
    Usual("vehicle", "compression_ratio", 13.0, 23.0, "", ""),
    Usual("vehicle", "idle_rpm", 600.0, 1000.0, "1/min", "speed"),
    Usual("vehicle", "filter_volume_m3", 0.8, 2.3, _("L a litre of the engine"), "volume", _L,
          per=_displacement),
    Usual("vehicle", "retained.volume_m3", 10.0, 29.0, "mL", "volume", _ML),
    Usual("vehicle", "maker_rev_ceiling_rpm", 1500.0, 3500.0, "1/min", "speed"),
    Usual("gun", "rates_m3_s", 2.0, 5.9, "mL/s", "volume_rate", _ML),
    Usual("gun", "reaction_s", 0.3, 0.85, "s", "time"),
    Usual("gun", "practice_stops_s", 0.3, 0.85, "s", "time"),
    Usual("fluid", "density_kg_m3", 0.9, 1.2, "kg/L", "density", 1e-3),
    Usual("fluid", "max_exhaust_k_engine_off", 35.0, 100.0, "degC", "temperature", 1.0, _C),
    Usual("fluid", "max_exhaust_k_running", 100.0, 250.0, "degC", "temperature", 1.0, _C),
    Usual("fluid", "maker_soak_s", 120.0, 350.0, "s", "time"),
    Usual("workshop", "running_dose_m3", 150.0, 440.0, "mL", "volume", _ML),
    Usual("workshop", "rev_ceiling_rpm", 1500.0, 3500.0, "1/min", "speed"),
    Usual("workshop", "max_exhaust_k_engine_off", 35.0, 100.0, "degC", "temperature", 1.0, _C),
    Usual("workshop", "max_exhaust_k_running", 100.0, 250.0, "degC", "temperature", 1.0, _C),
    Usual("workshop", "max_touch_k", 25.0, 60.0, "degC", "temperature", 1.0, _C),
    Usual("workshop", "soak_s", 120.0, 350.0, "s", "time"),
    Usual("workshop", "altitude_m", -50.0, 300.0, "m", "length"),
    Usual("workshop", "air_k", 8.0, 23.0, "degC", "temperature", 1.0, _C),
    Usual("workshop", "bay_volume_m3", 150.0, 440.0, "m3", "volume"),
)  # fmt: skip


def unusual(
    vehicle: VehicleInput, gun: GunInput, fluid: Fluid, workshop: Workshop
) -> tuple[Unusual, ...]:
    """Every number of the four files that lies outside its usual band, in the table's order."""
    files = {"vehicle": vehicle, "gun": gun, "fluid": fluid, "workshop": workshop}
    return tuple(
        Unusual(usual, value, _said(usual, value, compared))
        for usual in TABLE
        for value in _values(files[usual.file], usual.key)
        if not usual.low <= (compared := _compared(usual, value, vehicle)) <= usual.high
    )


def _values(file: object, key: str) -> tuple[float, ...]:
    """The numbers under a key: none where it is not known, several of a list."""
    value: object = file
    for part in key.split("."):
        value = getattr(value, part, None)
    if value is None:
        return ()
    return tuple(map(float, value)) if isinstance(value, tuple) else (float(value),)  # type: ignore[arg-type]


def _compared(usual: Usual, value: float, vehicle: VehicleInput) -> float:
    by = usual.per(vehicle) if usual.per is not None else 1.0
    return usual.shown(value) / by if by > 0 else float("inf")


def _said(usual: Usual, value: float, compared: float) -> str:
    name = spoken(usual.key.rpartition("_")[0]) or usual.key
    alone = usual.unit.partition(" a ")[0]
    of_it = (
        _(", that is {compared:.3g} {unit}", compared=compared, unit=usual.unit)
        if usual.per is not None
        else ""
    )
    return (
        f"{usual.file}, {name}: {usual.shown(value):.6g} {alone}{of_it}. "
        f"Usual are {usual.low:g} to {usual.high:g} {usual.unit}".rstrip()
    )
