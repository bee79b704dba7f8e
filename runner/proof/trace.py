"""The questions that a decision asks of a state, in order, and sets that are asked for member by
member.

A yes-or-no question (is the fact known, is it among these, is this a member of the set) is noted as
that question, not as a read of the whole value.
"""

from collections.abc import Collection, Iterable, Iterator
from functools import cache
from typing import Any

from steplatch.safety.bay import FACTS, DoseLimits, State

from .vector import Fields, SetField

WHOLE = 0
"""The question for the whole value of a byte."""


class Untraceable(Exception):  # noqa: N818 - it says what the code did, like StopIteration
    """``decide`` read a job in a way that cannot be traced to fields."""


class Questions:
    """The questions asked of bytes, numbered; each is a table from value to answer."""

    def __init__(self) -> None:
        self.tables: list[bytes] = [bytes(range(256))]
        self._numbers: dict[bytes, int] = {self.tables[0]: WHOLE}
        self._after: dict[tuple[int, bytes], int | None] = {}
        self.lowest = self.number(bytes(byte & -byte for byte in range(256)))
        self.bits = {
            1 << n: self.number(bytes(byte >> n & 1 for byte in range(256))) for n in range(8)
        }
        self._among: dict[tuple[str, frozenset[State]], int] = {}

    def among(self, fact: str, states: Collection[State]) -> int:
        """The number of the question whether ``fact`` is in one of ``states``."""
        key = (fact, frozenset(states))
        if key not in self._among:
            bits = bytearray(256)
            for number, state in enumerate(FACTS[fact]):
                bits[number] = state in key[1]
            self._among[key] = self.number(bytes(bits))
        return self._among[key]

    def number(self, table: bytes) -> int:
        """The number of the question with this table."""
        if table not in self._numbers:
            self._numbers[table] = len(self.tables)
            self.tables.append(table)
        return self._numbers[table]

    def before(self, question: int, turn: bytes) -> int | None:
        """The question whose answer is that of ``question`` after a byte was turned into another
        by the table ``turn``; None where it is the same whatever the byte was."""
        key = (question, turn)
        if key not in self._after:
            table = turn.translate(self.tables[question])
            self._after[key] = self.number(table) if len(set(table)) > 1 else None
        return self._after[key]


class Trace:
    """The reads of one state in order, each once: (place, question, answer)."""

    def __init__(
        self, fields: Fields, questions: Questions, state: bytes, limits: DoseLimits
    ) -> None:
        self.fields = fields
        self.questions = questions
        self.state = state
        self.limits = limits
        self.reads: list[tuple[int, int, int]] = []
        self._known: set[tuple[int, int]] = set()

    def _note(self, at: int, question: int) -> int:
        answer = self.questions.tables[question][self.state[at]]
        if (at, WHOLE) not in self._known and (at, question) not in self._known:
            self._known.add((at, question))
            self.reads.append((at, question, answer))
        return answer

    def read(self, name: str) -> Any:
        """The whole value under ``name``."""
        field = self.fields[name]
        if isinstance(field, SetField):
            return TracedSet(self, field)
        number = self._note(field.at, WHOLE)
        if field.width == 2:
            number |= self._note(field.at + 1, WHOLE) << 8
        return field.values[number]

    def ask(self, at: int, table: Iterable[int]) -> int:
        """The answer that a table gives for the byte at a place."""
        return self._note(at, self.questions.number(bytes(table)))

    def has_bit(self, at: int, bit: int) -> bool:
        """Whether a bit of the byte at a place is set."""
        return bool(self._note(at, self.questions.bits[bit]))

    def set_bits(self, field: SetField) -> Iterator[int]:
        """Of each byte of a set its lowest bit that is set, as a number, or 0."""
        for at in range(field.at, field.at + field.width):
            yield self._note(at, self.questions.lowest)

    def among(self, fact: str, states: Collection[State]) -> bool:
        """Whether ``fact`` is in one of ``states``."""
        return bool(self._note(self.fields[fact].at, self.questions.among(fact, states)))

    def one_of(self, name: str, values: tuple[str, ...]) -> bool:
        """Whether a field has one of ``values``; the field must know each of them."""
        field = self.fields[name]
        bits = bytearray(256)
        for value in values:
            bits[field.codes[value]] = 1
        return bool(self._note(field.at, self.questions.number(bytes(bits))))

    def is_set(self, name: str) -> bool:
        """Whether a field is at another value than its first."""
        field = self.fields[name]
        question = self.questions.number(bytes([0, *[1] * 255]))
        found = self._note(field.at, question)
        if field.width == 2 and not found:
            found = self._note(field.at + 1, question)
        return bool(found)


class TracedSet:
    """A set of a state, of which each member is asked for alone; ``plus`` came, ``minus`` went."""

    def __init__(
        self,
        trace: Trace,
        field: SetField,
        plus: frozenset[Any] = frozenset(),
        minus: frozenset[Any] = frozenset(),
    ) -> None:
        self.trace, self.field, self.plus, self.minus = trace, field, plus, minus

    def __contains__(self, member: object) -> bool:
        if member in self.plus or member in self.minus:
            return member in self.plus
        bit = self.field.bits.get(member)
        if bit is None:
            return False
        above = (bit.bit_length() - 1) // 8
        return self.trace.has_bit(self.field.at + above, bit >> 8 * above)

    def __iter__(self) -> Iterator[Any]:
        return (member for member in self.field.members if member in self)

    def __bool__(self) -> bool:
        return bool(self.plus) or (
            any(member in self for member in self.field.members)
            if self.minus
            else any(self.trace.set_bits(self.field))
        )

    def __or__(self, others: frozenset[Any]) -> "TracedSet":
        return TracedSet(self.trace, self.field, self.plus | others, self.minus - others)

    def __sub__(self, others: frozenset[Any]) -> "TracedSet":
        return TracedSet(self.trace, self.field, self.plus - others, self.minus | others)

    def __le__(self, other: "TracedSet") -> bool:
        came = all(member in other for member in self.plus - other.plus)
        return came and not any(member in self for member in other.minus - self.minus)

    def __eq__(self, other: object) -> bool:
        if isinstance(other, TracedSet):
            return self <= other and other <= self
        if other == frozenset():
            return not self
        raise Untraceable(f"{self.field.name} was compared as a whole")

    __hash__ = None  # type: ignore[assignment]

    def first(self) -> Any:
        """The first of its members, or None."""
        if self.plus or self.minus:
            return next(iter(self), None)
        for n, bit in enumerate(self.trace.set_bits(self.field)):
            if bit:
                return self.field.members[8 * n + bit.bit_length() - 1]
        return None

    def turns(self) -> Iterator[tuple[int, bytes]]:
        """(place, what becomes of its byte) for each byte in which members came or went."""
        plus, minus = self.field.code(self.plus), self.field.code(self.minus)
        for n in range(self.field.width):
            on, off = plus >> 8 * n & 255, minus >> 8 * n & 255
            if on or off:
                yield self.field.at + n, _turned(on, off)


@cache
def _turned(on: int, off: int) -> bytes:
    """What stands for each byte once these bits of it are set and those are not."""
    return bytes((byte | on) & ~off & 255 for byte in range(256))
