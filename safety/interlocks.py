"""One table: act x facts -> permit or refuse. **Rows only deny.**

An act is permitted when no row that names it refuses. Which rows apply follows from the
kind of act alone, so no procedure can forget one and none can be switched off from data.
Each row declares the facts that it reads; a condition can see nothing else.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from safety.bay import (
    SPRAYS,
    Act,
    Agreed,
    Bay,
    Burning,
    Check,
    Codes,
    Controls,
    Crew,
    DoseLimits,
    Driver,
    Engine,
    Evidence,
    FluidIn,
    Fumes,
    Gun,
    Hands,
    HandTurn,
    Hose,
    Identity,
    Idle,
    Inspection,
    Key,
    Kit,
    Line,
    Port,
    Rate,
    Reach,
    Recovery,
    Road,
    RunOn,
    Secured,
    Sensor,
    Sheet,
    Soak,
    Spill,
    State,
    Tag,
    Tier,
    Triage,
    Trip,
)


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked: the act, its dose in 0.1 mL, whether the band asked for lies wholly
    under the rev ceiling, and the trip that a reset is for."""

    act: Act
    dose: int = 0
    band_under_ceiling: bool = True
    trip: Trip | None = None


@dataclass(frozen=True, slots=True)
class Is:
    """Holds when the fact is in one of the states."""

    fact: str
    states: tuple[State, ...]

    @property
    def reads(self) -> frozenset[str]:
        return frozenset({self.fact})

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return getattr(bay, self.fact) in self.states


@dataclass(frozen=True, slots=True)
class Either:
    """Holds when one of its parts holds."""

    parts: tuple["Condition", ...]

    @property
    def reads(self) -> frozenset[str]:
        return frozenset().union(*(p.reads for p in self.parts))

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return any(p.holds(bay, ask, limits) for p in self.parts)


@dataclass(frozen=True, slots=True)
class Both:
    """Holds when all of its parts hold."""

    parts: tuple["Condition", ...]

    @property
    def reads(self) -> frozenset[str]:
        return frozenset().union(*(p.reads for p in self.parts))

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return all(p.holds(bay, ask, limits) for p in self.parts)


@dataclass(frozen=True, slots=True)
class Rule:
    """A condition over numbers: ledger, dose, limits, trips. ``reads`` is declared."""

    name: str
    reads: frozenset[str]
    test: Callable[[Bay, Ask, DoseLimits], bool]

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return self.test(bay, ask, limits)


Condition = Is | Either | Both | Rule


