"""The proof of a procedure: the real ``decide`` and ``evolve``, tried in every state.

``prove`` searches main procedure, recoveries and cards together, as far as ``Scenario`` and
the number of mishaps allow, and says: how many states and transitions; which always-property
breaks, by the shortest trace; what is never reached; which step is refused on every path, by
which interlock; from where ``abandoned`` cannot be forced (backward AND-OR fixpoint) and from
where ``finished`` cannot be reached.

**What a trace holds.** Any answers to the steps, any retries and ways back that a refusal
calls for, and ``mishaps`` (one) of: a trip from any cause, a fact or permit grown too old, an
interruption, a stop. In ``abandon`` and on the cards mishaps are not counted: any number, at
any moment. Two mishaps before that are the business of the kernel proof and of random walks.

**Fairness.** An answer that leaves the job at its step is taken to be asked again: nobody
answers so for ever. The states that it leads to are judged all the same.
"""

import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from runner.commands import Begin, Open, SetLimits, Sign, Stop
from runner.engine import ABANDON, Judges, Outcome, Plan, decide
from runner.job import Core, Job, Signed, evolve
from runner.procedure import ResetStep, SignStep
from runner.proof_moves import PEOPLE, WORKER, Moves, Scenario, Try
from runner.proof_properties import PROPERTIES, broken_by, is_check
from runner.proof_state import LATER, Abstraction, Standing, aged, timed
from safety.bay import FluidIn
from safety.interlocks import INTERLOCKS
from safety.search import reachable_whatever, search

CAP = 400_000
MOST_SAID = 3
_KEPT_MEANINGS = frozenset({"agreed", "released", "received"})
"""The signatures that a property asks for."""
ROWS = frozenset(row.id for row in INTERLOCKS)
NUMBERS = {
    "port_cool_k": "320.0",
    "port_warm_k": "420.0",
    "touch_k": "320.0",
    "soak_s": "600.0",
    "zero_wait_s": "120.0",
    "zero_low_pa": "-1000.0",
    "zero_high_pa": "500.0",
    "revs_low_rpm": "2000.0",
    "revs_high_rpm": "2400.0",
    "rev_ceiling_rpm": "3000.0",
    "reaction_s": "0.0",
    "bottle_ml": "0.5",
    "drying_idle_s_per_ml": "60.0",
    "drying_raised_s_per_ml": "20.0",
}
"""Stand-ins: limits meet volumes by sums and comparisons alone, so 1, 2 and 3 tenths do."""


@dataclass(frozen=True, slots=True)
class Move:
    """One try that was not refused, and the state that it leads to."""

    said: str
    step: tuple[str, str]
    ours: bool
    kind: str
    outcomes: tuple[int, ...]
    stays: bool = False
    puts_right: bool = False


@dataclass
class Asked:
    """What became of beginning one step: how often it was granted, and what refused it."""

    granted: bool = False
    refusals: list[frozenset[str]] = field(default_factory=list)

    @property
    def always(self) -> tuple[str, ...]:
        """The interlocks that refused every time; if none did, all that ever refused."""
        common = frozenset.intersection(*self.refusals) if self.refusals else frozenset()
        return tuple(sorted(common or frozenset().union(*self.refusals)))


