"""The invariants, as small state machines over what **truly happened**.

A monitor never sees the bay, the interlocks or the kernel, and this module imports none of
them: it is fed with events of the truth, as the search lets them happen, keeps its own
account of them, and says in words which invariant was broken. So a wrong cell in the effects
table cannot hide itself: the tool's belief and the monitor's account are written twice.

Events are tuples:

========================================= ==================================================
``("arrived", dml)``                      the vehicle came with this much fluid in
``("begin", act, dose, under_ceiling)``   a person begins an act that was permitted
``("sprayed", dml)``                      this much truly went in
``("did", happening, dml)``               it truly happened (a volume where one was drained)
``("seen", fact, state)``                 somebody looked, measured or checked, honestly
``("doubt", fact)``                       too long ago to be believed
``("tripped", trip)`` ``("reset", trip)`` what the tool did about it
``("over",)``                             the moment is over: whatever had to follow has
========================================= ==================================================

Volumes are whole tenths of a millilitre. All values are strings and integers.
"""

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import Any, Protocol

Event = tuple[Any, ...]
UNKNOWN = ""
MUCH_DML = 10**9
MOST_SEARCHED_DML = 6


class Strand(Protocol):
    """One strand of the truth: what it stands at, and how an event moves it."""

    @property
    def facts(self) -> tuple[str, ...]:
        """What the tool calls that which this strand follows."""

    @property
    def hears(self) -> frozenset[str]:
        """The happenings, and the beginnings of acts (``begin x``), that can move it."""

    def start(self) -> Hashable:
        """What it stands at before anything has happened."""

    def after(self, now: Any, event: Event) -> Any:
        """What it stands at after ``event``."""

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        """All that it may stand at, when each of ``facts`` may be in those states."""

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        """Whether the tool may believe this of ``facts`` while the truth stands at ``now``."""


@dataclass(frozen=True)
class Known:
    """What was last truly seen or done about one thing, and not ended since.

    ``done`` says which happenings settle it; ``ends`` which happenings, and beginnings of
    acts, make it worth nothing. An interruption and old age always do, unless ``lasting``.
    """

    fact: str
    done: Mapping[str, str] = field(default_factory=dict)
    ends: frozenset[str] = frozenset()
    lasting: bool = False

    @property
    def facts(self) -> tuple[str, ...]:
        return (self.fact,)

    @property
    def hears(self) -> frozenset[str]:
        return self.ends.union(self.done, () if self.lasting else ("interrupted",))

    def start(self) -> Hashable:
        return UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return (UNKNOWN, *(state for state in states[0] if state != "unknown"))

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] in ("unknown", now)

    def after(self, now: Any, event: Event) -> Any:
        match event:
            case ("seen", self.fact, state):
                return UNKNOWN if state == "unknown" else state
            case ("doubt", self.fact):
                return UNKNOWN
            case ("begin", act, _, _) if f"begin {act}" in self.done:
                return self.done[f"begin {act}"]
            case ("begin", act, _, _) if f"begin {act}" in self.ends:
                return UNKNOWN
            case ("did", what, _) if what in self.done:
                return self.done[what]
            case ("did", what, _) if what in self.ends:
                return UNKNOWN
            case ("did", "interrupted", _) if not self.lasting:
                return UNKNOWN
        return now


@dataclass(frozen=True)
class Ledger:
    """(fluid that is truly in, whether a drying run truly goes on, what the engine does)."""

    facts = ("wet",)

    @property
    def hears(self) -> frozenset[str]:
        return BEGIN_SPRAY | CUTS_DRYING | ENGINE.hears | {"drained", "run_on_begun", "run_on_due"}

    def start(self) -> Hashable:
        return MUCH_DML, False, UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return ((dml, False, UNKNOWN) for dml in (*range(MOST_SEARCHED_DML), MUCH_DML))

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] is None or bool(believed[0] >= now[0])

    def after(self, now: Any, event: Event) -> Any:
        dml, drying, engine = now
        if event[0] != "doubt" and event[2:] != ("unknown",):  # doubt does not stop an engine
            engine = ENGINE.after(engine, event)
        match event:
            case ("arrived", amount):
                dml = amount
            case ("begin", act, _, _) if act in SPRAYS:
                drying = False
            case ("sprayed", amount):
                dml = min(dml + amount, MUCH_DML)
            case ("did", "drained", amount):
                dml = dml if dml == MUCH_DML else max(0, dml - amount)
            case ("did", "run_on_begun", _):
                drying = engine in ("idling", "raised")
            case ("did", "run_on_due", _):
                dml, drying = 0 if drying else dml, False
            case ("did", what, _) if what in CUTS_DRYING:
                drying = False
        return dml, drying and engine in ("idling", "raised"), engine


