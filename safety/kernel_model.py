"""The kernel with one monitor beside it, as a model for ``search``.

Every act that the rows permit is begun or not, ends in each of its ways or is never answered;
the world does what it likes; people look; facts grow old. The tool's belief moves by the real
``apply`` and ``trips``, the truth by ``truth``, the monitor's account by what truly happened.
"""

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field, replace

from safety.bay import FACTS, SPRAYS, Act, Bay, DoseLimits, Rate, Trip
from safety.cone import close, latch, project, weakened_rows
from safety.effects import EFFECTS, GRANTS, Row
from safety.happenings import ALWAYS_POSSIBLE, OUTCOMES, TRIPS, Happening
from safety.interlocks import INTERLOCKS, Ask, Interlock
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
)  # fmt: skip
from safety.monitors import Monitor
from safety.strands import MUCH_DML, Event
from safety.truth import (
    World,
    after,
    begin,
    doubted,
    ended,
    ends_of_spray,
    first_worlds,
    looked,
    possible,
    volumes,
)  # fmt: skip

LIMITS = DoseLimits(strict=1, extended=2, running=3)
DOSES = (1, 2, 3)

NEVER_SEEN = frozenset(
    {
        *("rate", "soak", "run_on", "hand_turn", "inspection", "recovery"),
        *("zero", "before", "after", "fluid_in"),
    }
)
"""Facts that no look, measurement or check settles: they follow from happenings alone."""

_READINGS = frozenset({Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER})
"""Half a reading is none: nothing has truly happened by it."""

MOVE_OTHERS = frozenset({"road", "secured", "fumes", "arrival"})
"""Facts a look at which moves other facts that do not lean on them."""

LASTING = frozenset(
    {
        *("fluid_in", "tier", "arrival", "identity", "agreed", "triage"),
        *("before", "after", "codes"),
    }
)
"""Facts that never grow old: choices, the order, finished evidence."""


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


def begins(ask: Ask) -> Event:
    """The event of the truth in which what was asked for is begun."""
    asked_with = ask.trip.value if ask.trip is not None else ask.band_under_ceiling
    return ("begin", ask.act.value, ask.dose, asked_with)


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
        self.trips = tuple(trip for trip in Trip if latch(trip) in self.kept)
        self.facts = tuple(sorted(self.kept & frozenset(FACTS)))
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
        return not frozenset(self.facts) <= row.keeps or ("wet" in self.kept and row.wet != "keep")

    def _matters(self, what: Happening) -> bool:
        """False for a happening that neither a kept fact, a kept trip nor the monitor notices."""
        return (
            self._moves_bay(EFFECTS[what])
            or what.value in self.monitor.hears
            or TRIPS.get(what) in self.trips
            or (what is Happening.STALLED and Trip.STALLED in self.trips)
            or Trip.UNPERMITTED in self.trips
        )

    def _act_matters(self, act: Act) -> bool:
        """False for an act that nobody would notice: its permit alone changes nothing."""
        return (
            act in GRANTS
            or act is Act.RESET
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
            *(id(getattr(bay, fact)) for fact in self.facts),
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
                reset = ("reset", ask.trip.value)
                done = self._outcome(at, ResetDone(ask.trip), world, begins(ask), reset)
                yield " ".join(reset), [done]
                continue
            granted = Granted(ask.act, ask.dose)
            loaded = ask.act in SPRAYS and self.bays[at].rate is Rate.LOADED
            begun = begin(world, ask.act, ask.dose, loaded)
            yield (
                f"permitted: {ask.act.value}" + (f" {ask.dose}" if ask.dose else ""),
                [
                    self._outcome(at, granted, begun, begins(ask)),
                    self._outcome(at, granted, world, ("permitted", ask.act.value)),
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
        self,
        at: int,
        event: BayEvent,
        world: World,
        what: Happening,
        went_in: int,
        untold: bool = False,
    ) -> list[Outcome]:
        """``what`` has truly happened and ended what was begun; the tool gets ``event``."""
        truth: tuple[Event, ...] = (("did", what.value, 0),)
        if went_in:
            truth = (("sprayed", went_in), *truth)
        if untold:
            truth = (("untold",), *truth)
        return [self._outcome(at, event, w, *truth) for w in after(ended(world), what)]

    def _unanswered(self, at: int, act: Act, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        event = PermitLapsed()
        ends: list[Outcome] = []
        if world.begun and act not in _READINGS:
            for what, went_in, _ in self._ends(act, world):
                ends += self._true(at, event, world, what, went_in, untold=True)
        if not world.dose:
            ends.append(self._outcome(at, event, replace(world, begun=False), ("untold",)))
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
                after_it = after(world, what)
                yield (
                    f"{what.value} {amount}",
                    [self._outcome(at, Happened(what, amount), w, truth) for w in after_it],
                )
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
        for fact in sorted(frozenset(self.facts) - NEVER_SEEN | MOVE_OTHERS):
            for state in FACTS[fact]:
                found = looked(world, fact, state.value)
                if found is not None:
                    truth = (("seen", fact, state.value),) if fact in self.monitor.sees else ()
                    ends = [self._outcome(at, Seen(fact, state), found, *truth)]
                    yield f"seen: {fact} {state.value}", ends

    def _lapses(self, at: int, world: World) -> Iterator[tuple[str, list[Outcome]]]:
        for fact in sorted(frozenset(self.facts) - LASTING):
            if not getattr(self.bays[at], fact).unknown:
                worlds = doubted(world, fact)
                truth = (("doubt", fact),) if fact in self.monitor.sees else ()
                ends = [self._outcome(at, Lapsed(fact), w, *truth) for w in worlds]
                yield f"too long ago: {fact}", ends