@dataclass(frozen=True, slots=True)
class Interlock:
    """One row. ``invariant`` is the number of the invariant it serves (see ``monitors``)."""

    id: str
    acts: frozenset[Act]
    allows: Condition
    reason: str
    remedy: str
    source: str
    invariant: int

    @property
    def reads(self) -> frozenset[str]:
        """The facts that this row can see."""
        return self.allows.reads


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an act is refused, what would allow it, and where the rule comes from."""

    interlock: str
    reason: str
    remedy: str
    source: str


def _is(fact: str, *states: State) -> Is:
    return Is(fact, states)


def _either(*parts: Condition) -> Either:
    return Either(parts)


def _both(*parts: Condition) -> Both:
    return Both(parts)


_WET_NONE = Rule("ledger is zero", frozenset({"wet"}), lambda b, a, m: b.wet == 0)
_WET_STRICT = Rule(
    "ledger within the strict limit",
    frozenset({"wet"}),
    lambda b, a, m: b.wet is not None and b.wet <= m.strict,
)
_WET_EXTENDED = Rule(
    "ledger within the extended limit",
    frozenset({"wet"}),
    lambda b, a, m: b.wet is not None and b.wet <= m.extended,
)


def _dose_fits(limit: str) -> Rule:
    """The dose asked for, on top of the ledger, stays within the limit of that name."""

    def fits(b: Bay, a: Ask, m: DoseLimits) -> bool:
        return b.wet is not None and a.dose > 0 and b.wet + a.dose <= int(getattr(m, limit))

    return Rule(f"dose fits the {limit} limit", frozenset({"wet"}), fits)


_TURNED = _is("hand_turn", HandTurn.VALID, HandTurn.RETRY)
_CRANKS = (Act.START,)
_RUNS = (Act.START, Act.RAISE, Act.SPRAY_RUNNING)
_SPRAYS = tuple(SPRAYS)
_FLUID_TRIPS = frozenset(
    {
        Trip.OVERDOSE,
        Trip.STALLED,
        Trip.HARD_TURN,
        Trip.UNEVEN_CRANK,
        Trip.SELF_STARTED,
        Trip.UNPERMITTED,
    }
)

HSE_FUMES = "HSE, Motor vehicle repair: vehicle exhaust emissions"
HSE_SECURE = "HSE, Motor vehicle repair: introduction (brakes on, neutral, chocked)"
COSHH = "COSHH Regulations 2002; the fluid's safety data sheet"
TRADE = "common practice, no source"
WORKED = "worked limit: see 'steplatch limits'"
LOCK = "Historic Aircraft Association note on hydraulic lock, citing an AAIB report"
MACHINERY = "Regulation (EU) 2023/1230, Annex III 1.2"
ISOLATE = "ISO 14118 (isolation from unexpected start-up), scope"
RECORD = "21 CFR Part 11, 11.10 (as a model)"
AMC = "EASA AMC 145.A.48 (as a model): the checker is not the doer"


def _row(
    id: str,
    acts: tuple[Act, ...],
    allows: Condition,
    reason: str,
    remedy: str,
    source: str,
    invariant: int,
) -> Interlock:
    return Interlock(id, frozenset(acts), allows, reason, remedy, source, invariant)


_NOT_AFTER_TRIP = tuple(
    a
    for a in Act
    if a
    not in {
        Act.STOP_ENGINE,
        Act.UNCOUPLE_GUN,
        Act.HANDS_IN,
        Act.HAND_TURN,
        Act.ABANDON,
        Act.RESET,
        Act.START,
        Act.RUN_ON,
        Act.CLEAR_LINE,
        Act.PUT_HOSE_ON,
        Act.HANDS_AT_HOSE,
        Act.TAKE_HOSE_OFF,
    }
)

INTERLOCKS: tuple[Interlock, ...] = (
    # -- 1: the start, with fluid in ---------------------------------------------------------
    _row(
        "start-ledger",
        _CRANKS,
        _either(
            _WET_STRICT,
            _both(_WET_EXTENDED, _TURNED),
            _both(_is("inspection", Inspection.DRY), _TURNED),
        ),
        "Too much fluid may be in the exhaust, or nobody knows how much: it can lock a cylinder.",
        "Do not crank. Up to the extended limit: soak, turn by hand, have it checked. "
        "Above it, or unknown: work the recovery.",
        LOCK,
        1,
    ),
    _row(
        "start-soak",
        _CRANKS,
        _either(_WET_NONE, _is("soak", Soak.DUE)),
        "Fluid went in and the soak is not over.",
        "Wait until the soak is due.",
        TRADE,
        1,
    ),
    _row(
        "start-check",
        _CRANKS,
        _either(_WET_NONE, _is("start_check", Check.OTHER)),
        "Fluid is in and no second person has checked before this start.",
        "Call the checker to the vehicle: the start check comes first.",
        AMC,
        8,
    ),
    _row(
        "start-port-shut",
        _CRANKS,
        _either(_is("hose", Hose.ON), _is("gun", Gun.COUPLED)),
        "The port is open, or nobody knows: hot foam comes out at the first firing.",
        "Close the port first: gun coupled and shut, or hose and sensor on.",
        TRADE,
        4,
    ),
    _row(
        "start-hands-clear",
        (Act.START, Act.IGNITION_ON, Act.RAISE, Act.SPRAY_RUNNING, Act.ROAD_TEST),
        _is("hands", Hands.CLEAR),
        "Somebody's hands may be at the crank, the hose or the fan.",
        "Have everybody show their hands clear, then say so.",
        ISOLATE,
        5,
    ),
    _row(
        "run-secured",
        _RUNS,
        _is("secured", Secured.YES),
        "The vehicle is not secured against rolling.",
        "Set the parking brake, select neutral or park, chock two wheels.",
        HSE_SECURE,
        4,
    ),
    _row(
        "run-fumes",
        _RUNS,
        _is("fumes", Fumes.EXTRACTION, Fumes.OUTDOORS),
        "Exhaust fumes are not dealt with; an open door does not count.",
        "Put the extraction hose on and switch it on, or move the vehicle outdoors.",
        HSE_FUMES,
        4,
    ),
    _row(
        "run-controls",
        _RUNS,
        _either(
            _is("controls", Controls.OTHER),
            _both(
                _is("controls", Controls.SELF),
                _either(_is("crew", Crew.ALONE_ADULT), _is("gun", Gun.AWAY)),
            ),
        ),
        "Nobody is known to be at the controls, able to switch off.",
        "Have a person at the controls; at the gun that is a second person, unless you work "
        "alone with a self-closing trigger within reach of the key.",
        HSE_SECURE,
        4,
    ),
    _row(
        "start-only-when-stopped",
        _CRANKS,
        _is("engine", Engine.STOPPED),
        "The engine is not known to stand still.",
        "Look and say what the engine does.",
        MACHINERY,
        4,
    ),
    _row(
        "crew-may-run",
        (*_RUNS, Act.FILL_GUN, Act.TAKE_HOSE_OFF, Act.ROAD_TEST),
        _either(
            _is("crew", Crew.PAIR, Crew.ALONE_ADULT),
            _both(
                _is("crew", Crew.ALONE_JUNIOR),
                Rule(
                    "a start or raised revs for readings",
                    frozenset({"fluid_in"}),
                    lambda b, a, m: a.act in (Act.START, Act.RAISE) and b.fluid_in is FluidIn.NO,
                ),
            ),
        ),
        "An apprentice or under-18 alone may take readings and advise, no more.",
        "Get a qualified adult to stay, or stop after the readings.",
        "Management of Health and Safety at Work Regulations 1999, reg. 19",
        10,
    ),
    _row(
        "ignition-not-in-soak",
        (Act.IGNITION_ON,),
        _either(_is("fluid_in", FluidIn.NO), _WET_NONE, _is("soak", Soak.DUE)),
        "Ignition on during the soak: heaters and a self-start wake up with fluid in.",
        "Wait until the soak is due.",
        TRADE,
        5,
    ),
    # -- 2: spraying -------------------------------------------------------------------------
    _row(
        "spray-off-ledger",
        (Act.SPRAY_OFF,),
        _either(
            _both(_is("tier", Tier.STRICT), _dose_fits("strict")),
            _both(_is("tier", Tier.EXTENDED), _dose_fits("extended")),
        ),
        "This burst would pass the engine-off limit of the choice made, or the ledger is unknown.",
        "Spray less, or none: go on to the running dose.",
        WORKED,
        2,
    ),
    _row(
        "spray-running-ledger",
        (Act.SPRAY_RUNNING,),
        _dose_fits("running"),
        "This spray would pass the running dose, or the ledger is unknown.",
        "Spray less; when the running dose is used up, shut the gun for good.",
        WORKED,
        2,
    ),
    _row(
        "spray-rate",
        _SPRAYS,
        _is("rate", Rate.MEASURED, Rate.LOADED),
        "The gun's rate was not measured since it was filled or adjusted.",
        "Measure three shots into the jug, or load a measured volume into the empty gun.",
        WORKED,
        2,
    ),
    _row(
        "spray-off-cool",
        (Act.SPRAY_OFF,),
        _is("port", Port.COOL),
        "The filter inlet is not measured cool: fluid flashes to steam in your face, "
        "and the core cracks.",
        "Measure at the bare inlet pipe; wait until it is under the engine-off limit.",
        WORKED,
        2,
    ),
    _row(
        "spray-running-band",
        (Act.SPRAY_RUNNING,),
        _is("port", Port.COOL, Port.WARM),
        "The filter inlet is not measured inside the running band.",
        "Measure it again; let it idle or stand until it is inside the band.",
        WORKED,
        2,
    ),
    _row(
        "spray-sheet",
        (*_SPRAYS, Act.FILL_GUN),
        _is("sheet", Sheet.READ),
        "The fluid's safety data sheet is not here and read.",
        "Get the sheet for exactly this product; read sections 2, 4 and 8.",
        COSHH,
        2,
    ),
    _row(
        "fluid-kit",
        (
            *_SPRAYS,
            Act.FILL_GUN,
            Act.TAKE_HOSE_OFF,
            Act.COUPLE_GUN,
            Act.CLEAR_LINE,
            Act.HANDS_AT_HOSE,
        ),
        _is("kit", Kit.WORN),
        "Protection is not on.",
        "Put on gloves, closed eye protection and sleeves, as the data sheet asks.",
        COSHH,
        2,
    ),
    _row(
        "spray-spill",
        _SPRAYS,
        _is("spill", Spill.READY),
        "Drains, extinguisher, battery or bystanders are not dealt with.",
        "Cover the drains, fetch the extinguisher, support the battery, send others away.",
        TRADE,
        2,
    ),
    _row(
        "spray-not-burning",
        (Act.SPRAY_RUNNING,),
        _is("burning", Burning.NO),
        "The filter may be burning soot now.",
        "Wait until it has ended and cooled; read the flag again.",
        TRADE,
        2,
    ),
    _row(
        "spray-off-still",
        (Act.SPRAY_OFF,),
        _both(_is("engine", Engine.STOPPED), _is("key", Key.BOXED)),
        "The engine must stand still and must not be able to start.",
        "Stop the engine, put the key in the box, try the start: nothing may happen.",
        ISOLATE,
        2,
    ),
    _row(
        "spray-running-idle",
        (Act.SPRAY_RUNNING,),
        _both(_is("engine", Engine.IDLING), _is("idle", Idle.STEADY)),
        "The engine is not known to idle evenly.",
        "Let it idle, look at the speed, say what you see.",
        TRADE,
        2,
    ),
    _row(
        "spray-coupled",
        _SPRAYS,
        _both(_is("gun", Gun.COUPLED), _is("hose", Hose.OFF)),
        "The adaptor is not known to be seated on the hose.",
        "Seat the adaptor, tug it, lock the trigger, then air on.",
        TRADE,
        2,
    ),
    _row(
        "spray-agreed",
        _SPRAYS,
        _is("agreed", Agreed.CLEAN),
        "The customer has not said yes to the clean.",
        "Say what was measured, what else could be done, what this cannot do, the price; "
        "write down the yes with time.",
        "Consumer Rights Act 2015, s49 and s50",
        7,
    ),
    _row(
        "spray-triage",
        _SPRAYS,
        _is("triage", Triage.GO, Triage.WARN),
        "The findings do not allow a clean, or were not judged.",
        "Work the triage; 'do not clean' and 'nothing to clean' end in advice.",
        TRADE,
        7,
    ),
    _row(
        "spray-identity",
        _SPRAYS,
        _is("identity", Identity.MATCH),
        "The vehicle was not matched to the order from two places.",
        "Compare plate and the end of the chassis number with the order.",
        RECORD,
        7,
    ),
    _row(
        "spray-before-first",
        _SPRAYS,
        _is("before", Evidence.GOOD, Evidence.PARTIAL),
        "There is no 'before' to compare with; after fluid it is too late.",
        "Take the 'before' readings first.",
        TRADE,
        6,
    ),
    _row(
        "spray-off-pair",
        (Act.SPRAY_OFF, Act.HAND_TURN),
        _is("crew", Crew.PAIR),
        "Fluid with the engine off, and turning by hand, need two people.",
        "Choose no engine-off dose, or get a second person to stay.",
        TRADE,
        10,
    ),
    _row(
        "spray-check",
        _SPRAYS,
        _either(
            _is("fluid_check", Check.OTHER),
            Rule(
                "alone: running dose, checked by the same person and recorded so",
                frozenset({"fluid_check", "crew"}),
                lambda b, a, m: (
                    a.act is Act.SPRAY_RUNNING
                    and b.crew is Crew.ALONE_ADULT
                    and b.fluid_check is Check.SAME
                ),
            ),
        ),
        "No second person has checked before fluid.",
        "Call the checker: the visit before fluid comes first.",
        AMC,
        8,
    ),
    # -- 3 to 5: running, refitting, hands ---------------------------------------------------
    _row(
        "stop-with-fluid",
        (Act.STOP_ENGINE,),
        _either(_WET_STRICT, _is("engine", Engine.STOPPED)),
        "Stopping now leaves more fluid in than the engine may be started with.",
        "Keep it running: dry it for as long as the drying run says, then stop. In danger, "
        "stop at once with 's'.",
        WORKED,
        1,
    ),
    _row(
        "revs-hose-on",
        (Act.RAISE, Act.ROAD_TEST, Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER, Act.HAND_OVER),
        _is("hose", Hose.ON),
        "Hose and sensor are not known to be on.",
        "Refit hose and sensor, tug both, say so.",
        TRADE,
        4,
    ),
    _row(
        "revs-gun-away",
        (
            Act.RAISE,
            Act.ROAD_TEST,
            Act.CLEAR_LINE,
            Act.PUT_HOSE_ON,
            Act.HAND_OVER,
            Act.ABANDON,
            Act.TAKE_HOSE_OFF,
        ),
        _is("gun", Gun.AWAY),
        "The gun is not known to be off the hose and put away.",
        "Air off, adaptor off, gun away.",
        TRADE,
        4,
    ),
    _row(
        "revs-line-clear",
        (Act.RAISE, Act.ROAD_TEST, Act.PUT_HOSE_ON, Act.READ_AFTER),
        _either(_is("line", Line.CLEAR), _is("fluid_in", FluidIn.NO)),
        "There may be fluid in the hose: it wets the sensor and fakes the reading.",
        "Blow the line clear, away from faces, before hose and sensor go back.",
        "Hydrostatics: 1 cm of water is 0.98 mbar",
        4,
    ),
    _row(
        "revs-ceiling",
        (Act.RAISE,),
        Rule("band under the ceiling", frozenset(), lambda b, a, m: a.band_under_ceiling),
        "The band asked for does not lie wholly under the rev ceiling.",
        "Ask for a band whose upper end is under the ceiling.",
        WORKED,
        4,
    ),
    _row(
        "revs-from-idle",
        (Act.RAISE,),
        _is("engine", Engine.IDLING, Engine.RAISED),
        "The engine is not known to idle.",
        "Start it and let it idle first.",
        MACHINERY,
        4,
    ),
    _row(
        "hands-in-still",
        (Act.HANDS_IN, Act.TAKE_HOSE_OFF, Act.COUPLE_GUN, Act.HAND_TURN),
        _both(_is("engine", Engine.STOPPED), _is("key", Key.BOXED)),
        "The engine could start with hands in.",
        "Stop the engine, put the key in the box, try the start: nothing may happen.",
        ISOLATE,
        5,
    ),
    _row(
        "hands-told",
        (Act.TAKE_HOSE_OFF, Act.COUPLE_GUN, Act.HAND_TURN),
        _is("hands", Hands.IN),
        "The person at the engine has not said that hands go in.",
        "Say 'hands in' first, so that nobody touches the key.",
        ISOLATE,
        5,
    ),
    _row(
        "hose-cool",
        (Act.TAKE_HOSE_OFF,),
        _is("port", Port.COOL),
        "The exhaust beside the hose is not measured cool enough to work at.",
        "Measure at the bare inlet pipe; wait until it is under the limit.",
        WORKED,
        5,
    ),
    _row(
        "hose-which",
        (Act.TAKE_HOSE_OFF,),
        _is("sensor", Sensor.PROVEN),
        "It is not proven which sensor is the filter's.",
        "Trace the hose to the filter, blow it, see which reading moves.",
        TRADE,
        6,
    ),
    _row(
        "refit-idle",
        (Act.HANDS_AT_HOSE,),
        _both(
            _is("engine", Engine.IDLING),
            _is("controls", Controls.OTHER),
            _is("reach", Reach.CLEAR),
            _is("gun", Gun.COUPLED, Gun.AWAY),
        ),
        "Hands at the hose at idle: only with another person at the controls, the gun shut, "
        "and the hose in reach clear of belts and fan.",
        "Put a person at the controls; or dry it at idle with the gun on, stop, then refit.",
        TRADE,
        5,
    ),
    _row(
        "refit-hands",
        (Act.UNCOUPLE_GUN, Act.CLEAR_LINE, Act.PUT_HOSE_ON),
        _either(
            _both(_is("engine", Engine.STOPPED), _is("hands", Hands.IN), _is("key", Key.BOXED)),
            _both(_is("engine", Engine.IDLING), _is("hands", Hands.AT_HOSE)),
        ),
        "Hands at the hose are not announced for what the engine does.",
        "Engine stopped: key in the box, say 'hands in'. At idle: say 'hands at the hose'.",
        ISOLATE,
        5,
    ),
    _row(
        "couple-hose-off",
        (Act.COUPLE_GUN,),
        _is("hose", Hose.OFF),
        "The hose is not known to be off its sensor: the gun would spray into the sensor.",
        "Take the hose off the sensor first.",
        TRADE,
        2,
    ),
    _row(
        "turn-soaked",
        (Act.HAND_TURN,),
        _is("soak", Soak.DUE),
        "The soak is not over: fluid may still be on its way.",
        "Wait until the soak is due, then turn.",
        TRADE,
        1,
    ),
    _row(
        "run-on-running",
        (Act.RUN_ON,),
        _both(_is("engine", Engine.IDLING, Engine.RAISED), _is("gun", Gun.AWAY, Gun.COUPLED)),
        "Drying counts only with the engine running and the gun shut or away.",
        "Gun shut; engine at idle or at raised revs; begin again.",
        WORKED,
        1,
    ),
    # -- 6: evidence -------------------------------------------------------------------------
    _row(
        "zero-stopped",
        (Act.READ_ZERO,),
        _is("engine", Engine.STOPPED),
        "A zero is read with the engine stopped.",
        "Stop the engine, wait two minutes, ignition on, read.",
        TRADE,
        6,
    ),
    _row(
        "before-only-dry",
        (Act.READ_BEFORE,),
        _is("fluid_in", FluidIn.NO),
        "Fluid has gone in: a 'before' reading is no longer possible.",
        "Go on without; the verdict will say less.",
        TRADE,
        6,
    ),
    _row(
        "after-only-dried",
        (Act.READ_AFTER,),
        _either(_is("run_on", RunOn.DONE), _is("fluid_in", FluidIn.NO)),
        "The filter may still be wet: it reads high, and the number would be wrong.",
        "Dry it for as long as the drying run says.",
        WORKED,
        6,
    ),
    _row(
        "codes-saved-first",
        (Act.CLEAR_CODES,),
        _is("codes", Codes.SAVED, Codes.CLEARED, Codes.READ_AGAIN),
        "The codes were not written down: clearing destroys the evidence.",
        "Write down stored, pending and freeze frame first.",
        TRADE,
        6,
    ),
    _row(
        "codes-after-readings",
        (Act.CLEAR_CODES,),
        _is("after", Evidence.GOOD, Evidence.PARTIAL),
        "Codes are cleared after the 'after' readings.",
        "Take the 'after' readings first.",
        TRADE,
        6,
    ),
    # -- 7: road, hand-over, ends ------------------------------------------------------------
    _row(
        "road-ready",
        (Act.ROAD_TEST,),
        _both(
            _is("road", Road.READY),
            _is("driver", Driver.LICENSED),
            _is("engine", Engine.STOPPED),
        ),
        "Chocks, extraction, tools, leaks or the driver's licence are not settled.",
        "Take chocks, extraction and tools out, look for leaks, name a licensed driver.",
        "Road Traffic Act 1988, s87 and s143",
        4,
    ),
    _row(
        "road-dry",
        (Act.ROAD_TEST,),
        _WET_NONE,
        "Fluid may still be in the exhaust.",
        "Finish the drying run first.",
        WORKED,
        4,
    ),
    _row(
        "hand-over-still",
        (Act.HAND_OVER, Act.ABANDON),
        _is("engine", Engine.STOPPED),
        "The engine is not known to stand still.",
        "Stop it and say so.",
        MACHINERY,
        7,
    ),
    _row(
        "hand-over-codes",
        (Act.HAND_OVER,),
        _is("codes", Codes.READ_AGAIN, Codes.SAVED),
        "The codes were cleared and not read again.",
        "Read stored and pending codes once more and write them down.",
        TRADE,
        7,
    ),
    _row(
        "hand-over-signed",
        (Act.HAND_OVER,),
        _either(
            _is("release_check", Check.OTHER),
            _both(
                _is("release_check", Check.SAME),
                _is("crew", Crew.ALONE_ADULT, Crew.ALONE_JUNIOR),
            ),
        ),
        "The release was not signed by another person.",
        "Call the checker for the release visit.",
        AMC,
        7,
    ),
    _row(
        "hand-over-dry",
        (Act.HAND_OVER,),
        _WET_NONE,
        "Fluid may still be in the exhaust.",
        "Finish the drying run; or abandon with the DO NOT START notice.",
        WORKED,
        7,
    ),
    _row(
        "abandon-tagged",
        (Act.ABANDON,),
        _either(
            _is("tag", Tag.DO_NOT_START),
            _both(_is("tag", Tag.KEY_TAGGED), _WET_STRICT),
        ),
        "The key is not tagged, or fluid may be in and no DO NOT START notice is signed.",
        "Key off and tagged; with fluid in, have the receiver sign the DO NOT START notice.",
        ISOLATE,
        9,
    ),
    # -- trips -------------------------------------------------------------------------------
    _row(
        "no-trip-latched",
        _NOT_AFTER_TRIP,
        Rule("no trip latched", frozenset({"trips"}), lambda b, a, m: not b.trips),
        "A trip is latched.",
        "Work the recovery that is on the screen; only then reset.",
        MACHINERY + ".4",
        7,
    ),
    _row(
        "start-no-fluid-trip",
        _CRANKS,
        Rule(
            "no trip about fluid or starting is latched",
            frozenset({"trips"}),
            lambda b, a, m: not b.trips,
        ),
        "A trip is latched: the engine must not be cranked.",
        "Work the recovery; reset it; then the start is asked again.",
        MACHINERY + ".4",
        1,
    ),
    _row(
        "reset-possible",
        (Act.RESET,),
        _both(
            Rule("the trip is latched", frozenset({"trips"}), lambda b, a, m: a.trip in b.trips),
            Rule(
                "the trip has a reset",
                frozenset(),
                lambda b, a, m: a.trip is not None and not a.trip.terminal,
            ),
        ),
        "This trip has no reset: the job can only be made safe and abandoned.",
        "Make safe and abandon; licensed people take over.",
        MACHINERY + ".4",
        7,
    ),
    _row(
        "reset-recovered",
        (Act.RESET,),
        _is("recovery", Recovery.CHECKED),
        "The recovery was not worked to its end and checked by another.",
        "Work every step of the recovery; have it checked.",
        MACHINERY + ".4",
        7,
    ),
    _row(
        "reset-fluid",
        (Act.RESET,),
        _either(
            Rule(
                "a trip that has nothing to do with fluid",
                frozenset(),
                lambda b, a, m: a.trip not in _FLUID_TRIPS,
            ),
            _both(
                _is("engine", Engine.STOPPED),
                _either(_WET_STRICT, _both(_is("inspection", Inspection.DRY), _TURNED)),
            ),
            _both(_is("engine", Engine.IDLING, Engine.RAISED), _WET_NONE),
        ),
        "Fluid may be in a cylinder: the reset would allow a start.",
        "Engine stopped: drain to the strict limit, or look into the engine side of the turbine "
        "and turn by hand, both seen by two.",
        LOCK,
        1,
    ),
)
"""Every interlock. The order is the order in which refusals are read out."""


def rows_for(act: Act, rows: tuple[Interlock, ...] = INTERLOCKS) -> Iterator[Interlock]:
    """The rows that name ``act``, in reading order."""
    return (row for row in rows if act in row.acts)
