"""The technical pages (identity, findings, agreement, readings, judgement) and the listing."""

from collections.abc import Iterable, Mapping
from typing import Any

from steplatch.safety.bay import Agreed
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.kernel import Seen, Tripped

from ..core.events import Corrected, Departed, MarkedNotApplicable, Waived
from . import (
    measured,
    pictured,
    since,
    technical_changes,
    technical_record,
    technical_steps,
    visits,
)
from .agreement_part import HOW_AGREED
from .answers import RecordedAnswer
from .blocks import Pairs, Paragraph, Points, Section, SheetBlock, SheetPart, TableBlock, TableCell
from .customer_part import advised, identity
from .fluid import sprays, total
from .numbers import ml
from .result import plain_short, sentence
from .subject import Subject
from .texts import ADMINISTRATIVE, FIRST_YES, NOT_RECORDED, SECOND_YES
from .typed import plain_lines, plain_text

GLANCE = 220
"""Longest text of one answer in the first section; every whole text stands in the listing."""
LISTING = _(
    "Every step with its whole answer, each pressure noted while drying, the working of each limit "
    "and the cautions that were shown are a listing of their own: steplatch sheet {job} --listing."
)


def technical_part(subject: Subject) -> SheetPart:
    """The pages that the workshop reads: some eight at most (the tests count them)."""
    verdict = subject.verdict
    return SheetPart(
        "technical",
        _("For the workshop"),
        f"{ADMINISTRATIVE} {LISTING.format(job=plain_text(subject.record.job_id, 60))}",
        (
            Section("t-glance", _("At a glance"), _glance(subject, verdict)),
            Section("t-who", _("Vehicle, people, files"), _who(subject)),
            Section(
                "t-codes", _("Codes"), _by_name(subject, ("code", "freeze", "learned"), "codes")
            ),
            Section("t-triage", _("Triage"), _triage(subject)),
            Section("t-agreed", _("Agreement"), _agreed(subject)),
            Section("t-readings", _("Readings"), _readings(subject)),
            Section(
                "t-verdict",
                _("Verdict and its reasons"),
                since.technical(subject) or _verdict(verdict, subject.triage()),
            ),
            *visits.section(subject),
            Section("t-dose", _("Fluid"), technical_record.fluid(subject)),
            Section("t-drying", _("Drying and level"), technical_record.drying(subject)),
            Section(
                "t-against",
                _("Refusals, trips, holds"),
                technical_changes.against(subject),
            ),
            Section(
                "t-changed",
                _("Corrections, waivers, not applicable"),
                technical_changes.changed(subject),
            ),
            Section("t-beside", _("Files and calls"), technical_changes.kept_beside(subject)),
            Section("t-waste", _("Waste"), _by_name(subject, ("waste",), "waste")),
            Section("t-signed", _("Signatures"), technical_record.signatures(subject)),
            Section("t-record", _("Versions and audit"), technical_record.versions(subject)),
        ),
    )


def listing_part(subject: Subject) -> SheetPart:
    """What is long and seldom read: it is made when somebody asks for it."""
    return SheetPart(
        "listing",
        _("Listing: every step, drying, limits, cautions"),
        "",
        (
            Section("t-steps", _("Every step"), technical_steps.every_step(subject)),
            Section("t-noted", _("Pressures noted while drying"), technical_record.noted(subject)),
            Section("t-limits", _("Limits, with their working"), technical_record.limits(subject)),
            Section(
                "t-cautions", _("Cautions that were shown"), technical_record.cautions(subject)
            ),
        ),
    )


