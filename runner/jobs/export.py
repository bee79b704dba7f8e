"""One job as a JSON object and as CSV tables, to be read by other programs.

The JSON object (format ``steplatch-job-export``, version 1):

    format, version, program    what this is and who wrote it
    job                         id, kind, state, begun, last, lines, head (SHA-256), procedure
    people                      the roster of the job: id, name, role, under_18
    personal                    what the side file holds: kept (with ``--with-personal`` the
                                value), or erased with by, utc, why
    holds                       holds for a dispute and their releases
    tables                      the tables below: name to list of objects, one key a column
    journal                     every line of the journal, whole: the complete copy
    notes                       what a reader must know

Tables: ``steps`` (second marks), ``readings`` (one row a quantity: as typed, with its unit, and
the recorded number with its own), ``records`` (everything written down, one row a value),
``signatures``, ``refusals`` (id and what it is about as recorded, words as they are today),
``changes`` (corrections, not-applicable, waivers), ``events`` (trips, holds, lapses, resets and
what was reported of the vehicle). Every row has ``seq`` (journal line), ``utc`` and
``local`` (RFC 3339, the second with the workshop's offset), ``by``. CSV files hold the same tables
with the job's id as the first column; see ``csv_cells`` for what is done to cells.

Personal data (customer, contact, registration, tail of the vehicle number) are left out unless
asked for. Names of the people who worked and signed are part of the record and stay in. Free text
is exported as it was typed: where a kept personal value also stands in it, a note says in which
lines.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from datetime import datetime, timedelta, timezone
from typing import Any, Final, TypeVar

from steplatch.safety.catalogue import _

from ..core.codec import encode
from ..core.events import Begun, Done, Joined, Moved, Opened, Recorded, Signed
from ..core.reading_set import FIELD
from ..core.refusals import recorded
from ..core.version import PROGRAM
from ..input.findings import shown
from ..input.resolution import RESOLUTIONS, unit_of
from ..record import Erased, JobFolder, JournalLine, SaltedValue, load_personal
from .csv_cells import CsvValue, to_csv
from .digest import digest_of
from .holds import holds_of
from .projection import BrokenJob, Journal, TypedLine, typed

FORMAT: Final = "steplatch-job-export"
VERSION: Final = 1
_ALWAYS: Final = ("seq", "utc", "local", "by")
COLUMNS: Final[dict[str, tuple[str, ...]]] = {
    "steps": (*_ALWAYS, "procedure", "step", "answer", "begun_utc"),
    "readings": (*_ALWAYS, "step", "name", "phase", "condition", "quantity", "typed", "unit",
                 "number", "in", "source"),
    "records": (*_ALWAYS, "step", "name", "key", "value"),
    "signatures": (*_ALWAYS, "step", "person", "name", "role", "meaning", "how", "exceptions",
                   "covers"),
    "refusals": (*_ALWAYS, "command", "asked", "interlock", "about", "reason",
                 "remedy", "source"),
    "changes": (*_ALWAYS, "kind", "what", "was", "now", "reason", "person"),
    "events": (*_ALWAYS, "kind", "what", "detail"),
}  # fmt: skip
_CHANGES: Final = ("Corrected", "MarkedNotApplicable", "Waived", "WaiverUsed", "WaiverLapsed")
_NAMED: Final = {"Tripped": "trip", "ResetDone": "trip", "Held": "why", "Happened": "what",
                 "Lapsed": "fact", "Seen": "fact", "Granted": "act", "Ended": "how",
                 "AskAgain": "facts", "Meanwhile": "answer", "Joined": "person",
                 "Departed": "person"}  # fmt: skip
EventT = TypeVar("EventT")
CsvTable = list[dict[str, CsvValue]]


def export_job(folder: JobFolder, with_personal: bool = False) -> dict[str, Any]:
    """The whole object. Raises JournalBroken and BrokenJob for a damaged record, and the
    record's errors."""
    journal = Journal.of(folder).sound()
    chain, lines = journal.chain, list(typed(journal.lines))
    row = digest_of(journal)
    header = journal.lines[-1].envelope.header if lines else None
    opened = next(_of_kind(lines, Opened), Opened(practice=False, people=(), files={}))
    return {
        "format": FORMAT,
        "version": VERSION,
        "program": PROGRAM,
        "job": {
            "id": folder.id,
            "kind": row.kind,
            "state": row.state,
            "begun": row.begun,
            "last": row.last,
            "lines": len(lines),
            "head": chain.sha256,
            "vehicle": row.vehicle,
            "verdict": row.verdict,
            "procedure": header
            and {
                "id": header.procedure,
                "revision": header.revision,
                "sha256": header.procedure_sha256,
            },
            "recorded_by": header and header.program,
            "parts": header
            and {
                "rules": header.rules_sha256,
                "judge": header.judge_sha256,
                "procedure": header.procedure_sha256,
                "files": header.files_sha256,
            },
            "files": opened.files,
        },
        "people": list(opened.people),
        "personal": personal_part(folder, with_personal),
        "holds": [asdict(entry) for entry in holds_of(folder)],
        "tables": tables(lines),
        "journal": [
            {**_when(line), "role": line.envelope.role, "sha256": line.sha256,
             "command": line.command, "outcome": line.outcome}
            for line in journal.lines
        ],
        "notes": [*(str(f) for f in chain.findings), *_free_text_notes(folder, journal.lines)],
    }  # fmt: skip


