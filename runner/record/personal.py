"""Personal data of a job, in a side file that can be erased without breaking the journal.

``personal.json`` holds customer, contact, registration, the tail of the vehicle number and the
number that the vehicle gives of itself, each
with a random salt of its own. The journal holds only ``bind(field, value, salt)`` of each, so the
journal shows whether a value was exchanged, and says nothing once the value is erased.

Erasing a field erases its salt with it: a registration has so few forms that whoever kept the
salt could find it again by trying them all. For the same reason a changed value gets a new salt.

What erasing cannot reach: backups, printed sheets, free text typed into the journal, and blocks
that the disk itself has not yet overwritten. The remedy for those lies outside this program.
"""

import hashlib
import json
import os
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

from steplatch.safety.catalogue import _, spoken

from .disk import ASIDE_FLAGS, ASIDE_SUFFIX, Disk, fsync_folder, read_whole, write_and_sync
from .faults import BadSideFile, JournalFailed, NotRecordable, failed
from .folders import JobFolder
from .lock import JobLock

SCHEMA: Final = 1
SALT_BYTES: Final = 32
MAX_VALUE_CHARS: Final = 200
MAX_FILE_BYTES: Final = 64 * 1024
_VIN_TAIL = re.compile(r"[A-HJ-NPR-Z0-9]{4,8}")  # ISO 3779 leaves out I, O and Q
_HEX_SALT = re.compile(rf"[0-9a-f]{{{2 * SALT_BYTES}}}")
_REMEDY: Final = _(
    "Restore the file from a backup, or go on without it: the journal itself does not need it"
)


class PersonalField(StrEnum):
    """The closed list of what the side file may hold."""

    CUSTOMER_NAME = "customer_name"
    CONTACT = "contact"
    REGISTRATION = "registration"
    VIN_TAIL = "vin_tail"
    VIN = "vin"
    """As the vehicle itself gives it, over a link."""


@dataclass(frozen=True, slots=True)
class SaltedValue:
    """A value and the salt that its hash in the journal was made with."""

    value: str
    salt: bytes


@dataclass(frozen=True, slots=True)
class Erased:
    """Who erased a value, when (RFC 3339, UTC) and why."""

    by: str
    utc: str
    why: str


@dataclass(frozen=True, slots=True)
class Personal:
    """The side file of one job. Fields never given are absent."""

    job: str
    fields: Mapping[PersonalField, SaltedValue | Erased]

    def bindings(self) -> dict[str, str]:
        """What the journal is to hold: field name to hash, for every value that is kept."""
        return {
            field.value: bind(field, kept.value, kept.salt)
            for field, kept in self.fields.items()
            if isinstance(kept, SaltedValue)
        }


class FieldState(StrEnum):
    """How a field of the side file stands to its hash in the journal."""

    SAME = "the same as when it was recorded"
    CHANGED = "not the one that was recorded"
    ERASED = "erased"
    MISSING = "recorded, but not in the side file"
    UNBOUND = "in the side file, but not recorded in the journal"


@dataclass(frozen=True, slots=True)
class FieldCheck:
    """The result for one field; ``detail`` is a sentence for people. ERASED is not a fault."""

    field: PersonalField
    state: FieldState
    detail: str


def fresh_salt() -> bytes:
    """32 bytes from the system's random source."""
    return os.urandom(SALT_BYTES)


def bind(field: PersonalField, value: str, salt: bytes) -> str:
    """Hex SHA-256 over salt, field name, a zero byte and the value in UTF-8.

    The salt has a fixed length and no field name holds a zero byte, so no two (field, value)
    pairs feed the same bytes. Raises ValueError for a salt that is not 32 bytes long.
    """
    if len(salt) != SALT_BYTES:
        raise ValueError(
            _("a salt has {salt_bytes} bytes, not {count}", salt_bytes=SALT_BYTES, count=len(salt))
        )
    return hashlib.sha256(
        salt + field.value.encode("ascii") + b"\0" + value.encode("utf-8")
    ).hexdigest()


