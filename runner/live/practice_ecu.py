"""ECUs of a practice vehicle: the same bytes that a vehicle sends, with faults of the link.

No input or output: frames and time go in, frames come out when they are due. Independent of the
program's own side of the conversation: it has its own transport, and answers whatever it is
asked, also what this program can never ask.
"""

import heapq
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from random import Random
from typing import Final

from steplatch.safety.catalogue import _

from .frames import Addressing, CanFrame
from .table import SUPPORT_PIDS, table

LINK_FAULTS: Final[dict[str, str]] = {
    "asleep": _("nothing answers"),
    "falls_asleep": _("it stops answering after a while"),
    "gateway_first": _("a gateway loses the first question"),
    "gateway": _("a gateway lets nothing through; other traffic is heard"),
    "locked": _("every question is refused for lack of authentication"),
    "accessory": _("every question is refused: the key is at accessories"),
    "two_ecus": _("the gearbox answers too, and repeats the engine's values late"),
    "slow_refresh": _("values are renewed once a second only"),
    "frozen": _("pressure and air flow stay as they were at the start"),
    "pending": _("each answer comes after two answers that it is pending"),
    "busy": _("every third question is answered busy, repeat"),
    "cut_frames": _("one in four of the later frames of an answer is lost"),
    "wrong_length": _("the exhaust temperatures come with a byte too few"),
    "gone_and_back": _("the adapter goes and comes back"),
    "mirror": _("the engine speed is always zero"),
    "wrong_scale": _("the engine speed comes in whole 1/min"),
    "bitmap_lies": _("it lists an oil temperature that it never gives"),
    "one_at_a_time": _("a question for several values is refused"),
    "unpadded": _("answers are not filled up to eight bytes"),
    "reordered": _("values come in another order than asked"),
    "traffic": _("a thousand other frames a second pass on the bus"),
    "late": _("answers come after 120 ms"),
    "only_22": _("it knows services 22 and 19 only (SAE J1979-2)"),
    "functional_only": _("it answers only what is asked of all"),
    "garbled": _("the adapter mixes in broken text"),
    "no_pressure": _("no pressure by the standard, only the maker's (22 2001, tenths of a mbar)"),
    "short_lines": _("the adapter cuts some lines short"),
}
"""Each fault of the link that can be practised, and what it is."""

ENGINE_PIDS: Final = (
    0x01, 0x04, 0x05, 0x0B, 0x0C, 0x0D, 0x0F, 0x10, 0x1C, 0x1F, 0x21, 0x30, 0x31, 0x33, 0x42,
    0x46, 0x49, 0x4D, 0x4E, 0x51, 0x78, 0x7A, 0x7C, 0x8B, 0x9D, 0x9E,
)  # fmt: skip
GEARBOX_PIDS: Final = (0x01, 0x04, 0x05, 0x0C, 0x0D)
MILLISECONDS_BETWEEN_FRAMES: Final = 1
OTHER_TRAFFIC_MS: Final = 20
MAKERS_PRESSURE: Final = 0x2001
"""An identifier of its maker's: the pressure over the filter, signed, in tenths of a mbar."""
VIN: Final = "WPRACTCE0VEH1CLE0"
"""Invented, of the right form."""


@dataclass(frozen=True, slots=True)
class CarValues:
    """What the vehicle measures now, by channel of the table, in the channel's unit; what is
    missing it does not have. ``awake``: the ignition is on. ``codes``: two bytes each."""

    values: Mapping[str, float]
    awake: bool = True
    codes: tuple[bytes, ...] = ()