@dataclass(frozen=True)
class HandTurn:
    """How far a hand-turn check stands: nothing, turned, valid, retry."""

    facts = ("hand_turn",)

    @property
    def hears(self) -> frozenset[str]:
        return BEGIN_SPRAY | ENDS_TURN | {"turned_even", "turn_seen"}

    def start(self) -> Hashable:
        return UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return UNKNOWN, "turned", "valid", "retry"

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] in ("unknown", now)

    def after(self, now: Any, event: Event) -> Any:
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
class Attended:
    """(who is here, who is at the controls); another crew means another look at the controls."""

    facts = ("crew", "controls")

    @property
    def hears(self) -> frozenset[str]:
        return CREW.hears | CONTROLS.hears

    def start(self) -> Hashable:
        return UNKNOWN, UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return product(CREW.accounts(states[:1]), CONTROLS.accounts(states[1:]))

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return all(b in ("unknown", n) for b, n in zip(believed, now, strict=True))

    def after(self, now: Any, event: Event) -> Any:
        crew = CREW.after(now[0], event)
        if event[:2] == ("seen", "crew") and crew != now[0]:
            return crew, UNKNOWN
        return crew, CONTROLS.after(now[1], event)


@dataclass(frozen=True)
class Gun(Known):
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
        return Known.hears.fget(self) | SHUTS_GUN  # type: ignore[attr-defined, no-any-return]

    def after(self, now: Any, event: Event) -> Any:
        if event[0] == "did" and event[1] in SHUTS_GUN:
            return "coupled" if now == "open" else now
        return Known.after(self, now, event)


@dataclass(frozen=True)
class Rate(Known):
    """How the volume of the next spray is known. A loaded volume stands for one spray."""

    fact: str = "rate"
    done: Mapping[str, str] = field(
        default_factory=lambda: {"rate_measured": "measured", "gun_loaded": "loaded"}
    )
    ends: frozenset[str] = frozenset({"begin fill_gun", "gun_filled", "overdosed"})

    def after(self, now: Any, event: Event) -> Any:
        if event[0] == "sprayed" and event[1] and now == "loaded":
            return UNKNOWN
        return Known.after(self, now, event)


@dataclass(frozen=True)
class Soak(Known):
    """Whether a soak was begun, and came to its end, since fluid or crank last moved."""

    fact: str = "soak"
    done: Mapping[str, str] = field(default_factory=lambda: {"soak_begun": "running"})

    @property
    def hears(self) -> frozenset[str]:
        return ENDS_SOAK | {"soak_begun", "soak_due", "interrupted"}

    def after(self, now: Any, event: Event) -> Any:
        if event[:2] == ("did", "soak_due"):
            return "due" if now == "running" else now
        if event[0] == "did" and event[1] in ENDS_SOAK:
            return UNKNOWN
        if event[0] == "begin" and event[1] in SPRAYS:
            return UNKNOWN
        return Known.after(self, now, event)


