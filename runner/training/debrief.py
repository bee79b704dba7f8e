"""The debrief of a practice job: what was refused and why, what it spared, what was so in truth.

All of it is derived from the record and from what lies beside it (``practice.json``), so that it
can be read again at any time. Nobody is praised, ranked or compared: it says what happened.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, TypeVar

from steplatch.safety.bay import FluidIn, Trip
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.kernel import ResetDone, Tripped

from ..assess.plausibility import doubted_about
from ..core.attention import LOOKED, QUICK_MS
from ..core.events import Done, Moved, Opened, StepKey
from ..core.job import Job
from ..core.plan import Plan
from ..core.refusals import recorded
from ..input.findings import shown
from ..input.strict_yaml import load_text, validate
from ..jobs.projection import BrokenJob, Journal, typed
from ..jobs.store import bundle_of
from ..record import JobFolder
from ..screen.asking import clock_text
from ..simulator.faults import FAULTS, setup_with
from ..simulator.observation import Truth
from . import found
from .exercise import Exercise
from .found import Against
from .memory import KeptPractice, kept_of
from .replay import ReplayMoment, moments
from .what_if import cranked, had_it_been_permitted

T = TypeVar("T")


class NoDebrief(RuntimeError):  # noqa: N818 - it names what is missing
    """This job has no debrief; says why."""


@dataclass(frozen=True, slots=True)
class DebriefRefusal:
    """A request that was refused. ``otherwise`` is what would have come of it, '' where the
    simulated vehicle has nothing to say; ``times`` how often it was asked in a row."""

    at: str
    asked: str
    reason: str
    remedy: str
    source: str
    interlock: str
    otherwise: str
    times: int = 1


@dataclass(frozen=True, slots=True)
class TripWorked:
    """A trip that latched. ``true`` is what a crank would have met at that moment."""

    at: str
    trip: str
    cause: str
    true: str
    counted_ml: float | None
    answered: tuple[str, ...] = ()
    reset_at: str = ""


@dataclass(frozen=True, slots=True)
class Quick:
    """A step answered by looking whose two marks lie closer than a look takes."""

    step: str
    seconds: float


@dataclass(frozen=True, slots=True)
class StageTime:
    """Minutes in a stage: by the vehicle's clock, and by this computer's own (None: not kept)."""

    procedure: str
    stage: str
    practice_min: float
    own_min: float | None


@dataclass(slots=True)
class Debrief:
    """All that is said at the end. ``noticed`` is what an exercise asked for, and whether the
    record shows it."""

    job: str
    ended: str
    lesson: str
    plays_itself: bool
    faults: tuple[str, ...]
    exercise: str = ""
    set_by: str = ""
    as_set: bool | None = None
    noticed: list[tuple[str, bool]] = field(default_factory=list)
    limits_ml: tuple[float, float] = (0.0, 0.0)
    refused: list[DebriefRefusal] = field(default_factory=list)
    trips: list[TripWorked] = field(default_factory=list)
    mishaps: list[str] = field(default_factory=list)
    against: list[Against] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    quick: list[Quick] = field(default_factory=list)
    stages: list[StageTime] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        """The same as plain values, with what each fault is."""
        plain = asdict(self)
        plain["faults"] = [
            {"name": n, "is": FAULTS[n].line, "teaches": FAULTS[n].teaches} for n in self.faults
        ]
        plain["noticed"] = [{"what": what, "noticed": shown} for what, shown in self.noticed]
        return plain


def debrief_of(folder: JobFolder, now: bool = False) -> Debrief:
    """The debrief of a practice job. ``now``: also of one that still goes on.

    Raises NoDebrief for a real job and for one that goes on; BrokenJob as ``store`` does.
    """
    lines = Journal.of(folder).sound().lines
    bundle = bundle_of(folder, lines)
    kept = kept_of(folder)
    opened = next(typed(lines)).events
    if kept is None or not any(isinstance(e, Opened) and e.practice for e in opened):
        raise NoDebrief(
            _(
                "{id} is a real job: there is no debrief, since nobody knows what was so "
                "inside. Its sheet says what was measured: steplatch sheet ",
                id=folder.id,
            )
            + folder.id
        )
    teller = _Teller(bundle.plan, kept, Debrief(folder.id, "", kept.about.lesson,
                     kept.about.plays_itself, kept.faults))  # fmt: skip
    for moment in moments(lines, kept, bundle):
        _told(folder, moment, teller.tell)
    job = moment.after
    if not job.core.ended and not now:
        raise NoDebrief(
            _(
                "{id} still goes on, and its debrief would spoil it: it says what is wrong "
                "with the vehicle. Work it to its end, or ask again with --now.",
                id=folder.id,
            )
        )
    return _told(folder, moment, teller.end)


def _told(folder: JobFolder, moment: ReplayMoment, tell: Callable[[ReplayMoment], T]) -> T:
    """What ``tell`` makes of a moment. Raises BrokenJob: the acts beside the record, and what it
    says, may be a stranger's."""
    try:
        return tell(moment)
    except Exception as error:
        seq = moment.line.envelope.seq
        raise BrokenJob(
            _(
                "line {seq}: what stands there cannot be told ({name__}: {shown}); is it as "
                "it was written? See: steplatch audit {id}",
                seq=seq,
                name__=type(error).__name__,
                shown=shown(error),
                id=folder.id,
            )
        ) from error


