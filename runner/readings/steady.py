"""Steady windows of a log: where the engine speed stays within a band for long enough.

Each window is averaged over its last seconds, when things have settled, and becomes a reading
set. Held 30 s within 50 1/min and averaged over the last 10 s: common practice, no source.
"""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from steplatch.safety.limits.inputs import Vehicle

from ..core.reading_set import FIELD, Condition, Phase, Reading, ReadingSet
from .logs import Log

BAND_RPM: Final = 50.0
HELD_S: Final = 30.0
AVERAGED_S: Final = 10.0
STOPPED_RPM: Final = 50.0
_BREAK_S: Final = 5.0


@dataclass(frozen=True, slots=True)
class Window:
    """One steady window. Means and spreads (standard deviations) are over its last seconds, SI.

    ``drift_pa_min`` is the slope of the pressure over the whole window: a large one says that
    the pressure had not levelled.
    """

    start_s: float
    end_s: float
    first_line: int
    last_line: int
    rows: int
    averaged_s: float
    means: dict[str, float]
    spreads: dict[str, float]
    drift_pa_min: float

    def text(self) -> str:
        """One line for the screen."""
        speed, pressure = self.means["speed"], self.means.get("pressure")
        shown = "" if pressure is None else f", {pressure / 100:.1f} mbar"
        return (
            f"{self.start_s:.0f} to {self.end_s:.0f} s (lines {self.first_line} to "
            f"{self.last_line}): {speed:.0f} 1/min{shown}"
        )


def steady_windows(
    log: Log,
    *,
    band_rpm: float = BAND_RPM,
    held_s: float = HELD_S,
    averaged_s: float = AVERAGED_S,
) -> list[Window]:
    """All longest windows in which the speed stays within ``band_rpm`` of its middle.

    A window ends at a gap, a backward time or a missing speed. Windows do not overlap. Raises
    ``ValueError`` when a setting is not above zero.
    """
    if min(band_rpm, held_s, averaged_s) <= 0:
        raise ValueError("band_rpm, held_s and averaged_s lie above zero")
    time, speed = log.time_s, log.values["speed"]
    steps = sorted(b - a for a, b in pairwise(time))
    usual = steps[len(steps) // 2] if steps else 0.0
    gap = max(_BREAK_S, 5 * usual)
    out: list[Window] = []
    high: deque[int] = deque()
    low: deque[int] = deque()
    start = 0
    last = len(time) - 1
    for i, value in enumerate(speed):
        step = time[i] - time[i - 1] if i else 0.0
        broken = value != value or step < 0 or step > gap
        if broken:
            _emit(log, start, i - 1, held_s, averaged_s, out)
            high.clear()
            low.clear()
            start = i + 1 if value != value else i
            if value != value:
                continue
        while high and speed[high[-1]] <= value:
            high.pop()
        while low and speed[low[-1]] >= value:
            low.pop()
        high.append(i)
        low.append(i)
        if speed[high[0]] - speed[low[0]] > 2 * band_rpm:
            if _emit(log, start, i - 1, held_s, averaged_s, out):
                start = i
                high.clear()
                low.clear()
                high.append(i)
                low.append(i)
            while speed[high[0]] - speed[low[0]] > 2 * band_rpm:
                start += 1
                if high[0] < start:
                    high.popleft()
                if low[0] < start:
                    low.popleft()
        if i == last:
            _emit(log, start, i, held_s, averaged_s, out)
    return out


def sets_from_windows(
    windows: Sequence[Window], log: Log, vehicle: Vehicle, phase: Phase
) -> list[ReadingSet]:
    """The longest window of each condition as a reading set: zero, idle, raised.

    Zero: stopped. Idle: within 150 1/min of the vehicle's idle. Raised: above 1.5 times idle.
    Windows between are left out.
    """
    best: dict[Condition, Window] = {}
    for window in windows:
        condition = _condition(window.means["speed"], vehicle)
        if condition is None or "pressure" not in window.means:
            continue
        kept = best.get(condition)
        if kept is None or window.end_s - window.start_s > kept.end_s - kept.start_s:
            best[condition] = window
    return [_set(c, best[c], log, phase) for c in ("raised", "idle", "zero") if c in best]


def _set(condition: Condition, window: Window, log: Log, phase: Phase) -> ReadingSet:
    means = window.means
    readings = tuple(
        Reading(q, f"mean of log {log.name}", log.units.get(q, ""), means[q], "logged")
        for q in FIELD
        if q in means
    )
    return ReadingSet(
        condition=condition,
        phase=phase,
        pressure_pa=means["pressure"],
        speed_rpm=means["speed"],
        air_kg_s=means.get("air") if condition != "zero" else None,
        exhaust_k=means.get("exhaust"),
        coolant_k=means.get("coolant"),
        typed=f"log {log.name}, {window.text()}",
        readings=readings,
        manifold_pa=means.get("manifold"),
        intake_k=means.get("intake"),
        spread_pa=window.spreads["pressure"],
        averaged_s=window.averaged_s,
    )


def _condition(speed_rpm: float, vehicle: Vehicle) -> Condition | None:
    if speed_rpm < STOPPED_RPM:
        return "zero"
    if abs(speed_rpm - vehicle.idle_rpm) <= 150:
        return "idle"
    return "raised" if speed_rpm > 1.5 * vehicle.idle_rpm else None


def _emit(
    log: Log, first: int, last: int, held_s: float, averaged_s: float, out: list[Window]
) -> bool:
    if last <= first or log.time_s[last] - log.time_s[first] < held_s:
        return False
    time = log.time_s
    settled = last
    while settled > first and time[last] - time[settled - 1] <= averaged_s:
        settled -= 1
    means: dict[str, float] = {}
    spreads: dict[str, float] = {}
    for quantity, values in log.values.items():
        got = [v for v in values[settled : last + 1] if v == v]
        if not got:
            continue
        mean = math.fsum(got) / len(got)
        means[quantity] = mean
        spreads[quantity] = math.sqrt(math.fsum((v - mean) ** 2 for v in got) / len(got))
    out.append(
        Window(
            start_s=time[first],
            end_s=time[last],
            first_line=log.lines[first],
            last_line=log.lines[last],
            rows=last - first + 1,
            averaged_s=time[last] - time[settled],
            means=means,
            spreads=spreads,
            drift_pa_min=_drift(log, first, last),
        )
    )
    return True


def _drift(log: Log, first: int, last: int) -> float:
    points = [
        (t, p)
        for t, p in zip(
            log.time_s[first : last + 1], log.values["pressure"][first : last + 1], strict=True
        )
        if p == p
    ]
    if len(points) < 3:
        return 0.0
    mean_t = math.fsum(t for t, _ in points) / len(points)
    mean_p = math.fsum(p for _, p in points) / len(points)
    sxx = math.fsum((t - mean_t) ** 2 for t, _ in points)
    if sxx <= 0:
        return 0.0
    return 60 * math.fsum((t - mean_t) * (p - mean_p) for t, p in points) / sxx
