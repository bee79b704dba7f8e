"""Technical pages: fluid, drying, limits, cautions, signatures, versions."""

import math
from typing import Any

from steplatch.safety.acts import SPRAYS
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Granted
from steplatch.safety.registers.caution import WORDS
from steplatch.safety.registers.cautions import CAUTIONS

from ..assess import told
from ..core.events import Begun, LimitsSet, Moved, Opened, Recorded, Signed
from ..core.gun_entry import DOUBTED
from ..core.sign_off import EXCEPTIONS
from . import pictured
from .blocks import Pairs, Paragraph, Points, SheetBlock, TableBlock, TableCell, Warned
from .fluid import dose_table, gun_table, sprays
from .numbers import groups, ml, number
from .subject import Subject
from .texts import HOW_SIGNED, MEANING, NOT_RECORDED, SIGNAL_WORDS
from .typed import plain_lines, plain_text


def fluid(subject: Subject) -> tuple[SheetBlock, ...]:
    """Gun, dose log against limit, and the ledger as it stands."""
    if not sprays(subject):
        blocks: tuple[SheetBlock, ...] = (Paragraph(_("No fluid was sprayed.")),)
    else:
        blocks = (dose_table(subject),)
    if subject.timeline.records("gun") or subject.timeline.records(DOUBTED):
        blocks = (gun_table(subject), *blocks)
    wet = subject.record.job.bay.wet
    return (
        *blocks,
        Paragraph(_("Ledger at the end of this record: {ml} may still be liquid.", ml=ml(wet))
             if wet is not None
             else _("Ledger at the end of this record: not known."),
             "plain" if wet is not None else "missing"),
    )  # fmt: skip


def drying(subject: Subject) -> tuple[SheetBlock, ...]:
    """The pressure noted while drying, and what the fit says of its level."""
    blocks: list[SheetBlock] = [pictured.trend_picture(subject.timeline)]
    plateau = subject.timeline.latest("plateau")
    if plateau is None:
        blocks.append(Paragraph(_("No level was judged."), "missing"))
    else:
        text, why = told.trend(plateau), told.trend_why(plateau)
        more = f" ({why})" if why and why not in text else ""
        blocks.append(Paragraph(_("Judged: {text}{more}.", text=text, more=more)))
    return tuple(blocks)


def noted(subject: Subject) -> tuple[SheetBlock, ...]:
    """Every pressure noted while drying."""
    rows = tuple(
        (
            TableCell(subject.timeline.show(at.when)),
            TableCell(plain_text(at.event.value.get("typed", ""), 40)),
            TableCell(f"{float(at.event.value['pa']) / 100:.1f} mbar"),
            TableCell(plain_text(at.actor, 60)),
        )
        for at in subject.timeline.records("trend")
        if isinstance(at.event, Recorded)
    )
    if not rows:
        return (Paragraph(_("None was noted."), "missing"),)
    heads = (_("When"), _("As typed"), _("Pressure"), _("By"))
    return (TableBlock(_("As typed"), heads, rows, (0.25, 0.25, 0.25, 0.25)),)


def limits(subject: Subject) -> tuple[SheetBlock, ...]:
    """Every worked limit with each line of its working, its source, where it holds."""
    working = subject.record.working
    if not working or not subject.timeline.of(LimitsSet):
        return (Paragraph(_("The limits were never worked in this job."), "missing"),)
    blocks: list[SheetBlock] = []
    rows = []
    for key, one in working.items():
        if isinstance(one, dict) and "lines" in one:
            rows.append(_limit_row(one))
        elif key == "no_extended_because" and one:
            blocks.append(
                Paragraph(
                    _("No extended engine-off dose: {plain_text}.", plain_text=plain_text(one))
                )
            )
    table = TableBlock(
        _("Worked limits"),
        (_("Limit"), _("Value"), _("Working, line by line"), _("Source")),
        tuple(rows),
        (0.16, 0.16, 0.43, 0.25),
    )
    inputs = [at.event.inputs for at in subject.timeline.of(LimitsSet)
              if isinstance(at.event, LimitsSet)]  # fmt: skip
    if inputs and inputs[-1]:
        said = "; ".join(f"{plain_text(k, 60)} {groups(v[:16])}" for k, v in inputs[-1].items())
        blocks.append(
            Paragraph(_("Worked from inputs with SHA-256 beginning: {said}.", said=said), "small")
        )
    return (table, *blocks)


def _limit_row(one: dict[str, Any]) -> tuple[TableCell, ...]:
    bound = plain_text(one.get("bound", ""), 20)
    value = f"{bound} {one.get('whole')} {plain_text(one.get('whole_unit', ''), 20)}"
    lines = [plain_text(line, 400) for line in one.get("lines") or ()]
    lines += [
        _("assumed: {assumed}", assumed=plain_text(a, 300)) for a in one.get("assumptions") or ()
    ]
    source = plain_text(one.get("source") or NOT_RECORDED, 300)
    validity = plain_text(one.get("validity") or "", 300)
    return (
        TableCell(plain_text(one.get("name", ""), 80), strong=True),
        TableCell(value),
        TableCell("\n".join(lines)),
        TableCell(
            _("{source}. Holds: {validity}", source=source, validity=validity)
            if validity
            else source
        ),
    )


