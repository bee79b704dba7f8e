"""A job: what is known (``Core``), what was written down (``Log``), and how events change both.

``Core`` is finite and hashable: the bay, the position, the choices. ``Log`` holds readings,
signatures, typed text, times and timers. ``evolve`` is the only way either changes; it reads
no clock, disk or screen, so that folding the recorded events gives the same job again.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Any, Final

from steplatch.safety.bay import NO_DOSE, Bay, DoseLimits, Trip
from steplatch.safety.checks import ADDS_UP, EVERYTHING
from steplatch.safety.kernel import BayEvent, Seen, apply
from steplatch.safety.measured import NOTHING_MEASURED, Measured

from .clock import Times
from .events import (
    BAY_EVENTS,
    AskAgain,
    Begun,
    ChannelSetAside,
    Corrected,
    Departed,
    Done,
    Ended,
    Event,
    Held,
    Joined,
    LimitsSet,
    MarkedNotApplicable,
    Meanwhile,
    MeasuredNow,
    Moved,
    Opened,
    Recorded,
    Signed,
    StepKey,
    Ticked,
    TimerSet,
    Waived,
    WaiverLapsed,
    WaiverUsed,
    WentOn,
)


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
    waived: tuple[str, ...] = ()
    measured: Measured = NOTHING_MEASURED
    set_aside: tuple[str, ...] = ()

    def choice(self, name: str) -> str | None:
        """The choice made under ``name``, or None."""
        return dict(self.choices).get(name)

    def chose(self, name: str, among: tuple[str, ...] = ()) -> bool:
        """Whether a choice was made under ``name``, and (where given) one ``among`` these."""
        value = self.choice(name)
        return value is not None and (not among or value in among)

    def choosing(self, name: str, value: str) -> "Core":
        """The core with the choice ``value`` made under ``name``."""
        kept = tuple(c for c in self.choices if c[0] != name)
        return replace(self, choices=tuple(sorted((*kept, (name, value)))))

    def leaving(self) -> "Core":
        """The core that keeps the step of the main procedure that is left here."""
        return replace(self, main_step=self.step)

    @property
    def opened(self) -> bool:
        """Whether the job was opened."""
        return bool(self.step)

    @property
    def diverted(self) -> bool:
        """Whether the main procedure was left for another."""
        return bool(self.main_step)

    def left_before(self, place: int, place_of: Callable[[str], int]) -> bool:
        """Whether the main procedure was left at a step that stands before ``place`` in it."""
        return place_of(self.main_step) < place


@dataclass(frozen=True, slots=True)
class StepMark:
    """One step's two marks as they stand in the log."""

    step: str
    begun_ms: int
    done_ms: int
    answer: str
    by: str
    procedure: str

    @property
    def key(self) -> StepKey:
        """The step that was done."""
        return self.procedure, self.step


