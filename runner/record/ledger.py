"""The workshop's ledger: every real job begun, ended, sealed, held, erased, in one signed chain.

    <data folder>/ledger/lines.jsonl   one JSON object a line, each with the hash of the one before
                         head.json     how many lines, the hash of the last, and its signature
                  practice-ledger/     the same of practice that somebody works as themselves

A job's folder shows what was changed in it; it cannot show that a folder is gone, that a seal was
taken away or exchanged, or that a sheet is another one. The ledger can. Its head is signed with
the workshop's key whenever that is at hand without a passphrase, and whenever a job is sealed; a
seal names the ledger's head in turn, so that a ledger that was cut or left out shows against any
seal that was made later.

What it cannot show: a data folder put back whole to an earlier copy of itself. Against that only a
head or a seal kept elsewhere helps.
"""

import errno
import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Final

from steplatch.safety.catalogue import _

from .clocks import utc_now
from .disk import (
    APPEND_FLAGS,
    ASIDE_SUFFIX,
    NEW_APPEND_FLAGS,
    Disk,
    fsync_folder,
    let_go,
    read_whole,
    replace_file,
)
from .faults import JournalFailed, failed
from .folders import DataFolder, is_job_id
from .keys import PublicKey, SigningKey, short_key
from .line import ZERO_HASH, hash_of
from .lock import held