def personal_part(folder: JobFolder, with_values: bool) -> dict[str, dict[str, str]]:
    """What became of each personal field; its value only on request."""
    personal = load_personal(folder.path)
    found: dict[str, dict[str, str]] = {}
    for field, entry in personal.fields.items() if personal is not None else ():
        match entry:
            case Erased(by, utc, why):
                found[field.value] = {"state": "erased", "by": by, "utc": utc, "why": why}
            case SaltedValue(value, _):
                found[field.value] = {"state": "kept"} | ({"value": value} if with_values else {})
    return found


def free_text_lines(lines: Sequence[JournalLine], values: list[str]) -> list[int]:
    """The journal lines in whose free text one of these values stands, capitals and spaces aside.

    Values under 4 characters are not looked for: they stand in half of all words.
    """
    wanted = [text for text in map(_close, values) if len(text) >= 4]
    return [
        line.envelope.seq
        for line in lines
        if any(text in _close(_all_text([line.command, line.outcome])) for text in wanted)
    ]


def _free_text_notes(folder: JobFolder, lines: Sequence[JournalLine]) -> list[str]:
    personal = load_personal(folder.path)
    entries = personal.fields.values() if personal is not None else ()
    found = free_text_lines(lines, [e.value for e in entries if isinstance(e, SaltedValue)])
    if not found:
        return []
    where = ", ".join(map(str, found[:20]))
    return [
        _(
            "a personal value also stands in free text, in journal lines {where}: look there",
            where=where,
        )
    ]


def _close(text: str) -> str:
    return "".join(text.split()).casefold()


def _all_text(value: Any) -> str:
    match value:
        case str():
            return value + "\n"
        case dict():
            return "".join(_all_text(inner) for inner in value.values())
        case list():
            return "".join(_all_text(inner) for inner in value)
    return ""


def csv_files(folder: JobFolder, exported: dict[str, Any]) -> dict[str, bytes]:
    """File name to bytes, one file a table. No name holds more than the job's id."""
    job = folder.id
    return {
        f"{job}-{name}.csv": to_csv(
            ("job", *COLUMNS[name]),
            [(job, *(row[column] for column in COLUMNS[name])) for row in rows],
        )
        for name, rows in exported["tables"].items()
    }


def tables(lines: Iterable[TypedLine]) -> dict[str, CsvTable]:
    """Every table, from the journal's lines alone. Raises BrokenJob, which names the line."""
    found: dict[str, CsvTable] = {name: [] for name in COLUMNS}
    names: dict[str, str] = {}
    procedure, begun = "", ""
    for each in lines:
        line = each.line
        for refusal in line.outcome["refused"]:
            _put(found, "refusals", line, **_refusal(line, refusal))
        for event in each.events:
            match event:
                case Opened(people=people):
                    names |= {str(one["id"]): str(one["name"]) for one in people}
                case Joined(person):
                    names[str(person["id"])] = str(person["name"])
                case Moved():
                    procedure = event.procedure
                case Begun():
                    begun = line.envelope.times.utc
                case Done():
                    _put(found, "steps", line, procedure=procedure, step=event.step,
                         answer=event.answer, begun_utc=begun)  # fmt: skip
                case Recorded():
                    _record(found, line, event)
                case Signed():
                    _put(found, "signatures", line, **_signature(event, names))
            kind, plain = type(event).__name__, encode(event)
            if kind in _CHANGES:
                _put(found, "changes", line, kind=kind, **_change(plain))
            elif kind in _NAMED:
                _put(found, "events", line, kind=kind, what=_flat(plain[_NAMED[kind]]),
                     detail=_rest(plain, _NAMED[kind]))  # fmt: skip
    return found


