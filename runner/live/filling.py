"""Readings from the vehicle: steady windows of its samples, as sets for the judgement.

The rule is the one for logs (``runner.readings.steady``): held 30 s within 50 1/min, the mean of
the last 10 s. The pressure is left out until its channel is proven (``proving``). One source of
exhaust flow serves a whole job: before and after are never from different ones.
"""

from collections.abc import Sequence
from typing import Final

from steplatch.safety.limits.inputs import VehicleInput

from ..core.reading_set import FIELD, Phase, Reading, ReadingCondition, ReadingSet
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


def sets_of(
    samples: Sequence[Sample], vehicle: VehicleInput, phase: Phase, pressure_proven: bool
) -> list[ReadingSet]:
    """The longest steady window of each condition as a set: raised, idle, zero.

    Empty where nothing was held long enough. Without a proven channel the sets have no pressure.
    """
    log = as_log(samples)
    if len(log.time_s) < 2:
        return []
    best: dict[ReadingCondition, Window] = {}
    for window in steady_windows(log):
        condition = _condition(window.means["speed"], vehicle)
        kept = best.get(condition) if condition else None
        longer = kept is None or window.end_s - window.start_s > kept.end_s - kept.start_s
        if condition and longer:
            best[condition] = window
    return [
        _set(condition, best[condition], phase, pressure_proven)
        for condition in ("raised", "idle", "zero")
        if condition in best
    ]


def _set(condition: ReadingCondition, window: Window, phase: Phase, proven: bool) -> ReadingSet:
    means = {q: v for q, v in window.means.items() if q != "pressure" or proven}
    if condition == "zero":
        means.pop("air", None)
    readings = tuple(
        Reading(q, "mean of the vehicle's own values", "SI", means[q], "logged")
        for q in FIELD
        if q in means
    )
    return ReadingSet(
        condition=condition,
        phase=phase,
        pressure_pa=means.get("pressure"),
        speed_rpm=means["speed"],
        air_kg_s=means.get("air"),
        exhaust_k=means.get("exhaust"),
        coolant_k=means.get("coolant"),
        typed=f"vehicle, {window.start_s:.1f} to {window.end_s:.1f} s of the link",
        readings=readings,
        manifold_pa=means.get("manifold"),
        intake_k=means.get("intake"),
        spread_pa=window.spreads.get("pressure") if proven else None,
        averaged_s=window.averaged_s,
        instrument="vehicle",
    )


def _condition(speed_rpm: float, vehicle: VehicleInput) -> ReadingCondition | None:
    if speed_rpm < STOPPED_RPM:
        return "zero"
    if abs(speed_rpm - vehicle.idle_rpm) <= IDLE_WITHIN_RPM:
        return "idle"
    return "raised" if speed_rpm > RAISED_FROM * vehicle.idle_rpm else None


def _si(sample: Sample) -> float:
    factor, offset = _SI[sample.channel]
    return sample.milli * factor + offset