def encode(pid: int, values: Mapping[str, float]) -> bytes:
    """The bytes that say ``values`` under ``pid``: the table, the other way round."""
    identifier = table()[pid]
    out = bytearray(identifier.length)
    for row in identifier.fields:
        value = values.get(row.channel)
        if value is None:
            continue
        if row.there is not None:
            out[0] |= row.there
        number = round((Fraction(value) - row.add) / row.scale)
        if row.mask is not None:
            out[row.at] |= number * (row.mask & -row.mask) & row.mask
            continue
        span = 1 << 8 * row.length
        low, high = (-span // 2, span // 2 - 1) if row.signed else (0, span - 1)
        number = min(max(number, low), high)
        out[row.at : row.at + row.length] = number.to_bytes(row.length, "big", signed=row.signed)
    return bytes(out)


@dataclass(slots=True)
class _Sending:
    frames: list[bytes]
    sent: int = 0


@dataclass(slots=True)
class PracticeCar:
    """The vehicle on the bus. ``take`` a frame, ``due`` gives the frames whose time has come."""

    look: Callable[[], CarValues]
    faults: frozenset[str] = frozenset()
    addressing: Addressing = Addressing.BITS_11
    seed: int = 1
    delay_ms: int = 15
    asleep_after_ms: int = 4000
    _rng: Random = field(init=False)
    _due: list[tuple[int, int, CanFrame]] = field(default_factory=list)
    _count: int = 0
    _sending: dict[int, _Sending] = field(default_factory=dict)
    _asked: int = 0
    _begin_ms: int | None = None
    _seen: CarValues | None = None
    _seen_ms: int = 0
    _first: CarValues | None = None
    _other_ms: int = 0

    def __post_init__(self) -> None:
        """Refuse a fault that does not exist."""
        unknown = self.faults - set(LINK_FAULTS)
        if unknown:
            raise ValueError(
                _("no such fault of the link: {unknown}", unknown=", ".join(sorted(unknown)))
            )
        self._rng = Random(f"practice link {self.seed}")

    @property
    def engine(self) -> int:
        """The identifier on which the engine's ECU answers."""
        return 0x18DAF110 if self.addressing.extended else 0x7E8

    @property
    def gearbox(self) -> int:
        """The identifier on which the gearbox answers."""
        return 0x18DAF118 if self.addressing.extended else 0x7E9

    def take(self, frame: CanFrame, at_ms: int) -> None:
        """A frame from the tool."""
        if self._begin_ms is None:
            self._begin_ms = at_ms
        ecus = [self.engine] + ([self.gearbox] if "two_ecus" in self.faults else [])
        for ecu in ecus:
            to_all = frame.identifier == self.addressing.to_all
            alone = frame.identifier == self.addressing.to_one(ecu)
            if frame.extended is not self.addressing.extended or not (to_all or alone):
                continue
            kind = frame.data[0] >> 4 if frame.data else 15
            if kind == 3 and alone:
                self._go_on(ecu, at_ms)
            elif kind == 0 and not (alone and "functional_only" in self.faults):
                self._question(ecu, frame.data[1 : 1 + frame.data[0]], at_ms, to_all)

    def due(self, at_ms: int) -> list[CanFrame]:
        """The frames that leave the vehicle now."""
        if "gateway" in self.faults and at_ms - self._other_ms >= OTHER_TRAFFIC_MS:
            self._other_ms = at_ms
            return [CanFrame(0x280, bytes(8))]
        out = []
        if "traffic" in self.faults and at_ms > self._other_ms:
            count = min(at_ms - self._other_ms, 20)
            self._other_ms = at_ms
            out = [CanFrame(0x100 + n, self._rng.randbytes(8)) for n in range(count)]
        while self._due and self._due[0][0] <= at_ms:
            out.append(heapq.heappop(self._due)[2])
        return out

    # -- answers ----------------------------------------------------------------------------

    def _question(self, ecu: int, payload: bytes, at_ms: int, to_all: bool) -> None:
        self._asked += ecu == self.engine
        silent = self.faults & {"asleep", "gateway"}
        gone = "falls_asleep" in self.faults and self._begin_ms is not None
        if silent or not payload or not self.look().awake:
            return
        if gone and at_ms - (self._begin_ms or 0) > self.asleep_after_ms:
            return
        if "gateway_first" in self.faults and self._asked == 1:
            return
        at = at_ms + (120 if "late" in self.faults else self.delay_ms)
        refusal = self._refusal(payload)
        if refusal is not None:
            self._later(ecu, bytes((0x7F, payload[0], refusal)), at)
            return
        answer = self._answer(ecu, payload, at_ms)
        if answer is None:
            if not to_all:
                self._later(ecu, bytes((0x7F, payload[0], 0x31)), at)
            return
        if "pending" in self.faults:
            for n in range(2):
                self._later(ecu, bytes((0x7F, payload[0], 0x78)), at + 100 * n)
            at += 250
        self._later(ecu, answer, at)

    def _refusal(self, payload: bytes) -> int | None:
        if "locked" in self.faults:
            return 0x34
        if "accessory" in self.faults:
            return 0x22
        if "busy" in self.faults and self._asked % 3 == 0:
            return 0x21
        if "one_at_a_time" in self.faults and payload[0] in (0x01, 0x22):
            size = 2 if payload[0] == 0x01 else 3
            return 0x12 if len(payload) > size else None
        return None

    def _answer(self, ecu: int, payload: bytes, at_ms: int) -> bytes | None:
        service, rest = payload[0], payload[1:]
        only_22 = "only_22" in self.faults
        if service == 0x01 and not only_22:
            return self._values(ecu, list(rest), at_ms, False)
        if service == 0x22:
            dids = [int.from_bytes(rest[i : i + 2], "big") for i in range(0, len(rest), 2)]
            if dids == [0xF802] or dids == [0xF190]:
                return b"\x62" + rest + VIN.encode()
            if only_22 and all(did >> 8 == 0xF4 for did in dids):
                return self._values(ecu, [did & 0xFF for did in dids], at_ms, True)
            if dids == [MAKERS_PRESSURE] and ecu == self.engine:
                tenths = round(self._renewed(at_ms).values.get("delta_pa", 0.0) / 10)
                return b"\x62" + rest + tenths.to_bytes(2, "big", signed=True)
            return None
        codes = self.look().codes if ecu == self.engine else ()
        if service in (0x03, 0x07, 0x0A) and not only_22:
            shown = codes if service == 0x03 else ()
            return bytes((service | 0x40, len(shown))) + b"".join(shown)
        if service == 0x19 and rest[:1] == b"\x42":
            records = b"".join(b"\x20" + code + b"\x00\x08" for code in codes)
            return b"\x59\x42\x33\xff\xff\x04" + (records if rest[2] == 0x08 else b"")
        if service == 0x19 and rest[:1] == b"\x55":
            return b"\x59\x55\x33\xff\x04"
        if service == 0x09 and not only_22 and ecu == self.engine:
            if rest == b"\x02":
                return b"\x49\x02\x01" + VIN.encode()
            if rest == b"\x0a":
                return b"\x49\x0a\x01" + b"ECM\x00-EngineControl".ljust(20, b"\x00")
            if rest == b"\x04":
                return b"\x49\x04\x01" + b"PRACTICE-1".ljust(16, b"\x00")
        return None

    def _values(self, ecu: int, pids: list[int], at_ms: int, wide: bool) -> bytes | None:
        seen = self._renewed(at_ms)
        known = self._pids(ecu, seen)
        out = b""
        order = pids[::-1] if "reordered" in self.faults else pids
        for pid in order:
            raw = self._support(pid, known) if pid in SUPPORT_PIDS else None
            if pid in known and not ("bitmap_lies" in self.faults and pid == 0x5C):
                raw = self._encoded(pid, seen)
            if raw is not None:
                out += (b"\xf4" if wide else b"") + bytes((pid,)) + raw
        return bytes((0x62 if wide else 0x41,)) + out if out else None

    def _encoded(self, pid: int, seen: CarValues) -> bytes:
        values = dict(seen.values)
        if "mirror" in self.faults:
            values["speed_rpm"] = 0.0
        if "wrong_scale" in self.faults:
            values["speed_rpm"] = values["speed_rpm"] / 4
        if "frozen" in self.faults and self._first is not None:
            for channel in ("delta_pa", "air_g_s"):
                if channel in self._first.values:
                    values[channel] = self._first.values[channel]
        raw = encode(pid, values)
        return raw[:-1] if pid == 0x78 and "wrong_length" in self.faults else raw

    def _pids(self, ecu: int, seen: CarValues) -> set[int]:
        if ecu == self.gearbox:
            return set(GEARBOX_PIDS)
        has = {p for p in ENGINE_PIDS if any(f.channel in seen.values for f in table()[p].fields)}
        has -= {0x7A} if "no_pressure" in self.faults else set()
        return has | ({0x5C} if "bitmap_lies" in self.faults else set())

    @staticmethod
    def _support(base: int, known: set[int]) -> bytes | None:
        if base and not any(pid > base for pid in known):
            return None
        bits = 0
        for pid in known:
            if base < pid <= base + 32:
                bits |= 1 << (base + 32 - pid)
        if any(pid > base + 32 for pid in known):
            bits |= 1
        return bits.to_bytes(4, "big")

    def _renewed(self, at_ms: int) -> CarValues:
        """What the ECU shows: renewed each 20 ms, or each second."""
        every = 1000 if "slow_refresh" in self.faults else 20
        if self._seen is None or at_ms - self._seen_ms >= every:
            self._seen, self._seen_ms = self.look(), at_ms
        if self._first is None and self._seen.values.get("speed_rpm", 0.0) > 0:
            self._first = self._seen
        return self._seen

    # -- frames -----------------------------------------------------------------------------

    def _later(self, ecu: int, payload: bytes, at_ms: int) -> None:
        if len(payload) <= 7:
            self._frame(ecu, bytes((len(payload),)) + payload, at_ms)
            return
        head = bytes((0x10 | len(payload) >> 8, len(payload) & 0xFF))
        rest = [payload[i : i + 7] for i in range(6, len(payload), 7)]
        frames = [bytes((0x20 | n % 16,)) + part for n, part in enumerate(rest, start=1)]
        self._sending[ecu] = _Sending(frames)
        self._frame(ecu, head + payload[:6], at_ms)

    def _go_on(self, ecu: int, at_ms: int) -> None:
        sending = self._sending.pop(ecu, None)
        for n, data in enumerate(sending.frames if sending else []):
            if "cut_frames" in self.faults and self._rng.random() < 0.25:
                continue
            self._frame(ecu, data, at_ms + MILLISECONDS_BETWEEN_FRAMES * (n + 1))

    def _frame(self, ecu: int, data: bytes, at_ms: int) -> None:
        padded = data if "unpadded" in self.faults else data.ljust(8, b"\xaa")
        frame = CanFrame(ecu, padded, self.addressing.extended)
        self._count += 1
        heapq.heappush(self._due, (at_ms, self._count, frame))
