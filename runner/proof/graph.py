"""The search: every state that a plan can reach, and the transitions between them.

A state is one number: the bytes of ``vector.py``, its control location in the lowest of them.

**What is dropped of a state, and why nothing is missed.** Only the live variables of its location
are kept (``live_variables.py``). Two states that agree on them give the same answers to every
question that is asked there; so they have the same outcomes, and the successors agree again.
Liveness is a fixpoint; in the last pass every outcome that is used has been held against it
(``LiveVariables.effect``), so the argument rests on the pass that is reported, not on how it was
found.

**Why successors are found once for many states.** All questions that are asked to find them
(what is offered, what each try leads to, what its refusal calls for) concern certain bytes. The
successors are kept under these: a state of the location with the same bytes has the same ones.
"""

import time
from array import array
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from steplatch.safety.bay import Bay, Trip
from steplatch.safety.verify.search import SearchCapped

from ..core.job import Job
from ..core.plan import ABANDON, Plan
from ..core.tries import STOP, Scenario, Try
from .live_variables import ByteTable, LiveVariables, Location, StateUpdate
from .memo import Decider, Lacking, Leaf, Tree
from .moves import Moves
from .trace import WHOLE
from .vector import PLACE

CAP = 2_000_000
STAYS, MENDS, REFUSED = 1, 2, 4
_FIRST_WIDTH = 100
"""Whole states a place in the first pass, which finds most of what matters."""
_PLACE_BITS = (1 << 8 * PLACE) - 1


class _Asked:
    """What is offered in the states that were read alike, and the questions that were asked."""

    __slots__ = ("offers", "reads")

    def __init__(self, offers: tuple["_Offer", ...], reads: frozenset[tuple[int, int]]) -> None:
        self.offers = offers
        self.reads = reads


class _Offer:
    """One try with its memory."""

    __slots__ = ("number", "of", "tree")

    def __init__(self, number: int, of: Try, tree: Tree[Leaf]) -> None:
        self.number = number
        self.of = of
        self.tree = tree


class _Ways:
    """What is tried in the states of a place that are asked alike, and what comes of it.

    ``moves`` are (try, bits that stay, bits that are set, tables, how), as of the ``versions`` of
    the places at both ends.
    """

    __slots__ = (
        "breaches",
        "granted",
        "grown",
        "met",
        "moves",
        "pass_",
        "refused",
        "stop",
        "tried",
        "versions",
    )

    def __init__(self) -> None:
        self.tried: list[tuple[_Offer, Leaf, int]] = []
        self.granted = False
        self.refused: frozenset[str] = frozenset()
        self.stop = True
        self.grown = self.pass_ = -1
        self.moves: list[tuple[int, int, int, tuple[ByteTable, ...], int]] = []
        self.breaches: list[tuple[str, int]] = []
        self.met: list[tuple[str, str]] = []
        self.versions: tuple[tuple[Location, int], ...] = ()


