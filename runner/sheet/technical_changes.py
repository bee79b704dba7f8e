"""What went against the plan or was changed in the open: refusals, trips, corrections, waivers.

Each kind that did not occur is said to be none, so that a blank never looks filled.
"""

from typing import Any

from steplatch.safety.kernel import Lapsed, PermitLapsed, ResetDone, Tripped

from ..assess.plausibility import doubted_about
from ..core.attention import LOOKED, QUICK_MS
from ..core.commands import HOLDS
from ..core.events import (
    AskAgain,
    Corrected,
    Done,
    Held,
    MarkedNotApplicable,
    Meanwhile,
    Moved,
    Recorded,
    Waived,
    WaiverLapsed,
    WaiverUsed,
    WentOn,
)
from .blocks import Paragraph, SheetBlock, TableBlock, TableCell
from .numbers import groups
from .subject import Subject
from .texts import HOW_SIGNED, NOT_RECORDED
from .timeline import At
from .typed import plain_text


def against(subject: Subject) -> tuple[SheetBlock, ...]:
    """Refusals, trips, lapses, holds, returns; each "none" is said."""
    timeline = subject.timeline
    blocks: list[SheetBlock] = []
    if timeline.refusals:
        rows = tuple(
            (
                TableCell(timeline.show(r.when)),
                TableCell(plain_text(r.asked, 160)),
                TableCell(f"{plain_text(r.reason)} Remedy: {plain_text(r.remedy)}"),
                TableCell(f"{plain_text(r.interlock, 80)}: {plain_text(r.source, 200)}"),
                TableCell(plain_text(r.actor, 60)),
            )
            for r in timeline.refusals
        )
        blocks.append(
            TableBlock("Refusals", ("When", "Asked", "Refused because", "Rule: source", "Asked by"),
                  rows, (0.12, 0.18, 0.36, 0.22, 0.12))
        )  # fmt: skip
    else:
        blocks.append(Paragraph("Refusals: none."))
    happenings = _happenings(subject)
    if happenings:
        blocks.append(
            TableBlock("Trips, resets, lapses, holds, interruptions, steps worked again",
                  ("When", "What", "At step", "By"), happenings, (0.14, 0.46, 0.24, 0.16))
        )  # fmt: skip
    else:
        blocks.append(Paragraph("Trips, holds, interruptions: none."))
    return tuple(blocks)


def _happenings(subject: Subject) -> tuple[tuple[TableCell, ...], ...]:
    rows = []
    for at in subject.timeline.events:
        match at.event:
            case Tripped(trip):
                words, strong = f"TRIP latched: {trip.value.replace('_', ' ')}", True
            case ResetDone(trip):
                words, strong = f"trip reset: {trip.value.replace('_', ' ')}", False
            case Lapsed(fact):
                words, strong = f"too old to be believed: {fact.replace('_', ' ')}", False
            case PermitLapsed():
                words, strong = "a permit lapsed unused", False
            case Held(why):
                words, strong = f"held: {HOLDS.get(why) or plain_text(why, 200)}", False
            case WentOn():
                words, strong = "went on by a deliberate act", False
            case AskAgain(facts, _):
                if not facts:
                    continue
                words, strong = f"to be looked at again: {', '.join(facts)}", False
            case Meanwhile(answer):
                words, strong = f"sprayed, connected or cranked meanwhile: {answer}", False
            case Moved(step, _, reason) if reason in ("back", "divert", "return"):
                said = {"back": "went back to", "divert": "diverted to", "return": "returned to"}
                words, strong = f"{said[reason]} {step}", reason == "divert"
            case _:
                continue
        rows.append(
            (
                TableCell(subject.timeline.show(at.when)),
                TableCell(words, strong=strong),
                TableCell(plain_text(at.step, 60)),
                TableCell(plain_text(at.actor, 60)),
            )
        )
    return tuple(rows)


