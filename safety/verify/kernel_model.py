"""The kernel with one monitor beside it, as a model for ``search``.

Every act that the rows permit is begun or not, ends in each of its ways or is never answered;
the world does what it likes; people look; facts grow old. The tool's belief moves by the real
``apply`` and ``trips``, the truth by ``truth``, the monitor's account by what truly happened.

Speed comes from asking nothing twice: bays, worlds, events, truths and accounts are numbered;
``permit`` is asked once a bay as far as the kept facts show it, ``apply`` once a bay and event,
the environment's transitions once a state of the plant, the monitor once an account and truth.
That is sound because a row can read only what it declares and effects depend only on the facts
named in ``cone_of_influence``; tests hold both to it.
"""

from collections.abc import Hashable, Iterable, Iterator
from operator import attrgetter
from typing import NamedTuple

from ..bay import FACTS, Act, Bay, DoseLimits, Rate, Trip
from ..checks import moved_on
from ..effects import EFFECTS, GRANTS, EffectRow
from ..interlocks import INTERLOCKS, Ask, Interlock
from ..kernel import BayEvent, Lapsed, Tripped, apply, permit, trips
from ..occurrences import OUTCOMES, TRIPS, Happening
from ..plant.environment import LASTING, EnvironmentTransitions, Transition, all_asks, asked
from ..plant.truth import PlantState, first_worlds
from .cone_of_influence import close, latch, project, weakened_rows
from .needs import Monitor
from .observers import MUCH_DML, PlantEvent

LIMITS = DoseLimits(strict=1, extended=2, running=3)
DOSES = (1, 2, 3)

_OVER: PlantEvent = ("over",)

PlantEvents = tuple[PlantEvent, ...]
"""What truly happened in one moment, in order; ``("over",)`` at its end."""

Successor = tuple[int, int, int]
"""(bay number, world number, number of what truly happened, 0 for nothing): one thing that a
move may lead to."""

Move = tuple[str, tuple[Successor, ...]]
"""(what people or world do, in words; all that it may lead to)."""

_Successors = tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]
"""The ends of a transition in columns: event numbers, world numbers, numbers of what happened."""

_Transition = tuple[str, _Successors]


class _Open(NamedTuple):
    """All transitions that are open to some bays in one world: those with one end in columns, so
    that a bay is put to all of them at once, and those with several."""

    events: frozenset[int]
    said: tuple[str, ...]
    single: _Successors
    several: tuple[_Transition, ...]


