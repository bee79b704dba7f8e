"""Jobs in the data folder: begin one, come back to one, read one whole.

Beside the journal a job keeps the exact texts that it rests on, named by their SHA-256, so
that it can be resumed and audited against the procedure and the limits that it began with.
"""

import hashlib
import os
import re
import secrets
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path

from steplatch.safety.catalogue import _

from ..core.commands import GiveUp, Interrupted, Open, Stop
from ..core.events import Ended, Opened
from ..core.job import Job
from ..core.plan import ABANDON
from ..core.version import PROGRAM
from ..input.strict_yaml import MAX_BYTES, FileText
from ..record import (
    DataFolder,
    Disk,
    Header,
    JobFolder,
    JournalLine,
    JournalWriter,
    job_id,
    job_token,
    list_jobs,
    load_personal,
    read,
)
from ..record.clocks import Clock
from ..record.disk import NEW_FLAGS, fsync_folder, read_whole, write_and_sync
from ..record.faults import failed
from ..record.folders import JOURNAL_NAME
from ..record.ledger import Entry, read_ledger
from ..record.line import SCHEMA
from ..record.personal import settle_personal
from ..record.seal import is_sealed
from .bundle import SINGLE, Bundle, make_bundle
from .fingerprint import judge_sha256, rules_sha256
from .ledgers import data_of, tell
from .personal_audit import recorded_personal
from .projection import BrokenJob, Journal, fold, typed
from .redecide import Difference, decide_again
from .session import Session

TEXTS = "texts"
MAX_TEXTS = 100
"""Texts that a job may rest on: a workshop's procedures and five files (a design choice)."""
_KEY = re.compile(rf"(?:{'|'.join(SINGLE)}|procedure:[a-z][a-z0-9-]{{1,39}})")
_DIGEST = re.compile(r"[0-9a-f]{64}")


class NoSuchJob(LookupError):  # noqa: N818 - it names the thing, as the other refusals do
    """No job, or more than one, fits what was typed; says which there are."""


def begin(
    data: DataFolder,
    bundle: Bundle,
    clock: Clock,
    person: str,
    *,
    practice: bool,
    token: str | None = None,
    confirmed: Callable[[int], None] | None = None,
    here: tuple[str, ...] = (),
    disk: Disk | None = None,
) -> tuple[Session, JobFolder]:
    """Make a new job: its folder, its texts, its first two lines (open, limits). ``here`` are
    those who are here, by id; while nobody says, everybody on the list may be called.

    Raises JournalFailed; nothing is held open then."""
    disk = disk or Disk()
    day = date.fromisoformat(clock.now().utc[:10])
    folder = data.job(job_id(day, token or job_token(secrets.token_bytes(5))))
    writer = JournalWriter.create(folder.path, _header(bundle), disk)
    try:
        _keep_texts(folder, bundle, disk)
        session = Session(bundle.plan, Job(), writer, clock, person, confirmed)
        session.submit(Open(practice, bundle.roster(), bundle.hashes(), here))
        session.submit(bundle.limits_command())
        if not practice:
            _list_begun(data, folder, session, disk)
    except BaseException:
        writer.close()
        raise
    return session, folder


@dataclass(frozen=True, slots=True)
class TakenUp:
    """A job opened to go on with it: its writer, its lines and what they make, read once."""

    writer: JournalWriter
    lines: tuple[JournalLine, ...]
    job: Job


def take_up(folder: JobFolder) -> TakenUp:
    """Open a job and read it, all that coming back to it needs.

    Raises BrokenJob where no line stands in it; HeldByAnother, JournalFailed, JournalBroken;
    NotRecordable when it is sealed.
    """
    writer = JournalWriter.open(folder.path)
    try:
        if not writer.found:
            raise BrokenJob(_("{path}: the job has no line yet; begin a new one", path=folder.path))
        return TakenUp(writer, writer.found, fold(writer.found))
    except BaseException:
        writer.close()
        raise


