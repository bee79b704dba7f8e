"""The agreement page: handed over before fluid, from the job as it stood then."""

from typing import Any

from steplatch.safety.bay import Agreed
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Seen

from ..assess.inputs import REFERENCE_TEXT
from ..core.events import Signed
from ..core.sign_off import NOT_SIGNED
from . import measured
from .answers import JobAnswers
from .blocks import (
    Pairs,
    Paragraph,
    Points,
    Section,
    SheetBlock,
    SheetPart,
    SignLine,
    TableBlock,
    TableCell,
)
from .customer_part import identity
from .numbers import number, with_spread
from .result import plain_short, sentence
from .subject import Subject
from .texts import (
    CAN_DO_INSTEAD,
    CANNOT_DO,
    CONDITION,
    DATA_NOTICE,
    DEFERENCE,
    FIRST_YES,
    FOR_WORKSHOP,
    HOW_SIGNED,
    JUDGED,
    NO_DISPLAY,
    NOT_RECORDED,
    RISKS,
    SECOND_YES,
    STOPPED_PAYS,
    STOPS_IF,
)
from .timeline import At
from .typed import plain_text

HOW_AGREED = {Agreed.MEASURE: "measure_agreed_how", Agreed.CLEAN: "agreed_how"}
"""Under which name a procedure asks how each yes was given."""


def agreed_seq(subject: Subject) -> int | None:
    """The journal line of the last second yes before any fluid, None while there is none."""
    sprayed = [at.seq for at in subject.timeline.records("spray")]
    found = [
        at.seq
        for at in subject.timeline.events
        if isinstance(at.event, Seen)
        and at.event.state is Agreed.CLEAN
        and (not sprayed or at.seq < sprayed[0])
    ]
    return found[-1] if found else None


def agreement_part(subject: Subject) -> SheetPart:
    """The page as it stood at the second yes; as it stands now while that is not given."""
    until = agreed_seq(subject)
    answers = JobAnswers(subject.record, subject.timeline, until)
    triage = subject.triage(until)
    return SheetPart(
        "agreement",
        _("Agreement before any fluid"),
        _(
            "What was measured until then, and what was agreed. Nothing on this page comes from "
            "later in the job."
        )
        if until is not None
        else _("The second yes was never given; this page shows the job as it ended.")
        if subject.record.ended
        else _("The second yes is not given yet; this page shows the job as it stands."),
        (
            Section("a-who", _("Vehicle and customer"), (identity(subject),)),
            Section("a-measured", _("What was measured"), _measured(subject, until, triage)),
            Section("a-found", _("What that means"), _found(answers, triage)),
            Section("a-instead", _("What else could be done"), _instead(answers), half=True),
            Section("a-cannot", _("What this work cannot do"), (Points(CANNOT_DO),), half=True),
            Section("a-risks", _("Risks, and when we stop"), (*_warning(answers), *_risks())),
            Section(
                "a-yes",
                _("Price, and your two answers"),
                (*_price(answers), *_yeses(subject)),
            ),
        ),
    )


def _measured(
    subject: Subject, until: int | None, triage: dict[str, Any] | None
) -> tuple[SheetBlock, ...]:
    sets = measured.read_sets(subject.timeline, until)
    blocks: list[SheetBlock] = [
        Pairs(
            tuple(
                (CONDITION[c].capitalize(), measured.set_words(sets.get(("before", c))))
                for c in measured.ORDER
            )
        )
    ]
    before = (triage or {}).get("before")
    clean = (triage or {}).get("clean") or {}
    high = number(clean.get("today_high_mbar"))
    if before and high is not None:
        blocks.append(
            Paragraph(
                _(
                    "At the same flow that is {with_spread} ({no_display}: "
                    "{reference_text}); a used filter of this size is expected to need up to "
                    "{high:.0f} mbar (source: {clean}).",
                    with_spread=with_spread(
                        before["at_reference_mbar"], before["u_at_reference_mbar"]
                    ),
                    no_display=NO_DISPLAY,
                    reference_text=REFERENCE_TEXT,
                    high=high,
                    clean=clean.get("source", NOT_RECORDED),
                )
            )
        )
    return tuple(blocks)


def _found(answers: JobAnswers, triage: dict[str, Any] | None) -> tuple[SheetBlock, ...]:
    rows: list[tuple[str, TableCell]] = [
        (
            _("Judgement before the work"),
            TableCell(_judged(triage)) if triage else TableCell(NOT_RECORDED, missing=True),
        ),
        (_("What filled the filter"), _short(answers.cell("root_cause_text", "root_cause"))),
        (_("What became of that"), answers.cell("root_cause")),
    ]
    blocks: list[SheetBlock] = [Pairs(tuple(rows))]
    if triage:
        said = []
        for reason in triage.get("reasons") or ():
            if isinstance(reason, dict):
                if reason.get("id") in FOR_WORKSHOP:
                    continue
                until = (
                    _(" Not until {reason}.", reason=reason["until"]) if reason.get("until") else ""
                )
                said.append(sentence(plain_text(f"{reason.get('text', '')}{until}")))
            else:
                said.append(plain_text(reason))
        expected = triage.get("expected") or {}
        if expected.get("text"):
            said.append(plain_text(expected["text"]))
        ash = triage.get("ash") or {}
        if ash.get("text") and (triage.get("facts") or {}).get("ash_by_distance") == "high":
            said.append(plain_text(ash["text"]))
        if said:
            blocks.append(Points(tuple(said)))
    return tuple(blocks)