class Graph:
    """The states, and the moves between them as flat rows: from, try, to, how."""

    def __init__(
        self,
        plan: Plan,
        scenario: Scenario,
        disturbances: int = 1,
        giving_up: bool = True,
        decider: Decider | None = None,
    ) -> None:
        self.plan = plan
        self.decider = decider or Decider(plan)
        self.fields, self.questions = self.decider.fields, self.decider.questions
        self.moves = Moves(self.decider.plan_of(STOP), scenario)
        self.disturbances = disturbances
        self.giving_up = giving_up
        self.ends_here = frozenset(
            p.id for p in plan.others.values() if p.role == "card" or p.id == ABANDON
        )
        self.live = LiveVariables(self.decider, self.ends_here, disturbances, scenario.truth)
        self.tries: list[Try] = []
        self.offers: dict[Try, _Offer] = {}
        self._asked: dict[Any, Tree[_Asked]] = {}
        self._grown_before = 0
        self._permit_at = self.fields["permit"].at
        terminal = self.fields["trips"].code(frozenset(trip for trip in Trip if trip.terminal))
        self._terminal = frozenset(
            (self.fields["trips"].at + n, self.questions.number(bits))
            for n, mask in enumerate(terminal.to_bytes(self.fields["trips"].width, "little"))
            if len(set(bits := bytes(bool(byte & mask) for byte in range(256)))) > 1
        )
        self.passes = 0
        self._clear()

    def _clear(self) -> None:
        self.states: list[int] = []
        self.came: list[tuple[int, int] | None] = []
        self.first_move = array("q", [0])
        self.move_try = array("i")
        self.move_to = array("i")
        self.move_how = array("b")
        self.refused_at: dict[int, frozenset[str]] = {}
        self.asked: dict[tuple[str, str], list[Any]] = {}
        self.breaches: dict[str, tuple[int, int]] = {}
        self.decisions = 0
        self.search_seconds = 0.0
        self.met: dict[str, set[str]] = {"act": set(), "trip": set(), "reset": set()}
        self.stop_refused: list[int] = []

    # -- what is known of a state ---------------------------------------------------------------

    def row(self, number: int) -> bytes:
        """A state as the row of bytes that it is."""
        return self.states[number].to_bytes(self.fields.size, "little")

    def value(self, number: int, name: str) -> Any:
        """What stands under ``name`` in a state. Only what matters there is kept."""
        return self.fields.value_in(self.states[number], name)

    def step_of(self, number: int) -> tuple[str, str]:
        """Procedure and step of a state."""
        return self.value(number, "procedure"), self.value(number, "step")

    def moves_from(self, number: int) -> Iterator[tuple[Try, int, int]]:
        """(try, state after it, how) for each move from a state."""
        for at in range(self.first_move[number], self.first_move[number + 1]):
            yield self.tries[self.move_try[at]], self.move_to[at], self.move_how[at]

    # -- the search -----------------------------------------------------------------------------

    def explore(self, cap: int = CAP) -> None:
        """Go on until nothing more matters anywhere. Raises SearchCapped above ``cap`` states."""
        self.search(cap, _FIRST_WIDTH)
        while True:
            begun = time.perf_counter()
            if self.search(cap):
                self.search_seconds = time.perf_counter() - begun
                return

    def first(self) -> bytes:
        """The state in which a job begins."""
        core = self.decider.first_job.core
        return self.fields.put(
            self.fields.blank(),
            procedure=core.procedure,
            step=core.step,
            disturbances=self.disturbances,
            **{name: getattr(core.bay, name) for name in Bay.__dataclass_fields__},
        )

    def search(self, cap: int, width: int = 0) -> bool:
        """One pass; with a ``width``, of that many whole states a place. False when more came to
        matter meanwhile, and it has to be done again."""
        self.passes += 1
        self.live.drop(not width)
        self._grown_before = self.live.grown
        grew = 0
        self._clear()
        first = int.from_bytes(self.first(), "little")
        numbers: dict[int, int] = {first: 0}
        self.states.append(first)
        self.came.append(None)
        locations: dict[int, Location] = {}
        counts: dict[Location, int] = {}
        at = 0
        states, first_move, move_to = self.states, self.first_move, self.move_to
        while at < len(states):
            state = states[at]
            location = locations.get(state & _PLACE_BITS)
            if location is None:
                location = locations[state & _PLACE_BITS] = self.live.at(
                    (state & _PLACE_BITS).to_bytes(PLACE, "little")
                )
            if width:
                counts[location] = counts.get(location, 0) + 1
            if not location.terminal and counts.get(location, 0) <= width:
                ways = location.ways.get(state & location.asked)
                if ways is None or ways.grown != self.live.grown:
                    ways = self._ways(state, location, ways)
                    if ways is None:
                        return False
                    grew = grew or (len(states) if self._grew else 0)
                self._follow(at, state, ways, numbers)
                if len(states) > cap:
                    raise SearchCapped(cap, len(move_to))
            at += 1
            first_move.append(len(move_to))
            if not width and grew and len(states) > grew + grew // 4 + 2_000:
                return False
        return not grew and not width

    def _follow(self, number: int, state: int, ways: _Ways, numbers: dict[int, int]) -> None:
        """Note where the ways from a state lead."""
        self.decisions += len(ways.tried)
        if ways.pass_ != self.passes or ways.refused or not ways.stop:
            self._note(number, ways)
        for offer, keeps, sets, tables, how in ways.moves:
            after = state & keeps | sets
            for shift, table in tables:
                byte = after >> shift & 255
                after ^= (byte ^ table[byte]) << shift
            to = numbers.get(after)
            if to is None:
                to = numbers[after] = len(self.states)
                self.states.append(after)
                self.came.append((number, offer))
            if to != number:
                self.move_try.append(offer)
                self.move_to.append(to)
                self.move_how.append(how)

    def _note(self, number: int, ways: _Ways) -> None:
        """Keep account of what was met, and of what refused the step where it may be begun."""
        ways.pass_ = self.passes
        for kind, name in ways.met:
            self.met[kind].add(name)
        for name, offer in ways.breaches:
            self.breaches.setdefault(name, (number, offer))
        if not ways.stop:
            self.stop_refused.append(number)
        asked = self.asked.setdefault(self.step_of(number), [False, []])
        asked[0] = asked[0] or ways.granted
        if ways.refused:
            asked[1].append(ways.refused)
            self.refused_at[number] = ways.refused

    # -- the ways from a state --------------------------------------------------------------------

    @property
    def _grew(self) -> bool:
        """Whether more came to matter in this pass."""
        return self.live.grown != self._grown_before

    def _ways(self, state: int, location: Location, ways: _Ways | None) -> _Ways | None:
        """The ways from the states of a place that are asked alike, up to date; None when the
        state lacks what was just found to matter."""
        if ways is None:
            try:
                ways = self.ways_from(state.to_bytes(self.fields.size, "little"), location)
            except (ValueError, LookupError) as error:
                if isinstance(error, Lacking):
                    self.live.matter(location, error.reads)
                if not self._grew:
                    raise
                return None
        while ways.grown != self.live.grown:
            ways.grown = self.live.grown
            if not ways.versions or any(at.version != seen for at, seen in ways.versions):
                self._compile(ways, location)
        return ways

    def _compile(self, ways: _Ways, location: Location) -> None:
        ways.moves, ways.breaches, ways.met = [], [], []
        used: set[tuple[Location, int]] = set()
        for offer, leaf, how in ways.tried:
            effect: StateUpdate = self.live.effect(location, leaf, offer.of)
            used.update(zip((location, effect.to), effect.versions, strict=True))
            if not effect.may:
                continue
            if leaf.breach:
                ways.breaches.append((leaf.breach, offer.number))
                continue
            ways.met += leaf.met
            how |= (STAYS if effect.stays else 0) | (0 if leaf.accepted else REFUSED)
            ways.moves.append((offer.number, effect.keeps, effect.sets, effect.tables, how))
        ways.versions = tuple(used)

    def ways_from(self, row: bytes, location: Location) -> _Ways:
        """Try all that may be tried in a state, and keep what comes of it for those like it."""
        ways = _Ways()
        reads: set[tuple[int, int]] = set()

        def attempt(key: Any, ask: Callable[[Job], Iterable[Try]], how: int) -> list[Leaf]:
            found = self._offered(key, row, ask)
            reads.update(found.reads)
            leaves = [self._leaf(row, offer) for offer in found.offers]
            for offer, leaf in zip(found.offers, leaves, strict=True):
                reads.update(leaf.reads)
                ways.tried.append((offer, leaf, how))
            return leaves

        leaves = attempt("tries", self.moves.tries, 0)
        granted = any(leaf.granted for leaf in leaves)
        refused = frozenset[str]().union(*(leaf.rows for leaf in leaves))
        unknown = next((leaf.unknown for leaf in leaves if leaf.unknown), "")
        if location.fresh:
            ways.granted = granted
            ways.refused = frozenset() if granted else refused
        if not granted and (refused or unknown):
            key = ("right", refused, unknown, row[:3])
            attempt(key, lambda job: self.moves.put_right(job, refused, unknown), MENDS)
        if self.giving_up and not location.ending:
            attempt("give up", self.moves.give_up, 0)
        if location.disturbances:
            if location.begun:  # without a permit they have happened before it was begun
                reads.add((self._permit_at, WHOLE))
            if not location.begun or row[self._permit_at]:
                attempt("disturbances", self.moves.disturbances, 0)
        if not location.ending:
            reads |= self._terminal  # asked by who judges whether ``finished`` is in reach
        stop = self._leaf(row, self._offer(STOP))
        ways.stop = stop.accepted
        reads |= stop.reads
        self.live.matter(location, reads)
        asked = bytearray(self.fields.size)
        for at, _ in reads:
            asked[at] = 255
        bits = location.asked | int.from_bytes(asked, "little")
        if bits != location.asked:
            location.asked = bits
            location.ways.clear()
        location.ways[int.from_bytes(row, "little") & bits] = ways
        return ways

    def _offered(self, key: Any, row: bytes, ask: Callable[[Job], Iterable[Try]]) -> _Asked:
        """The tries that ``ask`` offers in a state, by the memory of what was read of it."""
        tree = self._asked.get(key)
        if tree is None:
            tree = self._asked[key] = Tree(self.questions)
        found = tree.find(row)
        if found is None:
            job, trace = self.decider.traced(row)
            found = _Asked(
                tuple(self._offer(t) for t in ask(job)),
                frozenset((at, question) for at, question, _ in trace.reads if at >= PLACE),
            )
            tree.add(trace.reads, row, found)
        return found

    def _offer(self, t: Try) -> _Offer:
        if t not in self.offers:
            self.offers[t] = _Offer(len(self.tries), t, self.decider.tree_of(t))
            self.tries.append(t)
        return self.offers[t]

    def _leaf(self, row: bytes, offer: _Offer) -> Leaf:
        leaf = offer.tree.find(row)
        if leaf is None:
            trace, leaf = self.decider.run(row, offer.of)
            offer.tree.add(trace.reads, row, leaf)
        return leaf
