"""One job as the book lists it, worked out from its folder.

Read from the typed lines of the journal alone, so that a list loads no procedure and no unit
library.
Damage is a row, never an error: a job that cannot be read is listed as broken, with why.
"""

import hashlib
import re
from dataclasses import dataclass, field, replace
from typing import Any, Final

from steplatch.safety.catalogue import _

from ..core.commands import KEPT_APART
from ..core.events import (
    Corrected,
    Ended,
    Held,
    Joined,
    MarkedNotApplicable,
    Moved,
    Opened,
    Recorded,
    Signed,
    Waived,
    WentOn,
)
from ..record import (
    Disk,
    FindingGrade,
    JobFolder,
    NotRecordable,
    PersonalField,
    RecordError,
    SaltedValue,
    load_personal,
)
from ..record.disk import read_whole
from ..record.seal import is_sealed
from .facts import NO_FACTS, FactCounter, JobFacts, plate
from .holds import is_held
from .projection import BrokenJob, Journal, typed

OPEN, HELD, BROKEN, EMPTY = "open", "held", "BROKEN", _("not begun")
ENDS: Final = ("finished", "abandoned")
STATES: Final = (OPEN, HELD, *ENDS, EMPTY, BROKEN)
FIND_BY: Final = (PersonalField.CUSTOMER_NAME, PersonalField.REGISTRATION, PersonalField.VIN_TAIL)
"""What of the personal data the book holds, while it is kept: never the contact."""
MAX_TEXT_CHARS: Final = 60_000
_DIGEST: Final = re.compile("[0-9a-f]{64}")
APART = re.compile(rf"{KEPT_APART}([0-9a-f]{{64}})")


@dataclass(frozen=True, slots=True)
class JobRow:
    """One job of the list. Times are RFC 3339 in UTC, empty where there is none.

    ``personal`` is kept, erased, partly erased, none or unreadable; ``found_by`` the values one
    can find the job by; ``text`` what was typed, for searching; ``sealed`` that it has a
    seal, good or not.
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
    sealed: bool = False
    facts: JobFacts = NO_FACTS


def digest(folder: JobFolder) -> JobRow:
    """The row of one job. Raises nothing for a damaged job; OSError only if the folder is gone."""
    try:
        journal = Journal.of(folder)
    except RecordError as error:
        return replace(_beside(folder), state=BROKEN, why_broken=error.what)
    return digest_of(journal)


def digest_of(journal: Journal) -> JobRow:
    """The row of a job whose journal was read. Raises as ``digest``."""
    row = _beside(journal.folder)
    if not journal.chain.sound:
        worst = (f for f in journal.chain.findings if f.grade is FindingGrade.BROKEN)
        return replace(row, state=BROKEN, why_broken=next(worst).wrong)
    try:
        return _row(journal, row) if journal.lines else row
    except BrokenJob as error:
        why = _("its chain is whole, but {error}", error=error)
        return replace(row, state=BROKEN, lines=len(journal.lines), why_broken=why)


def _beside(folder: JobFolder) -> JobRow:
    """What lies beside the journal: personal data and holds."""
    personal, found_by = _personal(folder)
    return JobRow(
        folder.id,
        personal=personal,
        hold=is_held(folder),
        found_by=found_by,
        sealed=is_sealed(folder),
    )


def _row(journal: Journal, row: JobRow) -> JobRow:
    """The row filled from the lines. Raises BrokenJob."""
    lines = journal.lines
    opened = Opened(practice=False, people=(), files={})
    ended = step = ""
    held = False
    verdict: dict[str, Any] = {}
    words: list[str] = []
    acted: dict[str, None] = {}
    names: dict[str, str] = {}
    counter = FactCounter()
    for line in typed(lines):
        counter.take(line)
        acted.setdefault(line.line.envelope.actor)
        for event in line.events:
            match event:
                case Opened():
                    opened = event
                    names |= {str(one["id"]): str(one["name"]) for one in event.people}
                case Joined(person):
                    names.setdefault(str(person["id"]), str(person["name"]))
                case Moved(step, _):
                    pass
                case Held():
                    held = True
                case WentOn():
                    held = False
                case Ended(how):
                    ended = how
                case Recorded(name, value):
                    if name == "verdict":
                        verdict = value
                    words += _words(value)
                case Signed(person=who, role=role):
                    if role != "customer":
                        acted.setdefault(who)
                case Corrected() | MarkedNotApplicable() | Waived():
                    words.append(event.reason)
    last = lines[-1].envelope.times.utc
    vehicle = _label(journal.folder, opened.files.get("vehicle", ""))
    text = "\n".join([vehicle, lines[0].envelope.header.procedure, *dict.fromkeys(words)])
    return replace(
        row,
        kind="practice" if opened.practice else "real",
        state=ended or (HELD if held else OPEN),
        step=step,
        lines=len(lines),
        begun=lines[0].envelope.times.utc,
        last=last,
        ended=last if ended else "",
        vehicle=vehicle,
        verdict=str(verdict.get("state", "")),
        verdict_title=str(verdict.get("title", "")),
        people=tuple((who, names.get(who, who)) for who in acted),
        text=text[:MAX_TEXT_CHARS],
        facts=counter.facts(
            lines[0].envelope.times.utc[:10], lines[0].envelope.header.procedure,
            plate(row.found_by.get(PersonalField.REGISTRATION.value, "")),
        ),
    )  # fmt: skip


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
    from ..input.findings import BadFile  # a book that knows the job already loads no file
    from ..input.strict_yaml import MAX_BYTES, load_bytes

    if not _DIGEST.fullmatch(sha256):
        return ""
    try:
        raw = read_whole(Disk(), folder.path / "texts" / f"{sha256}.yaml", MAX_BYTES)
        if hashlib.sha256(raw).hexdigest() != sha256:
            return ""
        plain = load_bytes(raw, "vehicle.yaml").data
    except (OSError, BadFile):
        return ""
    label = plain.get("label") if isinstance(plain, dict) else None
    return label if isinstance(label, str) else ""


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
    state = "kept" if len(kept) == len(personal.fields) else _("partly erased")
    return state, {f.value: kept[f].value for f in FIND_BY if f in kept}
