"""The two clocks a job can run by: this computer's, and the practice clock that jumps."""

import time
from datetime import datetime, timedelta
from typing import Protocol

from runner.clock import Times, read_clock, times_at


class Clock(Protocol):
    """Tells the time and lets time pass."""

    def now(self) -> Times:
        """This moment."""

    def wait(self, seconds: float) -> None:
        """Let ``seconds`` pass."""


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
