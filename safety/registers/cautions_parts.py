"""Cautions about parts and evidence, and about people and hand-over."""

from .caution import BURN, SHEET, START, TRADE, Caution

_YOUNG = "Management of Health and Safety at Work Regulations 1999, reg. 19"
_WATER = (
    "Environmental Permitting (England and Wales) Regulations 2016 (SI 2016/1154), regs 12 and 38: "
    "title and commencement read as of 2017-01-01, the two regulations from memory; the site's "
    "trade effluent consent"
)
_ROAD = "Road Traffic Act 1988, s87 and s143"

PARTS: tuple[Caution, ...] = (
    # -- parts and evidence ----------------------------------------------------------------------
    Caution(
        "stub-snaps",
        "NOTICE",
        "The sensor's plastic stub is brittle with heat and age.",
        "A lever from the side snaps it, and the job waits for a new sensor.",
        "The hose is warm, and leaves with a twist in line with the stub.",
        TRADE,
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
        TRADE,
    ),
    Caution(
        "hose-off-reading",
        "NOTICE",
        "With the hose off, the sensor shows nothing of the filter.",
        "A blocked filter looks clean, and revs go up unwatched.",
        "Hose and sensor are on, and tugged, before any reading or raised revs.",
        TRADE,
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
        TRADE,
    ),
    Caution(
        "codes-erased",
        "NOTICE",
        "Cleared codes take their freeze frame with them.",
        "The evidence for cause and customer is gone.",
        "Stored, pending and freeze frame are written down before anything is cleared.",
        TRADE,
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
        TRADE,
    ),
    Caution(
        "low-loop",
        "WARNING",
        "Recirculation that takes gas from behind the filter.",
        "It draws fluid into compressor, charge cooler and cylinders: the engine locks, running, "
        "and parts may fly at who stands by.",
        "Its valve is held shut in a way that stays, before any fluid.",
        TRADE,
    ),
    Caution(
        "fluid-vapour",
        "WARNING",
        "Vapour of a flammable fluid on a hot exhaust.",
        "It flashes at stub, tailpipe or intake.",
        "No fluid of class H224, H225 or H226, and none whose flash point is not known; no "
        "sparks, no open lamps.",
        SHEET,
    ),
    Caution(
        "gun-stays-open",
        "WARNING",
        "A gun that sticks, drips or has its trigger tied.",
        "Fluid goes on running in, uncounted: it locks the engine, or sprays about.",
        "Let go, it shuts by itself; air goes off after each dose.",
        TRADE,
    ),
    Caution(
        "line-keeps-fluid",
        "WARNING",
        "Fluid that stands in the line while the gun is on it.",
        "It falls into the exhaust as the gun comes off, uncounted: it can lock the engine.",
        "Free end low over a jug as the gun comes off; a metre holds up to 28 mL.",
        TRADE,
    ),
    Caution(
        "injection",
        "WARNING",
        "A jet of fluid or air under pressure.",
        "It goes through skin and gloves, and into the eye.",
        "No hand before the nozzle, none to feel for a leak. Through the skin: hospital at once.",
        TRADE,
    ),
    Caution(
        "burn-in-hold",
        "WARNING",
        "Soot that begins to burn while revs are held.",
        "Duct and hose on the tailpipe burn, the filter melts.",
        "Only a duct for hot gas; the temperature is read with each pressure; at a climb the "
        "pedal is let go.",
        BURN,
    ),
    Caution(
        "turbocharger",
        "NOTICE",
        "A turbine shaft that is washed, or revved before its oil has come.",
        "Its bearing fails, and the engine draws oil.",
        "It idles a minute before revs and before a stop.",
        TRADE,
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
        TRADE,
    ),
    # -- people and hand-over --------------------------------------------------------------------
    Caution(
        "wrong-vehicle",
        "WARNING",
        "Two like vehicles, or papers of another one.",
        "Limits and readings of one are used on another.",
        "Plate and the end of the chassis number both match the order.",
        TRADE,
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
        TRADE,
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
        START,
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
