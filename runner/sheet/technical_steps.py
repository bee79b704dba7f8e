"""Every step of a job with its answer, its two times and who answered it."""

from steplatch.safety.bay import FACTS
from steplatch.safety.catalogue import _
from steplatch.safety.occurrences import Happening

from ..core.events import Moved
from ..core.procedure import Procedure
from ..core.steps import (
    ActStep,
    AskStep,
    EndStep,
    LookStep,
    ReportStep,
    ResetStep,
    SignStep,
    SprayStep,
)
from .answers import KEPT_APART
from .blocks import Paragraph, SheetBlock, TableBlock, TableCell
from .subject import Subject
from .timeline import Worked
from .typed import plain_text

_STEP_WIDTHS = (0.36, 0.26, 0.14, 0.12, 0.12)
_STEP_HEADS = (_("Step"), _("Answer"), _("By"), _("Begun"), _("Done"))


def every_step(subject: Subject) -> tuple[SheetBlock, ...]:
    """The steps of every procedure that the job went through, stage by stage."""
    worked: dict[tuple[str, str], list[Worked]] = {}
    for one in subject.timeline.worked:
        worked.setdefault((one.procedure, one.step), []).append(one)
    order = dict.fromkeys(
        at.event.procedure for at in subject.timeline.events if isinstance(at.event, Moved)
    )
    blocks: list[SheetBlock] = []
    for procedure_id in order:
        procedure = subject.record.procedures.get(procedure_id)
        if procedure is None:
            blocks.append(
                Paragraph(
                    _(
                        "The procedure {plain_text} is not at hand; its steps are named by id.",
                        plain_text=plain_text(procedure_id, 60),
                    ),
                    "missing",
                )
            )
            mine = [w for w in subject.timeline.worked if w.procedure == procedure_id]
            blocks.append(_stage_table(subject, _("Steps"), [(w.step, [w]) for w in mine]))
            continue
        blocks.append(
            Paragraph(
                _(
                    "{plain_text} ({id}, revision {revision})",
                    plain_text=plain_text(procedure.title),
                    id=procedure.id,
                    revision=procedure.revision,
                ),
                "bold",
            )
        )
        blocks += _stages(subject, procedure, worked)
    if not blocks:
        blocks.append(Paragraph(_("No step was worked."), "missing"))
    return tuple(blocks)


def _stages(
    subject: Subject, procedure: Procedure, worked: dict[tuple[str, str], list[Worked]]
) -> list[SheetBlock]:
    out: list[SheetBlock] = []
    for number, stage in enumerate(procedure.stages, start=1):
        rows = [(step.id, worked.get((procedure.id, step.id), [])) for step in stage.steps]
        title = f"{number}. {plain_text(stage.title)}"
        if any(mine for _, mine in rows):
            out.append(_stage_table(subject, title, rows, procedure))
        else:
            out.append(
                Paragraph(_("{title}: no step of this stage was worked.", title=title), "missing")
            )
    return out


def _stage_table(
    subject: Subject,
    title: str,
    rows: list[tuple[str, list[Worked]]],
    procedure: Procedure | None = None,
) -> TableBlock:
    out: list[tuple[TableCell, ...]] = []
    for step_id, mine in rows:
        words = subject.step_words(procedure.id if procedure else "", step_id)
        if not mine:
            why = _("did not apply") if subject.record.ended == "finished" else _("not worked")
            missing = TableCell("", missing=True)
            out.append((TableCell(words), TableCell(why, missing=True), missing, missing, missing))
        for one in mine:
            out.append(
                (
                    TableCell(words),
                    TableCell(
                        _answer_words(subject, procedure, one),
                        missing=one.how == "left",
                    ),
                    TableCell(
                        plain_text(one.by, 60) if one.by else "signed" if one.how == "done" else ""
                    ),
                    TableCell(subject.timeline.show(one.begun)),
                    TableCell(subject.timeline.show(one.ended)),
                )
            )
    return TableBlock(title, _STEP_HEADS, tuple(out), _STEP_WIDTHS)


def _answer_words(subject: Subject, procedure: Procedure | None, one: Worked) -> str:
    """The answer in the words that the person chose it by."""
    if one.how == "left":
        return _("left before it was done")
    answer = plain_text(one.answer)
    if one.how == "again":
        return _("{answer} (to be worked again)", answer=answer)
    try:
        step = procedure.step(one.step) if procedure else None
    except KeyError:
        step = None
    match step:
        case LookStep():
            states = {s.value: s.said for s in FACTS[step.fact]}
            return states.get(one.answer, answer)
        case AskStep(personal=True):
            return KEPT_APART
        case AskStep():
            return next((o.say for o in step.options if o.value == one.answer), answer)
        case ActStep() | SprayStep() | EndStep() | ReportStep():
            name, _other, rest = one.answer.partition(" ")
            said = next((h.said for h in Happening if h.value == name), "")
            return f"{said} {plain_text(rest)}".strip() if said else answer
        case SignStep() | ResetStep():
            return _("signed by {person}", person=subject.person(one.answer))
        case _:
            return answer
