"""Walks a procedure through the real ``decide``: ideal answers, time that passes, no screen.

Only the judgements are handed in. ``Stuck`` names the step and what refused it.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

from steplatch.runner.core.clock import Times
from steplatch.runner.core.commands import (
    Answer,
    Back,
    Begin,
    Command,
    GoOn,
    Look,
    Open,
    Report,
    Sign,
    Tick,
)
from steplatch.runner.core.engine import Outcome, decide
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.plan import Judges, Plan
from steplatch.runner.core.procedure import Procedure
from steplatch.runner.core.steps import SprayStep
from steplatch.runner.core.steps.hold import DRIED
from steplatch.runner.jobs.bundle import Sources, load_bundle
from steplatch.runner.screen.way_back import way_back
from steplatch.safety.bay import Crew, FluidIn, Gun, Tier
from steplatch.safety.interlocks import Refusal
from steplatch.safety.occurrences import OUTCOMES

ROOT = Path(__file__).resolve().parents[1]
MAIN = ROOT / "procedures" / "clean-above.yaml"

MOMENT = Times("2026-03-02T08:00:00.000Z", "+00:00", 0, 0, "one-boot")
WORKER, CHECKER = "apprentice-1", "technician-1"
LINES = {
    "raised": "90 2200 40 180 86 open",
    "idle": "22 820 9.0 160 86 open",
    "zero": "0.5 0 x x x x",
}


GOOD = {
    "secured": ("yes",), "fumes": ("extraction",), "controls": ("other", "self"),
    "lift": ("wheels",), "flash": ("none",), "trigger": ("springs",), "stop_start": ("off",),
    "low_loop": ("none",),
    "hands": ("clear",), "kit": ("heat", "worn"), "spill": ("ready",), "idle": ("steady",),
    "burning": ("no",), "bar": ("off",),
    "line": ("clear",), "sensor": ("proven",), "sheet": ("read",),
}  # fmt: skip
"""What a good look finds, of the facts that can be settled by one."""


_LEADS_TO: dict[Any, str] = {}


class Stuck(AssertionError):  # noqa: N818 - what the walk is, as people say it
    """A walk came to a step that good answers cannot pass."""


@dataclass
class Walk:
    """One job being walked. ``answers`` maps a step id, an asked name or a fact to an answer."""

    plan: Plan
    answers: dict[str, str]
    alone: bool = False
    worker: str = WORKER
    job: Job = field(default_factory=Job)
    at: Times = MOMENT
    path: list[str] = field(default_factory=list)
    refusals: tuple[Refusal, ...] = ()

    def give(self, command: Command) -> Outcome:
        self.at = replace(
            self.at, monotonic_ms=self.at.monotonic_ms + 2000,
            boottime_ms=(self.at.boottime_ms or 0) + 2000,
        )  # fmt: skip
        outcome = decide(self.plan, self.job, command, self.at, self.worker)
        for event in outcome.events:
            self.job = evolve(self.job, event)
        return outcome

    def must(self, command: Command) -> None:
        outcome = self.give(command)
        if outcome.refused:
            self.refusals = outcome.refusals
            why = "; ".join(f"{r.interlock}: {r.reason}" for r in outcome.refusals)
            raise Stuck(f"{self.job.core.procedure}:{self.job.core.step} refused by {why}")

    def wait(self, seconds: float) -> None:
        ms = int(seconds * 1000)
        self.at = replace(
            self.at, monotonic_ms=self.at.monotonic_ms + ms,
            boottime_ms=(self.at.boottime_ms or 0) + ms,
        )  # fmt: skip
        self.give(Tick())

    @property
    def step(self) -> Any:
        return self.plan.procedure(self.job.core.procedure).step(self.job.core.step)

    def look(self, fact: str, want: tuple[str, ...]) -> str:
        """What is so already if it will do; else the answer given; else the first that will do."""
        now = getattr(self.job.bay, fact).value
        given = self.answers.get(fact)
        if given in want:
            return str(given)
        return now if now in want else want[0]

    def one(self) -> None:
        """Work the current step once, by good answers."""
        step, before = self.step, (self.job.core.procedure, self.job.core.step)
        self.path.append(step.id)
        if self.job.core.held:
            self.must(GoOn())
        if isinstance(step, SprayStep):
            self._spray(step)
            return
        self.must(Begin(step.id))
        if not self.job.core.begun:
            return  # gone back to a step that does not apply now: it is left out
        match step.kind:
            case "look":
                self.must(Look(step.fact, self.look(step.fact, step.want)))
            case "ask":
                self.must(Answer(step.id, self._asked(step)))
            case "act" | "end":
                act = self.job.bay.permit
                assert act is not None
                self.must(Report(OUTCOMES[act][0].value))
            case "read":
                if step.condition != "zero":
                    self.wait(130)  # two minutes as the step says: earlier is refused as early
                self.must(Answer(step.id, LINES[step.condition]))
            case "temperature":
                self.must(Answer(step.id, "60" if {"cool", "bare"} & {*step.want} else "150"))
            case "gun":
                self.must(Answer(step.id, "19 20 21 mL in 5 s"))
            case "wait":
                self.wait(self._left_s(step.timer) + 1)
                self.must(Answer(step.id, "due"))
            case "hold":
                self._hold(step)
            case "judge":
                self.must(Answer(step.id, "read"))
            case "report":
                extra = " 5 mL" if step.want[0] == "drained" else ""
                self.must(Answer(step.id, step.want[0] + extra))
            case "sign" | "reset":
                self._sign(step)
        if (self.job.core.procedure, self.job.core.step) == before and not self.job.core.ended:
            raise Stuck(f"{before[0]}:{before[1]} was answered and did not pass")

    def _asked(self, step: Any) -> str:
        if step.form == "choice":
            known = [o.value for o in step.options]
            given = self.answers.get(step.id, self.answers.get(step.name, known[0]))
            return str(given) if given in known else known[0]
        if step.form == "number":
            return {"distance": "98000 km", "years": "6", "pressure": "3 bar"}[step.quantity]
        return "none" if step.form == "fields" else "as found"

    def _sign(self, step: Any) -> None:
        role = getattr(step, "role", "")
        person = "customer" if role == "customer" else CHECKER
        if role == "supervisor":
            person = "supervisor-1"
        self.must(Sign(step.id, self.worker if self.alone and person != "customer" else person))

    def _left_s(self, timer: str) -> float:
        log = self.job.log
        return max(0.0, (log.timers.get(timer, 0) - log.waited_ms) / 1000)

    def _hold(self, step: Any) -> None:
        """Stay, and look again at what grows old, as the screen asks for it."""
        while self.job.bay.run_on not in DRIED:
            self.must(Answer(step.id, "210 degC"))
            self.wait(min(self._left_s("run_on") + 1, 590))
            self.fresh()
            self.must(Answer(step.id, "40"))
        self.must(Answer(step.id, "done"))

    def fresh(self) -> None:
        for fact, good in {
            "secured": ("yes",), "fumes": ("extraction",), "controls": ("other", "self"),
            "hands": ("clear",),
        }.items():  # fmt: skip
            if not (fact == "hands" and self.job.bay.gun is Gun.UNKNOWN):
                self.give(Look(fact, self.look(fact, good)))

    def _spray(self, step: Any) -> None:
        times = 1 if step.engine == "off" else 2
        for _ in range(times):
            if self.job.core.step != step.id:
                return
            if self.job.bay.gun is not Gun.COUPLED and step.engine == "running":
                break  # after a recovery the gun is away for good
            seconds = "2" if self.job.bay.tier is Tier.STRICT else "4"
            try:
                self.must(Begin(step.id, seconds))
            except Stuck:
                if step.engine == "running" and self.job.bay.fluid_in is FluidIn.YES:
                    break  # what came in by mishap leaves no room for more
                raise
            if not self.job.core.begun:
                return
            self.must(Report("spray_ended", seconds=seconds))
        if step.engine == "running":
            self.must(Answer(step.id, "done"))

    def to_end(self, limit: int = 600) -> str:
        for _ in range(limit):
            if self.job.core.ended:
                return self.job.core.ended
            self.one()
        raise Stuck(f"no end within {limit} steps; the last were {self.path[-12:]}")

    def to_end_with_help(self) -> str:
        """As ``to_end``, with what the screen offers after a refusal: look again at what is
        unknown; go back, at most twice, to the start of an earlier stage or within this one."""
        start, start_at = self.job, self.at
        for backs in range(3):
            self.job, self.at = start, start_at
            try:
                return self._to_end_with_backs(backs)
            except Stuck as stuck:
                last = stuck
        raise last

    def _to_end_with_backs(self, backs: int) -> str:
        try:
            return self._looking_to_end()
        except Stuck:
            if backs == 0:
                raise
            job, at = self.job, self.at
            for earlier in self._earlier():
                self.job, self.at = job, at
                try:
                    self.must(Back(earlier))
                    return self._to_end_with_backs(backs - 1)
                except Stuck:
                    continue
            self.job, self.at = job, at
            raise

    def _earlier(self) -> list[str]:
        """Where the screen offers to go back to first; then this stage's steps and the stages."""
        procedure = self.plan.procedure(self.job.core.procedure)
        offered = way_back(procedure, self.job, self.refusals)
        return [*([offered.id] if offered else []), *self._earlier_in(procedure)]

    def _earlier_in(self, procedure: Procedure) -> list[str]:
        found: list[str] = []
        for stage in procedure.stages:
            ids = [s.id for s in stage.steps]
            if self.job.core.step in ids:
                return [*reversed(ids[: ids.index(self.job.core.step)]), *reversed(found)]
            found.append(ids[0])
        raise KeyError(self.job.core.step)

    def _looking_to_end(self) -> str:
        """Remembers from which cores good answers led to an end or not: a core holds all that
        decides what may be done, so the rest of such a walk need not be walked again."""
        seen: list[Any] = []
        for _ in range(600):
            key = (self.job.core, tuple(sorted(self.answers.items())))
            known = _LEADS_TO.get(key)
            if known is not None or self.job.core.ended:
                end = known or self.job.core.ended
                _LEADS_TO.update(dict.fromkeys(seen, end))
                return end
            seen.append(key)
            here, here_at = self.job, self.at
            try:
                self.one()
            except Stuck:
                self.job, self.at = here, here_at
                if not self._look_at_unknown():
                    raise
                self.one()
        raise Stuck("no end within 600 steps")

    def _look_at_unknown(self) -> bool:
        found = False
        for fact, good in GOOD.items():
            if getattr(self.job.bay, fact).unknown:
                self.give(Look(fact, self.look(fact, good)))
                found = True
        return found

    def to_step(self, wanted: Callable[[Job], bool], limit: int = 400) -> bool:
        for _ in range(limit):
            if wanted(self.job):
                return True
            if self.job.core.ended:
                return False
            self.one()
        return False


@cache
def bundle() -> Any:
    return load_bundle(Sources.of_folder(ROOT / "examples" / "workshop", MAIN))


def new_walk(triage: str = "go", **answers: str) -> Walk:
    judges = Judges(
        triage=lambda job, recorded=None: {"state": triage, "lines": []},
        verdict=lambda job, recorded=None: {"state": "as_expected", "lines": []},
        trend=lambda job, recorded=None: {"state": "levelled", "text": "level"},
        change=lambda job, recorded=None: {"state": "cannot_say"},
        retained=lambda job, recorded=None: {"state": "cannot_say"},
    )
    plan = Plan(bundle().main, bundle().others, judges)
    given = {"crew": "pair", "agreed": "clean", "controls": "other", **answers}
    walk = Walk(plan, given, alone=given["crew"] != Crew.PAIR.value)
    if walk.alone:
        given["controls"] = "self"
    if given["crew"] == Crew.ALONE_ADULT.value:
        walk.worker = CHECKER
    walk.must(Open(True, bundle().roster()))
    walk.must(bundle().limits_command())
    return walk