KernelState = tuple[int, int, int, str]
"""(bay number, world number, number of the monitor's account, the breach in words or nothing)."""


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
        transitions: type[EnvironmentTransitions] = EnvironmentTransitions,
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
        self.transitions = transitions(
            self.facts, self.happenings, monitor.sees, "wet" in self.kept
        )
        self.bays: list[Bay] = []
        self.worlds: list[PlantState] = []
        self.truths: list[PlantEvents] = [()]
        self.accounts: list[Hashable] = []
        self._aging = tuple(fact for fact in self.facts if fact not in LASTING)
        ledger = ("wet", "reserved") if "wet" in self.kept else ()
        self._shown = attrgetter(*self.facts, *ledger, "permit", "trips")
        self._bay_numbers: dict[tuple[object, ...], int] = {}
        self._events: list[BayEvent | None] = [None]
        self._event_numbers: dict[BayEvent | None, int] = {None: 0}
        self._truth_numbers: dict[PlantEvents, int] = {(): 0}
        self._account_numbers: dict[Hashable, int] = {}
        self._after: list[dict[int, int]] = []
        self._alarms: list[dict[int, PlantEvents]] = []
        self._openings: dict[Hashable, int] = {}
        self._opening: list[int] = []
        self._open: dict[tuple[int, int], _Open] = {}
        self._permitted: dict[int, tuple[Ask, ...]] = {}
        self._world_numbers: dict[PlantState, int] = {}
        self._transitions: dict[tuple[Act | None, int], tuple[_Transition, ...]] = {}
        self._asked: dict[tuple[Ask, bool, int], _Transition] = {}
        self._lapsed: dict[tuple[str, int], _Transition] = {}
        self._moves: dict[tuple[int, int], list[Move]] = {}
        self._followed: dict[tuple[int, int], tuple[int, str]] = {}

    # -- the model ---------------------------------------------------------------------------

    def initial(self) -> Iterator[KernelState]:
        """Nothing is known; the world is anywhere."""
        for world in first_worlds(self.tracked):
            dml = 0 if world.arrived_dry else MUCH_DML
            account, _ = self.monitor.step(self.monitor.start(), ("arrived", dml))
            yield self._bay(Bay()), self._world(world), self._account(account), ""

    def actions(self, state: KernelState) -> list[Move]:
        """Every move that changes something for the tool or for the truth."""
        key = state[0], state[1]
        moves = self._moves.get(key)
        if moves is None:
            moves = self._moves[key] = self._all_moves(*key)
        return moves

    def step(self, state: KernelState, action: Move) -> list[KernelState]:
        """The monitor follows what truly happened."""
        account = state[2]
        followed = self._followed
        found = []
        for bay, world, truth in action[1]:
            if truth:
                now = followed.get((account, truth)) or self._follow(account, truth)
                found.append((bay, world, now[0], now[1]))
            else:
                found.append((bay, world, account, ""))
        return found

    def happened(self, move: Move) -> Iterator[PlantEvent]:
        """Everything that may truly happen by ``move``."""
        for _, _, truth in move[1]:
            yield from self.truths[truth]

    # -- what can be left out ------------------------------------------------------------------

    def _moves_bay(self, row: EffectRow) -> bool:
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

    def _follow(self, at: int, number: int) -> tuple[int, str]:
        account, breach = self.accounts[at], ""
        for event in self.truths[number]:
            account, said = self.monitor.step(account, event)
            breach = breach or said or ""
        found = self._followed[at, number] = self._account(account), breach
        return found

    def _account(self, account: Hashable) -> int:
        number = self._account_numbers.setdefault(account, len(self.accounts))
        if number == len(self.accounts):
            self.accounts.append(account)
        return number

    def _truth(self, truth: PlantEvents) -> int:
        number = self._truth_numbers.setdefault(truth, len(self.truths))
        if number == len(self.truths):
            self.truths.append(truth)
        return number

    def _bay(self, bay: Bay) -> int:
        key = self._shown(bay)
        number = self._bay_numbers.get(key)
        if number is None:
            number = self._bay_numbers[key] = len(self.bays)
            self.bays.append(project(bay, self.kept))
            self._after.append({0: number})
            self._alarms.append({})
        return number

    def _world(self, world: PlantState) -> int:
        number = self._world_numbers.get(world)
        if number is None:
            number = self._world_numbers[world] = len(self.worlds)
            self.worlds.append(world)
        return number

    def _event(self, event: BayEvent | None) -> int:
        if event not in self._event_numbers:
            self._event_numbers[event] = len(self._events)
            self._events.append(event)
        return self._event_numbers[event]

    def _apply(self, at: int, number: int) -> None:
        """Find the bay after an event and the trips that follow, as the runner chains them."""
        bay, event = self.bays[at], self._events[number]
        assert event is not None  # no event leaves the bay as it is: kept from the beginning
        now = apply(bay, event)
        alarms: list[PlantEvent] = []
        for trip in trips(bay, event, now, self.limits):
            if trip in self.trips:
                now = apply(now, Tripped(trip))
                alarms.append(("tripped", trip.value))
        after = self._bay(now)
        for check in moved_on(bay, self.bays[after]):
            after = self._bay(apply(self.bays[after], Lapsed(check)))
        self._after[at][number] = after
        if alarms:
            self._alarms[at][number] = tuple(alarms)

    def _alarmed(self, at: int, ends: _Successors) -> _Successors:
        """The ends with the alarms that this bay raises, before the moment is over."""
        alarms = self._alarms[at]
        events, worlds, truths = ends
        if alarms.keys().isdisjoint(events):
            return ends
        with_alarms = (
            self._truth((*self.truths[truth][:-1], *alarms[event], _OVER))
            if event in alarms
            else truth
            for event, truth in zip(events, truths, strict=True)
        )
        return events, worlds, tuple(with_alarms)

    def _numbered(self, transition: Transition) -> _Transition:
        said, ends = transition
        return said, (
            tuple(self._event(event) for event, _, _ in ends),
            tuple(self._world(world) for _, world, _ in ends),
            tuple(self._truth((*truth, _OVER) if truth else ()) for _, _, truth in ends),
        )

    def _of_world(self, act: Act | None, world: int) -> tuple[_Transition, ...]:
        key = act, world
        if key not in self._transitions:
            found = self.transitions.of(act, self.worlds[world])
            self._transitions[key] = tuple(self._numbered(transition) for transition in found)
        return self._transitions[key]

    def _transitions_open(self, at: int, world: int) -> Iterator[_Transition]:
        """Every transition open in that bay and that world."""
        bay = self.bays[at]
        if bay.permit is None:
            loaded = bay.rate is Rate.LOADED
            for ask in self.permitted(at):
                key = ask, loaded, world
                if key not in self._asked:
                    self._asked[key] = self._numbered(asked(ask, loaded, self.worlds[world]))
                yield self._asked[key]
        yield from self._of_world(bay.permit, world)
        for fact in self._aged(bay):
            if (fact, world) not in self._lapsed:
                transition = self.transitions.lapsed(fact, self.worlds[world])
                self._lapsed[fact, world] = self._numbered(transition)
            yield self._lapsed[fact, world]

    def _aged(self, bay: Bay) -> tuple[str, ...]:
        """The facts that are known now and may grow too old."""
        return tuple(fact for fact in self._aging if bay.knows(fact))

    def _open_to(self, at: int, world: int) -> _Open:
        """The same in columns, worked out once for all bays to which the same is open."""
        while len(self._opening) <= at:
            number = len(self._opening)
            bay = self.bays[number]
            asks = self.permitted(number) if bay.permit is None else ()
            same = bay.permit, asks, bool(asks) and bay.rate is Rate.LOADED, self._aged(bay)
            self._opening.append(self._openings.setdefault(same, len(self._openings)))
        key = self._opening[at], world
        found = self._open.get(key)
        if found is None:
            found = self._open[key] = _in_columns(tuple(self._transitions_open(at, world)))
        return found

    def _all_moves(self, at: int, world: int) -> list[Move]:
        events, said, single, several = self._open_to(at, world)
        known = self._after[at]
        for event in events - known.keys():
            self._apply(at, event)
        after = known.__getitem__
        still = at, world, 0
        if self._alarms[at]:
            single = self._alarmed(at, single)
            several = tuple((words, self._alarmed(at, ends)) for words, ends in several)
        outcomes = zip(map(after, single[0]), single[1], single[2], strict=True)
        moves: list[Move] = [
            move for move in zip(said, zip(outcomes), strict=True) if move[1][0] != still
        ]
        for words, ends in several:  # the tool hears of each of these, or something truly happens
            found = dict.fromkeys(zip(map(after, ends[0]), ends[1], ends[2], strict=True))
            moves.append((words, tuple(found)))
        return moves

    def permitted(self, at: int) -> tuple[Ask, ...]:
        """Everything that is permitted in the bay of that number."""
        if at not in self._permitted:
            bay = self.bays[at]
            self._permitted[at] = tuple(
                ask for ask in self.asks if not permit(bay, ask, self.limits, self.rows)
            )
        return self._permitted[at]


def _in_columns(transitions: tuple[_Transition, ...]) -> _Open:
    ones = [(said, ends) for said, ends in transitions if len(ends[0]) == 1]
    return _Open(
        frozenset(event for _, (events, _, _) in transitions for event in events),
        tuple(said for said, _ in ones),
        (
            tuple(ends[0][0] for _, ends in ones),
            tuple(ends[1][0] for _, ends in ones),
            tuple(ends[2][0] for _, ends in ones),
        ),
        tuple((said, ends) for said, ends in transitions if len(ends[0]) != 1),
    )
