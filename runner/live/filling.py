"""Readings from the vehicle: steady windows of its samples, as figures of a set to be typed.

The rule is the one for logs (``runner.readings.steady``): held 30 s within 50 1/min, the mean of
the last 10 s. The pressure is left out until its channel is proven (``proving``). One source of
exhaust flow serves a whole job: before and after are never from different ones.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from steplatch.safety.limits.inputs import VehicleInput

from ..core.reading_set import ReadingCondition
from ..readings.logs import ReadingLog
from ..readings.steady import STOPPED_RPM, Window, steady_windows
from .samples import Sample
from .witness import SPEED

SOURCES: Final[dict[str, tuple[str, ...]]] = {
    "pressure": ("delta_pa",),
    "air": ("air_g_s", "air_a_g_s"),
    "exhaust": ("filter_in_degc", "exhaust_11_degc", "exhaust_12_degc"),
    "coolant": ("coolant_degc", "coolant_1_degc"),
    "manifold": ("manifold_kpa", "manifold_a_kpa"),
    "intake": ("intake_degc",),
}
"""The channels of each quantity, best first; the first that the vehicle gives is taken."""

INLETS: Final = SOURCES["exhaust"]

_SI: Final[dict[str, tuple[float, float]]] = {
    "speed_rpm": (1e-3, 0.0),
    "delta_pa": (1e-3, 0.0),
    "air_g_s": (1e-6, 0.0),
    "air_a_g_s": (1e-6, 0.0),
    "filter_in_degc": (1e-3, 273.15),
    "exhaust_11_degc": (1e-3, 273.15),
    "exhaust_12_degc": (1e-3, 273.15),
    "coolant_degc": (1e-3, 273.15),
    "coolant_1_degc": (1e-3, 273.15),
    "manifold_kpa": (1.0, 0.0),
    "manifold_a_kpa": (1.0, 0.0),
    "intake_degc": (1e-3, 273.15),
}
TYPED_AS: Final[dict[str, tuple[float, float, int]]] = {
    "pressure": (0.01, 0.0, 2),
    "speed": (1.0, 0.0, 0),
    "air": (1000.0, 0.0, 2),
    "exhaust": (1.0, -273.15, 1),
    "coolant": (1.0, -273.15, 1),
}
"""From SI to the default unit of a typed line (mbar, 1/min, g/s, degC), and the decimals kept."""
KEPT_MS: Final = 5000
"""A value is carried to the next rows of the table for so long; then its cell is empty."""
IDLE_WITHIN_RPM: Final = 150.0
RAISED_FROM: Final = 1.5


def as_log(samples: Sequence[Sample], name: str = "vehicle") -> ReadingLog:
    """The good samples as a table in SI, one row for each sample of the engine speed."""
    given = {sample.channel for sample in samples if sample.good}
    chosen = {
        quantity: next((c for c in channels if c in given), None)
        for quantity, channels in SOURCES.items()
    }
    latest: dict[str, Sample] = {}
    times: list[float] = []
    values: dict[str, list[float]] = {"speed": [], **{quantity: [] for quantity in SOURCES}}
    for sample in samples:
        if not sample.good:
            continue
        latest[sample.channel] = sample
        if sample.channel != SPEED:
            continue
        times.append(sample.at_ms / 1000.0)
        values["speed"].append(_si(sample))
        for quantity, channel in chosen.items():
            last = latest.get(channel) if channel else None
            fresh = last is not None and sample.at_ms - last.at_ms <= KEPT_MS
            values[quantity].append(_si(last) if fresh and last else float("nan"))
    units = dict.fromkeys(values, "SI")
    return ReadingLog(name, range(1, len(times) + 1), times, values, units, ())


@dataclass(frozen=True, slots=True)
class Filled:
    """What the vehicle gives for one set: quantity to figure as it is typed, in the default units
    of ``core.typed_set``, and the stretch of the link that it was held."""

    items: Mapping[str, str]
    from_ms: int
    to_ms: int


def held(samples: Sequence[Sample], vehicle: VehicleInput) -> dict[ReadingCondition, Window]:
    """The latest steady window of each condition. Empty where nothing was held long enough."""
    log = as_log(samples)
    if len(log.time_s) < 2:
        return {}
    found: dict[ReadingCondition, Window] = {}
    for window in steady_windows(log):
        condition = _condition(window.means["speed"], vehicle)
        if condition is not None:
            found[condition] = window
    return found


def filled(
    samples: Sequence[Sample],
    vehicle: VehicleInput,
    condition: ReadingCondition,
    pressure_proven: bool,
) -> Filled | None:
    """The figures of ``condition`` from its latest steady window, None where it was not held.

    Without a proven channel there is no pressure; a set at zero has nothing but that.
    """
    window = held(samples, vehicle).get(condition)
    if window is None:
        return None
    wanted = ("pressure",) if condition == "zero" else tuple(TYPED_AS)
    items = {
        quantity: figure(quantity, window.means[quantity])
        for quantity in wanted
        if quantity in window.means and (quantity != "pressure" or pressure_proven)
    }
    return Filled(items, round(window.start_s * 1000), round(window.end_s * 1000))


def figure(quantity: str, si: float) -> str:
    """A value [SI] as it is typed, in the default unit of its quantity."""
    factor, offset, decimals = TYPED_AS[quantity]
    return f"{si * factor + offset:.{decimals}f}"


def _condition(speed_rpm: float, vehicle: VehicleInput) -> ReadingCondition | None:
    if speed_rpm < STOPPED_RPM:
        return "zero"
    if abs(speed_rpm - vehicle.idle_rpm) <= IDLE_WITHIN_RPM:
        return "idle"
    return "raised" if speed_rpm > RAISED_FROM * vehicle.idle_rpm else None


def _si(sample: Sample) -> float:
    factor, offset = _SI[sample.channel]
    return sample.milli * factor + offset
