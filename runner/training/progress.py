"""The record of one person: what was practised, done under supervision and alone, and signed.

Everything is worked out anew from journals, so that nothing of it can be made up; what a
supervisor signed stands in ``signoffs``. Nobody is ranked or compared.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any, Final, Literal

from steplatch.safety.catalogue import _

from ..input.findings import shown
from ..jobs.ledgers import key_folder
from ..jobs.projection import BrokenJob
from ..record import DataFolder, JobFolder, RecordError, list_jobs
from ..record.ledger import PRACTICE, Ledger, read_ledger
from .competence import Competence, CompetenceFile, Evidence, load_competences
from .practised import OneJob, of_job
from .signoffs import Kept, SignOff, kept_of

State = Literal["not yet", "may be signed", "signed", "expired", "withdrawn", "to be signed anew"]
SOON_DAYS: Final = 60
"""From so many days before its end on a signature is said to end (a design choice)."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One piece of evidence: what is asked for, in words, how many there are, and in which jobs."""

    words: str
    need: int
    have: int
    jobs: tuple[str, ...]

    @property
    def met(self) -> bool:
        """Whether there is enough."""
        return self.have >= self.need


@dataclass(frozen=True, slots=True)
class Standing:
    """How a person stands to one competence. ``until`` is the last day it holds (ISO)."""

    id: str
    statement: str
    state: State
    evidence: tuple[Shown, ...]
    signed_by: str
    by: str = ""
    until: str = ""
    note: str = ""

    @property
    def holds(self) -> bool:
        """Whether it holds today."""
        return self.state == "signed"


@dataclass(frozen=True, slots=True)
class SetFault:
    """A fault that a supervisor set, and what became of it: the job, and whether it was found."""

    fault: str
    by: str
    until: str
    sha256: str
    seed: int
    job: str = ""
    found: bool | None = None


@dataclass(frozen=True, slots=True)
class Progress:
    """All of one person's record. ``unread`` names jobs that could not be read; ``wrong`` why
    nothing that was signed counts; ``ledger`` what the ledger of practice has and is not there."""

    person: str
    jobs: tuple[OneJob, ...]
    standings: tuple[Standing, ...]
    sets: tuple[SetFault, ...]
    unread: tuple[str, ...]
    wrong: tuple[str, ...]
    note: str = ""
    ledger: tuple[str, ...] = ()

    def of(self, practice: bool) -> tuple[OneJob, ...]:
        """The practice jobs, or the real ones."""
        return tuple(one for one in self.jobs if one.practice is practice)

    def refusals(self) -> tuple[tuple[str, str, int], ...]:
        """Refusals as (interlock, why, how many times), most first."""
        words = {r.interlock: r.reason for one in self.jobs for r in one.refused}
        counted = Counter(r.interlock for one in self.jobs for r in one.refused)
        return tuple((name, words[name], times) for name, times in counted.most_common())

    def to_json(self) -> dict[str, Any]:
        """The same as plain values."""
        plain = asdict(self)
        for one in plain["sets"]:
            if not one["job"]:  # whoever is to find it reads this too
                del one["fault"], one["seed"]
        plain["refusals"] = [
            {"interlock": name, "why": why, "times": times} for name, why, times in self.refusals()
        ]
        return plain


def progress_of(
    data: DataFolder,
    person: str,
    today: date,
    say: Callable[[int, int], None] | None = None,
) -> Progress:
    """The record of a person, by all jobs of a data folder. Raises BadFile for the workshop's list;
    BadSideFile, JournalFailed for what was signed."""
    listed = load_competences(data)
    kept = kept_of(data, person)
    practised = read_ledger(data, key_folder(data).public_keys(), folder=PRACTICE) or Ledger()
    folders = list_jobs(data)
    jobs, unread = _jobs_of(data, person, folders, practised, say)
    standings = tuple(
        _beside_evidence(_standing(one, kept, jobs, today), kept.of(one.id), jobs)
        for one in (listed[0].competences if listed else ())
    )
    note = "" if listed else _("this workshop has no competence.yaml: nothing can be signed")
    if kept.unlisted and not kept.wrong:
        note = _(
            "{unlisted} lines are not in the workshop's ledger: they count for nothing",
            unlisted=kept.unlisted,
        )
    lost = tuple(_lost(practised, person, {folder.id for folder in folders}))
    return Progress(
        person, jobs, standings, set_faults(kept, jobs), unread, kept.wrong, note, lost
    )  # fmt: skip


