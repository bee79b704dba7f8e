"""Jobs in the data folder: begin one, come back to one, read one whole, audit one.

Beside the journal a job keeps the exact texts that it rests on, named by their SHA-256, so
that it can be resumed and audited against the procedure and the limits that it began with.
"""

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from runner.bundle import Bundle, Sources, load_bundle
from runner.clocks import Clock
from runner.commands import Interrupted, Open
from runner.engine import decide
from runner.job import Job, Opened, evolve
from runner.record import (
    DataFolder,
    Disk,
    Finding,
    Header,
    JobFolder,
    JournalWriter,
    Line,
    NotRecordable,
    Verification,
    job_id,
    job_token,
    list_jobs,
    load_personal,
    read,
    verify,
)
from runner.record.disk import NEW_FLAGS, write_and_sync
from runner.session import Session, outcome_to_json
from runner.version import PROGRAM, rules_sha256
from runner.wire import BadWire, decode_command, decode_event, encode

TEXTS = "texts"
SINGLE = ("vehicle", "gun", "fluid", "workshop", "people")


class NoSuchJob(LookupError):  # noqa: N818 - it names the thing, as the other refusals do
    """No job, or more than one, fits what was typed; says which there are."""


class BrokenJob(RuntimeError):  # noqa: N818 - as above
    """A job's files do not fit together; says what is wrong and what may be done."""


def begin(
    data: DataFolder,
    bundle: Bundle,
    clock: Clock,
    person: str,
    *,
    practice: bool,
    token: str | None = None,
    confirmed: Callable[[int], None] | None = None,
) -> tuple[Session, JobFolder]:
    """Make a new job: its folder, its texts, its first two lines (open, limits)."""
    day = date.fromisoformat(clock.now().utc[:10])
    folder = data.job(job_id(day, token or job_token(secrets.token_bytes(5))))
    writer = JournalWriter.create(folder.path, _header(bundle))
    _keep_texts(folder, bundle)
    session = Session(bundle.plan, Job(), writer, clock, person, confirmed)
    session.submit(Open(practice, bundle.roster(), bundle.hashes()))
    session.submit(bundle.limits_command())
    return session, folder


def resume(
    folder: JobFolder,
    clock: Clock,
    person: str,
    why: str = "the program was started again",
    confirmed: Callable[[int], None] | None = None,
) -> tuple[Session, Bundle, tuple[Finding, ...]]:
    """Open a job where its record stands. Every perishable fact is unknown afterwards.

    Raises BrokenJob when the record or its texts do not fit; HeldByAnother, JournalFailed.
    """
    lines = list(read(folder.path))
    bundle = bundle_of(folder, lines)
    writer = JournalWriter.open(folder.path, _header(bundle))
    lines = list(read(folder.path))  # opening may have set a torn last line aside
    session = Session(bundle.plan, fold(lines), writer, clock, person, confirmed)
    if not session.job.core.ended:
        session.submit(Interrupted(why))
    if not session.job.log.numbers:  # it was cut off between its first two lines
        session.submit(bundle.limits_command())
    return session, bundle, writer.findings


def fold(lines: list[Line]) -> Job:
    """The job as its recorded events make it. Raises BrokenJob on an event nobody knows."""
    job = Job()
    for line in lines:
        for plain in line.outcome["events"]:
            try:
                job = evolve(job, decode_event(plain))
            except BadWire as bad:
                raise BrokenJob(f"line {line.envelope.seq}: {bad}") from bad
    return job


def bundle_of(folder: JobFolder, lines: list[Line]) -> Bundle:
    """The bundle that a job began with, from its kept texts, each checked by hash.

    Raises BrokenJob when a text is missing or changed, or when no line opens the job.
    """
    hashes = _opened(lines).files
    with TemporaryDirectory(prefix="steplatch-") as name:
        room = Path(name)
        (room / "others").mkdir()
        for key, digest in hashes.items():
            kept = folder.path / TEXTS / f"{digest}.yaml"
            try:
                raw = kept.read_bytes()
            except OSError as error:
                raise BrokenJob(
                    f"{kept}: the text of '{key}' cannot be read ({error.strerror}). "
                    "Restore it from a backup of the job's folder."
                ) from error
            if hashlib.sha256(raw).hexdigest() != digest:
                raise BrokenJob(f"{kept}: the text of '{key}' was changed after the job began.")
            place = room / f"{key}.yaml"
            if key.startswith("procedure:"):
                place = room / "others" / f"{key.removeprefix('procedure:')}.yaml"
            place.write_bytes(raw)
        main = room / "others" / f"{lines[0].envelope.header.procedure}.yaml"
        paths = {name: room / f"{name}.yaml" for name in SINGLE}
        return load_bundle(Sources(main, others=room / "others", **paths))