SPRAYS = frozenset({"spray_off", "spray_running"})
BEGIN_SPRAY = frozenset({"begin spray_off", "begin spray_running"})
STOPS = frozenset({"stopped", "stalled", "cranked_no_fire", "cranked_uneven", "road_ended"})
STARTS = frozenset({"started", "self_started"})
REVS = frozenset({"raised", "lowered", "over_ceiling", "ran_away"})
CUTS_DRYING = STOPS | STARTS | {"lowered", "over_ceiling", "ran_away", "interrupted", "overdosed"}
ENDS_TURN = (
    STOPS
    | STARTS
    | {"turned_hard", "looked_wet", "overdosed", "drained", "interrupted", "ran_away"}
)
EMERGENCIES = frozenset({"fume_alarm", "fire_seen", "person_hurt", "ran_away", "spilled"})
SHUTS_GUN = EMERGENCIES | {"spray_ended", "spray_sagged", "spray_none", "overdosed", "stalled"}
ENDS_SOAK = (STOPS - {"cranked_no_fire"}) | STARTS | BEGIN_SPRAY | {"overdosed", "ran_away"}

ENGINE = Known(
    "engine",
    done={
        **dict.fromkeys(("started", "self_started", "lowered", "over_ceiling"), "idling"),
        **dict.fromkeys(STOPS, "stopped"),
        "raised": "raised",
        "begin road_test": "road",
    },
    ends=frozenset({"ran_away"}),
)
KEY = Known(
    "key",
    done={
        **dict.fromkeys(("ignition_on", "started", "self_started", "stalled"), "on"),
        **dict.fromkeys(("stopped", "cranked_no_fire", "cranked_uneven", "road_ended"), "off"),
        "begin road_test": "on",
    },
    ends=frozenset({"ran_away"}),
)
HANDS = Known(
    "hands",
    done={"hands_in": "in", "hands_at_hose": "at_hose", "road_ended": "clear"},
    ends=frozenset({"person_hurt"}),
)
HOSE = Known("hose", done={"hose_off": "off", "hose_on": "on"}, ends=frozenset({"stub_snapped"}))


PORT = Known("port", ends=STARTS | REVS | {"cranked_no_fire", "cranked_uneven", "fire_seen",
                                           "road_ended", "begin road_test"})  # fmt: skip
IDLE = Known("idle", ends=STOPS | STARTS | REVS | {"spray_sagged", "begin road_test"})
BURNING = Known("burning", ends=STOPS | STARTS | {"fire_seen", "begin road_test"})
CREW = Known("crew")
CONTROLS = Known("controls", ends=frozenset({"person_hurt", "ran_away", "road_ended"}))
SECURED = Known("secured", ends=frozenset({"begin road_test", "road_ended"}))
FUMES = Known("fumes", ends=frozenset({"fume_alarm", "begin road_test", "road_ended"}))
SHEET = Known("sheet")
KIT = Known("kit", ends=frozenset({"person_hurt", "spilled"}))
SPILL = Known("spill", ends=frozenset({"spilled"}))
TIER = Known("tier", lasting=True)


@dataclass(frozen=True)
class Needs:
    """An invariant of the form: whoever begins one of ``acts`` has this truly behind them.

    ``met`` gets what the strands stand at and the event that begins the act.
    """

    name: str
    invariant: int
    acts: frozenset[str]
    strands: tuple[Strand, ...]
    met: Callable[[tuple[Any, ...], Event], bool]
    words: str

    @property
    def hears(self) -> frozenset[str]:
        """The happenings, and the beginnings of acts, that it takes notice of."""
        acts = frozenset(f"begin {act}" for act in self.acts)
        return acts.union(*(strand.hears for strand in self.strands))

    def start(self) -> Hashable:
        """The account before anything has happened."""
        return tuple(strand.start() for strand in self.strands)

    def step(self, now: Any, event: Event) -> tuple[Hashable, str | None]:
        """The account after ``event``, and the breach in words if it is one."""
        broken = event[0] == "begin" and event[1] in self.acts and not self.met(now, event)
        after = tuple(strand.after(at, event) for strand, at in zip(self.strands, now, strict=True))
        return after, (f"{self.name}: {self.words}" if broken else None)


class Monitor(Protocol):
    """What the search drives."""

    @property
    def name(self) -> str: ...
    @property
    def invariant(self) -> int: ...
    @property
    def hears(self) -> frozenset[str]: ...
    def start(self) -> Hashable: ...
    def step(self, now: Any, event: Event) -> tuple[Hashable, str | None]: ...