class ProcedureModel:
    """One plan under one scenario as a model for ``safety.search``: states are numbers."""

    def __init__(
        self,
        plan: Plan,
        scenario: Scenario,
        mishaps: int = 1,
        within: frozenset[str] | None = None,
        giving_up: bool = True,
    ) -> None:
        self.shape = Abstraction(plan)
        self.moves_of = Moves(plan, scenario, self.shape.merged)
        self.mishaps = mishaps
        self.within = within
        self.giving_up = giving_up
        self.standings: list[Standing] = []
        self.asked: dict[tuple[str, str], Asked] = {}
        self.reached: set[tuple[str, str]] = set()
        self.refused_at: dict[int, frozenset[str]] = {}
        self.stop_refused: list[int] = []
        self._numbers: dict[tuple[object, ...], int] = {}
        self._moves: dict[int, tuple[Move, ...]] = {}
        self._plans = {
            (triage, trend): replace(plan, judges=_judges(triage, trend))
            for triage in ("go", "warn", "dont", "nothing")
            for trend in ("level", "falling", "not_known")
        }
        self._checks = frozenset(
            step.id
            for procedure in (plan.main, *plan.others.values())
            for step in procedure.steps()
            if isinstance(step, SignStep | ResetStep) and is_check(step)
        )
        self._plan = self._plans["go", "level"]

    # -- the model ---------------------------------------------------------------------------

    def initial(self) -> Iterator[int]:
        """A job opened by the worker, its limits in the record."""
        job = Job()
        limits = SetLimits(1, 2, 3, NUMBERS, {}, {})
        for command in (Open(False, PEOPLE), limits):
            for event in decide(self._plan, job, command, LATER, WORKER).events:
                job = evolve(job, event)
        yield self._number(Standing(self.shape.canonical(job), self.mishaps))

    def actions(self, state: int) -> tuple[Move, ...]:
        """Every try that is not refused and changes something."""
        if state not in self._moves:
            self._moves[state] = tuple(self._all(state))
        return self._moves[state]

    def step(self, state: int, action: Move) -> tuple[int, ...]:
        """The states that the move leads to."""
        return action.outcomes

    def at(self, state: int) -> Standing:
        """The state of that number."""
        return self.standings[state]

    # -- inside ------------------------------------------------------------------------------

    def _number(self, standing: Standing) -> int:
        key = self.shape.key(standing)
        if key not in self._numbers:
            self._numbers[key] = len(self.standings)
            self.standings.append(standing)
            self.reached.add((standing.job.core.procedure, standing.job.core.step))
        return self._numbers[key]

    def _all(self, state: int) -> Iterator[Move]:
        standing = self.standings[state]
        job = standing.job
        if standing.breach or job.core.ended:
            return
        here = (job.core.procedure, job.core.step)
        refused: set[str] = set()
        granted = False
        unknown = ""
        for t in self.moves_of.tries(job):
            outcome, after = self._run(standing, t)
            if not outcome.refused:
                granted = granted or isinstance(t.command, Begin)
                yield from self._move(state, t, after)
                continue
            rows = {r.interlock for r in outcome.refusals} & ROWS
            if isinstance(t.command, Begin | Sign):
                refused |= rows
            for refusal in outcome.refusals:
                if refusal.interlock == "branch-unknown":
                    unknown = refusal.reason.split("'")[3]
            if outcome.events and after != standing:
                yield from self._move(state, replace(t, ours=False), after)
        if not job.core.begun and not (job.core.held or job.core.meanwhile or job.core.ask_again):
            asked = self.asked.setdefault(here, Asked())
            asked.granted = asked.granted or granted
            if not granted and refused:
                asked.refusals.append(frozenset(refused))
                self.refused_at[state] = frozenset(refused)
        if not granted and (refused or unknown):
            step = self.moves_of.plan.procedure(here[0]).step(here[1])
            for t in self.moves_of.put_right(job, step, frozenset(refused), unknown):
                outcome, after = self._run(standing, t)
                if not outcome.refused:
                    yield from self._move(state, t, after, puts_right=True)
        if here[0] != ABANDON and self.giving_up:
            for t in self.moves_of.give_up(job):
                yield from self._move(state, t, self._run(standing, t)[1])
        if self._may_go_wrong(standing) and (not job.core.begun or job.bay.permit is not None):
            for t in self.moves_of.mishaps(job):
                outcome, after = self._run(standing, t)
                if not outcome.refused:
                    yield from self._move(state, t, after)
        outcome, after = self._run(standing, Try("stop", Stop()))
        if outcome.refused or not after.job.core.held:
            self.stop_refused.append(state)

    def _move(
        self, state: int, t: Try, after: Standing, puts_right: bool = False
    ) -> Iterator[Move]:
        before = self.standings[state]
        core, now = before.job.core, after.job.core
        new_trip = bool(after.job.bay.trips - before.job.bay.trips)
        ending = core.procedure in self.shape.ends_here
        mishap = t.mishap or (new_trip and not ending)
        if mishap:
            if not self._may_go_wrong(before) and not after.breach:
                return
            after = replace(after, mishaps=max(0, before.mishaps - 1))
        if now.procedure in self.shape.ends_here and core.procedure not in self.shape.ends_here:
            after = replace(after, signed=frozenset())  # the notice is signed there or not at all
        number = self._number(after)
        if number == state:
            return
        stays = (
            (core.procedure, core.step, core.begun) == (now.procedure, now.step, now.begun)
            and not new_trip
            and core.meanwhile == now.meanwhile
            and core.ask_again == now.ask_again
        )
        here = (core.procedure, core.step)
        yield Move(
            t.said, here, t.ours and not (t.kind and stays), t.kind, (number,), stays, puts_right
        )

    def _may_go_wrong(self, standing: Standing) -> bool:
        core = standing.job.core
        inside = self.within is None or core.step in self.within or core.main_step != ""
        return standing.mishaps > 0 and (inside or core.procedure in self.shape.ends_here)

    def _run(self, standing: Standing, t: Try) -> tuple[Outcome, Standing]:
        """Decide one try and fold its events; judge each event by every property."""
        job = standing.job
        job = aged(job, t.old) if t.old else timed(job, t.due)
        plan = (
            self._plan
            if (t.triage, t.trend) == ("go", "level")
            else (self._plans[t.triage, t.trend])
        )
        outcome = decide(plan, job, t.command, LATER, WORKER)
        signed, breach = standing.signed, ""
        for event in outcome.events:
            breach = breach or broken_by(job, event, signed, self._checks)
            if isinstance(event, Signed):
                signed |= {event.meaning} & _KEPT_MEANINGS
            job = evolve(job, event)
        return outcome, Standing(self.shape.canonical(job), standing.mishaps, signed, breach)


