"""A job that records its own dependency trace while the real ``decide`` and ``evolve`` run on it.

``TracedCore``, ``TracedBay`` and ``TracedLog`` stand in for ``Core``, ``Bay`` and ``Log``. An
attribute is looked up in the state (a row of bytes) when it is read, and the read is noted; a field
that this decision has written returns what was written. A yes-or-no question (is the fact known, is
it among these, did it move) is noted as that question, not as a read of the whole value.
``dataclasses.replace`` finds no fields to copy here, so it calls ``__class__`` for the copy.

A read that cannot be traced to fields raises ``Untraceable``; nothing is guessed.
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import cache, partial
from typing import Any, ClassVar

from steplatch.safety.bay import FACTS, Bay, DoseLimits, State, Trip
from steplatch.safety.measured import NOTHING_MEASURED

from ..core.events import Corrected, Recorded, Signed
from ..core.job import Log, StepMark
from .vector import CONDITIONS, PHASES, READINGS, SIGNED_KEPT, Fields

WHOLE = 0
"""The question for the whole value of a field."""
_CONSTANT = frozenset(
    {"line_name", "kept_line", "verdict", "change", "retained", "exhaust", "gun_doubted"}
)
"""Records that ``decide`` looks up without deciding by them; in the proof none is on record. A
doubted set of shots changes nothing that is known, and the rates tried here are never doubted."""


class Untraceable(Exception):  # noqa: N818 - it says what the code did, like StopIteration
    """``decide`` read a job in a way that cannot be traced to fields."""


class Questions:
    """The yes-or-no questions asked of fields, numbered; each is a table from value to answer."""

    def __init__(self) -> None:
        self.tables: list[bytes] = [bytes(range(256))]
        self._numbers: dict[bytes, int] = {self.tables[0]: WHOLE}
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
        number = self._note(field.at, WHOLE)
        if field.width == 2:
            number |= self._note(field.at + 1, WHOLE) << 8
        return field.values[number]

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


class _Traced:
    """Common to the three: a trace, the fields written so far, and copies by ``replace``."""

    __slots__ = ("trace", "written")
    __dataclass_fields__: ClassVar[dict[str, Any]] = {}

    def __init__(self, trace: Trace, written: Mapping[str, Any] | None = None) -> None:
        object.__setattr__(self, "trace", trace)
        object.__setattr__(self, "written", dict(written or {}))

    trace: Trace
    written: dict[str, Any]

    @property  # type: ignore[misc]
    def __class__(self) -> Callable[..., Any]:  # type: ignore[override]
        return partial(self.but)

    def but(self, **changes: Any) -> Any:
        """A copy with other values."""
        return type(self)(self.trace, {**self.written, **changes})

    def __getattr__(self, name: str) -> Any:
        if name in self.written:
            return self.written[name]
        if name.startswith("__"):
            raise AttributeError(name)
        return self.look_up(name)

    def look_up(self, name: str) -> Any:
        raise Untraceable(f"{type(self).__name__}.{name} was read")


class TracedBay(_Traced):
    """The bay of a state."""

    __slots__ = ()

    def look_up(self, name: str) -> Any:
        if name not in Bay.__dataclass_fields__:
            raise AttributeError(name)
        return self.trace.read(name)

    def among(self, fact: str, states: Collection[State]) -> bool:
        """See ``Bay.among``."""
        if fact in self.written:
            return self.written[fact] in states
        return self.trace.among(fact, states)

    def knows(self, fact: str) -> bool:
        """See ``Bay.knows``."""
        return self.among(fact, [state for state in FACTS[fact] if not state.unknown])

    def moved(self, before: Any, name: str) -> bool:
        """See ``Bay.moved``; a field that neither has written is the same in both."""
        there = before.written if type(before) is TracedBay else {name: getattr(before, name)}
        if name not in self.written and name not in there:
            return False
        if name in FACTS:
            if name not in there:
                return not before.among(name, (self.written[name],))
            return not self.among(name, (there[name],))
        return bool(getattr(self, name) != getattr(before, name))

    @property
    def untouched(self) -> bool:
        """See ``Bay.untouched``."""
        new = Bay()
        return not any(self.moved(new, name) for name in Bay.__dataclass_fields__)

    @property
    def worst_trip(self) -> Trip | None:
        """See ``Bay.worst_trip``."""
        return next((trip for trip in Trip if trip in self.trips), None)


WITHOUT_LINK = {"measured": NOTHING_MEASURED, "set_aside": ()}
"""What the vehicle reports: nothing, in every trace. A contradiction can only refuse, so what is
permitted with a link is permitted without, and ``SetAside`` ends it. The trips that a vehicle can
report are among the disturbances."""


class TracedCore(_Traced):
    """The core of a state. ``written["main_step"]`` is ``LEFT`` where it is whichever step was
    left."""

    __slots__ = ()

    def look_up(self, name: str) -> Any:
        if name == "bay":
            self.written["bay"] = TracedBay(self.trace)
            return self.written["bay"]
        if name == "limits":
            return self.trace.limits
        if name in WITHOUT_LINK:
            return WITHOUT_LINK[name]
        if name not in ("procedure", "step", "begun", "held", "meanwhile", "ended", "ask_again",
                        "main_step", "waived"):  # fmt: skip
            raise Untraceable(f"Core.{name} was read as a whole")
        return self.trace.read(name)

    def choice(self, name: str) -> str | None:
        """See ``Core.choice``. A choice that no condition reads counts as not made."""
        key = f"choice {name}"
        if key in self.written:
            return self.written[key]  # type: ignore[no-any-return]
        return self.trace.read(key) if key in self.trace.fields.by_name else None

    def chose(self, name: str, among: tuple[str, ...] = ()) -> bool:
        """See ``Core.chose``."""
        key = f"choice {name}"
        if key in self.written or key not in self.trace.fields.by_name:
            value = self.choice(name)
            return value is not None and (not among or value in among)
        return self.trace.one_of(key, among) if among else self.trace.is_set(key)

    def choosing(self, name: str, value: str | None) -> Any:
        """See ``Core.choosing``."""
        return self.but(**{f"choice {name}": value})

    def leaving(self) -> Any:
        """See ``Core.leaving``."""
        return self.but(main_step=LEFT)

    @property
    def opened(self) -> bool:
        """See ``Core.opened``: the search begins with a job that was opened."""
        return True

    @property
    def diverted(self) -> bool:
        """See ``Core.diverted``."""
        if "main_step" in self.written:
            return bool(self.written["main_step"])
        return self.trace.is_set("main_step")


LEFT = "(the step that was left)"


class _Earlier:
    """Stands for the earlier entries of a list in the log, where the code only appends."""


EARLIER = _Earlier()


class _Before:
    """One list of the log, which may only be appended to."""

    def __iter__(self) -> Iterator[_Earlier]:
        return iter((EARLIER,))


class _Marks(_Before):
    def __init__(self, trace: Trace) -> None:
        self.trace = trace

    def __bool__(self) -> bool:
        return bool(self.trace.read("mark"))

    def __getitem__(self, at: int | slice) -> Any:
        if isinstance(at, slice):
            return ()  # what a signature covers is written down and decides nothing
        procedure, step = self.trace.read("mark")
        return StepMark(step, 0, 0, "", "", procedure)


class _Stamps(Mapping[str, int]):
    """When each fact in the bay was last set: now, for those that have moved."""

    def __init__(self, log: Any, before: Any, after: Any, seen: str) -> None:
        self.old, self.now_ms = log.set_ms, log.aged_ms
        self.before, self.after, self.seen = before, after, seen

    def __getitem__(self, name: str) -> int:
        if name == self.seen or self.after.moved(self.before, name):
            return int(self.now_ms)
        return int(self.old[name])

    def __iter__(self) -> Iterator[str]:
        raise Untraceable("the times of all facts were read at once")

    def __len__(self) -> int:
        raise Untraceable("the times of all facts were counted")


class _Named(Sequence[Recorded]):
    """The records under some names: of each name the latest, looked up when it is read. Its content
    matters as little as in ``stand_in``, and correcting an older one decides nothing more."""

    def __init__(self, trace: Trace, names: tuple[str, ...]) -> None:
        self.trace = trace
        self.of = [n for n in names for _ in range(len(READINGS) if n == "reading" else 1)]

    def __len__(self) -> int:
        return len(self.of)

    def __getitem__(self, at: Any) -> Any:
        name, trace = self.of[at], self.trace
        match name:
            case "reading":
                phase, condition = READINGS[at]
                pressure = trace.read(f"{phase} {condition}")
                if pressure is None:
                    raise LookupError(f"no reading {phase} {condition} is on record")
                return Recorded(name, stand_in(phase, condition, pressure), "", procedure="")
            case "exhaust":
                return Recorded(name, {"at_ms": 0, "k": "400.0"}, "", procedure="")
            case "gun":
                gun = trace.read("rate_known")
                if gun is None:
                    raise LookupError("no gun is on record")
                return Recorded(name, dict(gun), "", procedure="")
            case "spray":
                return Recorded(name, {"seconds": "1"}, "", procedure="")
        raise Untraceable(f"the record {name!r} was looked up")


class TracedLog(_Traced):
    """The log of a state; ``always`` holds what is the same in every state."""

    __slots__ = ("always",)
    always: Log

    def __init__(self, trace: Trace, written: Mapping[str, Any] | None, always: Log) -> None:
        super().__init__(trace, written)
        object.__setattr__(self, "always", always)

    def but(self, **changes: Any) -> Any:
        return TracedLog(self.trace, {**self.written, **changes}, self.always)

    def look_up(self, name: str) -> Any:
        if name in ("doers", "worked"):
            return self.trace.read(name)
        if name == "signatures":
            signed = sorted(self.trace.read("signed"))
            return tuple(
                Signed(step, "", "", meaning, "", (), procedure=procedure)
                for meaning, procedure, step in signed
            )
        if name == "marks":
            return _Marks(self.trace)
        if name in ("records", "corrections", "not_applicable", "waivers"):
            return _Before()
        return getattr(self.always, name)

    def stamped(self, before: Any, after: Any, seen: str = "") -> Any:
        """See ``Log.stamped``."""
        return self.but(set_ms=_Stamps(self, before, after, seen))

    def number(self, name: str) -> float:
        """See ``Log.number``."""
        return float(self.always.numbers[name])

    def waived_until_ms(self, interlock: str) -> int:
        """See ``Log.waived_until_ms``: a waiver is too old when all facts with an age are."""
        always = self.always
        return always.aged_ms if always.set_ms["permit"] == always.aged_ms else -1

    def _added(self) -> tuple[Recorded, ...]:
        return tuple(r for r in self.written.get("records", ()) if r is not EARLIER)

    def latest(self, name: str) -> dict[str, Any] | None:
        """See ``Log.latest``."""
        for record in reversed(self._added()):
            if record.name == name:
                return record.value
        if name == "gun":
            gun = self.trace.read("rate_known")
            return None if gun is None else dict(gun)
        if name == "triage":
            return {"state": "go"} if self.trace.read("triaged") else None
        if name not in _CONSTANT:
            raise Untraceable(f"the record {name!r} was looked up")
        return None

    def readings(self, phase: str) -> tuple[dict[str, Any], ...]:
        """See ``Log.readings``."""
        before = [
            stand_in(phase, condition, pressure)
            for condition in CONDITIONS
            if (pressure := self.trace.read(f"{phase} {condition}")) is not None
        ]
        added = [r.value for r in self._added() if r.name == "reading"]
        return (*before, *(plain for plain in added if plain["phase"] == phase))

    def named(self, *names: str) -> Sequence[Recorded]:
        """See ``Log.named``."""
        return _Named(self.trace, names)

    def corrected(self, event: Corrected) -> Any:
        """See ``Log.corrected``: the corrected record is kept as any other is."""
        return self.but(records=(*self.records, Recorded(event.name, event.now, "", procedure="")))

    def every(self, name: str) -> tuple[dict[str, Any], ...]:
        """See ``Log.every``: nothing that decides reads a whole list."""
        raise Untraceable(f"every record {name!r} was read")


@cache
def stand_in(phase: Any, condition: Any, pressure: bool) -> dict[str, Any]:
    """A reading set; only phase, condition and whether it has a pressure are ever read."""
    from ..core.typed_set import parse_set

    line = {"raised": "2200 40 180 86 open", "idle": "820 9 160 86 open", "zero": "0 x x x x"}
    got = parse_set(
        f"{'1' if pressure else 'x'} {line[condition]}", condition, phase,
        line_name="", burning=None, cylinders=None, taken_at="", by="",
    )  # fmt: skip
    return got.to_json()


def written_cells(core: TracedCore, log: TracedLog) -> dict[int, int]:
    """The bytes that a decision wrote, by place; for the step that was left, -1 - its place."""
    fields = core.trace.fields
    cells: dict[int, int] = {}

    def put(name: str, value: Any) -> None:
        cells.update(fields[name].cells(value))

    for name, value in core.written.items():
        if name == "main_step" and value == LEFT:
            for offset in (0, 1):
                cells[fields["main_step"].at + offset] = -1 - (fields["step"].at + offset)
        elif name == "bay":
            for fact, state in value.written.items():
                put(fact, state)
        elif name in fields.by_name:
            put(name, value)
    for name in ("doers", "worked"):
        if name in log.written:
            put(name, log.written[name])
    if "signatures" in log.written:
        kept = {
            (s.meaning, s.procedure, s.step)
            for s in log.written["signatures"]
            if s.meaning in SIGNED_KEPT
        }
        put("signed", frozenset(kept))
    if "marks" in log.written:
        put("mark", log.written["marks"][-1].key)
    for record in log.written.get("records", ()):
        if record is EARLIER:
            continue
        if record.name == "gun":
            value = record.value
            put("rate_known", tuple(sorted((k, _plain(v)) for k, v in value.items())))
        elif record.name == "triage":
            put("triaged", True)
        elif record.name == "reading" and record.value["phase"] in PHASES:
            got = record.value
            put(f"{got['phase']} {got['condition']}", got["pressure_pa"] is not None)
    return cells


def _plain(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
