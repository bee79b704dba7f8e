"""One job as the book lists it, worked out from its folder.

Read straight from the journal's lines, so that a list loads no procedure and no unit library.
Damage is a row, never an error: a job that cannot be read is listed as broken, with why.
"""

import hashlib
import re
from dataclasses import dataclass, field
from typing import Any, Final

import yaml

from ..core.commands import KEPT_APART
from ..record import (
    FindingGrade,
    JobFolder,
    JournalLine,
    NotRecordable,
    PersonalField,
    RecordError,
    SaltedValue,
    load_personal,
    read,
    verify,
)
from ..record.head import MAX_HEAD_BYTES, decode_head
from .holds import is_held

OPEN, HELD, BROKEN, EMPTY = "open", "held", "BROKEN", "not begun"
ENDS: Final = ("finished", "abandoned")
STATES: Final = (OPEN, HELD, *ENDS, EMPTY, BROKEN)
FIND_BY: Final = (PersonalField.CUSTOMER_NAME, PersonalField.REGISTRATION, PersonalField.VIN_TAIL)
"""What of the personal data the book holds, while it is kept: never the contact."""
MAX_TEXT_CHARS: Final = 60_000
MAX_TEXT_FILE_BYTES: Final = 256 * 1024
APART = re.compile(rf"{KEPT_APART}([0-9a-f]{{64}})")


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job of the list. Times are RFC 3339 in UTC, empty where there is none.

    ``personal`` is kept, erased, partly erased, none or unreadable; ``found_by`` the values one
    can find the job by; ``text`` what was typed, for searching.
    """

    job: str
    kind: str = ""
    state: str = EMPTY
    step: str = ""
    lines: int = 0
    begun: str = ""
    last: str = ""
    ended: str = ""
    vehicle: str = ""
    verdict: str = ""
    verdict_title: str = ""
    people: tuple[tuple[str, str], ...] = ()
    personal: str = "none"
    hold: bool = False
    why_broken: str = ""
    found_by: dict[str, str] = field(default_factory=dict)
    text: str = ""


def digest(folder: JobFolder) -> JobRow:
    """The row of one job. Raises nothing for a damaged job; OSError only if the folder is gone."""
    personal, found_by = _personal(folder)
    held = is_held(folder)
    lines, why = _lines(folder)
    if why:
        return JobRow(
            folder.id,
            state=BROKEN,
            why_broken=why,
            personal=personal,
            hold=held,
            found_by=found_by,
        )
    if not lines:
        return JobRow(folder.id, personal=personal, hold=held, found_by=found_by)
    try:
        return _row(folder, lines, personal, held, found_by)
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        why = f"its lines are whole, but cannot be understood ({type(error).__name__})"
        return JobRow(
            folder.id,
            state=BROKEN,
            lines=len(lines),
            why_broken=why,
            personal=personal,
            hold=held,
            found_by=found_by,
        )


def _lines(folder: JobFolder) -> tuple[list[JournalLine], str]:
    """The journal's lines, or why they cannot be trusted; the head must fit them."""
    try:
        head = _head(folder)
        lines = list(read(folder.path))
        if head is not None and lines and head == (len(lines), lines[-1].sha256):
            return lines, ""
    except RecordError:
        pass
    try:  # not the plain case: a crash, a line being written, or damage; this tells which
        chain = verify(folder.path)
        if chain.sound:
            return list(read(folder.path)) if chain.lines else [], ""
        return [], next(f.wrong for f in chain.findings if f.grade is FindingGrade.BROKEN)
    except RecordError as error:
        return [], error.what


def _head(folder: JobFolder) -> tuple[int, str] | None:
    try:
        head = decode_head(folder.head.read_bytes()[: MAX_HEAD_BYTES + 1])
    except OSError:
        return None
    return (head.lines, head.sha256) if head is not None and head.job == folder.id else None


def _row(
    folder: JobFolder, lines: list[JournalLine], personal: str, hold: bool, found_by: dict[str, str]
) -> JobRow:
    opened: dict[str, Any] = {}
    ended = step = ""
    held = False
    verdict: dict[str, Any] = {}
    words: list[str] = []
    acted: dict[str, None] = {}
    joined: list[dict[str, Any]] = []
    for line in lines:
        acted.setdefault(line.envelope.actor)
        for event in line.outcome["events"]:
            match event["kind"]:
                case "Opened":
                    opened = event
                case "Joined":
                    joined.append(event["person"])
                case "Moved":
                    step = _text(event["step"])
                case "Held":
                    held = True
                case "WentOn":
                    held = False
                case "Ended":
                    ended = _text(event["how"])
                case "Recorded":
                    if event["name"] == "verdict":
                        verdict = event["value"]
                    words += _words(event["value"])
                case "Signed":
                    if event["role"] != "customer":
                        acted.setdefault(_text(event["person"]))
                case "Corrected" | "MarkedNotApplicable" | "Waived":
                    words.append(_text(event["reason"]))
    names = {str(p["id"]): str(p["name"]) for p in (*opened.get("people", ()), *joined)}
    last = lines[-1].envelope.times.utc
    vehicle = _label(folder, str(opened.get("files", {}).get("vehicle", "")))
    people = tuple((who, names.get(who, who)) for who in acted)
    text = "\n".join([vehicle, lines[0].envelope.header.procedure, *dict.fromkeys(words)])
    return JobRow(
        job=folder.id,
        kind="practice" if opened.get("practice") else "real",
        state=ended or (HELD if held else OPEN),
        step=step,
        lines=len(lines),
        begun=lines[0].envelope.times.utc,
        last=last,
        ended=last if ended else "",
        vehicle=vehicle,
        verdict=str(verdict.get("state", "")),
        verdict_title=str(verdict.get("title", "")),
        people=people,
        personal=personal,
        hold=hold,
        found_by=found_by,
        text=text[:MAX_TEXT_CHARS],
    )


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("no text stands where one belongs")
    return value


def _words(value: Any) -> list[str]:
    """The texts inside a record, without the hashes of what is kept apart."""
    if isinstance(value, str):
        return [] if APART.fullmatch(value) or not value else [value]
    if isinstance(value, dict):
        return [word for inner in value.values() for word in _words(inner)]
    if isinstance(value, list):
        return [word for inner in value for word in _words(inner)]
    return []


def _label(folder: JobFolder, sha256: str) -> str:
    """The vehicle's label from the text kept with the job; empty when it is gone or changed."""
    if not sha256.isalnum():
        return ""
    try:
        with (folder.path / "texts" / f"{sha256}.yaml").open("rb") as stream:
            raw = stream.read(MAX_TEXT_FILE_BYTES)
        if hashlib.sha256(raw).hexdigest() != sha256:
            return ""
        label = yaml.safe_load(raw)["label"]
    except (OSError, yaml.YAMLError, KeyError, TypeError, ValueError, RecursionError):
        return ""
    return str(label)


def _personal(folder: JobFolder) -> tuple[str, dict[str, str]]:
    """What became of the job's personal data, and what of it the book may hold."""
    try:
        personal = load_personal(folder.path)
    except (RecordError, NotRecordable):
        return "unreadable", {}
    if personal is None or not personal.fields:
        return "none", {}
    kept = {f: e for f, e in personal.fields.items() if isinstance(e, SaltedValue)}
    if not kept:
        return "erased", {}
    state = "kept" if len(kept) == len(personal.fields) else "partly erased"
    return state, {f.value: kept[f].value for f in FIND_BY if f in kept}