def _judges(triage: str, trend: str) -> Judges:
    return Judges(
        triage=lambda job: {"state": triage},
        verdict=lambda job: {"state": "cannot_say"},
        trend=lambda job: {"state": trend, "text": trend},
    )


class _Answered:
    """The same graph with the answers to one question as one move that may lead to any."""

    def __init__(self, model: ProcedureModel) -> None:
        self.model = model

    def initial(self) -> Iterator[int]:
        return self.model.initial()

    def actions(self, state: int) -> Iterator[Move]:
        grouped: dict[str, list[Move]] = {}
        for move in self.model.actions(state):
            if move.kind and move.ours:
                grouped.setdefault(move.kind, []).append(move)
            else:
                yield move
        for kind, moves in grouped.items():
            outcomes = tuple(dict.fromkeys(o for m in moves for o in m.outcomes))
            said = " / ".join(m.said for m in moves[:MOST_SAID])
            said += " / ..." if len(moves) > MOST_SAID else ""
            yield Move(said, moves[0].step, True, kind, outcomes)

    def step(self, state: int, action: Move) -> tuple[int, ...]:
        return action.outcomes


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a trace: the step, where it stands, and what was done or answered."""

    procedure: str
    step: str
    place: str
    said: str

    def __str__(self) -> str:
        """As the apprentice reads it."""
        return f"{self.step} ({self.place}): {self.said}"


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, with the shortest way to it.

    ``kind``: always, sometimes, refused, end, stop. ``name`` is the property or
    the interlock(s); ``step`` the step where it shows.
    """

    kind: str
    name: str
    step: str
    place: str
    said: str
    trace: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class ProofResult:
    """What a search found for one procedure (with all that its trips lead to)."""

    procedure: str
    scenario: str
    mishaps: int
    states: int
    transitions: int
    seconds: float
    faults: tuple[Fault, ...]
    always: tuple[str, ...]
    giving_up: bool
    well: bool
    reached: frozenset[tuple[str, str]]
    ended: frozenset[str]

    @property
    def proven(self) -> bool:
        """True when nothing was found wrong."""
        return not self.faults


_USED_UP = frozenset({"spray-off-ledger", "spray-running-ledger"})
"""A spray is refused by these when its dose is in: as it should be."""

Places = Callable[[str, str], str]
"""File and line of a step, by the ids of its procedure and itself."""
Trace = tuple[tuple[Move, int], ...]


