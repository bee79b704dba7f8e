"""The audit of a job: chain, seal, kept files, customers' data, and every decision made again.

What is proven and what is recorded meet here: each recorded command goes through ``decide``
once more, and the outcome must be the one that was recorded. So a forged line with a valid
chain and an illegal act is found, and a change of the rules since then shows as what it is.
"""

from dataclasses import dataclass
from typing import Any

from runner import exits
from runner.book.personal_audit import PersonalAudit
from runner.bundle import Bundle
from runner.job import Job, evolve
from runner.record import Disk, JobFolder, Line, RecordError, Verification, read, short_head, verify
from runner.record.attachments import check_attachment
from runner.record.keys import PublicKey
from runner.record.seal import NO_SEAL, SealCheck, check_seal
from runner.session import CANNOT_DECIDE, decided, outcome_to_json
from runner.store import BrokenJob, Loaded, bundle_of
from runner.version import rules_sha256
from runner.wire import BadWire, decode_command, decode_event, encode


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit found: the chain, and every line that is decided otherwise now.

    ``same_rules`` is False when the job was recorded under other safety rules than today's;
    ``files`` says which kept files are missing or changed.
    """

    chain: Verification
    lines: int
    differences: tuple[str, ...]
    same_rules: bool
    recorded_rules: str
    program: str
    ended: str
    practice: bool = False
    seal: SealCheck = NO_SEAL
    files: tuple[str, ...] = ()

    @property
    def intact(self) -> bool:
        """Chain, seal, texts and kept files are as they were written."""
        return self.chain.sound and self.seal.state != "broken" and not self.files


def audit(
    folder: JobFolder,
    disk: Disk | None = None,
    loaded: Loaded | None = None,
    known_keys: tuple[PublicKey, ...] | None = None,
) -> Audit:
    """Check the chain, then decide every recorded command again and compare the outcomes.

    ``loaded`` is this folder as ``load`` gave it, where it was read already;
    ``known_keys`` are the workshop's public keys, without which a seal's key is not judged.
    Raises BrokenJob when the texts that the job rests on are missing or changed.
    """
    if loaded is not None:
        chain, lines, bundle = loaded.chain, loaded.lines, loaded.bundle
        seal = check_seal(folder, chain, known_keys)
    else:
        chain = verify(folder.path, disk) if disk else verify(folder.path)
        seal = check_seal(folder, chain, known_keys)
        lines = list(read(folder.path)) if chain.sound and chain.lines else []
        if not lines:
            return Audit(chain, chain.lines, (), True, "", "", "", seal=seal)
        bundle = bundle_of(folder, lines)
    plan, job = bundle.plan, Job()
    differences: list[str] = []
    for line in lines:
        seq = line.envelope.seq
        differences += [f"line {seq}: {text}" for text in _strange(bundle, job, line)]
        again = _again(plan, job, line)
        if again is not None:
            differences.append(f"line {seq}: {again}")
        try:
            for plain in line.outcome["events"]:
                job = evolve(job, decode_event(plain))
        except (BadWire, KeyError, TypeError, ValueError) as error:
            differences.append(f"line {seq}: its events cannot be followed further: {error}")
            break
    recorded = {line.envelope.header.rules_sha256 for line in lines}
    return Audit(
        chain,
        len(lines),
        tuple(differences),
        recorded == {rules_sha256()},
        ", ".join(sorted(recorded)),
        lines[-1].envelope.header.program,
        job.core.ended,
        job.log.practice,
        seal,
        tuple(
            wrong
            for noted in job.log.every("attachment")
            if (wrong := check_attachment(folder, noted)) is not None
        ),
    )


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
            "differences": list(result.differences),
            "same_rules": result.same_rules,
            "recorded_rules": result.recorded_rules,
            "ended": result.ended,
            "practice": result.practice,
            "head": result.chain.sha256,
            "seal": result.seal.state,
            "seal_findings": list(result.seal.findings),
            "kept_files_wrong": list(result.files),
            "personal": self.personal.to_json(),
            "exit_code": self.code,
        }


def audit_job(folder: JobFolder, known_keys: tuple[PublicKey, ...] | None = None) -> JobAudit:
    """Audit one job and grade it. A job that cannot be read is graded broken, not raised."""
    try:
        result = audit(folder, known_keys=known_keys)
    except (BrokenJob, RecordError) as error:
        return JobAudit(folder.id, exits.AUDIT_BROKEN, None, None, str(error))
    personal = PersonalAudit.of(folder, result.chain.sound and result.lines > 0)
    code = exits.OK
    if result.differences:
        code = exits.AUDIT_BROKEN if result.same_rules else exits.AUDIT_DIFFERS
    if not result.intact or personal.altered:
        code = exits.AUDIT_BROKEN
    return JobAudit(folder.id, code, result, personal)


def audit_lines(result: Audit) -> list[str]:
    """An audit of chain, seal, files and decisions in words."""
    out = [f"chain: {'intact' if result.chain.sound else 'BROKEN'}, {result.lines} lines"]
    out += [f"  {finding}" for finding in result.chain.findings]
    out += _seal_lines(result)
    out += [f"kept file: {text}" for text in result.files]
    if not result.chain.sound:
        return out
    out.append(f"head: {short_head(result.chain.sha256)}  (compare with the printed sheet)")
    if not result.differences:
        out.append(f"decided again: all {result.lines} outcomes are the same")
    elif result.same_rules:
        out.append("decided again: NOT as recorded; a recorded outcome was not the engine's:")
    else:
        out.append(
            f"recorded under rules {result.recorded_rules[:12]}; "
            f"{len(result.differences)} decisions differ under the rules of today:"
        )
    out += [f"  {text}" for text in result.differences]
    out.append(f"job: {result.ended or 'not ended'}")
    return out


def _seal_lines(result: Audit) -> list[str]:
    if result.seal.state != "none":
        return result.seal.lines()
    if result.practice:
        return ["seal: none; practice is never sealed"]
    if result.ended:
        return ["seal: NONE, though the job has ended. Seal it: steplatch seal JOB"]
    return ["seal: none yet; a job is sealed when it ends"]


def _strange(bundle: Bundle, job: Job, line: Line) -> list[str]:
    """What does not follow from the kept texts: roster, hashes, limits, the role written down."""
    found = []
    kind = line.command.get("kind")
    if kind == "Open":
        if line.command.get("people") != list(bundle.roster()):
            found.append("the roster is not that of the kept text")
        if line.command.get("files") != bundle.hashes():
            found.append("the list of texts is not that of the texts kept with the job")
    if kind == "SetLimits" and line.command != encode(bundle.limits_command()):
        found.append("the limits are not those that the kept texts work out to")
    people = {str(p["id"]): str(p["role"]) for p in job.log.people}
    if people and line.envelope.role != people.get(line.envelope.actor, "unlisted"):
        found.append(f"'{line.envelope.actor}' is written down as {line.envelope.role}")
    header = line.envelope.header
    if header.procedure_sha256 != bundle.hashes()[f"procedure:{bundle.main.id}"] or (
        (header.procedure, header.revision) != (bundle.main.id, str(bundle.main.revision))
    ):
        found.append("the envelope names another procedure than the kept text")
    return found


def _again(plan: Any, job: Job, line: Line) -> str | None:
    """What is different when the command is decided again; None when nothing is."""
    try:
        command = decode_command(line.command)
    except (BadWire, KeyError, TypeError, ValueError) as error:
        return f"the command cannot be decided: {error}"
    again = decided(plan, job, command, line.envelope.times, line.envelope.actor)
    outcome, recorded = outcome_to_json(again), line.outcome
    if outcome == recorded:
        return None
    now_refused = [refusal.interlock for refusal in again.refusals]
    if CANNOT_DECIDE in now_refused:
        return f"'{line.command['kind']}' cannot be decided: deciding it fails"
    if now_refused and not recorded.get("refused"):
        return f"'{line.command['kind']}' was let through, but is refused by {now_refused}"
    return f"'{line.command['kind']}' is decided otherwise than recorded"
