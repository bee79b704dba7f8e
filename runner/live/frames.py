"""A CAN frame, and who speaks on which identifier (ISO 15765-4).

11 bits: 7DF asks every ECU, 7E0 to 7E7 asks one, 7E8 to 7EF answers (request + 8). 29 bits:
18DB33F1 asks every ECU, 18DA<ecu>F1 asks one, 18DAF1<ecu> answers. An ECU is named by the
identifier on which it answers. Source: ISO 15765-4, as tabled in public code and in a CAN
handbook ("11-bit legislated OBD CAN identifiers": 7E0/7E8 is the engine's by strong
recommendation, 7E1/7E9 the gearbox's).
"""

from dataclasses import dataclass
from enum import Enum
from typing import Final, TypeAlias

MAX_DATA: Final = 8
MAX_ECUS: Final = 8
"""ISO 15765-4 lets at most eight ECUs answer."""

Ecu: TypeAlias = int
"""An ECU, by the CAN identifier on which it answers."""


@dataclass(frozen=True, slots=True)
class CanFrame:
    """One classic CAN frame: identifier, 0 to 8 data bytes, 29-bit or not. ValueError beyond."""

    identifier: int
    data: bytes
    extended: bool = False

    def __post_init__(self) -> None:
        """Refuse what no classic CAN frame can be."""
        if not 0 <= self.identifier < (1 << 29 if self.extended else 1 << 11):
            raise ValueError(f"{self.identifier:X} is no CAN identifier of this width")
        if len(self.data) > MAX_DATA:
            raise ValueError(f"{len(self.data)} data bytes: a frame holds {MAX_DATA}")


class Addressing(Enum):
    """The two widths of identifier that ISO 15765-4 allows."""

    BITS_11 = "11"
    BITS_29 = "29"

    @property
    def extended(self) -> bool:
        """True for 29-bit identifiers."""
        return self is Addressing.BITS_29

    @property
    def to_all(self) -> int:
        """The identifier that asks every ECU."""
        return 0x18DB33F1 if self.extended else 0x7DF

    def to_one(self, ecu: Ecu) -> int:
        """The identifier that asks one ECU. ValueError for what is no answering identifier."""
        if not self.is_answer(ecu):
            raise ValueError(f"{ecu:X} is no identifier on which an ECU answers")
        return 0x18DA00F1 | (ecu & 0xFF) << 8 if self.extended else ecu - 8

    def is_answer(self, identifier: int) -> bool:
        """True where an ECU answers on ``identifier``."""
        if self.extended:
            return identifier & 0x1FFFFF00 == 0x18DAF100
        return 0x7E8 <= identifier <= 0x7EF

    def ecu_of(self, frame: CanFrame) -> Ecu | None:
        """Who sent ``frame``; None where it is no answer (other traffic, other width)."""
        mine = frame.extended is self.extended and self.is_answer(frame.identifier)
        return frame.identifier if mine else None
