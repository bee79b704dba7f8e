"""What may be done or answered in a state of the proof: the commands that it tries there."""

from collections.abc import Iterator
from typing import Any

from steplatch.safety.bay import (
    FACTS,
    SPRAYS,
    Act,
    Bay,
    Engine,
    FluidIn,
    Gun,
    Hose,
    Rate,
    RunOn,
    Soak,
    State,
    states_of,
)
from steplatch.safety.interlocks import INTERLOCKS, WAIVABLE, Both, Condition, Either, Is, Rule
from steplatch.safety.kernel import LOOKED_AT, free_move
from steplatch.safety.occurrences import OUTCOMES, Happening

from ..core.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    GiveUp,
    GoOn,
    Look,
    Report,
    Sign,
    Tick,
    Waive,
)
from ..core.conditions import applies
from ..core.job import Job
from ..core.plan import Plan
from ..core.reports import cut_short
from ..core.steps import (
    ActStep,
    AskStep,
    EndStep,
    GunStep,
    HoldStep,
    JudgeStep,
    LookStep,
    ReadStep,
    ReportStep,
    ResetStep,
    SignStep,
    SprayStep,
    TemperatureStep,
    WaitStep,
)
from .disturbances import mishaps
from .tries import (
    CAME_OUT,
    CHECKER,
    CHOSEN,
    COLD,
    CUSTOMER,
    HOT,
    LINES,
    LOAD,
    PHYSICAL,
    SECONDS,
    SHOTS,
    TEMPERATURES,
    TREND,
    TRIAGE,
    WORKER,
    YOUNG,
    Scenario,
    Try,
)

H = Happening


def wanted() -> dict[str, frozenset[State]]:
    """For each fact, the states that some row asks for."""
    found: dict[str, set[State]] = {}

    def walk(condition: Any) -> None:
        if isinstance(condition, Is):
            found.setdefault(condition.fact, set()).update(condition.states)
        elif hasattr(condition, "parts"):
            for part in condition.parts:
                walk(part)

    for row in INTERLOCKS:
        walk(row.allows)
    return {f: frozenset(s for s in states if not s.unknown) for f, states in found.items()}


WANTED = wanted()


