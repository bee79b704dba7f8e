"""The audit of a job: chain, seal, kept files, customers' data, and every decision made again.

What is proven and what is recorded meet here: each recorded command goes through ``decide`` once
more (``redecide``), and the outcome must be the one that was recorded. So a forged line with a
valid chain and an illegal act is found. A record of other rules than today's is no forgery: it is
graded as what it is.
"""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from enum import Enum
from typing import Any

from steplatch.safety.catalogue import _, spoken

from ..input.findings import BadFile
from ..record import (
    Anchor,
    Disk,
    JobFolder,
    JournalLine,
    RecordError,
    Verification,
    short_head,
)
from ..record.attachments import check_attachment
from ..record.keys import PublicKey
from ..record.ledger import Ledger
from ..record.line import SCHEMA
from ..record.seal import NO_SEAL, SealCheck, check_seal
from .beside import beside
from .bundle import Bundle
from .late import late_wrong
from .ledgers import LedgerCheck, compared
from .personal_audit import PersonalAudit
from .projection import BrokenJob, Journal
from .redecide import Difference, decide_again
from .store import Loaded, bundle_of, other_rules
from .vehicle_audit import audit_vehicle

_COMES_BACK = ("Interrupted", "Note")
"""The commands with which a program opens a job that was begun before."""


class AuditGrade(Enum):
    """What an audit comes to; each has its own exit code."""

    GOOD = 0
    OLDER = 6
    CANNOT = 12
    UNSEALED = 13
    UNKNOWN_KEY = 14
    UNLISTED = 15
    BESIDE = 16
    CHANGED = 5