def _glance(subject: Subject, verdict: dict[str, Any] | None) -> tuple[SheetBlock, ...]:
    answers = subject.answers
    gain = (verdict or {}).get("gain")
    found = sprays(subject)
    trips = [at for at in subject.timeline.events if isinstance(at.event, Tripped)]
    sets = measured.read_sets(subject.timeline)
    facts = (verdict or {}).get("facts") or {}
    doers = [subject.person(d) for d in sorted(subject.record.job.log.doers)]
    checkers = list(dict.fromkeys(
        subject.person(s.person) for s in subject.record.job.log.signatures
        if s.meaning in ("checked", "released") and s.who == "other"
    ))  # fmt: skip
    full = [p for p in ("before", "after") if all((p, c) in sets for c in measured.ORDER)]
    rows = (
        (_("What was asked"), answers.cell("complaint")),
        (_("State on arrival"), _seen(subject, "arrival")),
        (_("Codes written down"), _timed(subject, "codes_stored")),
        (_("Price told"), answers.cell("price")),
        (_("First yes"), _yes_cell(subject, Agreed.MEASURE)),
        (_("Warning given"), _timed(subject, "warning", _("none recorded"))),
        (_("Second yes"), _yes_cell(subject, Agreed.CLEAN)),
        (_("First fluid"), TableCell(found[0].at.when.full()) if found else TableCell(_("none"))),
        (
            _("Readings complete"),
            TableCell(
                " and ".join(full) if full else _("neither before nor after"), missing=len(full) < 2
            ),
        ),
        (
            _("Fluid counted"),
            TableCell(
                _(
                    "engine off {ml}, idling {ml_2}",
                    ml=ml(total(found, True)),
                    ml_2=ml(total(found, False)),
                )
                if found
                else "none"
            ),
        ),
        (
            _("Verdict"),
            TableCell(str(verdict["title"]), strong=True)
            if verdict
            else TableCell(NOT_RECORDED, missing=True),
        ),
        (
            _("Gain"),
            TableCell(
                _(
                    "{gain:.0f} % less pressure for the same flow, 95 % range {gain_2:.0f} to "
                    "{gain_3:.0f}",
                    gain=gain["percent"],
                    gain_2=gain["low_percent"],
                    gain_3=gain["high_percent"],
                )
            )
            if gain
            else TableCell(_("none stated"), missing=True),
        ),
        (_("Before and after alike"), _alike(str(facts.get("comparable")))),
        (_("Cause"), answers.cell("root_cause_text", "root_cause")),
        (_("Decision about the cause"), answers.cell("root_cause")),
        (_("Who did it"), TableCell(", ".join(doers) or NOT_RECORDED, missing=not doers)),
        (_("Who checked it"), TableCell(", ".join(checkers) or "nobody", missing=not checkers)),
        (_("Refusals / trips"), TableCell(f"{len(subject.timeline.refusals)} / {len(trips)}")),
        (
            _("Corrections / waivers / not applicable"),
            TableCell(
                " / ".join(
                    str(len(subject.timeline.of(kind)))
                    for kind in (Corrected, Waived, MarkedNotApplicable)
                )
            ),
        ),
        (_("Job"), TableCell(subject.state_words())),
        *_left(subject),
        (
            _("Audit"),
            TableCell(plain_lines(subject.record.audit))
            if subject.record.audit
            else TableCell(_("not run for this sheet"), missing=True),
        ),
    )
    return (Pairs(tuple((name, _brief(cell)) for name, cell in rows)),)


def _left(subject: Subject) -> tuple[tuple[str, TableCell], ...]:
    """Why a job was given up, and what it was left with."""
    if subject.record.ended != "abandoned":
        return ()
    wet = subject.record.job.bay.wet
    return (
        (_("Why it was given up"), _timed(subject, "abandon_reason")),
        (_("Notice at the key"), _seen(subject, "tag")),
        (
            _("Fluid that may be left in"),
            TableCell(_("not known") if wet is None else ml(wet), strong=True),
        ),
    )


def _brief(cell: TableCell) -> TableCell:
    """A cell cut to what a glance takes in; the whole text stands at its step."""
    if "\n" in cell.text:
        return cell
    return TableCell(plain_short(cell.text, GLANCE, note=False), cell.missing, cell.strong)


def _timed(subject: Subject, name: str, otherwise: str = NOT_RECORDED) -> TableCell:
    """The last answer under ``name`` with the moment at which it was typed."""
    answer = subject.answers.latest(name)
    if answer is None:
        return TableCell(otherwise, missing=True)
    words = plain_short(answer.words, GLANCE - 30, note=False)
    return TableCell(f"{words} ({answer.at.when.full()})")


def _alike(comparable: str) -> TableCell:
    words = {"yes": "yes", "corrected": _("unlike, taken out by the sum"), "no": "no"}
    return TableCell(words.get(comparable, NOT_RECORDED), comparable not in ("yes", "corrected"))


def _came(subject: Subject, person: str) -> str:
    """Beside the role: that it is only as told by who came in mid-job; when somebody went."""
    told = person in subject.record.job.log.told
    went = [
        _(" (went {full})", full=at.when.full())
        for at in subject.timeline.of(Departed)
        if isinstance(at.event, Departed) and at.event.person == person
    ]
    return "".join((_(" (as told; came in mid-job)") if told else "", *went))


