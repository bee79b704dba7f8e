"""The raw log of a link: every frame of the conversation, and what was said meanwhile.

A text file, one line an item, each ``<ms> <kind> <rest>``, times on the log's own clock::

    steplatch-raw 1 11 <first 16 digits of the SHA-256 of identifiers.yaml>
    0 link opening first_asks
    12 > 7DF 0201005555555555
    25 < 7E8 06410098188001AA
    90 car 7E8 4F=00000000
    95 said engine=idling permits=spray_running gun=1 ceiling=2500 lower=2250 upper=2400 ...
    4100 masked 6
    5000 sample speed_rpm 820000 1
    0 own {"id":"22 2001",...}
    9000 end

What is decided from it is decided again from it: ``replay`` feeds the same decoder and reducer.
Its hash is the SHA-256 of its bytes. Frames that tell the VIN are counted and not kept. A last
line that was cut (power gone) is left out and reported.
"""

import hashlib
import os
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Final

from .decoding import Decoder
from .frames import Addressing, CanFrame, Ecu
from .link import Cause, LinkState
from .own_identifiers import OwnRow, row_of, row_text
from .reducer import feed
from .samples import Happening, LinkChange, Now, Said, Sample
from .table import Scales
from .witness import Witness

FORMAT: Final = "steplatch-raw 1"
MAX_BYTES: Final = 256 * 1024 * 1024
"""More than a day at ten questions a second."""

MAX_MS: Final = 2 * 24 * 3600 * 1000
"""Longest link that one log keeps, and that a replay takes."""

_SAID: Final = {
    "engine": "engine",
    "permits": "permits",
    "gun": "gun_open",
    "ceiling": "ceiling_rpm",
    "lower": "raised_lower_rpm",
    "upper": "raised_upper_rpm",
    "idle": "idle_rpm",
    "burn": "burn_limit_degc",
    "aside": "set_aside",
}


class BadRawLog(ValueError):  # noqa: N818 - it names the thing refused
    """A raw log that cannot be read: line and what is wrong with it."""

    def __init__(self, line: int, problem: str) -> None:
        super().__init__(f"line {line}: {problem}")
        self.line = line


@dataclass(frozen=True, slots=True)
class Digest:
    """What a record keeps of a raw log."""

    sha256: str
    size: int
    first_ms: int
    last_ms: int


@dataclass(frozen=True, slots=True)
class Replay:
    """What a raw log says when it is decoded again."""

    witness: Witness
    happenings: tuple[Happening, ...]
    digest: Digest
    same_table: bool
    whole: bool


@lru_cache(maxsize=1)
def table_mark() -> str:
    """Which table of identifiers this is: the beginning of its hash."""
    raw = files(__name__.rpartition(".")[0]).joinpath("identifiers.yaml").read_bytes()
    return hashlib.sha256(raw).hexdigest()[:16]


class RawLog:
    """Writes a raw log. Raises OSError when the disk does; FileExistsError for a file that is
    there: nothing is ever written over."""

    def __init__(self, path: Path, addressing: Addressing) -> None:
        self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND, 0o600)
        self._hash = hashlib.sha256()
        self._size = 0
        self._first_ms: int | None = None
        self._last_ms = 0
        self._masked = 0
        self._buffer = bytearray()
        self.full = False
        self._write(f"{FORMAT} {addressing.value} {table_mark()}")
        self.flush()

    def frame(self, at_ms: int, frame: CanFrame, out: bool, masked: bool) -> None:
        """A frame that left or came in. A masked one is only counted."""
        if masked:
            self._masked += 1
            return
        way = ">" if out else "<"
        self._line(at_ms, f"{way} {frame.identifier:0{8 if frame.extended else 3}X} "
                   f"{frame.data.hex().upper() or '-'}")  # fmt: skip

    def link(self, change: LinkChange) -> None:
        """The link has changed."""
        self._line(change.at_ms, f"link {change.state.value} {change.cause.value}")
        self.flush()

    def car(self, at_ms: int, engine: Ecu, scales: Scales) -> None:
        """Which ECU is the engine's, and the scales that it set."""
        parts = [f"{pid:02X}={raw.hex().upper()}" for pid, raw in sorted(scales.items())]
        self._line(at_ms, " ".join((f"car {engine:X}", *parts)))

    def own(self, row: OwnRow) -> None:
        """An identifier that the user has brought, with its origin and its checks."""
        self._line(0, "own " + row_text(row))

    def sample(self, sample: Sample) -> None:
        """A value that came in no frame."""
        good = int(sample.good)
        self._line(sample.at_ms, f"sample {sample.channel} {sample.milli} {good}")

    def said(self, said: Said) -> None:
        """What people have said and what is permitted."""
        self._line(said.at_ms, "said " + said_text(said))

    def flush(self) -> None:
        """Hand what is written to the system."""
        data, self._buffer = bytes(self._buffer), bytearray()
        while data:
            data = data[os.write(self._file, data) :]

    def close(self, at_ms: int) -> Digest:
        """End the log; what the record keeps of it."""
        self._line(at_ms, "end")
        self.flush()
        os.fsync(self._file)
        os.close(self._file)
        return Digest(self._hash.hexdigest(), self._size, self._first_ms or 0, self._last_ms)

    def _line(self, at_ms: int, text: str) -> None:
        if self._masked:
            count, self._masked = self._masked, 0
            self._line(at_ms, f"masked {count}")
        if at_ms > MAX_MS:
            self.full = True
            return
        if self._first_ms is None:
            self._first_ms = at_ms
        self._last_ms = at_ms
        self._write(f"{at_ms} {text}")

    def _write(self, text: str) -> None:
        data = text.encode("ascii") + b"\n"
        if self._size + len(data) > MAX_BYTES:
            self.full = True
            return
        self._hash.update(data)
        self._size += len(data)
        self._buffer += data
        if len(self._buffer) > 4096:
            self.flush()


