"""The box that a customer reads first: what came of the job, in plain sentences."""

from typing import Any, Literal, cast

from steplatch.safety.bay import Act, Tag, Triage, Trip
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Granted, Tripped

from .blocks import VerdictBlock
from .fluid import sprays
from .numbers import with_spread
from .subject import Subject
from .texts import (
    INCIDENT,
    NO_VERDICT,
    NOT_UNTIL_DRY,
    NOT_UNTIL_SAID,
    PLAIN_REASON,
    SAID_BY_OTHERS,
    VERDICT_KIND,
)
from .typed import plain_text

SHORT = 180
"""Longest text of one answer on the customer's page; the whole text stands in the listing."""
_PROMISES_BEGIN = _("We cannot remove ash")
_AGAINST = (Triage.DONT, Triage.NOTHING)


def plain_short(text: str, limit: int = SHORT, note: bool = True) -> str:
    """A text that is plain already, cut for this page, with a note of where the rest is."""
    if len(text) <= limit:
        return text
    end = "\u2069" if "\u2068" in text[:limit] else ""
    return f"{text[: limit - 1]}…{end}" + (_(" (whole text: listing)") if note else "")


def sentence(text: str) -> str:
    """A text as a sentence: a capital in front, a stop behind."""
    text = text.strip()
    text = text[:1].upper() + text[1:]
    return text if not text or text.endswith((".", "!", "?")) else f"{text}."


def result_box(subject: Subject) -> VerdictBlock:
    """What came of the job: the verdict with how sure it is, or why there is none."""
    verdict = subject.verdict
    if verdict is None or not_cleaned(subject):
        title, sentences = _without_verdict(subject)
        return VerdictBlock(title, sentences, "bad" if must_not_start(subject) else "none")
    main, _other = said_parts(verdict)
    if verdict.get("gain") is None or len(main) == 1:
        main = [*main, *(sentence(str(r)) for r in (verdict.get("reasons") or ())[:1])]
    if not any("95 %" in said for said in main):
        main += _how_sure(verdict)
    kind = cast(
        "Literal['good', 'between', 'bad', 'none']",
        VERDICT_KIND.get(str(verdict.get("id")), "none"),
    )
    title = str(verdict.get("title") or NO_VERDICT).partition(":")[0]
    return VerdictBlock(title[:1].upper() + title[1:], tuple(main), kind)


def _how_sure(verdict: dict[str, Any]) -> list[str]:
    """Both pressures with their ranges, where they may be compared and the verdict names none."""
    one, two = verdict.get("before"), verdict.get("after")
    alike = (verdict.get("facts") or {}).get("comparable") in ("yes", "corrected")
    if not one or not two or not alike:
        return []
    before, after = (
        with_spread(it["at_reference_mbar"], it["u_at_reference_mbar"]) for it in (one, two)
    )
    return [
        _(
            "For the same flow it needed {before} when you came and {after} after the work; "
            "we are 95 % sure that each lies in its range.",
            before=before,
            after=after,
        )
    ]


def said_parts(verdict: dict[str, Any]) -> tuple[list[str], list[str]]:
    """What a verdict says to the customer: the verdict itself, and what it does not promise."""
    said = [str(s) for s in verdict.get("customer") or ()]
    split = next(
        (i for i, s in enumerate(said) if s.startswith(_PROMISES_BEGIN)), min(2, len(said))
    )
    return said[:split], said[split:]


def not_cleaned(subject: Subject) -> bool:
    """Whether the findings kept the fluid out: then there was no work that could be judged."""
    return not subject.timeline.records("spray") and subject.record.job.bay.triage in _AGAINST


def reasons_against(subject: Subject) -> tuple[tuple[str, str], ...]:
    """Why no clean was done, the plainest first: the reason, and what would have to come first.

    A reason that only says that others stand beside it gives way to them.
    """
    found = [
        (str(r.get("id")), str(r.get("text", "")), str(r.get("until") or ""))
        for r in (subject.triage() or {}).get("reasons") or ()
        if isinstance(r, dict) and r.get("effect") == "dont"
    ]
    telling = [one for one in found if one[0] not in SAID_BY_OTHERS] or found
    return tuple(
        (sentence(plain_short(plain_text(PLAIN_REASON.get(name, text)))), plain_text(until, 120))
        for name, text, until in telling
    )


