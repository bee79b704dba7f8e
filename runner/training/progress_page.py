"""The record of one person as sections: the same for the terminal and for the printed page."""

from collections.abc import Iterator

from steplatch.safety.catalogue import _, spoken

from ..sheet.blocks import (
    JobSheet,
    Paragraph,
    Points,
    Section,
    SheetBlock,
    SignLine,
    TableBlock,
    TableCell,
    page_of,
)
from ..sheet.typed import plain_text
from .practised import OneJob
from .progress import Progress, SetFault, Standing

LEAD = _(
    "Worked out from the records of this workshop's jobs. It says what was done, not how well, "
    "and compares nobody."
)


def progress_sheet(progress: Progress, name: str, role: str, day: str) -> JobSheet:
    """All of a person's record. ``name`` is printed where the workshop still knows it."""
    sections = (
        Section("competences", _("Competences"), tuple(_competences(progress))),
        Section(
            "set", _("Faults set to be found"), _or_none(_sets(progress.sets), _("none was set"))
        ),
        Section("practised", _("Practised"), tuple(_practised(progress))),
        Section("worked", _("Real jobs: under supervision, with others, alone"), _real(progress)),
        Section("refused", _("Refusals, and why"), _refusals(progress)),
        Section("unsure", _("What does not count, and why"), _unsure(progress)),
        Section(
            "signed", _("Seen"), (SignLine(_("Supervisor")), SignLine(_("The person themselves")))
        ),
    )
    who = f"{name} ({progress.person}), {role}" if name else progress.person
    subtitle = _("{plain_text}, on {day}", plain_text=plain_text(who, 120), day=day)
    return page_of(_("Record of practice and work"), subtitle, subtitle, sections, LEAD)


def _cells(*texts: str) -> tuple[TableCell, ...]:
    return tuple(TableCell(plain_text(text, 300)) for text in texts)


def _or_none(blocks: Iterator[SheetBlock], none: str) -> tuple[SheetBlock, ...]:
    return tuple(blocks) or (Paragraph(none, "missing"),)


def _competences(progress: Progress) -> Iterator[SheetBlock]:
    for text in progress.wrong:
        yield Paragraph(_("NOTHING SIGNED COUNTS: {text}", text=text), "bold")
    if progress.note:
        yield Paragraph(progress.note, "missing")
    for one in progress.standings:
        yield Paragraph(f"{_state(one)}  {one.id}: {plain_text(one.statement, 300)}", "bold")
        if one.note:
            yield Paragraph(plain_text(one.note, 300))
        yield Points(
            tuple(
                _(
                    "{have} of {need}{part}: {words}",
                    have=e.have,
                    need=e.need,
                    part="" if e.met else ", lacking",
                    words=e.words,
                )
                for e in one.evidence
            )
        )


def _state(one: Standing) -> str:
    if one.state == "signed":
        return _("SIGNED by {by}, until {until}.", by=one.by, until=one.until)
    if one.state == "withdrawn":
        return _("WITHDRAWN by {by}.", by=one.by)
    signer = _(" by a {signed_by}", signed_by=one.signed_by) if one.state != "not yet" else ""
    return f"{one.state.upper()}{signer}."


def _sets(sets: tuple[SetFault, ...]) -> Iterator[SheetBlock]:
    if not sets:
        return
    rows = []
    for one in sets:
        answer = (
            "open"
            if not one.job
            else _("job {job}: {was_found}", job=one.job, was_found=_was_found(one.found))
        )
        fault = one.fault if one.job else _("hidden until answered")
        rows.append(_cells(one.by, one.until, fault, answer))
    heads = (_("set by"), "until", "fault", "answer")
    yield TableBlock("", heads, tuple(rows), (0.19, 0.16, 0.28, 0.37))


def _was_found(found: bool | None) -> str:
    if found is None:
        return _("does not count yet")
    return "found" if found else _("not found")


def _practised(progress: Progress) -> Iterator[SheetBlock]:
    jobs = progress.of(practice=True)
    if not jobs:
        yield Paragraph(_("nothing yet"), "missing")
        return
    rows = tuple(_cells(one.day, one.job[-8:], one.procedure, _subject(one), _shown(one))
                 for one in jobs)  # fmt: skip
    heads = ("day", "job", "procedure", _("lesson or exercise"), _("faults, and how it ended"))
    yield TableBlock("", heads, rows, (0.16, 0.14, 0.17, 0.21, 0.32))


def _subject(one: OneJob) -> str:
    if one.exercise:
        met = _("as set") if one.exercise_met else _("not as set")
        return f"{one.exercise}: {met}" + "".join(
            _("; not noticed: {m}", m=m) for m in one.unnoticed
        )
    return _("faults set by a supervisor") if one.set_sha256 else one.lesson


def _shown(one: OneJob) -> str:
    words = {True: "found", False: _("not found"), None: _("no answer shows it by itself")}
    ended = one.ended != "goes on"
    faults = [f"{name}: {words[was]}" for name, was in one.found] if ended else []
    refused = _("{count} refused", count=len(one.refused)) if one.refused else ""
    return "; ".join(filter(None, (one.ended, *faults, refused, *_trips(one))))


def _trips(one: OneJob) -> list[str]:
    return [f"trip: {spoken(trip)}" for trip in one.trips]


def _real(progress: Progress) -> tuple[SheetBlock, ...]:
    jobs = progress.of(practice=False)
    if not jobs:
        return (Paragraph(_("none yet"), "missing"),)
    rows = []
    for one in jobs:
        refused = _("{count} refused", count=len(one.refused)) if one.refused else ""
        how = "; ".join(filter(None, (one.ended, refused, *_trips(one))))
        steps = f"{len(set(one.steps))}"
        rows.append(_cells(one.day, one.job[-8:], one.procedure, one.beside, steps, how))
    heads = ("day", "job", "procedure", "beside", "steps", _("how it ended"))
    return (TableBlock("", heads, tuple(rows), (0.16, 0.14, 0.2, 0.16, 0.1, 0.24)),)


def _refusals(progress: Progress) -> tuple[SheetBlock, ...]:
    said = tuple(f"{times} x {why} ({name})" for name, why, times in progress.refusals())
    return (Points(said),) if said else (Paragraph("none", "missing"),)


def _unsure(progress: Progress) -> tuple[SheetBlock, ...]:
    said = [f"{one.job}: {one.why}" for one in progress.jobs if not one.counts]
    said += [_("cannot be read: {text}", text=text) for text in progress.unread]
    said += [
        _("ledger of practice: {text}", text=plain_text(text, 300)) for text in progress.ledger
    ]
    return (Points(tuple(said)),) if said else (Paragraph("nothing", "missing"),)
