"""Which cautions an act carries by itself, whatever a procedure says of it.

The screen, the paper and the sheet take them from here. A procedure may add cautions; none of these
can be left out, since no file has to write them. What is done has the name that a procedure gives
it: ``act start``, ``spray off``, ``look lift``, ``report drained``, ``wait soak``. A look, a report
or a wait that is not named carries none; an act that carries none says why.
"""

from collections.abc import Iterable

from .caution import WORDS
from .cautions import CAUTIONS

CARRIED: dict[str, tuple[str, ...]] = {
    # Only what a battery can move turns: an electric fan. Its caution stands at 'hands clear'.
    "act ignition_on": (),
    "act try_start": ("vehicle-rolls", "moving-parts"),
    "act start": ("fumes-indoors", "vehicle-rolls", "moving-parts"),
    "act stop_engine": ("turbocharger",),
    "act raise": ("over-revs", "turbocharger", "noise"),
    "act hands_in": ("self-start", "hot-exhaust"),
    "act hands_at_hose": ("moving-parts", "hot-exhaust"),
    "act take_hose_off": ("hot-exhaust", "stub-snaps"),
    "act couple_gun": ("gun-pressure", "injection"),
    "act uncouple_gun": ("gun-pressure", "fluid-splash"),
    "act clear_line": ("hose-blowback", "sensor-overpressure"),
    "act put_hose_on": ("stub-snaps",),
    "gun rate": ("gun-pressure", "fluid-splash", "fluid-mist"),
    "spray off": ("hydraulic-lock", "partial-lock", "fluid-splash", "steam-at-stub"),
    "spray running": ("steam-at-stub", "fluid-mist", "stall-with-fluid", "foam-at-tailpipe"),
    "act hand_turn": ("bar-kicks", "hydraulic-lock", "partial-lock"),
    "hold dry": ("fumes-indoors", "stall-with-fluid", "burn-in-hold", "noise", "wet-reading"),
    "act clear_codes": ("codes-erased",),
    "act road_test": ("road-test", "hot-ground"),
    "look crew": ("alone", "young-person"),
    "look identity": ("wrong-vehicle",),
    "look arrival": ("do-not-start",),
    "look secured": ("vehicle-rolls",),
    "look lift": ("raised-vehicle",),
    "look fumes": ("fumes-indoors",),
    "look starter": ("hybrid-voltage", "self-start"),
    "look key": ("self-start",),
    "look bar": ("bar-left-on",),
    "look burning": ("burning-soot",),
    "look oil": ("runaway", "oil-overfull"),
    "look coating": ("ammonia", "urea-system"),
    "look low_loop": ("low-loop",),
    "look sensor": ("wrong-sensor",),
    "look stop_start": ("stop-start",),
    "look sheet": ("fluid-splash", "fluid-mist"),
    "look flash": ("fluid-vapour",),
    "look spill": ("drains",),
    "look trigger": ("injection", "gun-stays-open"),
    "look reach": ("moving-parts", "hot-exhaust"),
    "look tier": ("hydraulic-lock", "partial-lock"),
    "look road": ("road-test",),
    "look tag": ("do-not-start",),
    "report drained": ("fluid-splash", "drains"),
    "report looked_dry": ("hot-exhaust",),
    "report cylinders_opened": ("hydraulic-lock", "partial-lock"),
    "wait soak": ("self-start", "heaters-awake"),
    "temperature bare": ("hot-exhaust",),
    "temperature gloved": ("hot-exhaust",),
    "temperature cool": ("steam-at-stub",),
    "temperature warm": ("steam-at-stub",),
}
"""What carries which cautions, at any time."""

WITH_FLUID: dict[str, tuple[str, ...]] = {
    "act ignition_on": ("heaters-awake",),
    "act start": ("partial-lock", "foam-at-tailpipe"),
    "act stop_engine": ("stall-with-fluid",),
    "act raise": ("burn-in-hold", "foam-at-tailpipe"),
    "act hands_at_hose": ("hot-foam", "fluid-splash"),
    "act couple_gun": ("fluid-splash",),
    "act uncouple_gun": ("line-keeps-fluid", "hot-foam"),
    "act clear_line": ("hot-foam",),
    "act put_hose_on": ("sensor-wetted",),
    "look engine": ("hydraulic-lock",),
}
"""What carries which cautions beside these once fluid is in, or may be."""


def carried(doings: Iterable[str], added: Iterable[str], fluid: bool) -> tuple[str, ...]:
    """The cautions of a step that does these things, gravest first, each once; ``added`` by the
    procedure, those that come with fluid where ``fluid`` is in or may be."""
    shown: dict[str, None] = {}
    for doing in doings:
        shown |= dict.fromkeys(CARRIED.get(doing, ()))
        if fluid:
            shown |= dict.fromkeys(WITH_FLUID.get(doing, ()))
    shown |= dict.fromkeys(added)
    return tuple(sorted(shown, key=lambda caution: WORDS.index(CAUTIONS[caution].word)))
