"""The commands that the proof tries in a state: every act, answer, look and disturbance."""

from collections.abc import Iterator
from typing import Any

from steplatch.safety.bay import (
    SPRAYS,
    Act,
    Bay,
    RunOn,
    Soak,
    State,
    states_of,
)
from steplatch.safety.interlocks import INTERLOCKS, WAIVABLE, Both, Condition, Either, Is, Rule
from steplatch.safety.kernel import LOOKED_AT
from steplatch.safety.occurrences import OUTCOMES, Happening

from ..core.commands import (
    AnswerMeanwhile,
    Back,
    GiveUp,
    GoOn,
    Look,
    Report,
    Tick,
    Waive,
)
from ..core.conditions import applies, leads_elsewhere
from ..core.job import Job
from ..core.plan import Plan
from ..core.reports import cut_short
from ..core.tries import (
    CAME_OUT,
    CHECKER,
    CHOSEN,
    SECONDS,
    WORKER,
    YOUNG,
    Scenario,
    Standing,
    Try,
    classes,
    findable,
)
from .disturbances import disturbances

H = Happening


def wanted() -> dict[str, frozenset[State]]:
    """For each fact, the states that some interlock row asks for."""
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
            if step.looks_at:
                self._wants.setdefault(step.looks_at, set()).update(step.want)

    # -- looks -------------------------------------------------------------------------------

    def good_looks(self, job: Job, fact: str) -> Iterator[Try]:
        """Looks that bring a fact to a state that is asked for, as a remedy says."""
        if fact not in LOOKED_AT:
            return
        good = {s.value for s in WANTED.get(fact, ())} | self._wants.get(fact, set())
        names = tuple(sorted(n for n in good if n not in ("open", "road", "unknown")))
        for name in self.scenario.among(fact, names):
            if job.bay.among(fact, states_of(fact, (name,))):
                continue
            if self.scenario.truth or findable(job, fact, name):  # though it trips
                yield Try(f"look again: {fact} is {name}", Look(fact, name))

    # -- the whole state -----------------------------------------------------------------------

    def tries(self, job: Job) -> Iterator[Try]:
        """Everything that the step, its people and its timers allow."""
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
            at = Standing(job, self.scenario, self._read)
            yield from step.tries_begun(at) if core.begun else step.tries(at)
        bay = job.bay
        if bay.among("soak", (Soak.RUNNING,)) or bay.among("run_on", (RunOn.RUNNING,)):
            yield Try("wait until it is due", Tick(), due=True)

    def _came_out(self, job: Job, act: Act) -> Iterator[Try]:
        """The outcomes of an act that was interrupted."""
        if act not in SPRAYS:
            for what in OUTCOMES[act]:
                yield Try(f"report: {what.said}", Report(what.value), kind=CAME_OUT)
            return
        for seconds in ("0", SECONDS.get(str(job.bay.reserved), "?"), "?"):
            command = Report("spray_ended", seconds=seconds)
            yield Try(f"it had sprayed for {seconds} s", command, kind=CAME_OUT)

    def give_up(self, job: Job) -> Iterator[Try]:
        """Giving up, which is open in every state."""
        yield Try("give up", GiveUp())

    def _asked_again(self, job: Job, fact: str) -> Iterator[Try]:
        if fact in ("engine", "hose", "gun"):
            names = tuple(n for n in classes(self.scenario, fact) if n not in ("raised", "unknown"))
            names = self.scenario.among(f"again {fact}", names)
        else:
            good = {s.value for s in WANTED.get(fact, ())} | self._wants.get(fact, set())
            names = self.scenario.among(fact, tuple(sorted(n for n in good if n != "unknown")))
            if fact != "crew":
                names = names[:1]
        for name in names or ("unknown",):
            if findable(job, fact, name):
                yield Try(f"look again: {fact} is {name}", Look(fact, name), kind="again")
        yield Try(
            f"look again: {fact} is unknown", Look(fact, "unknown"), ours=False, disturbance=True
        )

    # -- ways out of a refusal ---------------------------------------------------------------

    def put_right(self, job: Job, refused: frozenset[str], unknown: str) -> Iterator[Try]:
        """The remedies of a refusal: look again, go back to the step that settles it, or have
        another person waive it, where it may be waived.

        ``refused`` are the interlocks that refused to begin the step; ``unknown`` is the fact or
        choice that leaves open whether the step applies.
        """
        step = self.plan.procedure(job.core.procedure).step(job.core.step)
        facts: dict[str, None] = dict.fromkeys([unknown] if unknown else [])
        for row in INTERLOCKS:
            if row.id in refused:
                facts.update(dict.fromkeys(_wrong(row.allows, job.bay)))
        targets: dict[str, None] = {}
        for fact in facts:
            looks = list(self.good_looks(job, fact))
            yield from looks
            back = self._settles(job, step, fact)
            if back is None and not looks and not unknown:
                back = leads_elsewhere(self.plan.procedure(job.core.procedure), job, step)
            if back is not None:
                targets[back] = None
        for fact in step.puts_right:
            targets.pop(self._settles(job, step, fact) or "", None)
        for target in targets:
            yield Try(f"go back to {target}", Back(target))
        for row_id in sorted(refused & WAIVABLE):
            for person in (CHECKER, WORKER, YOUNG):
                yield Try(f"{person} waives {row_id}", Waive(row_id, person, "a reason for it"))

    def _settles(self, job: Job, step: Any, fact: str) -> str | None:
        """The last earlier step that settles ``fact``; where that one does not apply, the step that
        settles why not."""
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

    def disturbances(self, job: Job) -> Iterator[Try]:
        """The disturbances possible now; a trace holds one."""
        only = self.scenario.only.get("disturbance")
        kinds = self.scenario.only.get("at")
        if kinds is not None:
            core = job.core
            step = self.plan.procedure(core.procedure).step(core.step)
            if core.procedure != self.plan.main.id or step.kind not in kinds:
                return
        for t in disturbances(job):
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