def _short(cell: TableCell) -> TableCell:
    return TableCell(plain_short(cell.text), cell.missing)


def _instead(answers: JobAnswers) -> tuple[SheetBlock, ...]:
    typed = answers.latest("alternatives")
    own = (_("Offered here: {plain_short}", plain_short=plain_short(typed.words)),) if typed else ()
    return (Points((*CAN_DO_INSTEAD, *own)),)


def _warning(answers: JobAnswers) -> tuple[SheetBlock, ...]:
    typed = answers.latest("warning")
    return (
        (
            Paragraph(
                _("Warning given: {plain_short}", plain_short=plain_short(typed.words)), "bold"
            ),
        )
        if typed
        else ()
    )


def _judged(triage: dict[str, Any]) -> str:
    key = str(triage.get("decision") or triage.get("state") or "")
    return JUDGED.get(key, plain_text(triage.get("title") or key or NOT_RECORDED))


def _risks() -> tuple[SheetBlock, ...]:
    return (
        Points(RISKS),
        Paragraph(_("We stop when ") + _("; when ").join(STOPS_IF) + "."),
        Paragraph(STOPPED_PAYS),
    )


def _price(answers: JobAnswers) -> tuple[SheetBlock, ...]:
    price = answers.latest("price")
    words = (
        TableCell(plain_short(price.words), strong=True) if price else TableCell("________________")
    )
    return (Pairs(((_("Price told"), words),)),)


def _yeses(subject: Subject) -> tuple[SheetBlock, ...]:
    rows = []
    for state, words in ((Agreed.MEASURE, FIRST_YES), (Agreed.CLEAN, SECOND_YES)):
        given = _given(subject, state)
        if given is None:
            rows.append(
                (
                    TableCell(words),
                    TableCell(_("not given"), missing=True),
                    TableCell(""),
                    TableCell(""),
                )
            )
            continue
        how = subject.answers.latest(HOW_AGREED[state])
        parts = (
            plain_short(how.words, 90) if how else "",
            _signature(subject, given, state),
        )
        said = "; ".join(part for part in parts if part)
        rows.append(
            (
                TableCell(words),
                TableCell(given.when.full()),
                TableCell(said or NOT_RECORDED, missing=not said),
                TableCell(plain_short(subject.person(given.actor), 44, note=False)),
            )
        )
    refused = _given(subject, Agreed.NO)
    blocks: list[SheetBlock] = [
        Pairs(((_("Handed over before fluid"), _handed_over(subject)),)),
        TableBlock(
            _("Given"),
            (_("Answer"), _("When"), _("How"), _("Taken down by")),
            tuple(rows),
            (0.32, 0.24, 0.22, 0.22),
        ),
    ]
    if refused is not None:
        blocks.append(Paragraph(_("No was said at {full}.", full=refused.when.full()), "bold"))
    blocks += [
        SignLine(_("Customer")),
        SignLine(_("Workshop")),
        Paragraph(f"{DATA_NOTICE} {DEFERENCE}", "small"),
    ]
    return tuple(blocks)


def _handed_over(subject: Subject) -> TableCell:
    """When the customer signed what this page says, which has to be before any fluid."""
    sprayed = [at.seq for at in subject.timeline.records("spray")]
    for at in reversed(subject.timeline.of(Signed)):
        assert isinstance(at.event, Signed)
        early = not sprayed or at.seq < sprayed[0]
        if at.event.meaning == "agreed" and at.event.person == "customer" and early:
            return TableCell(
                _(
                    "{given_how} {full}; no fluid had gone in by then",
                    given_how=_given_how(at.event),
                    full=at.when.full(),
                )
            )
    return TableCell(_("no signature before fluid is in the record"), missing=True)


def _given(subject: Subject, state: Agreed) -> At | None:
    found = [
        at
        for at in subject.timeline.events
        if isinstance(at.event, Seen) and at.event.state is state
    ]
    return found[-1] if found else None


def _given_how(signed: Signed) -> str:
    remote = NOT_SIGNED in signed.exceptions
    return f"{HOW_SIGNED[signed.how]}," if remote else _("signed by the customer")


def _signature(subject: Subject, given: At, state: Agreed) -> str:
    """Who signed as agreed after this answer and before the customer gave another."""
    other = [
        at.seq
        for at in subject.timeline.events
        if isinstance(at.event, Seen) and isinstance(at.event.state, Agreed)
        and at.event.state is not state and at.seq > given.seq
    ]  # fmt: skip
    until = min(other, default=given.seq + len(subject.record.lines))
    for at in subject.timeline.of(Signed):
        assert isinstance(at.event, Signed)
        if at.event.meaning == "agreed" and given.seq <= at.seq < until:
            who = plain_short(subject.person(at.event.person), 44, note=False)
            if NOT_SIGNED in at.event.exceptions:
                return f"{HOW_SIGNED[at.event.how]}: {who}, {at.when.clock()}"
            return _("signed by {who}, {clock}", who=who, clock=at.when.clock())
    return ""
