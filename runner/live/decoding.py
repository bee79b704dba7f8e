"""From frames to samples: the one path for an adapter now and for a kept log later.

It knows the last question that left and what the engine's ECU answers to it. Questions for the
VIN are personal: from one of them until the next question, frames are neither decoded nor kept.
"""

from .answers import VIN_DIDS, WrongLength, values_of
from .frames import Addressing, CanFrame, Ecu
from .own_identifiers import OwnRow, OwnTable
from .requests import (
    CurrentData,
    DataByIdentifier,
    Request,
    VehicleInformation,
    question,
)
from .samples import Sample
from .table import Quality, Scales, decode, table
from .transport import Message, Receiver


def personal(request: Request | None) -> bool:
    """Whether the answer to ``request`` tells who the customer is."""
    if isinstance(request, DataByIdentifier):
        return not set(VIN_DIDS).isdisjoint(request.dids)
    return isinstance(request, VehicleInformation)


def asked_pids(request: Request | None) -> tuple[int, ...]:
    """The identifiers of the table that ``request`` asks for, by their low byte."""
    if isinstance(request, CurrentData):
        return request.pids
    if isinstance(request, DataByIdentifier) and all(did >> 8 == 0xF4 for did in request.dids):
        return tuple(did & 0xFF for did in request.dids)
    return ()


class Decoder:
    """Turns the frames of one link into samples of its engine's ECU, once that is known."""

    def __init__(self, addressing: Addressing) -> None:
        self._receiver = Receiver(addressing)
        self._asked: tuple[int, ...] = ()
        self._engine: Ecu | None = None
        self._scales: Scales = {}
        self._own = OwnTable({})
        self._own_asked: int | None = None
        self.masked = False

    def brought(self, row: OwnRow) -> None:
        """A user has brought this identifier."""
        self._own = OwnTable({**self._own.rows, row.number: row})

    def engine(self, ecu: Ecu, scales: Scales) -> None:
        """From now on this ECU is the engine's, and the vehicle has set these scales."""
        self._engine, self._scales = ecu, scales

    def sent(self, frame: CanFrame) -> None:
        """A frame has left."""
        if not frame.data or frame.data[0] >> 4:
            return  # flow control: no question
        request = question(frame.data[1 : 1 + frame.data[0]])
        self.masked = personal(request)
        self._asked = asked_pids(request)
        dids = request.dids if isinstance(request, DataByIdentifier) else ()
        self._own_asked = dids[0] if len(dids) == 1 else None

    def heard(self, frame: CanFrame, at_ms: int) -> list[Sample]:
        """A frame has come in; the samples that it completes."""
        if self.masked:
            return []
        out: list[Sample] = []
        for item in self._receiver.take(frame, at_ms):
            if isinstance(item, Message) and item.ecu == self._engine:
                out += self._samples(item.payload, at_ms)
        return out

    def _samples(self, payload: bytes, at_ms: int) -> list[Sample]:
        if self._own_asked is not None and self._own_asked in self._own.rows:
            return self._own.samples(payload, self._own_asked, at_ms)
        try:
            found = values_of(payload, self._asked)
        except WrongLength:
            return []
        return [
            Sample(at_ms, value.channel, value.milli, value.quality is Quality.GOOD)
            for pid, raw in found.items()
            if pid in table()
            for value in decode(pid, raw, self._scales)
        ]
