"""The head of a journal: how many lines it has and the hash of the last one.

A hash chain alone shows a changed line, but not a cut tail. So count and last hash are kept in a
file of their own, brought up to date after each line, and in short form on the printed sheet,
where nobody can change them afterwards.
"""

import json
import re
from dataclasses import dataclass
from typing import Final

from steplatch.safety.catalogue import _

from .faults import NotRecordable
from .line import MAX_INTEGER, ZERO_HASH

MAX_HEAD_BYTES: Final = 1024
HEAD_BYTES: Final = 192
"""The head file is filled with newlines to this size, so that it is overwritten in place: within
one sector of any disk, which a loss of power leaves whole (an assumption about disks)."""
SHORT_GROUPS: Final = 8
_HASH = re.compile(r"[0-9a-f]{64}")
_SHORT = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class Head:
    """Count of lines and hash of the last one (64 zeros for an empty journal)."""

    job: str
    lines: int
    sha256: str


def encode_head(head: Head) -> bytes:
    """The bytes of the head file: one JSON object in fixed order, then newlines."""
    members = {"job": head.job, "lines": head.lines, "sha256": head.sha256}
    return json.dumps(members, separators=(",", ":")).encode("ascii").ljust(HEAD_BYTES, b"\n")


def decode_head(raw: bytes) -> Head | None:
    """Read the head file's bytes; None unless they are exactly what ``encode_head`` writes, or
    what earlier programs wrote: the same with one newline."""
    try:
        members = json.loads(raw.decode("ascii"))
        head = Head(members["job"], members["lines"], members["sha256"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    if not isinstance(head.job, str) or type(head.lines) is not int:
        return None
    if not isinstance(head.sha256, str) or _HASH.fullmatch(head.sha256) is None:
        return None
    if not 0 <= head.lines <= MAX_INTEGER or (head.lines == 0) != (head.sha256 == ZERO_HASH):
        return None
    whole = encode_head(head)
    return head if raw in (whole, whole.rstrip(b"\n") + b"\n") else None


def partly_overwritten(raw: bytes, old: Head, new: Head) -> bool:
    """Whether the bytes are those of ``new`` up to some place, and of ``old`` from there on: what
    a program that dies while it overwrites the head may leave."""
    before, after = encode_head(old), encode_head(new)
    same = next((at for at in range(len(raw)) if raw[at : at + 1] != after[at : at + 1]), len(raw))
    return raw not in (before, after) and len(raw) == HEAD_BYTES and raw[same:] == before[same:]


def short_head(sha256: str) -> str:
    """The first half of a hash in groups of four for the printed sheet: ``7f3a 91c2 ...``.

    128 bits: fewer would let the person who keeps the journal make two journals with one short
    form (finding a pair among n bits takes about 2^(n/2) tries). Raises ValueError.
    """
    if _HASH.fullmatch(sha256) is None:
        raise ValueError(
            _("{sha256!r} is not a SHA-256 in 64 small hexadecimal digits", sha256=sha256)
        )
    return " ".join(sha256[4 * i : 4 * i + 4] for i in range(SHORT_GROUPS))


@dataclass(frozen=True, slots=True)
class Anchor:
    """Count and short hash as printed on a sheet, kept by somebody else."""

    lines: int
    short: str


def read_anchor(lines: int, typed: str) -> Anchor:
    """An anchor from what a person typed off a sheet; spaces and capitals don't matter.

    Raises ``NotRecordable`` if it is not 32 hexadecimal digits or the count is below 1.
    """
    short = "".join(typed.split()).lower()
    if lines < 1 or _SHORT.fullmatch(short) is None:
        raise NotRecordable(
            _("head from the sheet"),
            _(
                "{lines} lines, {typed!r}: not a count from 1 on and {short_groups} groups "
                "of four hexadecimal digits",
                lines=lines,
                typed=typed,
                short_groups=SHORT_GROUPS,
            ),
            _("Type the number of lines and all groups as printed"),
        )
    return Anchor(lines, short)
