"""Every number by which a sample becomes a fact, a trip or an alarm. All are design choices.

No standard that could be read gives debounce times for an engine's speed at a service bay; what
the numbers do was measured by simulation (``tests/live/MEASURED.md``). Speeds in thousandths of
1/min, times in ms, as the samples have them.
"""

from typing import Final

RPM: Final = 1000
"""Thousandths in one 1/min."""

GRID_MS: Final = 100
"""Time passes for the reducer in these steps, so that a replay passes the same ones."""

RUNS: Final = 400 * RPM
"""From here on an engine runs: the conformance test (SAE J1699-3) takes 300 to 2000 at idle, and
a starter turns a diesel at 150 to 300 (common practice, no source)."""
RUNS_APART_MS: Final = 200
"""Two such samples, so far apart, make it a fact."""
NO_LONGER_RUNS: Final = 250 * RPM
"""Below this it has stopped or is stopping; 150 under the other so that it cannot flutter."""
STOPPED_MS: Final = 2000
"""All samples zero for so long, and answered: it stands still."""
DEAD_RUN_TIME: Final = 2 * 1000
"""Run time that counts on by so many thousandths of a second while the speed says zero: the
speed is dead. (It may stand still at its last value: J1979 lets it freeze at a stall.)"""

OVER_TWICE: Final = 50 * RPM
"""Over the ceiling by so much in two samples in a row: over it."""
OVER_ONCE: Final = 250 * RPM
"""By so much in one sample."""

RUN_TIME_STANDS_MS: Final = 2500
"""The run time unchanged for so long beside a speed of zero: the engine does stand."""
RUN_TIME_WAIT_MS: Final = 10_000
"""So long a standstill that is said to run waits for the run time to tell a dead speed."""

BAND_MS: Final = 2000
"""Held so long inside the band, or at idle, makes it a fact."""
IDLE_OVER: Final = 100 * RPM
"""At idle: not more than this over the vehicle's idle."""

CLIMB: Final = 400 * RPM
CLIMB_MS: Final = 1000
"""So much within that time, twice in a row, over idle and band, with nobody permitted to raise."""
PEDAL_AT_REST: Final = 5 * 1000
"""Pedal at or under 5 %: nobody presses it."""

SAG_MEDIAN_MS: Final = 5000
SAG_TWICE_PERCENT: Final = 88
"""Under this share of the median of the last seconds in two of three samples: it sags."""
SAG_ONCE_PERCENT: Final = 75
SAG_OVER_PERCENT: Final = 95
"""Back over this share the alarm may come again."""
SAG_REFRESH_MS: Final = 200
"""The vehicle must renew its speed at least so often, measured, for the sag alarm to help."""
SAG_IDLE_SD: Final = 25 * RPM
SAG_IDLE_MS: Final = 10_000
"""... and its idle may not scatter more than this over so long."""
REFRESH_CHANGES: Final = 8
"""Changes of a value that must have been seen before its refresh counts as measured."""
REFRESH_KEPT: Final = 15

AGE_MS: Final[dict[str, int]] = {
    "speed_rpm": 2000,
    "module_v": 2000,
    "road_km_h": 2000,
    "pedal_percent": 2000,
    "delta_pa": 3000,
    "air_g_s": 3000,
    "air_a_g_s": 3000,
    "exhaust_kg_h": 3000,
    "fuel_g_s": 3000,
    "exhaust_11_degc": 3000,
    "exhaust_12_degc": 3000,
    "exhaust_13_degc": 3000,
    "exhaust_14_degc": 3000,
    "filter_in_degc": 3000,
    "filter_out_degc": 3000,
    "burning": 10_000,
    "run_time_s": 3000,
}
"""A value older than this says nothing any more."""
AGE_ELSE_MS: Final = 30_000
AGE_GUN_OPEN_MS: Final = 500
"""For the engine speed while the gun is open."""

FROZEN_MS: Final = 10_000
FROZEN_AFTER_MS: Final = 3000
"""The speed must have moved so long ago: a value that stood with the engine needs a moment."""
FROZEN_SPEED_MOVES: Final = 100 * RPM
"""A value that has not moved for so long while the speed moved by so much does not measure."""
FROZEN_CHANNELS: Final = frozenset({"delta_pa", "air_g_s", "air_a_g_s", "module_v"})
"""Temperatures move in whole degrees and are left out."""
FROZEN_SPEED_MS: Final = 10_000
"""A running engine's speed that stays bit for bit the same for so long is no measurement."""

BURNING_NO_MS: Final = 60_000
"""The flag must be clear for so long before it says no."""
CHARGING: Final = 13_200
CHARGING_MS: Final = 5000
BATTERY_LOW: Final = 12_000
BATTERY_LOW_MS: Final = 5000