def _who(subject: Subject) -> tuple[SheetBlock, ...]:
    record, timeline = subject.record, subject.timeline
    people = tuple(
        (
            TableCell(plain_text(p.get("id", "?"), 60)),
            TableCell(plain_text(p.get("name", "?"), 120)),
            TableCell(
                spoken(plain_text(p.get("role", "?"), 40)) + _came(subject, str(p.get("id", "?")))
            ),
            TableCell(_("yes") if p.get("under_18") else _("no")),
        )
        for p in record.job.log.people
    )
    rows = [
        (_("Contact"), subject.personal("contact")),
        (_("Fluid"), subject.label("fluid")),
        (_("Gun"), subject.label("gun")),
        (_("Opened"), TableCell(timeline.first.full()) if timeline.first
         else TableCell(NOT_RECORDED, missing=True)),
        (_("Last line"), TableCell(timeline.last.full()) if timeline.last
         else TableCell(NOT_RECORDED, missing=True)),
    ]  # fmt: skip
    for fact in ("identity", "crew", "arrival", "driver"):
        rows.append(
            (_("{fact}, as reported", fact=spoken(fact).capitalize()), _seen(subject, fact))
        )
    return (
        identity(subject),
        Pairs(tuple(rows)),
        TableBlock(_("People of this job"), (_("Id"), _("Name"), _("Role"), _("Under 18")), people,
              (0.25, 0.4, 0.2, 0.15)),
    )  # fmt: skip


def _seen(subject: Subject, fact: str) -> TableCell:
    found = [
        at.event.state
        for at in subject.timeline.events
        if isinstance(at.event, Seen) and at.event.fact == fact
    ]
    return TableCell(found[-1].said) if found else TableCell(NOT_RECORDED, missing=True)


def _by_name(subject: Subject, parts: tuple[str, ...], word: str) -> tuple[SheetBlock, ...]:
    found = list(subject.answers.holding(*parts))
    if not found:
        return (Paragraph(_("No {word} recorded.", word=word), "missing"),)
    return (_answers_table(subject, found),)


def _answers_table(subject: Subject, found: Iterable[RecordedAnswer]) -> TableBlock:
    rows = tuple(
        (
            TableCell(a.asked),
            TableCell(a.words, strong=True),
            TableCell(f"{subject.timeline.show(a.at.when)}, {plain_text(a.at.actor, 60)}"),
        )
        for a in found
    )
    return TableBlock(
        _("As answered"), (_("Asked"), _("Answer"), _("When, by")), rows, (0.38, 0.42, 0.2)
    )


def _reason(reason: Mapping[str, Any]) -> str:
    """A reason of the triage with when it ends and where it comes from."""
    until = _(" Not until {until}.", until=reason["until"]) if reason.get("until") else ""
    source = reason.get("source", NOT_RECORDED)
    return _("{text}{until} (source: {source})", text=reason["text"], until=until, source=source)


def _triage(subject: Subject) -> tuple[SheetBlock, ...]:
    triage = subject.triage()
    if triage is None:
        return (Paragraph(_("No triage recorded."), "missing"),)
    rows = [
        (
            _("Decision"),
            TableCell(plain_text(triage.get("title") or triage.get("state")), strong=True),
        )
    ]
    facts = triage.get("facts") or {}
    known = {k: v for k, v in facts.items() if v != "unknown"}
    unknown = [k for k, v in facts.items() if v == "unknown"]
    if known:
        rows.append(
            (
                _("Facts"),
                TableCell(plain_text("; ".join(f"{k}: {v}" for k, v in known.items()), 2000)),
            )
        )
    if unknown:
        rows.append((_("Not known"), TableCell(plain_text(", ".join(unknown), 2000))))
    blocks: list[SheetBlock] = [Pairs(tuple(rows))]
    reasons = [_reason(r) if isinstance(r, dict) else str(r) for r in triage.get("reasons") or ()]
    reasons += [str(c) for c in triage.get("codes") or ()]
    for key in ("expected", "ash"):
        text = (triage.get(key) or {}).get("text")
        if text:
            reasons.append(str(text))
    if reasons:
        blocks.append(Points(tuple(plain_text(r) for r in reasons)))
    return tuple(blocks)


