"""The kernel proof: every act, report and lapse in any order, without any procedure.

For each monitor the real ``permit`` and ``apply`` are explored by ``search`` with the truth
of ``truth`` beside them. The whole bay is too large for that; three arguments make it small.

1. *Rows only deny.* A row, or a part of one, whose facts are not kept is dropped
   (``weaken``). What remains permits more. What holds there holds with all rows.
2. *Effects are per fact.* What a fact becomes depends on the event, on itself, and on the
   few facts named in ``LEANS_ON``. A set of kept facts that is closed under it
   (``close``) therefore moves the same whether the other facts are there or not:
   projecting and then applying gives the same as applying and then projecting. A test
   checks that for random bays and events.
3. *Limits only compare.* Volumes meet limits by sums and comparisons alone, so small whole
   numbers with doses below, at and above each limit stand for all.

What the proofs rest on: the truth as ``truth`` states it, and a loaded spray being asked for
with the volume that was loaded (``classify`` in the runner sees to that).
"""

from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Any

from safety.bay import FACTS, SPRAYS, Act, Bay, DoseLimits, Rate, Trip
from safety.effects import EFFECTS, GRANTS, Row
from safety.happenings import ALWAYS_POSSIBLE, OUTCOMES, Happening
from safety.interlocks import INTERLOCKS, Ask, Both, Condition, Either, Interlock, Is, Rule
from safety.kernel import (
    BayEvent,
    Granted,
    Happened,
    Lapsed,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
    apply,
    permit,
    trips,
)
from safety.monitors import MUCH_DML, Event, Monitor, Needs, Strand
from safety.search import Breach, Found, search
from safety.truth import (
    World,
    after,
    begin,
    ended,
    ends_of_spray,
    first_worlds,
    looked,
    possible,
    strayed,
    volumes,
)

LIMITS = DoseLimits(strict=1, extended=2, running=3)
DOSES = (1, 2, 3)

LEANS_ON: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(
        ("idle", "hand_turn", "start_check", "inspection", "port", "run_on"), ("engine",)
    ),
    **dict.fromkeys(("zero", "line"), ("hose", "gun")),
    **dict.fromkeys(("controls", "fluid_check"), ("crew",)),
    "wet": ("rate", "fluid_in", "run_on"),
    Trip.STALLED.value: ("wet",),
    Trip.OVERDOSE.value: ("wet", "engine", "gun", "fluid_in"),
    Trip.UNATTENDED.value: ("engine", "controls", "fumes", "secured"),
    Trip.UNPERMITTED.value: ("engine", "hands", "hose", "gun", "key"),
}
"""For each fact, and each trip, the other facts that decide what it becomes.

``permit`` and ``reserved`` are always kept.
"""

_NEVER_SEEN = frozenset(
    {
        *("rate", "soak", "run_on", "hand_turn", "inspection", "recovery"),
        *("zero", "before", "after", "fluid_in"),
    }
)
"""Facts that no look, measurement or check settles: they follow from happenings alone."""

LASTING = frozenset(
    {
        *("fluid_in", "tier", "arrival", "identity", "agreed", "triage"),
        *("before", "after", "codes"),
    }
)
"""Facts that never grow old: choices, the order, finished evidence."""


def close(names: Iterable[str]) -> frozenset[str]:
    """``names`` with all that they lean on."""
    kept = frozenset(names)
    while True:
        wider = kept.union(*(LEANS_ON.get(name, ()) for name in kept))
        if wider == kept:
            return kept
        kept = wider


def project(bay: Bay, kept: frozenset[str]) -> Bay:
    """``bay`` with every fact that is not kept unknown, and only the kept trips."""
    blank: dict[str, Any] = {f: FACTS[f]["UNKNOWN"] for f in FACTS if f not in kept}
    shown = frozenset(trip for trip in bay.trips if trip.value in kept)
    if "wet" not in kept:
        return replace(bay, wet=None, reserved=0, trips=shown, **blank)
    return replace(bay, trips=shown, **blank)


