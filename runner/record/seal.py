"""The seal of a job that has ended: its head, signed with the workshop's key.

    <job>/seal/statement.txt     what is sealed, in eight to ten short lines of ASCII
               signature.bin     64 bytes: Ed25519 (RFC 8032) over the bytes of statement.txt
               public-key.pem    the public key (RFC 8410)

A stranger checks it with standard tools, see README.md in this folder. The seal binds the whole
journal through its head, and through the journal every text and file that it names by hash. A
journal that was cut, or written anew from the first line, no longer has the head that was signed.
Whose key it is, the seal cannot say: compare its short form with the one on the sheet or at the
workshop.

What is attached after the end (``late``) is sealed again, with a tenth line; the seal before that
stays beside it as ``seal-1``, ``seal-2``, and is checked like the newest.
"""

import re
import shutil
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from steplatch.safety.catalogue import _

from .disk import NEW_FLAGS, Disk, fsync_folder, read_whole, write_and_sync
from .faults import BadSideFile, NotRecordable, failed
from .findings import Verification
from .folders import JobFolder
from .head import Head
from .keys import PublicKey, SigningKey, public_from_pem
from .late import LATE_NAME, LateFile, late_files, late_mark

FOLDER = "seal"
STATEMENT = "statement.txt"
SIGNATURE = "signature.bin"
PUBLIC_KEY = "public-key.pem"
MAX_BYTES = 4096
EARLIER = re.compile(f"{FOLDER}-[1-9][0-9]?")
_SIGNATURE_BYTES = 64

SealTime = Literal["at the end", "later"]
_FORM = re.compile(
    r"steplatch seal 1\njob: (?P<job>[0-9a-z-]{10,40})\nlines: (?P<lines>[1-9][0-9]{0,8})\n"
    r"head: (?P<head>[0-9a-f]{64})\nended: (?P<ended>finished|abandoned)\n"
    r"made: (?P<made>at the end|later)\n"
    r"time: (?P<time>\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z)\n"
    r"key: (?P<key>[0-9a-f]{4}(?:-[0-9a-f]{4}){3})\n"
    r"(?:ledger: (?P<ledger>[1-9][0-9]{0,8} [0-9a-f]{64})\n)?"
    r"(?:late: (?P<late>[1-9][0-9]? [0-9a-f]{64})\n)?"
)


