"""What every source of samples shares: it reduces them, keeps the link's state and the raw log.

Whatever is fed is written before, in the same order, so that the log says the same again.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Final

from .decoding import Decoder
from .frames import Addressing, CanFrame, Ecu
from .link import Link, Sign
from .own_identifiers import OwnRow
from .raw_log import Digest, RawLog
from .reducer import feed
from .samples import Happening, Input, LinkChange, Now, Said, Sample
from .table import Scales
from .witness import Witness

MAX_KEPT: Final = 20_000
"""Samples kept for whoever forgets to take them."""


class Recorder:
    """Feeds the reducer on ``clock_ms``, which is monotonic and begins at 0."""

    def __init__(
        self,
        clock_ms: Callable[[], int],
        addressing: Addressing,
        log: RawLog | None = None,
        own: Iterable[OwnRow] = (),
    ) -> None:
        self.witness = Witness()
        self.link = Link()
        self.clock_ms = clock_ms
        self.decoder = Decoder(addressing)
        self.samples: list[Sample] = []
        self._log = log
        self._told: list[Happening] = []
        for row in own:
            self.decoder.brought(row)
            if log:
                log.own(row)

    def sent(self, frame: CanFrame) -> int:
        """A frame is about to leave; when [ms]."""
        at_ms = self.clock_ms()
        self.decoder.sent(frame)
        if self._log:
            self._log.frame(at_ms, frame, out=True, masked=self.decoder.masked)
        self._feed(Now(at_ms))
        return at_ms

    def heard(self, frame: CanFrame) -> int:
        """A frame has come in; when [ms]."""
        at_ms = self.clock_ms()
        if self._log:
            self._log.frame(at_ms, frame, out=False, masked=self.decoder.masked)
        self._feed(Now(at_ms))
        for sample in self.decoder.heard(frame, at_ms):
            self._feed(sample)
        return at_ms

    def took(self, channel: str, milli: int, good: bool) -> None:
        """A value that came in no frame: from a logger's file."""
        sample = Sample(self.clock_ms(), channel, milli, good)
        if self._log:
            self._log.sample(sample)
        self._feed(sample)

    def engine(self, ecu: Ecu, scales: Scales) -> None:
        """Which ECU is the engine's, and the scales that it has set."""
        self.decoder.engine(ecu, scales)
        at_ms = self.clock_ms()
        if self._log:
            self._log.car(at_ms, ecu, scales)
        self._feed(Now(at_ms))

    def said(self, said: Said) -> None:
        """What people have said, from now on."""
        said = replace(said, at_ms=self.clock_ms())
        if self._log:
            self._log.said(said)
        self._feed(said)

    def sign(self, sign: Sign) -> None:
        """The link shows a sign; its state may change."""
        after = self.link.after(sign)
        if after.cause is self.link.cause:
            return
        self.link = after
        change = LinkChange(self.clock_ms(), after.state, after.cause)
        if self._log:
            self._log.link(change)
        self._feed(change)

    def pass_time(self) -> None:
        """Time has passed."""
        self._feed(Now(self.clock_ms()))

    def take_told(self) -> list[Happening]:
        """What has happened since this was last asked. Before anybody hears of it, what shows it
        is handed to the system."""
        told, self._told = self._told, []
        if told and self._log:
            self._log.flush()
        return told

    def take_samples(self) -> list[Sample]:
        """The samples since this was last asked, for readings and trends."""
        samples, self.samples = self.samples, []
        return samples

    def close(self) -> Digest | None:
        """End the log; what the record keeps of it."""
        at_ms = self.clock_ms()
        self._feed(Now(at_ms))
        log, self._log = self._log, None
        return log.close(at_ms) if log else None

    def _feed(self, item: Input) -> None:
        if isinstance(item, Sample):
            self.samples.append(item)
            del self.samples[:-MAX_KEPT]
        self.witness, told = feed(self.witness, item)
        self._told += told
