"""The customer's page: what was asked, found and done, how sure it is, what comes next."""

from datetime import timedelta
from typing import Any

from steplatch.safety.bay import Agreed, Codes, RunOn, Trip
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Happened, Seen, Tripped
from steplatch.safety.occurrences import Happening

from ..core.events import Corrected, Signed, WaiverUsed
from . import measured, pictured
from .blocks import Pairs, Paragraph, Points, Section, SheetBlock, SheetPart, TableBlock, TableCell
from .fluid import sprays, total
from .numbers import groups, ml, number, with_spread
from .record_view import JobRecord
from .result import (
    SHORT,
    fluid_words,
    must_not_start,
    not_cleaned,
    plain_short,
    reasons_against,
    result_box,
    said_parts,
    sentence,
)
from .since import judged_box, then_and_today
from .subject import Subject
from .texts import (
    CONDITION_SHORT,
    DEFERENCE,
    GLOSSARY,
    HASH_NOTE,
    INCIDENT,
    MEANING,
    MISSING,
    NOT_RECORDED,
    PHASE_CUSTOMER,
    SAME_FLOW,
)
from .typed import plain_text

MAX_SIGNATURES = 6


def customer_part(subject: Subject) -> SheetPart:
    """The whole page, from the record alone."""
    verdict, change = subject.verdict, subject.change
    box = judged_box(subject) or result_box(subject)
    compared = (
        Section("before-after", _("Before and after"), _before_after(subject, verdict))
        if change is None
        else Section("before-after", _("Then and today"), then_and_today(subject, change))
    )
    return SheetPart(
        "customer",
        _("For the customer"),
        "",
        (
            Section("result", _("The result"), (identity(subject), box)),
            Section("asked", _("What you asked, what we found, what we did"), _story(subject)),
            compared,
            Section(
                "next", _("What this does not promise; what comes next"), _next(subject), half=True
            ),
            Section("signed", _("Who signed"), _signed(subject), half=True),
            Section("check", _("Record check and words"), _check(subject)),
        ),
    )


def photos_part(record: JobRecord) -> SheetPart | None:
    """The pictures chosen for the customer, on a page behind it; None where there are none."""
    if not record.photos:
        return None
    return SheetPart(
        "photos", _("Pictures"), "", (Section("photos", _("Taken at the vehicle"), record.photos),)
    )


def identity(subject: Subject) -> Pairs:
    """Vehicle, customer, workshop and date: the head of every part."""
    last = subject.timeline.last
    vehicle = subject.label("vehicle")
    rows = [
        (_("Vehicle"), vehicle),
        (_("Registration"), subject.personal("registration")),
        (_("Vehicle number ends"), subject.personal("vin_tail")),
        (_("Distance"), subject.answers.cell("distance")),
        (_("Customer"), subject.personal("customer_name")),
        (_("Workshop"), subject.label("workshop")),
        *([(_("Address"), address)] if not (address := subject.label("address")).missing else []),
        (_("Job"), TableCell(plain_text(subject.record.job_id, 60))),
        (_("Date"), TableCell(last.day()) if last else TableCell(NOT_RECORDED, missing=True)),
    ]
    return Pairs(tuple((name, _short(cell, 44, note=False)) for name, cell in rows), twice=True)


def _short(cell: TableCell, limit: int, note: bool = True) -> TableCell:
    return TableCell(plain_short(cell.text, limit, note), cell.missing, cell.strong)


def _story(subject: Subject) -> tuple[SheetBlock, ...]:
    complaint = subject.answers.cell("complaint")
    words = complaint.text if complaint.missing else f"“{plain_short(complaint.text)}”"
    return (
        Pairs(
            (
                (_("You asked, in your words"), TableCell(words, complaint.missing)),
                (_("We found"), TableCell(*_found(subject))),
                (_("We did"), TableCell(" ".join(_did(subject)))),
                (
                    _("What filled it"),
                    _short(subject.answers.cell("root_cause_text", "root_cause"), SHORT),
                ),
                (_("You agreed to the clean"), _second_yes(subject)),
                (_("Price told"), _short(subject.answers.cell("price"), 80)),
            )
        ),
    )


def _second_yes(subject: Subject) -> TableCell:
    given = [
        at
        for at in subject.timeline.events
        if isinstance(at.event, Seen) and at.event.state is Agreed.CLEAN
    ]
    if not given:
        return TableCell(_("not given"), missing=True)
    at = given[-1]
    assert isinstance(at.event, Seen)
    return TableCell(f"{at.when.full()}: {at.event.state.said}")


