"""What can be asked of a vehicle: a closed set of questions that only read.

Each type below is one question of SAE J1979 (services 01, 02, 03, 06, 07, 09, 0A) or of
ISO 14229 (22 read data by identifier, 19 read trouble codes). There is no type that clears
(04, 14), runs a test or routine (08, 31), writes, codes or controls (2E, 2F, 27, 28, 34 to 37,
3D, 85), changes the session (10, 11), and none that is longer than a frame. ``question`` turns
bytes back into the question that they are, None where no question is; whatever leaves for the
vehicle passes it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from typing import Final, TypeAlias

from .frames import Addressing, CanFrame, Ecu
from .transport import FlowControl, SingleFrame

MAX_PIDS: Final = 6
MAX_DIDS: Final = 3
_POWERTRAIN_OBD: Final = 0x33
"""Functional group of emission-related systems (ISO 14229-1)."""


@dataclass(frozen=True, slots=True)
class CurrentData:
    """Service 01: one to six identifiers of a byte each. ValueError for any other number."""

    pids: tuple[int, ...]

    def __post_init__(self) -> None:
        """Refuse what is no such question."""
        _check(self.pids, MAX_PIDS, 0xFF)


@dataclass(frozen=True, slots=True)
class FrozenData:
    """Service 02, frame 0: one value as it was when a code was set. PID 02 asks for that code."""

    pid: int

    def __post_init__(self) -> None:
        """Refuse what is no such question."""
        _check((self.pid,), 1, 0xFF)


class Codes(Enum):
    """Services 03, 07 and 0A: the codes."""

    STORED = 0x03
    PENDING = 0x07
    PERMANENT = 0x0A


@dataclass(frozen=True, slots=True)
class MonitorResults:
    """Service 06: results of one monitor."""

    mid: int

    def __post_init__(self) -> None:
        """Refuse what is no such question."""
        _check((self.mid,), 1, 0xFF)


class VehicleInformation(Enum):
    """Service 09: what the vehicle is."""

    SUPPORTED = 0x00
    VIN = 0x02
    CALIBRATIONS = 0x04
    ECU_NAME = 0x0A


@dataclass(frozen=True, slots=True)
class DataByIdentifier:
    """Service 22: one to three identifiers of two bytes each. ValueError for any other number."""

    dids: tuple[int, ...]

    def __post_init__(self) -> None:
        """Refuse what is no such question."""
        _check(self.dids, MAX_DIDS, 0xFFFF)


@dataclass(frozen=True, slots=True)
class CodesByStatus:
    """Service 19 02: the codes whose status has a bit of ``mask``."""

    mask: int = 0xFF

    def __post_init__(self) -> None:
        """Refuse what is no such question."""
        _check((self.mask,), 1, 0xFF)


class ObdCodes(Enum):
    """Service 19 42 and 19 55: the codes of a vehicle that knows no service 03 (SAE J1979-2)."""

    CONFIRMED = bytes((0x42, _POWERTRAIN_OBD, 0x08, 0xFF))
    PENDING = bytes((0x42, _POWERTRAIN_OBD, 0x04, 0xFF))
    PERMANENT = bytes((0x55, _POWERTRAIN_OBD))


Request: TypeAlias = (
    CurrentData
    | FrozenData
    | Codes
    | MonitorResults
    | VehicleInformation
    | DataByIdentifier
    | CodesByStatus
    | ObdCodes
)

SERVICES: Final = frozenset({0x01, 0x02, 0x03, 0x06, 0x07, 0x09, 0x0A, 0x19, 0x22})
"""Every service that a question can have."""


def frame_of(request: Request) -> SingleFrame:
    """The one frame that asks ``request``. TypeError for what is no question of this page."""
    made = _BYTES.get(type(request))
    payload = b"" if made is None else made(request)
    if made is None or question(payload) != request:
        raise TypeError(f"{request!r} is no question that this program can ask")
    return SingleFrame(payload)


def question(payload: bytes) -> Request | None:
    """The question that ``payload`` asks; None where it asks none of this page."""
    if not payload or payload[0] not in SERVICES:
        return None
    try:
        return _QUESTIONS[payload[0]](payload[1:])
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class Ask:
    """A question on its way: to one ECU, or to all where ``ecu`` is None."""

    request: Request
    ecu: Ecu | None = None


Outgoing: TypeAlias = Ask | FlowControl
"""All that can leave for a vehicle."""


def can_frame(out: Outgoing, addressing: Addressing) -> CanFrame:
    """The frame of ``out``. TypeError for anything that is not an ``Outgoing``."""
    if type(out) is FlowControl:
        identifier, data = addressing.to_one(out.ecu), FlowControl(out.ecu, out.too_long).data()
    elif type(out) is Ask:
        one = out.ecu
        identifier = addressing.to_all if one is None else addressing.to_one(one)
        data = frame_of(out.request).data()
    else:
        raise TypeError(f"{out!r} cannot be sent to a vehicle")
    return CanFrame(identifier, data, addressing.extended)


def _check(numbers: tuple[int, ...], most: int, highest: int) -> None:
    if not 1 <= len(numbers) <= most:
        raise ValueError(f"{len(numbers)} identifiers: one frame asks for 1 to {most}")
    for number in numbers:
        if not 0 <= number <= highest:
            raise ValueError(f"{number!r} is no identifier: 0 to {highest:X}")


def _one(body: bytes) -> int:
    if len(body) != 1:
        raise ValueError("exactly one byte follows")
    return body[0]


def _none(body: bytes, service: Codes) -> Codes:
    if body:
        raise ValueError("nothing follows")
    return service


def _frozen(body: bytes) -> FrozenData:
    if len(body) != 2 or body[1] != 0:
        raise ValueError("an identifier and frame 0 follow")
    return FrozenData(body[0])


def _dids(body: bytes) -> DataByIdentifier:
    if len(body) % 2:
        raise ValueError("identifiers have two bytes")
    return DataByIdentifier(
        tuple(int.from_bytes(body[i : i + 2], "big") for i in range(0, len(body), 2))
    )


def _codes(body: bytes) -> CodesByStatus | ObdCodes:
    if len(body) == 2 and body[0] == 0x02:
        return CodesByStatus(body[1])
    return ObdCodes(body)


_QUESTIONS: Final[dict[int, Callable[[bytes], Request]]] = {
    0x01: lambda body: CurrentData(tuple(body)),
    0x02: _frozen,
    0x03: lambda body: _none(body, Codes.STORED),
    0x06: lambda body: MonitorResults(_one(body)),
    0x07: lambda body: _none(body, Codes.PENDING),
    0x09: lambda body: VehicleInformation(_one(body)),
    0x0A: lambda body: _none(body, Codes.PERMANENT),
    0x19: _codes,
    0x22: _dids,
}

_BYTES: Final[dict[type, Callable[..., bytes]]] = {
    CurrentData: lambda r: bytes((0x01, *r.pids)),
    FrozenData: lambda r: bytes((0x02, r.pid, 0x00)),
    Codes: lambda r: bytes((r.value,)),
    MonitorResults: lambda r: bytes((0x06, r.mid)),
    VehicleInformation: lambda r: bytes((0x09, r.value)),
    DataByIdentifier: lambda r: b"\x22" + b"".join(did.to_bytes(2, "big") for did in r.dids),
    CodesByStatus: lambda r: bytes((0x19, 0x02, r.mask)),
    ObdCodes: lambda r: b"\x19" + r.value,
}
