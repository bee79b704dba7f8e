"""Observers that need more than a last known state: ledger, turn, soak, trips.

As in ``observers``, nothing of the tool is imported.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import Any

from .observers import (
    BEGIN_SPRAY,
    CREW,
    CUTS_DRYING,
    ENDS_SOAK,
    ENDS_TURN,
    ENGINE,
    MOST_SEARCHED_DML,
    MUCH_DML,
    SHUTS_GUN,
    SPRAYS,
    STARTS,
    STOPS,
    TRIPPING,
    UNKNOWN,
    FactObserver,
    PlantEvent,
    engine_after,
)  # fmt: skip

DRYING, IN_LINE = "running", "line"
RUNS_IN = frozenset({"line_cleared", "line_still_wet", "gun_coupled"})
"""What is done at the line, and what stood in it goes into the exhaust, or nobody knows."""


@dataclass(frozen=True)
class LedgerObserver:
    """(fluid that is truly in, how far it is dried, what the engine does).

    Dried at raised revs, for which the line was blown (``revs-line-clear``), nothing is left. Dried
    at idle all of it may stand in the line, where no gas passes: until it is let out low.
    """

    facts = ("wet",)

    @property
    def hears(self) -> frozenset[str]:
        dried = {"drained", "run_on_begun", "run_on_due"}
        return BEGIN_SPRAY | CUTS_DRYING | ENGINE.hears | RUNS_IN | dried

    @property
    def sees(self) -> frozenset[str]:
        return ENGINE.sees | {"line"}

    def start(self) -> Hashable:
        return MUCH_DML, UNKNOWN, UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return ((dml, UNKNOWN, UNKNOWN) for dml in (*range(MOST_SEARCHED_DML), MUCH_DML))

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] is None or bool(believed[0] >= now[0])

    def after(self, now: Any, event: PlantEvent) -> Any:
        dml, dried, engine = now
        engine = engine_after(engine, event)
        match event:
            case ("arrived", amount):
                dml = amount
            case ("sprayed", amount):
                dml, dried = min(dml + amount, MUCH_DML), UNKNOWN
            case ("did", "drained", amount):
                dml = dml if dml == MUCH_DML else max(0, dml - amount)
            case ("seen", "line", "clear" | "drained") if dried == IN_LINE:
                dml = 0
            case ("did", "run_on_due", _) if dried == DRYING and engine == "raised":
                dml = 0
        dried = dried_after(dried, engine, event)
        return dml, dried if dml and dried != "done" else UNKNOWN, engine


def dried_after(dried: str, engine: str, event: PlantEvent) -> str:
    """How far it is truly dried: not, drying, done, or done but for what stands in the line.
    ``engine`` is what it does after ``event``."""
    match event:
        case ("begin", act, _, _) if act in SPRAYS:
            return UNKNOWN
        case ("did", "overdosed" | "ran_away", _):
            return UNKNOWN
        case ("did", "interrupted", _):
            return dried if dried == IN_LINE else UNKNOWN
        case ("did", "run_on_begun", _):
            return DRYING if engine in ("idling", "raised") else UNKNOWN
        case ("did", "run_on_due", _) if dried == DRYING:
            dried = "done" if engine == "raised" else IN_LINE
        case ("seen", "line", "clear" | "drained") if dried == IN_LINE:
            return "done"
        case ("seen", "line", "fluid") if dried == IN_LINE:
            return UNKNOWN
        case ("did", what, _) if what in RUNS_IN and dried == IN_LINE:
            return UNKNOWN
        case ("did", what, _) if what in CUTS_DRYING and dried == DRYING:
            return UNKNOWN
    return UNKNOWN if dried == DRYING and engine not in ("idling", "raised") else dried


@dataclass(frozen=True)
class HandTurnObserver:
    """How far a hand-turn check stands: nothing, turned, valid, retry."""

    facts = ("hand_turn",)

    @property
    def hears(self) -> frozenset[str]:
        return BEGIN_SPRAY | ENDS_TURN | {"turned_even", "turn_seen"}

    @property
    def sees(self) -> frozenset[str]:
        return frozenset({"hand_turn"})

    def start(self) -> Hashable:
        return UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return UNKNOWN, "turned", "valid", "retry"

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] in ("unknown", "turned", now)  # turned alone permits nothing

    def after(self, now: Any, event: PlantEvent) -> Any:
        match event:
            case ("begin", act, _, _) if act in SPRAYS:
                return UNKNOWN
            case ("did", "turned_even", _):
                return "turned"
            case ("did", "turn_seen", _):
                return "valid" if now == "turned" else now
            case ("did", "cranked_no_fire", _):
                return "retry" if now == "valid" else UNKNOWN
            case ("did", what, _) if what in ENDS_TURN:
                return UNKNOWN
            case ("doubt", "hand_turn"):
                return UNKNOWN
        return now


@dataclass(frozen=True)
class BoundObserver:
    """(who is here, or another thing, and what only holds for it): another crew, another look.

    Doubt about the first ends nothing: it must be seen otherwise.
    """

    other: FactObserver
    to: FactObserver = CREW

    @property
    def facts(self) -> tuple[str, ...]:
        return (self.to.fact, self.other.fact)

    @property
    def hears(self) -> frozenset[str]:
        return self.to.hears | self.other.hears

    @property
    def sees(self) -> frozenset[str]:
        return self.to.sees | self.other.sees

    def start(self) -> Hashable:
        return UNKNOWN, UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return product(self.to.accounts(states[:1]), self.other.accounts(states[1:]))

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return all(b in ("unknown", n) for b, n in zip(believed, now, strict=True))

    def after(self, now: Any, event: PlantEvent) -> Any:
        to = self.to.after(now[0], event)
        if to != now[0] and self._moved(to, event):
            return to, UNKNOWN
        return to, self.other.after(now[1], event)

    def _moved(self, to: Any, event: PlantEvent) -> bool:
        return event[:2] == ("seen", self.to.fact)


@dataclass(frozen=True)
class SignedUponObserver(BoundObserver):
    """(what was signed upon, the signature): once it stands otherwise, the signature is over.

    While nobody knows how it stands, the signature is worth nothing, whatever is believed of it.
    """

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] == "unknown" or BoundObserver.bears_out(self, believed, now)

    def _moved(self, to: Any, event: PlantEvent) -> bool:
        return bool(to != UNKNOWN)


@dataclass(frozen=True)
class FluidInObserver:
    """Whether any fluid has gone in during this job. Nothing takes it back."""

    facts = ("fluid_in",)
    hears = frozenset({"begin spray_off", "begin spray_running", "overdosed"})

    @property
    def sees(self) -> frozenset[str]:
        return frozenset()

    def start(self) -> Hashable:
        return "no"

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return "no", "yes"

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return bool(believed[0] != "no" or now == "no")

    def after(self, now: Any, event: PlantEvent) -> Any:
        begun = event[0] == "begin" and event[1] in SPRAYS
        return "yes" if begun or event[0] == "sprayed" or event[1:2] == ("overdosed",) else now


@dataclass(frozen=True)
class RunOnObserver:
    """(how far it is dried, what the engine does): nothing, drying, line, done.

    Done stays done until fluid goes in again.
    """

    facts = ("run_on",)

    @property
    def hears(self) -> frozenset[str]:
        return BEGIN_SPRAY | CUTS_DRYING | ENGINE.hears | RUNS_IN | {"run_on_begun", "run_on_due"}

    @property
    def sees(self) -> frozenset[str]:
        return ENGINE.sees | {"run_on", "line"}

    def start(self) -> Hashable:
        return UNKNOWN, UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return (UNKNOWN, UNKNOWN), (DRYING, "idling"), (IN_LINE, UNKNOWN), ("done", UNKNOWN)

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] in ("unknown", "running", now[0])

    def after(self, now: Any, event: PlantEvent) -> Any:
        dried, engine = now
        engine = engine_after(engine, event)
        if event[:2] == ("doubt", "run_on"):
            return UNKNOWN, engine
        return dried_after(dried, engine, event), engine


@dataclass(frozen=True)
class LatchObserver:
    """Whether something that trips has been told to the tool and was not reset since.

    ``alone``: something is permitted because of it, so it may not be believed where it is not so.
    """

    trip: str
    causes: frozenset[str]
    alone: bool = False

    @property
    def facts(self) -> tuple[str, ...]:
        return (f"trip {self.trip}",)

    @property
    def hears(self) -> frozenset[str]:
        return self.causes

    @property
    def sees(self) -> frozenset[str]:
        return frozenset()

    def start(self) -> Hashable:
        return UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return UNKNOWN, "latched"

    def latched(self, now: Any) -> bool:
        """Whether it is latched in this account."""
        return bool(now == "latched")

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return bool(believed[0]) == self.latched(now) or bool(believed[0] and not self.alone)

    def after(self, now: Any, event: PlantEvent) -> Any:
        match event:
            case ("untold",):
                return f"untold {now}"
            case ("over",):
                return now.removeprefix("untold ")
            case ("did", what, _) if what in self.causes and not now.startswith("untold "):
                return "latched"
            case ("reset", self.trip):
                return UNKNOWN
        return now


@dataclass(frozen=True)
class StallLatchObserver(LatchObserver):
    """The same for a stall, which trips when it comes during a running spray."""

    trip: str = "stalled"
    causes: frozenset[str] = frozenset({"stalled"})

    @property
    def hears(self) -> frozenset[str]:
        return SHUTS_GUN | BEGIN_SPRAY | {"interrupted"}

    def start(self) -> Hashable:
        return False, UNKNOWN

    def latched(self, now: Any) -> bool:
        return bool(now[1] == "latched")

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return product((False, True), (UNKNOWN, "latched"))

    def after(self, now: Any, event: PlantEvent) -> Any:
        spraying, latched = now
        if event[:2] != ("did", "stalled") or spraying:
            latched = LatchObserver.after(self, latched, event)
        if event[0] == "begin" and event[1] in SPRAYS:
            spraying = event[1] == "spray_running"
        if event[0] == "did" and event[1] in SHUTS_GUN | {"interrupted"}:
            spraying = False
        return spraying, latched


@dataclass(frozen=True)
class GunObserver(FactObserver):
    """Where the gun is. It is open from the beginning of a spray until it ends, or an
    emergency or a stall shuts it."""

    fact: str = "gun"
    done: Mapping[str, str] = field(
        default_factory=lambda: {
            "gun_coupled": "coupled",
            "gun_uncoupled": "away",
            "begin spray_off": "open",
            "begin spray_running": "open",
        }
    )

    @property
    def hears(self) -> frozenset[str]:
        return FactObserver.hears.fget(self) | SHUTS_GUN  # type: ignore[attr-defined, no-any-return]

    def after(self, now: Any, event: PlantEvent) -> Any:
        if event[0] == "did" and event[1] in SHUTS_GUN:
            return "coupled" if now == "open" else now
        return FactObserver.after(self, now, event)


@dataclass(frozen=True)
class RateObserver(FactObserver):
    """How the volume of the next spray is known. A loaded volume stands for one spray."""

    fact: str = "rate"
    done: Mapping[str, str] = field(
        default_factory=lambda: {"rate_measured": "measured", "gun_loaded": "loaded"}
    )
    ends: frozenset[str] = frozenset({"begin fill_gun", "gun_filled", "overdosed"})

    def after(self, now: Any, event: PlantEvent) -> Any:
        if event[0] == "sprayed" and event[1] and now == "loaded":
            return UNKNOWN
        return FactObserver.after(self, now, event)


@dataclass(frozen=True)
class StartTriedObserver(FactObserver):
    """Whether the start was tried before fluid: nothing happened, or fluid came in by mishap
    first. Who does not know of the try may believe that it is too late for one."""

    fact: str = "start_tried"
    done: Mapping[str, str] = field(default_factory=lambda: {"tried_nothing": "nothing"})
    ends: frozenset[str] = frozenset({"tried_turned", "self_started"})
    lasting: bool = True

    @property
    def hears(self) -> frozenset[str]:
        return FactObserver.hears.fget(self) | {"overdosed"}  # type: ignore[attr-defined, no-any-return]

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] in ("unknown", now) or (believed[0] == "late" and now == "nothing")

    def after(self, now: Any, event: PlantEvent) -> Any:
        if event[:2] == ("did", "overdosed"):
            return now or "late"
        return FactObserver.after(self, now, event)


@dataclass(frozen=True)
class SoakObserver(FactObserver):
    """Whether a soak was begun, and came to its end, since fluid or crank last moved."""

    fact: str = "soak"
    done: Mapping[str, str] = field(default_factory=lambda: {"soak_begun": "running"})

    @property
    def hears(self) -> frozenset[str]:
        return ENDS_SOAK | {"soak_begun", "soak_due", "interrupted"}

    def after(self, now: Any, event: PlantEvent) -> Any:
        if event[:2] == ("did", "soak_due"):
            return "due" if now == "running" else now
        if event[0] == "did" and event[1] in ENDS_SOAK:
            return UNKNOWN
        if event[0] == "begin" and event[1] in SPRAYS:
            return UNKNOWN
        return FactObserver.after(self, now, event)


@dataclass(frozen=True)
class RecoveryObserver(FactObserver):
    """Whether the recovery was worked and checked by another since the last thing that trips."""

    fact: str = "recovery"
    done: Mapping[str, str] = field(
        default_factory=lambda: {"recovered": "checked", "recovered_alone": "own"}
    )
    ends: frozenset[str] = STOPS | STARTS | BEGIN_SPRAY | TRIPPING | {"looked_wet"}

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] in ("unknown", now) or (believed[0] == "own" and now == "checked")

    def after(self, now: Any, event: PlantEvent) -> Any:
        if now == "checked" and event[:2] == ("did", "recovered_alone"):
            return now  # what another has checked stays checked
        return UNKNOWN if event[0] in ("reset", "tripped") else FactObserver.after(self, now, event)


LEDGER = LedgerObserver()
HAND_TURN = HandTurnObserver()
FLUID_IN = FluidInObserver()
RUN_ON = RunOnObserver()
GUN = GunObserver()
RATE = RateObserver()
START_TRIED = StartTriedObserver()
SOAK = SoakObserver()
RECOVERY = RecoveryObserver()
