"""The clocks a job can run by: this computer's, and the practice clock that jumps."""

import os
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Protocol, runtime_checkable

from ..core.clock import Times, times_at

_LINUX_BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
_PROCESS_BOOT_ID = f"process-{os.urandom(16).hex()}"


def _boottime_ms() -> int | None:
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000
    if sys.platform == "darwin":  # from memory: this clock goes on during sleep there
        return time.clock_gettime_ns(time.CLOCK_MONOTONIC_RAW) // 1_000_000
    return None


def _boot_id() -> str:
    try:
        return _LINUX_BOOT_ID.read_text(encoding="ascii").strip()
    except OSError:
        return _PROCESS_BOOT_ID  # in doubt: every process counts as another boot


def utc_now() -> str:
    """The present second in UTC, RFC 3339, for what stands beside a journal: no wait uses it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def read_clock() -> Times:
    """The present moment from this computer's clocks."""
    return times_at(
        datetime.now().astimezone(),
        time.monotonic_ns() // 1_000_000,
        _boottime_ms(),
        _boot_id(),
    )


Rest = Callable[[float, str], str]
"""Sits out some seconds of real time under a heading; returns a word typed meanwhile, or ''."""


class Clock(Protocol):
    """Tells the time and lets time pass."""

    def now(self) -> Times:
        """This moment."""

    def wait(self, seconds: float) -> None:
        """Let ``seconds`` pass."""


@runtime_checkable
class PacedClock(Clock, Protocol):
    """A clock whose waits pass in view of a person, who may type meanwhile."""

    def wait_in_view(
        self, seconds: float, rest: Rest | None = None, said: Callable[[str], bool] | None = None
    ) -> None:
        """Let ``seconds`` pass; ``rest`` shows it, ``said`` is told each word typed meanwhile."""


class RealClock:
    """This computer's clock."""

    def now(self) -> Times:
        """Read the computer's clocks."""
        return read_clock()

    def wait(self, seconds: float) -> None:
        """Sleep."""
        time.sleep(max(0.0, seconds))


class PracticeClock:
    """Simulated time from ``start`` on: waiting costs nothing.

    ``elapsed_s`` is where it stands; the boot id says that it is practice time.
    """

    def __init__(self, start: datetime, elapsed_s: float = 0.0) -> None:
        self.start = start
        self.elapsed_s = elapsed_s

    def now(self) -> Times:
        """The simulated moment."""
        ms = round(self.elapsed_s * 1000)
        return times_at(self.start + timedelta(milliseconds=ms), ms, ms, "practice-time")

    def wait(self, seconds: float) -> None:
        """Jump ahead."""
        self.elapsed_s += max(0.0, seconds)