def prove(
    plan: Plan,
    places: Places,
    scenario: Scenario | None = None,
    mishaps: int = 1,
    cap: int = CAP,
    within: frozenset[str] | None = None,
    giving_up: bool = True,
) -> ProofResult:
    """Search ``plan`` and judge it. ``places`` gives file and line of a step.

    ``within`` lets mishaps begin at those steps of the main procedure only (all, if None).
    Without ``giving_up`` nobody gives up, and whether ``abandoned`` is in reach is not judged.

    Raises SearchCapped when there are more than ``cap`` states: nothing is then proven.
    """
    scenario = scenario or Scenario()
    started = time.perf_counter()
    model = ProcedureModel(plan, scenario, mishaps, within, giving_up)
    found = search(
        model,
        {rule.name: _unbroken(model, rule.name) for rule in PROPERTIES},
        cap=cap,
    )
    faults: list[Fault] = []
    for breach in found.breaches:
        trace = _lines(breach.trace, places)
        broken = next(rule for rule in PROPERTIES if rule.name == breach.name)
        faults.append(_fault("always", broken.name, trace[-1], broken.broken, trace))
    faults += _refused(model, places)
    if scenario.well and not mishaps:
        faults += _needs_mending(model, places, {fault.step for fault in faults})
    if giving_up:
        faults += _unabandoned(model, places, cap)
    faults += _unfinished(model, places)
    for state in model.stop_refused[:1]:
        here = model.at(state).job.core
        line = Line(here.procedure, here.step, places(here.procedure, here.step), "stop")
        faults.append(_fault("stop", "stop", line, "stop was not accepted", ()))
    return ProofResult(
        plan.main.id,
        scenario.name,
        mishaps,
        found.states,
        found.transitions,
        time.perf_counter() - started,
        tuple(faults),
        tuple(rule.name for rule in PROPERTIES),
        giving_up,
        scenario.well,
        frozenset(model.reached),
        frozenset(standing.job.core.ended for standing in model.standings),
    )


def _unbroken(model: ProcedureModel, name: str) -> Callable[[int], bool]:
    return lambda state: model.standings[state].breach != name


def _fault(kind: str, name: str, at: Line, said: str, trace: tuple[Line, ...]) -> Fault:
    return Fault(kind, name, at.step, at.place, said, trace)


def _lines(trace: Trace, places: Places) -> tuple[Line, ...]:
    return tuple(Line(m.step[0], m.step[1], places(*m.step), m.said) for m, _ in trace)


def _refused(model: ProcedureModel, places: Places) -> Iterator[Fault]:
    for (procedure, step), asked in model.asked.items():
        if asked.granted or not asked.refusals:
            continue
        rows = ", ".join(asked.always)
        place = places(procedure, step)
        said = f"step {step} ({place}) is refused by interlock {rows} on every path"
        yield Fault("refused", rows, step, place, said)


def _needs_mending(model: ProcedureModel, places: Places, known: set[str]) -> Iterator[Fault]:
    """Steps that are refused although all went well, on a path that needed no mending."""
    came: dict[int, tuple[int, Move] | None] = dict.fromkeys(model.initial())
    order = deque(came)
    while order:
        state = order.popleft()
        here = _step_of(model, state)
        rows = model.refused_at.get(state)
        if rows and here[1] not in known and not rows <= _expected(model, state):
            known.add(here[1])
            name, place = ", ".join(sorted(rows)), places(*here)
            said = f"step {here[1]} ({place}) is refused by interlock {name} though all went well"
            trace = _lines(_back_from(state, came), places)
            yield Fault("refused", name, here[1], place, said, trace)
        for move in model.actions(state):
            if move.puts_right or model.at(state).job.core.procedure != here[0]:
                continue
            for after in move.outcomes:
                if after not in came:
                    came[after] = (state, move)
                    order.append(after)


def _expected(model: ProcedureModel, state: int) -> frozenset[str]:
    """A loaded gun is empty after one spray, and is filled again at the spray step."""
    sprayed = model.at(state).job.bay.fluid_in is FluidIn.YES
    return _USED_UP | {"spray-rate"} if sprayed else _USED_UP


def _back_from(state: int, came: Mapping[int, tuple[int, Move] | None]) -> Trace:
    trace: list[tuple[Move, int]] = []
    while (by := came[state]) is not None:
        trace.append((by[1], state))
        state = by[0]
    return tuple(reversed(trace))