def resume(
    folder: JobFolder,
    clock: Clock,
    person: str,
    why: str = "restarted",
    confirmed: Callable[[int], None] | None = None,
    taken: TakenUp | None = None,
) -> tuple[Session, Bundle, tuple[str, ...]]:
    """Open a job where its record stands. Every perishable fact is unknown afterwards.

    A job that was recorded under other rules than today's is held like any other. It goes on, by
    its own kept files, where the rules of today decide its record as it stands; otherwise it is
    left for making safe and abandoning. The texts returned say so, and what was found.
    ``taken`` is this job as ``take_up`` gave it, where it is open already.

    Raises BrokenJob when the record or its texts do not fit, or have an older form; BadFile when a
    text no longer loads; HeldByAnother, JournalFailed.
    """
    taken = taken or take_up(folder)
    writer, lines = taken.writer, taken.lines
    try:
        if any(line.envelope.schema != SCHEMA for line in lines):
            raise BrokenJob(
                _(
                    "{path}: this job was recorded in an older form, which cannot be gone on "
                    "with. Make the vehicle safe by what you see, and begin a new job.",
                    path=folder.path,
                )
            )
        bundle = bundle_of(folder, lines)
        others = other_rules(lines)
        differences = decide_again(bundle, lines).differences if others else []
    except BaseException:
        writer.close()
        raise
    settle_personal(writer.lock, recorded_personal(lines))
    writer.use_header(_header(bundle))
    session = Session(bundle.plan, taken.job, writer, clock, person, confirmed)
    if not session.job.core.ended:
        session.submit(Interrupted(why))
        if differences and session.job.core.procedure != ABANDON:
            session.submit(GiveUp())
            session.submit(Stop("other_rules"))
    data = data_of(folder)
    if data is not None and not session.job.log.practice:
        _list_begun(data, folder, session)
    if not session.job.log.numbers:  # it was cut off between its first two lines
        session.submit(bundle.limits_command())
    return session, bundle, (*map(str, writer.findings), *_said(others, differences))


def _list_begun(
    data: DataFolder, folder: JobFolder, session: Session, disk: Disk | None = None
) -> None:
    """Have the ledger name a real job, unless it does: a crash may have come before."""
    ledger = read_ledger(data, disk=disk)
    if ledger is not None and (folder.id in ledger.jobs() or folder.id in ledger.before()):
        return
    head = session.writer.head
    entry = Entry("begun", folder.id, session.person, head.lines, head.sha256)
    tell(data, entry, disk=disk)


def other_rules(lines: Iterable[JournalLine]) -> tuple[str, ...]:
    """Which of the parts 'rules' and 'judge' are others today than on some of these lines."""
    headers = [line.envelope.header for line in lines]
    strange = {
        "rules": any(header.rules_sha256 != rules_sha256() for header in headers),
        "judge": any(header.judge_sha256 != judge_sha256() for header in headers),
    }
    return tuple(name for name, other in strange.items() if other)


def _said(others: tuple[str, ...], differences: list[Difference]) -> tuple[str, ...]:
    """What is said on coming back to a job of other rules."""
    if not others:
        return ()
    said = _(
        "this job was recorded under another part of what decides: {others}.",
        others=" and ".join(others),
    )
    if not differences:
        return (
            _(
                "{said} What stands in it is decided alike today: it goes on by its own files.",
                said=said,
            ),
        )
    return (
        _(
            "{said} {count} of its lines would be decided otherwise today, so it cannot go "
            "on: make safe and abandon. The first: {differences}",
            said=said,
            count=len(differences),
            differences=differences[0],
        ),
    )


def reopen(folder: JobFolder, clock: Clock, person: str) -> Session:
    """Open a job to write a note into it. It is not come back to: facts stay as they were.

    Raises as ``resume`` does.
    """
    writer = JournalWriter.open(folder.path)
    try:
        bundle = bundle_of(folder, writer.found)
        job = fold(writer.found)
    except BaseException:
        writer.close()
        raise
    writer.use_header(_header(bundle))
    return Session(bundle.plan, job, writer, clock, person)


