"""What supervisors signed of a person: competences, withdrawals, faults set to be found.

    <data folder>/progress/<person's id>.jsonl    one JSON object a line, each with the hash of the
                                                  one before; the first holds a salt

It holds ids, never a name. The workshop's signed ledger has the hash of every line, under a mark
that only the salt ties to the person: so a line that nobody signed, and a withdrawal that was
taken away, show, and nothing of the file counts then. After an erasure the file is gone, and
nothing that is left says whose the marks in the ledger were.
"""

import hashlib
import json
import secrets
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Final, Literal

from steplatch.safety.catalogue import _

from ..jobs.ledgers import tell
from ..record import DataFolder, Disk
from ..record.clocks import utc_now
from ..record.disk import FOLDER_MODE, fsync_folder, read_whole, replace_file
from ..record.faults import BadSideFile, failed
from ..record.folders import PROGRESS_NAME
from ..record.ledger import Entry, read_ledger
from ..record.line import ZERO_HASH, hash_of
from ..record.lock import held

ACT: Final = "progress"
MAX_BYTES: Final = 4_000_000
_LOCK: Final = "lines"
_REMEDY: Final = _("Restore the file from a backup, or have the person's competences signed anew")
What = Literal["opened", "signed", "withdrawn", "set"]


@dataclass(frozen=True, slots=True)
class SignOff:
    """One line. ``statement`` is the hash of the competence as it was signed; ``until`` the last
    day (ISO); ``evidence`` the jobs that stood for it: id, lines, hash of the last of them.
    ``set``: ``faults`` to be found by ``until``, with the ``seed`` of their vehicle."""

    what: What
    person: str
    by: str = ""
    competence: str = ""
    statement: str = ""
    until: str = ""
    why: str = ""
    seed: int = 0
    faults: tuple[str, ...] = ()
    evidence: tuple[tuple[str, int, str], ...] = ()
    salt: str = ""
    utc: str = ""
    sha256: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Kept:
    """What stands of one person. ``wrong`` says why nothing of it counts; ``unlisted`` is how many
    last lines the ledger does not have, which count for nothing."""

    lines: tuple[SignOff, ...] = ()
    wrong: tuple[str, ...] = ()
    unlisted: int = 0

    def of(self, competence: str) -> SignOff | None:
        """The last line that signs or withdraws a competence; None where nothing counts."""
        named = (one for one in reversed(self.lines) if one.competence == competence)
        return None if self.wrong else next(named, None)

    def sets(self) -> tuple[SignOff, ...]:
        """Faults that were set, oldest first."""
        return () if self.wrong else tuple(one for one in self.lines if one.what == "set")


def path_of(data: DataFolder, person: str) -> Path:
    """Where the lines of a person stand."""
    return data.path / PROGRESS_NAME / f"{person}.jsonl"


def kept_of(data: DataFolder, person: str, disk: Disk | None = None) -> Kept:
    """What was signed of a person, held against the ledger. Raises JournalFailed, BadSideFile."""
    lines = _read(data, person, disk or Disk())
    known = _known(data, lines)
    confirmed = tuple(line for line in lines if line.sha256 in known)
    wrong = []
    if confirmed != lines[: len(confirmed)]:
        wrong.append(_("a line of it is not in the workshop's ledger: nobody vouches for it"))
    if lines and known != tuple(line.sha256 for line in confirmed):
        wrong.append(_("the ledger has lines of it that are gone"))
    return Kept(confirmed, tuple(wrong), len(lines) - len(confirmed))


