"""What a job is to the proof: everything that ``decide`` reads, and nothing else.

``Core`` is kept whole but for three things that cannot change a decision:

* *Choices* that no ``when`` of any procedure reads (``decide`` reads choices nowhere else).
* *States of a fact that nothing tells apart*: no condition of an interlock, no ``when``, no
  code (``READ_BY_CODE``) asks which of the two it is, as with extraction and outdoors.
* In ``abandon`` and on emergency cards, from which no job comes back, facts that none of
  their steps can read, directly or through what the effects lean on (``close``).

Of ``Log``, ``decide`` reads: the worked numbers and the roster (the same in every state); the
clocks, ages and timers, only as "too old or not" and "due or not", which the search puts in
before a command at will (``aged``, ``due``), so every real course of time is among those
tried; the latest gun (its basis and volume); which reading sets are there, with a pressure
or not, only while a zero of that phase is still to come; who has done a step; the last mark,
only as "a step that an interruption repeats"; the judges' answers, which the search gives in
every state. Typed texts, numbers and signatures decide nothing, but for the signed notice at
abandon, which ``Standing.signed`` keeps.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from operator import attrgetter
from typing import Any

from runner.clock import Times
from runner.engine import ABANDON, ROAD_PERMIT_S, Plan
from runner.job import Core, Job, Log, Recorded, StepMark
from runner.procedure import ActStep, EndStep, HoldStep, LookStep, ReadStep, SprayStep
from safety.bay import FACTS, Act, Bay, Rate, State, Trip
from safety.cone import close, project
from safety.effects import LASTS_S
from safety.interlocks import INTERLOCKS, Both, Condition, Either, Is

NOW_MS = 10**9
AT = Times("2026-01-01T00:00:00.000Z", "+00:00", NOW_MS, NOW_MS, "proof")
LATER = replace(AT, monotonic_ms=NOW_MS + 1, boottime_ms=NOW_MS + 1)
NEVER_MS = 1 << 60

READ_BY_CODE = frozenset(
    {
        *("engine", "hands", "hose", "gun", "key", "crew", "soak", "run_on", "hand_turn", "rate"),
        *("fluid_in", "fluid_check", "arrival", "recovery", "codes"),
    }
)
"""Facts whose single states the kernel's or the runner's code, or a property, asks for."""

_REPEATED = ("look", "ask", "temperature", "read", "report")
_REPRESENTATIVE_TRIP = Trip.SPILL


def _leaves(condition: Condition) -> Iterable[Is]:
    match condition:
        case Is():
            yield condition
        case Either(parts) | Both(parts):
            for part in parts:
                yield from _leaves(part)


def alike(plan: Plan) -> dict[str, dict[State, State]]:
    """For each fact, each state with the first state that nothing tells from it."""
    asked: dict[str, list[frozenset[Any]]] = {fact: [] for fact in FACTS}
    for row in INTERLOCKS:
        for leaf in _leaves(row.allows):
            asked[leaf.fact].append(frozenset(leaf.states))
    for procedure in (plan.main, *plan.others.values()):
        for step in procedure.steps():
            for condition in step.when:
                if condition.fact in FACTS:
                    kind = FACTS[condition.fact]
                    among = condition.among
                    asked[condition.fact].append(frozenset(s for s in kind if s.value in among))
    merged: dict[str, dict[State, State]] = {}
    for fact, kind in FACTS.items():
        first: dict[object, State] = {}
        merged[fact] = {}
        for state in kind:
            same: object = (state.unknown, *(state in states for states in asked[fact]))
            if fact in READ_BY_CODE:
                same = state
            merged[fact][state] = first.setdefault(same, state)
    return merged


@dataclass(frozen=True, slots=True)
class Standing:
    """One state of the proof: a job in its canonical form, and what the search keeps beside it.

    ``mishaps`` is how many more mishaps the search lets happen; ``signed`` the meanings of the
    signatures given; ``breach`` the property that the last move broke, in words.
    """

    job: Job = field(repr=False)
    mishaps: int
    signed: frozenset[str] = frozenset()
    breach: str = ""


class Abstraction:
    """The canonical form of jobs under one plan. ``names`` are the facts in key order."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.merged = alike(plan)
        procedures = (plan.main, *plan.others.values())
        self.choices = frozenset(
            condition.fact
            for procedure in procedures
            for step in procedure.steps()
            for condition in step.when
            if condition.fact not in FACTS
        )
        self.ends_here: frozenset[str] = frozenset(
            p.id for p in plan.others.values() if p.role == "card" or p.id == ABANDON
        )
        self.choices_where_it_ends = frozenset(
            condition.fact
            for name in self.ends_here
            for step in plan.others[name].steps()
            for condition in step.when
        )
        self.cone = close(self._read_where_it_ends())
        self._facts = attrgetter(*FACTS)
        self._maps = tuple(self.merged.items())
        self._bays: dict[tuple[object, ...], Bay] = {}
        self._interned: dict[tuple[object, ...], Bay] = {}
        self._live: dict[tuple[str, str], frozenset[str]] = {}
        self._all_live = frozenset({"before", "after", "road"})
        self._repeats: set[tuple[str, str, str]] = set()
        self._read_the_steps()

    def _read_where_it_ends(self) -> frozenset[str]:
        read = {"wet", "fluid_in", "engine", "gun", "key", "hands"}
        for name in self.ends_here:
            for step in self.plan.others[name].steps():
                read |= {c.fact for c in step.when if c.fact in FACTS}
                if isinstance(step, LookStep):
                    read.add(step.fact)
                for act in _acts_of(step):
                    for row in INTERLOCKS:
                        if act in row.acts:
                            read |= row.reads - {"trips"}
        return frozenset(read)

    def canonical(self, job: Job) -> Job:
        """The job that stands for all jobs which are decided like this one."""
        core = job.core
        ending = core.procedure in self.ends_here
        bay = self._bay(core.bay, ending, core.limits.extended)
        live = self.choices_where_it_ends if ending else self.choices
        core = Core(
            bay=bay,
            limits=core.limits,
            procedure=core.procedure,
            step=core.step,
            begun=core.begun,
            main_step="" if ending else core.main_step,
            choices=tuple(c for c in core.choices if c[0] in live),
            held=core.held,
            ask_again=tuple(f for f in core.ask_again if f in self.cone)
            if ending
            else core.ask_again,
            meanwhile=core.meanwhile,
            ended=core.ended,
        )
        return Job(core, self._log(core, job.log, ending))

    def _bay(self, bay: Bay, ending: bool, extended: int) -> Bay:
        """One and the same object for all bays that are alike, so that its id names it."""
        raw = (ending, *map(id, self._facts(bay)), bay.wet, bay.reserved, bay.permit, bay.trips)
        if raw in self._bays:
            return self._bays[raw]
        changes: dict[str, Any] = {fact: states[getattr(bay, fact)] for fact, states in self._maps}
        alike_bay = replace(bay, **changes)
        if ending:
            alike_bay = self._ending(alike_bay, extended)
        key = (*map(id, self._facts(alike_bay)), alike_bay.wet, alike_bay.reserved,
               alike_bay.permit, alike_bay.trips)  # fmt: skip
        self._bays[raw] = self._interned.setdefault(key, alike_bay)
        return self._bays[raw]

    def _ending(self, bay: Bay, extended: int) -> Bay:
        worst = bay.worst_trip
        kept = project(bay, self.cone)
        if not bay.reserved:  # nothing is being sprayed, and nothing will be
            kept = replace(kept, rate=Rate.UNKNOWN)
            if bay.wet is not None and bay.wet > extended:
                kept = replace(kept, wet=extended + 1)
        if worst is None:
            return replace(kept, trips=frozenset())
        return replace(kept, trips=frozenset({worst if worst.terminal else _REPRESENTATIVE_TRIP}))

    def _log(self, core: Core, log: Log, ending: bool) -> Log:
        records: list[Recorded] = []
        if not ending and log.records:
            gun = log.latest("gun")
            if gun is not None:
                records.append(Recorded("gun", gun, ""))
            live = self._live.get((core.procedure, core.step), self._all_live)
            latest: dict[tuple[str, str], Recorded] = {}
            for record in log.records:
                if record.name == "reading" and record.value["phase"] in live:
                    latest[record.value["phase"], record.value["condition"]] = record
            records += [latest[key] for key in sorted(latest)]
        marks: tuple[StepMark, ...] = ()
        if log.marks and (core.procedure, core.step, log.marks[-1].step) in self._repeats:
            marks = (StepMark(log.marks[-1].step, 0, 0, "", ""),)
        return Log(
            people=log.people,
            last=AT,
            waited_ms=NOW_MS,
            aged_ms=NOW_MS,
            numbers=log.numbers,
            records=tuple(records),
            marks=marks,
            doers=log.doers,
        )

    def _read_the_steps(self) -> None:
        for procedure in (self.plan.main, *self.plan.others.values()):
            steps = procedure.steps()
            main = procedure.id == self.plan.main.id
            for number, step in enumerate(steps):
                ahead = steps[number:] if main else self.plan.main.steps()
                self._live[procedure.id, step.id] = frozenset(
                    s.phase for s in ahead if isinstance(s, ReadStep) and s.condition == "zero"
                )
                for earlier in steps[:number]:
                    if earlier.kind in _REPEATED:
                        self._repeats.add((procedure.id, step.id, earlier.id))

    def key(self, standing: Standing) -> tuple[Any, ...]:
        """The hashable name of a state: two states with the same key decide alike."""
        core, log = standing.job.core, standing.job.log
        return (
            id(core.bay),
            *(core.procedure, core.step, core.begun, core.main_step, core.choices, core.held),
            *(core.ask_again, core.meanwhile, core.ended),
            tuple(_told(record) for record in log.records),
            log.marks[0].step if log.marks else "",
            log.doers,
            *(standing.mishaps, standing.signed, standing.breach),
        )


