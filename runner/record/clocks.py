"""The clocks a job can run by: this computer's, and the practice clock that jumps."""

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Protocol, runtime_checkable

from ..core.clock import Times, times_at
from ..system import machine


def utc_now() -> str:
    """The present second in UTC, RFC 3339, for what stands beside a journal: no wait uses it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def read_clock() -> Times:
    """The present moment from this computer's clocks."""
    return times_at(
        datetime.now().astimezone(),
        time.monotonic_ns() // 1_000_000,
        machine.awake_and_asleep_ms(),
        machine.boot_id(),
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