def _found(subject: Subject) -> tuple[str, bool]:
    triage = subject.triage()
    codes = subject.answers.cell("codes_stored")
    said = []
    if not codes.missing:
        said.append(_("Fault codes: {plain_short}.", plain_short=plain_short(codes.text, 120)))
    if triage is not None:
        reasons = triage.get("reasons") or ()
        texts = [str(r.get("text", r) if isinstance(r, dict) else r) for r in reasons]
        against = [text for text, _ in reasons_against(subject)]
        said += (against or [sentence(plain_short(plain_text(t))) for t in texts])[:2]
        if not texts:
            said.append(_("Nothing was found that speaks against a clean."))
    return (" ".join(said), False) if said else (NOT_RECORDED, True)


def _did(subject: Subject) -> list[str]:
    found = sprays(subject)
    said = []
    if not found:
        said.append(fluid_words(subject))
    for engine_off, words in (
        (True, _("with the engine off")),
        (False, _("with the engine idling")),
    ):
        if any(s.engine_off is engine_off for s in found):
            amount = total(found, engine_off)
            upto = _("an unknown amount") if amount is None else _("at most {ml}", ml=ml(amount))
            said.append(_("Cleaning fluid {words}: {upto}.", words=words, upto=upto))
    done = {at.event.what for at in subject.timeline.events if isinstance(at.event, Happened)}
    bay = subject.record.job.bay
    if Happening.RUN_ON_DUE in done or bay.run_on is RunOn.DONE:
        said.append(_("Dried with the engine running."))
    if Happening.CODES_CLEARED in done or bay.codes is Codes.CLEARED:
        said.append(_("Fault codes cleared after they were written down."))
    if Happening.ROAD_ENDED in done:
        said.append(_("Road test driven."))
    trips = {at.event.trip for at in subject.timeline.events if isinstance(at.event, Tripped)}
    if trips:
        open_ones = trips & bay.trips
        words = "; ".join(INCIDENT[t] for t in Trip if t in trips)
        end = _("not closed") if open_ones else _("each worked through and checked")
        said.append(_("It happened meanwhile: {words} ({end}).", words=words, end=end))
    return said


def _before_after(subject: Subject, verdict: dict[str, Any] | None) -> tuple[SheetBlock, ...]:
    sets = measured.read_sets(subject.timeline)
    phases = [phase for phase in subject.phases if phase != "road"]
    if any(phase == "road" for phase, _ in sets):
        phases.append("road")
    known = subject.judged
    limit = measured.expected_limit(known)
    damage = number((known.get("clean") or {}).get("damage_below_mbar"))
    leak = "" if damage is None else _(" (under {damage:.0f}: leak)", damage=damage)
    heads = ("", *(PHASE_CUSTOMER[p] for p in phases), _("Expected"))
    same_flow = [TableCell(_("At the same flow"), strong=True)]
    for phase in phases:
        one = known.get(phase)
        same_flow.append(
            TableCell(
                with_spread(one["at_reference_mbar"], one["u_at_reference_mbar"]), strong=True
            )
            if one
            else TableCell(MISSING, missing=True)
        )
    same_flow.append(
        TableCell(_("up to {limit:.0f} mbar{leak}", limit=limit, leak=leak))
        if limit is not None
        else TableCell(_("no limit applies") if known else _("not judged"), missing=True)
    )
    rows = [tuple(same_flow)]
    for condition in measured.ORDER:
        read = [measured.set_words(sets.get((phase, condition)), phase) for phase in phases]
        edge = _("-10 to +5 mbar") if condition == "zero" else _("depends on flow")
        rows.append(
            (
                TableCell(
                    _("Shown, {condition_short}", condition_short=CONDITION_SHORT[condition])
                ),
                *read,
                TableCell(edge),
            )
        )
    share = 0.66 / len(phases)
    blocks: list[SheetBlock] = [
        TableBlock(
            SAME_FLOW,
            heads,
            tuple(rows),
            (0.2, *[share] * len(phases), 0.14),
        ),
    ]
    if known:
        blocks.append(pictured.bars(known))
    corrected = sum(
        at.event.name == "reading"
        for at in subject.timeline.of(Corrected)
        if isinstance(at.event, Corrected)
    )
    source = str((known.get("clean") or {}).get("source") or "")
    said = measured.conditions_words(sets)
    if measured.estimated(known):
        said += _(
            " The vehicle does not show its air flow: it was estimated from what it does "
            "show, such as the engine speed, which makes the range wider."
        )
    if source and limit is not None:
        said += _(
            " Source of the limit: {source}. Sensor zero: common practice, no source.",
            source=source,
        )
    if corrected:
        said = _(
            "Readings put right afterwards: {corrected}; what was typed first, and why it "
            "was changed, stands on the technical pages. {said}",
            corrected=corrected,
            said=said,
        )
    blocks.append(Paragraph(said, "small"))
    return tuple(blocks)