class _Teller:
    """Walks the record once and fills the debrief."""

    def __init__(self, plan: Plan, kept: KeptPractice, debrief: Debrief) -> None:
        self.plan, self.kept, self.out = plan, kept, debrief
        self.given_ml = 0.0
        self.dry: Truth | None = None
        self.typed: list[Against] = []
        self.begun: tuple[StepKey, int | None] = (("", ""), None)
        self.spent: dict[tuple[str, str], list[float | None]] = {}
        self.last: ReplayMoment | None = None
        self.last_ms: tuple[int, int | None] = (0, None)

    def tell(self, moment: ReplayMoment) -> None:
        """One line of the record."""
        self._time(moment)
        if moment.before.bay.fluid_in is FluidIn.NO or self.dry is None:
            self.dry = moment.vehicle.truth() if moment.vehicle.truth().running else self.dry
        self._refused(moment)
        self._trips(moment)
        self._records(moment)
        self._quick(moment)

    def end(self, moment: ReplayMoment) -> Debrief:
        """What can be said only once the record was read to its end."""
        job, out, truth = moment.after, self.out, moment.vehicle.truth()
        out.ended = job.core.ended or _("goes on")
        out.limits_ml = (job.core.limits.strict / 10, job.core.limits.extended / 10)
        out.mishaps = [m.words for m in truth.mishaps]
        setup = setup_with(*self.kept.faults)
        out.against = [*found.answers(job, setup), *self.typed]
        out.against += found.verdict(job, self.dry, truth)
        out.missed = list(_missed(job))
        out.stages = [
            StageTime(of, title, (spent[0] or 0.0), spent[1])
            for (of, title), spent in self.spent.items()
        ]
        if self.kept.about.exercise:
            self._exercise(job)
        return out

    def _exercise(self, job: Job) -> None:
        exercise = validate(load_text(self.kept.about.exercise, _("the job's exercise")), Exercise)
        self.out.exercise, self.out.set_by = exercise.title, exercise.set_by
        self.out.as_set = job.core.ended in exercise.ends
        due = exercise.due(self.kept.faults)
        self.out.noticed = [(notice.what, notice.noticed(job)) for notice in due]

    # -- one line --------------------------------------------------------------------------

    def _refused(self, moment: ReplayMoment) -> None:
        refused = moment.line.outcome["refused"]
        command = moment.line.command
        if not refused:
            return
        first = recorded(refused[0])
        asked = _asked(self.plan, moment.before, command)
        before = self.out.refused[-1] if self.out.refused else None
        if before is not None and (before.asked, before.interlock) == (asked, first.interlock):
            again = {**asdict(before), "times": before.times + 1}
            self.out.refused[-1] = DebriefRefusal(**again)
            return
        otherwise = ""
        if command["kind"] == "Begin":
            step = self.plan.procedure(moment.before.core.procedure).step(moment.before.core.step)
            otherwise = had_it_been_permitted(
                moment.a_copy(), step, str(command.get("seconds", ""))
            )
        self.out.refused.append(
            DebriefRefusal(
                _clock(moment), asked, first.reason, first.remedy, first.source,
                first.interlock, otherwise,
            )
        )  # fmt: skip

    def _trips(self, moment: ReplayMoment) -> None:
        for event in moment.events:
            if isinstance(event, Tripped):
                self._tripped(moment, event.trip)
            elif isinstance(event, ResetDone):
                self._answered(event.trip, "reset_at", _clock(moment))
            elif isinstance(event, Moved) and event.reason in ("divert", "return"):
                worst = moment.after.bay.worst_trip
                if event.reason == "divert" and worst is not None:
                    title = self.plan.procedure(event.procedure).title
                    self._answered(worst, "answered", title)

    def _tripped(self, moment: ReplayMoment, trip: Trip) -> None:
        wet = moment.after.bay.wet
        true = "" if moment.vehicle.truth().running else cranked(moment.a_copy())
        cause = str(moment.line.command.get("what") or moment.line.command["kind"])
        self.out.trips.append(
            TripWorked(
                _clock(moment), spoken(trip.value), spoken(cause).lower(),
                true, None if wet is None else wet / 10,
            )
        )  # fmt: skip

    def _answered(self, trip: Trip, name: str, value: str) -> None:
        known = spoken(trip.value)
        for number in reversed(range(len(self.out.trips))):
            worked = self.out.trips[number]
            if worked.trip == known and not worked.reset_at:
                new: Any = value if name == "reset_at" else (*worked.answered, value)
                self.out.trips[number] = TripWorked(**{**asdict(worked), name: new})
                return

    def _records(self, moment: ReplayMoment) -> None:
        """What was typed on this line, against the vehicle as it stands."""
        known = len(moment.before.log.records)
        for record in moment.after.log.records[known:]:
            if record.name == "reading":
                self.typed += found.readings(moment, record.value)
            elif record.name == "exhaust":
                self.typed += found.temperature(moment, record.value)
            elif record.name == "spray":
                given_ml = moment.given_ml - self.given_ml
                self.typed.append(found.spray(moment, given_ml, moment.before))
        if moment.line.command["kind"] in ("Begin", "Report") or known == 0:
            self.given_ml = moment.given_ml

    def _quick(self, moment: ReplayMoment) -> None:
        """By this computer's own clock, which does not jump."""
        if self.kept.about.plays_itself or moment.own_ms is None:
            return
        if moment.line.command["kind"] == "Begin":
            core = moment.after.core
            self.begun = ((core.procedure, core.step), moment.own_ms)
        for event in moment.events:
            if not isinstance(event, Done):
                continue
            key = (event.procedure, event.step)
            if key == self.begun[0] and self.begun[1]:
                took_ms = moment.own_ms - self.begun[1]
                step = self.plan.step(*key)
                if step is not None and step.kind in LOOKED and 0 <= took_ms < QUICK_MS:
                    self.out.quick.append(Quick(step.do, took_ms / 1000))

    def _time(self, moment: ReplayMoment) -> None:
        """The time since the last line goes to the stage that the job stood in."""
        job = moment.before
        aged_ms, own_ms = moment.after.log.aged_ms, moment.own_ms
        was_ms, was_own = self.last_ms
        self.last_ms = (aged_ms, own_ms)
        if not job.core.opened:
            return
        procedure = self.plan.procedure(job.core.procedure)
        _, stage, _ = procedure.stage_of(job.core.step)
        of = "" if procedure.role == "main" else procedure.title
        spent = self.spent.setdefault((of, stage.title), [0.0, 0.0])
        spent[0] = (spent[0] or 0.0) + (aged_ms - was_ms) / 60000
        if own_ms is None or was_own is None or self.kept.about.plays_itself:
            spent[1] = None
        elif spent[1] is not None and own_ms >= was_own:
            spent[1] += (own_ms - was_own) / 60000


