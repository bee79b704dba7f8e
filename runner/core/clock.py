"""Times as the record keeps them, and how much a gap between two of them may count.

Waits credit the least, ages count the most. Wall time (``utc``) is for people to read; no rule
uses it, but a session asks again where it parts from the running clocks (``parted_ms``). Two times
of the same boot are compared by the computer's running clocks; another boot, or a clock that went
back, credits nothing to a wait and leaves an age unknown.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

from steplatch.safety.catalogue import _


@dataclass(frozen=True, slots=True)
class Times:
    """One moment, as five values.

    utc: RFC 3339 in UTC with milliseconds, ``2025-01-31T14:05:09.123Z``.
    zone: the workshop's offset from UTC at that moment, ``+01:00``.
    monotonic_ms: time the computer has run; stands still while it sleeps.
    boottime_ms: the same, but goes on while it sleeps; None where the system has no such clock.
    boot: id of this boot; an id of its own for each process where the system gives none.
    """

    utc: str
    zone: str
    monotonic_ms: int
    boottime_ms: int | None
    boot: str


def times_at(moment: datetime, monotonic_ms: int, boottime_ms: int | None, boot: str) -> Times:
    """Build ``Times`` from an aware ``datetime``; raises ValueError for one without a zone."""
    offset = moment.utcoffset()
    if offset is None:
        raise ValueError(_("a moment without a time zone is ambiguous; hand in an aware datetime"))
    utc = moment.astimezone(UTC)
    minutes = round(offset.total_seconds() / 60)
    sign = "-" if minutes < 0 else "+"
    return Times(
        utc=utc.strftime("%Y-%m-%dT%H:%M:%S.") + f"{utc.microsecond // 1000:03d}Z",
        zone=f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}",
        monotonic_ms=monotonic_ms,
        boottime_ms=boottime_ms,
        boot=boot,
    )


def wait_credit_ms(begun: Times, now: Times) -> int:
    """How much of a wait may be credited between two moments, in ms: never too much.

    Zero across a boot or when a clock went back. A computer that slept credits only the time
    that it was awake.
    """
    if begun.boot != now.boot:
        return 0
    gaps = [now.monotonic_ms - begun.monotonic_ms]
    if begun.boottime_ms is not None and now.boottime_ms is not None:
        gaps.append(now.boottime_ms - begun.boottime_ms)
    return max(0, min(gaps))


def parted_ms(then: Times, now: Times) -> int:
    """By how much more the wall clock went on than the running clock, in ms; 0 where that cannot be
    told. A virtual machine that was paused counts nothing meanwhile, and its wall clock is set
    right afterwards. The other way round nothing is too fresh."""
    if then.boot != now.boot or then.boottime_ms is None or now.boottime_ms is None:
        return 0
    wall = datetime.fromisoformat(now.utc) - datetime.fromisoformat(then.utc)
    passed_ms = now.boottime_ms - then.boottime_ms
    return max(0, round(wall.total_seconds() * 1000) - passed_ms)


def age_ms(then: Times, now: Times) -> int | None:
    """How old something is, in ms: never too little. None: cannot be told, so it has lapsed.

    None across a boot, when a clock went back, and where the system has no clock that goes on
    during sleep.
    """
    if then.boot != now.boot or then.boottime_ms is None or now.boottime_ms is None:
        return None
    awake = now.monotonic_ms - then.monotonic_ms
    passed = now.boottime_ms - then.boottime_ms
    if awake < 0 or passed < 0:
        return None
    return max(awake, passed)