def _next(subject: Subject) -> tuple[SheetBlock, ...]:
    verdict = subject.verdict
    items = list(said_parts(verdict)[1]) if verdict else [_NO_PROMISE]
    if must_not_start(subject):
        items = [_LEFT, *items]
    if not_cleaned(subject):
        items = [i for i in items if not i.startswith(("Not measured today", "Come back"))]
        items += [
            _("A clean can be tried once {until}.", until=until)
            for _other, until in reasons_against(subject)[:1]
            if until and not until.startswith("never")
        ]
    items = [plain_short(s, 300) for s in items]
    if verdict and not not_cleaned(subject):
        items += [
            sentence(_("Advice: {advice}", advice=advised(str(a))))
            for a in (verdict.get("advice") or ())[:3]
        ]
    typed = subject.answers.latest("advice")
    if typed is not None:
        items.append(
            sentence(
                _(
                    "Advice from the workshop: {plain_short}",
                    plain_short=plain_short(typed.words, 130),
                )
            )
        )
    until = _return_words(subject, verdict or {})
    if until:
        items = [i for i in items if not i.startswith("Come back")] + [until]
    return (Points(tuple(items)),)


_NO_PROMISE = _("We cannot remove ash or see inside. The lamp may come on again.")
_LEFT = _("Whoever takes the vehicle from here has to know that the engine must not be started.")


def advised(text: str) -> str:
    """One piece of advice as a sentence of its own, whoever or whatever it speaks of."""
    return _("a fault code {text}", text=text) if text.startswith("may come back") else text


def _return_words(subject: Subject, verdict: dict[str, Any]) -> str:
    days, km = int(verdict.get("return_days") or 0), int(verdict.get("return_km") or 0)
    last = subject.timeline.last
    if not days or last is None:
        return ""
    by = (last.local + timedelta(days=days)).strftime("%Y-%m-%d")
    typed = subject.answers.latest("return_date")
    agreed = _(" Agreed: {words}.", words=plain_short(typed.words, 80)) if typed else ""
    return _(
        "Come back for a check by {by} or within {km} km, whichever is first.{agreed}",
        by=by,
        km=km,
        agreed=agreed,
    )


def _signed(subject: Subject) -> tuple[SheetBlock, ...]:
    rows: dict[tuple[str, str], str] = {}  # the last signature of each person and meaning
    for at in subject.timeline.of(Signed):
        assert isinstance(at.event, Signed)
        who = plain_short(subject.person(at.event.person), 44, note=False)
        meaning = MEANING.get(at.event.meaning, at.event.meaning)
        if at.event.meaning in ("checked", "released") and at.event.who == "same":
            meaning += _(" (did the work as well)")
        rows.pop((who, meaning), None)
        rows[(who, meaning)] = f"{at.when.day()} {at.when.clock()}"
    said = [f"{who}: {meaning}, {when}" for (who, meaning), when in rows.items()]
    more = len(said) - MAX_SIGNATURES
    if more > 0:
        said = [*said[:MAX_SIGNATURES], _("{more} more on the technical pages", more=more)]
    alone = [
        at.event.state.said
        for at in subject.timeline.events
        if isinstance(at.event, Seen) and at.event.fact == "crew"
    ]
    if alone and "alone" in alone[-1]:
        said.append(_("The work was done by one person alone."))
    waived = len(subject.timeline.of(WaiverUsed))
    if waived:
        said.append(
            _("Checks set aside with a reason: {waived}; see the technical pages.", waived=waived)
        )
    return (Points(tuple(said)) if said else Paragraph(_("Nobody has signed yet."), "missing"),)


def _check(subject: Subject) -> tuple[SheetBlock, ...]:
    head = groups(subject.record.head_hash, 4, 8)
    key = plain_text(subject.record.seal_key, 40)
    sealed = _(" Sealed by the workshop with its key {key}.", key=key) if key else ""
    return (
        Paragraph(
            _(
                "Record check: {head}  ({line_count} lines). {hash_note}{sealed}",
                head=head,
                line_count=subject.record.line_count,
                hash_note=HASH_NOTE,
                sealed=sealed,
            ),
            "small",
        ),
        Paragraph(f"{GLOSSARY} {DEFERENCE}", "small"),
    )
