"""One question and what comes back, without input or output.

A question is on its way alone: the next one waits. An ECU has 50 ms for its first frame (P2,
ISO 14229-2) and, once it has said "pending", 5 s (P2*); here 200 ms are allowed, because a slow
answer is worth more than a fast silence (design choice). "Busy" is asked again after 200 ms,
three times.
"""

from dataclasses import dataclass, field
from typing import Final

from .answers import NEGATIVE, POSITIVE, Refusal, refused
from .frames import Addressing, CanFrame, Ecu
from .requests import Ask, CurrentData, DataByIdentifier, Outgoing, frame_of
from .transport import Begun, Broken, Fault, FlowControl, Message, Receiver

WAIT_MS: Final = 200
PENDING_MS: Final = 5000
MAX_PENDING: Final = 10
BUSY_AGAIN_MS: Final = 200
MAX_BUSY: Final = 3


@dataclass(slots=True)
class Result:
    """What a question brought: whole answers, refusals and lost answers by ECU."""

    ask: Ask
    answers: dict[Ecu, bytes] = field(default_factory=dict)
    refusals: dict[Ecu, Refusal] = field(default_factory=dict)
    faults: dict[Ecu, Fault] = field(default_factory=dict)
    took_ms: int = 0

    @property
    def silent(self) -> bool:
        """True where nothing at all came back."""
        return not (self.answers or self.refusals or self.faults)


class Exchange:
    """The question ``ask`` under way. ``want`` ends it as soon as that ECU has answered; a
    question to all without it waits for every answer."""

    def __init__(self, ask: Ask, addressing: Addressing, at_ms: int, want: Ecu | None = None):
        self.result: Result | None = None
        self._so_far = Result(ask)
        self._want = ask.ecu if want is None else want
        self._payload = frame_of(ask.request).payload
        self._receiver = Receiver(addressing)
        self._began_ms = at_ms
        self._deadline_ms = at_ms + WAIT_MS
        self._again_ms: int | None = None
        self._pending = 0
        self._busy = 0
        self._out: list[Outgoing] = [ask]

    def take_outgoing(self) -> list[Outgoing]:
        """What has to be sent now, in order."""
        out, self._out = self._out, []
        return out

    def take(self, frame: CanFrame, at_ms: int) -> None:
        """A frame came in."""
        for item in self._receiver.take(frame, at_ms):
            if isinstance(item, FlowControl):
                self._out.append(item)
            elif isinstance(item, Begun):
                self._deadline_ms = max(self._deadline_ms, at_ms + WAIT_MS)
            elif isinstance(item, Message):
                self._message(item, at_ms)
            else:
                self._broken(item, at_ms)

    def pass_time(self, at_ms: int) -> None:
        """Time has passed: gives up what is overdue."""
        if self.result is not None:
            return
        for broken in self._receiver.expire(at_ms):
            self._broken(broken, at_ms)
        if self._again_ms is not None and at_ms >= self._again_ms:
            self._again_ms = None
            self._deadline_ms = at_ms + WAIT_MS
            self._out.append(self._so_far.ask)
        waiting = self._want is not None and self._receiver.waits_for(self._want)
        if self._again_ms is None and at_ms > self._deadline_ms and not waiting:
            self._end(at_ms)

    def _message(self, message: Message, at_ms: int) -> None:
        if self.result is not None:
            return
        negative = refused(message.payload)
        if negative is not None:
            if negative.service == self._payload[0]:
                self._refused(message.ecu, negative.why, at_ms)
            return
        if not self._answers(message.payload):
            return
        self._so_far.answers[message.ecu] = message.payload
        self._so_far.refusals.pop(message.ecu, None)
        self._so_far.faults.pop(message.ecu, None)
        if message.ecu == self._want:
            self._end(at_ms)

    def _answers(self, payload: bytes) -> bool:
        """Whether a message answers this question and no other one, asked before and late."""
        if payload[0] != self._payload[0] | POSITIVE or payload[0] == NEGATIVE:
            return False
        request = self._so_far.ask.request
        if isinstance(request, CurrentData):
            return len(payload) > 1 and payload[1] in request.pids
        if isinstance(request, DataByIdentifier):
            return int.from_bytes(payload[1:3], "big") in request.dids
        rest = self._payload[1:2]
        return not rest or payload[1:2] == rest

    def _refused(self, ecu: Ecu, why: Refusal, at_ms: int) -> None:
        if why is Refusal.PENDING and self._pending < MAX_PENDING:
            self._pending += 1
            self._deadline_ms = at_ms + PENDING_MS
            return
        if why is Refusal.BUSY and self._busy < MAX_BUSY:
            self._busy += 1
            self._again_ms = at_ms + BUSY_AGAIN_MS
            return
        self._so_far.refusals[ecu] = why
        if ecu == self._want:
            self._end(at_ms)

    def _broken(self, broken: Broken, at_ms: int) -> None:
        self._so_far.faults[broken.ecu] = broken.fault
        if broken.ecu == self._want and broken.fault is not Fault.GIVEN_UP:
            self._end(at_ms)

    def _end(self, at_ms: int) -> None:
        self._so_far.took_ms = at_ms - self._began_ms
        self.result = self._so_far