def _check_value(field: PersonalField, value: str) -> None:
    """Refuse what the side file cannot hold, without repeating the value in the message."""
    if not 0 < len(value.strip()) <= MAX_VALUE_CHARS or not value.isprintable():
        raise NotRecordable(
            field.value,
            _(
                "it is empty, longer than {max_value_chars} characters or not on one line",
                max_value_chars=MAX_VALUE_CHARS,
            ),
            _("Type it on one line, or leave the field out"),
        )
    if field is PersonalField.VIN_TAIL and _VIN_TAIL.fullmatch(value) is None:
        raise NotRecordable(
            field.value,
            _(
                "it is not the last 4 to 8 characters of the vehicle number (capitals without I, O "
                "and Q, and digits)"
            ),
            _("Type only the tail as it stands on the plate"),
        )


def _check_erasure(record: Erased) -> None:
    for name, text in (("by", record.by), ("utc", record.utc), ("why", record.why)):
        if not 0 < len(text.strip()) <= MAX_VALUE_CHARS or not text.isprintable():
            raise NotRecordable(
                _("erasure record, '{name}'", name=name),
                _(
                    "it is empty, longer than {max_value_chars} characters or not on one line",
                    max_value_chars=MAX_VALUE_CHARS,
                ),
                _("Say who erases, when and why"),
            )


def _write(lock: JobLock, personal: Personal, disk: Disk, staged: bool = False) -> Personal:
    """Write the side file; ``staged``: only aside, until ``commit_personal`` puts it in place."""
    if not lock.held or lock.job.id != personal.job:
        raise JournalFailed(
            str(lock.job.personal),
            _("the job is not held by this program"),
            _("Open the job first"),
        )
    entries: dict[str, object] = {}
    for field in PersonalField:
        entry = personal.fields.get(field)
        if isinstance(entry, SaltedValue):
            entries[field.value] = {"value": entry.value, "salt": entry.salt.hex()}
        elif entry is not None:
            record = {"by": entry.by, "utc": entry.utc, "why": entry.why}
            entries[field.value] = {"erased": record}
    members = {"schema": SCHEMA, "job": personal.job, "fields": entries}
    try:
        raw = json.dumps(members, ensure_ascii=False, indent=1).encode("utf-8") + b"\n"
    except UnicodeEncodeError as error:
        raise NotRecordable(
            str(lock.job.personal), _("a text holds half of a surrogate pair"), _("Type it again")
        ) from error
    try:
        write_and_sync(disk, _aside(lock.job), ASIDE_FLAGS, raw)
    except OSError as error:
        raise failed(lock.job.personal, _("write the personal data"), error) from error
    if not staged:
        commit_personal(lock, disk)
    return personal


def _aside(job: JobFolder) -> Path:
    return job.personal.with_name(job.personal.name + ASIDE_SUFFIX)


def commit_personal(lock: JobLock, disk: Disk | None = None) -> None:
    """Put what was staged in place, once the journal has its hash. Raises JournalFailed."""
    disk = disk or Disk()
    try:
        disk.replace(_aside(lock.job), lock.job.personal)
        fsync_folder(disk, lock.job.path)
    except OSError as error:
        raise failed(lock.job.personal, _("put the personal data in place"), error) from error


def settle_personal(lock: JobLock, recorded: Mapping[str, str], disk: Disk | None = None) -> None:
    """After a crash: put a staged file in place where the journal has its hashes, else drop it.

    ``recorded`` is what the journal holds last, as ``compare`` takes it. Raises JournalFailed.
    """
    staged = load_staged(lock.job.path, disk)
    try:
        if staged is not None and all_as_recorded(staged, recorded):
            commit_personal(lock, disk)
        else:
            _aside(lock.job).unlink(missing_ok=True)
    except OSError as error:
        raise failed(lock.job.personal, _("take away what a crash left"), error) from error