def job_of(folder: JobFolder) -> Job:
    """The job as its record makes it, without its texts. Raises BrokenJob, JournalBroken."""
    return fold(list(read(folder.path)))


def bundle_of(folder: JobFolder, lines: Sequence[JournalLine]) -> Bundle:
    """The bundle that a job began with, from its kept texts, each checked by hash.

    The names in a record are a stranger's words: they never become a path, and a text that is not
    named by a SHA-256 is not looked for. Nothing is written.

    Raises BrokenJob when a text is missing, changed or not one that a job rests on, or when no
    line opens the job; BadFile when a text does not load.
    """
    texts: list[tuple[str, bytes]] = []
    named = _opened(lines).files
    if len(named) > MAX_TEXTS:
        raise BrokenJob(
            _(
                "line 1 names {count} texts; a job rests on {max_texts} at most",
                count=len(named),
                max_texts=MAX_TEXTS,
            )
        )
    for key, digest in named.items():
        if not _KEY.fullmatch(key) or not _DIGEST.fullmatch(digest):
            raise BrokenJob(
                _(
                    "line 1: {key!r} with hash {digest!r} is no text that a job rests on: "
                    "the record was changed, or another program wrote it.",
                    key=key[:60],
                    digest=digest[:70],
                )
            )
        kept = folder.path / TEXTS / f"{digest}.yaml"
        try:
            raw = read_whole(Disk(), kept, MAX_BYTES)
        except OSError as error:
            raise BrokenJob(
                _(
                    "{kept}: the text of '{key}' cannot be read ({strerror}). Restore it "
                    "from a backup of the job's folder.",
                    kept=kept,
                    key=key,
                    strerror=error.strerror,
                )
            ) from error
        if hashlib.sha256(raw).hexdigest() != digest:
            raise BrokenJob(
                _(
                    "{kept}: the text of '{key}' was changed after the job began.",
                    kept=kept,
                    key=key,
                )
            )
        texts.append((key, raw))
    return _bundle(lines[0].envelope.header.procedure, tuple(texts))


@lru_cache(maxsize=8)
def _bundle(procedure: str, texts: tuple[tuple[str, bytes], ...]) -> Bundle:
    """The bundle of these very texts. Jobs of one workshop share most: loaded once, used often.

    Raises BrokenJob when a text is missing, or another than its name says; BadFile.
    """
    held = {key: FileText(f"{key.removeprefix('procedure:')}.yaml", raw) for key, raw in texts}
    main = f"procedure:{procedure}"
    missing = {main, *SINGLE} - held.keys()
    if missing:
        raise BrokenJob(
            _("line 1 names no text of {missing!r}", missing=", ".join(sorted(missing))[:200])
        )
    others = [held[key] for key in sorted(held) if key not in (main, *SINGLE)]
    bundle = make_bundle(held[main], others, held, kept=True)
    if bundle.texts.keys() != held.keys():
        strange = ", ".join(sorted(bundle.texts.keys() ^ held.keys()))
        raise BrokenJob(
            _("the kept texts are not those that line 1 names: {strange}", strange=strange[:200])
        )
    return bundle


def is_path(text: str) -> bool:
    """Whether a job is named by the path of its folder or journal, not by its id."""
    return os.sep in text or Path(text, JOURNAL_NAME).is_file()