def _told(record: Recorded) -> tuple[Any, ...]:
    value = record.value
    if record.name == "gun":
        return ("gun", value["basis"], value.get("volume_ml"))
    return ("reading", value["phase"], value["condition"], value["pressure_pa"] is not None)


def abstract(plan: Plan, job: Job) -> tuple[Any, ...]:
    """All of ``job`` that ``decide`` can read, as one hashable value (see the module)."""
    shape = Abstraction(plan)
    job = shape.canonical(job)
    return (job.core.bay, *shape.key(Standing(job, 0))[1:])


def _acts_of(step: Any) -> tuple[Act, ...]:
    """The acts that a step asks permits for."""
    match step:
        case ActStep():
            return (step.act,)
        case SprayStep():
            spray = Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING
            return (spray, Act.FILL_GUN)
        case HoldStep():
            return (Act.RUN_ON,)
        case EndStep():
            return (Act.HAND_OVER if step.how == "finished" else Act.ABANDON,)
    return ()


_FRESH = dict.fromkeys((*LASTS_S, "permit"), NOW_MS)
_DUE = {"soak": NOW_MS, "run_on": NOW_MS, "zero": 0, "hold_from": 0}
_NEVER = {"soak": NEVER_MS, "run_on": NEVER_MS, "zero": 0, "hold_from": 0}
_OLD = {fact: _FRESH | {fact: NOW_MS - LASTS_S.get(fact, ROAD_PERMIT_S) * 1000} for fact in _FRESH}


def aged(job: Job, fact: str) -> Job:
    """The job at a moment when ``fact`` (or the permit) has just become too old."""
    return _at(job, _OLD[fact], _NEVER)


def timed(job: Job, due: bool = False) -> Job:
    """The job at a moment when nothing is too old; the timers are due or never will be."""
    return _at(job, _FRESH, _DUE if due else _NEVER)


def _at(job: Job, set_ms: dict[str, int], timers: dict[str, int]) -> Job:
    log = job.log
    return Job(
        job.core,
        Log(
            people=log.people,
            last=log.last,
            waited_ms=log.waited_ms,
            aged_ms=log.aged_ms,
            set_ms=set_ms,
            timers=timers,
            numbers=log.numbers,
            records=log.records,
            marks=log.marks,
            doers=log.doers,
        ),
    )
