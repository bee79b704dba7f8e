"""ISO 15765-2 without input or output: frames in, messages out.

What is sent is one single frame, or the flow control that lets an ECU go on. There is no way
to send a longer message: ``SingleFrame`` refuses more than 7 bytes, and nothing here cuts a
message into frames. What is received may be up to 4095 bytes from up to eight ECUs at once.

Source: ISO 15765-2 as quoted in public documentation and kernel and library source; held
against the library can-isotp as the other side in the tests. Unexpected frames are treated as
its table of unexpected arrivals says: a new single or first frame ends what was under way.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Final, TypeAlias

from .frames import MAX_DATA, MAX_ECUS, Addressing, CanFrame, Ecu

MAX_SINGLE: Final = 7
CONSECUTIVE_MS: Final = 1000
"""Longest wait for the next consecutive frame (N_Cr; 1000 ms in two public stacks)."""
PAD: Final = 0x55
"""What fills own frames up to eight bytes, as ISO 15765-4 wants; any value may stand there."""

_GO_ON: Final = bytes((0x30, 0x00, 0x00))
_OVERFLOW: Final = bytes((0x32, 0x00, 0x00))


@dataclass(frozen=True, slots=True)
class SingleFrame:
    """A message of 1 to 7 bytes, the only one that can be sent. ValueError for any other."""

    payload: bytes

    def __post_init__(self) -> None:
        """Refuse what does not fit one frame."""
        if not 1 <= len(self.payload) <= MAX_SINGLE:
            raise ValueError(f"{len(self.payload)} bytes: a single frame holds 1 to {MAX_SINGLE}")

    def data(self) -> bytes:
        """The eight data bytes."""
        return _padded(bytes((len(self.payload),)) + self.payload)


@dataclass(frozen=True, slots=True)
class FlowControl:
    """Tells ``ecu`` to send the rest at once, or that its message is too long to be taken."""

    ecu: Ecu
    too_long: bool = False

    def data(self) -> bytes:
        """The eight data bytes: block size 0, no separation time."""
        return _padded(_OVERFLOW if self.too_long else _GO_ON)


class Fault(Enum):
    """Why a message did not come through."""

    LATE = "late"
    OUT_OF_ORDER = "out_of_order"
    CUT_SHORT = "cut_short"
    TOO_LONG = "too_long"
    GIVEN_UP = "given_up"


@dataclass(frozen=True, slots=True)
class Message:
    """A whole message from one ECU."""

    ecu: Ecu
    payload: bytes


@dataclass(frozen=True, slots=True)
class Begun:
    """The first frame of a longer message came: the ECU has answered in time."""

    ecu: Ecu


@dataclass(frozen=True, slots=True)
class Broken:
    """A message from ``ecu`` that is lost, and why."""

    ecu: Ecu
    fault: Fault


Received: TypeAlias = Message | Begun | Broken | FlowControl


@dataclass(slots=True)
class _Partial:
    length: int
    got: bytearray
    sequence: int
    heard_ms: int


class Receiver:
    """Puts messages together, one at a time for each ECU. Time is handed in, in ms."""

    def __init__(self, addressing: Addressing) -> None:
        self._addressing = addressing
        self._partial: dict[Ecu, _Partial] = {}

    def take(self, frame: CanFrame, at_ms: int) -> Iterator[Received]:
        """What ``frame`` brings. A ``FlowControl`` among it has to be sent at once."""
        ecu = self._addressing.ecu_of(frame)
        if ecu is None or not frame.data:
            return
        kind = frame.data[0] >> 4
        if kind == 0:
            yield from self._single(ecu, frame.data)
        elif kind == 1:
            yield from self._first(ecu, frame.data, at_ms)
        elif kind == 2:
            yield from self._consecutive(ecu, frame.data, at_ms)
        # 3 is flow control for a sender of long messages, which this is not; 4 to F are reserved.

    def expire(self, at_ms: int) -> list[Broken]:
        """The messages whose next frame is overdue; they are given up."""
        late = [e for e, p in self._partial.items() if at_ms - p.heard_ms > CONSECUTIVE_MS]
        for ecu in late:
            del self._partial[ecu]
        return [Broken(ecu, Fault.LATE) for ecu in late]

    def waits_for(self, ecu: Ecu) -> bool:
        """True while a message from ``ecu`` is under way."""
        return ecu in self._partial

    def _single(self, ecu: Ecu, data: bytes) -> Iterator[Received]:
        length = data[0] & 0x0F
        if not 1 <= length <= MAX_SINGLE:
            return
        yield from self._give_up(ecu)
        if length > len(data) - 1:
            yield Broken(ecu, Fault.CUT_SHORT)
            return
        yield Message(ecu, bytes(data[1 : 1 + length]))

    def _first(self, ecu: Ecu, data: bytes, at_ms: int) -> Iterator[Received]:
        if len(data) < MAX_DATA:
            return
        length = (data[0] & 0x0F) << 8 | data[1]
        if 0 < length <= MAX_SINGLE:
            return  # the standard ignores a first frame that a single frame could have been
        yield from self._give_up(ecu)
        if length == 0 or len(self._partial) >= MAX_ECUS:  # 0: a 32-bit length follows
            yield FlowControl(ecu, too_long=True)
            yield Broken(ecu, Fault.TOO_LONG)
            return
        self._partial[ecu] = _Partial(length, bytearray(data[2:]), 1, at_ms)
        yield Begun(ecu)
        yield FlowControl(ecu)

    def _consecutive(self, ecu: Ecu, data: bytes, at_ms: int) -> Iterator[Received]:
        partial = self._partial.get(ecu)
        if partial is None:
            return
        if data[0] & 0x0F != partial.sequence:
            del self._partial[ecu]
            yield Broken(ecu, Fault.OUT_OF_ORDER)
            return
        needed = min(partial.length - len(partial.got), MAX_DATA - 1)
        if len(data) - 1 < needed:
            del self._partial[ecu]
            yield Broken(ecu, Fault.CUT_SHORT)
            return
        partial.got += data[1 : 1 + needed]
        partial.sequence = (partial.sequence + 1) % 16
        partial.heard_ms = at_ms
        if len(partial.got) == partial.length:
            del self._partial[ecu]
            yield Message(ecu, bytes(partial.got))

    def _give_up(self, ecu: Ecu) -> Iterator[Broken]:
        if self._partial.pop(ecu, None) is not None:
            yield Broken(ecu, Fault.GIVEN_UP)


def _padded(data: bytes) -> bytes:
    return data + bytes((PAD,)) * (MAX_DATA - len(data))