def weaken(condition: Condition, kept: frozenset[str]) -> Condition | None:
    """What is left of ``condition`` when only ``kept`` can be read; ``None``: nothing.

    It holds whenever the whole condition holds.
    """
    match condition:
        case Is() | Rule():
            return condition if condition.reads <= kept | {"trips"} else None
        case Both(parts):
            left = tuple(w for part in parts if (w := weaken(part, kept)) is not None)
            return Both(left) if left else None
        case Either(parts):
            weak = tuple(weaken(part, kept) for part in parts)
            return Either(tuple(w for w in weak if w is not None)) if None not in weak else None


def weakened_rows(rows: Iterable[Interlock], kept: frozenset[str]) -> tuple[Interlock, ...]:
    """The rows as far as the kept facts show them."""
    return tuple(
        replace(row, allows=left) for row in rows if (left := weaken(row.allows, kept)) is not None
    )


def all_asks(doses: tuple[int, ...], trips: tuple[Trip, ...] = ()) -> Iterator[Ask]:
    """Everything that can be asked."""
    for act in Act:
        if act in SPRAYS:
            yield from (Ask(act, dose) for dose in doses)
        elif act is Act.RAISE:
            yield from (Ask(act, band_under_ceiling=under) for under in (True, False))
        elif act is Act.RESET:
            yield from (Ask(act, trip=trip) for trip in trips)
        else:
            yield Ask(act)


Outcome = tuple[int, int, tuple[Event, ...]]
"""(bay number, world number, what truly happened): one thing that a move may lead to."""


@dataclass(frozen=True, slots=True)
class Move:
    """One move of people or world, in words, with all that it may lead to."""

    said: str
    outcomes: tuple[Outcome, ...] = field(repr=False)


State = tuple[int, int, Hashable, str]
"""(bay number, world number, the monitor's account, the breach in words or nothing)."""