def _seen(
    name: str, invariant: int, acts: frozenset[str], strand: Strand, good: str, words: str
) -> Needs:
    states = frozenset(good.split())
    return Needs(name, invariant, acts, (strand,), lambda now, event: now[0] in states, words)


def fluid_monitors(strict: int, extended: int, running: int) -> tuple[Needs, ...]:
    """Invariants 1 and 2 for these dose limits (0.1 mL)."""
    start = frozenset({"start"})
    off, on = frozenset({"spray_off"}), frozenset({"spray_running"})

    def may_crank(now: tuple[Any, ...], event: Event) -> bool:
        (dml, _, _), turn, looked = now
        if dml <= strict:
            return True
        return turn in ("valid", "retry") and (dml <= extended or looked == "dry")

    def off_fits(now: tuple[Any, ...], event: Event) -> bool:
        (dml, _, _), tier = now
        return bool(dml + event[2] <= {"strict": strict, "extended": extended}.get(tier, -1))

    looked = Known(
        "inspection",
        done={"looked_dry": "dry", "looked_wet": "wet"},
        ends=STOPS | STARTS | BEGIN_SPRAY | {"overdosed", "drained", "ran_away"},
    )
    return (
        Needs("start-with-fluid", 1, start, (Ledger(), HandTurn(), looked), may_crank,
              "cranked with more fluid in than may be"),
        Needs("start-soaked", 1, start, (Ledger(), Soak()),
              lambda now, event: now[0][0] == 0 or now[1] == "due",
              "cranked with fluid in before the soak was over"),
        Needs("turn-soaked", 1, frozenset({"hand_turn"}), (Soak(),),
              lambda now, event: now[0] == "due", "turned by hand before the soak was over"),
        Needs("stop-stays-startable", 1, frozenset({"stop_engine"}), (Ledger(), ENGINE),
              lambda now, event: now[0][0] <= strict or now[1] == "stopped",
              "stopped, by permission, with more fluid in than may be started with"),
        Needs("spray-off-ledger", 2, off, (Ledger(), TIER), off_fits,
              "sprayed past the limit of the choice made"),
        Needs("spray-running-ledger", 2, on, (Ledger(),),
              lambda now, event: now[0][0] + event[2] <= running, "sprayed past the running dose"),
        _seen("spray-rate", 2, SPRAYS, Rate(), "measured loaded", "sprayed at a rate not known"),
        _seen("spray-off-cool", 2, off, PORT, "cool", "sprayed into an exhaust not measured cool"),
        _seen("spray-running-band", 2, on, PORT, "cool warm",
              "sprayed into an exhaust not measured inside the running band"),
        _seen("spray-sheet", 2, SPRAYS | {"fill_gun"}, SHEET, "read", "fluid without data sheet"),
        _seen("spray-kit", 2, SPRAYS | {"fill_gun", "take_hose_off", "couple_gun", "clear_line",
                                        "hands_at_hose"}, KIT, "worn", "fluid without protection"),
        _seen("spray-spill", 2, SPRAYS, SPILL, "ready", "sprayed with drains or extinguisher open"),
        Needs("spray-not-burning", 2, SPRAYS, (BURNING, ENGINE, PORT),
              lambda now, event: now[0] == "no" or now[1:] == ("stopped", "cool"),
              "sprayed while soot may burn"),
        Needs("spray-off-still", 2, off, (ENGINE, KEY),
              lambda now, event: now == ("stopped", "boxed"),
              "sprayed with an engine that could start"),
        Needs("spray-running-idle", 2, on, (ENGINE, IDLE),
              lambda now, event: now == ("idling", "steady"), "sprayed without an even idle"),
        Needs("spray-running-attended", 2, on, (Attended(), Gun()),
              lambda now, event: now[0][1] == "other" or now[0] == ("alone_adult", "self"),
              "sprayed with nobody at the controls"),
        Needs("spray-coupled", 2, SPRAYS, (Gun(), HOSE),
              lambda now, event: now == ("coupled", "off"), "sprayed without a seated adaptor"),
    )  # fmt: skip
