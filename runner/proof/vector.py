"""A state of the proof as a row of bytes: one field a fact, a choice, a place in the log.

``Fields`` knows which field stands where and what its numbers mean. The first ``PLACE`` bytes
say where the job stands (procedure, step, marks, holds, what is asked again, disturbances left);
the rest say what is known. See ``README.md`` for what is kept of a job, and why it is enough.
"""

from collections.abc import Hashable, Iterable
from typing import Any

from steplatch.safety.bay import FACTS, Bay, Trip
from steplatch.safety.checks import EVERYTHING, WORK

from ..core.plan import Plan
from ..core.steps import AskStep, SignStep
from ..core.tries import PEOPLE

SIGNED_KEPT = frozenset({"agreed", "released", "received"})
"""The signatures that a property or the runner asks for."""
PHASES = ("before", "after", "road")
CONDITIONS = ("raised", "idle", "zero")
READINGS = tuple((phase, condition) for phase in PHASES for condition in CONDITIONS)
_PLACE = (
    ("procedure", 1),
    ("step", 2),
    ("begun", 1),
    ("held", 1),
    ("meanwhile", 1),
    ("ended", 1),
    ("disturbances", 1),
    ("ask_again", 2),
)
PLACE = sum(width for _, width in _PLACE)


def place_of(name: str) -> int:
    """Where a field of the place begins."""
    names = [n for n, _ in _PLACE]
    return sum(width for _, width in _PLACE[: names.index(name)])


_LOG = ("rate_known", "triaged", "mark")
WORKED = (*sorted(WORK), "recovery", EVERYTHING)
"""The work of which it is kept who did it."""


class StateField:
    """One field: where it stands, how wide it is, and the values that its numbers mean."""

    def __init__(self, name: str, at: int, width: int, values: Iterable[Hashable] = ()) -> None:
        self.name = name
        self.at = at
        self.width = width
        self.values: list[Any] = list(values)
        self.codes: dict[Hashable, int] = {value: n for n, value in enumerate(self.values)}

    def code(self, value: Hashable) -> int:
        """The number of ``value``, a new one for a new value. Raises OverflowError when full."""
        number = self.codes.get(value)
        if number is None:
            number = self.codes[value] = len(self.values)
            if number >= 1 << 8 * self.width:
                raise OverflowError(f"the field {self.name!r} has too many values for the proof")
            self.values.append(value)
        return number

    def value(self, number: int) -> Any:
        """What ``number`` means."""
        return self.values[number]

    def cells(self, value: Hashable) -> tuple[tuple[int, int], ...]:
        """``value`` as (place, byte)."""
        number = self.code(value)
        return tuple((self.at + n, number >> 8 * n & 255) for n in range(self.width))


class SetField(StateField):
    """A field that holds a set: a bit a member, so that each can be asked for alone."""

    def __init__(self, name: str, at: int, members: Iterable[Hashable]) -> None:
        self.members = tuple(members)
        super().__init__(name, at, max(1, (len(self.members) + 7) // 8))
        self.bits = {member: 1 << n for n, member in enumerate(self.members)}

    def code(self, value: Any) -> int:
        """The bits of the members in ``value``. Raises KeyError for what is no member."""
        return sum(self.bits[member] for member in value)

    def value(self, number: int) -> Any:
        """The members whose bits stand in ``number``."""
        return frozenset(member for member, bit in self.bits.items() if number & bit)


class Fields:
    """All fields under one plan."""

    def __init__(self, plan: Plan) -> None:
        self.by_name: dict[str, StateField] = {}
        self.size = 0
        for name, width in _PLACE:
            self._add(name, width, (False, True) if width == 1 else ())
        self["procedure"].__init__("procedure", 0, 1)  # type: ignore[misc]
        self["ended"].__init__("ended", self["ended"].at, 1, ("",))  # type: ignore[misc]
        self["disturbances"].__init__("disturbances", self["disturbances"].at, 1, (0, 1))  # type: ignore[misc]
        self["ask_again"].code(())
        self.facts = tuple(FACTS)
        for fact, kind in FACTS.items():
            self._add(fact, 1, kind)
        for name in Bay.__dataclass_fields__:
            if name == "trips":
                self._add_set(name, Trip)
            elif name not in FACTS:
                self._add(name, 1, (Bay.__dataclass_fields__[name].default,))
        self._add("main_step", 2)
        for step_id in ("", *(step.id for step in plan.main.steps())):
            self["step"].code(step_id)  # those of the main procedure in their order
        self["main_step"].values = self["step"].values  # one is copied to the other
        self["main_step"].codes = self["step"].codes
        self._add("waived", 1, ((),))
        for name in _LOG:
            self._add(name, 2 if name == "mark" else 1)
        people = [person["id"] for person in PEOPLE]
        for name in ("doers", *(f"worked {what}" for what in WORKED)):
            self._add_set(name, people)
        for meaning in sorted(SIGNED_KEPT):
            self._add_set(
                f"signed {meaning}",
                (
                    procedure.id
                    for procedure in plan.procedures
                    if any(
                        isinstance(step, SignStep) and step.meaning == meaning
                        for step in procedure.steps()
                    )
                ),
            )
        for phase, condition in READINGS:
            self._add(f"{phase} {condition}", 1, (None, False, True))
        self.choices = tuple(sorted(plan.branches_on - frozenset(FACTS) - {"fluid_count"}))
        options: dict[str, dict[str | None, None]] = {name: {None: None} for name in self.choices}
        for step in plan.steps():
            for condition in step.when:
                if condition.fact in options:
                    options[condition.fact].update(dict.fromkeys(condition.among))
            if isinstance(step, AskStep) and step.name in options:
                options[step.name].update(dict.fromkeys(o.value for o in step.options))
        for name, values in options.items():
            self._add(f"choice {name}", 1, values)
        nothing: dict[str, Hashable] = {"rate_known": None, "triaged": False, "mark": ()}
        for name, first in nothing.items():
            self[name].code(first)

    def _add(self, name: str, width: int, values: Iterable[Hashable] = ()) -> None:
        self.by_name[name] = StateField(name, self.size, width, values)
        self.size += width

    def _add_set(self, name: str, members: Iterable[Hashable]) -> None:
        self.by_name[name] = field = SetField(name, self.size, members)
        self.size += field.width

    def __getitem__(self, name: str) -> StateField:
        return self.by_name[name]

    def value(self, state: bytes, name: str) -> Any:
        """What stands under ``name`` in a state, or in its first bytes."""
        return self.value_in(int.from_bytes(state, "little"), name)

    def value_in(self, number: int, name: str) -> Any:
        """What stands under ``name`` in a state that is written as one number."""
        field = self.by_name[name]
        return field.value(number >> 8 * field.at & ((1 << 8 * field.width) - 1))

    def blank(self) -> bytes:
        """The state in which every field has its first value."""
        return bytes(self.size)

    def put(self, state: bytes, **values: Hashable) -> bytes:
        """``state`` with other values."""
        row = bytearray(state)
        for name, value in values.items():
            for at, byte in self.by_name[name].cells(value):
                row[at] = byte
        return bytes(row)
