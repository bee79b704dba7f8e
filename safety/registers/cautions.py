"""The cautions register: what a step can show before it is done.

A caution informs; it never holds an act that has to be done as a step. ``avoid`` describes
the state in which the harm does not come about. Local rules, the maker's data and the data
sheet stand above every line here.

Signal words follow ANSI Z535.6 and ISO 3864-2 (read in secondary sources):

======= ===========================================================
DANGER  will kill or seriously injure if it is not avoided
WARNING could kill or seriously injure
CAUTION could injure in a minor or moderate way
NOTICE  property, engine or environment; no injury
======= ===========================================================
"""

from dataclasses import dataclass
from typing import Literal

Word = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]

WORDS: tuple[Word, ...] = ("DANGER", "WARNING", "CAUTION", "NOTICE")
"""The signal words, gravest first; where several hazards meet, the gravest word is shown."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: the hazard, what it does, how it is avoided, where that comes from."""

    id: str
    word: Word
    hazard: str
    consequence: str
    avoid: str
    source: str


_TRADE = "common practice, no source"
_HSE_FUMES = "HSE, Motor vehicle repair: vehicle exhaust emissions"
_HSE_SECURE = "HSE, Motor vehicle repair: introduction"
_HSE_BATTERY = "HSE, INDG139 (read in a secondary page)"
_SHEET = "COSHH Regulations 2002; the fluid's safety data sheet, sections 2, 4 and 8"
_LOCK = "Historic Aircraft Association note on hydraulic lock, citing an AAIB report"
_BURN = "WorkSafeBC, risk advisory on diesel particulate filters (soot burns at up to 600 degC)"
_START = "ISO 14118 (isolation from unexpected start-up), scope"
_YOUNG = "Management of Health and Safety at Work Regulations 1999, reg. 19"
_WATER = (
    "Environmental Permitting (England and Wales) Regulations 2016 (SI 2016/1154), regs 12 and 38: "
    "title and commencement read as of 2017-01-01, the two regulations from memory; the site's "
    "trade effluent consent"
)
_ROAD = "Road Traffic Act 1988, s87 and s143"

