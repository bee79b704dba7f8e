"""Stops, revs, hands at engine and hose, hand-turn, drying (invariants 1, 2, 4, 5, 6)."""

from ..bay import (
    Act,
    Burning,
    Controls,
    Crew,
    Engine,
    FluidIn,
    Gun,
    Hands,
    Hose,
    Idle,
    Key,
    Kit,
    Line,
    Reach,
    Sensor,
    Soak,
    Starter,
    StartTried,
    Touch,
)
from ..catalogue import _
from .language import Interlock, Rule, both, either, is_, row
from .sources import ISOLATE, MACHINERY, TRADE, WORKED
from .volumes import WET_STRICT

HANDLING: tuple[Interlock, ...] = (
    row(
        "stop-with-fluid",
        (Act.STOP_ENGINE,),
        either(WET_STRICT, is_("engine", Engine.STOPPED)),
        _("Stopping now leaves more fluid in than the engine may be started with."),
        _(
            "Keep it running: dry it for as long as the drying run says, then stop. In danger, "
            "stop at once with 's'."
        ),
        WORKED,
        1,
    ),
    row(
        "revs-hose-on",
        (Act.RAISE, Act.ROAD_TEST, Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER, Act.HAND_OVER),
        is_("hose", Hose.ON),
        _("Hose and sensor are not known to be on."),
        _("Refit hose and sensor, tug both, say so."),
        TRADE,
        4,
    ),
    row(
        "revs-gun-away",
        (
            Act.RAISE,
            Act.ROAD_TEST,
            Act.CLEAR_LINE,
            Act.PUT_HOSE_ON,
            Act.HAND_OVER,
            Act.TAKE_HOSE_OFF,
        ),
        is_("gun", Gun.AWAY),
        _("The gun is not known to be off the hose and put away."),
        _("Air off, adaptor off, gun away."),
        TRADE,
        4,
    ),
    row(
        "revs-line-clear",
        (Act.RAISE, Act.ROAD_TEST, Act.PUT_HOSE_ON, Act.READ_AFTER),
        either(is_("line", Line.CLEAR), is_("fluid_in", FluidIn.NO)),
        _("There may be fluid in the hose: it wets the sensor and fakes the reading."),
        _("Blow the line clear, away from faces, before hose and sensor go back."),
        _("Hydrostatics: 1 cm of water is 0.98 mbar"),
        4,
    ),
    row(
        "revs-ceiling",
        (Act.RAISE,),
        Rule(_("band under the ceiling"), frozenset(), lambda b, a, m: a.band_under_ceiling),
        _("The band asked for does not lie wholly under the rev ceiling."),
        _("Ask for a band whose upper end is under the ceiling."),
        WORKED,
        4,
    ),
    row(
        "revs-from-idle",
        (Act.RAISE,),
        either(
            both(is_("engine", Engine.IDLING), is_("idle", Idle.STEADY)),
            is_("engine", Engine.RAISED),
        ),
        _("The engine is not known to idle evenly."),
        _("Let it idle and look at the speed; find out why it sags before any revs."),
        MACHINERY,
        4,
    ),
    row(
        "revs-not-burning",
        (Act.RAISE,),
        is_("burning", Burning.NO),
        _("The filter may be burning soot now: revs feed it."),
        _("Wait until it has ended and cooled; read the flag again."),
        TRADE,
        4,
    ),
    row(
        "hands-in-still",
        (Act.HANDS_IN, Act.TAKE_HOSE_OFF, Act.COUPLE_GUN, Act.HAND_TURN),
        both(
            is_("engine", Engine.STOPPED),
            is_("key", Key.BOXED),
            is_("starter", Starter.DISABLED),
        ),
        _("The engine could start with hands in."),
        _("Stop the engine, disable the start, put the key in the box."),
        ISOLATE,
        5,
    ),
    row(
        "fluid-start-tried",
        (Act.COUPLE_GUN, Act.SPRAY_OFF),
        is_("start_tried", StartTried.NOTHING, StartTried.LATE),
        _("That the start is disabled was not tried before fluid; with fluid in it never is."),
        _("Go back to where it is disabled and tried; with fluid in, go back and agree no clean."),
        ISOLATE,
        5,
    ),
    row(
        "hands-told",
        (Act.TAKE_HOSE_OFF, Act.COUPLE_GUN, Act.HAND_TURN),
        is_("hands", Hands.IN),
        _("The person at the engine has not said that hands go in."),
        _("Say 'hands in' first, so that nobody touches the key."),
        ISOLATE,
        5,
    ),
    row(
        "hose-cool",
        (Act.TAKE_HOSE_OFF,),
        either(
            is_("touch", Touch.BARE),
            both(is_("touch", Touch.GLOVED), is_("kit", Kit.HEAT)),
        ),
        _("The exhaust beside the hose is not measured cool enough for hands."),
        _(
            "Measure at the bare inlet pipe. Over the touch limit: dry heat-proof gloves on, "
            "or wait. Over theirs: wait."
        ),
        WORKED,
        5,
    ),
    row(
        "hose-which",
        (Act.TAKE_HOSE_OFF,),
        is_("sensor", Sensor.PROVEN),
        _("It is not proven which sensor is the filter's."),
        _("Trace the hose to the filter, blow it, see which reading moves."),
        TRADE,
        6,
    ),
    row(
        "refit-idle",
        (Act.HANDS_AT_HOSE,),
        both(
            is_("engine", Engine.IDLING),
            is_("controls", Controls.OTHER),
            is_("reach", Reach.CLEAR),
            is_("gun", Gun.COUPLED, Gun.AWAY),
        ),
        _(
            "Hands at the hose at idle: only with another person at the controls, the gun shut, "
            "and the hose in reach clear of belts and fan."
        ),
        _("Put a person at the controls; or dry it at idle with the gun on, stop, then refit."),
        TRADE,
        5,
    ),
    row(
        "refit-hands",
        (Act.UNCOUPLE_GUN, Act.CLEAR_LINE, Act.PUT_HOSE_ON),
        either(
            both(
                is_("engine", Engine.STOPPED),
                is_("hands", Hands.IN),
                is_("key", Key.BOXED),
                is_("starter", Starter.DISABLED),
            ),
            both(is_("engine", Engine.IDLING), is_("hands", Hands.AT_HOSE)),
        ),
        _("Hands at the hose are not announced for what the engine does."),
        _(
            "Engine stopped: start disabled, key in the box, say 'hands in'. At idle: say "
            "'hands at the hose'."
        ),
        ISOLATE,
        5,
    ),
    row(
        "couple-hose-off",
        (Act.COUPLE_GUN,),
        is_("hose", Hose.OFF),
        _("The hose is not known to be off its sensor: the gun would spray into the sensor."),
        _("Take the hose off the sensor first."),
        TRADE,
        2,
    ),
    row(
        "turn-soaked",
        (Act.HAND_TURN,),
        is_("soak", Soak.DUE),
        _("The soak is not over: fluid may still be on its way."),
        _("Wait until the soak is due, then turn."),
        TRADE,
        1,
    ),
    row(
        "turn-pair",
        (Act.HAND_TURN,),
        is_("crew", Crew.PAIR),
        _("Turning by hand needs two: one at the bar, one who watches and can fetch help."),
        _("Get a second person to stay. Alone: do not turn it and do not crank it."),
        TRADE,
        10,
    ),
    row(
        "run-on-running",
        (Act.RUN_ON,),
        both(is_("engine", Engine.IDLING, Engine.RAISED), is_("gun", Gun.AWAY, Gun.COUPLED)),
        _("Drying counts only with the engine running and the gun shut or away."),
        _("Gun shut; engine at idle or at raised revs; begin again."),
        WORKED,
        1,
    ),
)
"""The rows about stopping, revs, hands and refitting, in reading order."""
