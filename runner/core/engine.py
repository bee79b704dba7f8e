"""``decide``: one pure function from a job and a command to events, or a refusal.

No clock, no disk, no screen, no randomness: the time and the person arrive with the command.
``decide`` runs the time first (timers due, facts too old, permits lapsed), then the command.
"""

from dataclasses import dataclass

from steplatch.safety.bay import FACTS, SPRAYS, Engine, FluidIn, HandTurn, Trip
from steplatch.safety.effects import LASTS_S, RETRY_LASTS_S
from steplatch.safety.interlocks import Refusal
from steplatch.safety.kernel import LOOKED_AT, Happened, Lapsed, PermitLapsed
from steplatch.safety.occurrences import Happening

from . import amend, reports, vehicle
from .clock import Times, age_ms, wait_credit_ms
from .commands import (
    HOLDS,
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    Correct,
    Depart,
    Fill,
    GiveUp,
    GoOn,
    Interrupted,
    Join,
    Look,
    NotApplicable,
    Note,
    Open,
    Report,
    SetAside,
    SetLimits,
    Sign,
    Stop,
    Tick,
    VehicleReport,
    Waive,
)
from .conditions import Undecided, applies
from .draft import Draft, No, go_to, refuse
from .events import AskAgain, Event, Held, LimitsSet, Meanwhile, Moved, Opened, Ticked, WentOn
from .job import Core, Job
from .modes import refused_by_mode
from .plan import ABANDON, Plan
from .procedure import Procedure
from .timers import run_timers

PERMIT_S = 600
ROAD_PERMIT_S = 4 * 3600
"""A permit lapses after this time, in seconds (workshop default; common practice, no source). Ten
minutes are a walk to the engine and the act, and no longer than the shortest life of a fact that a
row reads; four hours are a drive, its readings and the way back."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command led to: events, or refusals (the events are then those of the time)."""

    events: tuple[Event, ...]
    refusals: tuple[Refusal, ...] = ()

    @property
    def refused(self) -> bool:
        """True when the command was refused."""
        return bool(self.refusals)


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
        return Outcome((*timed, *no.events), no.refusals)
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
    run_timers(draft)
    draft.end_waivers(draft.job.log.aged_ms)
    stands = draft.job.bay.permit
    if stands is not None:
        lasts_s = ROAD_PERMIT_S if stands.value == "road_test" else PERMIT_S
        if age is None or draft.job.log.aged_ms - draft.job.log.set_ms["permit"] > lasts_s * 1000:
            draft.add(PermitLapsed())
            draft.step.permit_lapsed(draft)


def _divert(draft: Draft, known: frozenset[Trip]) -> None:
    """A new trip leads to the procedure that answers the worst one that is latched."""
    bay = draft.job.bay
    if bay.trips <= known or draft.job.core.ended or (worst := bay.worst_trip) is None:
        return
    target = draft.plan.answering(worst)
    here = draft.job.core.procedure
    if here == target.id or (here == ABANDON and target.role != "card"):
        return  # who makes safe and abandons goes on with it; an emergency card comes first
    go_to(draft, target)


def _do(draft: Draft, command: Command) -> None:
    core = draft.job.core
    match refused_by_mode(draft.job, command):
        case "":
            pass
        case "ended":
            raise refuse("ended", how=core.ended)
        case "reconfirm":
            raise _reconfirm(core.ask_again)
        case refusal:
            raise refuse(refusal)
    match command:
        case Open(practice, people, files, here):
            draft.add(Opened(practice, people, files, here))
            draft.add(Moved(draft.plan.main.steps()[0].id, draft.plan.main.id, "open"))
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
            draft.add(WentOn())
        case Interrupted(why):
            _interrupt(draft, why)
        case AnswerMeanwhile(answer):
            _meanwhile(draft, answer)
        case Join():
            amend.join(draft, command)
        case Depart():
            amend.depart(draft, command)
        case Look():
            reports.look(draft, command)
        case Report():
            reports.report(draft, command)
        case VehicleReport():
            vehicle.vehicle_report(draft, command)
        case SetAside():
            vehicle.set_aside(draft, command)
        case Back(step):
            _back(draft, step)
        case GiveUp():
            draft.lapse_permit()
            go_to(draft, draft.plan.procedure(ABANDON))
            if draft.job.core.held:
                draft.add(WentOn())
        case Begin() | Answer() | Fill() | Sign():
            _current(core, command.step)
            _work(draft, command)
        case NotApplicable():
            _current(core, command.step)
            amend.not_applicable(draft, command)
        case Correct():
            amend.correct(draft, command)
        case Waive():
            amend.waive(draft, command)
        case Note():
            amend.note(draft, command)


def _work(draft: Draft, command: Begin | Answer | Fill | Sign) -> None:
    """Begin, answer or sign the current step, as its kind does."""
    step = draft.step
    match command:
        case Begin():
            answer = applies(draft.job, step)
            if isinstance(answer, Undecided):
                raise undecided(step.id, answer.fact)
            if not answer:
                draft.move_on()
                return
            draft.lapse_permit()
            step.begin(draft, command)
        case Answer():
            value = command.value.strip()
            if not draft.job.core.begun:
                step.answer_between(draft, value)
            elif not value:
                raise refuse("answer/empty")
            else:
                step.answer(draft, value)
        case Fill():
            step.fill(draft, command)
        case Sign():
            step.sign(draft, command)


def undecided(step: str, fact: str) -> No:
    """The refusal of a step of which nobody can say whether it applies."""
    if fact in FACTS:
        return refuse("branch-unknown", step=step, fact=fact)
    return refuse("branch-unknown/choice", step=step, fact=fact)


def _current(core: Core, step: str) -> None:
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
    vehicle.forget_measured(draft)
    draft.add(Happened(Happening.INTERRUPTED))
    after = draft.job.bay
    lost = (f for f in FACTS if f in LOOKED_AT and before.knows(f) and not after.knows(f))
    again = tuple(sorted(lost, key=lambda f: f != "crew"))  # who is here decides who is where
    draft.add(AskAgain(again, not before.untouched), Held(why if why in HOLDS else "interrupted"))
    marks = draft.job.log.marks
    ids = [step.id for step in draft.procedure.steps()]
    here = ids.index(draft.job.core.step)
    back = draft.job.core.step
    last_done = marks[-1].key if marks else ("", "")
    if last_done[0] == draft.procedure.id and last_done[1] in ids[:here]:
        last = draft.procedure.step(last_done[1])
        if last.looked_again:
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
