"""The link to one vehicle, step by step: opens, surveys, polls, decodes, reduces, keeps the log.

One question at a time, one reader, no thread of its own: ``step`` does a little and comes back.
Questions go out only while somebody renews the need for them; the port is closed as soon as the
need ends.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from queue import Empty, SimpleQueue
from typing import Final, TypeAlias

from .adapter import Port, PortLost
from .answers import Refusal
from .exchange import Exchange, Result
from .frames import Addressing
from .link import Cause, Link, Sign
from .own_identifiers import OwnRow
from .polling import INTERVAL_MS, SILENT_MS, Poller
from .raw_log import Digest, RawLog
from .recorder import Recorder
from .requests import Ask, can_frame
from .samples import Happening, Said
from .survey import Car, NoCar, Survey, survey
from .witness import Witness

NEED_MS: Final = 1500
"""A need that is not renewed for so long has ended; no question leaves 2 s after its end."""
REOPEN_MS: Final = 2000
LISTEN_S: Final = 0.02
MAX_FRAMES: Final = 64
_REFUSALS: Final = 3


class Quiet(Enum):
    """Why nothing may be asked."""

    NO_NEED = Sign.NEED_ENDED
    KEY_BOXED = Sign.KEY_BOXED
    LEFT = Sign.LEFT


@dataclass(frozen=True, slots=True)
class Need:
    """Somebody needs values now; good for ``NEED_MS``."""


Message: TypeAlias = Need | Quiet | Said

_NO_CAR: Final = {
    NoCar.SILENT: Sign.SILENT,
    NoCar.NOT_NOW: Sign.REFUSED_NOW,
    NoCar.LOCKED: Sign.REFUSED_LOCKED,
    NoCar.NO_SPEED: Sign.NO_SPEED,
}


class Connection:
    """``open_port`` opens the adapter or raises PortLost; ``clock_ms`` is monotonic, from 0.

    ``messages`` may be put to from another thread; ``step`` belongs to one.
    """

    def __init__(
        self,
        open_port: Callable[[], Port],
        clock_ms: Callable[[], int],
        addressing: Addressing = Addressing.BITS_11,
        log: RawLog | None = None,
        interval_ms: int = INTERVAL_MS,
        own: tuple[OwnRow, ...] = (),
    ) -> None:
        self.messages: SimpleQueue[Message] = SimpleQueue()
        self.own = own
        self.recorder = Recorder(clock_ms, addressing, log, own)
        self.car: Car | None = None
        self.questions = 0
        self.last_ask_ms: int | None = None
        self._open_port = open_port
        self._clock_ms = clock_ms
        self._addressing = addressing
        self._interval_ms = interval_ms
        self._quiet: Quiet = Quiet.NO_NEED
        self._need_until_ms = 0
        self._port: Port | None = None
        self._open_again_ms = 0
        self._survey: Survey | None = None
        self._survey_again_ms = 0
        self._waiting: Ask | None = None
        self._poller: Poller | None = None
        self._exchange: Exchange | None = None
        self._traffic = False
        self._refused = 0

    @property
    def link(self) -> Link:
        """The link as it stands."""
        return self.recorder.link

    @property
    def witness(self) -> Witness:
        """What is known from the vehicle now."""
        return self.recorder.witness

    @property
    def vin(self) -> str | None:
        """The chassis number of the vehicle that was surveyed."""
        return self.car.vin if self.car else None

    def step(self, wait_s: float = LISTEN_S) -> list[Happening]:
        """Do what is due, listen for ``wait_s`` at most; what has happened meanwhile."""
        self._take_messages()
        now = self._clock_ms()
        if now >= self._need_until_ms:
            self._be_quiet()
        elif self._port is None:
            if now >= self._open_again_ms:
                self._open()
        else:
            try:
                self._ask()
                self._listen(wait_s)
            except PortLost as lost:
                self._lost(lost.sign)
        self.recorder.pass_time()
        return self.recorder.take_told()

    def close(self) -> tuple[list[Happening], Digest | None]:
        """Stop asking, close the port and the log: what has happened by that, and what the
        record keeps of the log."""
        self._quiet = Quiet.LEFT
        self._need_until_ms = 0
        self._be_quiet()
        digest = self.recorder.close()
        return self.recorder.take_told(), digest

    # -- need and port ----------------------------------------------------------------------

    def _take_messages(self) -> None:
        while True:
            try:
                message = self.messages.get_nowait()
            except Empty:
                return
            if isinstance(message, Need):
                self._need_until_ms = self._clock_ms() + NEED_MS
                self._quiet = Quiet.NO_NEED
            elif isinstance(message, Quiet):
                self._need_until_ms, self._quiet = 0, message
            else:
                self.recorder.said(message)

    def _be_quiet(self) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None
        self._forget()
        if self.link.cause is not Cause.NOT_ASKED:
            self.recorder.sign(self._quiet.value)

    def _open(self) -> None:
        try:
            self._port = self._open_port()
        except PortLost as lost:
            self._lost(lost.sign)
            return
        self.recorder.sign(Sign.OPENED)
        self._survey_again_ms = 0

    def _lost(self, sign: Sign) -> None:
        if self._port is not None:
            self._port.close()
            self._port = None
        self._forget()
        self._open_again_ms = self._clock_ms() + REOPEN_MS
        self.recorder.sign(sign)

    def _forget(self) -> None:
        """What was known of the vehicle is asked anew: the lead may hang on another one."""
        self._survey = self._poller = self._exchange = self._waiting = None
        self._traffic = False
        self._refused = 0

    # -- questions and answers --------------------------------------------------------------

    def _ask(self) -> None:
        now = self._clock_ms()
        if self._exchange is not None:
            self._exchange.pass_time(now)
            if self._exchange.result is not None:
                result, self._exchange = self._exchange.result, None
                self._take_result(result)
        if self._exchange is None:
            self._next(now)
        if self._exchange is not None:
            self._send()

    def _next(self, now: int) -> None:
        if self._poller is not None:
            ask = self._poller.next_ask(now, self.witness.said.gun_open)
            if ask is not None:
                want = self._poller.car.engine
                self._exchange = Exchange(ask, self._addressing, now, want)
            return
        if self._survey is None and now >= self._survey_again_ms:
            self._survey = survey()
            self._waiting = next(self._survey)
        rested = self.last_ask_ms is None or now - self.last_ask_ms >= self._interval_ms
        if self._waiting is not None and rested:
            self._exchange = Exchange(self._waiting, self._addressing, now)
            self._waiting = None

    def _send(self) -> None:
        assert self._port is not None and self._exchange is not None
        for out in self._exchange.take_outgoing():
            self.last_ask_ms = self.recorder.sent(can_frame(out, self._addressing))
            self._port.send(out)
            self.questions += isinstance(out, Ask)

    def _listen(self, wait_s: float) -> None:
        assert self._port is not None
        for taken in range(MAX_FRAMES):  # a busy bus must not keep the rest from its turn
            frame = self._port.receive(0.0 if taken else wait_s)
            if frame is None:
                return
            if self._addressing.ecu_of(frame) is None:
                self._traffic = True
            else:
                at_ms = self.recorder.heard(frame)
                if self._exchange is not None:
                    self._exchange.take(frame, at_ms)
                    self._send()
                    if self._exchange.result is not None:
                        return

    def _take_result(self, result: Result) -> None:
        if self._poller is not None:
            self._poller.take(result)
            self._polled(self._poller, result)
            return
        assert self._survey is not None
        try:
            self._waiting = self._survey.send(result)
        except StopIteration as end:
            self._survey = None
            self._surveyed(end.value)

    def _surveyed(self, found: Car | NoCar) -> None:
        if isinstance(found, NoCar):
            self._survey_again_ms = self._clock_ms() + SILENT_MS
            silent = found is NoCar.SILENT and self._traffic
            self.recorder.sign(Sign.SILENT_WITH_TRAFFIC if silent else _NO_CAR[found])
            return
        self.car = found
        self.recorder.engine(found.engine, found.scales)
        first_ms = (self.last_ask_ms or 0) + self._interval_ms
        self._poller = Poller(found, self._interval_ms, first_ms, own=self.own)
        self.recorder.sign(Sign.ANSWERED)

    def _polled(self, poller: Poller, result: Result) -> None:
        why = result.refusals.get(poller.car.engine)
        self._refused = self._refused + 1 if why is not None else 0
        if poller.asleep:
            self.recorder.sign(Sign.SILENT)
        elif poller.car.engine in result.answers:
            self.recorder.sign(Sign.ANSWERED)
        elif self._refused >= _REFUSALS:
            now = why in (Refusal.CONDITIONS_NOT_CORRECT, Refusal.BUSY, Refusal.PENDING)
            self.recorder.sign(Sign.REFUSED_NOW if now else Sign.REFUSED_LOCKED)