def changed(subject: Subject) -> tuple[SheetBlock, ...]:
    """Corrections, steps left as not applicable, waivers, doubted readings, quick answers."""
    said: list[SheetBlock] = []
    for title, heads, rows, widths in (
        ("Corrections: what stood there stays", ("When", "What", "Was", "Is now", "Why, by"),
         _corrections(subject), (0.13, 0.2, 0.2, 0.2, 0.27)),
        ("Not applicable", ("When", "Step", "Why", "By"),
         _not_applicable(subject), (0.13, 0.33, 0.38, 0.16)),
        ("Waivers", ("When", "Interlock", "What", "By"),
         _waivers(subject), (0.13, 0.2, 0.39, 0.28)),
        ("Readings that were doubted when first typed",
         ("When", "As first typed", "Doubted because", "By"),
         _notes(subject, "doubted", ("typed", "topics")), (0.13, 0.31, 0.4, 0.16)),
        ("Answered faster than a look takes", ("When", "Step", "Took", "By"),
         _quick(subject), (0.13, 0.53, 0.14, 0.2)),
    ):  # fmt: skip
        if rows:
            said.append(TableBlock(title, heads, tuple(rows), widths))
        else:
            said.append(Paragraph(f"{title.split(':')[0]}: {_none(subject, title)}."))
    said.append(Paragraph("Nothing that guards people or the engine can be waived.", "small"))
    return tuple(said)


def _none(subject: Subject, title: str) -> str:
    if title.startswith("Answered") and subject.record.practice:
        return "not looked for, since time jumps in a practice job"
    return "none"


_Rows = list[tuple[TableCell, ...]]


def _corrections(subject: Subject) -> _Rows:
    rows: _Rows = []
    for at in subject.timeline.of(Corrected):
        event = at.event
        assert isinstance(event, Corrected)
        name = plain_text(event.name.replace("_", " "), 60)
        rows.append(
            (
                TableCell(subject.timeline.show(at.when)),
                TableCell(f"{name}{_of_set(event.was)}, entry {event.number + 1}"),
                TableCell(_value(event.was)),
                TableCell(_value(event.now), strong=True),
                TableCell(f"{plain_text(event.reason, 400)}; {plain_text(event.by, 60)}"),
            )
        )
    return rows


def _of_set(value: dict[str, Any]) -> str:
    """Which set of readings, where it is one."""
    if "phase" not in value or "condition" not in value:
        return ""
    return f" ({plain_text(value['phase'], 20)}, {plain_text(value['condition'], 20)})"


def _value(value: dict[str, Any]) -> str:
    """A recorded value as it was typed; all of it where nothing was typed."""
    for key in ("typed", "text", "said", "choice", "seconds"):
        if value.get(key):
            return plain_text(value[key], 300)
    return plain_text(", ".join(f"{key}: {value[key]}" for key in sorted(value)), 300)


def _not_applicable(subject: Subject) -> _Rows:
    return [
        (
            TableCell(subject.timeline.show(at.when)),
            TableCell(subject.step_words(at.procedure, at.event.step)),
            TableCell(plain_text(at.event.reason, 400)),
            TableCell(plain_text(at.event.by, 60)),
        )
        for at in subject.timeline.of(MarkedNotApplicable)
        if isinstance(at.event, MarkedNotApplicable)
    ]


def _waivers(subject: Subject) -> _Rows:
    rows: _Rows = []
    for at in subject.timeline.of(Waived, WaiverUsed, WaiverLapsed):
        match at.event:
            case Waived(interlock, reason, asked_by, person, _, how):
                words = f"waived for one act: {plain_text(reason, 400)}"
                by = (
                    f"asked by {plain_text(asked_by, 60)}; approved by {subject.person(person)}, "
                    f"{HOW_SIGNED.get(how, plain_text(how, 30))}"
                )
            case WaiverUsed(interlock, act):
                words, by = f"used for: {plain_text(act, 80).replace('_', ' ')}", at.actor
            case WaiverLapsed(interlock):
                words, by = "ended unused", ""
            case _:
                continue
        rows.append(
            (
                TableCell(subject.timeline.show(at.when)),
                TableCell(plain_text(interlock, 80), strong=True),
                TableCell(words),
                TableCell(plain_text(by)),
            )
        )
    return rows


