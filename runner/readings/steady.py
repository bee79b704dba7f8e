"""Steady windows of a log: where the engine speed stays within a band for long enough.

Each window is averaged over its last seconds, when things have settled, and becomes a reading
set. Held 30 s within 50 1/min and averaged over the last 10 s: common practice, no source.
"""

import math
from bisect import bisect_left, bisect_right, insort
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import Final

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput

from ..core.reading_set import FIELD, Phase, Reading, ReadingCondition, ReadingSet
from .logs import ReadingLog

BAND_RPM: Final = 50.0
HELD_S: Final = 30.0
AVERAGED_S: Final = 10.0
STOPPED_RPM: Final = 50.0
_BREAK_S: Final = 5.0
_SMOOTH_S: Final = 2.0
FROZEN_S: Final = 20.0
FROZEN_RPM: Final = 300.0
DRIFT_PA_MIN: Final = 150.0
DRIFT_SHARE_MIN: Final = 0.03
"""A pressure drifts when it moves by more than both in a minute; workshop default."""
_OUTLIES: Final = 5.0
"""A value so many standard deviations (from the median of distances) off the median is no part of
a mean."""


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

    @property
    def drifts(self) -> bool:
        """Whether the pressure had not levelled: ``DRIFT_PA_MIN`` and ``DRIFT_SHARE_MIN``."""
        most = max(DRIFT_PA_MIN, DRIFT_SHARE_MIN * abs(self.means.get("pressure", 0.0)))
        return abs(self.drift_pa_min) > most

    def text(self) -> str:
        """One line for the screen."""
        speed, pressure = self.means["speed"], self.means.get("pressure")
        shown = "" if pressure is None else f", {pressure / 100:.1f} mbar"
        return _(
            "{start_s:.0f} to {end_s:.0f} s (lines {first_line} to {last_line}): {speed:.0f} "
            "1/min{shown}",
            start_s=self.start_s,
            end_s=self.end_s,
            first_line=self.first_line,
            last_line=self.last_line,
            speed=speed,
            shown=shown,
        )


def steady_windows(
    log: ReadingLog,
    *,
    band_rpm: float = BAND_RPM,
    held_s: float = HELD_S,
    averaged_s: float = AVERAGED_S,
) -> list[Window]:
    """All longest windows in which the speed stays within ``band_rpm`` of its middle.

    The speed is its running median over two seconds, so that neither a spike nor noise ends a
    window; empty cells are bridged. A window ends at a gap of the speed of five seconds (five usual
    steps, where those are longer) or at a backward time. Windows do not overlap. Raises
    ``ValueError`` when a setting is not above zero.
    """
    if min(band_rpm, held_s, averaged_s) <= 0:
        raise ValueError(_("band_rpm, held_s and averaged_s lie above zero"))
    shown = [i for i, value in enumerate(log.values["speed"]) if value == value]
    time = [log.time_s[i] for i in shown]
    speed = _smoothed([log.values["speed"][i] for i in shown], time)
    gap = max(_BREAK_S, 5 * _usual(time))
    out: list[Window] = []
    high: deque[int] = deque()
    low: deque[int] = deque()
    start = 0

    def emit(first: int, last: int) -> bool:
        if last <= first:
            return False
        return _emit(log, shown[first], shown[last], held_s, averaged_s, out)

    for i, value in enumerate(speed):
        step = time[i] - time[i - 1] if i else 0.0
        if step < 0 or step > gap:
            emit(start, i - 1)
            high.clear()
            low.clear()
            start = i
        while high and speed[high[-1]] <= value:
            high.pop()
        while low and speed[low[-1]] >= value:
            low.pop()
        high.append(i)
        low.append(i)
        if speed[high[0]] - speed[low[0]] > 2 * band_rpm:
            if emit(start, i - 1):
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
    emit(start, len(speed) - 1)
    return out


