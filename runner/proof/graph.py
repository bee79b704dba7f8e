"""The search: every state that a plan can come to, and what leads from one to the next.

**What is dropped of a state, and why nothing is missed.** At a place (the first bytes of a
state) a question about a field *matters* if some outcome that was met there asked it, or if it
matters at a place that such an outcome leads to and the outcome does not write that field. Of a
field that matters as a whole the value is kept; of one that matters by questions, the first
value with the same answers; the rest is blank. Two states that are the same after this give the
same answers to everything that is asked of them there; so they take the same outcomes, and what
comes after is again the same. ``matters`` is found by going on until nothing is added; in the
last pass every outcome that is used has been held against it (``Place.edges``), so the argument
rests on the pass that is reported, not on how it was found.
"""

import time
from array import array
from collections.abc import Iterator
from typing import Any

from runner.engine import ABANDON, Plan
from runner.proof.memo import Decider, Lacking, Leaf, Tree
from runner.proof.moves import STOP, Moves, Scenario, Try
from runner.proof.traced import WHOLE
from runner.proof.vector import PLACE, place_of
from safety.bay import Bay
from safety.search import SearchCapped

CAP = 2_000_000
STAYS, MENDS, REFUSED = 1, 2, 4
_FIRST_WIDTHS = (4,)


class Place:
    """All states that stand at one place: what matters there, and where its outcomes lead."""

    def __init__(self, prefix: bytes, ending: bool) -> None:
        self.prefix = prefix
        self.ending = ending
        self.matters: set[tuple[int, int]] = set()
        self.entered_from: list[tuple[Place, frozenset[int]]] = []
        self.kept: dict[int, bytes | None] = {}
        self.version = 0
        self.terminal = False


class _Asked:
    """What is offered in the states that were read alike, and the questions that were asked."""

    __slots__ = ("held", "offers", "reads")

    def __init__(self, offers: tuple["_Offer", ...], reads: frozenset[tuple[int, int]]) -> None:
        self.offers = offers
        self.reads = reads
        self.held: set[Place] = set()


class _Offer:
    """One try with its memory."""

    __slots__ = ("number", "of", "tree")

    def __init__(self, number: int, of: Try, tree: Tree[Leaf]) -> None:
        self.number = number
        self.of = of
        self.tree = tree


