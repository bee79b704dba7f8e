"""Before any fluid: volume, heat, protection, agreement, checks (invariants 2, 6, 7, 8, 10)."""

from ..bay import (
    Act,
    Agreed,
    Burning,
    Check,
    Coating,
    Crew,
    Engine,
    Evidence,
    Flash,
    Foul,
    Fuel,
    Gun,
    Hose,
    Identity,
    Idle,
    Key,
    Kit,
    LowLoop,
    Port,
    Rate,
    Sheet,
    Spill,
    Starter,
    StopStart,
    Tier,
    Triage,
    Trigger,
)
from ..catalogue import _
from ..limits.choices import LONGEST_OFF_BURST
from .language import Interlock, Rule, both, either, is_, row
from .sources import AMC, CLP, COSHH, ISOLATE, RECORD, TRADE, WORKED
from .volumes import SPRAYING, dose_fits

SPRAYING_ROWS: tuple[Interlock, ...] = (
    row(
        "spray-off-ledger",
        (Act.SPRAY_OFF,),
        either(
            both(is_("tier", Tier.STRICT), dose_fits("strict")),
            both(is_("tier", Tier.EXTENDED), dose_fits("extended")),
        ),
        _(
            "This burst would pass the engine-off limit of the choice made, or the ledger is "
            "unknown."
        ),
        _("Spray less, or none: go on to the running dose."),
        WORKED,
        2,
    ),
    row(
        "spray-off-burst",
        (Act.SPRAY_OFF,),
        Rule(
            _("burst of {value:.0f} s at most", value=LONGEST_OFF_BURST.value),
            frozenset(),
            lambda b, a, m: 0 <= a.burst_s <= LONGEST_OFF_BURST.value,
        ),
        _(
            "This burst is longer than any with the engine off may be: the gun's rate cannot "
            "be right."
        ),
        _("Ask for a shorter burst, measure the gun again, or load a measured volume."),
        _("design choice, {value:.0f} s: no published figure", value=LONGEST_OFF_BURST.value),
        2,
    ),
    row(
        "spray-running-ledger",
        (Act.SPRAY_RUNNING,),
        dose_fits("running"),
        _("This spray would pass the running dose, or the ledger is unknown."),
        _("Spray less; when the running dose is used up, shut the gun for good."),
        WORKED,
        2,
    ),
    row(
        "spray-rate",
        SPRAYING,
        is_("rate", Rate.MEASURED, Rate.LOADED),
        _("The gun's rate was not measured since it was filled or adjusted."),
        _("Measure three shots into the jug, or load a measured volume into the empty gun."),
        WORKED,
        2,
    ),
    row(
        "spray-off-cool",
        (Act.SPRAY_OFF,),
        is_("port", Port.COOL),
        _(
            "The filter inlet is not measured cool: fluid flashes to steam in your face, "
            "and the core cracks."
        ),
        _("Measure at the bare inlet pipe; wait until it is under the engine-off limit."),
        WORKED,
        2,
    ),
    row(
        "spray-running-band",
        (Act.SPRAY_RUNNING,),
        is_("port", Port.COOL, Port.WARM),
        _("The filter inlet is not measured inside the running band."),
        _("Measure it again; let it idle or stand until it is inside the band."),
        WORKED,
        2,
    ),
    row(
        "spray-sheet",
        (*SPRAYING, Act.FILL_GUN),
        is_("sheet", Sheet.READ),
        _("The fluid's safety data sheet is not here and read."),
        _("Get the sheet for exactly this product; read sections 2, 4 and 8."),
        COSHH,
        2,
    ),
    row(
        "fluid-kit",
        (
            *SPRAYING,
            Act.FILL_GUN,
            Act.TAKE_HOSE_OFF,
            Act.COUPLE_GUN,
            Act.CLEAR_LINE,
            Act.HANDS_AT_HOSE,
        ),
        is_("kit", Kit.WORN, Kit.HEAT),
        _("Protection is not on."),
        _("Put on gloves, closed eye protection and sleeves, as the data sheet asks."),
        COSHH,
        2,
    ),
    row(
        "spray-spill",
        SPRAYING,
        is_("spill", Spill.READY),
        _("Drains, extinguisher, battery or bystanders are not dealt with."),
        _("Cover the drains, fetch the extinguisher, support the battery, send others away."),
        TRADE,
        2,
    ),
    row(
        "spray-not-burning",
        (Act.SPRAY_RUNNING,),
        is_("burning", Burning.NO),
        _("The filter may be burning soot now."),
        _("Wait until it has ended and cooled; read the flag again."),
        TRADE,
        2,
    ),
    row(
        "spray-off-still",
        (Act.SPRAY_OFF,),
        both(
            is_("engine", Engine.STOPPED),
            is_("key", Key.BOXED),
            is_("starter", Starter.DISABLED),
        ),
        _("The engine must stand still and must not be able to start."),
        _("Stop the engine, disable the start, put the key in the box."),
        ISOLATE,
        2,
    ),
    row(
        "spray-running-idle",
        (Act.SPRAY_RUNNING,),
        both(is_("engine", Engine.IDLING), is_("idle", Idle.STEADY)),
        _("The engine is not known to idle evenly."),
        _("Let it idle, look at the speed, say what you see."),
        TRADE,
        2,
    ),
    row(
        "spray-coupled",
        SPRAYING,
        both(is_("gun", Gun.COUPLED), is_("hose", Hose.OFF)),
        _("The adaptor is not known to be seated on the hose."),
        _("Seat the adaptor, tug it, lock the trigger, then air on."),
        TRADE,
        2,
    ),
    row(
        "spray-agreed",
        SPRAYING,
        is_("agreed", Agreed.CLEAN),
        _("The customer has not said yes to the clean."),
        _(
            "Say what was measured, what else could be done, what this cannot do, the price; "
            "write down the yes with time."
        ),
        _("Consumer Rights Act 2015, s49 and s50"),
        7,
    ),
    row(
        "spray-triage",
        SPRAYING,
        is_("triage", Triage.GO, Triage.WARN),
        _("The findings do not allow a clean, or were not judged."),
        _("Work the triage; 'do not clean' and 'nothing to clean' end in advice."),
        TRADE,
        7,
    ),
    row(
        "fluid-diesel",
        (Act.COUPLE_GUN, *SPRAYING),
        is_("fuel", Fuel.DIESEL),
        _("The engine burns another fuel than diesel, or nobody has said which."),
        _("Look at the filler flap and the papers. On another fuel no fluid goes in."),
        TRADE,
        7,
    ),
    row(
        "fluid-coating",
        (Act.COUPLE_GUN, *SPRAYING),
        is_("coating", Coating.NONE, Coating.APPROVED, Coating.NOBODY_KNOWS),
        _(
            "The filter is coated for urea and this fluid is not approved for it, or nobody has "
            "looked it up."
        ),
        _("Look it up, and ask both makers; without their approval no fluid goes in."),
        TRADE,
        7,
    ),
    row(
        "fluid-foul",
        (Act.COUPLE_GUN, *SPRAYING),
        is_("foul", Foul.NO),
        _("Oil or coolant may be in the filter, or nobody has looked."),
        _("Look for loss, smell and crust. Mend the leak and look into the filter first."),
        TRADE,
        7,
    ),
    row(
        "fluid-low-loop",
        (Act.COUPLE_GUN, *SPRAYING),
        is_("low_loop", LowLoop.NONE, LowLoop.HELD_SHUT),
        _(
            "What leaves the filter may be led to charge cooler and intake, and lock the "
            "engine from there; or nobody has looked it up."
        ),
        _(
            "Look up where recirculated gas is taken off. Behind the filter: hold its valve "
            "shut so that it stays shut, and see on the vehicle that it does; else no fluid "
            "goes in."
        ),
        TRADE,
        2,
    ),
    row(
        "spray-flash",
        SPRAYING,
        is_("flash", Flash.NONE),
        _("The fluid's vapour may catch fire on a hot exhaust, or its flash point is not known."),
        _("Read sections 2 and 9 of its data sheet. Flammable, or not said: not this fluid."),
        CLP,
        2,
    ),
    row(
        "spray-trigger",
        (Act.COUPLE_GUN, *SPRAYING),
        is_("trigger", Trigger.SPRINGS),
        _("It is not known that the gun shuts by itself when it is let go."),
        _(
            "Into the jug: press, let go, look that it shuts and drips no more. A gun that stays "
            "open is not used."
        ),
        TRADE,
        2,
    ),
    row(
        "spray-stop-start",
        (Act.SPRAY_RUNNING,),
        is_("stop_start", StopStart.OFF),
        _("Automatic stop-start may stop the engine in the spray, and crank it by itself."),
        _(
            "Switch it off after this start, or hold the engine on by the maker's way; look at its "
            "lamp."
        ),
        TRADE,
        2,
    ),
    row(
        "spray-identity",
        SPRAYING,
        is_("identity", Identity.MATCH),
        _("The vehicle was not matched to the order from two places."),
        _("Compare plate and the end of the chassis number with the order."),
        RECORD,
        7,
    ),
    row(
        "spray-before-first",
        SPRAYING,
        is_("before", Evidence.GOOD, Evidence.PARTIAL),
        _("There is no 'before' to compare with; after fluid it is too late."),
        _("Take the 'before' readings first."),
        TRADE,
        6,
    ),
    row(
        "spray-off-pair",
        (Act.SPRAY_OFF,),
        either(
            is_("crew", Crew.PAIR),
            both(
                is_("crew", Crew.ALONE_ADULT),
                is_("tier", Tier.STRICT),
                is_("rate", Rate.LOADED),
            ),
        ),
        _(
            "With the engine off, one person alone sprays a loaded volume within the strict limit, "
            "no more."
        ),
        _(
            "Load a measured volume within the strict limit, choose no engine-off dose, or get a "
            "second person to stay."
        ),
        WORKED,
        10,
    ),
    row(
        "spray-check",
        SPRAYING,
        either(
            is_("fluid_check", Check.OTHER),
            both(is_("fluid_check", Check.SAME), is_("crew", Crew.ALONE_ADULT)),
        ),
        _("Nobody has checked before fluid; only a qualified adult who is alone checks their own."),
        _(
            "Call the checker: the visit before fluid comes first. Alone: look at it all again "
            "yourself and sign."
        ),
        AMC,
        8,
    ),
)
"""The rows about spraying, in reading order."""
