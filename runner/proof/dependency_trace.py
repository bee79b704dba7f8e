"""A job that records its own dependency trace while the real ``decide`` and ``evolve`` run on it.

``TracedCore``, ``TracedBay`` and ``TracedLog`` stand in for ``Core``, ``Bay`` and ``Log``. An
attribute is looked up in the state (a row of bytes) when it is read, and the read is noted; a field
that this decision has written returns what was written. Questions are noted as such (``trace.py``).
``dataclasses.replace`` finds no fields to copy here, so it calls ``__class__`` for the copy.

A read that cannot be traced to fields raises ``Untraceable``; nothing is guessed.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import cache, partial
from typing import Any, ClassVar

from steplatch.safety.bay import FACTS, Bay, State, Trip
from steplatch.safety.checks import ADDS_UP, EVERYTHING
from steplatch.safety.measured import NOTHING_MEASURED

from ..core.events import Corrected, Recorded
from ..core.job import Log, StepMark
from .trace import Trace, TracedSet, Untraceable
from .vector import CONDITIONS, PHASES, READINGS, SIGNED_KEPT, WORKED

_CONSTANT = frozenset(
    {"line_name", "kept_line", "verdict", "change", "retained", "exhaust", "gun_doubted"}
)
"""Records that ``decide`` looks up without deciding by them; in the proof none is on record. A
doubted set of shots changes nothing that is known, and the rates tried here are never doubted."""


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
        return self.trips.first()  # type: ignore[no-any-return]


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

    def left_before(self, place: int, place_of: Callable[[str], int]) -> bool:
        """See ``Core.left_before``: the numbers of the steps follow their places."""
        if "main_step" in self.written:
            raise Untraceable("the step that was left was written and compared at once")
        at, values = self.trace.fields["main_step"].at, self.trace.fields["main_step"].values
        bound = values.index("") + 1 + place
        if place and place_of(values[bound - 1]) != place - 1:
            raise Untraceable("the steps of the main procedure are not numbered in their order")
        high = self.trace.ask(at + 1, (1 + (b > bound >> 8) - (b < bound >> 8) for b in range(256)))
        return high == 0 or (
            high == 1 and bool(self.trace.ask(at, (b < bound & 255 for b in range(256))))
        )


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
        if name == "doers":
            return self.trace.read(name)
        if name == "worked":
            raise Untraceable("who did which work was read at once")
        if name == "marks":
            return _Marks(self.trace)
        if name in ("records", "corrections", "not_applicable", "signatures", "waivers"):
            return _Before()
        return getattr(self.always, name)

    def stamped(self, before: Any, after: Any, seen: str = "") -> Any:
        """See ``Log.stamped``."""
        return self.but(set_ms=_Stamps(self, before, after, seen))

    def did(self, by: str, work: Iterable[str]) -> Any:
        """See ``Log.did``."""
        mine = frozenset({by})
        adds_up = ADDS_UP | {EVERYTHING}
        return self.but(
            doers=self.doers | mine,
            **{
                f"worked {what}": self._workers(what) | mine if what in adds_up else mine
                for what in work
            },
        )

    def _workers(self, what: str) -> Any:
        name = f"worked {what}"
        return self.written[name] if name in self.written else self.trace.read(name)

    def was_done_by(self, what: str, person: str) -> bool:
        """See ``Log.was_done_by``."""
        return person in self._workers(what)

    def was_signed(self, meaning: str, procedure: str = "") -> bool:
        """See ``Log.was_signed``."""
        if meaning not in SIGNED_KEPT:
            raise Untraceable(f"signatures as {meaning!r} are not kept")
        for s in self.written.get("signatures", ()):
            if s is not EARLIER and s.meaning == meaning and procedure in ("", s.procedure):
                return True
        signed = self.trace.read(f"signed {meaning}")
        return procedure in signed if procedure else bool(signed)

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


def written_cells(core: TracedCore, log: TracedLog) -> tuple[dict[int, int], dict[int, bytes]]:
    """The bytes that a decision wrote, by place; for the step that was left, -1 - its place. And
    what became of those that it turned: for each, what stands for what stood there."""
    fields = core.trace.fields
    cells: dict[int, int] = {}
    turned: dict[int, bytes] = {}

    def put(name: str, value: Any) -> None:
        if isinstance(value, TracedSet):
            turned.update(value.turns())
        else:
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
    for name in ("doers", *(f"worked {what}" for what in WORKED)):
        if name in log.written:
            put(name, log.written[name])
    signed: dict[str, Any] = {}
    for s in log.written.get("signatures", ()):
        if s is not EARLIER and s.meaning in SIGNED_KEPT:
            name = f"signed {s.meaning}"
            signed[name] = signed.get(name, core.trace.read(name)) | {s.procedure}
    for name, value in signed.items():
        put(name, value)
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
    return cells, turned


def _plain(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
