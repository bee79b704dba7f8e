"""Observers: automata that follow what truly happens, one thing each.

Written for the monitors, a second time and apart from the effects table, so that a wrong cell
there cannot hide itself. This module imports nothing of the tool and is fed with events of
the truth, which are tuples:

========================================= ==================================================
``("arrived", dml)``                      the vehicle came with this much fluid in
``("begin", act, dose, with)``            a person begins an act that was permitted; ``with``
                                          is whether the band asked for lies under the ceiling,
                                          the trip that a reset is for, or the seconds of a burst
                                          with the engine off
``("permitted", act)``                    the tool permitted it; nobody has begun it yet
``("sprayed", dml)``                      this much truly went in
``("did", happening, dml)``               it truly happened (a volume where one was drained)
``("seen", fact, state)``                 somebody looked, measured or checked, honestly
``("doubt", fact)``                       too long ago to be believed
``("untold",)``                           what follows was never reported to the tool
``("tripped", trip)`` ``("reset", trip)`` what the tool did about it
``("over",)``                             the moment is over: whatever had to follow has
========================================= ==================================================

Volumes are whole tenths of a millilitre. All values are strings, integers and booleans.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

PlantEvent = tuple[Any, ...]
UNKNOWN = ""
MUCH_DML = 10**9
MOST_SEARCHED_DML = 6

SPRAYS = frozenset({"spray_off", "spray_running"})
BEGIN_SPRAY = frozenset({"begin spray_off", "begin spray_running"})
STOPS = frozenset(
    {"stopped", "stalled", "cranked_no_fire", "cranked_uneven", "tried_turned", "road_ended"}
)
STARTS = frozenset({"started", "self_started"})
CRANKS = frozenset({"cranked_no_fire", "cranked_uneven", "tried_turned"})
ROAD = ("begin road_test", "road_ended")
HANDLING = frozenset(
    {
        *("hands_in", "hands_at_hose", "hose_off", "hose_on", "gun_coupled", "gun_uncoupled"),
        *("line_cleared", "line_still_wet", "gun_filled", "rate_measured", "gun_loaded"),
    }
)
REVS = frozenset({"raised", "lowered", "over_ceiling", "ran_away"})
CUTS_DRYING = STOPS | STARTS | {"lowered", "over_ceiling", "ran_away", "interrupted", "overdosed"}
ENDS_TURN = (
    STOPS
    | STARTS
    | {"turned_hard", "looked_wet", "overdosed", "drained", "interrupted", "ran_away"}
)
TRIPPING = frozenset(
    {
        *("fire_seen", "fume_alarm", "person_hurt", "ran_away", "turned_hard", "cranked_uneven"),
        *("overdosed", "self_started", "over_ceiling", "spilled", "stub_snapped"),
    }
)
EMERGENCIES = frozenset({"fume_alarm", "fire_seen", "person_hurt", "ran_away", "spilled"})
SHUTS_GUN = EMERGENCIES | {"spray_ended", "spray_sagged", "spray_none", "overdosed", "stalled"}
ENDS_SOAK = (STOPS - {"cranked_no_fire"}) | STARTS | BEGIN_SPRAY | {"overdosed", "ran_away"}


class Observer(Protocol):
    """An automaton over the events of the plant."""

    @property
    def facts(self) -> tuple[str, ...]:
        """The facts of the tool that it observes the truth of."""

    @property
    def hears(self) -> frozenset[str]:
        """The happenings, and the beginnings of acts (``begin x``), that can move it."""

    @property
    def sees(self) -> frozenset[str]:
        """Facts whose observation or expiry changes it."""

    def start(self) -> Hashable:
        """Its state before anything has happened."""

    def after(self, now: Any, event: PlantEvent) -> Any:
        """Its state after ``event``."""

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        """Every state that it can be in, when each of ``facts`` may be in those states."""

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        """Whether it is safe that the tool believes this of ``facts`` in state ``now``."""


@dataclass(frozen=True)
class FactObserver:
    """The state of one fact as it was last truly seen or made, and not invalidated since.

    ``done`` says which happenings set it, ``ends`` which happenings and beginnings of acts
    invalidate it, ``implied`` what an observation of another fact says about it. An interruption
    and expiry always invalidate it, unless ``lasting``.
    """

    fact: str
    done: Mapping[str, str] = field(default_factory=dict)
    ends: frozenset[str] = frozenset()
    implied: Mapping[tuple[str, str], str] = field(default_factory=dict)
    lasting: bool = False

    @property
    def facts(self) -> tuple[str, ...]:
        return (self.fact,)

    @property
    def hears(self) -> frozenset[str]:
        return self.ends.union(self.done, () if self.lasting else ("interrupted",))

    @property
    def sees(self) -> frozenset[str]:
        return frozenset({self.fact, *(fact for fact, _ in self.implied)})

    def start(self) -> Hashable:
        return UNKNOWN

    def accounts(self, states: tuple[tuple[str, ...], ...]) -> Iterable[Hashable]:
        return (UNKNOWN, *(state for state in states[0] if state != "unknown"))

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return believed[0] in ("unknown", now)

    def after(self, now: Any, event: PlantEvent) -> Any:
        match event:
            case ("seen", self.fact, state):
                return UNKNOWN if state == "unknown" else state
            case ("seen", fact, state) if (fact, state) in self.implied:
                return self.implied[fact, state]
            case ("doubt", self.fact):
                return UNKNOWN
            case ("begin", act, _, _):
                return self._moved(now, f"begin {act}")
            case ("did", what, _):
                return self._moved(now, what)
        return now

    def _moved(self, now: Any, what: str) -> Any:
        if what in self.done:
            return self.done[what]
        if what in self.ends or (what == "interrupted" and not self.lasting):
            return UNKNOWN
        return now


def engine_after(engine: str, event: PlantEvent) -> str:
    """What the engine truly does: doubt does not stop one."""
    if event[0] == "doubt" or event[2:] == ("unknown",):
        return engine
    return str(ENGINE.after(engine, event))


ENGINE = FactObserver(
    "engine",
    done={
        **dict.fromkeys(("started", "self_started", "lowered", "over_ceiling"), "idling"),
        **dict.fromkeys(STOPS, "stopped"),
        "raised": "raised",
        "begin road_test": "road",
    },
    ends=frozenset({"ran_away"}),
)
KEY = FactObserver(
    "key",
    done={
        **dict.fromkeys(("ignition_on", "started", "self_started", "stalled"), "on"),
        **dict.fromkeys(("stopped", "cranked_no_fire", "cranked_uneven", "road_ended"), "off"),
        **dict.fromkeys(("tried_nothing", "tried_turned"), "off"),
        "begin road_test": "on",
    },
    ends=frozenset({"ran_away"}),
)
STARTER = FactObserver(
    "starter",
    done=dict.fromkeys(
        {"begin start", "begin road_test", "road_ended", *STARTS, *CRANKS},
        "enabled",
    ),
    ends=frozenset({"ignition_on"}),
    implied={("key", "boxed"): "disabled"},
)
"""A start that is permitted puts back what was out; where an earth lead was off, so does the
ignition."""
BAR = FactObserver(
    "bar", done=dict.fromkeys(("begin hand_turn", "turned_even", "turned_hard"), "on")
)
HANDS = FactObserver(
    "hands",
    done={"hands_in": "in", "hands_at_hose": "at_hose", "road_ended": "clear"},
    ends=frozenset({"person_hurt"}),
)
HOSE = FactObserver(
    "hose", done={"hose_off": "off", "hose_on": "on"}, ends=frozenset({"stub_snapped"})
)
LINE = FactObserver(
    "line",
    done={"line_cleared": "clear", "line_still_wet": "fluid"},
    ends=BEGIN_SPRAY | {"hose_off", "gun_uncoupled", "stub_snapped", "overdosed"},
)
_HEAT_MOVES = STARTS | STOPS | REVS | {"fire_seen", *ROAD}
"""A stop counts: with the flow gone, heat soaks back out of turbine and filter."""
PORT = FactObserver("port", ends=_HEAT_MOVES)
TOUCH = FactObserver("touch", ends=_HEAT_MOVES)
IDLE = FactObserver("idle", ends=STOPS | STARTS | REVS | {"spray_sagged", "begin road_test"})
BURNING = FactObserver(
    "burning", ends=STOPS | STARTS | {"fire_seen", "ran_away", "begin road_test"}
)
CREW = FactObserver("crew")
CONTROLS = FactObserver("controls", ends=frozenset({"person_hurt", "ran_away", "road_ended"}))
SECURED = FactObserver("secured", ends=frozenset(ROAD), implied={("road", "ready"): "part"})
LIFT = FactObserver(
    "lift",
    done={"road_ended": "wheels"},
    implied={("bar", "on"): UNKNOWN, ("bar", "off"): UNKNOWN},
)
"""A wheel comes off for the crank bolt, and goes on again: it is said anew what carries it."""
FUMES = FactObserver(
    "fumes", ends=frozenset({"fume_alarm", *ROAD}), implied={("road", "ready"): "nothing"}
)
ROAD_READY = FactObserver(
    "road",
    ends=HANDLING | {"road_ended", "stub_snapped"},
    implied={("secured", "yes"): UNKNOWN, ("fumes", "extraction"): UNKNOWN},
)
DRIVER = FactObserver("driver")
SHEET = FactObserver("sheet")
KIT = FactObserver("kit", ends=frozenset({"person_hurt", "spilled"}))
SPILL = FactObserver("spill", ends=frozenset({"spilled"}))
REACH = FactObserver("reach")
SENSOR = FactObserver("sensor", ends=frozenset({"stub_snapped"}))
IDENTITY = FactObserver("identity", lasting=True)
LOW_LOOP = FactObserver("low_loop", lasting=True)
FLASH = FactObserver("flash")
TRIGGER = FactObserver("trigger", ends=frozenset({"road_ended"}))
STOP_START = FactObserver("stop_start", ends=STOPS | STARTS | {"ran_away", "begin road_test"})
OIL = FactObserver("oil", ends=frozenset({"overdosed"}), lasting=True)
FUEL = FactObserver("fuel", lasting=True)
COATING = FactObserver("coating", lasting=True)
FOUL = FactObserver("foul", lasting=True)
AGREED = FactObserver("agreed", lasting=True)
TRIAGE = FactObserver("triage", lasting=True)
TIER = FactObserver("tier", lasting=True)
BEFORE = FactObserver(
    "before", done={"before_good": "good", "before_partial": "partial"}, lasting=True
)
AFTER = FactObserver(
    "after",
    done={"after_good": "good", "after_partial": "partial"},
    ends=BEGIN_SPRAY | {"overdosed"},
    lasting=True,
)
CODES = FactObserver("codes", done={"codes_cleared": "cleared"}, lasting=True)
INSPECTION = FactObserver(
    "inspection",
    done={"looked_dry": "dry", "looked_wet": "wet", "cylinders_opened": "opened"},
    ends=STOPS | STARTS | BEGIN_SPRAY | {"overdosed", "drained", "ran_away"},
)
START_CHECK = FactObserver(
    "start_check",
    ends=STOPS | STARTS | BEGIN_SPRAY | {"overdosed", "turned_hard", "drained", "ran_away"},
)
FLUID_CHECK = FactObserver("fluid_check")
RELEASE_CHECK = FactObserver(
    "release_check",
    ends=HANDLING | STARTS | REVS | CRANKS | BEGIN_SPRAY
    | {"ignition_on", "overdosed", "spilled", "stub_snapped", *ROAD},
)  # fmt: skip
TAG = FactObserver("tag", ends=STARTS | REVS | CRANKS | {"ignition_on", "begin road_test"})
