"""The growing CSV file of any logger, as a second source of the same samples.

Read with the same rules as a log that is handed in (``runner.readings.logs``): header, units,
column map. A row counts from when it was found here, not from its own time: how late the logger
writes is not known, so a slow logger, or one that writes many rows at once, shows as a slow
refresh, and the sag alarm stays off. Nothing is sent: whether the vehicle is asked is the logger's.
"""

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Final

from ..readings.log_columns import ColumnMap
from ..readings.logs import BadLog, ReadingLog, read_log
from .connection import Message
from .frames import Addressing
from .link import Cause, Link, Sign
from .raw_log import Digest, RawLog
from .recorder import Recorder
from .samples import Happening, Said
from .table import table
from .witness import Witness

SILENT_MS: Final = 3000
MAX_BATCH: Final = 1_000_000
"""Bytes taken at once; a file that grows faster is no log of a vehicle."""

CHANNELS: Final[dict[str, tuple[str, Fraction, Fraction]]] = {
    "speed": ("speed_rpm", Fraction(1000), Fraction(0)),
    "pressure": ("delta_pa", Fraction(1000), Fraction(0)),
    "air": ("air_g_s", Fraction(1_000_000), Fraction(0)),
    "exhaust": ("filter_in_degc", Fraction(1000), Fraction(-273_150)),
    "coolant": ("coolant_degc", Fraction(1000), Fraction(-273_150)),
    "manifold": ("manifold_kpa", Fraction(1), Fraction(0)),
    "intake": ("intake_degc", Fraction(1000), Fraction(-273_150)),
}
"""Quantity of a log: channel, thousandths of its unit in one SI unit, and what is added."""


class GrowingCsv:
    """Follows ``path`` from its present end on. ``messages`` may be put to from another thread."""

    def __init__(
        self,
        path: Path,
        clock_ms: Callable[[], int],
        columns: ColumnMap | None = None,
        log: RawLog | None = None,
        cylinders: int | None = None,
    ) -> None:
        self.messages: SimpleQueue[Message] = SimpleQueue()
        self.recorder = Recorder(clock_ms, Addressing.BITS_11, log)
        self.problem = ""
        self.vin: str | None = None
        self._path = path
        self._columns = columns
        self._cylinders = cylinders
        self._header = b""
        self._at = 0
        self._rest = b""
        self._heard_ms = clock_ms()
        self._limits = {
            field.channel: (field.likely_low * 1000, field.likely_high * 1000)
            for identifier in table().values()
            for field in identifier.fields
        }

    @property
    def link(self) -> Link:
        """The link as it stands."""
        return self.recorder.link

    @property
    def witness(self) -> Witness:
        """What is known from the vehicle now."""
        return self.recorder.witness

    def step(self) -> list[Happening]:
        """Take what has been written since; what has happened meanwhile."""
        while True:
            try:
                message = self.messages.get_nowait()
            except Empty:
                break
            if isinstance(message, Said):
                self.recorder.said(message)
        self._read()
        self.recorder.pass_time()
        return self.recorder.take_told()

    def close(self) -> tuple[list[Happening], Digest | None]:
        """Stop following."""
        self.recorder.sign(Sign.LEFT)
        digest = self.recorder.close()
        return self.recorder.take_told(), digest

    def _read(self) -> None:
        try:
            with self._path.open("rb") as file:
                if not self._header:
                    self._header = _first_line(file.read(MAX_BATCH))
                    if not self._header:
                        return
                    self._at = file.seek(0, 2)
                    self.recorder.sign(Sign.OPENED)
                size = file.seek(0, 2)
                if size < self._at:  # another file under the same name
                    self._header, self._rest = b"", b""
                    self.recorder.sign(Sign.FAILED)
                    return
                file.seek(self._at)
                new = file.read(MAX_BATCH)
        except OSError as error:
            self.problem = str(error)
            failed = self.link.cause not in (Cause.NOT_ASKED, Cause.CANNOT_OPEN)
            self.recorder.sign(Sign.FAILED if failed else Sign.CANNOT_OPEN)
            return
        self._at += len(new)
        *lines, self._rest = (self._rest + new).split(b"\n")
        rows = b"\n".join(line for line in lines if line.strip())
        now = self.recorder.clock_ms()
        if rows:
            self._heard_ms = now
            self._rows(rows)
        elif now - self._heard_ms > SILENT_MS:
            self.recorder.sign(Sign.SILENT)

    def _rows(self, rows: bytes) -> None:
        name = self._path.name
        try:
            log = read_log(
                self._header + b"\n" + rows, name, self._columns, cylinders=self._cylinders
            )
        except BadLog as bad:
            self.problem = str(bad)
            self.recorder.sign(Sign.GARBLED)
            return
        if self._feed(log):
            self.recorder.sign(Sign.ANSWERED)

    def _feed(self, log: ReadingLog) -> bool:
        if "speed" not in log.values:
            self.recorder.sign(Sign.NO_SPEED)
            return False
        if self.link.cause is not Cause.ANSWERS:  # awake first: what follows is heard awake
            self.recorder.sign(Sign.ANSWERED)
        for row in range(len(log.time_s)):
            for quantity, (channel, factor, add) in CHANNELS.items():
                value = log.values[quantity][row] if quantity in log.values else float("nan")
                if value == value:
                    exact = Fraction(value) * factor + add
                    low, high = self._limits[channel]
                    self.recorder.took(channel, round(exact), low <= exact <= high)
        return True


def _first_line(data: bytes) -> bytes:
    """The header: the first line that is not blank and has been written to its end."""
    for line in data.split(b"\n")[:-1]:
        if line.strip():
            return line.rstrip(b"\r")
    return b""
