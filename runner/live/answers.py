"""What an ECU answered: values by identifier, codes, what the vehicle is, or a refusal.

Every function takes the whole message that the transport gave. An answer with a length that
does not fit is dropped as a whole: the values of one answer have no separators, so one wrong
length shifts all that follow.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from .table import SUPPORT_PIDS, length_of

POSITIVE: Final = 0x40
NEGATIVE: Final = 0x7F
OBD_PAGE: Final = 0xF4
"""First byte of the identifiers that hold the values of service 01 (SAE J1979-2)."""
VIN_DIDS: Final = (0xF802, 0xF190)
"""Where service 22 has the VIN: SAE J1979-2 and ISO 14229-1."""

_VIN: Final = re.compile(rb"[A-HJ-NPR-Z0-9]{17}")
"""ISO 3779: no I, O or Q."""


class Refusal(Enum):
    """Why an ECU refuses (ISO 14229-1, annex A, response codes; held against udsoncan)."""

    GENERAL = 0x10
    SERVICE_NOT_SUPPORTED = 0x11
    SUBFUNCTION_NOT_SUPPORTED = 0x12
    WRONG_LENGTH = 0x13
    BUSY = 0x21
    CONDITIONS_NOT_CORRECT = 0x22
    OUT_OF_RANGE = 0x31
    SECURITY = 0x33
    AUTHENTICATION = 0x34
    PENDING = 0x78
    NOT_IN_THIS_SESSION = 0x7F
    OTHER = -1


class WrongLength(ValueError):  # noqa: N818 - it names the thing refused
    """An answer whose parts do not add up to its length, or that names what was not asked."""


@dataclass(frozen=True, slots=True)
class Refused:
    """A negative answer: to which service, and why."""

    service: int
    why: Refusal


@dataclass(frozen=True, slots=True)
class Code:
    """A fault code as people write it, its failure type and status where the service has them."""

    text: str
    failure: int | None = None
    status: int | None = None

    @property
    def confirmed(self) -> bool:
        """Status bit 3: confirmed. True where the service gives no status: it lists only those."""
        return self.status is None or bool(self.status & 0x08)


def refused(payload: bytes) -> Refused | None:
    """The refusal that ``payload`` is; None where it is none."""
    if len(payload) != 3 or payload[0] != NEGATIVE:
        return None
    known = payload[2] in Refusal._value2member_map_
    return Refused(payload[1], Refusal(payload[2]) if known else Refusal.OTHER)


def values_of(payload: bytes, asked: Sequence[int]) -> dict[int, bytes]:
    """The bytes of each identifier in an answer 41 or 62 F4.., in the order of the answer.

    ``asked`` are the identifiers of the question (the low byte of F4xx). Raises WrongLength for
    an answer with one that was not asked, stands twice, has no known length, or is cut.
    """
    wide = payload[:1] == b"\x62"
    if not wide and payload[:1] != b"\x41":
        raise WrongLength("neither 41 nor 62")
    out: dict[int, bytes] = {}
    at = 1
    while at < len(payload):
        if wide:
            if payload[at] != OBD_PAGE:
                raise WrongLength(f"{payload[at]:02X} is not F4")
            at += 1
        if at >= len(payload):
            raise WrongLength("half an identifier at the end")
        pid = payload[at]
        length = length_of(pid)
        if pid not in asked or pid in out or length is None:
            raise WrongLength(f"{pid:02X} was not asked, or not once")
        raw = payload[at + 1 : at + 1 + length]
        if len(raw) != length:
            raise WrongLength(f"{pid:02X}: {len(raw)} bytes where {length} belong")
        out[pid] = raw
        at += 1 + length
    if not out:
        raise WrongLength("nothing in it")
    return out


def supported(base: int, raw: bytes) -> frozenset[int]:
    """The identifiers that exist by the four bytes of ``base`` (00, 20, 40 ..).

    The first bit stands for base + 1; the last says whether the next four bytes exist.
    """
    if base not in SUPPORT_PIDS or len(raw) != 4:
        raise WrongLength(f"{base:02X}, {len(raw)} bytes: no support bits")
    bits = int.from_bytes(raw, "big")
    return frozenset(base + 1 + n for n in range(32) if bits >> (31 - n) & 1)


def code_text(two: bytes) -> str:
    """Two bytes as a code: ``P0143``. The first two bits are the letter (SAE J2012)."""
    word = int.from_bytes(two, "big")
    return f"{'PCBU'[word >> 14]}{word >> 12 & 3}{word & 0xFFF:03X}"


def codes_of(payload: bytes) -> tuple[Code, ...]:
    """The codes of an answer 43, 47, 4A, 59 02, 59 42 or 59 55. Raises WrongLength."""
    if payload[:1] in (b"\x43", b"\x47", b"\x4a"):
        if len(payload) < 2 or len(payload) != 2 + 2 * payload[1]:
            raise WrongLength("the count does not fit the bytes")
        pairs = [payload[i : i + 2] for i in range(2, len(payload), 2)]
        return tuple(Code(code_text(pair)) for pair in pairs)
    head, size, at = _RECORDS.get(payload[:2], (0, 0, 0))
    if not head or len(payload) < head or (len(payload) - head) % size:
        raise WrongLength("these are no codes")
    records = [payload[i + at : i + at + 4] for i in range(head, len(payload), size)]
    return tuple(Code(code_text(r[:2]), r[2], r[3]) for r in records)


_RECORDS: Final = {
    b"\x59\x02": (3, 4, 0),
    b"\x59\x42": (6, 5, 1),
    b"\x59\x55": (5, 4, 0),
}
"""Length of the head, of a record, and where code and status begin in it (ISO 14229-1). Held
against udsoncan but for 55, where that library expects a severity that the standard lacks."""


def vin_of(payload: bytes) -> str | None:
    """The VIN in an answer 49 02, 62 F802 or 62 F190; None where there is none."""
    if payload[:3] == b"\x49\x02\x01" or (
        payload[:1] == b"\x62" and int.from_bytes(payload[1:3], "big") in VIN_DIDS
    ):
        text = payload[3:]
    else:
        return None
    text = text.strip(b"\x00")
    return text.decode("ascii") if _VIN.fullmatch(text) else None


def texts_of(payload: bytes) -> tuple[str, ...]:
    """The texts in an answer 49 04 (calibrations, 16 bytes each) or 49 0A (name, 20 bytes).

    Raises WrongLength for another answer, and where count and bytes disagree.
    """
    size = {b"\x49\x04": 16, b"\x49\x0a": 20}.get(payload[:2])
    if size is None or len(payload) < 3 or len(payload) != 3 + size * payload[2]:
        raise WrongLength("these are no texts")
    parts = [payload[i : i + size] for i in range(3, len(payload), size)]
    return tuple(
        " ".join(part.replace(b"\x00", b" ").decode("ascii", "replace").split()) for part in parts
    )
