"""One line of the journal: what it holds, how it is written, how it is read back.

A line is one JSON object in compact UTF-8 with the keys of ``FIELDS`` in that order, ended by a
newline. Its hash is the SHA-256 of the exact bytes *with* the newline, so that

    sed -n 3p journal.jsonl | sha256sum

gives the hash of line 3, which line 4 carries as its first member ``prev``.
"""

import hashlib
import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..core.clock import Times
from .faults import NotRecordable
from .findings import FindingKind
from .folders import is_job_id

SCHEMA: Final = 2
ZERO_HASH: Final = "0" * 64
MAX_LINE_BYTES: Final = 1 << 20
MAX_DEPTH: Final = 32
MAX_MEMBERS: Final = 20_000
"""Commas in one line: the longest line of a real job has some hundreds (a design choice, so that a
stranger's line cannot fill the memory)."""
MAX_TEXT_CHARS: Final = 200
MAX_INTEGER: Final = 2**53 - 1  # beyond it, readers with double precision lose digits (RFC 7493)

FIELDS: Final = (
    "prev",
    "schema",
    "job",
    "seq",
    "utc",
    "zone",
    "monotonic_ms",
    "boottime_ms",
    "boot",
    "actor",
    "role",
    "procedure",
    "revision",
    "procedure_sha256",
    "program",
    "rules_sha256",
    "judge_sha256",
    "files_sha256",
    "command",
    "outcome",
)
FIELDS_OF: Final = {
    1: tuple(f for f in FIELDS if f not in ("judge_sha256", "files_sha256")),
    SCHEMA: FIELDS,
}
"""The members of a line by its schema. Lines of an older schema are read, so that their chain can
be followed; no program writes them any more, and this one decides none of them again."""

_HASH = re.compile(r"[0-9a-f]{64}")
_MARKS = re.compile(rb"[{}\[\]]")
_TEXTS = re.compile(rb'"(?:[^"\\]|\\.)*"')
_UTC = re.compile(r"\d{4}-(?:0\d|1[0-2])-[0-3]\dT[0-2]\d:[0-5]\d:[0-6]\d\.\d{3}Z", re.ASCII)
_ZONE = re.compile(r"[+-][01]\d:[0-5]\d", re.ASCII)
_NAME: Final = rb'"[^"\\]{1,800}"'
_COUNT: Final = rb"(0|[1-9]\d{0,15})"
_PARTS: Final = ("procedure", "revision", "procedure_sha256", "program", "rules_sha256",
                 "judge_sha256", "files_sha256")  # fmt: skip
_BLOCK: Final = b",".join(b'"%b":%b' % (name.encode(), _NAME) for name in _PARTS)
_ENVELOPE = re.compile(
    rb'\{"prev":"([0-9a-f]{64})","schema":%d,"job":"([0-9a-z-]{1,40})","seq":' % SCHEMA + _COUNT
    + rb',"utc":"([^"\\]{24})","zone":"([^"\\]{6})","monotonic_ms":' + _COUNT
    + rb',"boottime_ms":(?:null|' + _COUNT + rb'),"boot":(%b),"actor":(%b),"role":(%b),(%b),'
    % (_NAME, _NAME, _NAME, _BLOCK) + rb'"command":'
)  # fmt: skip
"""Everything before the command, as ``encode`` writes it where no name needs an escape."""
_BETWEEN: Final = ',"outcome":'
_SCAN = json.JSONDecoder().raw_decode
_ENCODE = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode


@dataclass(frozen=True, slots=True)
class Header:
    """What is the same for all lines that one run of the program writes into one journal.

    The four hashes are the parts of what decides, hex SHA-256 (``runner.jobs.fingerprint``); judge
    and files are empty on a line of schema 1, which did not have them.
    """

    procedure: str
    revision: str
    procedure_sha256: str
    program: str
    rules_sha256: str
    judge_sha256: str
    files_sha256: str


@dataclass(frozen=True, slots=True)
class Envelope:
    """Everything on a line but the command and its outcome."""

    prev: str
    schema: int
    job: str
    seq: int
    times: Times
    actor: str
    role: str
    header: Header


@dataclass(frozen=True, slots=True)
class JournalLine:
    """A line as it stands in the journal. ``sha256`` is the hash of its own bytes."""

    envelope: Envelope
    command: dict[str, Any]
    outcome: dict[str, Any]
    sha256: str