@dataclass(frozen=True, slots=True)
class Log:
    """What was written down. Nothing in it permits anything by itself.

    ``here`` are the people who are here, by id: while it is empty, all of ``people``. ``told`` are
    those whose role was only told. ``worked`` says who did which work that checks look at.
    ``engine_from_ms`` is when the engine came to where it is, by the clock of waits.
    ``records`` are as they stand after corrections; ``corrections`` hold what stood before.
    """

    practice: bool = False
    people: tuple[dict[str, Any], ...] = ()
    here: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    files: dict[str, str] = field(default_factory=dict)
    last: Times | None = None
    waited_ms: int = 0
    aged_ms: int = 0
    set_ms: dict[str, int] = field(default_factory=dict)
    engine_from_ms: int = 0
    timers: dict[str, int] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    records: tuple[Recorded, ...] = ()
    signatures: tuple[Signed, ...] = ()
    marks: tuple[StepMark, ...] = ()
    begun_ms: int = 0
    doers: frozenset[str] = frozenset()
    worked: frozenset[tuple[str, str]] = frozenset()
    last_signed: tuple[str, int] | None = None
    corrections: tuple[Corrected, ...] = ()
    not_applicable: tuple[MarkedNotApplicable, ...] = ()
    waivers: tuple[Waived | WaiverUsed | WaiverLapsed, ...] = ()

    def but(self, **changes: Any) -> "Log":
        """This log with other values: as ``dataclasses.replace``, twice as quick, since every event
        of a record makes one. Raises AttributeError for a name that a log does not have."""
        after = object.__new__(Log)
        for put, value in zip(_PUTS, _VALUES(self), strict=True):
            put(after, value)
        for name, value in changes.items():
            object.__setattr__(after, name, value)
        return after

    def stamped(self, before: Bay, after: Bay, seen: str = "") -> "Log":
        """The log with the time of now for all in the bay that moved, and for what was seen."""
        moved = [n for n in Bay.__dataclass_fields__ if n == seen or after.moved(before, n)]
        return replace(
            self,
            set_ms={**self.set_ms, **dict.fromkeys(moved, self.aged_ms)},
            engine_from_ms=self.waited_ms if "engine" in moved else self.engine_from_ms,
        )

    def latest(self, name: str) -> dict[str, Any] | None:
        """The last thing recorded under ``name``, or None."""
        for record in reversed(self.records):
            if record.name == name:
                return record.value
        return None

    def every(self, name: str) -> tuple[dict[str, Any], ...]:
        """Everything recorded under ``name``, oldest first."""
        return tuple(r.value for r in self.records if r.name == name)

    def named(self, *names: str) -> Sequence[Recorded]:
        """The records under these names, oldest first."""
        return tuple(record for record in self.records if record.name in names)

    def joined(self, person: dict[str, Any], told: bool) -> "Log":
        """The log with one person more on the job."""
        name = str(person["id"])
        known = any(p["id"] == name for p in self.people)
        people = self.people if known else (*self.people, person)
        here = (*self.here, name) if self.here and name not in self.here else self.here
        return replace(
            self, people=people, here=here, told=(*self.told, name) if told else self.told
        )

    def corrected(self, event: Corrected) -> "Log":
        """The log with one record as it should read."""
        places = [i for i, record in enumerate(self.records) if record.name == event.name]
        records = list(self.records)
        place = places[event.number]
        records[place] = replace(records[place], value=event.now)
        return replace(self, records=tuple(records), corrections=(*self.corrections, event))

    def did(self, by: str, work: Iterable[str]) -> "Log":
        """The log with ``by`` as who did ``work``: in place of others, where it does not add up."""
        ended = frozenset(work) - ADDS_UP - {EVERYTHING}
        kept = frozenset((what, who) for what, who in self.worked if what not in ended)
        worked = kept | {(what, by) for what in work}
        return self.but(doers=self.doers | {by}, worked=worked)

    def was_done_by(self, what: str, person: str) -> bool:
        """Whether ``person`` stands as who did this work."""
        return (what, person) in self.worked

    def was_signed(self, meaning: str, procedure: str = "") -> bool:
        """Whether a signature with this meaning was given, in this procedure where one is named."""
        return any(s.meaning == meaning and procedure in ("", s.procedure) for s in self.signatures)

    def readings(self, phase: str) -> tuple[dict[str, Any], ...]:
        """Every reading set of ``phase``, oldest first."""
        return tuple(plain for plain in self.every("reading") if plain["phase"] == phase)

    def waived_until_ms(self, interlock: str) -> int:
        """Until when the latest waiver of ``interlock`` stands, by the clock of ages."""
        until = [w.until_ms for w in self.waivers if isinstance(w, Waived)
                 and w.interlock == interlock]  # fmt: skip
        return until[-1] if until else 0

    def number(self, name: str) -> float:
        """A worked number. Raises KeyError while the limits are not set."""
        return float(self.numbers[name])