def find(data: DataFolder, text: str | None) -> JobFolder:
    """The job whose id is, or ends or begins with, ``text``; without it the last unfinished."""
    jobs = list_jobs(data)
    if text is None:
        for folder in sorted(jobs, key=_last_touched, reverse=True):
            try:
                lines = list(read(folder.path))
            except Exception:  # a broken job is not the one to resume; 'jobs' shows it
                continue
            if lines and not fold(lines).core.ended:
                return folder
        raise NoSuchJob(f"no unfinished job lies in {data.jobs}; 'steplatch jobs' lists them")
    fits = [f for f in jobs if f.id == text or f.id.endswith(text) or f.id.startswith(text)]
    if len(fits) == 1:
        return fits[0]
    if not fits:
        raise NoSuchJob(f"no job '{text}' lies in {data.jobs}; 'steplatch jobs' lists them")
    raise NoSuchJob(f"'{text}' fits {', '.join(f.id for f in fits)}: type more of it")


@dataclass(frozen=True, slots=True)
class Loaded:
    """A job read whole, with what its chain says."""

    folder: JobFolder
    job: Job
    bundle: Bundle
    lines: list[Line]
    chain: Verification
    personal: dict[str, str]


def load(folder: JobFolder) -> Loaded:
    """Read a job without opening it for writing. Raises BrokenJob."""
    chain = verify(folder.path)
    if not chain.sound:
        raise BrokenJob("\n".join(str(f) for f in chain.findings))
    lines = list(read(folder.path))
    if not lines:
        raise BrokenJob(f"{folder.path}: the job has no line yet")
    return Loaded(folder, fold(lines), bundle_of(folder, lines), lines, chain, personal_of(folder))


def personal_of(folder: JobFolder) -> dict[str, str]:
    """The personal data beside the journal: field to value, or 'erased'."""
    personal = load_personal(folder.path)
    if personal is None:
        return {}
    return {f.value: getattr(entry, "value", "erased") for f, entry in personal.fields.items()}


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit found: the chain, and every line that is decided otherwise now.

    ``same_rules`` is False when the job was recorded under other safety rules than today's.
    """

    chain: Verification
    lines: int
    differences: tuple[str, ...]
    same_rules: bool
    recorded_rules: str
    program: str
    ended: str

    @property
    def intact(self) -> bool:
        """Chain and texts are as they were written."""
        return self.chain.sound


def audit(folder: JobFolder, disk: Disk | None = None, bundle: Bundle | None = None) -> Audit:
    """Check the chain, then decide every recorded command again and compare the outcomes.

    ``bundle`` is that of ``bundle_of``, where it was loaded from this folder already.
    Raises BrokenJob when the texts that the job rests on are missing or changed.
    """
    chain = verify(folder.path, disk) if disk else verify(folder.path)
    if not chain.sound:
        return Audit(chain, chain.lines, (), True, "", "", "")
    lines = list(read(folder.path))
    if not lines:
        return Audit(chain, 0, (), True, "", "", "")
    bundle = bundle or bundle_of(folder, lines)
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
    )


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
        outcome = outcome_to_json(
            decide(plan, job, command, line.envelope.times, line.envelope.actor)
        )
    except (BadWire, KeyError, TypeError, ValueError) as error:
        return f"the command cannot be decided: {error}"
    recorded = line.outcome
    if outcome == recorded:
        return None
    now_refused = [r["interlock"] for r in outcome["refused"]]  # type: ignore[attr-defined]
    if now_refused and not recorded.get("refused"):
        return f"'{line.command['kind']}' was let through, but is refused by {now_refused}"
    return f"'{line.command['kind']}' is decided otherwise than recorded"


def _opened(lines: list[Line]) -> Opened:
    if not lines:
        raise BrokenJob("the job has no line: it was cut off before it was opened; begin a new one")
    for plain in lines[0].outcome["events"]:
        event = decode_event(plain)
        if isinstance(event, Opened):
            return event
    raise BrokenJob("line 1 does not open the job")


def _header(bundle: Bundle) -> Header:
    return Header(
        procedure=bundle.main.id,
        revision=str(bundle.main.revision),
        procedure_sha256=bundle.hashes()[f"procedure:{bundle.main.id}"],
        program=PROGRAM,
        rules_sha256=rules_sha256(),
    )


def _keep_texts(folder: JobFolder, bundle: Bundle) -> None:
    room = folder.path / TEXTS
    disk = Disk()
    disk.mkdir(room)
    hashes = bundle.hashes()
    for name, raw in bundle.texts.items():
        path = room / f"{hashes[name]}.yaml"
        if not path.exists():
            write_and_sync(disk, path, NEW_FLAGS, raw)


def _last_touched(folder: JobFolder) -> float:
    try:
        return folder.journal.stat().st_mtime
    except OSError:
        return 0.0


__all__ = [
    "Audit",
    "BrokenJob",
    "Loaded",
    "NoSuchJob",
    "NotRecordable",
    "audit",
    "begin",
    "find",
    "fold",
    "load",
    "resume",
]