class Unreadable(ValueError):  # noqa: N818 - the name says the fact
    """Bytes that are no line of a journal: of what ``kind``, and a detail in plain words."""

    def __init__(self, kind: FindingKind, detail: str) -> None:
        super().__init__(kind, detail)
        self.kind = kind
        self.detail = detail


def hash_of(raw: bytes) -> str:
    """Hex SHA-256 of a line's exact bytes, newline included."""
    return hashlib.sha256(raw).hexdigest()


def _is_text(value: object) -> bool:
    return isinstance(value, str) and 0 < len(value) <= MAX_TEXT_CHARS and value.isprintable()


def _is_count(value: object) -> bool:
    return type(value) is int and 0 <= value <= MAX_INTEGER


def _is_hash(value: object) -> bool:
    return isinstance(value, str) and _HASH.fullmatch(value) is not None


def field_fault(fields: Mapping[str, object]) -> str | None:
    """The first fault in a line's members, in plain words; None if all are as they should be.

    ``schema`` and ``job`` are compared by the caller, which knows what they ought to be.
    """
    for key in ("actor", "role", "procedure", "revision", "program", "boot"):
        if not _is_text(fields[key]):
            return _(
                "'{key}' is not 1 to {max_text_chars} printable characters on one line",
                key=key,
                max_text_chars=MAX_TEXT_CHARS,
            )
    for key in ("prev", "procedure_sha256", "rules_sha256", "judge_sha256", "files_sha256"):
        if key in fields and not _is_hash(fields[key]):
            return _("'{key}' is not a SHA-256 in 64 small hexadecimal digits", key=key)
    for key in ("seq", "monotonic_ms"):
        if not _is_count(fields[key]):
            return _("'{key}' is not a whole number from 0 on", key=key)
    if fields["boottime_ms"] is not None and not _is_count(fields["boottime_ms"]):
        return _("'boottime_ms' is neither null nor a whole number from 0 on")
    utc, zone = fields["utc"], fields["zone"]
    if not isinstance(utc, str) or _UTC.fullmatch(utc) is None:
        return _("'utc' is not a time like 2025-01-31T14:05:09.123Z (RFC 3339)")
    if not isinstance(zone, str) or _ZONE.fullmatch(zone) is None:
        return _("'zone' is not an offset from UTC like +01:00")
    for key in ("command", "outcome"):
        if not isinstance(fields[key], dict):
            return _("'{key}' is not an object", key=key)
    return None


def _check_plain(value: object, where: str, depth: int) -> None:
    """Refuse what JSON would change or lose on its way to the file and back."""
    if depth > MAX_DEPTH:
        raise NotRecordable(
            where, _("nested deeper than {max_depth}", max_depth=MAX_DEPTH), _("Flatten it")
        )
    if value is None or isinstance(value, bool | str):
        return
    if isinstance(value, int):
        if abs(value) > MAX_INTEGER:
            raise NotRecordable(
                where,
                _("the whole number {value} is beyond 2^53 - 1", value=value),
                _("Record it as text"),
            )
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise NotRecordable(
                where,
                _("{value} is not a finite number", value=value),
                _("Record 'not known' in a way of its own"),
            )
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str):
                raise NotRecordable(
                    where, _("the key {key!r} is not text", key=key), _("Use text as keys")
                )
            _check_plain(item, f"{where}.{key}", depth + 1)
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            _check_plain(item, f"{where}[{index}]", depth + 1)
    else:
        raise NotRecordable(
            where,
            _("a {name__} cannot stand in the journal", name__=type(value).__name__),
            _(
                "Hand in text, numbers, true/false, null, lists and objects; decimal "
                "readings as text"
            ),
        )


def line_start(prev: str, job: str, seq: int) -> bytes:
    """The bytes with which the line of this number must begin, after the line hashed ``prev``."""
    return f'{{"prev":"{prev}","schema":{SCHEMA},"job":"{job}","seq":{seq},'.encode("ascii")


