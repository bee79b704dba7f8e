"""Moments in the proof: nothing too old, one thing just too old, or the timers due.

The search puts them before a command at will, so every real course of time is among those
tried: a clock set forward or back, or a boot in between, is "all that perishes is too old"
(``ALL_OLD``), which is what ``decide`` makes of a gap that nobody can measure.
"""

from dataclasses import replace

from steplatch.safety.effects import LASTS_S

from ..core.clock import Times
from ..core.engine import ROAD_PERMIT_S
from ..core.job import Log

NOW_MS = 10**9
AT = Times("2026-01-01T00:00:00.000Z", "+00:00", NOW_MS, NOW_MS, "proof")
LATER = replace(AT, monotonic_ms=NOW_MS + 1, boottime_ms=NOW_MS + 1)
NEVER_MS = 1 << 60
ALL_OLD = "everything"

_FRESH = dict.fromkeys((*LASTS_S, "permit"), NOW_MS)
_DUE = {"soak": NOW_MS, "run_on": NOW_MS, "zero": 0, "hold_from": 0, "run_from": 0}
_NEVER = {"soak": NEVER_MS, "run_on": NEVER_MS, "zero": 0, "hold_from": 0, "run_from": 0}
_OLD = {fact: _FRESH | {fact: NOW_MS - LASTS_S.get(fact, ROAD_PERMIT_S) * 1000} for fact in _FRESH}
_OLD[ALL_OLD] = {fact: ages[fact] for fact, ages in _OLD.items()}


def aged(log: Log, fact: str) -> Log:
    """The log at a moment when ``fact`` (or the permit, or all) has just become too old."""
    return _at(log, _OLD[fact], _NEVER)


def timed(log: Log, due: bool = False) -> Log:
    """The log at a moment when nothing is too old; the timers are due or never will be."""
    return _at(log, _FRESH, _DUE if due else _NEVER)


def _at(log: Log, set_ms: dict[str, int], timers: dict[str, int]) -> Log:
    return Log(
        people=log.people,
        last=AT,
        waited_ms=NOW_MS,
        aged_ms=NOW_MS,
        set_ms=set_ms,
        timers=timers,
        numbers=log.numbers,
    )