WORST_FIRST = (
    AuditGrade.CHANGED, AuditGrade.CANNOT, AuditGrade.UNKNOWN_KEY, AuditGrade.UNLISTED,
    AuditGrade.BESIDE, AuditGrade.UNSEALED, AuditGrade.OLDER, AuditGrade.GOOD,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit found.

    ``wrong``: what no rules explain (roster, role, texts, envelope; a line of other rules that is
    decided otherwise where those cannot be why). ``differences``: every other line that is decided
    otherwise now. ``other_parts``: the parts of what decides that are others today
    than on some line. ``vehicle``: what was compared with the raw logs of links.
    ``undecidable``: why it cannot be decided again here; empty when it can.
    ``files``: which kept files are missing or changed. ``beside``: what lies in the folder and is
    no part of the record. ``ledger``: what the workshop's ledger says; None where none was asked.
    """

    chain: Verification
    lines: int
    differences: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    other_parts: tuple[str, ...] = ()
    undecidable: str = ""
    program: str = ""
    ended: str = ""
    practice: bool = False
    seal: SealCheck = NO_SEAL
    files: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    ledger: LedgerCheck | None = None
    vehicle: tuple[str, ...] = ()

    @property
    def intact(self) -> bool:
        """Chain, seal, texts and kept files are as they were written."""
        return self.chain.sound and self.seal.state != "broken" and not self.files

    @property
    def grade(self) -> AuditGrade:
        """The worst of what was found."""
        real = not self.practice
        ledger = self.ledger
        found = {
            AuditGrade.CHANGED: not self.intact
            or bool(self.wrong)
            or bool(ledger and ledger.wrong)
            or bool(self.differences and not self.other_parts and not self.undecidable),
            AuditGrade.CANNOT: bool(self.undecidable),
            AuditGrade.UNKNOWN_KEY: self.seal.state == "good" and self.seal.known_key is False,
            AuditGrade.UNLISTED: real and ledger is not None and not ledger.listed,
            AuditGrade.BESIDE: bool(self.beside) or bool(ledger and ledger.sheet),
            AuditGrade.UNSEALED: real and bool(self.ended) and self.seal.state == "none",
            AuditGrade.OLDER: bool(self.other_parts),
        }
        return next((grade for grade in WORST_FIRST if found.get(grade)), AuditGrade.GOOD)


def audit(
    folder: JobFolder,
    disk: Disk | None = None,
    loaded: Loaded | None = None,
    journal: Journal | None = None,
    known_keys: tuple[PublicKey, ...] | None = None,
    ledger: Ledger | None = None,
) -> Audit:
    """Check the chain, then decide every recorded command again and compare the outcomes.

    ``loaded`` is this folder as ``load`` gave it, ``journal`` its journal, where read already;
    ``known_keys`` are the workshop's public keys, without which a seal's key is not judged;
    ``ledger`` is that of the data folder that the job lies in.
    Raises BrokenJob when the texts that the job rests on are missing or changed.
    """
    if journal is None:
        journal = loaded.journal if loaded is not None else Journal.of(folder, disk)
    chain, lines = journal.chain, journal.lines
    seal = check_seal(folder, chain, known_keys)
    if not lines:
        return Audit(chain, chain.lines, seal=seal)
    program = lines[-1].envelope.header.program
    found = Audit(chain, len(lines), program=program, seal=seal, beside=beside(journal))
    forms = {line.envelope.schema for line in lines}
    if len(forms) > 1:
        return replace(found, wrong=("its lines have several forms, which no program writes",))
    if forms != {SCHEMA}:
        why = _(
            "it was recorded in form {forms}; this program decides form {schema} again",
            forms=min(forms),
            schema=SCHEMA,
        )
        return replace(found, undecidable=why)
    try:
        bundle = loaded.bundle if loaded is not None else bundle_of(folder, lines)
    except BadFile as bad:
        why = _("a text that it rests on does not load by the rules of today: {bad}", bad=bad)
        if "rules" in other_rules(lines[:1]):
            return replace(found, undecidable=why)
        return replace(found, wrong=(f"{why}; it was recorded under these very rules",))
    again = decide_again(bundle, lines)
    by_seq = {line.envelope.seq: line for line in lines}
    explained: list[str] = []
    others: list[str] = []
    for one in again.differences:
        (explained if _explained(one, by_seq[one.seq]) else others).append(str(one))
    stopped = again.stopped
    stops = stopped is not None and _explained(stopped, by_seq[stopped.seq])
    older = other_rules(lines)
    wrong = [_("{text}; no other rules explain it", text=text) for text in others] if older else []
    if stopped is not None and not stops:
        others.append(str(stopped))
    job, wired = again.job, audit_vehicle(folder, lines)
    told = None
    if ledger is not None and (ledger.of(folder.id) or not job.log.practice):
        told = compared(ledger, folder, lines, job.log.practice, seal)
    return replace(
        found,
        ledger=told,
        differences=tuple(explained if older else others),
        wrong=(*wrong, *_strange(bundle, lines), *wired.wrong),
        other_parts=older,
        undecidable=str(stopped) if stops else "",
        ended=job.core.ended,
        practice=job.log.practice,
        files=(
            *(
                missing
                for noted in job.log.every("attachment")
                if (missing := check_attachment(folder, noted)) is not None
            ),
            *late_wrong(folder, lines),
            *wired.files,
        ),
        vehicle=tuple(wired.said),
    )


def _explained(difference: Difference, line: JournalLine) -> bool:
    """Whether other rules than today's can be why: those that the line says decided it, and the
    judge only where it was asked."""
    others = other_rules([line])
    return "rules" in others or ("judge" in others and difference.judged)


def first_change(folder: JobFolder) -> str:
    """The first thing that an audit finds changed in a job, '' where it finds nothing.

    Whoever cannot show a record asks this: a record that is as it was written can be shown.
    """
    try:
        found = audit(folder)
    except (BrokenJob, RecordError) as error:
        return str(error)
    if found.grade is not AuditGrade.CHANGED:
        return ""
    said = (*map(str, found.chain.findings), *found.wrong, *found.differences, *found.files)
    return said[0] if said else _("its seal is broken")


@dataclass(frozen=True, slots=True)
class JobAudit:
    """One job's audit with its exit code; ``broken`` says why it could not be made."""

    job: str
    code: int
    result: Audit | None
    personal: PersonalAudit | None
    broken: str = ""

    def lines(self) -> list[str]:
        """The audit in words."""
        if self.result is None or self.personal is None:
            return [f"BROKEN: {self.broken}"]
        return [*audit_lines(self.result), *self.personal.lines()]

    def to_json(self) -> dict[str, Any]:
        """The audit as plain values."""
        if self.result is None or self.personal is None:
            return {"job": self.job, "intact": False, "broken": self.broken, "exit_code": self.code}
        result = self.result
        return {
            "job": self.job,
            "intact": result.intact,
            "lines": result.lines,
            "findings": [str(f) for f in result.chain.findings],
            "grade": AuditGrade(self.code).name.lower(),
            "differences": list(result.differences),
            "wrong": list(result.wrong),
            "other_parts": list(result.other_parts),
            "undecidable": result.undecidable,
            "ended": result.ended,
            "practice": result.practice,
            "head": result.chain.sha256,
            "seal": result.seal.state,
            "beside": list(result.beside),
            "ledger": None if result.ledger is None else asdict(result.ledger),
            "seal_findings": list(result.seal.findings),
            "kept_files_wrong": list(result.files),
            "vehicle": list(result.vehicle),
            "personal": self.personal.to_json(),
            "exit_code": self.code,
        }


def audit_job(
    folder: JobFolder,
    known_keys: tuple[PublicKey, ...] | None = None,
    ledger: Ledger | None = None,
    printed: Anchor | None = None,
) -> JobAudit:
    """Audit one job, against the head on a printed sheet where one is given, and grade it. A job
    that cannot be read is graded broken, not raised."""
    try:
        journal = Journal.of(folder, printed=printed)
        result = audit(folder, journal=journal, known_keys=known_keys, ledger=ledger)
        personal = PersonalAudit.of(journal)
    except (BrokenJob, RecordError) as error:
        return JobAudit(folder.id, AuditGrade.CHANGED.value, None, None, str(error))
    grade = AuditGrade.CHANGED if personal.altered else result.grade
    return JobAudit(folder.id, grade.value, result, personal)


def audit_lines(result: Audit) -> list[str]:
    """An audit of chain, seal, files and decisions in words."""
    out = [
        _(
            "chain: {part}, {lines} lines",
            part=_("intact") if result.chain.sound else _("BROKEN"),
            lines=result.lines,
        )
    ]
    out += [f"  {finding}" for finding in result.chain.findings]
    out += _seal_lines(result)
    out += [_("kept file: {text}", text=text) for text in result.files]
    out += [_("NOT PART OF THE RECORD: {text}", text=text) for text in result.beside]
    if result.ledger is not None:
        out += _ledger_lines(result.ledger)
    if not result.chain.sound:
        return out
    out.append(
        _(
            "head: {short_head}  (compare with the printed sheet)",
            short_head=short_head(result.chain.sha256),
        )
    )
    out += [_("NOT AS IT WAS WRITTEN: {text}", text=text) for text in result.wrong]
    out += _decided_again(result)
    out += [f"vehicle: {text}" for text in result.vehicle]
    out.append(_("job: {ended}", ended=spoken(result.ended) if result.ended else _("not ended")))
    return out


def _ledger_lines(ledger: LedgerCheck) -> list[str]:
    out = [_("NOT AS THE LEDGER HAS IT: {text}", text=text) for text in ledger.wrong]
    out += [_("NOT AS THE LEDGER HAS IT: {sheet}", sheet=ledger.sheet)] if ledger.sheet else []
    if not ledger.listed:
        return [*out, _("ledger: MISSING: the workshop's ledger does not know this job")]
    return out or [_("ledger: as the workshop's ledger has it")]


def _decided_again(result: Audit) -> list[str]:
    """What deciding again came to, in words."""
    if result.undecidable:
        return [
            _(
                "decided again: CANNOT BE, here: {undecidable}. Nothing was found changed; "
                "audit it with the program that wrote it ({program})",
                undecidable=result.undecidable,
                program=result.program,
            )
        ]
    number = len(result.differences)
    differ = [f"  {text}" for text in result.differences]
    if result.other_parts:
        parts = " and ".join(result.other_parts)
        said = _(
            "decided again: recorded under another part of what decides than today's: {parts}; ",
            parts=parts,
        )
        if not number:
            return [_("{said}all {lines} outcomes are the same", said=said, lines=result.lines)]
        return [
            _(
                "{said}{number} lines would be decided otherwise today. Whether they "
                "followed from the rules of then, only the program that wrote them can say "
                "({program}):",
                said=said,
                number=number,
                program=result.program,
            ),
            *differ,
        ]
    if number:
        return [
            _("decided again: NOT as recorded; a recorded outcome was not the engine's:"),
            *differ,
        ]
    return [_("decided again: all {lines} outcomes are the same", lines=result.lines)]


def _seal_lines(result: Audit) -> list[str]:
    if result.seal.state != "none":
        return result.seal.lines()
    if result.practice:
        return [_("seal: none; practice is never sealed")]
    if result.ended:
        return [_("seal: NONE, though the job has ended. Seal it: steplatch seal JOB --as PERSON")]
    return [_("seal: none yet; a job is sealed when it ends")]


def _strange(bundle: Bundle, lines: Sequence[JournalLine]) -> Iterator[str]:
    """What does not follow from the kept texts, whatever the rules: roster, list of texts, the
    role written down, the envelope, and another program in the midst of a run."""
    hashes, roster = bundle.hashes(), list(bundle.roster())
    people: dict[str, str] = {}
    procedure = (bundle.main.id, str(bundle.main.revision))
    kept = bundle.parts()
    for before, line in zip((lines[0], *lines), lines, strict=False):
        seq, command, header = line.envelope.seq, line.command, line.envelope.header
        if people and line.envelope.role != people.get(line.envelope.actor, "unlisted"):
            yield _(
                "line {seq}: '{actor}' is written down as {role}",
                seq=seq,
                actor=line.envelope.actor,
                role=line.envelope.role,
            )
        if command.get("kind") == "Open":
            if command.get("people") != roster:
                yield _("line {seq}: the roster is not that of the kept text", seq=seq)
            if command.get("files") != hashes:
                yield _(
                    "line {seq}: the list of texts is not that of the texts kept with the job",
                    seq=seq,
                )
            people = people or {str(one["id"]): str(one["role"]) for one in roster}
        if (header.procedure, header.revision) != procedure:
            yield _("line {seq}: the envelope names another procedure than the kept text", seq=seq)
        if (header.procedure_sha256, header.files_sha256) != (kept.procedure, kept.files):
            yield _(
                "line {seq}: the envelope has other hashes than those of the kept texts", seq=seq
            )
        if header != before.envelope.header and command.get("kind") not in _COMES_BACK:
            yield _(
                "line {seq}: what decides is another one than on the line before, in one run",
                seq=seq,
            )
