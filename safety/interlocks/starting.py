"""Before a start: fluid in, hands, fumes, who is there (invariants 1, 4, 5, 8, 10)."""

from ..bay import (
    Act,
    Bar,
    Check,
    Crew,
    Engine,
    FluidIn,
    Gun,
    Hands,
    Hose,
    Inspection,
    Lift,
    Oil,
    Soak,
    Starter,
)
from ..catalogue import _
from .attended import CONTROLLED, FUMES_GONE, SECURE
from .language import Interlock, both, either, is_, row
from .sources import AMC, HSE_FUMES, HSE_SECURE, ISOLATE, LOCK, MACHINERY, TRADE
from .volumes import CRANKS, RUNS, TURNED, WET_EXTENDED, WET_NONE, WET_STRICT

STARTING: tuple[Interlock, ...] = (
    row(
        "start-ledger",
        CRANKS,
        either(
            WET_STRICT,
            both(WET_EXTENDED, TURNED),
            both(is_("inspection", Inspection.OPENED), TURNED),
        ),
        _(
            "Too much fluid may be in the exhaust, or nobody knows how much: it can lock a "
            "cylinder."
        ),
        _(
            "Do not crank. Up to the extended limit: soak, turn by hand, have it checked. "
            "Above it, or unknown: cylinders are opened first, by qualified people."
        ),
        LOCK,
        1,
    ),
    row(
        "start-soak",
        CRANKS,
        either(WET_NONE, is_("soak", Soak.DUE)),
        _("Fluid went in and the soak is not over."),
        _("Wait until the soak is due."),
        TRADE,
        1,
    ),
    row(
        "start-check",
        CRANKS,
        either(
            WET_NONE,
            is_("start_check", Check.OTHER),
            both(
                is_("start_check", Check.SAME),
                is_("crew", Crew.ALONE_ADULT),
                WET_STRICT,
            ),
        ),
        _(
            "Fluid is in and nobody has looked again before this start; above the strict "
            "limit that takes a second person."
        ),
        _(
            "Call the checker to the vehicle: the start check comes first. Alone, within the "
            "strict limit: after the soak look at it all again yourself and sign."
        ),
        AMC,
        8,
    ),
    row(
        "start-port-shut",
        CRANKS,
        either(is_("hose", Hose.ON), is_("gun", Gun.COUPLED)),
        _("The port is open, or nobody knows: hot foam comes out at the first firing."),
        _("Close the port first: gun coupled and shut, or hose and sensor on."),
        TRADE,
        4,
    ),
    row(
        "start-hands-clear",
        (*RUNS, Act.TRY_START, Act.IGNITION_ON, Act.ROAD_TEST, Act.HAND_OVER),
        is_("hands", Hands.CLEAR),
        _("Somebody's hands may be at the crank, the hose or the fan."),
        _("Have everybody show their hands clear, then say so."),
        ISOLATE,
        5,
    ),
    row(
        "start-bar-off",
        (Act.START, Act.TRY_START, Act.IGNITION_ON, Act.ROAD_TEST, Act.HAND_OVER),
        is_("bar", Bar.OFF),
        _("Socket or bar may still be on the crank bolt: a start throws them."),
        _("Take socket and bar off the crank bolt, look, say so."),
        TRADE,
        5,
    ),
    row(
        "run-secured",
        (*RUNS, Act.TRY_START, Act.HAND_TURN),
        SECURE,
        _("The vehicle is not secured against rolling."),
        _("Set the parking brake, select neutral or park, chock two wheels."),
        HSE_SECURE,
        4,
    ),
    row(
        "lift-carries",
        (Act.START, Act.TRY_START, Act.HANDS_IN, Act.HAND_TURN),
        is_("lift", Lift.WHEELS, Lift.HELD),
        _("Nobody has said what the vehicle stands on, or a jack alone carries it."),
        _(
            "Wheels on the floor, or on stands or lift locks that carry it: push at it, then "
            "say so."
        ),
        HSE_SECURE,
        4,
    ),
    row(
        "lift-down",
        (Act.RAISE, Act.ROAD_TEST),
        is_("lift", Lift.WHEELS),
        _("Raised revs shake a raised vehicle off what carries it; a wheel may still be off."),
        _("Wheel on, vehicle down on its wheels: look, say so."),
        HSE_SECURE,
        4,
    ),
    row(
        "run-fumes",
        RUNS,
        FUMES_GONE,
        _("Exhaust fumes are not dealt with; an open door does not count."),
        _("Put the extraction hose on and switch it on, or move the vehicle outdoors."),
        HSE_FUMES,
        4,
    ),
    row(
        "run-controls",
        RUNS,
        CONTROLLED,
        _("Nobody is known to be at the controls, able to switch off."),
        _(
            "Have a person at the controls; at the gun that is a second person, unless you work "
            "alone with a self-closing trigger within reach of the key."
        ),
        HSE_SECURE,
        4,
    ),
    row(
        "run-oil",
        (Act.START, Act.RAISE, Act.ROAD_TEST),
        is_("oil", Oil.OK, Oil.LOW),
        _(
            "The oil is over its mark or thinned by fuel, or the dipstick was not read: "
            "it can feed a runaway."
        ),
        _("Drain it to the mark, or change it, and read the dipstick again."),
        TRADE,
        4,
    ),
    row(
        "start-only-when-stopped",
        (*CRANKS, Act.TRY_START),
        is_("engine", Engine.STOPPED),
        _("The engine is not known to stand still."),
        _("Look and say what the engine does."),
        MACHINERY,
        4,
    ),
    row(
        "crew-may-run",
        (
            *(Act.START, Act.RAISE, Act.SPRAY_RUNNING),  # a drying run that is due makes safe
            *(Act.FILL_GUN, Act.COUPLE_GUN),
            *(Act.TAKE_HOSE_OFF, Act.ROAD_TEST),
        ),
        is_("crew", Crew.PAIR, Crew.ALONE_ADULT),
        _("An apprentice or under-18 alone may read with the engine stopped and advise, no more."),
        _("Get a qualified adult to stay, or go on with what is read with the engine stopped."),
        _("Management of Health and Safety at Work Regulations 1999, reg. 19"),
        10,
    ),
    row(
        "try-before-fluid",
        (Act.TRY_START,),
        both(is_("fluid_in", FluidIn.NO), WET_NONE),
        _("Fluid may be in: a press that finds a spare key would crank."),
        _("Never try it now. Look: start still disabled, key still in the box."),
        LOCK,
        1,
    ),
    row(
        "try-disabled",
        (Act.TRY_START,),
        is_("starter", Starter.DISABLED),
        _("The start is not known to be disabled: the try would crank."),
        _("Disable it first: relay or fuse out, or earth lead off, by the maker's data."),
        ISOLATE,
        5,
    ),
    row(
        "ignition-not-in-soak",
        (Act.IGNITION_ON,),
        either(is_("fluid_in", FluidIn.NO), WET_NONE, is_("soak", Soak.DUE)),
        _("Ignition on during the soak: heaters and a self-start wake up with fluid in."),
        _("Wait until the soak is due."),
        TRADE,
        5,
    ),
)
"""The rows about cranking and running, in reading order."""