FOLDER: Final = "ledger"
PRACTICE: Final = "practice-ledger"
LINES: Final = "lines.jsonl"
HEAD: Final = "head.json"
MAX_BYTES: Final = 64_000_000
"""A hundred thousand jobs (a design choice)."""
ACTS: Final = (
    "opened", "begun", "ended", "sealed", "sheet", "hold", "release", "erased", "attached", "key",
    "progress", "acknowledged",
)  # fmt: skip
_HEAD_MEMBERS = ("lines", "sha256", "signed", "signed_sha256", "key", "signature")
_OWN = frozenset({LINES, HEAD, f"{HEAD}{ASIDE_SUFFIX}", "lines.lock"})
_HASH = re.compile("[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Entry:
    """One line. ``opened`` lists in ``note`` the jobs that were there before the ledger was.

    lines, head: the job's journal at that moment. sheet: SHA-256 of the page that was written.
    key: short form of the key that sealed. by: who, by id.
    """

    what: str
    job: str = ""
    by: str = ""
    lines: int = 0
    head: str = ""
    sheet: str = ""
    key: str = ""
    note: str = ""
    utc: str = ""


@dataclass(frozen=True, slots=True)
class Ledger:
    """A ledger as it was read. ``findings`` say what is wrong with it; ``signed`` is how many of
    its lines the last signature covers; ``hashes`` are those of its lines."""

    entries: tuple[Entry, ...] = ()
    hashes: tuple[str, ...] = ()
    signed: int = 0
    findings: tuple[str, ...] = ()

    def of(self, job: str) -> tuple[Entry, ...]:
        """What it says of one job, oldest first."""
        return tuple(entry for entry in self.entries if entry.job == job)

    def jobs(self) -> tuple[str, ...]:
        """Every job that it names as begun, oldest first."""
        return tuple(dict.fromkeys(e.job for e in self.entries if e.what == "begun"))

    def before(self) -> frozenset[str]:
        """The jobs that lay there before the ledger was opened."""
        return frozenset(
            job for e in self.entries if e.what == "opened" for job in e.note.split(" ") if job
        )

    @property
    def mark(self) -> str:
        """Count and hash of the last line, as a seal names them."""
        return f"{len(self.hashes)} {self.hashes[-1]}" if self.hashes else ""

    def holds(self, mark: str) -> bool:
        """Whether a line of that number has that hash."""
        number, _other, digest = mark.partition(" ")
        at = int(number) if number.isascii() and number.isdigit() else 0
        return 1 <= at <= len(self.hashes) and self.hashes[at - 1] == digest


def read_ledger(
    data: DataFolder,
    known: tuple[PublicKey, ...] = (),
    disk: Disk | None = None,
    folder: str = FOLDER,
) -> Ledger | None:
    """The ledger, checked; None where there is none. ``known`` are the workshop's public keys;
    ``folder`` is which: of real jobs, or ``PRACTICE``.

    Raises JournalFailed where the disk does not give it.
    """
    disk = disk or Disk()
    room = data.path / folder
    try:
        raw = read_whole(disk, room / LINES, MAX_BYTES)
        if len(raw) > MAX_BYTES:
            return Ledger(findings=(_("it is larger than any ledger of this program"),))
        head, names = _head(disk, room), disk.names(room)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise failed(room, _("read the ledger"), error) from error
    entries, hashes, wrong = _follow(raw)
    signed, found = _judged(hashes, head, known, folder)
    strange = [
        _("{name!r} lies in its folder and is no part of it", name=name[:60])
        for name in names
        if name not in _OWN
    ]
    return Ledger(tuple(entries), tuple(hashes), signed, (*wrong, *found, *strange))


def _follow(raw: bytes) -> tuple[list[Entry], list[str], list[str]]:
    """Entries and hashes up to the first line that does not follow, and what is wrong there."""
    entries: list[Entry] = []
    hashes: list[str] = []
    for number, line in enumerate(raw.splitlines(keepends=True), start=1):
        if not line.endswith(b"\n"):  # a crash while it was written: it was never confirmed
            break
        entry = _entry(line, hashes[-1] if hashes else ZERO_HASH)
        if entry is None:
            return (
                entries,
                hashes,
                [_("line {number} does not follow, or was not written here", number=number)],
            )
        entries.append(entry)
        hashes.append(hash_of(line))
    return entries, hashes, []


def _encoded(entry: Entry, prev: str) -> bytes:
    members = {"prev": prev, **asdict(entry)}
    return json.dumps(members, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"


def _entry(line: bytes, prev: str) -> Entry | None:
    try:
        plain = json.loads(line.decode("utf-8"))
        if plain.pop("prev") != prev:
            return None
        entry = Entry(**plain)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    texts = (entry.what, entry.job, entry.by, entry.head, entry.sheet, entry.key, entry.note)
    sound = (
        all(isinstance(text, str) for text in (*texts, entry.utc))
        and type(entry.lines) is int
        and entry.what in ACTS
        and (not entry.job or is_job_id(entry.job))
    )
    return entry if sound and _encoded(entry, prev) == line else None


def _message(lines: int, digest: str, folder: str) -> bytes:
    name = folder.replace("-", " ")
    return f"steplatch {name} 1\nlines: {lines}\nhead: {digest}\n".encode("ascii")


def _head_bytes(members: Mapping[str, object]) -> bytes:
    return json.dumps(members).encode("ascii") + b"\n"


def _head(disk: Disk, room: Path) -> dict[str, object] | None:
    """The head's members; None where it cannot be read as one. Raises OSError for a failing disk,
    which is no sign that anybody changed it."""
    try:
        raw = read_whole(disk, room / HEAD, 4096)
        plain = json.loads(raw.decode("ascii"))
    except OSError as error:
        if error.errno == errno.EIO:
            raise
        return None
    except (ValueError, RecursionError):
        return None
    if not isinstance(plain, dict) or tuple(plain) != _HEAD_MEMBERS:
        return None
    return plain if _head_bytes(plain) == raw else None


def _judged(
    hashes: list[str], head: dict[str, object] | None, known: tuple[PublicKey, ...], folder: str
) -> tuple[int, list[str]]:
    if head is None:
        return 0, [_("its head is missing or cannot be read: lines may have been cut off")]
    lines, digest = head.get("lines"), head.get("sha256")
    if type(lines) is not int or not isinstance(digest, str) or not _HASH.fullmatch(digest):
        return 0, [_("its head is not as this program writes it")]
    if lines > len(hashes):
        return 0, [
            _(
                "its head counts {lines} lines, there are {count}: lines were cut off",
                lines=lines,
                count=len(hashes),
            )
        ]
    if lines and hashes[lines - 1] != digest:
        return 0, [
            _("its head has another hash for line {lines}: it was written anew", lines=lines)
        ]
    if len(hashes) > lines + 1:
        return 0, [
            _("{count} lines stand after those that its head counts", count=len(hashes) - lines)
        ]
    return _signature(head, hashes, known, folder)


def _signature(
    head: dict[str, object], hashes: list[str], known: tuple[PublicKey, ...], folder: str
) -> tuple[int, list[str]]:
    signed, digest, signature = (head.get(key) for key in ("signed", "signed_sha256", "signature"))
    if signed == 0 and signature == head.get("key") == "":
        return 0, []
    if type(signed) is not int or not isinstance(digest, str) or not isinstance(signature, str):
        return 0, [_("its signature is not as this program writes it")]
    try:
        raw = bytes.fromhex(signature)
    except ValueError:
        return 0, [_("its signature is not as this program writes it")]
    if not 1 <= signed <= len(hashes) or hashes[signed - 1] != digest:
        return 0, [_("its signature is over lines that are not there: it was written anew")]
    by = (key for key in known if short_key(key.raw) == head.get("key"))
    if not any(key.verifies(raw, _message(signed, digest, folder)) for key in by):
        return 0, [_("its signature is by no key of this workshop")]
    return signed, []


def note(
    data: DataFolder,
    entry: Entry,
    signing: SigningKey | None = None,
    disk: Disk | None = None,
    lying_there: tuple[str, ...] = (),
    folder: str = FOLDER,
) -> Ledger:
    """Add a line, sign where the key is at hand, and give the ledger as it stands.

    ``lying_there`` are the jobs of the data folder, for the first line of a new ledger. Raises
    JournalFailed: the disk refuses, or what stands there is not whole (nothing is added then).
    """
    disk = disk or Disk()
    room = data.path / folder
    try:
        if not room.is_dir():
            disk.mkdir(room)
            fsync_folder(disk, data.path)
    except FileExistsError:
        pass
    except OSError as error:
        raise failed(room, _("make the ledger's folder"), error) from error
    with held(disk, room / "lines", _("the ledger")):
        return _noted(disk, data, entry, signing, lying_there, folder)


def _noted(
    disk: Disk,
    data: DataFolder,
    entry: Entry,
    signing: SigningKey | None,
    lying_there: tuple[str, ...],
    folder: str,
) -> Ledger:
    room = data.path / folder
    known = (signing.public,) if signing else ()
    stands = read_ledger(data, known, disk, folder)
    passing = (_("by no key"), _("no part of it"))  # said by an audit; no reason to lose a line
    wrong = [f for f in stands.findings if not any(p in f for p in passing)] if stands else []
    if stands is not None and stands.hashes and wrong:
        raise JournalFailed(
            str(room), _("the ledger is not whole: {wrong}", wrong=wrong[0]), _("See: audit --all")
        )
    fresh = stands is None or not stands.hashes
    before = " ".join(job for job in lying_there if job != entry.job)
    opening = [Entry("opened", note=before, utc=utc_now())] if fresh else []
    hashes = list(stands.hashes) if stands else []
    raw = b""
    for each in (*opening, replace(entry, utc=utc_now())):
        line = _encoded(each, hashes[-1] if hashes else ZERO_HASH)
        raw += line
        hashes.append(hash_of(line))
    try:
        _append(disk, room, raw)
        members = {
            "lines": len(hashes),
            "sha256": hashes[-1],
            **_signed(disk, room, hashes, signing),
        }
        replace_file(disk, room / HEAD, _head_bytes(members))
    except OSError as error:
        raise failed(room, _("write the ledger"), error) from error
    kept = stands.entries if stands else ()
    return Ledger((*kept, *opening, entry), tuple(hashes))


def _signed(
    disk: Disk, room: Path, hashes: list[str], signing: SigningKey | None
) -> dict[str, object]:
    """The newest signature; without a key the one that stands there."""
    if signing is not None:
        message = _message(len(hashes), hashes[-1], room.name)
        return {
            "signed": len(hashes),
            "signed_sha256": hashes[-1],
            "key": short_key(signing.public.raw),
            "signature": signing.sign(message).hex(),
        }
    head = _head(disk, room)
    names = ("signed", "signed_sha256", "key", "signature")
    if head is not None and all(name in head for name in names):
        return {name: head[name] for name in names}
    return {"signed": 0, "signed_sha256": "", "key": "", "signature": ""}


def _append(disk: Disk, room: Path, raw: bytes) -> None:
    """Write the lines at the end, once a line that a crash cut off is off again."""
    path = room / LINES
    try:
        fd = disk.open(path, NEW_APPEND_FLAGS)
        new = True
    except FileExistsError:
        fd, new = disk.open(path, APPEND_FLAGS), False
    try:
        stands = read_whole(disk, path, MAX_BYTES)
        whole = stands.rfind(b"\n") + 1
        if whole != len(stands):
            disk.truncate(fd, whole)
        taken = disk.write(fd, raw)
        if taken != len(raw):
            disk.truncate(fd, whole)
            raise OSError(28, _("the disk took only a part of the line"))
        disk.fsync(fd)
    finally:
        let_go(disk, fd)
    if new:
        fsync_folder(disk, room)