def said_text(said: Said) -> str:
    """``said`` in the words of the log; every field stands in it."""
    parts = []
    for word, name in _SAID.items():
        value = getattr(said, name)
        if isinstance(value, frozenset):
            text = ",".join(sorted(value)) or "-"
        elif isinstance(value, bool):
            text = str(int(value))
        else:
            text = "-" if value is None else str(value)
        parts.append(f"{word}={text}")
    return " ".join(parts)


def said_of(at_ms: int, text: str) -> Said:
    """The inverse of ``said_text``. Raises ValueError."""
    pairs = dict(part.split("=", 1) for part in text.split(" "))
    if set(pairs) != set(_SAID):
        raise ValueError("fields are missing or unknown")
    sets = {"permits", "set_aside"}
    given: dict[str, object] = {}
    for word, name in _SAID.items():
        value = pairs[word]
        if name in sets:
            given[name] = frozenset() if value == "-" else frozenset(value.split(","))
        elif name == "gun_open":
            given[name] = {"0": False, "1": True}[value]
        elif name == "engine":
            given[name] = value
        else:
            given[name] = None if value == "-" else int(value)
    return Said(at_ms, **given)  # type: ignore[arg-type]


def replay(data: bytes) -> Replay:
    """Decode and reduce a raw log again. Raises BadRawLog."""
    if len(data) > MAX_BYTES:
        raise BadRawLog(0, "it is too long")
    lines = data.decode("ascii", "replace").split("\n")
    whole = lines.pop() == ""
    head = lines[0].split(" ") if lines else []
    if len(head) != 4 or " ".join(head[:2]) != FORMAT or head[2] not in ("11", "29"):
        raise BadRawLog(1, "this is no raw log of a known format")
    decoder = Decoder(Addressing(head[2]))
    witness, told, times = Witness(), [], [0, 0]
    ended = False
    for number, line in enumerate(lines[1:], start=2):
        try:
            at, _, after = line.partition(" ")
            kind, _, rest = after.partition(" ")
            at_ms = int(at)
            if at_ms > MAX_MS:
                raise ValueError("later than a log may be")
            witness, more = _item(witness, decoder, at_ms, kind, rest)
        except (ValueError, KeyError) as error:
            raise BadRawLog(number, f"{line[:60]!r}: {error}") from None
        told += more
        times = [times[0] if number > 2 else at_ms, at_ms]
        ended = kind == "end"
    digest = Digest(hashlib.sha256(data).hexdigest(), len(data), times[0], times[1])
    return Replay(witness, tuple(told), digest, head[3] == table_mark(), whole and ended)


def _item(
    witness: Witness, decoder: Decoder, at_ms: int, kind: str, rest: str
) -> tuple[Witness, list[Happening]]:
    told: list[Happening] = []
    if kind in ("<", ">"):
        identifier, data = rest.split(" ")
        raw = b"" if data == "-" else bytes.fromhex(data)
        frame = CanFrame(int(identifier, 16), raw, len(identifier) == 8)
        if kind == ">":
            decoder.sent(frame)
            return feed(witness, Now(at_ms))
        witness, told = feed(witness, Now(at_ms))
        for sample in decoder.heard(frame, at_ms):
            witness, more = feed(witness, sample)
            told += more
        return witness, told
    if kind == "link":
        state, cause = rest.split(" ")
        return feed(witness, LinkChange(at_ms, LinkState(state), Cause(cause)))
    if kind == "own":
        decoder.brought(row_of(rest))
        return feed(witness, Now(at_ms))
    if kind == "sample":
        channel, milli, good = rest.split(" ")
        return feed(witness, Sample(at_ms, channel, int(milli), {"0": False, "1": True}[good]))
    if kind == "said":
        return feed(witness, said_of(at_ms, rest))
    if kind == "car":
        engine, *scales = rest.split(" ")
        pairs = (part.split("=") for part in scales)
        decoder.engine(int(engine, 16), {int(p, 16): bytes.fromhex(raw) for p, raw in pairs})
        return feed(witness, Now(at_ms))
    if kind in ("masked", "end"):
        return feed(witness, Now(at_ms))
    raise ValueError(f"{kind!r} is no kind of line")


assert set(_SAID.values()) == {field.name for field in fields(Said)} - {"at_ms"}
