"""What may be done, answered or happen in a state of the proof: the commands that it tries.

A *try* is one command with what goes before it (a fact that has just grown old, a timer that
has come due) and what the judges answer. ``ours`` marks what the people on the job may choose
to do; everything else is the world. ``kind`` groups the answers to one question: an ours-move
of that kind may lead to any of them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from runner.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    Correct,
    GiveUp,
    GoOn,
    Interrupted,
    Look,
    Report,
    Sign,
    Stop,
    Tick,
    Waive,
)
from runner.engine import Plan, applies
from runner.job import Job
from runner.procedure import (
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
from runner.proof.settles import settled_by
from runner.proof.times import ALL_OLD
from runner.proof.vector import READINGS
from runner.steps import cut_short
from safety.bay import (
    FACTS,
    SPRAYS,
    Act,
    Bay,
    Engine,
    FluidIn,
    Gun,
    Hose,
    Key,
    Rate,
    RunOn,
    Soak,
    State,
    states_of,
)
from safety.effects import LASTS_S
from safety.happenings import OUTCOMES, Happening
from safety.interlocks import INTERLOCKS, WAIVABLE, Both, Condition, Either, Is, Rule
from safety.kernel import LOOKED_AT, free_move

H = Happening
WORKER, CHECKER, YOUNG, CUSTOMER = "worker", "checker", "young", "customer"
PEOPLE = (
    {"id": WORKER, "name": "the worker", "role": "technician", "under_18": False},
    {"id": CHECKER, "name": "the checker", "role": "technician", "under_18": False},
    {"id": YOUNG, "name": "the apprentice", "role": "apprentice", "under_18": True},
)
PHYSICAL = frozenset({"engine", "hands", "hose", "gun", "key"})
CHOSEN = frozenset({"tag", "tier", "dry_first", "refit", "road_test"})
"""What the people on the job choose: no answer of the world's."""
SHOTS = "0.5 0.5 0.5 mL in 10 s"
"""Three shots that count 0.0525 mL/s."""
SECONDS = {"1": "1", "2": "3", "3": "5", "4": "6"}
"""Seconds at that rate for each number of tenths of a millilitre."""
MORE_AND_LESS = ("5 5 5 mL in 10 s", "0.1 0.1 0.1 mL in 10 s")
LOAD = "loaded 0.1 mL"
CAME_OUT = "came out"
"""The kind of the answers that say what came of an act that something broke into."""
LINES = {
    "raised": ("90 2200 40 180 86 open", "x 2200 40 180 86 open", "90 7000 40 180 86 open"),
    "idle": ("22 820 9 160 86 open", "x 820 9 160 86 open"),
    "zero": ("0.5 0 x x x x", "90 0 x x x x"),
}
TEMPERATURES = {"20": "cool", "100": "warm", "400": "hot"}
TRIAGE = ("go", "warn", "dont", "nothing")
TREND = ("level", "falling", "not_known")


@dataclass(frozen=True, slots=True)
class Try:
    """One command to be tried, in words for a person, and how it is meant."""

    said: str
    command: Command
    ours: bool = True
    kind: str = ""
    old: str = ""
    due: bool = False
    triage: str = "go"
    trend: str = "level"
    mishap: bool = False


