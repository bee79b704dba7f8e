"""One table: event x fact -> the fact is set, kept, or becomes unknown.

Its parts: what happened (``EFFECTS``), what was permitted (``GRANTS``), what somebody saw
(``SEEN``), a permit that was never answered (``LAPSED``), a trip and its reset (``LATCHED``).

A row lists the facts that it *sets* and those that it *keeps*. **A fact in neither is unknown
afterwards**: forgetting a cell makes the tool ask again, never assume. A cell may also be a
small map from old to new state (``else kept``), used where a timer that runs is cut short but
one that is done stays done.

``wet`` (the fluid ledger) is not a state; each row names what it does to it:

========= ==================================================================================
keep      nothing
reserve   the whole permitted burst is added before the screen says go
settle    the reservation is replaced by the reported volume (unknown stays unknown)
drain     a volume measured in a jug is taken off; never below what an open spray may put in; a
          jug that holds more than was counted shows that the count was wrong: unknown
dry       a worked drying run is done (only where one was running): at raised revs, for which the
          line was blown, nothing is left; at idle all of it may still stand in the line
line      what stood in the line, and nowhere else, has run out of it: nothing is left
cut       an open reservation without an end report: unknown, unless only a measured volume
          was loaded, which then stays counted whole
arrive    nothing is in, unless some has gone in during this job
unknown   nobody knows
========= ==================================================================================
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from .acts import READINGS
from .bay import (
    FACTS,
    SPRAYS,
    Act,
    Arrival,
    Bar,
    Codes,
    Engine,
    Evidence,
    FluidIn,
    Fumes,
    Gun,
    Hands,
    HandTurn,
    Hose,
    Inspection,
    Key,
    Lift,
    Line,
    Rate,
    Recovery,
    Road,
    RunOn,
    Secured,
    Sensor,
    Soak,
    Starter,
    StartTried,
    State,
    Zero,
)
from .occurrences import OUTCOMES, Happening

H = Happening

FactEffect = State | dict[State, State]

ORDER = (
    "identity crew arrival agreed triage tier sensor reach sheet codes fluid_in "
    "start_tried oil fuel coating foul low_loop flash"
)
EVIDENCE = "zero before after"
PEOPLE = "secured lift fumes controls kit spill road driver tag"
PLACE = f"{PEOPLE} hands"
FITTINGS = "hose gun line trigger"
MOTION = "engine idle stop_start key starter bar burning port touch"
FLUID = "rate soak run_on hand_turn inspection recovery"
CHECKS = "fluid_check start_check release_check"
ALL = f"{ORDER} {EVIDENCE} {PLACE} {FITTINGS} {MOTION} {FLUID} {CHECKS}"

_CUT_SHORT: dict[State, State] = {RunOn.RUNNING: RunOn.UNKNOWN}
_RUNS_IN: dict[State, State] = {RunOn.LINE: RunOn.UNKNOWN}
"""What stood in the line has gone into the exhaust, or nobody knows."""
_USED_UP: dict[State, State] = {Rate.LOADED: Rate.UNKNOWN}
_GUN_SHUT: dict[str, FactEffect] = {"gun": {Gun.OPEN: Gun.COUPLED}, "rate": _USED_UP}
_SHUT: dict[State, State] = {Gun.OPEN: Gun.COUPLED, Gun.AWAY: Gun.UNKNOWN}


@dataclass(frozen=True)
class EffectRow:
    """The effects of one event; ``wet`` as in the table above."""

    keeps: frozenset[str]
    sets: Mapping[str, FactEffect] = field(default_factory=dict)
    wet: str = "keep"

    @cached_property
    def ends(self) -> frozenset[str]:
        """The facts that are unknown afterwards."""
        return frozenset(FACTS) - self.keeps - frozenset(self.sets)


def _row(keeps: str, but: str = "", wet: str = "keep", **sets: FactEffect) -> EffectRow:
    kept = frozenset(keeps.split()) - frozenset(but.split()) - frozenset(sets)
    strangers = (kept | frozenset(but.split()) | frozenset(sets)) - frozenset(FACTS)
    if strangers:
        raise ValueError(f"effects table names unknown facts: {sorted(strangers)}")
    return EffectRow(kept, sets, wet)


_AFTER_CRANK = (
    "idle stop_start port touch burning hand_turn start_check inspection recovery soak tag "
    "release_check"
)
_BODY = "release_check tag"
_HANDLING = f"{_BODY} road"

EFFECTS: dict[Happening, EffectRow] = {
    H.IGNITION_ON: _row(ALL, but=f"starter {_BODY}", key=Key.ON),
    H.TRIED_NOTHING: _row(ALL, key=Key.OFF, start_tried=StartTried.NOTHING),
    H.TRIED_TURNED: _row(
        ALL,
        but=f"{_AFTER_CRANK} start_tried",
        run_on=_CUT_SHORT,
        engine=Engine.STOPPED,
        key=Key.OFF,
        starter=Starter.ENABLED,
    ),
    H.STARTED: _row(
        ALL,
        but=_AFTER_CRANK,
        run_on=_CUT_SHORT,
        engine=Engine.IDLING,
        key=Key.ON,
        starter=Starter.ENABLED,
    ),
    H.CRANKED_NO_FIRE: _row(
        ALL,
        but="idle stop_start port touch burning start_check inspection recovery tag release_check",
        engine=Engine.STOPPED,
        key=Key.OFF,
        starter=Starter.ENABLED,
        run_on=_CUT_SHORT,
        hand_turn={
            HandTurn.VALID: HandTurn.RETRY,
            HandTurn.RETRY: HandTurn.UNKNOWN,
            HandTurn.TURNED: HandTurn.UNKNOWN,
        },
    ),
    H.CRANKED_UNEVEN: _row(
        ALL,
        but=_AFTER_CRANK,
        run_on=_CUT_SHORT,
        engine=Engine.STOPPED,
        key=Key.OFF,
        starter=Starter.ENABLED,
    ),
    H.STOPPED: _row(
        ALL,
        but="idle stop_start port touch burning hand_turn start_check inspection soak recovery",
        engine=Engine.STOPPED,
        key=Key.OFF,
        run_on=_CUT_SHORT,
    ),
    H.STALLED: _row(
        ALL,
        but="idle stop_start port touch burning hand_turn start_check inspection soak recovery",
        engine=Engine.STOPPED,
        key=Key.ON,
        run_on=_CUT_SHORT,
        gun={Gun.OPEN: Gun.COUPLED},
        rate=_USED_UP,
        wet="settle",
    ),
    H.SELF_STARTED: _row(
        ALL,
        but=f"{_AFTER_CRANK} start_tried",
        run_on=_CUT_SHORT,
        engine=Engine.IDLING,
        key=Key.ON,
        starter=Starter.ENABLED,
    ),
    H.RAISED: _row(ALL, but="idle port touch tag release_check", engine=Engine.RAISED),
    H.LOWERED: _row(
        ALL, but="idle port touch tag release_check", engine=Engine.IDLING, run_on=_CUT_SHORT
    ),
    H.OVER_CEILING: _row(
        ALL,
        but="idle port touch tag release_check recovery",
        engine=Engine.IDLING,
        run_on=_CUT_SHORT,
    ),
    H.HANDS_IN: _row(ALL, but=_HANDLING, hands=Hands.IN),
    H.HANDS_AT_HOSE: _row(ALL, but=_HANDLING, hands=Hands.AT_HOSE),
    H.HOSE_OFF: _row(ALL, but="zero line tag release_check road", hose=Hose.OFF),
    H.HOSE_ON: _row(ALL, but="zero tag release_check road", hose=Hose.ON),
    H.GUN_COUPLED: _row(ALL, but=_HANDLING, gun=Gun.COUPLED, run_on=_RUNS_IN),
    H.GUN_UNCOUPLED: _row(ALL, but="line tag release_check road", gun=Gun.AWAY),
    H.LINE_CLEARED: _row(ALL, but=_HANDLING, line=Line.CLEAR, run_on=_RUNS_IN),
    H.LINE_STILL_WET: _row(ALL, but=_HANDLING, line=Line.FLUID, run_on=_RUNS_IN),
    H.GUN_FILLED: _row(ALL, but="rate tag release_check road"),
    H.RATE_MEASURED: _row(ALL, but=_HANDLING, rate=Rate.MEASURED),
    H.GUN_LOADED: _row(ALL, but=_HANDLING, rate=Rate.LOADED),
    H.SPRAY_ENDED: _row(
        ALL,
        but="soak run_on hand_turn inspection start_check recovery line after release_check tag",
        wet="settle",
        gun=_SHUT,
        fluid_in=FluidIn.YES,
        rate=_USED_UP,
    ),
    H.SPRAY_SAGGED: _row(
        ALL,
        but="idle soak run_on hand_turn inspection start_check recovery line after "
        "release_check tag",
        wet="settle",
        gun=_SHUT,
        fluid_in=FluidIn.YES,
        rate=_USED_UP,
    ),
    H.SPRAY_NONE: _row(
        ALL,
        but="soak run_on hand_turn inspection start_check recovery release_check tag",
        wet="settle",
        gun=_SHUT,
    ),
    H.OVERDOSED: _row(
        ALL,
        but="soak run_on hand_turn inspection start_check recovery line after rate oil "
        "release_check tag",
        wet="unknown",
        gun={Gun.OPEN: Gun.COUPLED},
        fluid_in=FluidIn.YES,
        start_tried={StartTried.UNKNOWN: StartTried.LATE},
    ),
    H.SOAK_BEGUN: _row(ALL, soak=Soak.RUNNING),
    H.SOAK_DUE: _row(ALL, soak={Soak.RUNNING: Soak.DUE}),
    H.RUN_ON_BEGUN: _row(ALL, run_on=RunOn.RUNNING),
    H.RUN_ON_DUE: _row(ALL, wet="dry", run_on={RunOn.RUNNING: RunOn.DONE}),
    H.DRAINED: _row(ALL, but="hand_turn start_check inspection", wet="drain"),
    H.TURNED_EVEN: _row(ALL, hand_turn=HandTurn.TURNED, bar=Bar.ON),
    H.TURNED_HARD: _row(ALL, but="hand_turn start_check recovery", bar=Bar.ON),
    H.TURN_SEEN: _row(ALL, hand_turn={HandTurn.TURNED: HandTurn.VALID}),
    H.LOOKED_DRY: _row(ALL, inspection=Inspection.DRY),
    H.CYLINDERS_OPENED: _row(ALL, inspection=Inspection.OPENED),
    H.LOOKED_WET: _row(ALL, but="hand_turn recovery", inspection=Inspection.WET),
    H.ZERO_GOOD: _row(ALL, zero=Zero.GOOD),
    H.ZERO_OUT: _row(ALL, zero=Zero.OUT),
    H.BEFORE_GOOD: _row(ALL, before=Evidence.GOOD),
    H.BEFORE_PARTIAL: _row(ALL, before=Evidence.PARTIAL),
    H.AFTER_GOOD: _row(ALL, after=Evidence.GOOD),
    H.AFTER_PARTIAL: _row(ALL, after=Evidence.PARTIAL),
    H.CODES_CLEARED: _row(ALL, codes=Codes.CLEARED),
    H.ROAD_ENDED: _row(
        f"{ORDER} {EVIDENCE} kit spill driver hose gun line rate run_on fluid_check bar",
        engine=Engine.STOPPED,
        key=Key.OFF,
        starter=Starter.ENABLED,
        hands=Hands.CLEAR,
        lift=Lift.WHEELS,
    ),
    H.HANDED_OVER: _row(ALL),
    H.ABANDONED: _row(ALL),
    H.RECOVERED: _row(ALL, recovery=Recovery.CHECKED),
    H.RECOVERED_ALONE: _row(ALL, recovery=Recovery.OWN),
    H.INTERRUPTED: _row(
        f"{ORDER} before after",
        but="reach crew sheet flash",
        wet="cut",
        sensor=Sensor.UNKNOWN,
        run_on={RunOn.RUNNING: RunOn.UNKNOWN, RunOn.DONE: RunOn.UNKNOWN},
    ),
    H.FUME_ALARM: _row(ALL, but="fumes recovery", wet="cut", **_GUN_SHUT),
    H.FIRE_SEEN: _row(ALL, but="port touch burning recovery", wet="cut", **_GUN_SHUT),
    H.PERSON_HURT: _row(ALL, but="kit hands controls recovery", wet="cut", **_GUN_SHUT),
    H.RAN_AWAY: _row(
        ALL,
        but="engine idle stop_start key port touch burning run_on controls hand_turn start_check "
        "inspection soak recovery tag release_check",
        wet="cut",
        **_GUN_SHUT,
    ),
    H.SPILLED: _row(ALL, but="spill kit release_check recovery", wet="cut", **_GUN_SHUT),
    H.STUB_SNAPPED: _row(ALL, but="hose line zero sensor road release_check recovery"),
}
"""The whole table. ``tests/safety`` holds the reviewed copy of its cells."""

GRANTS: dict[Act, EffectRow] = {
    act: _row(
        ALL,
        but="soak run_on hand_turn inspection start_check recovery line after release_check tag",
        wet="reserve",
        gun=Gun.OPEN,
        fluid_in=FluidIn.YES,
    )
    for act in SPRAYS
} | {
    Act.ROAD_TEST: _row(
        ALL,
        but="secured fumes idle stop_start port touch burning tag",
        engine=Engine.ROAD,
        key=Key.ON,
        run_on=_CUT_SHORT,
    ),
}
"""What a permit alone changes, before any report: it counts as done until told otherwise."""

OTHERWISE = "otherwise"
SEEN: dict[tuple[str, str], EffectRow] = {
    ("arrival", Arrival.DRY.value): _row(ALL, wet="arrive"),
    ("road", Road.READY.value): _row(ALL, secured=Secured.PART, fumes=Fumes.NOTHING),
    ("line", Line.CLEAR.value): _row(ALL, wet="line", run_on={RunOn.LINE: RunOn.DONE}),
    ("line", Line.DRAINED.value): _row(ALL, wet="line", run_on={RunOn.LINE: RunOn.DONE}),
    ("line", Line.FLUID.value): _row(ALL, run_on=_RUNS_IN),
    ("key", Key.BOXED.value): _row(ALL, starter=Starter.DISABLED),
    ("secured", Secured.YES.value): _row(ALL, but="road"),
    ("fumes", Fumes.EXTRACTION.value): _row(ALL, but="road"),
    ("engine", OTHERWISE): _row(
        ALL, but="idle stop_start hand_turn start_check inspection port touch run_on"
    ),
    ("hose", OTHERWISE): _row(ALL, but="zero line"),
    ("gun", OTHERWISE): _row(ALL, but="zero line"),
    ("crew", OTHERWISE): _row(ALL, but="controls"),
    ("bar", Bar.ON.value): _row(ALL, but="lift"),
    ("bar", Bar.OFF.value): _row(ALL, but="lift"),
}
"""What a look changes beside the fact that was looked at: by the state that was seen, or where it
is another than was believed (``OTHERWISE``). A look that is not named changes nothing else."""


def _unanswered(act: Act) -> EffectRow:
    """The act may have been done or not: what any of its outcomes moves becomes unknown."""
    kept = frozenset(FACTS).intersection(*(EFFECTS[what].keeps for what in OUTCOMES[act]))
    if act in READINGS:  # half a reading is none
        kept |= frozenset(EVIDENCE.split())
    return EffectRow(kept | {"fluid_in"}, wet="cut" if act in SPRAYS else "keep")


LAPSED: dict[Act, EffectRow] = {act: _unanswered(act) for act in Act}
"""What becomes of the facts when a permit lapses without an answer. A fact that grew too old
becomes unknown by itself and moves no other."""

LATCHED: EffectRow = _row(ALL, but="recovery")
"""What a trip, or its reset, changes beside the latch."""

MEASURED: dict[Happening, EffectRow] = {
    H.STALLED: _row(
        ALL,
        but="engine idle stop_start port touch burning hand_turn start_check inspection soak "
        "recovery",
        run_on=_CUT_SHORT,
    ),
    H.SELF_STARTED: _row(
        ALL, but=f"{_AFTER_CRANK} start_tried engine key starter", run_on=_CUT_SHORT
    ),
    H.OVER_CEILING: _row(ALL, but="idle port touch tag release_check recovery", run_on=_CUT_SHORT),
}
"""What becomes unknown when the vehicle reports a happening and nobody has yet. A report of the
vehicle sets no fact, answers no permit and settles no ledger: a person says what is true now."""

LASTS_S: dict[str, int] = {
    "port": 600,
    "touch": 600,
    "hand_turn": 900,
    "controls": 3600,
    "fumes": 3600,
    "idle": 900,
    "burning": 1800,
    "kit": 3600,
    "start_check": 900,
    "hands": 3600,
}
"""How long, in seconds, a fact may be believed after it was last set.

Workshop defaults (common practice, no source); facts not named here last until an act,
an interruption or a contradicting report ends them.
"""

RETRY_LASTS_S = 300
"""How long one more try stands after an even crank that did not fire, in seconds (workshop
default; common practice, no source): a third of a turn's life, since the crank has moved what hung
above a valve, and long enough for a glow plug and a tired battery."""
