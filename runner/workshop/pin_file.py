"""The pin book on the disk: one small file, one writer at a time, replaced whole or not at all.

    {"schema":1,"people":{"technician-1":{"name":"...","since":"2026-...Z","retired":"",
      "pin":{"salt":"..","hash":"..","n":32768,"r":8,"p":3,"set":"2026-...Z"},
      "tries":{"count":0,"left_ms":0,"at":null},"taken":{"count":0,"left_ms":0,"at":null}}}}

It holds no PIN, only its scrypt hash. It is the book that remembers every id for ever: an entry
is never removed. A file that is not exactly of this form is refused, never taken as empty.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..core.clock import Times
from ..record.disk import Disk, read_whole, replace_file
from ..record.faults import BadSideFile, failed

SCHEMA: Final = 1
MAX_FILE_BYTES: Final = 1024 * 1024
_HEX = re.compile(r"(?:[0-9a-f]{2})+")
_REMEDY: Final = _(
    "Restore it from a backup. Without one, move it away and have everybody set a PIN anew: "
    "until then every signature is marked as made without a PIN"
)


class BadPinBook(BadSideFile):
    """The pin book cannot be read as one. Nobody is taken as known until it is restored."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What one scrypt derivation costs: 128 * n * r bytes of memory, p times over."""

    n: int
    r: int
    p: int


@dataclass(frozen=True, slots=True)
class PinRecord:
    """What is kept of a PIN. ``repr`` shows neither salt nor hash."""

    salt: bytes
    hash: bytes
    cost: Cost
    set_utc: str

    def __repr__(self) -> str:
        return _("Kept(set {set_utc})", set_utc=self.set_utc)


@dataclass(frozen=True, slots=True)
class Tally:
    """Wrong tries in a row, and what is left of a lock-out at a moment of a running clock."""

    count: int = 0
    left_ms: int = 0
    at: Times | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One id of the workshop, for ever. ``taken`` counts PINs refused as somebody else's."""

    id: str
    name: str
    since: str
    retired: str = ""
    pin: PinRecord | None = None
    tries: Tally = Tally()
    taken: Tally = Tally()


Entries = Mapping[str, Entry]


def read_book(disk: Disk, path: Path) -> dict[str, Entry]:
    """Every entry by id; empty when there is no book yet. Raises BadPinBook, JournalFailed."""
    try:
        raw = read_whole(disk, path, MAX_FILE_BYTES)
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise failed(path, _("read the pin book"), error) from error
    if len(raw) > MAX_FILE_BYTES:
        raise BadPinBook(
            str(path),
            _("it is larger than {max_file_bytes} bytes", max_file_bytes=MAX_FILE_BYTES),
            _REMEDY,
        )
    try:
        members = json.loads(raw.decode("utf-8"), object_pairs_hook=_no_duplicates)
        _only(members, "schema", "people")
        if type(members["schema"]) is not int or members["schema"] != SCHEMA:
            raise ValueError(_("its schema is not {schema}", schema=SCHEMA))
        return {key: _entry(key, value) for key, value in members["people"].items()}
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        what = str(error) if isinstance(error, ValueError) else _("it is not a pin book")
        raise BadPinBook(str(path), what[:200], _REMEDY) from None


def write_book(disk: Disk, path: Path, entries: Entries) -> None:
    """Replace the book (mode 0600) and have the disk keep it. Raises JournalFailed."""
    people = {key: _plain(entry) for key, entry in sorted(entries.items())}
    members = {"schema": SCHEMA, "people": people}
    raw = json.dumps(members, ensure_ascii=False, indent=1).encode("utf-8") + b"\n"
    try:
        replace_file(disk, path, raw)
    except OSError as error:
        raise failed(path, _("write the pin book"), error) from error


def _plain(entry: Entry) -> dict[str, Any]:
    pin = entry.pin
    return {
        "name": entry.name,
        "since": entry.since,
        "retired": entry.retired,
        "pin": pin
        and {
            "salt": pin.salt.hex(),
            "hash": pin.hash.hex(),
            **asdict(pin.cost),
            "set": pin.set_utc,
        },
        "tries": asdict(entry.tries),
        "taken": asdict(entry.taken),
    }


def _entry(key: str, raw: Any) -> Entry:
    _only(raw, "name", "since", "retired", "pin", "tries", "taken")
    pin = None
    if raw["pin"] is not None:
        plain = raw["pin"]
        _only(plain, "salt", "hash", "n", "r", "p", "set")
        cost = Cost(*(_count(plain[name], 1 << 20) for name in ("n", "r", "p")))
        pin = PinRecord(_bytes(plain["salt"]), _bytes(plain["hash"]), cost, _text(plain["set"]))
        if cost.n < 2 or cost.n & (cost.n - 1) or 128 * cost.n * cost.r > 1 << 28 or cost.p > 64:
            raise ValueError(_("the cost of the PIN of '{key}' is not believed", key=key[:40]))
    entry = Entry(key, _text(raw["name"]), _text(raw["since"]), _text(raw["retired"]), pin)
    return replace(entry, tries=_tally(raw["tries"]), taken=_tally(raw["taken"]))


def _tally(raw: Any) -> Tally:
    _only(raw, "count", "left_ms", "at")
    at = None if raw["at"] is None else Times(**raw["at"])
    if at is not None:
        _text(at.utc), _text(at.zone), _text(at.boot), _count(at.monotonic_ms, 1 << 62)
        if at.boottime_ms is not None:
            _count(at.boottime_ms, 1 << 62)
    return Tally(_count(raw["count"], 1 << 31), _count(raw["left_ms"], 1 << 31), at)


def _count(value: Any, most: int) -> int:
    if type(value) is not int or not 0 <= value <= most:
        raise ValueError(_("a count in it is no count"))
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(_("a text in it is no text"))
    return value


def _bytes(value: Any) -> bytes:
    if not isinstance(value, str) or _HEX.fullmatch(value) is None or len(value) > 256:
        raise ValueError(_("a salt or hash in it is none"))
    return bytes.fromhex(value)


def _only(raw: Any, *names: str) -> None:
    if not isinstance(raw, dict) or set(raw) != set(names):
        raise ValueError(_("its members are not {names}", names=", ".join(names)))


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len({key for key, _ in pairs}) != len(pairs):
        raise ValueError(_("a key stands twice in one object"))
    return dict(pairs)