def add(data: DataFolder, new: SignOff, disk: Disk | None = None) -> SignOff:
    """Write a line and have the ledger vouch for it; returns it as it stands.

    A last line that the ledger never had was never confirmed to anybody: it goes. Raises
    BadSideFile where what stands there does not count; JournalFailed.
    """
    disk = disk or Disk()
    path = path_of(data, new.person)
    path.parent.mkdir(FOLDER_MODE, parents=True, exist_ok=True)
    with held(disk, path.parent / _LOCK, _("the record of progress")):
        kept = kept_of(data, new.person, disk)
        if kept.wrong:
            raise BadSideFile(str(path), kept.wrong[0], _REMEDY)
        lines = list(kept.lines)
        added = []
        if not lines:
            added.append(SignOff("opened", new.person, salt=secrets.token_hex(32)))
        added.append(new)
        prev = lines[-1].sha256 if lines else ZERO_HASH
        for one in added:
            raw = _encoded(one if one.utc else _stamped(one), prev)
            lines.append(_decoded(raw, prev))
            prev = lines[-1].sha256
        try:
            replace_file(disk, path, b"".join(_rows(lines)))
        except OSError as error:
            raise failed(path, _("write what was signed"), error) from error
        mark = _mark(lines)
        for line in lines[-len(added) :]:
            tell(data, Entry(ACT, by=new.by, head=line.sha256, note=mark), disk=disk)
    return lines[-1]


def erase(data: DataFolder, person: str, by: str, disk: Disk | None = None) -> int:
    """Take away all that was signed of a person; returns how many lines. The ledger says that it
    was done, by whom, and nothing of whom. Raises JournalFailed."""
    disk = disk or Disk()
    path = path_of(data, person)
    if not path.exists():
        return 0
    with held(disk, path.parent / _LOCK, _("the record of progress")):
        try:
            raw = read_whole(disk, path, MAX_BYTES)
            path.unlink()
            fsync_folder(disk, path.parent)
        except OSError as error:
            raise failed(path, _("erase what was signed"), error) from error
        tell(data, Entry("erased", by=by, note=_("a record of progress")), disk=disk)
    return raw.count(b"\n")


def _known(data: DataFolder, lines: tuple[SignOff, ...]) -> tuple[str, ...]:
    """The hashes that the ledger has under the mark of these lines, oldest first."""
    ledger = read_ledger(data) if lines else None
    if ledger is None:
        return ()
    mark = _mark(lines)
    return tuple(e.head for e in ledger.entries if e.what == ACT and e.note == mark)


def _mark(lines: list[SignOff] | tuple[SignOff, ...]) -> str:
    first = lines[0]
    return hashlib.sha256(f"{first.salt} {first.person}".encode()).hexdigest()[:32]


def _stamped(one: SignOff) -> SignOff:
    return replace(one, utc=utc_now())


def _encoded(one: SignOff, prev: str) -> bytes:
    plain = {"prev": prev, **asdict(one)}
    del plain["sha256"]
    return json.dumps(plain, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"


def _rows(lines: list[SignOff]) -> Iterator[bytes]:
    prev = ZERO_HASH
    for one in lines:
        yield _encoded(one, prev)
        prev = one.sha256


def _decoded(raw: bytes, prev: str) -> SignOff:
    """A line as it stands. Raises ValueError for one that no program of ours wrote there."""
    plain = json.loads(raw.decode("utf-8"))
    if not isinstance(plain, dict) or plain.pop("prev", None) != prev:
        raise ValueError(_("it does not follow the line before"))
    plain["faults"] = tuple(plain["faults"])
    plain["evidence"] = tuple(tuple(one) for one in plain["evidence"])
    one = SignOff(**plain, sha256=hash_of(raw))
    if _encoded(one, prev) != raw:
        raise ValueError(_("it is not as this program writes it"))
    return one


def _read(data: DataFolder, person: str, disk: Disk) -> tuple[SignOff, ...]:
    path = path_of(data, person)
    try:
        raw = read_whole(disk, path, MAX_BYTES)
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise failed(path, _("read what was signed"), error) from error
    lines: list[SignOff] = []
    try:
        for row in raw.splitlines(keepends=True):
            lines.append(_decoded(row, lines[-1].sha256 if lines else ZERO_HASH))
        if any(line.person != person for line in lines) or (lines and not lines[0].salt):
            raise ValueError(_("it is another person's, or has no beginning"))
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        what = _("line {count} was changed: {error}", count=len(lines) + 1, error=error)
        raise BadSideFile(str(path), what, _REMEDY) from None
    return tuple(lines)