def encode(
    prev: str,
    job: str,
    seq: int,
    times: Times,
    actor: str,
    role: str,
    header: Header,
    command: Mapping[str, Any],
    outcome: Mapping[str, Any],
) -> bytes:
    """The bytes of one line, newline included. Raises ``NotRecordable``; writes nothing."""
    fields: dict[str, object] = {
        "prev": prev,
        "schema": SCHEMA,
        "job": job,
        "seq": seq,
        "utc": times.utc,
        "zone": times.zone,
        "monotonic_ms": times.monotonic_ms,
        "boottime_ms": times.boottime_ms,
        "boot": times.boot,
        "actor": actor,
        "role": role,
        "procedure": header.procedure,
        "revision": header.revision,
        "procedure_sha256": header.procedure_sha256,
        "program": header.program,
        "rules_sha256": header.rules_sha256,
        "judge_sha256": header.judge_sha256,
        "files_sha256": header.files_sha256,
        "command": dict(command),
        "outcome": dict(outcome),
    }
    where = _("job {job}, line {seq}", job=job, seq=seq)
    if (fault := field_fault(fields)) is not None or not is_job_id(job):
        raise NotRecordable(
            where, fault or _("no job id"), _("Nothing was written; correct the caller")
        )
    _check_plain(fields["command"], "command", 0)
    _check_plain(fields["outcome"], "outcome", 0)
    try:
        raw = _ENCODE(fields).encode("utf-8") + b"\n"
    except UnicodeEncodeError as error:
        raise NotRecordable(
            where, _("a text holds half of a surrogate pair"), _("Hand in whole characters")
        ) from error
    if len(raw) > MAX_LINE_BYTES or raw.count(b",") > MAX_MEMBERS:
        raise NotRecordable(
            where,
            _(
                "the line would take {count} bytes (more than {max_line_bytes}), or hold "
                "more than {max_members} members",
                count=len(raw),
                max_line_bytes=MAX_LINE_BYTES,
                max_members=MAX_MEMBERS,
            ),
            _("Keep large data in a file beside the journal and record its SHA-256"),
        )
    return raw


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise Unreadable(
                FindingKind.DUPLICATE_KEY, _("the key '{key}' stands twice in one object", key=key)
            )
        found[key] = value
    return found


def _deeper_than_written(raw: bytes) -> bool:
    """Whether a line nests deeper than ``encode`` lets it; brackets in texts are not counted."""
    if raw.count(b"{") + raw.count(b"[") <= MAX_DEPTH:
        return False
    depth = deepest = 0
    for mark in _MARKS.findall(_TEXTS.sub(b"", raw)):
        depth += 1 if mark in b"{[" else -1
        deepest = max(deepest, depth)
    return deepest > MAX_DEPTH + 2  # the line itself, and the member that holds the object


def decode_fields(raw: bytes) -> dict[str, Any]:
    """Parse a line's bytes (newline included) to its members, in this program's own form only.

    Raises ``Unreadable`` for bytes that are not UTF-8, not JSON, hold a key twice, have members
    missing, added or out of order, or are not written the way ``encode`` writes them (white
    space, escapes, number forms). Neither chain nor job is looked at.
    """
    if raw.count(b",") > MAX_MEMBERS or _deeper_than_written(raw):
        raise Unreadable(
            FindingKind.WRONG_MEMBERS,
            _(
                "it holds more than {max_members} members, or nests deeper than {max_depth}",
                max_members=MAX_MEMBERS,
                max_depth=MAX_DEPTH,
            ),
        )
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Unreadable(
            FindingKind.NOT_UTF8, _("byte {start} is not UTF-8", start=error.start + 1)
        ) from None
    try:
        fields = json.loads(text)
        same = _ENCODE(fields).encode("utf-8") + b"\n" == raw
        if not same:  # a key that stands twice is lost by the first reading; look for it now
            json.loads(text, object_pairs_hook=_no_duplicates)
    except Unreadable:
        raise
    except json.JSONDecodeError as error:
        raise Unreadable(
            FindingKind.NOT_JSON, _("{msg} at character {colno}", msg=error.msg, colno=error.colno)
        ) from None
    except (ValueError, RecursionError) as error:
        raise Unreadable(FindingKind.NOT_JSON, str(error)) from None
    if not same:
        raise Unreadable(
            FindingKind.NOT_CANONICAL,
            _("white space, escapes, or numbers are not as this program writes them"),
        )
    if not isinstance(fields, dict):
        raise Unreadable(FindingKind.WRONG_MEMBERS, _("the line is not an object"))
    if type(fields.get("schema")) is not int or fields["schema"] not in FIELDS_OF:
        raise Unreadable(
            FindingKind.UNKNOWN_SCHEMA,
            _(
                "schema {fields!r}; this program reads {schema}",
                fields=fields.get("schema"),
                schema=SCHEMA,
            ),
        )
    members = FIELDS_OF[fields["schema"]]
    if tuple(fields) != members:
        odd = sorted(set(fields) ^ set(members))
        raise Unreadable(
            FindingKind.WRONG_MEMBERS,
            _("missing or unknown: {map}", map=", ".join(map(repr, odd)))
            if odd
            else _("out of order"),
        )
    if (fault := field_fault(fields)) is not None:
        raise Unreadable(FindingKind.WRONG_MEMBERS, fault)
    return fields


