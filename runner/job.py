"""A job: what is known (``Core``), what was written down (``Log``), and how events change both.

``Core`` is finite and hashable: the bay, the position, the choices. ``Log`` holds readings,
signatures, typed text, times and timers. ``evolve`` is the only way either changes; it reads
no clock, disk or screen, so that folding the recorded events gives the same job again.
"""

from dataclasses import dataclass, field, replace
from typing import Any

from runner.clock import Times
from safety.bay import NO_DOSE, Bay, DoseLimits, Trip
from safety.kernel import (
    BayEvent,
    Granted,
    Happened,
    Lapsed,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
    apply,
)


@dataclass(frozen=True, slots=True)
class Ticked:
    """The clock was read: the moment, and how far the two job clocks went on.

    ``waited_ms`` is what waits may be credited (the least); ``aged_ms`` is what ages must
    count (the most).
    """

    at: Times
    waited_ms: int
    aged_ms: int


@dataclass(frozen=True, slots=True)
class Opened:
    """The job was opened: who is on its roster, and whether it is practice."""

    practice: bool
    people: tuple[dict[str, Any], ...]
    files: dict[str, str]


@dataclass(frozen=True, slots=True)
class LimitsSet:
    """The worked limits, as one function computed them, with working and input hashes."""

    strict: int
    extended: int
    running: int
    numbers: dict[str, str]
    working: dict[str, Any]
    inputs: dict[str, str]


@dataclass(frozen=True, slots=True)
class Begun:
    """The first of the two marks of a step."""

    step: str


@dataclass(frozen=True, slots=True)
class Done:
    """The second mark: the step is done, with the answer as it was given.

    ``by`` is who did it; empty for a signature, which is no doing.
    """

    step: str
    answer: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Moved:
    """The step that is current now; ``reason`` is next, back, divert or return."""

    step: str
    procedure: str
    reason: str = "next"


@dataclass(frozen=True, slots=True)
class Recorded:
    """Something written down under a name: text, number, reading set, judgement."""

    name: str
    value: dict[str, Any]
    step: str


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature: who, as what, with what meaning, for which step, same or other person."""

    step: str
    person: str
    role: str
    meaning: str
    who: str
    covers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TimerSet:
    """A timer was set: it is due when the credited clock reaches ``due_ms``."""

    name: str
    due_ms: int


@dataclass(frozen=True, slots=True)
class Held:
    """The procedure is held: by stop, a trip or an interruption."""

    why: str


@dataclass(frozen=True, slots=True)
class WentOn:
    """The hold was ended by a deliberate act."""


@dataclass(frozen=True, slots=True)
class AskAgain:
    """Facts that were known and must be looked at again; ``meanwhile`` is the extra question."""

    facts: tuple[str, ...]
    meanwhile: bool


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """The answer to "was anything sprayed, connected or cranked meanwhile?"."""

    answer: str


@dataclass(frozen=True, slots=True)
class Ended:
    """The job has ended: finished or abandoned."""

    how: str


Event = (
    BayEvent
    | Ticked
    | Opened
    | LimitsSet
    | Begun
    | Done
    | Moved
    | Recorded
    | Signed
    | TimerSet
    | Held
    | WentOn
    | AskAgain
    | Meanwhile
    | Ended
)

BAY_EVENTS = (Granted, Happened, Seen, Lapsed, PermitLapsed, Tripped, ResetDone)


@dataclass(frozen=True, slots=True)
class Core:
    """All that decides what may be done: hashable, no time, number, text or name."""

    bay: Bay = field(default_factory=Bay)
    limits: DoseLimits = NO_DOSE
    procedure: str = ""
    step: str = ""
    begun: bool = False
    main_step: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    held: bool = False
    ask_again: tuple[str, ...] = ()
    meanwhile: bool = False
    ended: str = ""

    def choice(self, name: str) -> str | None:
        """The choice made under ``name``, or None."""
        return dict(self.choices).get(name)


@dataclass(frozen=True, slots=True)
class StepMark:
    """One step's two marks as they stand in the log."""

    step: str
    begun_ms: int
    done_ms: int
    answer: str
    by: str