def all_as_recorded(personal: Personal | None, recorded: Mapping[str, str]) -> bool:
    """Whether each field is the one that was recorded last, or erased."""
    fine = (FieldState.SAME, FieldState.ERASED)
    return all(check.state in fine for check in compare(personal, recorded))


def load_staged(folder: Path, disk: Disk | None = None) -> Personal | None:
    """The side file that waits to be put in place; None where none does, or a crash cut it off."""
    job = JobFolder(folder)
    try:
        return _loaded(job, _aside(job), disk)
    except (BadSideFile, JournalFailed):
        return None


def create_personal(
    lock: JobLock,
    values: Mapping[PersonalField, str],
    disk: Disk | None = None,
    salt_source: Callable[[], bytes] = fresh_salt,
    staged: bool = False,
) -> Personal:
    """Write a job's side file (mode 0600) for the first time.

    ``staged``: it is put in place by ``commit_personal``, once the journal has the hashes, so that
    no crash leaves a value that the journal does not know, or one that is gone.
    Record ``bindings()`` of the result in the journal. Raises ``NotRecordable`` for a value that
    cannot be kept, ``JournalFailed`` if there is a side file already or the disk fails.
    """
    for field, value in values.items():
        _check_value(field, value)
    disk = disk or Disk()
    if load_personal(lock.job.path, disk) is not None:
        raise JournalFailed(
            str(lock.job.personal),
            _("there is a side file already"),
            _("Change or erase single fields"),
        )
    kept = {field: SaltedValue(value, salt_source()) for field, value in values.items()}
    return _write(lock, Personal(lock.job.id, kept), disk, staged)


def _must_load(lock: JobLock, disk: Disk) -> Personal:
    personal = load_personal(lock.job.path, disk)
    if personal is None:
        raise BadSideFile(str(lock.job.personal), _("there is no side file"), _REMEDY)
    return personal


def change_personal(
    lock: JobLock,
    field: PersonalField,
    value: str,
    disk: Disk | None = None,
    salt_source: Callable[[], bytes] = fresh_salt,
    staged: bool = False,
) -> Personal:
    """Add or correct one field, with a new salt. Record ``bindings()`` anew afterwards.

    ``staged`` as in ``create_personal``. An erased field may be given again. Raises as
    ``create_personal``, and ``BadSideFile``.
    """
    _check_value(field, value)
    disk = disk or Disk()
    before = _must_load(lock, disk)
    fields = {**before.fields, field: SaltedValue(value, salt_source())}
    return _write(lock, Personal(before.job, fields), disk, staged)


def erase_personal(
    lock: JobLock,
    fields: Iterable[PersonalField],
    record: Erased,
    disk: Disk | None = None,
) -> Personal:
    """Replace values and their salts by an erasure record. Fields already erased keep theirs.

    Raises ``NotRecordable`` for an empty record or a field that the side file does not hold,
    ``BadSideFile``, ``JournalFailed``.
    """
    _check_erasure(record)
    disk = disk or Disk()
    before = _must_load(lock, disk)
    after = dict(before.fields)
    for field in fields:
        if field not in after:
            raise NotRecordable(
                str(lock.job.personal),
                _("it holds no '{value}' to erase", value=field.value),
                _("Name only fields that the side file holds"),
            )
        if isinstance(after[field], SaltedValue):
            after[field] = record
    return _write(lock, Personal(before.job, after), disk)


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len({key for key, _ in pairs}) != len(pairs):
        raise ValueError(_("a key stands twice in one object"))
    return dict(pairs)


