"""``decide``: one pure function from a job and a command to events, or a refusal.

No clock, no disk, no screen, no randomness: the time and the person arrive with the command.
``decide`` runs the time first (timers due, facts too old, permits lapsed), then the command.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from steplatch.safety.bay import (
    FACTS,
    SPRAYS,
    Engine,
    FluidIn,
    HandTurn,
    RunOn,
    Soak,
    Trip,
    states_of,
)
from steplatch.safety.checks import moved_on
from steplatch.safety.effects import LASTS_S, RETRY_LASTS_S
from steplatch.safety.interlocks import Ask, Refusal
from steplatch.safety.interlocks.volumes import fluid_count
from steplatch.safety.kernel import (
    LOOKED_AT,
    Granted,
    Happened,
    Lapsed,
    PermitLapsed,
    Tripped,
    permit,
    trips,
)
from steplatch.safety.occurrences import Happening

from .clock import Times, age_ms, wait_credit_ms
from .commands import (
    HOLDS,
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    Correct,
    GiveUp,
    GoOn,
    Interrupted,
    Join,
    Look,
    NotApplicable,
    Note,
    Open,
    Report,
    SetLimits,
    Sign,
    Stop,
    Tick,
    Waive,
)
from .job import (
    BAY_EVENTS,
    AskAgain,
    Done,
    Event,
    Held,
    Job,
    LimitsSet,
    Meanwhile,
    Moved,
    Opened,
    Ticked,
    WaiverLapsed,
    WaiverUsed,
    WentOn,
    evolve,
)
from .procedure import Procedure, SprayStep
from .refusals import refusal

ABANDON = "abandon"
NOT_DUE_MS = 2**53 - 1
"""When a timer is due that nothing has started yet, in ms (the most that JSON keeps exactly)."""

PERMIT_S = 600
ROAD_PERMIT_S = 4 * 3600
"""A permit lapses after this time, in seconds (workshop default; common practice, no source)."""

_REPEATED_AFTER_INTERRUPTION = ("look", "ask", "temperature", "read", "report")


class Judge(Protocol):
    """Works one judgement out: plain JSON with a ``state``, ids and decimals, no sentence."""

    def __call__(self, job: Job, recorded: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """With ``recorded``, the outcome that stands in a record, the numbers are compared with it
        and the classes follow from the recorded ones. Raises ``resolution.Disagreement``."""
        ...


@dataclass(frozen=True, slots=True)
class Judges:
    """The worked judgements, handed in so that the core imports none of their libraries."""

    triage: Judge
    verdict: Judge
    trend: Judge


@dataclass(frozen=True, slots=True)
class Plan:
    """What a job is worked by: the main procedure, the others by id, and the judges.

    ``working`` holds the worked limits line by line, for people: nothing here reads it.
    """

    main: Procedure
    others: Mapping[str, Procedure]
    judges: Judges
    working: Mapping[str, Any] = field(default_factory=dict, compare=False)

    def procedure(self, procedure_id: str) -> Procedure:
        """The main procedure or another by its id. Raises KeyError."""
        return self.main if procedure_id == self.main.id else self.others[procedure_id]

    @property
    def procedures(self) -> tuple[Procedure, ...]:
        """All of them, the main procedure first."""
        return (self.main, *self.others.values())

    def steps(self) -> Iterator[Any]:
        """Every step of every procedure, in order."""
        for procedure in self.procedures:
            yield from procedure.steps()

    def step(self, step_id: str) -> Any | None:
        """The first step with this id, or None."""
        return next((step for step in self.steps() if step.id == step_id), None)

    @property
    def branches_on(self) -> frozenset[str]:
        """The facts and choices that some step's ``when`` reads."""
        return frozenset(condition.fact for step in self.steps() for condition in step.when)

    def answering(self, trip: Trip) -> Procedure:
        """The procedure that answers ``trip``. Raises LookupError when none does."""
        for procedure in self.others.values():
            if trip in procedure.answers:
                return procedure
        raise LookupError(f"no procedure answers the trip {trip.value!r}")


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command led to: events, or refusals (the events are then those of the time)."""

    events: tuple[Event, ...]
    refusals: tuple[Refusal, ...] = ()

    @property
    def refused(self) -> bool:
        """True when the command was refused."""
        return bool(self.refusals)


class No(Exception):  # noqa: N818 - caught inside decide only; a refusal is a value outside
    """Carries refusals from a handler to ``decide``; never leaves this package."""

    def __init__(self, *refusals: Refusal) -> None:
        super().__init__(refusals)
        self.refusals = refusals


def refuse(key: str, **about: str | tuple[str, ...]) -> No:
    """A refusal by the procedure itself, not by an interlock: its id (see ``refusals.WORDS``) and
    the ids, lists of ids, quantised numbers and typed texts that it is about."""
    return No(refusal(key, about))


class Draft:
    """The job as it becomes while one command is decided, and the events so far."""

    def __init__(self, plan: Plan, job: Job, by: str) -> None:
        self.plan = plan
        self.job = job
        self.arrived = job.bay
        self.by = by
        self.events: list[Event] = []

    def add(self, *events: Event) -> None:
        """Apply events in order; the trips that one causes, and the checks that lapse because what
        they were signed upon has moved, follow it at once."""
        for event in events:
            before = self.job.bay
            self.job = evolve(self.job, event)
            self.events.append(event)
            if isinstance(event, BAY_EVENTS) and not isinstance(event, Tripped):
                for trip in trips(before, event, self.job.bay, self.job.core.limits):
                    self.add(Tripped(trip))
                for check in moved_on(before, self.job.bay):
                    self.add(Lapsed(check))

    @property
    def procedure(self) -> Procedure:
        """The procedure that is being worked now."""
        return self.plan.procedure(self.job.core.procedure)

    @property
    def step(self) -> Any:
        """The step that is current now."""
        return self.procedure.step(self.job.core.step)

    def lapse_permit(self) -> None:
        """A permit that the last command did not use lapses."""
        if self.job.bay.permit is not None:
            self.add(PermitLapsed())

    def end_waivers(self, at_ms: int | None = None) -> None:
        """Let waivers lapse: those whose time is over at ``at_ms``, or all of them."""
        for interlock in self.job.core.waived:
            if at_ms is None or at_ms > self.job.log.waived_until_ms(interlock):
                self.add(WaiverLapsed(interlock))

    def grant(self, ask: Ask, *begun: Event) -> None:
        """Permit an act and set the first mark, if there is one, or raise No. A waiver is used up
        by it."""
        core = self.job.core
        refusals = permit(core.bay, ask, core.limits, waived=frozenset(core.waived))
        if refusals:
            raise No(*refusals)
        needed = permit(core.bay, ask, core.limits) if core.waived else ()
        used = [WaiverUsed(refusal.interlock, ask.act.value) for refusal in needed]
        self.add(*begun, *used, Granted(ask.act, ask.dose))

    def done(self, step: str, answer: str, doer: bool = True) -> None:
        """Set the second mark of ``step`` and move on. A signature is no doing."""
        from .signers import work_of

        work = work_of(self.procedure, self.step) if doer else ()
        self.add(Done(step, answer, self.by if doer else "", work))
        self.move_on()

    def move_on(self) -> None:
        """Move to the next step that applies, or to the first that cannot be decided.

        A condition that reads an unknown fact is never a branch: the job stands at that step,
        the fact is asked for, and ``Begin`` is refused until it is known.
        """
        steps = self.procedure.steps()
        ids = [step.id for step in steps]
        for step in steps[ids.index(self.job.core.step) + 1 :]:
            answer = applies(self.job, step)
            if answer is False:
                continue
            self.add(Moved(step.id, self.procedure.id))
            core = self.job.core
            if isinstance(answer, Undecided) and answer.fact in LOOKED_AT:
                self.add(AskAgain((*core.ask_again, answer.fact), core.meanwhile))
            return
        raise refuse("no-further-step")


@dataclass(frozen=True, slots=True)
class Undecided:
    """Whether a step applies cannot be said: ``fact`` (or choice) is not known."""

    fact: str


def applies(job: Job, step: Any) -> bool | Undecided:
    """Whether ``step`` applies now: all its conditions hold.

    One condition that is known not to hold settles it; otherwise an unknown one leaves it open.
    """
    undecided: Undecided | None = None
    for condition in step.when:
        fact, among = condition.fact, condition.among
        if fact == "fluid_count":
            known, holds = True, fluid_count(job.bay, job.core.limits) in among
        elif fact in FACTS:
            known, holds = job.bay.knows(fact), job.bay.among(fact, states_of(fact, among))
        else:
            known, holds = job.core.chose(fact), job.core.chose(fact, among)
        if not known:
            undecided = undecided or Undecided(fact)
        elif not holds:
            return False
    return undecided or True


def decide(plan: Plan, job: Job, command: Command, at: Times, by: str) -> Outcome:
    """What ``command``, given by ``by`` at ``at``, leads to. Pure."""
    draft = Draft(plan, job, by)
    tripped = job.bay.trips
    _tick(draft, at)
    _divert(draft, tripped)
    timed = tuple(draft.events)
    tripped = draft.job.bay.trips
    try:
        _do(draft, command)
    except No as no:
        return Outcome(timed, no.refusals)
    _divert(draft, tripped)
    return Outcome(tuple(draft.events))


def _tick(draft: Draft, at: Times) -> None:
    log = draft.job.log
    if log.last is None:
        draft.add(Ticked(at, 0, 0))
        return
    waited = log.waited_ms + wait_credit_ms(log.last, at)
    age = age_ms(log.last, at)
    draft.add(Ticked(at, waited, log.aged_ms + (age or 0)))
    for fact, lasts_s in LASTS_S.items():
        job = draft.job
        old_ms = job.log.aged_ms - job.log.set_ms.get(fact, 0)
        if age is not None and old_ms <= min(lasts_s, RETRY_LASTS_S) * 1000:
            continue  # whatever its state, it cannot be too old
        if not job.bay.knows(fact):
            continue
        if fact == "hand_turn" and job.bay.hand_turn is HandTurn.RETRY:
            lasts_s = RETRY_LASTS_S
        if age is None or old_ms > lasts_s * 1000:
            draft.add(Lapsed(fact))
    _timers(draft)
    draft.end_waivers(draft.job.log.aged_ms)
    stands = draft.job.bay.permit
    if stands is not None:
        lasts_s = ROAD_PERMIT_S if stands.value == "road_test" else PERMIT_S
        if age is None or draft.job.log.aged_ms - draft.job.log.set_ms["permit"] > lasts_s * 1000:
            draft.add(PermitLapsed())
            if draft.job.core.begun and isinstance(draft.step, SprayStep):
                draft.add(Moved(draft.step.id, draft.procedure.id, "again"))


def _timers(draft: Draft) -> None:
    log, bay = draft.job.log, draft.job.bay
    if log.waited_ms >= log.timers.get("soak", NOT_DUE_MS) and bay.soak is Soak.RUNNING:
        draft.add(Happened(Happening.SOAK_DUE))
    drying_due(draft)


def drying_due(draft: Draft) -> None:
    """Credit the drying run when its time is over and the last exhaust reading still counts."""
    log, bay = draft.job.log, draft.job.bay
    over = log.waited_ms >= log.timers.get("run_on", NOT_DUE_MS)
    if over and bay.run_on is RunOn.RUNNING and bay.knows("port"):
        draft.add(Happened(Happening.RUN_ON_DUE))


def _divert(draft: Draft, known: frozenset[Trip]) -> None:
    """A new trip leads to the procedure that answers the worst one that is latched."""
    worst = draft.job.bay.worst_trip
    if worst is None or draft.job.bay.trips <= known or draft.job.core.ended:
        return
    target = draft.plan.answering(worst)
    here = draft.job.core.procedure
    if here == target.id or (here == ABANDON and target.role != "card"):
        return  # who makes safe and abandons goes on with it; an emergency card comes first
    go_to(draft, target)


def go_to(draft: Draft, target: Procedure) -> None:
    """Leave the procedure that is current for the first step of ``target``."""
    draft.add(Moved(target.steps()[0].id, target.id, "divert"))


def _do(draft: Draft, command: Command) -> None:
    from . import amend
    from . import step_kinds as steps

    core = draft.job.core
    if isinstance(command, Open):
        if core.opened:
            raise refuse("open-once")
        draft.add(Opened(command.practice, command.people, command.files, command.here))
        draft.add(Moved(draft.plan.main.steps()[0].id, draft.plan.main.id, "open"))
        return
    if not core.opened:
        raise refuse("not-open")
    if core.ended and not isinstance(command, Tick):
        raise refuse("ended", how=core.ended)
    match command:
        case Tick():
            pass
        case SetLimits(strict, extended, running, numbers, inputs):
            if draft.job.log.numbers:
                raise refuse("limits-once")
            draft.add(LimitsSet(strict, extended, running, numbers, inputs))
        case Stop(why):
            if draft.job.bay.permit not in SPRAYS:
                draft.lapse_permit()
            draft.add(Held(why if why in HOLDS else "stop"))
        case GoOn():
            if not core.held:
                raise refuse("not-held")
            draft.add(WentOn())
        case Interrupted(why):
            _interrupt(draft, why)
        case AnswerMeanwhile(answer):
            _meanwhile(draft, answer)
        case Join():
            amend.join(draft, command)
        case Look():
            steps.look(draft, command)
        case Report():
            steps.report(draft, command)
        case Back(step):
            _back(draft, step)
        case GiveUp():
            draft.lapse_permit()
            go_to(draft, draft.plan.procedure(ABANDON))
            if draft.job.core.held:
                draft.add(WentOn())
        case Begin() | Answer() | Sign():
            _ready(draft, command.step)
            steps.work(draft, command)
        case NotApplicable():
            _ready(draft, command.step)
            amend.not_applicable(draft, command)
        case Correct():
            amend.correct(draft, command)
        case Waive():
            amend.waive(draft, command)
        case Note():
            amend.note(draft, command)


def _ready(draft: Draft, step: str) -> None:
    core = draft.job.core
    if not draft.job.log.numbers:
        raise refuse("no-limits")
    if core.held:
        raise refuse("held")
    if core.meanwhile or core.ask_again:
        raise _reconfirm(core.ask_again)
    if step != core.step:
        raise refuse("out-of-order", step=step, due=core.step)


def _reconfirm(facts: tuple[str, ...]) -> No:
    if not facts:
        return refuse("reconfirm/meanwhile")
    return refuse("reconfirm", facts=facts)


def _interrupt(draft: Draft, why: str) -> None:
    before = draft.arrived  # what has lapsed meanwhile is asked again as well
    draft.lapse_permit()
    draft.end_waivers()
    draft.add(Happened(Happening.INTERRUPTED))
    after = draft.job.bay
    lost = (f for f in FACTS if f in LOOKED_AT and before.knows(f) and not after.knows(f))
    again = tuple(sorted(lost, key=lambda f: f != "crew"))  # who is here decides who is where
    draft.add(AskAgain(again, not before.untouched), Held(why if why in HOLDS else "interrupted"))
    marks = draft.job.log.marks
    ids = [step.id for step in draft.procedure.steps()]
    here = ids.index(draft.job.core.step)
    back = draft.job.core.step
    if marks and marks[-1].step in ids[:here]:
        last = draft.procedure.step(marks[-1].step)
        if last.kind in _REPEATED_AFTER_INTERRUPTION:
            back = last.id
    draft.add(Moved(back, draft.procedure.id, "again"))


def _meanwhile(draft: Draft, answer: str) -> None:
    if answer not in ("no", "yes", "unknown"):
        raise refuse("answer/meanwhile", typed=answer)
    draft.add(Meanwhile(answer))
    if answer != "no":
        draft.add(Happened(Happening.OVERDOSED, None))


def _back(draft: Draft, step: str) -> None:
    ids = [s.id for s in draft.procedure.steps()]
    if step not in ids or ids.index(step) >= ids.index(draft.job.core.step):
        raise refuse("back", step=step)
    if over_a_spray(draft.procedure, draft.job, step):
        raise refuse("back/fluid")
    draft.lapse_permit()
    draft.add(Moved(step, draft.procedure.id, "back"))


def over_a_spray(procedure: Procedure, job: Job, step: str) -> bool:
    """Whether fluid may be in and going back to ``step`` leads over a spray: it is not gone back
    to. At a running spray whose engine runs the looks before it are made again; stopped there,
    the way on is the refit."""
    if job.bay.fluid_in is FluidIn.NO:
        return False
    running = job.bay.engine in (Engine.IDLING, Engine.RAISED)
    target, here = procedure.place(step), procedure.place(job.core.step)
    return any(target < at < here + (not running) for at in procedure.sprays())