def _asked(plan: Plan, job: Job, command: Mapping[str, Any]) -> str:
    """What was asked for, in the words of its step."""
    kind = str(command["kind"])
    if "step" in command and job.core.opened:
        step = plan.step(job.core.procedure, str(command["step"]))
        if step is not None:
            seconds = command.get("seconds", "")
            text = f"{step.do.rstrip('.')}, {seconds} s" if seconds else str(step.do)
            return (
                text
                if kind in ("Begin", "Sign")
                else _("{text} (answer '{command}')", text=text, command=command.get("value"))
            )
    said = {"Back": _("go back"), "Waive": "waive", "Correct": "correct", "GoOn": _("go on")}
    return f"{said.get(kind, kind.lower())} {command.get('interlock') or command.get('name') or ''}"


def _missed(job: Job) -> list[str]:
    """Sets that are not there, doubted ones, what was left out and what was put right."""
    out = []
    for phase in ("before", "after"):
        have = {str(plain["condition"]) for plain in job.log.readings(phase)}
        if have and len(have) < 3:
            lacking = ", ".join(sorted({"raised", "idle", "zero"} - have))
            out.append(_("not read: {phase}, {lacking}", phase=phase, lacking=lacking))
    sprayed = job.log.latest("spray") is not None
    if sprayed and not job.log.readings("after"):
        out.append(_("not read: the whole 'after' set"))
    for note in job.log.every("doubted"):
        out.append(f"doubted: {note['typed']} ({doubted_about(note)})")
    for left in job.log.not_applicable:
        out.append(
            _("left as not applicable: {step} ({reason})", step=left.step, reason=left.reason)
        )
    for put in job.log.corrections:
        out.append(_("corrected afterwards: {name} ({reason})", name=put.name, reason=put.reason))
    return out


def _clock(moment: ReplayMoment) -> str:
    return clock_text(moment.line.envelope.times)[:5]
