"""Memoised runs of ``decide`` and ``evolve``: one real run for each set of states read alike.

A ``Tree`` is a decision tree. Each inner node is one question about one field of the state, each
leaf an outcome. ``decide`` is pure: the same answers to the same questions, in the same order, give
the same outcome, so states that answer alike share a leaf. A test checks this on thousands of
random states, and ``Tree.add`` raises where two runs contradict it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, Generic, TypeVar

from steplatch.safety.bay import DoseLimits
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.kernel import Granted, ResetDone, Tripped

from ..core.commands import Begin, Open, SetLimits, Sign
from ..core.engine import decide
from ..core.job import Job, Log, evolve
from ..core.plan import Judges, Plan
from ..core.tries import PEOPLE, WORKER, Try
from .dependency_trace import TracedCore, TracedLog, written_cells
from .properties import PropertyJudge
from .times import LATER, aged, timed
from .trace import WHOLE, Questions, Trace, Untraceable
from .vector import PLACE, Fields

ROWS = frozenset(row.id for row in INTERLOCKS)
LIMITS = DoseLimits(1, 2, 3)
NUMBERS = {
    "port_cool_k": "320.0",
    "port_warm_k": "420.0",
    "touch_k": "320.0",
    "gloved_k": "380.0",
    "soak_s": "600.0",
    "zero_wait_s": "120.0",
    "zero_low_pa": "-1000.0",
    "zero_high_pa": "500.0",
    "revs_low_rpm": "2000.0",
    "revs_high_rpm": "2400.0",
    "rev_ceiling_rpm": "3000.0",
    "reaction_ms": "0",
    "bottle_ml": "0.5",
    "drying_idle_s_per_ml": "60.0",
    "drying_raised_s_per_ml": "20.0",
    "drying_idle_slow_s_per_ml": "120.0",
    "drying_raised_slow_s_per_ml": "40.0",
    "drying_idle_cold_s": "600",
    "drying_raised_cold_s": "60",
    "drying_idle_exhaust_k": "403.15",
    "drying_raised_exhaust_k": "473.15",
    "dries_above_k": "373.124",
}
"""Small stand-ins. Limits and volumes are only added and compared, so 1, 2 and 3 tenths of a mL are
enough."""

P = TypeVar("P")


class Tree(Generic[P]):
    """Outcomes by what was read. A node is ``[place, by byte, question, by answer]``; a leaf is
    ``[-1, payload]``."""

    def __init__(self, questions: Questions) -> None:
        self._tables = questions.tables
        self.root: list[Any] = []
        self.size = 0

    def find(self, state: bytes) -> P | None:
        """The outcome kept for states read like this one, or None."""
        node = self.root
        if not node:
            return None
        while node[0] >= 0:
            after = node[1].get(state[node[0]])
            if after is None:
                answer = self._tables[node[2]][state[node[0]]]
                after = node[3].get(answer)
                if after is None:
                    return None
                node[1][state[node[0]]] = after
            node = after
        return node[1]  # type: ignore[no-any-return]

    def add(self, reads: Iterable[tuple[int, int, int]], state: bytes, payload: P) -> None:
        """Keep ``payload`` under ``reads`` of ``state``. Raises Untraceable: not pure."""
        self.size += 1
        node = self.root
        for at, question, answer in reads:
            if not node:
                node[:] = [at, {}, question, {}]
            if node[0] != at or node[2] != question:
                raise Untraceable("the same answers led to another question: not pure")
            node = node[3].setdefault(answer, [])
        if node:
            raise Untraceable("the same answers led to another outcome: not pure")
        node[:] = [-1, payload]


@dataclass(eq=False)
class Leaf:
    """One outcome of one try: the fields read, written and turned (``written_cells``), and what
    the properties need to know.

    ``effects`` belong to the search: what the outcome does to a state, by place.
    """

    reads: frozenset[tuple[int, int]]
    writes: dict[int, int]
    turns: dict[int, bytes]
    accepted: bool
    granted: bool
    rows: frozenset[str]
    unknown: str
    tripped: bool
    breach: str
    met: tuple[tuple[str, str], ...]
    effects: dict[Any, Any] = field(default_factory=dict)


class Lacking(ValueError):  # noqa: N818 - it says what the state does
    """``decide`` failed on a state; ``reads`` are the questions it had asked by then."""

    def __init__(self, said: str, reads: frozenset[tuple[int, int]]) -> None:
        super().__init__(said)
        self.reads = reads


class Decider:
    """Runs tries on states and keeps their outcomes; all searches of one plan share one."""

    def __init__(self, plan: Plan) -> None:
        self.fields = Fields(plan)
        self.questions = Questions()
        self.trees: dict[Try, Tree[Leaf]] = {}
        self.matters: dict[bytes, set[tuple[int, int]]] = {}
        self._leaves: list[Leaf] = []
        self.judge = PropertyJudge(plan)
        self._plans = {
            (triage, trend): replace(plan, judges=_judges(triage, trend))
            for triage in ("go", "warn", "dont", "nothing")
            for trend in ("level", "falling", "not_known")
        }
        self.first_job = self._opened()
        self._logs: dict[tuple[str, bool], Log] = {}
        self.runs = 0

    def _opened(self) -> Job:
        job = Job()
        limits = SetLimits(LIMITS.strict, LIMITS.extended, LIMITS.running, NUMBERS, {})
        for command in (Open(False, PEOPLE), limits):
            for event in decide(self._plans["go", "level"], job, command, LATER, WORKER).events:
                job = evolve(job, event)
        return job

    def log_at(self, old: str, due: bool) -> Log:
        """The part of the log that is the same in every state, at a moment of that kind."""
        if (old, due) not in self._logs:
            log = self.first_job.log
            self._logs[old, due] = aged(log, old) if old else timed(log, due)
        return self._logs[old, due]

    def traced(self, state: bytes, old: str = "", due: bool = False) -> tuple[Job, Trace]:
        """A job over ``state`` that notes every read."""
        trace = Trace(self.fields, self.questions, state, LIMITS)
        core: Any = TracedCore(trace)
        log: Any = TracedLog(trace, None, self.log_at(old, due))
        return Job(core, log), trace

    def plan_of(self, t: Try) -> Plan:
        """The plan whose judges answer as this try says."""
        return self._plans[t.triage, t.trend]

    def run(self, state: bytes, t: Try) -> tuple[Trace, Leaf]:
        """Decide one try and fold its events; the properties judge every event.

        Raises Lacking when ``decide`` fails, as it does where a state lacks what it reads.
        """
        self.runs += 1
        job, trace = self.traced(state, t.old, t.due)
        try:
            return trace, self._run(job, trace, t)
        except (ValueError, LookupError) as error:
            reads = frozenset((at, question) for at, question, _ in trace.reads if at >= PLACE)
            raise Lacking(f"{t.said}: {error}", reads) from error

    def tree_of(self, t: Try) -> Tree[Leaf]:
        """The tree of a try."""
        if t not in self.trees:
            self.trees[t] = Tree(self.questions)
        return self.trees[t]

    def forget_places(self) -> None:
        """Drop the effects that a finished search has worked out; keep the outcomes."""
        for leaf in self._leaves:
            for place in leaf.effects:
                place.forget()
            leaf.effects.clear()

    def _run(self, job: Job, trace: Trace, t: Try) -> Leaf:
        outcome = decide(self.plan_of(t), job, t.command, LATER, WORKER)
        breach = ""
        tripped = False
        met: list[tuple[str, str]] = []
        for event in outcome.events:
            breach = breach or self.judge.broken_by(job, event)
            match event:
                case Granted(act):
                    met.append(("act", act.value))
                case Tripped(trip):
                    tripped = True
                    met.append(("trip", trip.value))
                case ResetDone(trip):
                    met.append(("reset", trip.value))
                case _:
                    pass
            job = evolve(job, event)
        core: Any = job.core
        log: Any = job.log
        asked = isinstance(t.command, Begin | Sign)
        rows = frozenset({r.interlock for r in outcome.refusals} & ROWS) if asked else frozenset()
        unknown = ""
        for refusal in outcome.refusals:
            if refusal.interlock == "branch-unknown":
                unknown = str(dict(refusal.about)["fact"])
            elif refusal.interlock == "reading-condition":
                unknown = "engine"
            elif refusal.interlock == "notice-not-signed":
                unknown = "tag"  # its remedy goes back to the tag
            elif ("case", "turns") in refusal.about:
                unknown = "hand_turn"  # they must be made again
        writes, turns = written_cells(core, log)
        leaf = Leaf(
            frozenset((at, question) for at, question, _ in trace.reads if at >= PLACE),
            writes,
            turns,
            accepted=not outcome.refused,
            granted=not outcome.refused and isinstance(t.command, Begin),
            rows=rows,
            unknown=unknown,
            tripped=tripped,
            breach=breach,
            met=tuple(met),
        )
        self._leaves.append(leaf)
        return leaf


def _judges(triage: str, trend: str) -> Judges:
    return Judges(
        triage=lambda job, recorded=None: {"state": triage},
        verdict=lambda job, recorded=None: {"state": "cannot_say"},
        trend=lambda job, recorded=None: {"state": trend, "to_go_min": None},
        change=lambda job, recorded=None: {"state": "cannot_say"},
        retained=lambda job, recorded=None: {"state": "cannot_say"},
    )


__all__ = ["LIMITS", "NUMBERS", "WHOLE", "Decider", "Leaf", "Tree"]
