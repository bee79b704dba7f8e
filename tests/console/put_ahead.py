"""``steplatch`` on a computer whose clocks a test can put ahead: each SIGUSR1, a minute has passed.

Nothing else differs: command line, real clock, record, PINs and seal are the program's own.
"""

import signal
import sys
import time
from datetime import datetime, timedelta
from types import FrameType

MINUTE_S = 60.0
_ahead_s = 0.0
_monotonic, _monotonic_ns, _clock_ns = time.monotonic, time.monotonic_ns, time.clock_gettime_ns


class Ahead(datetime):
    """The wall clock, as far ahead as the others."""

    @classmethod
    def now(cls, tz=None):  # type: ignore[no-untyped-def]
        """The moment that it is."""
        return datetime.now(tz) + timedelta(seconds=_ahead_s)


def _minute(number: int, frame: FrameType | None) -> None:
    global _ahead_s
    _ahead_s += MINUTE_S


def main() -> int:
    """Put the clocks under the test's hand, then run the program."""
    signal.signal(signal.SIGUSR1, _minute)
    time.monotonic = lambda: _monotonic() + _ahead_s
    time.monotonic_ns = lambda: _monotonic_ns() + int(_ahead_s * 1e9)
    time.clock_gettime_ns = lambda clock: _clock_ns(clock) + int(_ahead_s * 1e9)
    import steplatch.runner.record.clocks

    steplatch.runner.record.clocks.datetime = Ahead  # type: ignore[misc]
    from steplatch.runner.cli.main import main as program

    return program()


if __name__ == "__main__":
    sys.exit(main())