@dataclass(frozen=True, slots=True)
class Log:
    """What was written down. Nothing in it permits anything by itself."""

    practice: bool = False
    people: tuple[dict[str, Any], ...] = ()
    files: dict[str, str] = field(default_factory=dict)
    last: Times | None = None
    waited_ms: int = 0
    aged_ms: int = 0
    set_ms: dict[str, int] = field(default_factory=dict)
    timers: dict[str, int] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    working: dict[str, Any] = field(default_factory=dict)
    records: tuple[Recorded, ...] = ()
    signatures: tuple[Signed, ...] = ()
    marks: tuple[StepMark, ...] = ()
    begun_ms: int = 0
    doers: frozenset[str] = frozenset()

    def latest(self, name: str) -> dict[str, Any] | None:
        """The last thing recorded under ``name``, or None."""
        for record in reversed(self.records):
            if record.name == name:
                return record.value
        return None

    def every(self, name: str) -> tuple[dict[str, Any], ...]:
        """Everything recorded under ``name``, oldest first."""
        return tuple(r.value for r in self.records if r.name == name)

    def number(self, name: str) -> float:
        """A worked number. Raises KeyError while the limits are not set."""
        return float(self.numbers[name])


@dataclass(frozen=True, slots=True)
class Job:
    """One job. A new one knows nothing."""

    core: Core = field(default_factory=Core)
    log: Log = field(default_factory=Log)

    @property
    def bay(self) -> Bay:
        """Shorthand for ``core.bay``."""
        return self.core.bay


def evolve(job: Job, event: Event) -> Job:
    """The job after ``event``. Raises TypeError for what is no event."""
    core, log = job.core, job.log
    match event:
        case Ticked(at, waited_ms, aged_ms):
            return Job(core, replace(log, last=at, waited_ms=waited_ms, aged_ms=aged_ms))
        case Opened(practice, people, files):
            return Job(core, replace(log, practice=practice, people=people, files=files))
        case LimitsSet(strict, extended, running, numbers, working, _):
            limits = DoseLimits(strict, extended, running)
            return Job(replace(core, limits=limits), replace(log, numbers=numbers, working=working))
        case Begun(_):
            return Job(replace(core, begun=True), replace(log, begun_ms=log.aged_ms))
        case Done(step, answer, by):
            mark = StepMark(step, log.begun_ms, log.aged_ms, answer, by)
            doers = log.doers | {by} if by else log.doers
            return Job(
                replace(core, begun=False), replace(log, marks=(*log.marks, mark), doers=doers)
            )
        case Moved(step, procedure, reason):
            main = core.main_step
            if reason == "divert" and not main:
                main = core.step
            if reason == "return":
                main = ""
            return Job(
                replace(core, step=step, procedure=procedure, begun=False, main_step=main), log
            )
        case Recorded(name, value, _):
            choices = core.choices
            if "choice" in value:
                kept = tuple(c for c in choices if c[0] != name)
                choices = tuple(sorted((*kept, (name, str(value["choice"])))))
            return Job(replace(core, choices=choices), replace(log, records=(*log.records, event)))
        case Signed():
            return Job(core, replace(log, signatures=(*log.signatures, event)))
        case TimerSet(name, due_ms):
            return Job(core, replace(log, timers={**log.timers, name: due_ms}))
        case Held(_):
            return Job(replace(core, held=True), log)
        case WentOn():
            return Job(replace(core, held=False), log)
        case AskAgain(facts, meanwhile):
            return Job(replace(core, ask_again=facts, meanwhile=meanwhile), log)
        case Meanwhile(_):
            return Job(replace(core, meanwhile=False), log)
        case Ended(how):
            return Job(replace(core, ended=how, begun=False), log)
        case Granted() | Happened() | Seen() | Lapsed() | PermitLapsed() | Tripped() | ResetDone():
            return _bay_event(job, event)
    raise TypeError(f"no such event: {event!r}")


def _bay_event(job: Job, event: BayEvent) -> Job:
    before = job.core.bay
    after = apply(before, event)
    set_ms = dict(job.log.set_ms)
    for name in Bay.__dataclass_fields__:
        if getattr(after, name) != getattr(before, name):
            set_ms[name] = job.log.aged_ms
    ask_again = job.core.ask_again
    if isinstance(event, Seen):
        set_ms[event.fact] = job.log.aged_ms
        ask_again = tuple(f for f in ask_again if f != event.fact)
    return Job(replace(job.core, bay=after, ask_again=ask_again), replace(job.log, set_ms=set_ms))


def worst(job: Job) -> Trip | None:
    """The latched trip that is worked first."""
    return job.core.bay.worst_trip