def cautions(subject: Subject) -> tuple[SheetBlock, ...]:
    """The cautions of every step that was begun, gravest first; those that come with fluid from the
    first spray on."""
    shown: dict[str, None] = {}
    from_seq = next(
        (a.seq for a in subject.timeline.of(Granted) if getattr(a.event, "act", None) in SPRAYS),
        None,
    )
    for at in subject.timeline.of(Begun):
        procedure = subject.record.procedures.get(at.procedure)
        if procedure is None or not isinstance(at.event, Begun):
            continue
        try:
            step = procedure.step(at.event.step)
            shown |= dict.fromkeys(step.shown_cautions(from_seq is not None and at.seq >= from_seq))
        except KeyError:
            continue
    found = sorted(
        (CAUTIONS[c] for c in shown if c in CAUTIONS), key=lambda c: (WORDS.index(c.word), c.id)
    )
    if not found:
        return (Paragraph(_("No caution was shown in this job.")),)
    return (
        *(Warned(c.word, c.hazard, c.consequence, c.avoid, c.source) for c in found),
        Paragraph(SIGNAL_WORDS, "small"),
    )


def signatures(subject: Subject) -> tuple[SheetBlock, ...]:
    """Every signature: who, role, meaning, for which step, when, same or other person."""
    rows = []
    for at in subject.timeline.of(Signed):
        event = at.event
        assert isinstance(event, Signed)
        rows.append(
            (
                TableCell(subject.person(event.person), strong=True),
                TableCell(plain_text(event.role, 40)),
                TableCell(MEANING.get(event.meaning, plain_text(event.meaning, 40))),
                TableCell(subject.step_words(at.procedure, event.step)),
                TableCell(
                    "customer"
                    if event.role == "customer"
                    else _("another person")
                    if event.who == "other"
                    else _("the doer")
                ),
                TableCell("; ".join((HOW_SIGNED.get(event.how, plain_text(event.how, 30)),
                                *(EXCEPTIONS.get(odd) or plain_text(odd, 80)
                                  for odd in event.exceptions)))),
                TableCell(subject.timeline.show(at.when)),
            )
        )  # fmt: skip
    if not rows:
        return (Paragraph(_("Nobody has signed."), "missing"),)
    return (
        TableBlock(
            _("Every signature of this job"),
            (
                _("Who"),
                _("Role"),
                _("Meaning"),
                _("For"),
                _("Doer or another"),
                _("How"),
                _("When"),
            ),
            tuple(rows),
            (0.17, 0.11, 0.11, 0.23, 0.1, 0.16, 0.12),
        ),
    )


def versions(subject: Subject) -> tuple[SheetBlock, ...]:
    """Procedures, program, rules and files by version and hash; the head; the audit."""
    record = subject.record
    ids = dict.fromkeys(
        at.event.procedure for at in subject.timeline.of(Moved) if isinstance(at.event, Moved)
    )
    rows: list[tuple[str, TableCell]] = [
        (_("Program"), TableCell(plain_text(record.program, 120) or NOT_RECORDED)),
        (_("Rules, SHA-256"), TableCell(groups(record.rules_sha256))),
        (_("Judge, SHA-256"), TableCell(groups(record.judge_sha256))),
    ]
    for name in ids:
        procedure = record.procedures.get(name)
        if procedure is None:
            rows.append(
                (
                    _("Procedure {plain_text}", plain_text=plain_text(name, 60)),
                    TableCell(_("not at hand"), missing=True),
                )
            )
            continue
        rows.append(
            (
                _("Procedure {id}", id=procedure.id),
                TableCell(
                    _(
                        "revision {revision}, {date}; author {plain_text}; approver {plain_text_2}",
                        revision=procedure.revision,
                        date=procedure.date,
                        plain_text=plain_text(procedure.author, 120),
                        plain_text_2=plain_text(procedure.approver, 120),
                    )
                ),
            )
        )
    files = [
        (plain_text(name, 60), plain_text(value, 80))
        for at in subject.timeline.of(Opened)
        if isinstance(at.event, Opened)
        for name, value in at.event.files.items()
    ]
    used = {f"procedure:{name}" for name in ids}
    rows += [
        (
            _("Text of {name}", name=" ".join((_(name.partition(":")[0]), *name.split(":")[1:]))),
            TableCell(groups(value)),
        )
        for name, value in files
        if name in used or not name.startswith("procedure:")
    ]
    beside = [
        f"{name.removeprefix('procedure:')} {groups(value[:16])}"
        for name, value in files
        if name.startswith("procedure:") and name not in used
    ]
    rows += [
        (_("Journal"), TableCell(_("{line_count} lines", line_count=record.line_count))),
        (_("Hash of the last line, SHA-256"), TableCell(groups(record.head_hash), strong=True)),
        (_("Seal"), TableCell(plain_lines(record.seal)) if record.seal
         else TableCell(_("not looked at for this sheet"), missing=True)),
        (_("Audit"), TableCell(plain_lines(record.audit)) if record.audit
         else TableCell(_("not run for this sheet"), missing=True)),
    ]  # fmt: skip
    said = (
        [_("Other procedures at hand, SHA-256 beginning: {beside}", beside="; ".join(beside))]
        if beside
        else []
    )
    return (Pairs(tuple(rows)), Points((*said, *_numbers(record.job.log.numbers))))


def _numbers(numbers: dict[str, str]) -> tuple[str, ...]:
    """The worked numbers as the interlocks used them, in SI."""
    said = []
    for name, value in sorted(numbers.items()):
        got = number(value)
        shown = plain_text(value, 40) if got is None or not math.isfinite(got) else f"{got:.6g}"
        said.append(f"{plain_text(name, 60)} = {shown}")
    return (_("Numbers as the checks used them: ") + "; ".join(said),) if said else ()


__all__ = ["cautions", "drying", "fluid", "limits", "signatures", "versions"]
