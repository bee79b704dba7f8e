"""Evidence, codes, road test, hand-over, abandon (invariants 4, 6, 7, 9)."""

from ..bay import (
    Act,
    Check,
    Codes,
    Crew,
    Driver,
    Engine,
    Evidence,
    FluidIn,
    Gun,
    Road,
    RunOn,
    Tag,
    Trip,
)
from ..catalogue import _
from .language import QUALITY, Interlock, Rule, both, either, is_, row
from .sources import AMC, ISOLATE, MACHINERY, TRADE, WORKED
from .volumes import WET_NONE, WET_STRICT

ENDING: tuple[Interlock, ...] = (
    row(
        "zero-stopped",
        (Act.READ_ZERO,),
        is_("engine", Engine.STOPPED),
        _("A zero is read with the engine stopped."),
        _("Stop the engine, wait two minutes, ignition on, read."),
        TRADE,
        6,
    ),
    row(
        "before-only-dry",
        (Act.READ_BEFORE,),
        is_("fluid_in", FluidIn.NO),
        _("Fluid has gone in: a 'before' reading is no longer possible."),
        _("Go on without; the verdict will say less."),
        TRADE,
        6,
    ),
    row(
        "after-only-dried",
        (Act.READ_AFTER,),
        either(is_("run_on", RunOn.DONE), is_("fluid_in", FluidIn.NO)),
        _("The filter may still be wet: it reads high, and the number would be wrong."),
        _("Dry it for as long as the drying run says."),
        WORKED,
        6,
    ),
    row(
        "codes-saved-first",
        (Act.CLEAR_CODES,),
        is_("codes", Codes.SAVED, Codes.CLEARED, Codes.READ_AGAIN),
        _("The codes were not written down: clearing destroys the evidence."),
        _("Write down stored, pending and freeze frame first."),
        TRADE,
        QUALITY,
        waivable=True,
    ),
    row(
        "codes-after-readings",
        (Act.CLEAR_CODES,),
        is_("after", Evidence.GOOD, Evidence.PARTIAL),
        _("Codes are cleared after the 'after' readings."),
        _("Take the 'after' readings first."),
        TRADE,
        QUALITY,
        waivable=True,
    ),
    row(
        "road-ready",
        (Act.ROAD_TEST,),
        both(
            is_("road", Road.READY),
            is_("driver", Driver.LICENSED),
            is_("engine", Engine.STOPPED),
        ),
        _("Chocks, extraction, tools, leaks or the driver's licence are not settled."),
        _("Take chocks, extraction and tools out, look for leaks, name a licensed driver."),
        _("Road Traffic Act 1988, s87 and s143"),
        4,
    ),
    row(
        "road-dry",
        (Act.ROAD_TEST,),
        WET_NONE,
        _("Fluid may still be in the exhaust."),
        _("Finish the drying run first."),
        WORKED,
        4,
    ),
    row(
        "hand-over-still",
        (Act.HAND_OVER, Act.ABANDON),
        is_("engine", Engine.STOPPED),
        _("The engine is not known to stand still."),
        _("Stop it and say so."),
        MACHINERY,
        7,
    ),
    row(
        "hand-over-codes",
        (Act.HAND_OVER,),
        is_("codes", Codes.READ_AGAIN, Codes.SAVED),
        _("The codes were cleared and not read again."),
        _("Read stored and pending codes once more and write them down."),
        TRADE,
        7,
    ),
    row(
        "hand-over-signed",
        (Act.HAND_OVER,),
        either(
            is_("release_check", Check.OTHER),
            both(
                is_("release_check", Check.SAME),
                is_("crew", Crew.ALONE_ADULT, Crew.ALONE_JUNIOR),
            ),
        ),
        _("The release was not signed by another person."),
        _("Call the checker for the release visit."),
        AMC,
        7,
    ),
    row(
        "hand-over-dry",
        (Act.HAND_OVER,),
        WET_NONE,
        _("Fluid may still be in the exhaust."),
        _("Finish the drying run; or abandon with the DO NOT START notice."),
        WORKED,
        7,
    ),
    row(
        "abandon-gun-away",
        (Act.ABANDON,),
        either(
            is_("gun", Gun.AWAY),
            both(
                Rule(
                    _("a fire was told"),
                    frozenset({"trips"}),
                    lambda b, a, m: Trip.FIRE in b.trips,
                ),
                is_("tag", Tag.DO_NOT_START),
            ),
        ),
        _("The gun is not known to be off the hose and put away."),
        _(
            "Air off, adaptor off, gun away. After a fire nobody touches it: have the DO NOT START "
            "notice put up where the place is shut off."
        ),
        TRADE,
        7,
    ),
    row(
        "abandon-tagged",
        (Act.ABANDON,),
        either(
            is_("tag", Tag.DO_NOT_START),
            both(is_("tag", Tag.KEY_TAGGED), WET_STRICT),
        ),
        _("The key is not tagged, or fluid may be in and no DO NOT START notice is signed."),
        _("Key off and tagged; with fluid in, have the receiver sign the DO NOT START notice."),
        ISOLATE,
        9,
    ),
)
"""The rows about readings, codes, road test and the two ends, in reading order."""