class Kernel:
    """The kernel with one monitor beside it, as a model for ``search``."""

    def __init__(
        self,
        monitor: Monitor,
        keep: Iterable[str],
        rows: tuple[Interlock, ...] = INTERLOCKS,
        limits: DoseLimits = LIMITS,
        doses: tuple[int, ...] = DOSES,
        tracked: Iterable[str] | None = None,
    ) -> None:
        self.monitor = monitor
        self.kept = close(keep)
        self.tracked = self.kept if tracked is None else frozenset(tracked)
        self.rows = weakened_rows(rows, self.kept)
        self.limits = limits
        self.trips = tuple(trip for trip in Trip if trip.value in self.kept)
        self._facts = tuple(sorted(self.kept & frozenset(FACTS)))
        self.happenings = tuple(what for what in Happening if self._matters(what))
        self.acts = tuple(act for act in Act if self._act_matters(act))
        self.asks = tuple(a for a in all_asks(doses, self.trips) if a.act in self.acts)
        self.bays: list[Bay] = []
        self.worlds: list[World] = []
        self._bay_numbers: dict[tuple[object, ...], int] = {}
        self._events: dict[tuple[int, BayEvent], tuple[int, tuple[Event, ...]]] = {}
        self._permitted: dict[int, tuple[Ask, ...]] = {}
        self._world_numbers: dict[World, int] = {}
        self._moves: dict[tuple[int, int], tuple[Move, ...]] = {}
        self._accounts: dict[tuple[Hashable, tuple[Event, ...]], tuple[Hashable, str]] = {}

    # -- the model ---------------------------------------------------------------------------

    def initial(self) -> Iterator[State]:
        """Nothing is known; the world is anywhere."""
        for world in first_worlds(self.tracked):
            dml = 0 if world.arrived_dry else MUCH_DML
            account, _ = self.monitor.step(self.monitor.start(), ("arrived", dml))
            yield self._bay(Bay()), self._world(world), account, ""

    def actions(self, state: State) -> tuple[Move, ...]:
        """Every move that changes something for the tool or for the truth."""
        key = state[0], state[1]
        if key not in self._moves:
            moves = self._all_moves(key[0], self.worlds[key[1]])
            self._moves[key] = tuple(
                Move(said, shown)
                for said, outcomes in moves
                if (shown := tuple(dict.fromkeys(o for o in outcomes if o != (*key, ()))))
            )
        return self._moves[key]

    def step(self, state: State, action: Move) -> Iterator[State]:
        """The monitor follows what truly happened."""
        for bay, world, truth in action.outcomes:
            account, breach = self._follow(state[2], truth)
            yield bay, world, account, breach

    # -- what can be left out ------------------------------------------------------------------

    def _moves_bay(self, row: Row) -> bool:
        return not frozenset(self._facts) <= row.keeps or ("wet" in self.kept and row.wet != "keep")

    def _matters(self, what: Happening) -> bool:
        """False for a happening that neither a kept fact, a kept trip nor the monitor notices."""
        return (
            self._moves_bay(EFFECTS[what]) or what.value in self.monitor.hears or bool(self.trips)
        )

    def _act_matters(self, act: Act) -> bool:
        """False for an act that nobody would notice: its permit alone changes nothing."""
        return (
            bool(self.trips)
            or act in GRANTS
            or f"begin {act.value}" in self.monitor.hears
            or any(what in self.happenings for what in OUTCOMES[act])
        )

    # -- inside ------------------------------------------------------------------------------

    def _follow(self, account: Hashable, truth: tuple[Event, ...]) -> tuple[Hashable, str]:
        if not truth:
            return account, ""
        key = account, truth
        if key not in self._accounts:
            breach = ""
            for event in truth:
                account, said = self.monitor.step(account, event)
                breach = breach or said or ""
            self._accounts[key] = account, breach
        return self._accounts[key]

    def _bay(self, bay: Bay) -> int:
        key = (
            *(id(getattr(bay, fact)) for fact in self._facts),
            (bay.wet, bay.reserved) if "wet" in self.kept else None,
            bay.permit,
            bay.trips,
        )
        if key not in self._bay_numbers:
            self._bay_numbers[key] = len(self.bays)
            self.bays.append(project(bay, self.kept))
        return self._bay_numbers[key]

    def _world(self, world: World) -> int:
        if world not in self._world_numbers:
            self._world_numbers[world] = len(self.worlds)
            self.worlds.append(world)
        return self._world_numbers[world]

    def _event(self, at: int, event: BayEvent) -> tuple[int, tuple[Event, ...]]:
        """The bay after ``event`` and the trips that follow, as the runner chains them."""
        key = at, event
        if key not in self._events:
            bay = self.bays[at]
            now = apply(bay, event)
            alarms: list[Event] = []
            for trip in trips(bay, event, now, self.limits):
                if trip in self.trips:
                    now = apply(now, Tripped(trip))
                    alarms.append(("tripped", trip.value))
            self._events[key] = self._bay(now), tuple(alarms)
        return self._events[key]

    def _outcome(self, at: int, event: BayEvent, world: World, *truth: Event) -> Outcome:
        now, alarms = self._event(at, event)
        truth = (*truth, *alarms)
        return now, self._world(world), ((*truth, ("over",)) if truth else ())

    def _all_moves(self, at: int, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        act = self.bays[at].permit
        if act is None:
            yield from self._asks(at, world)
        else:
            yield from self._answers(at, act, world)
            yield from self._unanswered(at, act, world)
        yield from self._happenings(at, world)
        yield from self._looks(at, world)
        yield from self._lapses(at, world)

    def permitted(self, at: int) -> tuple[Ask, ...]:
        """Everything that is permitted in the bay of that number."""
        if at not in self._permitted:
            bay = self.bays[at]
            self._permitted[at] = tuple(
                ask for ask in self.asks if not permit(bay, ask, self.limits, self.rows)
            )
        return self._permitted[at]

    def _asks(self, at: int, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        for ask in self.permitted(at):
            if ask.trip is not None:
                name = ask.trip.value
                done = self._outcome(at, ResetDone(ask.trip), world, ("reset", name))
                yield f"reset {name}", [done]
                continue
            granted = Granted(ask.act, ask.dose)
            loaded = ask.act in SPRAYS and self.bays[at].rate is Rate.LOADED
            begun = begin(world, ask.act, ask.dose, loaded)
            begins = ("begin", ask.act.value, ask.dose, ask.band_under_ceiling)
            yield (
                f"permitted: {ask.act.value}" + (f" {ask.dose}" if ask.dose else ""),
                [
                    self._outcome(at, granted, begun, begins),
                    self._outcome(at, granted, world),
                ],
            )

    def _answers(self, at: int, act: Act, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        if not world.begun:
            if act in SPRAYS:
                none = Happened(Happening.SPRAY_NONE, 0)
                yield "reported: spray_none", [self._outcome(at, none, world)]
            return
        for what, went_in, said in self._ends(act, world):
            yield (
                f"reported: {what.value}"
                + (f", {went_in} in, {said} reported" if act in SPRAYS else ""),
                self._true(at, Happened(what, said), world, what, went_in),
            )

    def _ends(self, act: Act, world: World) -> Iterator[tuple[Happening, int, int | None]]:
        """(happening, truly gone in, reported) for every honest end of ``act``."""
        if act in SPRAYS:
            yield from ends_of_spray(act, world)
        else:
            yield from ((what, 0, 0) for what in OUTCOMES[act])

    def _true(
        self, at: int, event: BayEvent, world: World, what: Happening, went_in: int
    ) -> list[Outcome]:
        """``what`` has truly happened and ended what was begun; the tool gets ``event``."""
        truth: tuple[Event, ...] = (("did", what.value, 0),)
        if went_in:
            truth = (("sprayed", went_in), *truth)
        return [self._outcome(at, event, w, *truth) for w in after(ended(world), what)]

    def _unanswered(self, at: int, act: Act, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        event = PermitLapsed()
        ends: list[Outcome] = []
        if world.begun:
            for what, went_in, _ in self._ends(act, world):
                ends += self._true(at, event, world, what, went_in)
        if not world.dose:
            ends.append(self._outcome(at, event, replace(world, begun=False)))
        yield f"no answer to {act.value}", ends

    def _happenings(self, at: int, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        act = self.bays[at].permit
        answers = OUTCOMES[act] if act is not None else ()
        for what in self.happenings:
            if what in ALWAYS_POSSIBLE and what not in answers and possible(world, what):
                yield from self._happening(at, world, what)

    def _happening(
        self, at: int, world: World, what: Happening
    ) -> Iterator[tuple[str, list[Outcome]]]:
        if what is Happening.OVERDOSED:
            yield what.value, self._true(at, Happened(what, None), world, what, MUCH_DML)
        elif what is Happening.DRAINED:
            for amount in (1, 2):
                truth = ("did", what.value, amount)
                ends = [self._outcome(at, Happened(what, amount), world, truth)]
                yield f"{what.value} {amount}", ends
        elif world.dose and EFFECTS[what].wet == "cut":
            ends = []
            for went_in in volumes(world):
                ends += self._true(at, Happened(what), world, what, went_in)
            yield f"{what.value}, the spray cut short", ends
        else:
            truth = ("did", what.value, 0)
            yield (
                what.value,
                [self._outcome(at, Happened(what), w, truth) for w in after(world, what)],
            )

    def _looks(self, at: int, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        for fact in sorted(frozenset(self._facts) - _NEVER_SEEN | {"road", "arrival"}):
            for state in FACTS[fact]:
                found = looked(world, fact, state.value)
                if found is not None:
                    truth = (("seen", fact, state.value),) if fact in self.kept else ()
                    ends = [self._outcome(at, Seen(fact, state), found, *truth)]
                    yield f"seen: {fact} {state.value}", ends

    def _lapses(self, at: int, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        for fact in sorted(frozenset(self._facts) - LASTING):
            if not getattr(self.bays[at], fact).unknown:
                worlds = strayed(world, (fact,)) if fact in ("hands", "key") else (world,)
                truth = ("doubt", fact)
                ends = [self._outcome(at, Lapsed(fact), w, truth) for w in worlds]
                yield f"too long ago: {fact}", ends


@dataclass(frozen=True)
class Follows:
    """A monitor that breaks nothing by itself: it only keeps the account of one strand."""

    strand: Strand
    invariant: int = 0

    @property
    def name(self) -> str:
        return "true: " + ", ".join(self.strand.facts)

    @property
    def hears(self) -> frozenset[str]:
        return self.strand.hears

    def start(self) -> Hashable:
        return self.strand.start()

    def step(self, now: Hashable, event: Event) -> tuple[Hashable, None]:
        return self.strand.after(now, event), None


def prove_belief(
    strand: Strand, rows: tuple[Interlock, ...] = INTERLOCKS, *, cap: int = 200_000
) -> tuple[Kernel, Found[State, Move]]:
    """Search for a state in which the tool believes of a strand's facts what is not true.

    Judged where something may be asked: while a permit stands, nothing else is permitted.

    Raises:
        safety.search.SearchCapped: the model grew beyond ``cap`` states.
    """
    kernel = Kernel(Follows(strand), strand.facts, rows)
    judged: dict[tuple[int, Hashable], bool] = {}

    def borne_out(state: State) -> bool:
        key = state[0], state[2]
        if key not in judged:
            bay = kernel.bays[state[0]]
            judged[key] = bay.permit is not None or strand.bears_out(
                believed(bay, strand), state[2]
            )
        return judged[key]

    always = {kernel.monitor.name: borne_out}
    return kernel, search(kernel, always, cap=cap, first_breach_only=True)


def believed(bay: Bay, strand: Strand) -> tuple[object, ...]:
    """What the tool believes of the facts of ``strand``."""
    return tuple(bay.wet if fact == "wet" else getattr(bay, fact).value for fact in strand.facts)


def gaps(
    needs: Needs,
    rows: tuple[Interlock, ...] = INTERLOCKS,
    limits: DoseLimits = LIMITS,
    doses: tuple[int, ...] = DOSES,
) -> Iterator[tuple[Bay, Ask, tuple[Hashable, ...]]]:
    """Every belief under which an act is permitted though a truth that bears the belief out
    does not meet ``needs``. None, together with ``prove_belief`` of each strand: proven.
    """
    facts = tuple(dict.fromkeys(fact for strand in needs.strands for fact in strand.facts))
    weak = weakened_rows(rows, frozenset(facts))
    ledger = (None, *range(limits.running + 2))
    choices: list[tuple[object, ...]] = [
        ledger if fact == "wet" else tuple(FACTS[fact]) for fact in facts
    ]
    asks = [a for a in all_asks(doses) if a.act.value in needs.acts]
    for values in product(*choices):
        known: dict[str, Any] = dict(zip(facts, values, strict=True))
        bay = replace(Bay(), **known)
        for ask in asks:
            if permit(bay, ask, limits, weak):
                continue
            event = ("begin", ask.act.value, ask.dose, ask.band_under_ceiling)
            for truth in product(*(_borne_out(strand, bay) for strand in needs.strands)):
                if not needs.met(truth, event):
                    yield bay, ask, truth


def _borne_out(strand: Strand, bay: Bay) -> list[Hashable]:
    states = tuple(
        tuple(state.value for state in FACTS[fact]) if fact in FACTS else ()
        for fact in strand.facts
    )
    belief = believed(bay, strand)
    return [now for now in strand.accounts(states) if strand.bears_out(belief, now)]


def prove(
    kernel: Kernel,
    sometimes: dict[str, Callable[[State, Move, State], bool]] | None = None,
    *,
    cap: int = 1_000_000,
) -> Found[State, Move]:
    """Search the kernel for a breach of its monitor.

    Raises:
        safety.search.SearchCapped: the model grew beyond ``cap`` states.
    """
    always = {kernel.monitor.name: lambda state: not state[3]}
    return search(kernel, always, sometimes or {}, cap=cap, first_breach_only=True)


def told(breach: Breach[State, Move]) -> str:
    """The trace of a breach, a line a move, and what it breaks."""
    lines = [f"{n}. {move.said}" for n, (move, _) in enumerate(breach.trace, 1)]
    return "\n".join([*lines, f"=> {breach.state[3]}"])