def _lost(practised: Ledger, person: str, there: set[str]) -> Iterator[str]:
    """What is wrong with the ledger of practice, and which of a person's jobs are gone."""
    yield from practised.findings
    for entry in practised.entries:
        if entry.what == "begun" and entry.by == person and entry.job not in there:
            yield _("{job} was begun, and its folder is gone", job=entry.job)


def _jobs_of(
    data: DataFolder,
    person: str,
    folders: tuple[JobFolder, ...],
    practised: Ledger,
    say: Callable[[int, int], None] | None,
) -> tuple[tuple[OneJob, ...], tuple[str, ...]]:
    ledger = read_ledger(data)
    found, unread = [], []
    marked = person.encode("ascii")
    for number, folder in enumerate(folders, start=1):
        try:
            if marked in folder.journal.read_bytes():  # else nothing of it is theirs
                one = of_job(folder, person)
                found += [] if one is None else [one if one.practice else _listed(one, ledger)]
        except (BrokenJob, RecordError, OSError) as error:
            unread.append(f"{folder.id}: {shown(str(error))[:200]}")
        if say is not None:
            say(number, len(folders))
    known = {one.begun: one.job for one in found if one.practice and practised.of(one.job)}
    found = [_listed_practice(one, practised, known) if one.practice else one for one in found]
    return tuple(sorted(found, key=lambda one: (one.day, one.job))), tuple(unread)


def _listed_practice(one: OneJob, practised: Ledger, known: dict[str, str]) -> OneJob:
    """A practice job counts where the ledger of practice has its beginning, and its end as it
    stands. ``known``: the jobs there, by the moment of their first line."""
    entries = practised.of(one.job)
    ended = [(e.lines, e.head) for e in entries if e.what == "ended"]
    if not any(e.what == "begun" for e in entries):
        why = _("the ledger of practice does not know it")
        if one.begun in known:
            why = _("it is a copy of {job}", job=known[one.begun])
        return replace(one, counts=False, why=why) if one.counts else one
    if any(e.lines > one.lines for e in entries) or (ended and ended[-1] != (one.lines, one.head)):
        return replace(one, counts=False, why=_("changed: the ledger of practice has another"))
    if one.counts and not ended:
        return replace(one, counts=False, why=_("its end is not listed: steplatch resume lists it"))
    return one


def _listed(one: OneJob, ledger: Ledger | None) -> OneJob:
    """A real job counts where the ledger knows it, as it stood there."""
    entries = ledger.of(one.job) if ledger is not None else ()
    if not entries and not (ledger is not None and one.job in ledger.before()):
        return replace(one, counts=False, why="the workshop's ledger does not know it")
    if any(e.lines > one.lines for e in entries):
        return replace(one, counts=False, why="lines of it are gone")
    return one


def _standing(one: Competence, kept: Kept, jobs: Iterable[OneJob], today: date) -> Standing:
    last = kept.of(one.id)
    wanted, counted = one.evidence, tuple(jobs)
    if last is not None and last.what == "signed" and last.statement == one.sha256 and one.refresh:
        wanted = one.refresh
        counted = tuple(job for job in counted if job.day > last.utc[:10])
    evidence = tuple(shown_by(piece, counted) for piece in wanted)
    ready: State = "may be signed" if all(e.met for e in evidence) else "not yet"
    made = Standing(one.id, one.statement, ready, evidence, one.signed_by)
    return made if last is None else _after(made, one, last, today)


