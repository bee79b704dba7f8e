"""The live variables of each control location, and what an outcome does to a state of it.

A question about a field is *live* at a location (the first bytes of a state) if some outcome
that was met there asked it, or if it is live at a location that such an outcome leads to and the
outcome does not write that field; where it only turns what stands there into something else, the
question that comes to the same before. Of a field that is live as a whole the value is kept; of one
that is live by questions only, the first value with the same answers; the rest is blank.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from ..core.tries import Try
from .memo import Decider, Leaf
from .trace import WHOLE
from .vector import PLACE, place_of

QuestionSet = Iterable[tuple[int, int]]
"""(place of a byte, number of the question)"""
ByteTable = tuple[int, bytes]
"""How many bits a byte is up, and what stands for each value of it."""
_BEGUN, _MEANWHILE, _DISTURBANCES, _ASKED = (
    place_of(name) for name in ("begun", "meanwhile", "disturbances", "ask_again")
)
_PLACE_BITS = (1 << 8 * PLACE) - 1
_NOTHING_ALIKE: Mapping[int, bytes] = {}
_STANDS = (*range(_BEGUN + 1), _MEANWHILE, _ASKED, _ASKED + 1)


class Kept(NamedTuple):
    """The bits that are kept of a state, and of some bytes the one that stands for each value."""

    bits: int
    tables: Mapping[int, bytes]


class Location:
    """All states that stand at one place: what matters there, and where its outcomes lead.

    ``asked`` are the bits of what was asked to find the ways from there, ``ways`` those ways
    under the bits of a state (``graph.py``).
    """

    def __init__(self, prefix: bytes, ending: bool, terminal: bool) -> None:
        self.prefix = prefix
        self.ending = ending
        self.terminal = terminal
        self.begun = bool(prefix[_BEGUN])
        self.disturbances = prefix[_DISTURBANCES]
        self.fresh = not any(prefix[_BEGUN : _MEANWHILE + 1]) and not any(
            prefix[_ASKED : _ASKED + 2]
        )
        self.matters: set[tuple[int, int]] = set()
        self.entered_from: list[tuple[Location, Leaf]] = []
        self.kept: Kept | None = None
        self.version = 0
        self.asked = 0
        self.ways: dict[int, Any] = {}

    def forget(self) -> None:
        """Let go of other places: nothing here is needed any more."""
        self.entered_from.clear()
        self.ways.clear()


class StateUpdate:
    """What an outcome does to the states of a place. Bytes that stay and that are set are two
    numbers; it is good as long as nothing more matters at either end (the ``versions``)."""

    __slots__ = ("keeps", "may", "sets", "stays", "tables", "to", "versions")

    def __init__(self, here: Location, to: Location) -> None:
        self.to = to
        self.versions = (here.version, to.version)
        self.may = True
        self.keeps = self.sets = 0
        self.tables: tuple[ByteTable, ...] = ()
        self.stays = False


class LiveVariables:
    """The locations that a search has met. ``grown`` counts how often more became live."""

    def __init__(
        self, decider: Decider, ends_here: frozenset[str], disturbances: int, follows: bool
    ) -> None:
        """``follows``: what our own act trips after a disturbance is no second one."""
        self.decider = decider
        self.fields = decider.fields
        self.ends_here = ends_here
        self.disturbances = disturbances
        self.follows = follows
        self.dropping = False
        self.grown = 0
        self._all_bits = (1 << 8 * self.fields.size) - 1
        self._locations: dict[bytes, Location] = {}
        self._tables: dict[frozenset[int], bytes] = {}

    def __iter__(self) -> Iterator[Location]:
        return iter(self._locations.values())

    def at(self, prefix: bytes) -> Location:
        """The place with these first bytes."""
        found = self._locations.get(prefix)
        if found is None:
            ending = self.fields.value(prefix, "procedure") in self.ends_here
            terminal = bool(self.fields.value(prefix, "ended"))
            found = self._locations[prefix] = Location(prefix, ending, terminal)
            found.matters = self.decider.matters.setdefault(prefix, found.matters)
        return found

    def drop(self, dropping: bool) -> None:
        """Let what does not matter be dropped from now on, or kept."""
        if dropping != self.dropping:
            self.dropping = dropping
            self.grown += 1
            for location in self:
                location.kept = None
                location.version += 1

    def matter(self, location: Location, questions: QuestionSet) -> None:
        """Make ``questions`` live at a location, and at all locations that lead to it."""
        work = [(location, {m for m in questions if m[0] >= PLACE} - location.matters)]
        while work:
            at, new = work.pop()
            new = new - at.matters
            if not new:
                continue
            at.matters |= new
            if self.dropping:  # until then nothing rests on what matters
                at.kept = None
                at.version += 1
                self.grown += 1
            for before, leaf in at.entered_from:
                wanted = self.before(new, leaf) - before.matters
                if wanted:
                    work.append((before, wanted))

    def before(self, questions: QuestionSet, leaf: Leaf) -> set[tuple[int, int]]:
        """What must be known before an outcome so that the questions can be answered after it."""
        writes, turns = leaf.writes, leaf.turns
        wanted = {m for m in questions if m[0] not in writes}
        if turns and any(m[0] in turns for m in wanted):
            came = ((at, self.decider.questions.before(q, turns[at]))
                    for at, q in wanted if at in turns)  # fmt: skip
            turned = {(at, q) for at, q in came if q is not None}
            return {m for m in wanted if m[0] not in turns} | turned
        return wanted

    def effect(self, location: Location, leaf: Leaf, t: Try) -> StateUpdate:
        """What an outcome does at a place, as far as is known now of what matters."""
        done: StateUpdate | None = leaf.effects.get(location)
        if done is None or done.versions != (location.version, done.to.version):
            done = leaf.effects[location] = self._effect(location, leaf, t, done is None)
        return done

    def _effect(self, location: Location, leaf: Leaf, t: Try, new: bool) -> StateUpdate:
        prefix = location.prefix
        row = bytearray(prefix)
        for at, byte in leaf.writes.items():
            if at < PLACE:
                row[at] = byte
        follows = self.follows and self.disturbances and not location.disturbances and t.ours
        disturbance = t.disturbance or (leaf.tripped and not location.ending and not follows)
        may = bool(not disturbance or leaf.breach or row[_DISTURBANCES])
        if disturbance and not leaf.breach and may:
            row[_DISTURBANCES] -= 1
        target = bytes(row)
        to = self.at(target) if may else location
        if new:
            self.matter(location, leaf.reads)
            if may:
                to.entered_from.append((location, leaf))
                self.matter(location, self.before(to.matters, leaf))
        effect = StateUpdate(location, to)
        effect.may = may
        if may:
            effect.stays = not leaf.tripped and all(target[at] == prefix[at] for at in _STANDS)
            self._mask(effect, location, leaf)
        return effect

    def _mask(self, effect: StateUpdate, location: Location, leaf: Leaf) -> None:
        prefix, target, writes, turns = location.prefix, effect.to.prefix, leaf.writes, leaf.turns
        keeps, sets = self._all_bits, 0
        here = there = _NOTHING_ALIKE
        if self.dropping:
            here, there = self._kept(location).tables, self._kept(effect.to).tables
            keeps = self._kept(effect.to).bits | _PLACE_BITS
        for at, byte in writes.items():
            if at >= PLACE and keeps >> 8 * at & 255:
                byte = prefix[-1 - byte] if byte < 0 else byte
                keeps &= ~(255 << 8 * at)
                sets |= (there[at][byte] if at in there else byte) << 8 * at
        for at, byte in enumerate(target):
            if byte != prefix[at]:
                keeps &= ~(255 << 8 * at)
                sets |= byte << 8 * at
        tables = [
            (8 * at, turn.translate(there[at]) if at in there else turn)
            for at, turn in turns.items()
            if keeps >> 8 * at & 255
        ]
        tables += [
            (8 * at, table)
            for at, table in there.items()
            if at not in writes and at not in turns and table != here.get(at)
        ]
        effect.keeps, effect.sets, effect.tables = keeps, sets, tuple(tables)

    def _kept(self, location: Location) -> "Kept":
        """What is kept of the states of a place: of a byte that matters by questions only, the
        first that is alike."""
        if location.kept is None:
            asked: dict[int, set[int]] = {}
            for at, question in location.matters:
                asked.setdefault(at, set()).add(question)
            tables = {at: self._alike(frozenset(q)) for at, q in asked.items() if WHOLE not in q}
            location.kept = Kept(sum(255 << 8 * at for at in asked), tables)
        return location.kept

    def _alike(self, questions: frozenset[int]) -> bytes:
        if questions in self._tables:
            return self._tables[questions]
        first: dict[tuple[int, ...], int] = {}
        tables = [self.decider.questions.tables[q] for q in sorted(questions)]
        self._tables[questions] = bytes(
            first.setdefault(tuple(table[byte] for table in tables), byte) for byte in range(256)
        )
        return self._tables[questions]