class Moves:
    """The tries of every state under one plan and one scenario."""

    def __init__(self, plan: Plan, scenario: Scenario) -> None:
        self.plan = plan
        self.scenario = scenario
        self._wants: dict[str, set[str]] = {}
        self._read = plan.branches_on
        for step in plan.steps():
            if isinstance(step, LookStep):
                self._wants.setdefault(step.fact, set()).update(step.want)

    # -- looks -------------------------------------------------------------------------------

    def classes(self, fact: str) -> tuple[str, ...]:
        """Every state of ``fact`` that a look may find, unknown last."""
        told = tuple(s.value for s in FACTS[fact] if not s.unknown)
        if fact in ("gun", "engine"):
            told = tuple(s for s in told if s not in ("open", "road"))
        return (*self.scenario.among(fact, told), "unknown")

    def _seen(self, job: Job, fact: str, name: str) -> bool:
        """Whether an honest look can find it so: a known physical fact moves by acts alone, and
        a gun that is coupled sits where the hose came off."""
        if fact not in PHYSICAL or not job.bay.knows(fact):
            there = {"gun": job.bay.hose is Hose.ON, "hose": job.bay.gun is Gun.COUPLED}
            return not (there.get(fact, False) and name in ("coupled", "on"))
        state = next(s for s in FACTS[fact] if s.value == name)
        return free_move(fact, getattr(job.bay, fact), state)

    def look_answers(self, job: Job, step: LookStep) -> Iterator[Try]:
        """Every answer to a look step."""
        others = () if self.scenario.well else self.classes(step.fact)
        options = dict.fromkeys((*self.scenario.among(step.fact, step.want), *others))
        for name in options:
            if self._seen(job, step.fact, name):
                kind = "" if step.fact in CHOSEN else "answer"
                yield Try(f"{step.fact} is {name}", Look(step.fact, name), kind=kind)

    def good_looks(self, job: Job, fact: str) -> Iterator[Try]:
        """Looks that put a fact right, as the remedy of a refusal asks."""
        if fact not in LOOKED_AT:
            return
        good = {s.value for s in WANTED.get(fact, ())} | self._wants.get(fact, set())
        names = tuple(sorted(n for n in good if n not in ("open", "road", "unknown")))
        for name in self.scenario.among(fact, names):
            if job.bay.among(fact, states_of(fact, (name,))):
                continue
            if self.scenario.truth or self._seen(job, fact, name):  # though it trips
                yield Try(f"look again: {fact} is {name}", Look(fact, name))

    # -- the whole state -----------------------------------------------------------------------

    def tries(self, job: Job) -> Iterator[Try]:
        """Everything that the step, its people and its timers offer."""
        core = job.core
        if core.held:
            yield Try("go on", GoOn())
        elif core.meanwhile:
            for said in ("no", "yes", "unknown"):
                yield Try(f"meanwhile: {said}", AnswerMeanwhile(said), kind="meanwhile")
        elif core.ask_again:
            yield from self._asked_again(job, core.ask_again[0])
        elif (act := cut_short(self.plan, job)) is not None:
            yield from self._came_out(job, act)
        else:
            step = self.plan.procedure(core.procedure).step(core.step)
            if core.begun:
                yield from self._begun(job, step)
            else:
                yield from self._fresh(job, step)
        bay = job.bay
        if bay.among("soak", (Soak.RUNNING,)) or bay.among("run_on", (RunOn.RUNNING,)):
            yield Try("wait until it is due", Tick(), due=True)

    def _came_out(self, job: Job, act: Act) -> Iterator[Try]:
        """What came of an act that something broke into."""
        if act not in SPRAYS:
            for what in OUTCOMES[act]:
                yield Try(f"report: {what.said}", Report(what.value), kind=CAME_OUT)
            return
        for seconds in ("0", SECONDS.get(str(job.bay.reserved), "?"), "?"):
            command = Report("spray_ended", seconds=seconds)
            yield Try(f"it had sprayed for {seconds} s", command, kind=CAME_OUT)

    def give_up(self, job: Job) -> Iterator[Try]:
        """Giving up is open in every state."""
        yield Try("give up", GiveUp())

    def _asked_again(self, job: Job, fact: str) -> Iterator[Try]:
        if fact in ("engine", "hose", "gun"):
            names = tuple(n for n in self.classes(fact) if n not in ("raised", "unknown"))
            names = self.scenario.among(f"again {fact}", names)
        else:
            good = {s.value for s in WANTED.get(fact, ())} | self._wants.get(fact, set())
            names = self.scenario.among(fact, tuple(sorted(n for n in good if n != "unknown")))
            if fact != "crew":
                names = names[:1]
        for name in names or ("unknown",):
            if self._seen(job, fact, name):
                yield Try(f"look again: {fact} is {name}", Look(fact, name), kind="again")
        yield Try(f"look again: {fact} is unknown", Look(fact, "unknown"), ours=False, mishap=True)

    def _fresh(self, job: Job, step: Any) -> Iterator[Try]:
        if isinstance(step, SprayStep):
            gun = job.log.latest("gun")
            loaded = gun is not None and gun["basis"] == "loaded"
            timed = self.scenario.among("seconds", (SECONDS["1"], SECONDS["2"]))
            for text in ("0",) if loaded else timed:
                yield Try(f"begin to spray for {text} s", Begin(step.id, text))
            if step.engine == "running" or job.bay.fluid_in is FluidIn.YES:
                yield Try("no more spray", Answer(step.id, "done"))
            if job.bay.rate is Rate.UNKNOWN:
                for text in self.scenario.among("gun", (SHOTS, LOAD)):
                    yield Try(f"fill: {text}", Answer(step.id, text))
            return
        if isinstance(step, JudgeStep) and step.what == "triage":
            for state in self.scenario.among("triage", TRIAGE):
                yield Try(f"triage says {state}", Begin(step.id), kind="answer", triage=state)
            return
        yield Try("begin", Begin(step.id))

    def _begun(self, job: Job, step: Any) -> Iterator[Try]:
        match step:
            case LookStep():
                yield from self.look_answers(job, step)
                if step.fact == "engine" and job.bay.engine not in (Engine.STOPPED, Engine.UNKNOWN):
                    yield Try("report: stopped", Report("stopped"))
            case AskStep():
                yield from self._asks(job, step)
            case ActStep() | EndStep():
                if job.bay.permit is None:
                    yield Try("begin again", Begin(step.id))
                    return
                outcomes = OUTCOMES[job.bay.permit]
                for what in outcomes[:1] if self.scenario.well else outcomes:
                    yield Try(f"report: {what.said}", Report(what.value), kind="answer")
            case SprayStep():
                yield from self._spray_ends(job, step)
            case ReadStep():
                lines = LINES[step.condition]
                for line in lines[:1] if self.scenario.well else lines:
                    yield Try(f"read: {line}", Answer(step.id, line), kind="answer")
                yield Try("begin again", Begin(step.id))
            case TemperatureStep():
                for text, name in TEMPERATURES.items():
                    if self.scenario.well and name not in step.want[:1]:
                        continue
                    yield Try(f"{text} degC ({name})", Answer(step.id, text), kind="answer")
            case GunStep():
                for text in self.scenario.among("gun", (SHOTS, LOAD)):
                    yield Try(text, Answer(step.id, text))
                yield Try("begin again", Begin(step.id))
            case WaitStep():
                yield Try("due", Answer(step.id, "due"))
                yield Try("begin again", Begin(step.id))
            case HoldStep():
                if not job.bay.among("run_on", (RunOn.DONE,)):
                    for text in (HOT,) if self.scenario.well else (HOT, COLD):
                        yield Try(f"the exhaust is {text}", Answer(step.id, text))
                for trend in self.scenario.among("trend", TREND):
                    yield Try(f"done; pressure {trend}", Answer(step.id, "done"), kind="answer",
                              trend=trend)  # fmt: skip
                yield Try("begin again", Begin(step.id))
            case JudgeStep():
                yield Try("read it", Answer(step.id, "read"))
            case ReportStep():
                yield from self._observed(job, step)
            case SignStep() | ResetStep():
                for person in (WORKER, CHECKER, YOUNG, CUSTOMER):
                    yield Try(f"signed by {person}", Sign(step.id, person))

    def _asks(self, job: Job, step: AskStep) -> Iterator[Try]:
        match step.form:
            case "text":
                yield Try("typed", Answer(step.id, "typed"))
            case "number":
                typed = {"distance": "98000 km", "years": "6", "pressure": "3 bar"}
                text = step.low or typed[step.quantity or ""]
                yield Try(text, Answer(step.id, text))
            case "choice":
                names = tuple(option.value for option in step.options)
                if step.want and self.scenario.well:
                    names = step.want
                if step.name not in self._read and not step.want:
                    names = names[:1]  # no decision reads which one it was
                for name in self.scenario.among(step.name, names):
                    kind = "" if step.name in CHOSEN else "answer"
                    yield Try(f"{step.name} is {name}", Answer(step.id, name), kind=kind)

    def _spray_ends(self, job: Job, step: SprayStep) -> Iterator[Try]:
        permit = job.bay.permit
        if permit not in SPRAYS:
            return
        loaded = job.bay.rate is Rate.LOADED
        at_limit = str(SECONDS.get(str(job.bay.reserved), ""))
        if self.scenario.well:
            yield Try("sprayed as asked", Report("spray_ended", seconds=at_limit), kind="answer")
            return
        for what in OUTCOMES[permit]:
            if what in (H.SPRAY_NONE, H.OVERDOSED):
                yield Try(f"report: {what.said}", Report(what.value), kind="answer")
                continue
            over = SECONDS[str(job.bay.reserved + 1)]
            counts = ("",) if loaded else ("0", at_limit, over)
            for seconds in (*counts, "?"):
                yield Try(
                    f"report: {what.said}, {seconds or 'all'} s",
                    Report(what.value, seconds=seconds),
                    kind="answer",
                )

    def _observed(self, job: Job, step: ReportStep) -> Iterator[Try]:
        for name in step.want if self.scenario.well else step.happenings:
            if name == "lowered" and job.bay.engine is Engine.STOPPED:
                continue
            if name == "drained":
                wet = job.bay.wet or 0
                for dml in dict.fromkeys((0, 1, wet)):
                    text = f"drained {dml / 10} mL"
                    yield Try(text, Answer(step.id, text), kind="answer")
                continue
            yield Try(f"report: {name}", Answer(step.id, name), kind="answer")

    # -- ways out of a refusal ---------------------------------------------------------------

    def put_right(self, job: Job, refused: frozenset[str], unknown: str) -> Iterator[Try]:
        """What the remedies of a refusal call for: look again, go back to what settles it, or
        have another person waive it, where it may be waived.

        ``refused`` are the interlocks that refused to begin the step now; ``unknown`` is the
        fact or choice that left open whether it applies.
        """
        step = self.plan.procedure(job.core.procedure).step(job.core.step)
        facts: dict[str, None] = dict.fromkeys([unknown] if unknown else [])
        for row in INTERLOCKS:
            if row.id in refused:
                facts.update(dict.fromkeys(_wrong(row.allows, job.bay)))
        targets: dict[str, None] = {}
        for fact in facts:
            yield from self.good_looks(job, fact)
            if (back := self._settles(job, step, fact)) is not None:
                targets[back] = None
        if isinstance(step, SprayStep):
            targets.pop(self._settles(job, step, "rate") or "", None)  # the gun is filled here
        for target in targets:
            yield Try(f"go back to {target}", Back(target))
        for row_id in sorted(refused & WAIVABLE):
            for person in (CHECKER, WORKER, YOUNG):
                yield Try(f"{person} waives {row_id}", Waive(row_id, person, "a reason for it"))

    def _settles(self, job: Job, step: Any, fact: str) -> str | None:
        """The last earlier step that settles ``fact``; where that one is left out, the step
        that settles why."""
        steps = self.plan.procedure(job.core.procedure).steps()
        before = steps[: [s.id for s in steps].index(step.id)]
        left_out = ""
        for earlier in reversed(before):
            if fact in earlier.settles():
                if applies(job, earlier) is True:
                    return str(earlier.id)
                left_out = left_out or self._leaves_out(job, earlier)
        for earlier in reversed(before):
            if left_out and left_out in earlier.settles() and applies(job, earlier) is True:
                return str(earlier.id)
        return None

    def _leaves_out(self, job: Job, step: Any) -> str:
        alone = (step.model_copy(update={"when": (c,)}) for c in step.when)
        why = (one.when[0].fact for one in alone if applies(job, one) is False)
        return next((fact for fact in why if fact in CHOSEN), "")

    # -- the world -----------------------------------------------------------------------------

    def mishaps(self, job: Job) -> Iterator[Try]:
        """What may happen at any moment, beside the step: one of these a trace."""
        only = self.scenario.only.get("mishap")
        for t in mishaps(job):
            if only is None or t.said.removeprefix("it happens: ") in only:
                yield t


def _wrong(condition: Condition, bay: Bay) -> Iterator[str]:
    """The facts that keep a condition from holding."""
    match condition:
        case Is():
            if not bay.among(condition.fact, condition.states):
                yield condition.fact
        case Either(parts) | Both(parts):
            for part in parts:
                yield from _wrong(part, bay)
        case Rule():
            yield from sorted(condition.reads - {"trips"})