def _entry(name: str, raw: object) -> tuple[PersonalField, SaltedValue | Erased]:
    field = PersonalField(name)
    if isinstance(raw, dict) and set(raw) == {"value", "salt"}:
        value, salt = raw["value"], raw["salt"]
        if isinstance(value, str) and isinstance(salt, str) and _HEX_SALT.fullmatch(salt):
            _check_value(field, value)
            return field, SaltedValue(value, bytes.fromhex(salt))
    elif isinstance(raw, dict) and set(raw) == {"erased"} and isinstance(raw["erased"], dict):
        members = raw["erased"]
        texts = [members.get(key) for key in ("by", "utc", "why")]
        if len(members) == 3 and all(isinstance(text, str) for text in texts):
            record = Erased(*map(str, texts))
            _check_erasure(record)
            return field, record
    raise ValueError(
        _("'{name}' is neither a value with its salt nor an erasure record", name=name)
    )


def load_personal(folder: Path, disk: Disk | None = None) -> Personal | None:
    """Read a job's side file; None if there is none.

    Raises ``BadSideFile`` for anything that is not as this program writes it,
    ``JournalFailed`` if the disk does not give it.
    """
    job = JobFolder(folder)
    return _loaded(job, job.personal, disk)


def _loaded(job: JobFolder, path: Path, disk: Disk | None) -> Personal | None:
    try:
        raw = read_whole(disk or Disk(), path, MAX_FILE_BYTES)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise failed(path, _("read the personal data"), error) from error
    where = str(path)
    if len(raw) > MAX_FILE_BYTES:
        raise BadSideFile(
            where,
            _("it is larger than {max_file_bytes} bytes", max_file_bytes=MAX_FILE_BYTES),
            _REMEDY,
        )
    try:
        members = json.loads(raw.decode("utf-8"), object_pairs_hook=_no_duplicates)
        if not isinstance(members, dict) or set(members) != {"schema", "job", "fields"}:
            raise ValueError(_("its members are not schema, job and fields"))
        if type(members["schema"]) is not int or members["schema"] != SCHEMA:
            raise ValueError(_("its schema is not {schema}", schema=SCHEMA))
        if members["job"] != job.id:
            raise ValueError(_("it belongs to another job"))
        if not isinstance(members["fields"], dict):
            raise ValueError(_("'fields' is not an object"))
        fields = dict(_entry(name, entry) for name, entry in members["fields"].items())
    except (ValueError, RecursionError) as error:
        what = error.what if isinstance(error, NotRecordable) else str(error)
        raise BadSideFile(where, what, _REMEDY) from None
    return Personal(job.id, fields)


def compare(personal: Personal | None, recorded: Mapping[str, str]) -> tuple[FieldCheck, ...]:
    """Compare the side file with the hashes that the journal recorded last, field by field.

    recorded: field name to hash, as ``Personal.bindings`` gave them; unknown names raise
    ``NotRecordable``. Fields in neither are left out.
    """
    unknown = sorted(set(recorded) - {field.value for field in PersonalField})
    if unknown:
        raise NotRecordable(
            _("recorded hashes of personal data"),
            _("unknown field {unknown!r}", unknown=unknown[0]),
            _("Read the journal with the version of this program that wrote it"),
        )
    checks = []
    for field in PersonalField:
        entry = None if personal is None else personal.fields.get(field)
        bound = recorded.get(field.value)
        if entry is None and bound is None:
            continue
        checks.append(_compare_field(field, entry, bound))
    return tuple(checks)


def _compare_field(
    field: PersonalField, entry: SaltedValue | Erased | None, bound: str | None
) -> FieldCheck:
    name = spoken(field.value)
    if entry is None:
        state = FieldState.MISSING
    elif isinstance(entry, Erased):
        detail = _(
            "{name}: erased by {by} at {utc}: {why}",
            name=name,
            by=entry.by,
            utc=entry.utc,
            why=entry.why,
        )
        return FieldCheck(field, FieldState.ERASED, detail)
    elif bound is None:
        state = FieldState.UNBOUND
    else:
        same = bind(field, entry.value, entry.salt) == bound
        state = FieldState.SAME if same else FieldState.CHANGED
    return FieldCheck(field, state, f"{name}: {state.value}")
