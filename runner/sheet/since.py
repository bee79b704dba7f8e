"""What jobs beside a clean judge: what changed since a kept set, and what a filter retains."""

from dataclasses import replace
from typing import Any, Literal, cast

from steplatch.safety.catalogue import _

from ..assess.told import two_days
from ..core.reading_set import ReadingSet
from . import measured
from .blocks import Paragraph, Points, SheetBlock, TableBlock, TableCell, VerdictBlock
from .numbers import with_spread
from .result import sentence
from .subject import Subject
from .texts import CONDITION_SHORT, MISSING, SAME_FLOW
from .typed import plain_text

PARTS = (
    (_("Because"), "reasons"),
    (_("Look at"), "look_at"),
    (_("Corrected by the sum"), "corrected"),
    (_("Advice"), "advice"),
)


def judged_box(subject: Subject) -> VerdictBlock | None:
    """The result of such a job, for the customer's page; None where it judged none."""
    if (change := subject.change) is not None:
        said = tuple(sentence(str(text)) for text in change["reasons"])
        kind = cast("Literal['good', 'between', 'bad', 'none']", change["kind"])
        return VerdictBlock(sentence(change["title"]).rstrip("."), said, kind)
    if (retained := subject.retained) is not None:
        given = retained["state"] == "given"
        lines = [sentence(retained["title"]), *retained["said"]]
        title = _("Retained volume") if given else _("No retained volume")
        return VerdictBlock(title, tuple(lines), "good" if given else "none")
    return None


def then_and_today(subject: Subject, change: dict[str, Any]) -> tuple[SheetBlock, ...]:
    """Both days beside each other, and whether they were read alike."""
    kept: dict[str, ReadingSet] = {
        s.condition: s for s in (ReadingSet.from_json(v) for v in subject.every_value("kept"))
    }
    sets = measured.read_sets(subject.timeline)
    today: dict[str, ReadingSet] = {
        c: replace(s, phase="after") for (phase, c), s in sets.items() if phase == "before"
    }
    rows = [
        (
            TableCell(_("At the same flow"), strong=True),
            *(
                TableCell(with_spread(one["at_reference_mbar"], one["u_at_reference_mbar"]))
                if one
                else TableCell(MISSING, missing=True)
                for one in (change.get("before"), change.get("after"))
            ),
        )
    ]
    for condition in measured.ORDER:
        both = (measured.set_words(days.get(condition)) for days in (kept, today))
        rows.append(
            (
                TableCell(
                    _("Shown, {condition_short}", condition_short=CONDITION_SHORT[condition])
                ),
                *both,
            )
        )
    alike: dict[tuple[str, str], ReadingSet] = {("before", c): s for c, s in kept.items()}
    alike |= {("after", c): s for c, s in today.items()}
    return (
        TableBlock(
            SAME_FLOW,
            ("", _("Kept set"), _("Today")),
            tuple(rows),
            (0.3, 0.35, 0.35),
        ),
        Paragraph(two_days(measured.conditions_words(alike)), "small"),
    )


def technical(subject: Subject) -> tuple[SheetBlock, ...] | None:
    """The judgement with its reasons, for the workshop; None where there is none."""
    if (change := subject.change) is not None:
        blocks: list[SheetBlock] = [
            Paragraph(_("Since then: {change}", change=change["title"]), "bold")
        ]
        for heading, key in PARTS:
            if texts := tuple(plain_text(text) for text in change[key]):
                blocks += [Paragraph(f"{heading}:", "bold"), Points(texts)]
        return tuple(blocks)
    if (retained := subject.retained) is not None:
        said = (retained["title"], *retained["said"])
        blocks = [Points(tuple(sentence(text) for text in said))]
        if retained["state"] == "given":
            blocks.append(Paragraph(_("For the vehicle's file:"), "bold"))
            blocks += _file_lines(subject, retained)
        return tuple(blocks)
    return None


def _file_lines(subject: Subject, retained: dict[str, Any]) -> tuple[Paragraph, ...]:
    """The claim as it stands in a vehicle's file, with its basis and who stands for it."""
    approvers = [s for s in subject.record.job.log.signatures if s.step == "approve"]
    who = subject.person(approvers[-1].person) if approvers else _("nobody yet")
    last = subject.timeline.last
    day = last.day() if last else ""
    basis = _(
        "smallest of {retained} pours, they differ by {retained_2:.0f} mL; job {job_id}, {day}",
        retained=retained["pours"],
        retained_2=retained["spread_ml"],
        job_id=subject.record.job_id,
        day=day,
    )
    lines = (
        "retained:",
        f"volume: {retained['retained_ml']:.0f} mL",
        f"basis: {basis}",
        f"approver: {who}",
    )
    return tuple(Paragraph(plain_text(line, 200)) for line in lines)