_FIELDS: Final = tuple(Log.__dataclass_fields__)
_PUTS: Final = tuple(getattr(Log, name).__set__ for name in _FIELDS)
_VALUES: Final = attrgetter(*_FIELDS)


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
            return Job(core, log.but(last=at, waited_ms=waited_ms, aged_ms=aged_ms))
        case Opened(practice, people, files, here):
            return Job(core, log.but(practice=practice, people=people, files=files, here=here))
        case Joined(person, told):
            return Job(core, log.joined(person, told))
        case Departed(_, here):
            return Job(core, log.but(here=here))
        case LimitsSet(strict, extended, running, numbers, _):
            limits = DoseLimits(strict, extended, running)
            return Job(replace(core, limits=limits), log.but(numbers=numbers))
        case Begun():
            return Job(replace(core, begun=True), log.but(begun_ms=log.aged_ms))
        case Done(step, answer, by, work, procedure=procedure):
            mark = StepMark(step, log.begun_ms, log.aged_ms, answer, by, procedure)
            log = log.but(marks=(*log.marks, mark))
            return Job(replace(core, begun=False), log.did(by, work) if by else log)
        case Moved(step, procedure, reason):
            if reason == "divert" and not core.diverted:
                core = core.leaving()
            core = replace(core, step=step, procedure=procedure, begun=False)
            return Job(replace(core, main_step="") if reason == "return" else core, log)
        case Recorded(name, value):
            if "choice" in value:
                core = core.choosing(name, str(value["choice"]))
            return Job(core, log.but(records=(*log.records, event)))
        case Signed(person=person):
            signatures = (*log.signatures, event)
            return Job(core, log.but(signatures=signatures, last_signed=(person, log.aged_ms)))
        case Corrected():
            return _corrected(job, event)
        case MarkedNotApplicable():
            return Job(core, log.but(not_applicable=(*log.not_applicable, event)))
        case Waived(interlock):
            waived = tuple(sorted({*core.waived, interlock}))
            return Job(replace(core, waived=waived), log.but(waivers=(*log.waivers, event)))
        case WaiverUsed(interlock) | WaiverLapsed(interlock):
            waived = tuple(w for w in core.waived if w != interlock)
            return Job(replace(core, waived=waived), log.but(waivers=(*log.waivers, event)))
        case TimerSet(name, due_ms):
            return Job(core, log.but(timers={**log.timers, name: due_ms}))
        case Held(_):
            return Job(replace(core, held=True), log)
        case WentOn():
            return Job(replace(core, held=False), log)
        case AskAgain(facts, meanwhile):
            return Job(replace(core, ask_again=facts, meanwhile=meanwhile), log)
        case Meanwhile(_):
            return Job(replace(core, meanwhile=False), log)
        case MeasuredNow(fact, state):
            return Job(replace(core, measured=core.measured.now(fact, state)), log)
        case ChannelSetAside(channel):
            measured, aside = core.measured.without(channel), (*core.set_aside, channel)
            return Job(replace(core, measured=measured, set_aside=aside), log)
        case Ended(how):
            return Job(replace(core, ended=how, begun=False), log)
    if isinstance(event, BAY_EVENTS):
        return _bay_event(job, event)
    raise TypeError(f"no such event: {event!r}")


def _corrected(job: Job, event: Corrected) -> Job:
    """The record as corrected. A choice in ``Core``, which no branch reads, becomes the new one."""
    core, log = job.core, job.log
    last = event.number == len(log.named(event.name)) - 1
    if last and core.choice(event.name) is not None:
        core = core.choosing(event.name, str(event.now["choice"]))
    return Job(core, log.corrected(event))


def _bay_event(job: Job, event: BayEvent) -> Job:
    before = job.core.bay
    after = apply(before, event)
    core = replace(job.core, bay=after)
    log = job.log.stamped(before, after, event.fact if isinstance(event, Seen) else "")
    if isinstance(event, Seen):
        core = replace(core, ask_again=tuple(f for f in core.ask_again if f != event.fact))
    return Job(core, log)


def worst(job: Job) -> Trip | None:
    """The latched trip that is worked first."""
    return job.core.bay.worst_trip