@dataclass(frozen=True, slots=True)
class Scenario:
    """Narrows the answers that the search tries: by fact, by asked name, or 'triage', 'gun',
    'seconds', 'mishap' (what happens by itself), 'again' with a fact (what is found after an
    interruption). What is not named is tried in every class. With ``well`` everything that is
    looked at, measured or done comes out well the first time. With ``truth`` a refusal may be
    answered by the truth about a physical fact although that trips, and what trips by an honest
    act after the mishap is no second one."""

    name: str = "every answer"
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    well: bool = False
    truth: bool = False

    def among(self, name: str, answers: tuple[str, ...]) -> tuple[str, ...]:
        """The answers that this scenario tries of those that there are."""
        if name not in self.only:
            return answers
        return tuple(a for a in answers if a in self.only[name]) or answers


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
STOP = Try("stop", Stop(), ours=False, mishap=True)


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
            seconds = ("0",) if loaded else self.scenario.among("seconds", ("1", "3"))
            for text in seconds:
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
                if step.name not in self._read:
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
            if fact in settled_by(earlier):
                if applies(job, earlier) is True:
                    return str(earlier.id)
                left_out = left_out or self._leaves_out(job, earlier)
        for earlier in reversed(before):
            if left_out and left_out in settled_by(earlier) and applies(job, earlier) is True:
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
        for t in self._mishaps(job):
            if only is None or t.said.removeprefix("it happens: ") in only:
                yield t

    def _mishaps(self, job: Job) -> Iterator[Try]:
        bay = job.bay
        running = bay.engine in (Engine.IDLING, Engine.RAISED, Engine.ROAD)
        whats = [H.FUME_ALARM, H.FIRE_SEEN, H.PERSON_HURT, H.SPILLED, H.STUB_SNAPPED, H.OVERDOSED]
        if running or bay.engine is Engine.UNKNOWN:
            whats += [H.STALLED, H.STOPPED, H.RAN_AWAY, H.OVER_CEILING]
        if bay.engine is Engine.RAISED:
            whats.append(H.LOWERED)
        if bay.engine is Engine.STOPPED and bay.key is not Key.BOXED:
            whats.append(H.SELF_STARTED)
        for what in whats:
            seconds = "?" if bay.permit in SPRAYS else ""
            command = Report(what.value, seconds=seconds)
            yield Try(f"it happens: {what.said}", command, ours=False, mishap=True)
        if bay.gun is not Gun.OPEN and bay.permit is None:
            yield Try("done without a permit: hose on", Report("hose_on"), ours=False, mishap=True)
        for fact in LASTS_S:
            if bay.knows(fact):
                yield Try(f"too long ago: {fact}", Tick(), ours=False, old=fact, mishap=True)
        yield Try("the clock cannot be trusted", Tick(), ours=False, old=ALL_OLD, mishap=True)
        for fact, gone in (("controls", "nobody"), ("crew", "alone_junior")):
            if bay.knows(fact):
                yield Try(f"somebody left: {fact} is {gone}", Look(fact, gone), ours=False,
                          mishap=True)  # fmt: skip
        for fact, false in (("engine", "idling"), ("hose", "on"), ("gun", "away")):
            if bay.knows(fact) and not bay.among(fact, states_of(fact, (false,))):
                yield Try(f"falsely seen: {fact} is {false}", Look(fact, false), ours=False,
                          mishap=True)  # fmt: skip
        if bay.permit is not None:
            yield Try("the permit lapses", Tick(), ours=False, old="permit", mishap=True)
        yield from self._corrections(job)
        yield Try("interrupted", Interrupted("program ended"), ours=False, mishap=True)
        if not job.core.held:
            yield STOP

    def _corrections(self, job: Job) -> Iterator[Try]:
        """Each record that decides anything, typed anew: by more, by less, by nothing; where
        triage rests on it, with triage as it was and another."""

        def corrected(name: str, number: int, value: str, triage: str = "go") -> Try:
            said = f"corrected: {name.replace('_', ' ')} to {value} (triage {triage})"
            command = Correct(name, number, value, "typed wrongly before")
            return Try(said, command, ours=False, triage=triage, mishap=True)

        for number, (phase, condition) in enumerate(READINGS):
            if any(plain["condition"] == condition for plain in job.log.readings(phase)):
                for line in LINES[condition][:2]:
                    for triage in ("go", "nothing"):
                        yield corrected("reading", number, line, triage)
        if job.bay.knows("port"):
            yield corrected("exhaust", 0, "20")
        if job.log.latest("gun") is not None:
            for shots in MORE_AND_LESS:
                yield corrected("gun", 0, shots)
        if job.bay.fluid_in is not FluidIn.NO:
            for seconds in ("0", "9"):
                yield corrected("spray", 0, seconds)


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
