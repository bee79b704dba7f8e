"""The record of one person as sections: the same for the terminal and for the printed page."""

from collections.abc import Iterator

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

LEAD = (
    "Worked out from the records of this workshop's jobs. It says what was done, not how well, "
    "and compares nobody."
)


def progress_sheet(progress: Progress, name: str, role: str, day: str) -> JobSheet:
    """All of a person's record. ``name`` is printed where the workshop still knows it."""
    sections = (
        Section("competences", "Competences", tuple(_competences(progress))),
        Section("set", "Faults set to be found", _or_none(_sets(progress.sets), "none was set")),
        Section("practised", "Practised", tuple(_practised(progress))),
        Section("worked", "Real jobs: under supervision, with others, alone", _real(progress)),
        Section("refused", "Refusals, and why", _refusals(progress)),
        Section("unsure", "What does not count, and why", _unsure(progress)),
        Section("signed", "Seen", (SignLine("Supervisor"), SignLine("The person themselves"))),
    )
    who = f"{name} ({progress.person}), {role}" if name else progress.person
    subtitle = f"{plain_text(who, 120)}, on {day}"
    return page_of("Record of practice and work", subtitle, subtitle, sections, LEAD)


def _cells(*texts: str) -> tuple[TableCell, ...]:
    return tuple(TableCell(plain_text(text, 300)) for text in texts)


def _or_none(blocks: Iterator[SheetBlock], none: str) -> tuple[SheetBlock, ...]:
    return tuple(blocks) or (Paragraph(none, "missing"),)


def _competences(progress: Progress) -> Iterator[SheetBlock]:
    for text in progress.wrong:
        yield Paragraph(f"NOTHING SIGNED COUNTS: {text}", "bold")
    if progress.note:
        yield Paragraph(progress.note, "missing")
    for one in progress.standings:
        yield Paragraph(f"{_state(one)}  {one.id}: {plain_text(one.statement, 300)}", "bold")
        if one.note:
            yield Paragraph(plain_text(one.note, 300))
        yield Points(
            tuple(
                f"{e.have} of {e.need}{'' if e.met else ', lacking'}: {e.words}"
                for e in one.evidence
            )
        )


def _state(one: Standing) -> str:
    if one.state == "signed":
        return f"SIGNED by {one.by}, until {one.until}."
    if one.state == "withdrawn":
        return f"WITHDRAWN by {one.by}."
    signer = f" by a {one.signed_by}" if one.state != "not yet" else ""
    return f"{one.state.upper()}{signer}."


def _sets(sets: tuple[SetFault, ...]) -> Iterator[SheetBlock]:
    if not sets:
        return
    rows = []
    for one in sets:
        answer = "open" if not one.job else f"job {one.job}: {_was_found(one.found)}"
        fault = one.fault if one.job else "hidden until answered"
        rows.append(_cells(one.by, one.until, fault, answer))
    heads = ("set by", "until", "fault", "answer")
    yield TableBlock("", heads, tuple(rows), (0.19, 0.16, 0.28, 0.37))


def _was_found(found: bool | None) -> str:
    if found is None:
        return "does not count yet"
    return "found" if found else "not found"


def _practised(progress: Progress) -> Iterator[SheetBlock]:
    jobs = progress.of(practice=True)
    if not jobs:
        yield Paragraph("nothing yet", "missing")
        return
    rows = tuple(_cells(one.day, one.job[-8:], one.procedure, _subject(one), _shown(one))
                 for one in jobs)  # fmt: skip
    heads = ("day", "job", "procedure", "lesson or exercise", "faults, and how it ended")
    yield TableBlock("", heads, rows, (0.16, 0.14, 0.17, 0.21, 0.32))


def _subject(one: OneJob) -> str:
    if one.exercise:
        met = "as set" if one.exercise_met else "not as set"
        return f"{one.exercise}: {met}" + "".join(f"; not noticed: {m}" for m in one.unnoticed)
    return "faults set by a supervisor" if one.set_sha256 else one.lesson


def _shown(one: OneJob) -> str:
    words = {True: "found", False: "not found", None: "no answer shows it by itself"}
    ended = one.ended != "goes on"
    faults = [f"{name}: {words[was]}" for name, was in one.found] if ended else []
    refused = f"{len(one.refused)} refused" if one.refused else ""
    return "; ".join(filter(None, (one.ended, *faults, refused, *_trips(one))))


def _trips(one: OneJob) -> list[str]:
    return [f"trip: {trip.replace('_', ' ')}" for trip in one.trips]


def _real(progress: Progress) -> tuple[SheetBlock, ...]:
    jobs = progress.of(practice=False)
    if not jobs:
        return (Paragraph("none yet", "missing"),)
    rows = []
    for one in jobs:
        refused = f"{len(one.refused)} refused" if one.refused else ""
        how = "; ".join(filter(None, (one.ended, refused, *_trips(one))))
        steps = f"{len(set(one.steps))}"
        rows.append(_cells(one.day, one.job[-8:], one.procedure, one.beside, steps, how))
    heads = ("day", "job", "procedure", "beside", "steps", "how it ended")
    return (TableBlock("", heads, tuple(rows), (0.16, 0.14, 0.2, 0.16, 0.1, 0.24)),)


def _refusals(progress: Progress) -> tuple[SheetBlock, ...]:
    said = tuple(f"{times} x {why} ({name})" for name, why, times in progress.refusals())
    return (Points(said),) if said else (Paragraph("none", "missing"),)


def _unsure(progress: Progress) -> tuple[SheetBlock, ...]:
    said = [f"{one.job}: {one.why}" for one in progress.jobs if not one.counts]
    said += [f"cannot be read: {text}" for text in progress.unread]
    said += [f"ledger of practice: {plain_text(text, 300)}" for text in progress.ledger]
    return (Points(tuple(said)),) if said else (Paragraph("nothing", "missing"),)