def _notes(subject: Subject, name: str, keys: tuple[str, ...]) -> _Rows:
    """The notes kept under ``name``: when, the values under ``keys``, by whom."""
    return [
        (
            TableCell(subject.timeline.show(at.when)),
            *(TableCell(plain_text(_of(at, key), 400)) for key in keys),
            TableCell(plain_text(at.actor, 60)),
        )
        for at in subject.timeline.records(name)
    ]


def _of(at: At, key: str) -> str:
    if not isinstance(at.event, Recorded) or at.event.value.get(key) in (None, ""):
        return NOT_RECORDED
    return doubted_about(at.event.value) if key == "topics" else str(at.event.value[key])


def _quick(subject: Subject) -> _Rows:
    """Steps answered by looking whose two marks lie closer than a look; none in practice."""
    if subject.record.practice:
        return []
    rows: _Rows = []
    done = subject.timeline.of(Done)
    for at, mark in zip(done, subject.record.job.log.marks, strict=False):
        procedure = subject.record.procedures.get(at.procedure)
        try:
            kind = procedure.step(mark.step).kind if procedure else ""
        except KeyError:
            continue
        took_ms = mark.done_ms - mark.begun_ms
        if kind in LOOKED and took_ms < QUICK_MS:
            rows.append(
                (
                    TableCell(subject.timeline.show(at.when)),
                    TableCell(subject.step_words(at.procedure, mark.step)),
                    TableCell(f"{took_ms / 1000:.1f} s"),
                    TableCell(plain_text(at.actor, 60)),
                )
            )
    return rows


def kept_beside(subject: Subject) -> tuple[SheetBlock, ...]:
    """Attached files with size and hash, calls, hand-overs of the work, texts found at fault."""
    blocks: list[SheetBlock] = []
    files = tuple(
        (
            TableCell(plain_text(_of(at, "label"), 200), strong=True),
            TableCell(plain_text(_of(at, "kind"), 60)),
            TableCell(_size(_of(at, "bytes"))),
            TableCell(groups(plain_text(_of(at, "sha256"), 80))),
            TableCell(f"{subject.timeline.show(at.when)}, {plain_text(at.actor, 60)}"),
        )
        for at in subject.timeline.records("attachment")
    ) + tuple(
        (
            TableCell(plain_text(one.label, 200), strong=True),
            TableCell(plain_text(one.kind, 60)),
            TableCell(_size(one.bytes)),
            TableCell(groups(one.sha256)),
            TableCell(f"after the end, {one.utc[:16]}Z, {plain_text(one.by, 60)}"),
        )
        for one in subject.record.late
    )
    if files:
        blocks.append(
            TableBlock("Attached files", ("Label", "Kind", "Size", "SHA-256", "When, by"), files,
                  (0.26, 0.12, 0.12, 0.34, 0.16))
        )  # fmt: skip
    else:
        blocks.append(Paragraph("Attached files: none."))
    for name, title, heads, keys in (
        ("called", "Called to the vehicle", ("When", "Role called", "By"), ("role",)),
        ("handover", "Work handed over to somebody else", ("When", "To", "By"), ("to",)),
    ):
        rows = _notes(subject, name, keys)
        if rows:
            blocks.append(TableBlock(title, heads, tuple(rows), (0.25, 0.45, 0.3)))
        else:
            blocks.append(Paragraph(f"{title}: not recorded."))
    faults = _notes(subject, "text_fault", ("step", "text"))
    if faults:
        blocks.append(
            TableBlock("Texts of steps that are at fault, for their author",
                  ("When", "Step", "What is wrong", "By"), tuple(faults), (0.17, 0.17, 0.5, 0.16))
        )  # fmt: skip
    return tuple(blocks)


def _size(text: str) -> str:
    return f"{int(text):,} bytes".replace(",", " ") if text.isascii() and text.isdigit() else text