class Graph:
    """The states, and the moves between them as flat rows: from, try, to, how."""

    def __init__(
        self,
        plan: Plan,
        scenario: Scenario,
        mishaps: int = 1,
        giving_up: bool = True,
        decider: Decider | None = None,
    ) -> None:
        self.plan = plan
        self.decider = decider or Decider(plan)
        self.fields, self.questions = self.decider.fields, self.decider.questions
        self.moves = Moves(self.decider.plan_of(STOP), scenario)
        self.mishaps = mishaps
        self.giving_up = giving_up
        self.ends_here = frozenset(
            p.id for p in plan.others.values() if p.role == "card" or p.id == ABANDON
        )
        self.tries: list[Try] = []
        self._offers: dict[Try, _Offer] = {}
        self._asked: dict[Any, Tree[_Asked]] = {}
        self._places: dict[bytes, Place] = {}
        self._grew = 0
        self._permit_at = self.fields["permit"].at
        self._dropping = False
        self._tables: dict[frozenset[int], bytes] = {}
        self.passes = 0
        self._clear()

    def _clear(self) -> None:
        self.states: list[bytes] = []
        self.came: list[tuple[int, int]] = []
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

    def value(self, number: int, name: str) -> Any:
        """What stands under ``name`` in a state. Only what matters there is kept."""
        return self.fields.value(self.states[number], name)

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
        for width in _FIRST_WIDTHS:
            self._pass(cap, width)
        while True:
            begun = time.perf_counter()
            self._pass(cap, 0)
            self.search_seconds = time.perf_counter() - begun
            if not self._grew:
                break

    def _first(self) -> bytes:
        core = self.decider.first_job.core
        return self.fields.put(
            self.fields.blank(),
            procedure=core.procedure,
            step=core.step,
            mishaps=self.mishaps,
            **{name: getattr(core.bay, name) for name in Bay.__dataclass_fields__},
        )

    def _pass(self, cap: int, width: int) -> None:
        """One search; with a ``width``, of that many states a place."""
        self.passes += 1
        if self._dropping != (not width):
            self._dropping = not width
            for place in self._places.values():
                place.version += 1
        self._grew = 0
        self._clear()
        first = self._first()
        numbers: dict[bytes, int] = {first: 0}
        self.states.append(first)
        self.came.append((-1, -1))
        counts: dict[bytes, int] = {}
        at = 0
        states = self.states
        while at < len(states):
            state = states[at]
            prefix = state[:PLACE]
            place = self._places.get(prefix) or self._place(prefix)
            if not place.terminal:
                if width:
                    counts[prefix] = counts.get(prefix, 0) + 1
                if not width or counts[prefix] <= width:
                    try:
                        self._expand(at, state, place, numbers, cap)
                    except (ValueError, LookupError) as error:
                        if isinstance(error, Lacking):
                            self._matter(place, error.reads)
                        if not self._grew:
                            raise
                        return  # a state that lacks what was just found to matter
            at += 1
            self.first_move.append(len(self.move_to))
            if not width and self._grew and len(states) > 2 * self._grew + 20_000:
                return

    def _place(self, prefix: bytes) -> Place:
        procedure = self.fields.value(prefix, "procedure")
        place = self._places[prefix] = Place(prefix, procedure in self.ends_here)
        place.terminal = bool(self.fields.value(prefix, "ended"))
        place.matters = self.decider.matters.setdefault(prefix, place.matters)
        return place

    def _offered(self, key: Any, state: bytes, place: Place, ask: Any) -> tuple[_Offer, ...]:
        """The tries that ``ask`` offers in a state, by the memory of what was read of it."""
        tree = self._asked.get(key)
        if tree is None:
            tree = self._asked[key] = Tree(self.questions)
        found = tree.find(state)
        if found is None:
            job, trace = self.decider.traced(state)
            found = _Asked(
                tuple(self._offer(t) for t in ask(job)),
                frozenset((at, question) for at, question, _ in trace.reads if at >= PLACE),
            )
            tree.add(trace.reads, state, found)
        if place not in found.held:
            found.held.add(place)
            self._matter(place, found.reads)
        return found.offers

    def _offer(self, t: Try) -> _Offer:
        if t not in self._offers:
            self._offers[t] = _Offer(len(self.tries), t, self.decider.tree_of(t))
            self.tries.append(t)
        return self._offers[t]

    def _expand(
        self, number: int, state: bytes, place: Place, numbers: dict[bytes, int], cap: int
    ) -> None:
        granted = False
        refused: frozenset[str] = frozenset()
        unknown = ""
        for offer in self._offered("tries", state, place, self.moves.tries):
            leaf = self._try(number, state, place, offer, numbers, 0)
            granted = granted or leaf.granted
            refused |= leaf.rows
            unknown = unknown or leaf.unknown
        self._note(number, state, granted, refused)
        if not granted and (refused or unknown):
            key = ("right", refused, unknown, state[:3])
            for offer in self._offered(
                key, state, place, lambda job: self.moves.put_right(job, refused, unknown)
            ):
                self._try(number, state, place, offer, numbers, MENDS)
        if self.giving_up and not place.ending:
            for offer in self._offered("give up", state, place, self.moves.give_up):
                self._try(number, state, place, offer, numbers, 0)
        if state[_MISHAPS] and (not state[_BEGUN] or state[self._permit_at]):
            for offer in self._offered("mishaps", state, place, self.moves.mishaps):
                self._try(number, state, place, offer, numbers, 0)
        if not self._accepts_stop(state, place):
            self.stop_refused.append(number)
        if len(self.states) > cap:
            raise SearchCapped(cap, len(self.move_to))

    def _accepts_stop(self, state: bytes, place: Place) -> bool:
        offer = self._offer(STOP)
        leaf = offer.tree.find(state)
        if leaf is None:
            trace, leaf = self.decider.run(state, STOP)
            offer.tree.add(trace.reads, state, leaf)
        if place not in leaf.compiled:
            self._matter(place, leaf.reads)
        return leaf.accepted

    def _note(self, number: int, state: bytes, granted: bool, refused: frozenset[str]) -> None:
        """Keep account of what refused the step where it may be begun."""
        if any(state[_BEGUN : _MEANWHILE + 1]) or any(state[_ASKED : _ASKED + 2]):
            return
        asked = self.asked.setdefault(self.step_of(number), [False, []])
        asked[0] = asked[0] or granted
        if not granted and refused:
            asked[1].append(refused)
            self.refused_at[number] = refused

    def _try(
        self,
        number: int,
        state: bytes,
        place: Place,
        offer: _Offer,
        numbers: dict[bytes, int],
        how: int,
    ) -> Leaf:
        self.decisions += 1
        leaf = offer.tree.find(state)
        if leaf is None:
            trace, leaf = self.decider.run(state, offer.of)
            offer.tree.add(trace.reads, state, leaf)
        done = leaf.compiled.get(place)
        if done is None or done[0] != place.version or done[1] != done[2].version:
            done = leaf.compiled[place] = self._compile(place, leaf, offer.of, done is None)
        _, _, _, keeps, sets, tables, stays = done
        if keeps is None:
            return leaf
        if leaf.breach:
            self.breaches.setdefault(leaf.breach, (number, offer.number))
            return leaf
        after = (int.from_bytes(state, "little") & keeps | sets).to_bytes(len(state), "little")
        if tables:
            row = bytearray(after)
            for at, table in tables:
                row[at] = table[row[at]]
            after = bytes(row)
        to = numbers.get(after)
        if to is None:
            to = numbers[after] = len(self.states)
            self.states.append(after)
            self.came.append((number, offer.number))
        for kind, name in leaf.met:
            self.met[kind].add(name)
        if to != number:
            self.move_try.append(offer.number)
            self.move_to.append(to)
            self.move_how.append(how | stays | (0 if leaf.accepted else REFUSED))
        return leaf

    # -- what matters ---------------------------------------------------------------------------

    def _compile(self, place: Place, leaf: Leaf, t: Try, new: bool) -> tuple[Any, ...]:
        """What an outcome does to the states of a place: versions and place, the bytes that are
        kept and that are set, as numbers (None where it may not happen there), tables, how."""
        if new:
            self._matter(place, leaf.reads)
        prefix = place.prefix
        row = bytearray(prefix)
        for at, byte in leaf.writes.items():
            if at < PLACE:
                row[at] = byte
        spent = self.mishaps and not prefix[_MISHAPS]
        follows = spent and self.moves.scenario.truth and t.ours  # of one that was counted
        mishap = t.mishap or (leaf.tripped and not place.ending and not follows)
        if mishap and not leaf.breach:
            if not row[_MISHAPS]:
                return (place.version, place.version, place, None, 0, (), 0)
            row[_MISHAPS] -= 1
        target = bytes(row)
        to = self._places.get(target) or self._place(target)
        written = frozenset(leaf.writes)
        if new:
            to.entered_from.append((place, written))
            self._matter(place, {m for m in to.matters if m[0] not in written})
        constants = [(at, byte) for at, byte in enumerate(target) if byte != prefix[at]]
        tables: list[tuple[int, bytes]] = []
        here, there = self._kept(place), self._kept(to)
        if not self._dropping:
            here = there = dict.fromkeys(range(PLACE, self.fields.size))
        for at in here.keys() | there.keys() | written:
            if at < PLACE:
                continue
            if at not in there:
                constants.append((at, 0))
                continue
            table = there[at]
            if at in written:
                byte = leaf.writes[at]
                if byte < 0:
                    byte = prefix[-1 - byte]
                constants.append((at, byte if table is None else table[byte]))
            elif table is not None and table != here.get(at):
                tables.append((at, table))
        stays = 0
        if not leaf.tripped and all(target[at] == prefix[at] for at in _STANDS):
            stays = STAYS
        keeps, sets = bytearray(b"\xff" * self.fields.size), bytearray(self.fields.size)
        for at, byte in constants:
            keeps[at], sets[at] = 0, byte
        numbers = (int.from_bytes(keeps, "little"), int.from_bytes(sets, "little"))
        return (place.version, to.version, to, *numbers, tuple(tables), stays)

    def _matter(self, place: Place, questions: Any) -> None:
        """Let ``questions`` matter at a place, and at all places that lead to it."""
        work = [(place, {m for m in questions if m[0] >= PLACE} - place.matters)]
        while work:
            at, new = work.pop()
            new = new - at.matters
            if not new:
                continue
            at.matters |= new
            at.kept = {}
            at.version += 1
            self._grew = self._grew or len(self.states)
            for before, written in at.entered_from:
                wanted = {m for m in new if m[0] not in written} - before.matters
                if wanted:
                    work.append((before, wanted))

    def _kept(self, place: Place) -> dict[int, bytes | None]:
        """For each field that matters at a place: its bytes to the first that is alike, or None
        where the whole value matters."""
        if not place.kept and place.matters:
            asked: dict[int, set[int]] = {}
            for at, question in place.matters:
                asked.setdefault(at, set()).add(question)
            place.kept = {
                at: None if WHOLE in qs else self._alike(frozenset(qs)) for at, qs in asked.items()
            }
        return place.kept

    def _alike(self, questions: frozenset[int]) -> bytes:
        if questions in self._tables:
            return self._tables[questions]
        first: dict[tuple[int, ...], int] = {}
        tables = [self.questions.tables[q] for q in sorted(questions)]
        self._tables[questions] = bytes(
            first.setdefault(tuple(table[byte] for table in tables), byte) for byte in range(256)
        )
        return self._tables[questions]


_BEGUN, _MEANWHILE, _MISHAPS, _ASKED = (
    place_of(name) for name in ("begun", "meanwhile", "mishaps", "ask_again")
)
_STANDS = (*range(_BEGUN + 1), _MEANWHILE, _ASKED, _ASKED + 1)
