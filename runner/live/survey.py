"""The first questions: who answers, what each can say, who is the engine, what it is.

A script that asks and is given results (``Result``), so that it runs the same over an adapter,
over a practice vehicle and in a test. It reads what exists before it polls anything.
"""

from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Final, TypeAlias

from .answers import (
    OBD_PAGE,
    Code,
    Refusal,
    WrongLength,
    codes_of,
    supported,
    texts_of,
    values_of,
    vin_of,
)
from .exchange import Result
from .frames import Ecu
from .requests import (
    MAX_DIDS,
    MAX_PIDS,
    Ask,
    Codes,
    CurrentData,
    DataByIdentifier,
    ObdCodes,
    Request,
    VehicleInformation,
)
from .table import SUPPORT_PIDS, table

SPEED: Final = 0x0C
ONCE: Final = (0x1C, 0x51, 0x4F, 0x50, 0x01, 0x21, 0x30, 0x31, 0x4D, 0x4E, 0xA6)
"""What is read once, at the beginning: what the vehicle is, its scales, what was cleared when."""
FAST: Final = (0x0C, 0x7A, 0x42, 0x0D, 0x10, 0x8B)
"""What is asked most; tried alone and together before it is believed."""


class Dialect(Enum):
    """How the vehicle is asked: services 01 to 0A (SAE J1979), or 22 and 19 (SAE J1979-2)."""

    J1979 = "J1979"
    J1979_2 = "J1979-2"


@dataclass(frozen=True, slots=True)
class Car:
    """What answers, and what it can say. ``vin`` is personal: it goes into no log and no repr."""

    dialect: Dialect
    engine: Ecu
    pids: frozenset[int]
    others: tuple[tuple[Ecu, frozenset[int]], ...] = ()
    physical: bool = True
    together: int = 1
    scales: dict[int, bytes] = field(default_factory=dict)
    once: dict[int, bytes] = field(default_factory=dict)
    stored: tuple[Code, ...] | None = None
    pending: tuple[Code, ...] | None = None
    permanent: tuple[Code, ...] | None = None
    name: str | None = None
    calibrations: tuple[str, ...] = ()
    dropped: frozenset[int] = frozenset()
    vin: str | None = field(default=None, repr=False)

    @property
    def to(self) -> Ecu | None:
        """Whom to ask: the engine's ECU, or all where it does not answer when asked alone."""
        return self.engine if self.physical else None


class NoCar(Enum):
    """Why no engine was found."""

    SILENT = "silent"
    NOT_NOW = "not_now"
    LOCKED = "locked"
    NO_SPEED = "no_speed"


Survey: TypeAlias = Generator[Ask, Result, Car | NoCar]

_LOCKED: Final = frozenset({Refusal.SECURITY, Refusal.AUTHENTICATION})


def pid_request(dialect: Dialect, pids: Sequence[int]) -> Request:
    """The question for the values ``pids`` in the vehicle's own way of being asked."""
    if dialect is Dialect.J1979:
        return CurrentData(tuple(pids))
    return DataByIdentifier(tuple(OBD_PAGE << 8 | pid for pid in pids))


def survey() -> Survey:
    """Ask the first questions; ends with the car, or with why there is none."""
    first = yield from _first_answer()
    if isinstance(first, NoCar):
        return first
    dialect, answers = first
    known = {}
    alone = {}
    for ecu in sorted(answers):
        known[ecu], alone[ecu] = yield from _support(dialect, ecu, answers[ecu])
    with_speed = [ecu for ecu in known if SPEED in known[ecu]]
    if not with_speed:
        return NoCar.NO_SPEED
    engine = max(with_speed, key=lambda ecu: (len(known[ecu]), -ecu))
    to = engine if alone[engine] else None
    together, dropped = yield from _probe(dialect, engine, to, known[engine])
    pids = known[engine] - dropped
    if SPEED not in pids:
        return NoCar.NO_SPEED
    once: dict[int, bytes] = {}
    for pid in (p for p in ONCE if p in pids):
        result = yield Ask(pid_request(dialect, (pid,)), to)
        once.update(_values(result, engine, (pid,)))
    stored, pending, permanent = yield from _codes(dialect, engine, to)
    vin, name, calibrations = yield from _identity(dialect, engine, to)
    return Car(
        dialect=dialect,
        engine=engine,
        pids=pids,
        others=tuple((ecu, known[ecu]) for ecu in sorted(known) if ecu != engine),
        physical=alone[engine],
        together=together,
        scales={pid: raw for pid, raw in once.items() if pid in (0x4F, 0x50)},
        once=once,
        stored=stored,
        pending=pending,
        permanent=permanent,
        name=name,
        calibrations=calibrations,
        dropped=dropped,
        vin=vin,
    )


