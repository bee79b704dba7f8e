"""Cautions about what hurts people or the engine: fumes, heat, fluid, starting, revs, fire."""

from .caution import BURN, SHEET, START, TRADE, Caution

_HSE_FUMES = "HSE, Motor vehicle repair: vehicle exhaust emissions"
_HSE_SECURE = "HSE, Motor vehicle repair: introduction"
_HSE_BATTERY = "HSE, INDG139 (read in a secondary page)"
_LOCK = "Historic Aircraft Association note on hydraulic lock, citing an AAIB report"

HARM: tuple[Caution, ...] = (
    # -- people: fumes, movement, heat ---------------------------------------------------------
    Caution(
        "fumes-indoors",
        "DANGER",
        "Exhaust fumes in a closed or half-open room.",
        "Carbon monoxide has no smell and kills; diesel smoke causes cancer.",
        "The engine runs only with the extraction hose on the tailpipe and running, or "
        "outdoors. An open door does not count. The site's own rules and alarms come first.",
        _HSE_FUMES,
    ),
    Caution(
        "vehicle-rolls",
        "WARNING",
        "The vehicle can roll or drive off when the engine is started or revved.",
        "It crushes whoever stands in front of or behind it.",
        "Parking brake on, neutral or park, two wheels chocked, nobody in front or behind.",
        _HSE_SECURE,
    ),
    Caution(
        "moving-parts",
        "WARNING",
        "Belts and fans turn, and an electric fan starts without notice.",
        "They take fingers, sleeves and hair.",
        "Hands, sleeves, hair and tools stay clear of belts and fan; with the engine running, "
        "hands go to the hose alone and only where it is clear of them.",
        _HSE_SECURE,
    ),
    Caution(
        "self-start",
        "WARNING",
        "A keyless, stop-start or hybrid engine can start by itself.",
        "It turns the crank and the fan while hands are in.",
        "Relay or fuse out, or earth lead off, tried once before any fluid; the key lies in the "
        "box out of range, held by a named person. Maker's data rule, for hybrids above all.",
        START,
    ),
    Caution(
        "hybrid-voltage",
        "DANGER",
        "High-voltage parts of a hybrid (orange cables).",
        "Contact kills.",
        "Work near them belongs to people trained for it, by the maker's data; this procedure "
        "does not reach them.",
        "common practice, no source; maker's data",
    ),
    Caution(
        "hot-exhaust",
        "WARNING",
        "Exhaust, turbo and filter are hot, and stay hot long after the engine stops.",
        "Bare metal above about 50 degC can burn within a minute, above 60 degC within seconds.",
        "An exhaust that is not measured counts as hot. Time since the stop is no measurement. "
        "Heat-proof gloves and sleeves near it.",
        "ISO 13732-1:2006 thresholds (values from memory); MIL-HDBK-454 Guideline 1",
    ),
    Caution(
        "probe-misleads",
        "CAUTION",
        "An infrared thermometer reads a shiny pipe far too low.",
        "A pipe that seems cool burns the hand or flashes the fluid.",
        "The contact probe sits on the bare inlet pipe beside the stub.",
        TRADE,
    ),
    # -- fluid and people ------------------------------------------------------------------------
    Caution(
        "fluid-splash",
        "WARNING",
        "Cleaning fluid under pressure, and fluid that comes back out of the hose.",
        "It can burn eyes and skin. The data sheet says how badly.",
        "Gloves, closed eye protection and sleeves as the data sheet asks; faces stay out of "
        "line with hose and gun; eye wash within reach.",
        SHEET,
    ),
    Caution(
        "fluid-mist",
        "WARNING",
        "Mist from the gun and vapour from a warm exhaust.",
        "Breathed in, it can harm the lungs.",
        "Moving fresh air, head out of the mist, breathing protection where the data sheet "
        "asks for it.",
        SHEET,
    ),
    Caution(
        "steam-at-stub",
        "WARNING",
        "Fluid that meets a hot exhaust flashes to steam.",
        "Steam and hot fluid blow back out of the stub into the face.",
        "Fluid goes in only while the inlet is measured inside the band for that spray; face "
        "and hands stay to the side of the stub.",
        TRADE,
    ),
    Caution(
        "hot-foam",
        "WARNING",
        "Foam and hot gas leave an open port at the first firing.",
        "They scald face and hands.",
        "The port is shut, by gun or hose, at every start; nobody leans over the bay.",
        TRADE,
    ),
    Caution(
        "foam-at-tailpipe",
        "CAUTION",
        "Black foam with soot and ash at the tailpipe and at joints.",
        "It irritates skin and eyes, stains paint, and makes the floor slippery.",
        "A tray and cover at the tailpipe, other cars and people out of its way, gloves and "
        "eye protection on.",
        "common practice, no source; the fluid's safety data sheet",
    ),
    Caution(
        "gun-pressure",
        "WARNING",
        "Compressed air at the gun before the adaptor holds.",
        "The adaptor flies off and fluid sprays about.",
        "Air comes on last: adaptor seated, tugged, trigger locked shut before it.",
        TRADE,
    ),
    Caution(
        "hose-blowback",
        "CAUTION",
        "Soot and drops leave the hose when it is blown.",
        "They hit eyes and skin.",
        "The open end lies in a rag and points away from faces.",
        TRADE,
    ),
    # -- hydraulic lock and starting -----------------------------------------------------------
    Caution(
        "hydraulic-lock",
        "WARNING",
        "Fluid that has run back into a cylinder cannot be compressed.",
        "One crank bends or breaks a rod, and parts may fly from the casing at who stands by. A "
        "few tens of millilitres are enough.",
        "The engine is cranked only while the ledger allows it; the starter is never used to "
        "find out.",
        _LOCK,
    ),
    Caution(
        "partial-lock",
        "WARNING",
        "Less fluid than fills a cylinder lets the engine start on a bent rod.",
        "The rod fails later, perhaps at speed on the road.",
        "A slow, uneven or thumping crank ends at once, without a second try. Turning by hand "
        "does not find a part-full cylinder.",
        _LOCK,
    ),
    Caution(
        "stall-with-fluid",
        "WARNING",
        "The engine stalls while fluid is in: if it stalls now, it must not be cranked.",
        "The fluid runs back with nothing to carry it out; a start locks the engine, and parts may "
        "fly at who stands by.",
        "A sag of the idle is answered by a shut gun, before it stalls.",
        TRADE,
    ),
    Caution(
        "bar-kicks",
        "WARNING",
        "A bar on the crank bolt, pushed back by compression.",
        "It strikes hand, wrist or face.",
        "Key boxed, start disabled, thumb on the same side as the fingers, face out of its "
        "swing, arm's force only, running direction only.",
        TRADE,
    ),
    Caution(
        "bar-left-on",
        "WARNING",
        "Socket or bar left on the crank bolt when the engine starts.",
        "It is thrown, and strikes whoever is near.",
        "Off and back in its place before the ignition goes on; somebody looks.",
        TRADE,
    ),
    Caution(
        "heaters-awake",
        "WARNING",
        "Ignition on with fluid in heats wet exhaust sensors and wakes a self-start.",
        "Hot wet ceramic cracks; a start locks the engine, and parts may fly at who stands by.",
        "The ignition stays off, with the key in the box, until the soak is due; wet sensors are "
        "the dearest part near by, their heaters stay cold.",
        TRADE,
    ),
    Caution(
        "battery-low",
        "CAUTION",
        "A battery that sags cranks slowly and hides a locked cylinder.",
        "A slow crank cannot be told from a dangerous one. Battery gas can explode.",
        "A stabilised supply supports it; eye protection, insulated tools, no sparks near it.",
        _HSE_BATTERY,
    ),
    # -- revs, runaway, fire ---------------------------------------------------------------------
    Caution(
        "over-revs",
        "WARNING",
        "Raised revs above the ceiling, on a filter that is wet or blocked.",
        "Parts fail, oil is drawn into the intake, and the engine may run away.",
        "The band asked for lies wholly under the ceiling; a person at the controls watches it.",
        TRADE,
    ),
    Caution(
        "runaway",
        "DANGER",
        "A diesel that burns its own oil: the revs climb and the key does nothing.",
        "It bursts, and throws parts.",
        "Nobody near the engine, nobody in line with the flywheel, no hand to a spinning "
        "engine; oil at or under the mark beforehand.",
        TRADE,
    ),
    Caution(
        "oil-overfull",
        "WARNING",
        "Oil over the mark, or thinned by fuel.",
        "It feeds a runaway, and wears the engine.",
        "Oil at or under the mark, and right by smell and age, before revs and before any burn.",
        TRADE,
    ),
    Caution(
        "burning-soot",
        "WARNING",
        "The filter may start to burn its soot by itself.",
        "It reaches about 600 degC and sets fire to what lies under or beside it.",
        "The flag is read with every reading; nothing that burns lies under the car; an "
        "extinguisher stands at hand.",
        BURN,
    ),
    Caution(
        "hot-ground",
        "WARNING",
        "A filter straight after a burn or a drive, over grass, leaves, rags or plastic.",
        "They catch fire.",
        "Hard, bare ground, clear for 3 m; somebody stays until it has cooled.",
        BURN,
    ),
    Caution(
        "thermal-shock",
        "NOTICE",
        "Cold fluid on a hot ceramic core.",
        "The core cracks, and soot passes through from then on.",
        "Engine-off fluid only under its limit; running fluid only inside its band.",
        TRADE,
    ),
)