def must_not_start(subject: Subject) -> bool:
    """Whether a job was given up with fluid in, with nobody knowing how much, or with a notice."""
    bay = subject.record.job.bay
    return subject.record.ended == "abandoned" and (bay.tag is Tag.DO_NOT_START or bay.wet != 0)


def fluid_words(subject: Subject) -> str:
    """What is known of fluid where no spray was counted: none was let through, or nobody knows."""
    let_through = any(
        isinstance(at.event, Granted) and at.event.act in (Act.SPRAY_OFF, Act.SPRAY_RUNNING)
        for at in subject.timeline.events
    )
    if not let_through or subject.record.job.bay.wet == 0:
        return _("No fluid was used.")
    return _("No fluid was counted; whether any went in is not known.")


def _without_verdict(subject: Subject) -> tuple[str, tuple[str, ...]]:
    bay = subject.record.job.bay
    trips = {at.event.trip for at in subject.timeline.events if isinstance(at.event, Tripped)}
    if subject.record.ended == "abandoned":
        return _("Stopped before the end"), _given_up(subject, trips)
    if bay.triage is Triage.DONT:
        because = [
            _("Main reason: {text}", text=text) for text, _other in reasons_against(subject)[:1]
        ]
        said = _(
            "The findings speak against a clean. {fluid_words}", fluid_words=fluid_words(subject)
        )
        return _("Not cleaned"), (said, *because)
    if bay.triage is Triage.NOTHING:
        why = _("There was nothing to clean: the filter flows as expected already.")
        return _("Nothing to clean"), (
            why,
            _("{fluid_words} The lamp has another cause.", fluid_words=fluid_words(subject)),
        )
    if subject.record.ended == "finished" and subject.verdict is None and not sprays(subject):
        return _only_looked(subject)
    if subject.record.ended:
        return NO_VERDICT, (_("The job ended before anything could be judged."),)
    if trips & bay.trips:
        worst = next(t for t in Trip if t in trips & bay.trips)
        said = _(
            "The work stands still: {incident}. Nothing is judged yet.", incident=INCIDENT[worst]
        )
    else:
        said = _("The job is not finished; nothing is judged yet.")
    return _("Not finished"), (said,)


def _only_looked(subject: Subject) -> tuple[str, tuple[str, ...]]:
    """Of a job that judges no clean: what was weighed, or that it was looked at."""
    said = {
        Triage.GO: (_("Measured"), _("Nothing was found that speaks against a clean.")),
        Triage.WARN: (
            _("Measured"),
            _("A clean can be tried, with a warning; see what comes next."),
        ),
    }
    looked = (_("Looked at"), _("What was found stands below; nothing was to be judged."))
    title, first = said.get(subject.record.job.bay.triage, looked)
    finding = subject.answers.latest("finding")
    if finding is not None:
        first = sentence(plain_text(finding.words))
    return title, (f"{first} {fluid_words(subject)}",)


def _given_up(subject: Subject, trips: set[Trip]) -> tuple[str, ...]:
    happened = (
        _(" It happened: {incident}.", incident=INCIDENT[next(t for t in Trip if t in trips)])
        if trips
        else ""
    )
    said = [
        _("The work was given up before its end; nothing was judged.{happened}", happened=happened)
    ]
    if must_not_start(subject):
        said.insert(0, NOT_UNTIL_DRY if subject.record.job.bay.wet != 0 else NOT_UNTIL_SAID)
    reason = subject.answers.latest("abandon_reason")
    if reason is not None:
        said.append(
            _("Reason written down: “{plain_short}”", plain_short=plain_short(reason.words))
        )
    if not sprays(subject):
        said.append(fluid_words(subject))
    return tuple(said)