def _first_answer() -> Generator[Ask, Result, tuple[Dialect, dict[Ecu, bytes]] | NoCar]:
    """A gateway may lose the first question, so each is asked twice."""
    refusals: set[Refusal] = set()
    for dialect in (Dialect.J1979, Dialect.J1979_2):
        for _ in range(2):
            result = yield Ask(pid_request(dialect, (0x00,)))
            bits = {ecu: _values(result, ecu, (0x00,)) for ecu in result.answers}
            found = {ecu: values[0x00] for ecu, values in bits.items() if values}
            if found:
                return dialect, found
            refusals |= set(result.refusals.values())
    if refusals & _LOCKED:
        return NoCar.LOCKED
    if Refusal.CONDITIONS_NOT_CORRECT in refusals:
        return NoCar.NOT_NOW
    return NoCar.LOCKED if refusals else NoCar.SILENT


def _support(
    dialect: Dialect, ecu: Ecu, first: bytes
) -> Generator[Ask, Result, tuple[frozenset[int], bool]]:
    """What ``ecu`` has, and whether it answers when asked alone."""
    pids = supported(0x00, first)
    alone = True
    for base in SUPPORT_PIDS[1:]:
        if base not in pids:
            break
        result = yield Ask(pid_request(dialect, (base,)), ecu if alone else None)
        if alone and result.silent:
            alone = False
            result = yield Ask(pid_request(dialect, (base,)))
        raw = _values(result, ecu, (base,)).get(base)
        if raw is None:
            break
        pids |= supported(base, raw)
    return pids - frozenset(SUPPORT_PIDS), alone


def _probe(
    dialect: Dialect, engine: Ecu, to: Ecu | None, pids: frozenset[int]
) -> Generator[Ask, Result, tuple[int, frozenset[int]]]:
    """How many can be asked in one frame (they must say the same as alone), and what is listed
    and yet never answers as its length in the table wants."""
    good: list[int] = []
    dropped = set()
    for pid in (p for p in FAST if p in pids and p in table()):
        for _ in range(3):
            result = yield Ask(pid_request(dialect, (pid,)), to)
            if pid in _values(result, engine, (pid,)):
                good.append(pid)
                break
        else:
            dropped.add(pid)
    most = MAX_PIDS if dialect is Dialect.J1979 else MAX_DIDS
    for many in sorted({min(most, len(good)), min(2, len(good))}, reverse=True):
        if many < 2:
            break
        asked = good[:many]
        result = yield Ask(pid_request(dialect, asked), to)
        if set(_values(result, engine, asked)) == set(asked):
            return most if many > 2 else many, frozenset(dropped)
    return 1, frozenset(dropped)


def _codes(
    dialect: Dialect, engine: Ecu, to: Ecu | None
) -> Generator[Ask, Result, list[tuple[Code, ...] | None]]:
    """Stored, pending, permanent codes; None where the vehicle does not say."""
    old = (Codes.STORED, Codes.PENDING, Codes.PERMANENT)
    new = (ObdCodes.CONFIRMED, ObdCodes.PENDING, ObdCodes.PERMANENT)
    out: list[tuple[Code, ...] | None] = []
    for request in old if dialect is Dialect.J1979 else new:
        result = yield Ask(request, to)
        try:
            out.append(codes_of(result.answers.get(engine, b"")))
        except WrongLength:
            out.append(None)
    return out


def _identity(
    dialect: Dialect, engine: Ecu, to: Ecu | None
) -> Generator[Ask, Result, tuple[str | None, str | None, tuple[str, ...]]]:
    if dialect is Dialect.J1979_2:
        result = yield Ask(DataByIdentifier((0xF802,)), to)
        return vin_of(result.answers.get(engine, b"")), None, ()
    result = yield Ask(VehicleInformation.VIN, to)
    vin = vin_of(result.answers.get(engine, b""))
    texts = []
    for kind in (VehicleInformation.ECU_NAME, VehicleInformation.CALIBRATIONS):
        result = yield Ask(kind, to)
        try:
            texts.append(texts_of(result.answers.get(engine, b"")))
        except WrongLength:
            texts.append(())
    return vin, texts[0][0] if texts[0] else None, texts[1]


def _values(result: Result, ecu: Ecu, asked: Sequence[int]) -> dict[int, bytes]:
    try:
        return values_of(result.answers.get(ecu, b""), asked)
    except WrongLength:
        return {}