def find(data: DataFolder, text: str | None) -> JobFolder:
    """The job whose id holds ``text``, or whose folder is the path ``text``; without it the last
    unfinished. A path need not lie in the data folder: a copy that was handed on is read as it is.

    Its name need not be its id, which stands in its journal.

    Raises NoSuchJob when none or several fit; NotRecordable for a journal that names no id.
    """
    if text is not None and is_path(text):
        path = Path(text).expanduser().absolute()
        path = path.parent if path.name == JOURNAL_NAME else path
        if not (path / JOURNAL_NAME).is_file():
            raise NoSuchJob(_("{path}: no journal lies there; give the folder of a job", path=path))
        return JobFolder(path)
    if text is not None and not text.strip():
        raise NoSuchJob(_("an empty id names no job; 'steplatch jobs' lists them"))
    jobs = list_jobs(data)
    if text is None:
        for folder in sorted(jobs, key=_last_touched, reverse=True):
            if is_sealed(folder) or _ends(folder):
                continue
            try:
                lines = list(read(folder.path))
                kinds = {event["kind"] for line in lines for event in line.outcome["events"]}
            except Exception:  # a broken job is not the one to resume; 'jobs' shows it
                continue
            if lines and Ended.__name__ not in kinds:
                return folder
        raise NoSuchJob(
            _("no unfinished job lies in {jobs}; 'steplatch jobs' lists them", jobs=data.jobs)
        )
    fits = [f for f in jobs if text in f.id]
    if len(fits) == 1:
        return fits[0]
    if not fits:
        raise NoSuchJob(
            _(
                "no job '{text}' lies in {jobs}; 'steplatch jobs' lists them",
                text=text,
                jobs=data.jobs,
            )
        )
    raise NoSuchJob(
        _("'{text}' fits {fits}: type more of it", text=text, fits=", ".join(f.id for f in fits))
    )


@dataclass(frozen=True, slots=True)
class Loaded:
    """A job read whole, with what its chain says."""

    journal: Journal
    job: Job
    bundle: Bundle
    personal: dict[str, str]


def load(folder: JobFolder) -> Loaded:
    """Read a job without opening it for writing. Raises BrokenJob."""
    journal = Journal.of(folder)
    if not journal.chain.sound:
        raise BrokenJob("\n".join(str(f) for f in journal.chain.findings))
    if not journal.lines:
        raise BrokenJob(_("{path}: the job has no line yet", path=folder.path))
    bundle = bundle_of(folder, journal.lines)
    return Loaded(journal, fold(journal.lines), bundle, personal_of(folder))


def personal_of(folder: JobFolder) -> dict[str, str]:
    """The personal data beside the journal: field to value, or 'erased'."""
    personal = load_personal(folder.path)
    if personal is None:
        return {}
    return {f.value: getattr(entry, "value", "erased") for f, entry in personal.fields.items()}


def _opened(lines: Sequence[JournalLine]) -> Opened:
    if not lines:
        raise BrokenJob(
            _("the job has no line: it was cut off before it was opened; begin a new one")
        )
    for event in next(typed(lines[:1])).events:
        if isinstance(event, Opened):
            return event
    raise BrokenJob(_("line 1 does not open the job"))


def _header(bundle: Bundle) -> Header:
    parts = bundle.parts()
    return Header(
        procedure=bundle.main.id,
        revision=str(bundle.main.revision),
        procedure_sha256=parts.procedure,
        program=PROGRAM,
        rules_sha256=parts.rules,
        judge_sha256=parts.judge,
        files_sha256=parts.files,
    )


def _keep_texts(folder: JobFolder, bundle: Bundle, disk: Disk) -> None:
    room = folder.path / TEXTS
    hashes = bundle.hashes()
    try:
        disk.mkdir(room)
        for digest, raw in {hashes[name]: raw for name, raw in bundle.texts.items()}.items():
            write_and_sync(disk, room / f"{digest}.yaml", NEW_FLAGS, raw)
        fsync_folder(disk, room)
        fsync_folder(disk, folder.path)
    except OSError as error:
        raise failed(room, _("keep the texts that the job rests on"), error) from error


_END = b'{"kind":"Ended","how":"'
_TAIL_BYTES = 1 << 16


def _ends(folder: JobFolder) -> bool:
    """Whether the last lines of a journal hold the end of the job, by their bytes alone: no text
    in a line can hold them, since quotation marks are escaped there. Nothing is decided by this:
    where it does not show, the job is read."""
    try:
        with folder.journal.open("rb") as file:
            file.seek(max(0, file.seek(0, os.SEEK_END) - _TAIL_BYTES))
            return _END in file.read(_TAIL_BYTES)
    except OSError:
        return False


def _last_touched(folder: JobFolder) -> float:
    try:
        return folder.journal.stat().st_mtime
    except OSError:
        return 0.0
