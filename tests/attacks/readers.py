"""Every command that reads a job, run on a folder that somebody made: no traceback, no hang.

Run in this process, so that thousands fit in a minute; the memory is that of the whole process.
"""

import contextlib
import io
import signal
import time
import traceback
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from steplatch.runner.cli.main import main
from steplatch.runner.input.findings import BadFile  # noqa: F401 - loaded before time is taken

LIMIT_S = 2.0
READERS: dict[str, tuple[str, ...]] = {
    "audit": ("audit", "JOB"),
    "sheet": ("sheet", "JOB"),
    "export": ("export", "JOB"),
    "debrief": ("debrief", "JOB", "--now"),
    "jobs": ("jobs", "JOB"),
}


class TooLong(BaseException):
    """A command has not ended in time."""


@dataclass(frozen=True, slots=True)
class Ran:
    """How one command ended: its exit code, what it said, its time; ``trace`` where it crashed."""

    command: str
    code: int | None
    said: str
    seconds: float
    trace: str = ""

    @property
    def held(self) -> bool:
        """Whether it ended with words and in time."""
        return self.code is not None and not self.trace and self.seconds <= LIMIT_S


@contextlib.contextmanager
def _at_most(seconds: float) -> Iterator[None]:
    def late(*_: object) -> None:
        raise TooLong

    before = signal.signal(signal.SIGALRM, late)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def run(name: str, words: list[str], limit_s: float = 5 * LIMIT_S) -> Ran:
    """One command, its output taken; never raises for what the command does."""
    out = io.StringIO()
    begun = time.monotonic()
    code, trace = None, ""
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out), _at_most(limit_s):
            code = main(words)
    except SystemExit as left:
        code = left.code if isinstance(left.code, int) else 1
    except TooLong:
        trace = "it does not end"
    except BaseException:
        trace = traceback.format_exc()
    return Ran(name, code, out.getvalue(), time.monotonic() - begun, trace)


def read_all(data: Path, job: str, readers: dict[str, tuple[str, ...]] | None = None) -> list[Ran]:
    """Every reading command on one job."""
    return [
        run(name, ["--data", str(data), *(job if w == "JOB" else w for w in words)])
        for name, words in (readers or READERS).items()
    ]