def _agreed(subject: Subject) -> tuple[SheetBlock, ...]:
    return (
        Pairs(
            (
                (FIRST_YES.capitalize(), _yes_cell(subject, Agreed.MEASURE)),
                (SECOND_YES.capitalize(), _yes_cell(subject, Agreed.CLEAN)),
                (_("A no"), _yes_cell(subject, Agreed.NO, "none")),
                (_("Price"), subject.answers.cell("price")),
            )
        ),
    )


def _yes_cell(subject: Subject, state: Agreed, otherwise: str = _("not given")) -> TableCell:
    found = [
        at
        for at in subject.timeline.events
        if isinstance(at.event, Seen) and at.event.state is state
    ]
    if not found:
        return TableCell(otherwise, missing=otherwise != "none")
    at = found[-1]
    how = subject.answers.latest(HOW_AGREED[state]) if state in HOW_AGREED else None
    said = _("; how: {words}", words=plain_short(how.words, 120, note=False)) if how else ""
    return TableCell(
        _(
            "{full}, taken down by {person}{said}",
            full=at.when.full(),
            person=subject.person(at.actor),
            said=said,
        )
    )


def _readings(subject: Subject) -> tuple[SheetBlock, ...]:
    sets = measured.read_sets(subject.timeline)
    temperatures = subject.timeline.records("exhaust")
    rows = tuple(
        (
            TableCell(subject.timeline.show(at.when)),
            TableCell(plain_text(at.event.value.get("typed", ""), 40)),  # type: ignore[union-attr]
            TableCell(spoken(plain_text(at.event.value.get("class", ""), 40))),  # type: ignore[union-attr]
            TableCell(plain_text(at.actor, 60)),
        )
        for at in temperatures
    )
    blocks: list[SheetBlock] = [
        measured.sets_table(subject.timeline, subject.phases),
        Paragraph(f"{measured.line_names(subject.timeline)} {measured.conditions_words(sets)}"),
    ]
    if rows:
        blocks.append(
            TableBlock(
                _("Exhaust at the filter inlet"),
                (_("When"), _("As typed"), _("Class"), _("By")),
                rows,
                (0.25, 0.25, 0.25, 0.25),
            )
        )
    return tuple(blocks)


def _verdict(
    verdict: dict[str, Any] | None, triage: dict[str, Any] | None
) -> tuple[SheetBlock, ...]:
    if verdict is None:
        none = Paragraph(_("No verdict recorded."), "missing")
        if not (triage or {}).get("before"):
            return (none,)
        assert triage is not None
        title = Paragraph(_("What the readings before the work gave:"), "bold")
        return (none, title, measured.lines_table(triage), pictured.flow_picture(triage))
    rows = [
        (_("Verdict"), TableCell(str(verdict["title"]), strong=True)),
        (_("Row of the table that decided"), TableCell(str(verdict.get("row") or NOT_RECORDED))),
        (_("Facts it saw"), TableCell("; ".join(f"{k}: {v}" for k, v in
                                        (verdict.get("facts") or {}).items()))),
    ]  # fmt: skip
    blocks: list[SheetBlock] = [Pairs(tuple(rows))]
    for heading, key in (
        (_("Because"), "reasons"),
        (_("Look at"), "look_at"),
        (_("Corrected by the sum"), "corrected"),
        (_("Not measured"), "not_measured"),
        (_("Advice to the customer"), "advice"),
        (_("For the workshop to do"), "to_do"),
    ):
        said = tuple(plain_text(t) for t in verdict.get(key) or ())
        texts = tuple(sentence(advised(t)) for t in said) if key == "advice" else said
        if texts:
            blocks += [Paragraph(f"{heading}:", "bold"), Points(texts)]
    blocks += [measured.lines_table(verdict), *measured.budget_table(verdict)]
    blocks.append(pictured.flow_picture(verdict))
    limits = tuple(
        (
            TableCell(str(one["name"])),
            TableCell(f"{float(one['value']):.1f} {one['unit']}"),
            TableCell(str(one["source"])),
        )
        for one in verdict.get("limits") or ()
    )
    if limits:
        blocks.append(
            TableBlock(
                _("Limits used"), (_("Limit"), _("Value"), _("Source")), limits, (0.25, 0.2, 0.55)
            )
        )
    ash = (verdict.get("ash") or {}).get("text")
    if ash:
        blocks.append(Paragraph(plain_text(ash)))
    return tuple(blocks)
