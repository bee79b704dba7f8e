"""Carbon monoxide in a well-mixed room with a steady source and steady air exchange.

``V dC/dt = G + Q (C_out - C)``. Shows why extraction is asked for; it can never show that a
place is safe. A real room is not well mixed, and an engine that breathes its own exhaust
makes more CO as the oxygen falls (SAE 900499), so a steady source is not on the safe side.
Levels may be volume shares with G in m3/s, or mg/m3 with G in mg/s: one or the other.
"""

import math
from typing import Final

from .domain import not_negative, positive

_CO_G_MOL: Final = 28.01
_LITRE_MOL_25_DEGC: Final = 24.45


def room_level(
    start: float,
    outside: float,
    source_per_s: float,
    exchange_m3_s: float,
    volume_m3: float,
    time_s: float,
) -> float:
    """Level after ``time_s``, in the unit of ``start``.

    ``C_inf + (C_0 - C_inf) exp(-Q t / V)`` with ``C_inf = C_out + G/Q``; without exchange
    ``C_0 + G t / V``. ``source_per_s`` in the unit of the levels times m3/s.
    Raises ValueError on negative values.

    >>> round(room_level(0.0, 0.0, 20e3 / 3600, 0.0, 60.0, 1200.0), 1)
    111.1
    """
    _room(start, outside, source_per_s, exchange_m3_s, volume_m3)
    not_negative("time_s", time_s, "s")
    if exchange_m3_s == 0.0:
        return start + source_per_s * time_s / volume_m3
    decay = math.expm1(-exchange_m3_s * time_s / volume_m3)
    # -expm1(-x)/Q keeps its figures where Q t / V is tiny
    return start * (1.0 + decay) - (outside + source_per_s / exchange_m3_s) * decay


def time_to_level_s(
    start: float,
    outside: float,
    source_per_s: float,
    exchange_m3_s: float,
    volume_m3: float,
    level: float,
) -> float:
    """Time, s, until the room reaches ``level``; ``math.inf`` when it never does.

    Arguments as for :func:`room_level`. Raises ValueError on negative values.

    >>> round(time_to_level_s(0.0, 0.0, 1.2e-6, 3e-3, 40.0, 1.2e-4))
    4756
    """
    _room(start, outside, source_per_s, exchange_m3_s, volume_m3)
    not_negative("level", level, "(in the unit of start)")
    if level == start:
        return 0.0
    if exchange_m3_s == 0.0:
        if source_per_s == 0.0 or level < start:
            return math.inf
        return (level - start) * volume_m3 / source_per_s
    steady = outside + source_per_s / exchange_m3_s
    left = steady - level
    if left == 0.0 or (level - start) / left < 0.0:
        return math.inf
    return volume_m3 / exchange_m3_s * math.log1p((level - start) / left)


def co_ppm_to_mg_m3(level_ppm: float) -> float:
    """CO from ppm by volume to mg/m3 at 25 degC and 1 atm (times 28.01 / 24.45).

    >>> round(co_ppm_to_mg_m3(100.0), 2)
    114.56
    """
    return not_negative("level_ppm", level_ppm, "ppm") * _CO_G_MOL / _LITRE_MOL_25_DEGC


def co_mg_m3_to_ppm(level_mg_m3: float) -> float:
    """CO from mg/m3 to ppm by volume at 25 degC and 1 atm.

    >>> round(co_mg_m3_to_ppm(111.1), 1)
    97.0
    """
    return not_negative("level_mg_m3", level_mg_m3, "mg/m3") * _LITRE_MOL_25_DEGC / _CO_G_MOL


def _room(
    start: float, outside: float, source_per_s: float, exchange_m3_s: float, volume_m3: float
) -> None:
    not_negative("start", start, "(level)")
    not_negative("outside", outside, "(level)")
    not_negative("source_per_s", source_per_s, "(level times m3/s)")
    not_negative("exchange_m3_s", exchange_m3_s, "m3/s")
    positive("volume_m3", volume_m3, "m3")