def _beside_evidence(made: Standing, last: SignOff | None, jobs: tuple[OneJob, ...]) -> Standing:
    """The standing with a word of each job that was signed for and is not as it was then."""
    there = {one.job: one for one in jobs}
    wrong = []
    for job, lines, head in last.evidence if last is not None else ():
        one = there.get(job)
        if one is None or one.lines < lines or (one.lines == lines and one.head != head):
            wrong.append(job)
    if not wrong:
        return made
    said = _(
        "evidence that was signed for is gone or was changed: {wrong}.", wrong=", ".join(wrong)
    )
    return replace(made, note=f"{said} {made.note}".strip())


def _after(made: Standing, one: Competence, last: SignOff, today: date) -> Standing:
    """How it stands after it was signed or withdrawn once."""
    again = _(" What is asked for is there.") if made.state == "may be signed" else ""
    if last.what == "withdrawn":
        return replace(made, state="withdrawn", by=last.by, note=last.why + again)
    signed = replace(made, by=last.by, until=last.until)
    if last.statement != one.sha256:
        return replace(signed, state="to be signed anew", note="its words were changed." + again)
    if date.fromisoformat(last.until) < today:
        return replace(signed, state="expired", note=f"it held until {last.until}.{again}")
    left = (date.fromisoformat(last.until) - today).days
    note = _("it ends in {left} days.{again}", left=left, again=again) if left <= SOON_DAYS else ""
    return replace(signed, state="signed", note=note)


def holds(listed: CompetenceFile, kept: Kept, name: str, today: date) -> bool:
    """Whether a competence holds today, by what was signed alone. Reads no job."""
    one = listed.named(name)
    return one is not None and _standing(one, kept, (), today).holds


_WORDS: Final = {
    "practised": _("practice jobs by hand to their end"),
    "exercise": _("exercises ended as set, all noticed"),
    "found": _("faults found in practice"),
    "supervised": _("real jobs under supervision"),
    "alone": _("real jobs alone"),
}


def shown_by(piece: Evidence, jobs: Iterable[OneJob]) -> Shown:
    """How much of a piece of evidence there is."""
    fits = [one for one in jobs if one.counts and _fits(piece, one)]
    words = _WORDS[piece.what]
    words += f", {piece.procedure}" if piece.procedure else ""
    words += _(", who did {step}", step=piece.step) if piece.step else ""
    if piece.what != "found":
        return Shown(words, piece.count, len(fits), tuple(one.job for one in fits))
    names = [name for one in fits for name, was in one.found if was and _wanted(piece, name)]
    if piece.faults:
        names = sorted(set(names))
        words += f": {', '.join(piece.faults)}"
    return Shown(words, piece.count, len(names), tuple(one.job for one in fits))


def _wanted(piece: Evidence, fault: str) -> bool:
    return not piece.faults or fault in piece.faults


def _fits(piece: Evidence, one: OneJob) -> bool:
    if piece.procedure and one.procedure != piece.procedure:
        return False
    if piece.step is not None and piece.step not in one.steps:
        return False
    match piece.what:
        case "practised":
            return one.practice
        case "exercise":
            return one.practice and one.exercise_met is True
        case "found":
            return one.practice and any(was and _wanted(piece, name) for name, was in one.found)
    ended = not one.practice and one.ended == "finished"
    return ended and one.beside == piece.what


def set_faults(kept: Kept, jobs: Iterable[OneJob]) -> tuple[SetFault, ...]:
    """Every fault that was set, with the practice job that answers it: the first begun on it."""
    answered: dict[tuple[str, str], OneJob] = {}
    for one in jobs:
        for fault, _other in one.found if one.set_sha256 else ():
            answered.setdefault((one.set_sha256, fault), one)
    out = []
    for line in kept.sets():
        for fault in line.faults:
            by = answered.get((line.sha256, fault))
            was = dict(by.found).get(fault) if by is not None and by.counts else None
            job = by.job if by is not None else ""
            out.append(SetFault(fault, line.by, line.until, line.sha256, line.seed, job, was))
    return tuple(out)


def open_set(sets: Iterable[SetFault]) -> SetFault | None:
    """The first fault that was set and has no job yet."""
    return next((one for one in sets if not one.job), None)
