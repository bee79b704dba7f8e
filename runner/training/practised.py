"""What one person did in one job, practice or real: worked out from its record alone.

Of a practice job only what its journal names counts as somebody's own: the note ``practised`` says
who worked by hand, whether a PIN showed it, and the hash of what was set up (faults, seed, lesson,
exercise), so that a side file put there later is found.
"""

import hashlib
import json
from dataclasses import dataclass, replace
from typing import Final, Literal

from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Tripped

from ..core.job import Job
from ..core.refusals import recorded
from ..input.findings import BadFile
from ..input.strict_yaml import load_text, validate
from ..jobs.projection import BrokenJob, Entry, Journal, entries
from ..record import JobFolder
from .exercise import Exercise
from .found import found
from .memory import KeptPractice, kept_of

NOTE: Final = "practised"
Beside = Literal["alone", "with others", "supervised"]


@dataclass(frozen=True, slots=True)
class Refused:
    """A request of the person that was refused: at which step, by what, and why in words."""

    step: str
    interlock: str
    reason: str


@dataclass(frozen=True, slots=True)
class OneJob:
    """One job of a person. ``counts`` is False where nobody can say that it was theirs; ``why``
    says so. ``found`` are the faults that were in and whether an answer showed them (None: no
    answer can). ``set_sha256`` names the faults that were set for them. ``begun`` is the
    moment of its first line, by which a copy under another id is known."""

    job: str
    day: str
    procedure: str
    practice: bool
    ended: str
    lines: int
    head: str
    steps: tuple[str, ...] = ()
    refused: tuple[Refused, ...] = ()
    trips: tuple[str, ...] = ()
    beside: Beside = "alone"
    lesson: str = ""
    exercise: str = ""
    exercise_met: bool | None = None
    unnoticed: tuple[str, ...] = ()
    found: tuple[tuple[str, bool | None], ...] = ()
    set_sha256: str = ""
    counts: bool = True
    why: str = ""
    begun: str = ""


def setup_sha256(
    faults: tuple[str, ...], seed: int, lesson: str, exercise: str, set_sha256: str = ""
) -> str:
    """Hash of what a practice job was set up with, for its note and to hold it against that."""
    plain = json.dumps([list(faults), seed, lesson, exercise, set_sha256], ensure_ascii=False)
    return hashlib.sha256(plain.encode("utf-8")).hexdigest()


def of_job(folder: JobFolder, person: str) -> OneJob | None:
    """What ``person`` did in a job; None where they did and asked for nothing. Raises BrokenJob,
    JournalBroken, JournalFailed."""
    journal = Journal.of(folder).sound()
    told = list(entries(journal.lines))
    if not told:
        return None
    job, first = told[-1].after, told[0].line.envelope
    steps = tuple(f"{m.procedure}/{m.step}" for m in job.log.marks if m.by == person)
    refused = tuple(r for entry in told for r in _refused(entry, person))
    if not steps and not refused:
        return None
    one = OneJob(
        folder.id, first.times.utc[:10], first.header.procedure, job.log.practice,
        job.core.ended or _("goes on"), len(told), told[-1].line.sha256, steps, refused,
        tuple(dict.fromkeys(_trips(told))), _beside(job, person),
        begun=f"{first.times.utc} {first.times.boot} {first.times.monotonic_ms}",
    )  # fmt: skip
    return _practice(one, job, folder, person) if job.log.practice else one


def _refused(entry: Entry, person: str) -> list[Refused]:
    if entry.line.envelope.actor != person or not entry.line.outcome["refused"]:
        return []
    said = recorded(entry.line.outcome["refused"][0])
    core = entry.before.core
    return [Refused(f"{core.procedure}/{core.step}", said.interlock, said.reason)]


def _trips(told: list[Entry]) -> list[str]:
    happened = (event for entry in told for event in entry.events)
    return [str(event.trip.value) for event in happened if isinstance(event, Tripped)]


def _beside(job: Job, person: str) -> Beside:
    """Supervised: somebody else signed a hold point, as technician or supervisor, who is not the
    customer; with others: somebody else was here or worked."""
    signed = (s for s in job.log.signatures if s.person != person)
    if any(s.role in ("technician", "supervisor") for s in signed):
        return "supervised"
    here = {str(p["id"]) for p in job.log.people if p["id"] in job.log.here}
    return "with others" if (here | job.log.doers) - {person} else "alone"


def _practice(one: OneJob, job: Job, folder: JobFolder, person: str) -> OneJob:
    """What a practice job shows beside, and whether it was this person's own."""
    kept = kept_of(folder)
    if kept is None:
        return replace(one, counts=False, why="what lay beside it is gone")
    about = kept.about
    one = replace(one, lesson=about.lesson)
    if about.plays_itself:
        return replace(one, counts=False, why="it played itself")
    noted = job.log.latest(NOTE)
    if noted is None or noted.get("person") != person:
        return replace(one, counts=False, why="nobody of the workshop stands in it as who worked")
    set_of = str(noted.get("set", ""))
    digest = setup_sha256(kept.faults, kept.seed, about.lesson, about.exercise, set_of)
    if noted.get("setup_sha256") != digest:
        return replace(one, counts=False, why="what lies beside it is not what was set up")
    shown = tuple((name, found(job, name)) for name in kept.faults if name != "none")
    one = _exercised(replace(one, found=shown, set_sha256=set_of), kept, job)
    if noted.get("how") != "pin":
        return replace(one, counts=False, why="no PIN showed who worked")
    if not job.core.ended:
        return replace(one, counts=False, why="it goes on")
    return one


def _exercised(one: OneJob, kept: KeptPractice, job: Job) -> OneJob:
    if not kept.about.exercise:
        return one
    try:
        exercise = validate(load_text(kept.about.exercise, _("the job's exercise")), Exercise)
    except BadFile as bad:
        raise BrokenJob(
            _("{job}: its exercise cannot be read: {bad}", job=one.job, bad=bad)
        ) from bad
    missed = tuple(n.what for n in exercise.due(kept.faults) if not n.noticed(job))
    met = not missed and job.core.ended in exercise.ends
    return replace(one, exercise=exercise.title, exercise_met=met, unnoticed=missed)
