"""What matters of a state at its place, and what an outcome there makes of it.

At a place (the first bytes of a state) a question about a field *matters* if some outcome that
was met there asked it, or if it matters at a place that such an outcome leads to and the outcome
does not write that field. Of a field that matters as a whole the value is kept; of one that
matters by questions, the first value with the same answers; the rest is blank.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from ..core.tries import Try
from .dependency_trace import WHOLE
from .memo import Decider, Leaf
from .vector import PLACE, place_of

Questions = Iterable[tuple[int, int]]
"""(place of a byte, number of the question)"""
Table = tuple[int, bytes]
"""How many bits a byte is up, and what stands for each value of it."""
_BEGUN, _MEANWHILE, _MISHAPS, _ASKED = (
    place_of(name) for name in ("begun", "meanwhile", "mishaps", "ask_again")
)
_STANDS = (*range(_BEGUN + 1), _MEANWHILE, _ASKED, _ASKED + 1)


class Place:
    """All states that stand at one place: what matters there, and where its outcomes lead.

    ``asked`` are the bits of what was asked to find the ways from there, ``ways`` those ways
    under the bits of a state (``graph.py``).
    """

    def __init__(self, prefix: bytes, ending: bool, terminal: bool) -> None:
        self.prefix = prefix
        self.ending = ending
        self.terminal = terminal
        self.begun = bool(prefix[_BEGUN])
        self.mishaps = prefix[_MISHAPS]
        self.fresh = not any(prefix[_BEGUN : _MEANWHILE + 1]) and not any(
            prefix[_ASKED : _ASKED + 2]
        )
        self.matters: set[tuple[int, int]] = set()
        self.entered_from: list[tuple[Place, frozenset[int]]] = []
        self.kept: dict[int, bytes | None] = {}
        self.version = 0
        self.asked = 0
        self.ways: dict[int, Any] = {}


class Effect:
    """What an outcome does to the states of a place. Bytes that stay and that are set are two
    numbers; it is good as long as nothing more matters at either end (the ``versions``)."""

    __slots__ = ("keeps", "may", "sets", "stays", "tables", "to", "versions")

    def __init__(self, here: Place, to: Place) -> None:
        self.to = to
        self.versions = (here.version, to.version)
        self.may = True
        self.keeps = self.sets = 0
        self.tables: tuple[Table, ...] = ()
        self.stays = False


class Places:
    """The places that a search has met. ``grown`` counts how often more came to matter."""

    def __init__(
        self, decider: Decider, ends_here: frozenset[str], mishaps: int, follows: bool
    ) -> None:
        """``follows``: what our own act trips after a mishap is no second one."""
        self.decider = decider
        self.fields = decider.fields
        self.ends_here = ends_here
        self.mishaps = mishaps
        self.follows = follows
        self.dropping = False
        self.grown = 0
        self._places: dict[bytes, Place] = {}
        self._tables: dict[frozenset[int], bytes] = {}

    def __iter__(self) -> Iterator[Place]:
        return iter(self._places.values())

    def at(self, prefix: bytes) -> Place:
        """The place with these first bytes."""
        found = self._places.get(prefix)
        if found is None:
            ending = self.fields.value(prefix, "procedure") in self.ends_here
            terminal = bool(self.fields.value(prefix, "ended"))
            found = self._places[prefix] = Place(prefix, ending, terminal)
            found.matters = self.decider.matters.setdefault(prefix, found.matters)
        return found

    def drop(self, dropping: bool) -> None:
        """Let what does not matter be dropped from now on, or kept."""
        if dropping != self.dropping:
            self.dropping = dropping
            self.grown += 1
            for place in self:
                place.version += 1

    def matter(self, place: Place, questions: Questions) -> None:
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
            self.grown += 1
            for before, written in at.entered_from:
                wanted = {m for m in new if m[0] not in written} - before.matters
                if wanted:
                    work.append((before, wanted))

    def effect(self, place: Place, leaf: Leaf, t: Try) -> Effect:
        """What an outcome does at a place, as far as is known now of what matters."""
        done: Effect | None = leaf.effects.get(place)
        if done is None or done.versions != (place.version, done.to.version):
            done = leaf.effects[place] = self._effect(place, leaf, t, done is None)
        return done

    def _effect(self, place: Place, leaf: Leaf, t: Try, new: bool) -> Effect:
        prefix = place.prefix
        row = bytearray(prefix)
        for at, byte in leaf.writes.items():
            if at < PLACE:
                row[at] = byte
        follows = self.follows and self.mishaps and not place.mishaps and t.ours
        mishap = t.mishap or (leaf.tripped and not place.ending and not follows)
        may = bool(not mishap or leaf.breach or row[_MISHAPS])
        if mishap and not leaf.breach and may:
            row[_MISHAPS] -= 1
        target = bytes(row)
        to = self.at(target) if may else place
        written = frozenset(leaf.writes)
        if new:
            self.matter(place, leaf.reads)
            if may:
                to.entered_from.append((place, written))
                self.matter(place, {m for m in to.matters if m[0] not in written})
        effect = Effect(place, to)
        effect.may = may
        if may:
            effect.stays = not leaf.tripped and all(target[at] == prefix[at] for at in _STANDS)
            self._mask(effect, place, leaf.writes)
        return effect

    def _mask(self, effect: Effect, place: Place, writes: dict[int, int]) -> None:
        prefix, target = place.prefix, effect.to.prefix
        constants = [(at, byte) for at, byte in enumerate(target) if byte != prefix[at]]
        tables: list[Table] = []
        here, there = self._kept(place), self._kept(effect.to)
        for at in here.keys() | there.keys() | writes.keys():
            if at < PLACE:
                continue
            if at not in there:
                constants.append((at, 0))
                continue
            table = there[at]
            if at in writes:
                byte = writes[at]
                if byte < 0:
                    byte = prefix[-1 - byte]
                constants.append((at, byte if table is None else table[byte]))
            elif table is not None and table != here.get(at):
                tables.append((8 * at, table))
        keeps, sets = bytearray(b"\xff" * self.fields.size), bytearray(self.fields.size)
        for at, byte in constants:
            keeps[at], sets[at] = 0, byte
        effect.keeps = int.from_bytes(keeps, "little")
        effect.sets = int.from_bytes(sets, "little")
        effect.tables = tuple(tables)

    def _kept(self, place: Place) -> dict[int, bytes | None]:
        """For each field that matters at a place: its bytes to the first that is alike, or None
        where the whole value matters."""
        if not self.dropping:
            return dict.fromkeys(range(PLACE, self.fields.size))
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
        tables = [self.decider.questions.tables[q] for q in sorted(questions)]
        self._tables[questions] = bytes(
            first.setdefault(tuple(table[byte] for table in tables), byte) for byte in range(256)
        )
        return self._tables[questions]
