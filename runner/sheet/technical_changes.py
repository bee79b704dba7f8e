"""What went against the plan or was changed in the open: refusals, trips, corrections, waivers.

Each kind that did not occur is said to be none, so that a blank never looks filled.
"""

from typing import Any

from steplatch.safety.catalogue import _, spoken
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
            TableBlock(
                _("Refusals"),
                (_("When"), _("Asked"), _("Refused because"), _("Rule: source"), _("Asked by")),
                rows,
                (0.12, 0.18, 0.36, 0.22, 0.12),
            )
        )
    else:
        blocks.append(Paragraph(_("Refusals: none.")))
    happenings = _happenings(subject)
    if happenings:
        blocks.append(
            TableBlock(
                _("Trips, resets, lapses, holds, interruptions, steps worked again"),
                (_("When"), _("What"), _("At step"), _("By")),
                happenings,
                (0.14, 0.46, 0.24, 0.16),
            )
        )
    else:
        blocks.append(Paragraph(_("Trips, holds, interruptions: none.")))
    return tuple(blocks)


def _happenings(subject: Subject) -> tuple[tuple[TableCell, ...], ...]:
    rows = []
    for at in subject.timeline.events:
        match at.event:
            case Tripped(trip):
                words, strong = _("TRIP latched: {value}", value=spoken(trip.value)), True
            case ResetDone(trip):
                words, strong = _("trip reset: {value}", value=spoken(trip.value)), False
            case Lapsed(fact):
                words, strong = (
                    _("too old to be believed: {fact}", fact=spoken(fact)),
                    False,
                )
            case PermitLapsed():
                words, strong = _("a permit lapsed unused"), False
            case Held(why):
                words, strong = _("held: {why}", why=HOLDS.get(why) or plain_text(why, 200)), False
            case WentOn():
                words, strong = _("went on by a deliberate act"), False
            case AskAgain(facts, _):
                if not facts:
                    continue
                words, strong = (
                    _("to be looked at again: {facts}", facts=", ".join(map(spoken, facts))),
                    False,
                )
            case Meanwhile(answer):
                words, strong = (
                    _("sprayed, connected or cranked meanwhile: {answer}", answer=answer),
                    False,
                )
            case Moved(step, _, reason) if reason in ("back", "divert", "return"):
                said = {
                    "back": _("went back to"),
                    "divert": _("diverted to"),
                    "return": _("returned to"),
                }
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
        (
            _("Corrections: what stood there stays"),
            (_("When"), _("What"), _("Was"), _("Is now"), _("Why, by")),
            _corrections(subject),
            (0.13, 0.2, 0.2, 0.2, 0.27),
        ),
        (
            _("Not applicable"),
            (_("When"), _("Step"), _("Why"), _("By")),
            _not_applicable(subject),
            (0.13, 0.33, 0.38, 0.16),
        ),
        (
            _("Waivers"),
            (_("When"), _("Interlock"), _("What"), _("By")),
            _waivers(subject),
            (0.13, 0.2, 0.39, 0.28),
        ),
        (
            _("Readings that were doubted when first typed"),
            (_("When"), _("As first typed"), _("Doubted because"), _("By")),
            _notes(subject, "doubted", ("typed", "topics")),
            (0.13, 0.31, 0.4, 0.16),
        ),
        (
            QUICK,
            (_("When"), _("Step"), _("Took"), _("By")),
            _quick(subject),
            (0.13, 0.53, 0.14, 0.2),
        ),
    ):
        if rows:
            said.append(TableBlock(title, heads, tuple(rows), widths))
        else:
            said.append(Paragraph(f"{title.split(':')[0]}: {_none(subject, title)}."))
    said.append(Paragraph(_("Nothing that guards people or the engine can be waived."), "small"))
    return tuple(said)


QUICK = _("Answered faster than a look takes")


def _none(subject: Subject, title: str) -> str:
    if title == QUICK and subject.record.practice:
        return _("not looked for, since time jumps in a practice job")
    return _("none")


_Rows = list[tuple[TableCell, ...]]


def _corrections(subject: Subject) -> _Rows:
    rows: _Rows = []
    for at in subject.timeline.of(Corrected):
        event = at.event
        assert isinstance(event, Corrected)
        name = plain_text(spoken(event.name), 60)
        rows.append(
            (
                TableCell(subject.timeline.show(at.when)),
                TableCell(
                    _(
                        "{name}{of_set}, entry {number}",
                        name=name,
                        of_set=_of_set(event.was),
                        number=event.number + 1,
                    )
                ),
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
                words = _("waived for one act: {plain_text}", plain_text=plain_text(reason, 400))
                by = _(
                    "asked by {plain_text}; approved by {person}, {how_signed}",
                    plain_text=plain_text(asked_by, 60),
                    person=subject.person(person),
                    how_signed=HOW_SIGNED.get(how, plain_text(how, 30)),
                )
            case WaiverUsed(interlock, act):
                words, by = (
                    _("used for: {plain_text}", plain_text=spoken(plain_text(act, 80))),
                    at.actor,
                )
            case WaiverLapsed(interlock):
                words, by = _("ended unused"), ""
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
            TableCell(
                _("after the end, {utc}, {by}", utc=f"{one.utc[:16]}Z", by=plain_text(one.by, 60))
            ),
        )
        for one in subject.record.late
    )
    if files:
        blocks.append(
            TableBlock(
                _("Attached files"),
                (_("Label"), _("Kind"), _("Size"), "SHA-256", _("When, by")),
                files,
                (0.26, 0.12, 0.12, 0.34, 0.16),
            )
        )
    else:
        blocks.append(Paragraph(_("Attached files: none.")))
    for name, title, heads, keys in (
        ("called", _("Called to the vehicle"), (_("When"), _("Role called"), _("By")), ("role",)),
        (
            "handover",
            _("Work handed over to somebody else"),
            (_("When"), _("To"), _("By")),
            ("to",),
        ),
    ):
        rows = _notes(subject, name, keys)
        if rows:
            blocks.append(TableBlock(title, heads, tuple(rows), (0.25, 0.45, 0.3)))
        else:
            blocks.append(Paragraph(_("{title}: not recorded.", title=title)))
    faults = _notes(subject, "text_fault", ("step", "text"))
    if faults:
        blocks.append(
            TableBlock(
                _("Texts of steps that are at fault, for their author"),
                (_("When"), _("Step"), _("What is wrong"), _("By")),
                tuple(faults),
                (0.17, 0.17, 0.5, 0.16),
            )
        )
    return tuple(blocks)


def _size(text: str) -> str:
    return f"{int(text):,} bytes".replace(",", " ") if text.isascii() and text.isdigit() else text