_ALL: tuple[Caution, ...] = (
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
        _START,
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
        _TRADE,
    ),
    # -- fluid and people ------------------------------------------------------------------------
    Caution(
        "fluid-splash",
        "WARNING",
        "Cleaning fluid under pressure, and fluid that comes back out of the hose.",
        "It can burn eyes and skin. The data sheet says how badly.",
        "Gloves, closed eye protection and sleeves as the data sheet asks; faces stay out of "
        "line with hose and gun; eye wash within reach.",
        _SHEET,
    ),
    Caution(
        "fluid-mist",
        "WARNING",
        "Mist from the gun and vapour from a warm exhaust.",
        "Breathed in, it can harm the lungs.",
        "Moving fresh air, head out of the mist, breathing protection where the data sheet "
        "asks for it.",
        _SHEET,
    ),
    Caution(
        "steam-at-stub",
        "WARNING",
        "Fluid that meets a hot exhaust flashes to steam.",
        "Steam and hot fluid blow back out of the stub into the face.",
        "Fluid goes in only while the inlet is measured inside the band for that spray; face "
        "and hands stay to the side of the stub.",
        _TRADE,
    ),
    Caution(
        "hot-foam",
        "WARNING",
        "Foam and hot gas leave an open port at the first firing.",
        "They scald face and hands.",
        "The port is shut, by gun or hose, at every start; nobody leans over the bay.",
        _TRADE,
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
        _TRADE,
    ),
    Caution(
        "hose-blowback",
        "CAUTION",
        "Soot and drops leave the hose when it is blown.",
        "They hit eyes and skin.",
        "The open end lies in a rag and points away from faces.",
        _TRADE,
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
        _TRADE,
    ),
    Caution(
        "bar-kicks",
        "WARNING",
        "A bar on the crank bolt, pushed back by compression.",
        "It strikes hand, wrist or face.",
        "Key boxed, start disabled, thumb on the same side as the fingers, face out of its "
        "swing, arm's force only, running direction only.",
        _TRADE,
    ),
    Caution(
        "bar-left-on",
        "WARNING",
        "Socket or bar left on the crank bolt when the engine starts.",
        "It is thrown, and strikes whoever is near.",
        "Off and back in its place before the ignition goes on; somebody looks.",
        _TRADE,
    ),
    Caution(
        "heaters-awake",
        "WARNING",
        "Ignition on with fluid in heats wet exhaust sensors and wakes a self-start.",
        "Hot wet ceramic cracks; a start locks the engine, and parts may fly at who stands by.",
        "The ignition stays off, with the key in the box, until the soak is due; wet sensors are "
        "the dearest part near by, their heaters stay cold.",
        _TRADE,
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
        _TRADE,
    ),
    Caution(
        "runaway",
        "DANGER",
        "A diesel that burns its own oil: the revs climb and the key does nothing.",
        "It bursts, and throws parts.",
        "Nobody near the engine, nobody in line with the flywheel, no hand to a spinning "
        "engine; oil at or under the mark beforehand.",
        _TRADE,
    ),
    Caution(
        "oil-overfull",
        "WARNING",
        "Oil over the mark, or thinned by fuel.",
        "It feeds a runaway, and wears the engine.",
        "Oil at or under the mark, and right by smell and age, before revs and before any burn.",
        _TRADE,
    ),
    Caution(
        "burning-soot",
        "WARNING",
        "The filter may start to burn its soot by itself.",
        "It reaches about 600 degC and sets fire to what lies under or beside it.",
        "The flag is read with every reading; nothing that burns lies under the car; an "
        "extinguisher stands at hand.",
        _BURN,
    ),
    Caution(
        "hot-ground",
        "WARNING",
        "A filter straight after a burn or a drive, over grass, leaves, rags or plastic.",
        "They catch fire.",
        "Hard, bare ground, clear for 3 m; somebody stays until it has cooled.",
        _BURN,
    ),
    Caution(
        "thermal-shock",
        "NOTICE",
        "Cold fluid on a hot ceramic core.",
        "The core cracks, and soot passes through from then on.",
        "Engine-off fluid only under its limit; running fluid only inside its band.",
        _TRADE,
    ),
    # -- parts and evidence ----------------------------------------------------------------------
    Caution(
        "stub-snaps",
        "NOTICE",
        "The sensor's plastic stub is brittle with heat and age.",
        "A lever from the side snaps it, and the job waits for a new sensor.",
        "The hose is warm, and leaves with a twist in line with the stub.",
        _TRADE,
    ),
    Caution(
        "sensor-wetted",
        "NOTICE",
        "Fluid or foam that reaches the pressure sensor.",
        "It reads wrong from then on, and fakes the result.",
        "The gun meets a hose that is off its sensor; the sensor returns to a hose that is "
        "blown clear.",
        "Hydrostatics: 1 cm of water in the hose is 0.98 mbar",
    ),
    Caution(
        "sensor-overpressure",
        "NOTICE",
        "Air from a line, or suction, on the pressure sensor.",
        "It bursts the cell: test ranges end at about 1 bar, and suction is forbidden.",
        "Air meets the hose only while the sensor is off it.",
        "tested by pressure up to about 1 bar, never by suction; common practice, no source",
    ),
    Caution(
        "wrong-sensor",
        "NOTICE",
        "Two like sensors side by side, one for the filter, one for exhaust gas recirculation.",
        "Fluid goes to the wrong place, and the readings belong to another part.",
        "The hose is traced to the filter, and its reading moves when the hose is blown.",
        _TRADE,
    ),
    Caution(
        "hose-off-reading",
        "NOTICE",
        "With the hose off, the sensor shows nothing of the filter.",
        "A blocked filter looks clean, and revs go up unwatched.",
        "Hose and sensor are on, and tugged, before any reading or raised revs.",
        _TRADE,
    ),
    Caution(
        "wet-reading",
        "NOTICE",
        "A wet filter reads high, and falls while it dries.",
        "A number taken early misleads the verdict.",
        "Readings after the clean count only once the drying run is done and level.",
        "energy balance of drying: see 'steplatch limits'",
    ),
    Caution(
        "line-name",
        "NOTICE",
        "Calculated, specified and learned pressures stand beside the measured one.",
        "Before and after are compared with different things.",
        "The name of the line is written down as shown, and is the same both times.",
        _TRADE,
    ),
    Caution(
        "codes-erased",
        "NOTICE",
        "Cleared codes take their freeze frame with them.",
        "The evidence for cause and customer is gone.",
        "Stored, pending and freeze frame are written down before anything is cleared.",
        _TRADE,
    ),
    Caution(
        "ash-counter",
        "WARNING",
        "An ash counter or 'filter replaced' value, set back although the ash is still there.",
        "The engine then stores too much soot and burns it too hot: fire.",
        "After a clean on the vehicle the ash counter stays as it is.",
        "common practice, no source; fluid on the vehicle removes no ash",
    ),
    Caution(
        "filter-damaged",
        "NOTICE",
        "A filter that is cracked, melted, hollow or missing.",
        "Cleaning cannot mend it; soot passes, and driving without it is an offence.",
        "Low pressure, soot at the outlet or a rattle lead to 'do not clean'.",
        "Road Vehicles (Construction and Use) Regulations 1986, reg. 61a(3)",
    ),
    Caution(
        "urea-system",
        "CAUTION",
        "Urea lines, crystals and an injector behind or near the filter.",
        "Crystals irritate skin and eyes; fluid may harm the coating behind.",
        "No fluid towards the injector; maker's and fluid maker's word first.",
        "common practice, no source; maker's data",
    ),
    Caution(
        "drains",
        "NOTICE",
        "Wash fluid with soot and ash near a drain.",
        "It pollutes, and discharge without consent is an offence.",
        "Drains are covered; what comes out is caught, kept and classified as waste.",
        _WATER,
    ),
    Caution(
        "raised-vehicle",
        "WARNING",
        "A vehicle on a jack, on arms without their locks, or with a wheel off.",
        "It comes down on whoever is under or beside it.",
        "Stands or locks carry it and it was pushed at, before anybody reaches in; all wheels on "
        "the floor before revs.",
        "HSE, Motor vehicle repair: introduction (jacks and axle stands, arm locks engaged)",
    ),
    Caution(
        "stop-start",
        "WARNING",
        "Automatic stop-start wakes at each start of the engine.",
        "It stops in the spray with fluid in, and cranks again by itself.",
        "It is switched off after this start, and its lamp says so.",
        _TRADE,
    ),
    Caution(
        "low-loop",
        "WARNING",
        "Recirculation that takes gas from behind the filter.",
        "It draws fluid into compressor, charge cooler and cylinders: the engine locks, running, "
        "and parts may fly at who stands by.",
        "Its valve is held shut in a way that stays, before any fluid.",
        _TRADE,
    ),
    Caution(
        "fluid-vapour",
        "WARNING",
        "Vapour of a flammable fluid on a hot exhaust.",
        "It flashes at stub, tailpipe or intake.",
        "No fluid of class H224, H225 or H226, and none whose flash point is not known; no "
        "sparks, no open lamps.",
        _SHEET,
    ),
    Caution(
        "gun-stays-open",
        "WARNING",
        "A gun that sticks, drips or has its trigger tied.",
        "Fluid goes on running in, uncounted: it locks the engine, or sprays about.",
        "Let go, it shuts by itself; air goes off after each dose.",
        _TRADE,
    ),
    Caution(
        "injection",
        "WARNING",
        "A jet of fluid or air under pressure.",
        "It goes through skin and gloves, and into the eye.",
        "No hand before the nozzle, none to feel for a leak. Through the skin: hospital at once.",
        _TRADE,
    ),
    Caution(
        "burn-in-hold",
        "WARNING",
        "Soot that begins to burn while revs are held.",
        "Duct and hose on the tailpipe burn, the filter melts.",
        "Only a duct for hot gas; the temperature is read with each pressure; at a climb the "
        "pedal is let go.",
        _BURN,
    ),
    Caution(
        "turbocharger",
        "NOTICE",
        "A turbine shaft that is washed, or revved before its oil has come.",
        "Its bearing fails, and the engine draws oil.",
        "It idles a minute before revs and before a stop.",
        _TRADE,
    ),
    Caution(
        "noise",
        "CAUTION",
        "Minutes of raised revs in a bay, and compressed air.",
        "They harm the hearing.",
        "Hearing protection on; others out of the bay.",
        "Control of Noise at Work Regulations 2005 (from memory, not read)",
    ),
    Caution(
        "ammonia",
        "WARNING",
        "Alkaline fluid on urea crystals gives off ammonia.",
        "It burns eyes and airways.",
        "Faces stay away from stub and tailpipe; at the smell everybody goes out.",
        _TRADE,
    ),
    # -- people and hand-over --------------------------------------------------------------------
    Caution(
        "wrong-vehicle",
        "WARNING",
        "Two like vehicles, or papers of another one.",
        "Limits and readings of one are used on another.",
        "Plate and the end of the chassis number both match the order.",
        _TRADE,
    ),
    Caution(
        "young-person",
        "WARNING",
        "An apprentice or a person under 18, alone or tired.",
        "Risks are not recognised in time.",
        "A qualified person is present and supervises; alone: read with the engine stopped and "
        "advise, no more.",
        _YOUNG,
    ),
    Caution(
        "alone",
        "WARNING",
        "One person at the gun and at the key.",
        "Nobody switches off, and nobody fetches help.",
        "Self-closing trigger, key within reach, a phone on the body, somebody who calls at a "
        "stated hour. Alone: a loaded volume up to the strict limit; nothing above it, no "
        "turning by hand, no recovery with fluid in.",
        _TRADE,
    ),
    Caution(
        "interruption",
        "WARNING",
        "Work that was interrupted, and goes on from memory.",
        "A step is missed, or done twice.",
        "Engine, hose, gun, key and hands are looked at again before anything else.",
        "Altmann and others 2014, interruptions and sequence errors (abstract)",
    ),
    Caution(
        "do-not-start",
        "WARNING",
        "A vehicle that looks ready, with fluid in or a fault open.",
        "Whoever turns the key breaks the engine, or gets hurt.",
        "The key is tagged; a DO NOT START notice is signed by who receives the vehicle.",
        _START,
    ),
    Caution(
        "road-test",
        "WARNING",
        "A road test with chocks, hoses, tools or leaks left, or with the wrong driver.",
        "Crash, fire, or an uninsured drive.",
        "Driver licensed and insured for the vehicle; everything out, bonnet shut, no leak.",
        _ROAD,
    ),
)

CAUTIONS: dict[str, Caution] = {caution.id: caution for caution in _ALL}
"""Every caution by its id."""
