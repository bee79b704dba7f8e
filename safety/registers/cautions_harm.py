"""Cautions about what hurts people or the engine: fumes, heat, fluid, starting, revs, fire."""

from ..catalogue import _
from .caution import BURN, SHEET, START, TRADE, Caution

_HSE_FUMES = _("HSE, Motor vehicle repair: vehicle exhaust emissions")
_HSE_SECURE = _("HSE, Motor vehicle repair: introduction")
_HSE_BATTERY = _("HSE, INDG139 (read in a secondary page)")
_LOCK = _("Historic Aircraft Association note on hydraulic lock, citing an AAIB report")

HARM: tuple[Caution, ...] = (
    # -- people: fumes, movement, heat ---------------------------------------------------------
    Caution(
        "fumes-indoors",
        "DANGER",
        _("Exhaust fumes in a closed or half-open room."),
        _("Carbon monoxide has no smell and kills; diesel smoke causes cancer."),
        _(
            "The engine runs only with the extraction hose on the tailpipe and running, or "
            "outdoors. An open door does not count. The site's own rules and alarms come first."
        ),
        _HSE_FUMES,
    ),
    Caution(
        "vehicle-rolls",
        "WARNING",
        _("The vehicle can roll or drive off when the engine is started or revved."),
        _("It crushes whoever stands in front of or behind it."),
        _("Parking brake on, neutral or park, two wheels chocked, nobody in front or behind."),
        _HSE_SECURE,
    ),
    Caution(
        "moving-parts",
        "WARNING",
        _("Belts and fans turn, and an electric fan starts without notice."),
        _("They take fingers, sleeves and hair."),
        _(
            "Hands, sleeves, hair and tools stay clear of belts and fan; with the engine running, "
            "hands go to the hose alone and only where it is clear of them."
        ),
        _HSE_SECURE,
    ),
    Caution(
        "self-start",
        "WARNING",
        _("A keyless, stop-start or hybrid engine can start by itself."),
        _("It turns the crank and the fan while hands are in."),
        _(
            "Relay or fuse out, or earth lead off, tried once before any fluid; the key lies "
            "in the box out of range, held by a named person. Maker's data rule, for hybrids "
            "above all."
        ),
        START,
    ),
    Caution(
        "hybrid-voltage",
        "DANGER",
        _("High-voltage parts of a hybrid (orange cables)."),
        _("Contact kills."),
        _(
            "Work near them belongs to people trained for it, by the maker's data; this procedure "
            "does not reach them."
        ),
        _("common practice, no source; maker's data"),
    ),
    Caution(
        "hot-exhaust",
        "WARNING",
        _("Exhaust, turbo and filter are hot, and stay hot long after the engine stops."),
        _("Bare metal above about 50 degC can burn within a minute, above 60 degC within seconds."),
        _(
            "An exhaust that is not measured counts as hot. Time since the stop is no measurement. "
            "Heat-proof gloves and sleeves near it."
        ),
        _("ISO 13732-1:2006 thresholds (values from memory); MIL-HDBK-454 Guideline 1"),
    ),
    Caution(
        "probe-misleads",
        "CAUTION",
        _("An infrared thermometer reads a shiny pipe far too low."),
        _("A pipe that seems cool burns the hand or flashes the fluid."),
        _("The contact probe sits on the bare inlet pipe beside the stub."),
        TRADE,
    ),
    # -- fluid and people ------------------------------------------------------------------------
    Caution(
        "fluid-splash",
        "WARNING",
        _("Cleaning fluid under pressure, and fluid that comes back out of the hose."),
        _("It can burn eyes and skin. The data sheet says how badly."),
        _(
            "Gloves, closed eye protection and sleeves as the data sheet asks; faces stay out of "
            "line with hose and gun; eye wash within reach."
        ),
        SHEET,
    ),
    Caution(
        "fluid-mist",
        "WARNING",
        _("Mist from the gun and vapour from a warm exhaust."),
        _("Breathed in, it can harm the lungs."),
        _(
            "Moving fresh air, head out of the mist, breathing protection where the data sheet "
            "asks for it."
        ),
        SHEET,
    ),
    Caution(
        "steam-at-stub",
        "WARNING",
        _("Fluid that meets a hot exhaust flashes to steam."),
        _("Steam and hot fluid blow back out of the stub into the face."),
        _(
            "Fluid goes in only while the inlet is measured inside the band for that spray; face "
            "and hands stay to the side of the stub."
        ),
        TRADE,
    ),
    Caution(
        "hot-foam",
        "WARNING",
        _("Foam and hot gas leave an open port at the first firing."),
        _("They scald face and hands."),
        _("The port is shut, by gun or hose, at every start; nobody leans over the bay."),
        TRADE,
    ),
    Caution(
        "foam-at-tailpipe",
        "CAUTION",
        _("Black foam with soot and ash at the tailpipe and at joints."),
        _("It irritates skin and eyes, stains paint, and makes the floor slippery."),
        _(
            "A tray and cover at the tailpipe, other cars and people out of its way, gloves and "
            "eye protection on."
        ),
        _("common practice, no source; the fluid's safety data sheet"),
    ),
    Caution(
        "gun-pressure",
        "WARNING",
        _("Compressed air at the gun before the adaptor holds."),
        _("The adaptor flies off and fluid sprays about."),
        _("Air comes on last: adaptor seated, tugged, trigger locked shut before it."),
        TRADE,
    ),
    Caution(
        "hose-blowback",
        "CAUTION",
        _("Soot and drops leave the hose when it is blown."),
        _("They hit eyes and skin."),
        _("The open end lies in a rag and points away from faces."),
        TRADE,
    ),
    # -- hydraulic lock and starting -----------------------------------------------------------
    Caution(
        "hydraulic-lock",
        "WARNING",
        _("Fluid that has run back into a cylinder cannot be compressed."),
        _(
            "One crank bends or breaks a rod, and parts may fly from the casing at who "
            "stands by. A few tens of millilitres are enough."
        ),
        _(
            "The engine is cranked only while the ledger allows it; the starter is never used to "
            "find out."
        ),
        _LOCK,
    ),
    Caution(
        "partial-lock",
        "WARNING",
        _("Less fluid than fills a cylinder lets the engine start on a bent rod."),
        _("The rod fails later, perhaps at speed on the road."),
        _(
            "A slow, uneven or thumping crank ends at once, without a second try. Turning by hand "
            "does not find a part-full cylinder."
        ),
        _LOCK,
    ),
    Caution(
        "stall-with-fluid",
        "WARNING",
        _("The engine stalls while fluid is in: if it stalls now, it must not be cranked."),
        _(
            "The fluid runs back with nothing to carry it out; a start locks the engine, and "
            "parts may fly at who stands by."
        ),
        _("A sag of the idle is answered by a shut gun, before it stalls."),
        TRADE,
    ),
    Caution(
        "bar-kicks",
        "WARNING",
        _("A bar on the crank bolt, pushed back by compression."),
        _("It strikes hand, wrist or face."),
        _(
            "Key boxed, start disabled, thumb on the same side as the fingers, face out of its "
            "swing, arm's force only, running direction only."
        ),
        TRADE,
    ),
    Caution(
        "bar-left-on",
        "WARNING",
        _("Socket or bar left on the crank bolt when the engine starts."),
        _("It is thrown, and strikes whoever is near."),
        _("Off and back in its place before the ignition goes on; somebody looks."),
        TRADE,
    ),
    Caution(
        "heaters-awake",
        "WARNING",
        _("Ignition on with fluid in heats wet exhaust sensors and wakes a self-start."),
        _("Hot wet ceramic cracks; a start locks the engine, and parts may fly at who stands by."),
        _(
            "The ignition stays off, with the key in the box, until the soak is due; wet "
            "sensors are the dearest part near by, their heaters stay cold."
        ),
        TRADE,
    ),
    Caution(
        "battery-low",
        "CAUTION",
        _("A battery that sags cranks slowly and hides a locked cylinder."),
        _("A slow crank cannot be told from a dangerous one. Battery gas can explode."),
        _("A stabilised supply supports it; eye protection, insulated tools, no sparks near it."),
        _HSE_BATTERY,
    ),
    # -- revs, runaway, fire ---------------------------------------------------------------------
    Caution(
        "over-revs",
        "WARNING",
        _("Raised revs above the ceiling, on a filter that is wet or blocked."),
        _("Parts fail, oil is drawn into the intake, and the engine may run away."),
        _("The band asked for lies wholly under the ceiling; a person at the controls watches it."),
        TRADE,
    ),
    Caution(
        "runaway",
        "DANGER",
        _("A diesel that burns its own oil: the revs climb and the key does nothing."),
        _("It bursts, and throws parts."),
        _(
            "Nobody near the engine, nobody in line with the flywheel, no hand to a spinning "
            "engine; oil at or under the mark beforehand."
        ),
        TRADE,
    ),
    Caution(
        "oil-overfull",
        "WARNING",
        _("Oil over the mark, or thinned by fuel."),
        _("It feeds a runaway, and wears the engine."),
        _("Oil at or under the mark, and right by smell and age, before revs and before any burn."),
        TRADE,
    ),
    Caution(
        "burning-soot",
        "WARNING",
        _("The filter may start to burn its soot by itself."),
        _("It reaches about 600 degC and sets fire to what lies under or beside it."),
        _(
            "The flag is read with every reading; nothing that burns lies under the car; an "
            "extinguisher stands at hand."
        ),
        BURN,
    ),
    Caution(
        "hot-ground",
        "WARNING",
        _("A filter straight after a burn or a drive, over grass, leaves, rags or plastic."),
        _("They catch fire."),
        _("Hard, bare ground, clear for 3 m; somebody stays until it has cooled."),
        BURN,
    ),
    Caution(
        "thermal-shock",
        "NOTICE",
        _("Cold fluid on a hot ceramic core."),
        _("The core cracks, and soot passes through from then on."),
        _("Engine-off fluid only under its limit; running fluid only inside its band."),
        TRADE,
    ),
)