def _usual(time: Sequence[float]) -> float:
    steps = sorted(b - a for a, b in pairwise(time))
    return steps[len(steps) // 2] if steps else 0.0


def _smoothed(values: Sequence[float], time: Sequence[float]) -> list[float]:
    """The running median over two seconds, five values at least: no spike, little noise."""
    usual = _usual(time)
    half = max(2, round(_SMOOTH_S / usual / 2)) if usual > 0 else 2
    sorted_now = sorted(values[: half + 1])
    out = []
    for i in range(len(values)):
        out.append(sorted_now[len(sorted_now) // 2])
        if i - half >= 0:
            del sorted_now[bisect_left(sorted_now, values[i - half])]
        if i + half + 1 < len(values):
            insort(sorted_now, values[i + half + 1])
    return out


def frozen_stretches(log: ReadingLog) -> list[tuple[float, float]]:
    """From and to, in s: the pressure stays the same to the last figure though the speed moves.

    A stretch lasts ``FROZEN_S`` at least, with the speed over 300 1/min apart in it.
    """
    shown = [i for i, p in enumerate(log.values["pressure"]) if p == p]
    revs = [i for i, v in enumerate(log.values["speed"]) if v == v]
    smooth = _smoothed([log.values["speed"][i] for i in revs], [log.time_s[i] for i in revs])
    at = [log.time_s[i] for i in revs]
    out = []
    for _other, same in groupby(shown, key=lambda i: log.values["pressure"][i]):
        rows = list(same)
        start, end = log.time_s[rows[0]], log.time_s[rows[-1]]
        if end - start < FROZEN_S:
            continue
        inside = smooth[bisect_left(at, start) : bisect_right(at, end)]
        if inside and max(inside) - min(inside) > FROZEN_RPM:
            out.append((start, end))
    return out


def sets_from_windows(
    windows: Sequence[Window], log: ReadingLog, vehicle: VehicleInput, phase: Phase
) -> list[ReadingSet]:
    """The best window of each condition as a reading set: zero, idle, raised.

    A level one goes before one whose pressure drifts; of level ones the longest, of drifting ones
    the last. One with a frozen pressure is not taken.

    Zero: stopped. Idle: within 150 1/min of the vehicle's idle. Raised: above 1.5 times idle.
    Windows between are left out.
    """
    frozen = frozen_stretches(log)
    best: dict[ReadingCondition, Window] = {}
    for window in windows:
        condition = _condition(window.means["speed"], vehicle)
        if condition is None or "pressure" not in window.means:
            continue
        if any(a < window.end_s and b > window.start_s for a, b in frozen):
            continue
        kept = best.get(condition)
        if kept is None or _better(window, kept):
            best[condition] = window
    return [_set(c, best[c], log, phase) for c in ("raised", "idle", "zero") if c in best]


def _better(one: Window, other: Window) -> bool:
    """Level before drifting; of drifting ones the later, of level ones the longer."""
    if one.drifts or other.drifts:
        return not one.drifts or (other.drifts and one.start_s > other.start_s)
    return one.end_s - one.start_s > other.end_s - other.start_s


def taken_notes(
    sets: Sequence[ReadingSet], windows: Sequence[Window], log: ReadingLog
) -> list[str]:
    """What is odd about the windows that were taken and the cells they rest on."""
    out = [
        _(
            "the pressure stays the same from {a:.0f} to {b:.0f} s while the speed moves: "
            "frozen, not taken",
            a=a,
            b=b,
        )
        for a, b in frozen_stretches(log)
    ]
    for one in sets:
        for window in windows:
            if window.drifts and window.text() in one.typed:
                out.append(
                    _(
                        "{condition}: the pressure drifts by {drift_pa_min:+.1f} mbar a "
                        "minute, and no level window was found: read again when it is level",
                        condition=one.condition,
                        drift_pa_min=window.drift_pa_min / 100,
                    )
                )
    for quantity, values in log.values.items():
        lost = sum(v != v for v in values)
        if lost:
            out.append(
                _(
                    "{quantity}: {lost} of {count} cells are empty, left out",
                    quantity=quantity,
                    lost=lost,
                    count=len(values),
                )
            )
    return out


def _set(condition: ReadingCondition, window: Window, log: ReadingLog, phase: Phase) -> ReadingSet:
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


def _condition(speed_rpm: float, vehicle: VehicleInput) -> ReadingCondition | None:
    if speed_rpm < STOPPED_RPM:
        return "zero"
    if abs(speed_rpm - vehicle.idle_rpm) <= 150:
        return "idle"
    return "raised" if speed_rpm > 1.5 * vehicle.idle_rpm else None


def _emit(
    log: ReadingLog, first: int, last: int, held_s: float, averaged_s: float, out: list[Window]
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
        got = _without_outliers(got)
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


def _without_outliers(values: list[float]) -> list[float]:
    """The values but for single ones far off: a glitch is no part of a mean."""
    middle = sorted(values)[len(values) // 2]
    away = sorted(abs(v - middle) for v in values)
    spread = 1.4826 * away[len(away) // 2] + 0.02 * abs(middle)
    return [v for v in values if abs(v - middle) <= _OUTLIES * spread] or values


def _drift(log: ReadingLog, first: int, last: int) -> float:
    points = [
        (t, p)
        for t, p in zip(
            log.time_s[first : last + 1], log.values["pressure"][first : last + 1], strict=True
        )
        if p == p
    ]
    if len(points) < 3:
        return 0.0
    kept = set(_without_outliers([p for _, p in points]))
    points = [(t, p) for t, p in points if p in kept]
    mean_t = math.fsum(t for t, _ in points) / len(points)
    mean_p = math.fsum(p for _, p in points) / len(points)
    sxx = math.fsum((t - mean_t) ** 2 for t, _ in points)
    if sxx <= 0:
        return 0.0
    return 60 * math.fsum((t - mean_t) * (p - mean_p) for t, p in points) / sxx