def never_reached(results: Iterable[ProofResult], plan: Plan, places: Places) -> list[Fault]:
    """The sometimes-properties over all searches of one procedure: every step is reached, and
    both ends."""
    results = tuple(results)
    reached = frozenset[tuple[str, str]]().union(*(r.reached for r in results))
    ended = frozenset[str]().union(*(r.ended for r in results))
    found = []
    for procedure in (plan.main, *plan.others.values()):
        for step in procedure.steps():
            if (procedure.id, step.id) not in reached:
                place = places(procedure.id, step.id)
                said = f"step {step.id} ({place}) is never reached"
                found.append(Fault("sometimes", "every step reached", step.id, place, said))
    for how in ("finished", "abandoned"):
        if how not in ended:
            said = f"no path ends {how}"
            found.append(Fault("sometimes", f"{how} reached", "", plan.main.id, said))
    return found


def _unabandoned(model: ProcedureModel, places: Places, cap: int) -> Iterator[Fault]:
    """From where ``abandoned`` cannot be forced; one fault for each step, by the shortest trace."""
    shown: set[tuple[str, str]] = set()
    for breach in reachable_whatever(
        _Answered(model),
        lambda s: model.at(s).job.core.ended == "abandoned" or _closed(model, s),
        lambda move: move.ours,
        cap=cap,
    ):
        core = model.at(breach.state).job.core
        if (core.procedure, core.step) not in shown:
            shown.add((core.procedure, core.step))
            yield _end_fault(core, "abandoned", breach.trace, places)


def _closed(model: ProcedureModel, state: int) -> bool:
    """A state that needs no further end: ended, or reported as a breach already."""
    standing = model.at(state)
    return bool(standing.breach) or standing.job.core.ended == "finished"


def _end_fault(core: Core, end: str, trace: Trace, places: Places) -> Fault:
    place = places(core.procedure, core.step)
    said = f"{end} cannot be reached from step {core.step} ({place})"
    return Fault("end", f"{end} in reach", core.step, place, said, _lines(trace, places))


def _unfinished(model: ProcedureModel, places: Places) -> Iterator[Fault]:
    count = len(model.standings)
    into: list[list[int]] = [[] for _ in range(count)]
    came: dict[int, tuple[int, Move] | None] = dict.fromkeys(range(count))
    order: deque[int] = deque(model.initial())
    seen = set(order)
    while order:
        state = order.popleft()
        for move in model.actions(state):
            for after in move.outcomes:
                if move.ours or move.stays:
                    into[after].append(state)
                if after not in seen:
                    seen.add(after)
                    came[after] = (state, move)
                    order.append(after)
    able = {s for s in range(count) if model.at(s).job.core.ended == "finished"}
    work = list(able)
    while work:
        for state in into[work.pop()]:
            if state not in able:
                able.add(state)
                work.append(state)
    stuck = [s for s in range(count) if s not in able and s in seen and _should_finish(model, s)]
    last = _no_further(model, stuck) or stuck[-1:]
    shown: set[tuple[str, str]] = set()
    for state in last:
        core = model.at(state).job.core
        if (core.procedure, core.step) in shown:
            continue
        shown.add((core.procedure, core.step))
        yield _end_fault(core, "finished", _back_from(state, came), places)


def _should_finish(model: ProcedureModel, state: int) -> bool:
    standing = model.at(state)
    core = standing.job.core
    given_up = core.procedure in model.shape.ends_here
    terminal = any(trip.terminal for trip in standing.job.bay.trips)
    return not (given_up or terminal or standing.breach or core.ended)


def _no_further(model: ProcedureModel, stuck: list[int]) -> list[int]:
    """The stuck states at steps from which people can do nothing that leads to another step."""
    leaves: set[tuple[str, str]] = set()
    at = {state: _step_of(model, state) for state in stuck}
    for state, here in at.items():
        for move in model.actions(state):
            if move.ours and any(at.get(after, here) != here for after in move.outcomes):
                leaves.add(here)
    return [state for state, here in at.items() if here not in leaves]


def _step_of(model: ProcedureModel, state: int) -> tuple[str, str]:
    core = model.at(state).job.core
    return core.procedure, core.step
