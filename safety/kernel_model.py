"""The kernel with one monitor beside it, as a model for ``search``.

Every act that the rows permit is begun or not, ends in each of its ways or is never answered;
the world does what it likes; people look; facts grow old. The tool's belief moves by the real
``apply`` and ``trips``, the truth by ``truth``, the monitor's account by what truly happened.

Speed comes from asking nothing twice: bays, worlds and events are numbered; ``permit`` is asked
once a bay as far as the kept facts show it, ``apply`` once a bay and event, the courses of a
world once (``courses``). That is sound because a row can read only what it declares and effects
lean only on the facts named in ``cone``; tests hold both to it.
"""

from collections.abc import Hashable, Iterable, Iterator
from typing import NamedTuple

from safety.bay import FACTS, Act, Bay, DoseLimits, Rate, Trip
from safety.cone import close, latch, project, weakened_rows
from safety.courses import LASTING, Course, Courses, all_asks, asked
from safety.effects import EFFECTS, GRANTS, Row
from safety.happenings import OUTCOMES, TRIPS, Happening
from safety.interlocks import INTERLOCKS, Ask, Interlock
from safety.kernel import BayEvent, Tripped, apply, permit, trips
from safety.monitors import Monitor
from safety.strands import MUCH_DML, Event
from safety.truth import World, first_worlds

LIMITS = DoseLimits(strict=1, extended=2, running=3)
DOSES = (1, 2, 3)

_OVER: Event = ("over",)

Outcome = tuple[int, int, tuple[Event, ...]]
"""(bay number, world number, what truly happened): one thing that a move may lead to."""

_End = tuple[int, int, tuple[Event, ...], tuple[Event, ...]]
"""(event number, world number, what truly happened, the same with its moment over)."""

_Course = tuple[str, tuple[_End, ...]]


class Move(NamedTuple):
    """One move of people or world, in words, with all that it may lead to."""

    said: str
    outcomes: tuple[Outcome, ...]


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
        courses: type[Courses] = Courses,
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
        self.courses = courses(self.facts, self.happenings, monitor.sees, "wet" in self.kept)
        self.bays: list[Bay] = []
        self.worlds: list[World] = []
        self._aging = tuple(fact for fact in self.facts if fact not in LASTING)
        self._bay_numbers: dict[tuple[object, ...], int] = {}
        self._events: list[BayEvent | None] = [None]
        self._event_numbers: dict[BayEvent | None, int] = {None: 0}
        self._after: list[dict[int, tuple[int, tuple[Event, ...]]]] = []
        self._permitted: dict[int, tuple[Ask, ...]] = {}
        self._world_numbers: dict[World, int] = {}
        self._courses: dict[tuple[Act | None, int], tuple[_Course, ...]] = {}
        self._asked: dict[tuple[Ask, bool, int], _Course] = {}
        self._lapsed: dict[tuple[str, int], _Course] = {}
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
        moves = self._moves.get(key)
        if moves is None:
            moves = self._moves[key] = tuple(self._all_moves(*key))
        return moves

    def step(self, state: State, action: Move) -> list[State]:
        """The monitor follows what truly happened."""
        account = state[2]
        accounts = self._accounts
        found = []
        for bay, world, truth in action.outcomes:
            if not truth:
                found.append((bay, world, account, ""))
                continue
            followed = accounts.get((account, truth))
            if followed is None:
                followed = accounts[account, truth] = self._follow(account, truth)
            found.append((bay, world, *followed))
        return found

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
        breach = ""
        for event in truth:
            account, said = self.monitor.step(account, event)
            breach = breach or said or ""
        return account, breach

    def _bay(self, bay: Bay) -> int:
        key = (
            *(id(getattr(bay, fact)) for fact in self.facts),
            (bay.wet, bay.reserved) if "wet" in self.kept else None,
            bay.permit,
            bay.trips,
        )
        number = self._bay_numbers.get(key)
        if number is None:
            number = self._bay_numbers[key] = len(self.bays)
            self.bays.append(project(bay, self.kept))
            self._after.append({0: (number, ())})
        return number

    def _world(self, world: World) -> int:
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

    def _applied(self, at: int, number: int) -> tuple[int, tuple[Event, ...]]:
        """The bay after an event and the trips that follow, as the runner chains them."""
        bay, event = self.bays[at], self._events[number]
        assert event is not None  # no event leaves the bay as it is: kept from the beginning
        now = apply(bay, event)
        alarms: list[Event] = []
        for trip in trips(bay, event, now, self.limits):
            if trip in self.trips:
                now = apply(now, Tripped(trip))
                alarms.append(("tripped", trip.value))
        found = self._after[at][number] = self._bay(now), tuple(alarms)
        return found

    def _numbered(self, course: Course) -> _Course:
        said, ends = course
        return said, tuple(
            (self._event(event), self._world(world), truth, (*truth, _OVER) if truth else ())
            for event, world, truth in ends
        )

    def _of_world(self, act: Act | None, world: int) -> tuple[_Course, ...]:
        key = act, world
        if key not in self._courses:
            found = self.courses.of(act, self.worlds[world])
            self._courses[key] = tuple(self._numbered(course) for course in found)
        return self._courses[key]

    def _open_to(self, at: int, world: int) -> Iterator[_Course]:
        """Every course open in that bay and that world."""
        bay = self.bays[at]
        if bay.permit is None:
            loaded = bay.rate is Rate.LOADED
            for ask in self.permitted(at):
                key = ask, loaded, world
                if key not in self._asked:
                    self._asked[key] = self._numbered(asked(ask, loaded, self.worlds[world]))
                yield self._asked[key]
        yield from self._of_world(bay.permit, world)
        for fact in self._aging:
            if not getattr(bay, fact).unknown:
                if (fact, world) not in self._lapsed:
                    course = self.courses.lapsed(fact, self.worlds[world])
                    self._lapsed[fact, world] = self._numbered(course)
                yield self._lapsed[fact, world]

    def _all_moves(self, at: int, world: int) -> Iterator[Move]:
        known = self._after[at]
        for said, ends in self._open_to(at, world):
            shown: list[Outcome] = []
            for event, world_after, truth, over in ends:
                bay_after, alarms = known.get(event) or self._applied(at, event)
                if alarms:
                    over = (*truth, *alarms, _OVER)
                if over or world_after != world or bay_after != at:
                    shown.append((bay_after, world_after, over))
            if shown:
                yield Move(said, tuple(dict.fromkeys(shown) if len(shown) > 1 else shown))

    def permitted(self, at: int) -> tuple[Ask, ...]:
        """Everything that is permitted in the bay of that number."""
        if at not in self._permitted:
            bay = self.bays[at]
            self._permitted[at] = tuple(
                ask for ask in self.asks if not permit(bay, ask, self.limits, self.rows)
            )
        return self._permitted[at]