def line_of(raw: bytes, sha256: str) -> JournalLine:
    """A line's bytes read back: what ``line_from`` makes of what ``decode_fields`` returns, and as
    strict, but of most lines only the command and the outcome are parsed. Raises ``Unreadable``."""
    return _read(raw, sha256) or line_from(decode_fields(raw), sha256)


def _read(raw: bytes, sha256: str) -> JournalLine | None:
    """The line, where it is one of the usual form and without fault; else None."""
    found = _ENVELOPE.match(raw)
    if found is None or raw.count(b",") > MAX_MEMBERS or _deeper_than_written(raw):
        return None
    try:
        text = raw[found.end() :].decode("utf-8")
        command, end = _SCAN(text)
        begin = end + len(_BETWEEN)
        outcome, last = _SCAN(text, begin)
        both = f"[{text[:end]},{text[begin:last]}]"
        if (
            text[end:begin] != _BETWEEN
            or text[last:] != "}\n"
            or _ENCODE([command, outcome]) != both
        ):
            return None
        header = _header_of(found[11])
        utc, zone, boot, actor, role = (
            found[at].decode("utf-8").strip('"') for at in (4, 5, 8, 9, 10)
        )
    except (ValueError, RecursionError):
        return None
    seq, monotonic_ms = int(found[3]), int(found[6])
    boottime_ms = None if found[7] is None else int(found[7])
    if (
        header is None
        or type(command) is not dict
        or type(outcome) is not dict
        or max(seq, monotonic_ms, boottime_ms or 0) > MAX_INTEGER
        or not (_is_text(boot) and _is_text(actor) and _is_text(role))
        or _UTC.fullmatch(utc) is None
        or _ZONE.fullmatch(zone) is None
    ):
        return None
    times = Times(utc, zone, monotonic_ms, boottime_ms, boot)
    prev, job = found[1].decode("ascii"), found[2].decode("ascii")
    envelope = Envelope(prev, SCHEMA, job, seq, times, actor, role, header)
    return JournalLine(envelope, command, outcome, sha256)


@lru_cache(maxsize=64)
def _header_of(block: bytes) -> Header | None:
    """The header in the midst of a line, the same on most lines; None where it is at fault."""
    held = Header(**json.loads(b"{%b}" % block))
    texts, hashes = (held.procedure, held.revision, held.program), (
        held.procedure_sha256, held.rules_sha256, held.judge_sha256, held.files_sha256,
    )  # fmt: skip
    return held if all(map(_is_text, texts)) and all(map(_is_hash, hashes)) else None


def line_from(fields: Mapping[str, Any], sha256: str) -> JournalLine:
    """Build a ``JournalLine`` from members that ``decode_fields`` returned."""
    return JournalLine(
        envelope=Envelope(
            prev=fields["prev"],
            schema=fields["schema"],
            job=fields["job"],
            seq=fields["seq"],
            times=Times(
                utc=fields["utc"],
                zone=fields["zone"],
                monotonic_ms=fields["monotonic_ms"],
                boottime_ms=fields["boottime_ms"],
                boot=fields["boot"],
            ),
            actor=fields["actor"],
            role=fields["role"],
            header=Header(
                procedure=fields["procedure"],
                revision=fields["revision"],
                procedure_sha256=fields["procedure_sha256"],
                program=fields["program"],
                rules_sha256=fields["rules_sha256"],
                judge_sha256=fields.get("judge_sha256", ""),
                files_sha256=fields.get("files_sha256", ""),
            ),
        ),
        command=fields["command"],
        outcome=fields["outcome"],
        sha256=sha256,
    )