def _of_kind(lines: Iterable[TypedLine], kind: type[EventT]) -> Iterator[EventT]:
    return (event for line in lines for event in line.events if isinstance(event, kind))


def _when(line: JournalLine) -> dict[str, CsvValue]:
    times = line.envelope.times
    return {
        "seq": line.envelope.seq,
        "utc": times.utc,
        "local": local_time(times.utc, times.zone),
        "by": line.envelope.actor,
    }


def local_time(utc: str, zone: str) -> str:
    """The workshop's own time, RFC 3339 with its offset; as given where it is no such time."""
    try:
        hours, minutes = zone[1:].split(":")
        ahead = timedelta(hours=int(hours), minutes=int(minutes)) * (-1 if zone[0] == "-" else 1)
        return (
            datetime.fromisoformat(utc)
            .astimezone(timezone(ahead))
            .isoformat(timespec="milliseconds")
        )
    except (ValueError, IndexError):
        return f"{utc} {zone}"


def _put(found: dict[str, CsvTable], table: str, line: JournalLine, **cells: CsvValue) -> None:
    row = {**_when(line), **cells}
    found[table].append({column: row.get(column) for column in COLUMNS[table]})


def _record(found: dict[str, CsvTable], line: JournalLine, event: Recorded) -> None:
    """Raises BrokenJob where the record has not the form that its name says."""
    try:
        _record_rows(found, line, event)
    except (KeyError, TypeError, AttributeError, StopIteration) as bad:
        seq = line.envelope.seq
        raise BrokenJob(
            _(
                "line {seq}: '{shown}' is written down in a form that nothing here writes",
                seq=seq,
                shown=shown(event.name),
            )
        ) from bad


def _record_rows(found: dict[str, CsvTable], line: JournalLine, event: Recorded) -> None:
    name, value, step = event.name, event.value, event.step
    for key, inner in value.items():
        if key != "readings":
            _put(found, "records", line, step=step, name=name, key=key, value=_flat(inner))
    about = {"step": step, "name": name, "phase": _flat(value.get("phase")),
             "condition": _flat(value.get("condition"))}  # fmt: skip
    for reading in value.get("readings") or ():
        taken = {k: _flat(reading.get(k)) for k in ("quantity", "typed", "unit", "source")}
        field = FIELD[reading["quantity"]]
        number = {"number": _flat(value.get(field)), "in": unit_of(field)}
        _put(found, "readings", line, **{**about, **taken, **number})
    if "quantity" in value:
        unit = next(key for key in value if key in RESOLUTIONS)
        number = {"number": _flat(value[unit]), "in": unit}
        _put(found, "readings", line, **{**about, "quantity": name,
                                         "typed": _flat(value["typed"]), **number})  # fmt: skip


def _signature(event: Signed, names: dict[str, str]) -> dict[str, CsvValue]:
    return {
        "step": event.step,
        "person": event.person,
        "name": names.get(event.person, ""),
        "role": event.role,
        "meaning": event.meaning,
        "how": event.how,
        "exceptions": _flat(event.exceptions),
        "covers": _flat(event.covers),
    }


def _refusal(line: JournalLine, refusal: dict[str, Any]) -> dict[str, CsvValue]:
    said = recorded(refusal)
    return {
        "command": line.command["kind"],
        "asked": _rest(line.command, ""),
        "interlock": said.interlock,
        "about": _flat(dict(said.about)),
        "reason": said.reason,
        "remedy": said.remedy,
        "source": said.source,
    }


def _change(event: dict[str, Any]) -> dict[str, CsvValue]:
    return {
        "what": _flat(event.get("name") or event.get("step") or event.get("interlock")),
        "was": _flat(event.get("was")),
        "now": _flat(event.get("now") or event.get("act")),
        "reason": event.get("reason"),
        "person": event.get("by") or event.get("person"),
    }


def _rest(event: dict[str, Any], named: str) -> CsvValue:
    return "; ".join(
        f"{key}: {_flat(value)}" for key, value in event.items() if key not in ("kind", named)
    )


def _flat(value: Any) -> CsvValue:
    """A value in one cell: lists and objects as short text."""
    match value:
        case None | str() | bool() | int() | float():
            return value
        case dict():
            return "; ".join(f"{key}: {_flat(inner)}" for key, inner in value.items())
        case list() | tuple():
            return ", ".join(str(_flat(inner)) for inner in value)
    return str(value)