@dataclass(frozen=True, slots=True)
class Statement:
    """What a seal says."""

    job: str
    lines: int
    head: str
    ended: str
    made: SealTime
    time: str
    key: str
    ledger: str = ""
    """Count and hash of the last line of the workshop's ledger then; empty where it has none."""
    late: str = ""
    """Count and hash of what was attached after the end; empty of none."""

    def to_bytes(self) -> bytes:
        """The exact bytes that are signed."""
        ledger = f"ledger: {self.ledger}\n" if self.ledger else ""
        late = f"late: {self.late}\n" if self.late else ""
        return (
            f"steplatch seal 1\njob: {self.job}\nlines: {self.lines}\nhead: {self.head}\n"
            f"ended: {self.ended}\nmade: {self.made}\ntime: {self.time}\nkey: {self.key}\n{ledger}"
            f"{late}"
        ).encode("ascii")

    @staticmethod
    def from_bytes(raw: bytes) -> "Statement":
        """Read a statement. Raises ValueError for anything but its exact form."""
        match = _FORM.fullmatch(raw.decode("ascii", errors="strict"))
        if match is None:
            raise ValueError(_("it has not the form of a statement"))
        made: SealTime = "later" if match["made"] == "later" else "at the end"
        return Statement(
            match["job"], int(match["lines"]), match["head"], match["ended"], made,
            match["time"], match["key"], match["ledger"] or "", match["late"] or "",
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class SealCheck:
    """What a check of a seal found. ``findings`` each say what is wrong and what it may mean;
    ``earlier`` is how many earlier seals stand beside it."""

    state: Literal["none", "good", "broken"]
    statement: Statement | None = None
    known_key: bool | None = None
    findings: tuple[str, ...] = ()
    earlier: int = 0

    def lines(self) -> list[str]:
        """The check in words."""
        if self.state == "none":
            return [_("seal: none")]
        if self.state == "broken" or self.statement is None:
            return [_("seal: BROKEN"), *(f"  {text}" for text in self.findings)]
        whose = {
            True: _("a key of this data folder"),
            False: _("a key that this data folder does not know: compare its short form"),
            None: _("keys of this data folder were not looked at"),
        }[self.known_key]
        said = self.statement
        late = said.late.split(" ")[0]
        if late:
            whose += _("; {count} files attached after the end", count=late)
        if self.earlier:
            whose += _("; {count} earlier seals beside it", count=self.earlier)
        return [
            _(
                "seal: good, made {made}, {time}, key {key} ({whose})",
                made=said.made,
                time=said.time,
                key=said.key,
                whose=whose,
            )
        ]


NO_SEAL = SealCheck("none")
"""There is no seal."""


def is_sealed(folder: JobFolder) -> bool:
    """Whether a job has a seal, good or not."""
    return (folder.path / FOLDER).exists()


def earlier_seals(folder: JobFolder) -> tuple[Path, ...]:
    """The folders of seals that were made before the newest, oldest first."""
    found = (path for path in folder.path.glob(f"{FOLDER}-*") if EARLIER.fullmatch(path.name))
    return tuple(sorted(found, key=lambda path: int(path.name.rpartition("-")[2])))


def make_seal(
    folder: JobFolder,
    chain: Verification | Head,
    ended: str,
    made: SealTime,
    time_utc: str,
    key: SigningKey,
    disk: Disk | None = None,
    ledger: str = "",
    again: bool = False,
) -> Statement:
    """Seal a job whose chain was just verified (``Head``: found sound at opening). The seal
    appears whole or not at all. ``ledger`` is the mark of the workshop's ledger; ``again`` keeps a
    seal that stands there beside the new one.

    Raises NotRecordable when the job has not ended, is sealed already or its chain is not sound;
    JournalFailed when the disk refuses.
    """
    disk = disk or Disk()
    if ended not in ("finished", "abandoned"):
        raise NotRecordable(folder.id, _("the job has not ended"), _("Finish or abandon it first"))
    if isinstance(chain, Verification) and not chain.sound:
        raise NotRecordable(folder.id, _("its chain is not sound"), _("See: steplatch audit"))
    if is_sealed(folder) and not again:
        raise NotRecordable(folder.id, _("it is sealed already"), _("See: steplatch audit"))
    public = key.public
    said = Statement(
        folder.id, chain.lines, chain.sha256, ended, made, time_utc, public.short, ledger,
        late_mark(late_files(folder, disk)),
    )  # fmt: skip
    message = said.to_bytes()
    Statement.from_bytes(message)  # what is signed can be read again
    aside = folder.path / f"{FOLDER}.new"
    try:
        if aside.exists():  # a crash left it; it was never a seal
            shutil.rmtree(aside)
        disk.mkdir(aside)
        for name, data in (
            (STATEMENT, message),
            (SIGNATURE, key.sign(message)),
            (PUBLIC_KEY, public.pem),
        ):
            write_and_sync(disk, aside / name, NEW_FLAGS, data)
        fsync_folder(disk, aside)
        if is_sealed(folder):
            beside = f"{FOLDER}-{len(earlier_seals(folder)) + 1}"
            disk.replace(folder.path / FOLDER, folder.path / beside)
            fsync_folder(disk, folder.path)
        disk.replace(aside, folder.path / FOLDER)
        fsync_folder(disk, folder.path)
    except OSError as error:
        raise failed(folder.path, _("seal the job"), error) from error
    return said


def check_seal(
    folder: JobFolder,
    chain: Verification,
    known: tuple[PublicKey, ...] | None = None,
    disk: Disk | None = None,
) -> SealCheck:
    """Check a job's seal against its journal as ``verify`` found it.

    ``known`` are the public keys of this data folder; without them the key is not judged.
    """
    if not is_sealed(folder):
        return NO_SEAL
    disk = disk or Disk()
    try:
        files = late_files(folder, disk)
    except BadSideFile as error:
        return _broken(str(error), _TOUCHED)
    newest = _checked(folder, folder.path / FOLDER, chain, known, files, disk, newest=True)
    if newest.state == "broken":
        return newest
    beside = earlier_seals(folder)
    for room in beside:
        one = _checked(folder, room, chain, known, files, disk)
        if one.state == "broken":
            return replace(one, findings=tuple(f"{room.name}: {text}" for text in one.findings))
    return replace(newest, earlier=len(beside))


def lacks_late(folder: JobFolder, chain: Verification, disk: Disk | None = None) -> bool:
    """Whether the newest seal is good, and was made before the last file was attached after the
    end. Raises BadSideFile, JournalFailed."""
    disk = disk or Disk()
    files = late_files(folder, disk)
    if not files or not is_sealed(folder):
        return False
    found = _checked(folder, folder.path / FOLDER, chain, None, files, disk)
    said = found.statement
    return found.state == "good" and said is not None and said.late != late_mark(files)


def _checked(
    folder: JobFolder, room: Path, chain: Verification, known: tuple[PublicKey, ...] | None,
    late: tuple[LateFile, ...], disk: Disk, newest: bool = False,
) -> SealCheck:  # fmt: skip
    """One seal; an earlier one covers those of the files attached late that were there then."""
    try:
        message, signature, pem = (
            read_whole(disk, room / name, MAX_BYTES) for name in (STATEMENT, SIGNATURE, PUBLIC_KEY)
        )
    except OSError as error:
        return _broken(
            _(
                "{filename}: cannot be read ({strerror})",
                filename=error.filename,
                strerror=error.strerror,
            ),
            _INCOMPLETE,
        )
    try:
        said = Statement.from_bytes(message)
    except ValueError as error:
        return _broken(f"{STATEMENT}: {error}", _TOUCHED)
    try:
        public = public_from_pem(pem)
    except ValueError:
        return _broken(
            _("{public_key}: it is no Ed25519 public key", public_key=PUBLIC_KEY), _TOUCHED
        )
    found = []
    if len(signature) != _SIGNATURE_BYTES or not public.verifies(signature, message):
        found.append(
            _(
                "{signature}: it does not fit statement and key. {touched}",
                signature=SIGNATURE,
                touched=_TOUCHED,
            )
        )
    if public.short != said.key:
        found.append(
            _(
                "{public_key}: its short form is {short}, not {key}. {touched}",
                public_key=PUBLIC_KEY,
                short=public.short,
                key=said.key,
                touched=_TOUCHED,
            )
        )
    if said.job != folder.id:
        found.append(
            _("it is the seal of job {job}. May mean: copied from another job.", job=said.job)
        )
    if (said.lines, said.head) != (chain.lines, chain.sha256):
        found.append(
            _(
                "it seals {lines} lines ending in {head}...; the journal has {lines_2} "
                "ending in {sha256}... May mean: lines were cut off, added or written anew "
                "after sealing. Keep the folder as it is; compare with a backup.",
                lines=said.lines,
                head=said.head[:8],
                lines_2=chain.lines,
                sha256=chain.sha256[:8],
            )
        )
    covers = int(said.late.split(" ")[0]) if said.late else 0
    if said.late != late_mark(late[:covers]) or (newest and covers != len(late)):
        found.append(
            _(
                "it covers {covers} files attached after the end, {name} has {count}, or others. "
                "May mean: {name} was changed, or sealing it again was broken off: then attach "
                "the last file again, or seal it again.",
                covers=covers,
                name=LATE_NAME,
                count=len(late),
            )
        )
    if found:
        return SealCheck("broken", said, None, tuple(found))
    whose = None if known is None else public.raw in {key.raw for key in known}
    return SealCheck("good", said, whose)


_TOUCHED = _("May mean: changed after sealing, or damaged. Compare with a backup of the job.")
_INCOMPLETE = _("May mean: a file of the seal was taken away. Restore it from a backup.")


def _broken(wrong: str, may_mean: str) -> SealCheck:
    return SealCheck("broken", None, None, (f"{wrong}. {may_mean}",))
