"""Cautions about parts and evidence, and about people and hand-over."""

from ..catalogue import _
from .caution import BURN, SHEET, START, TRADE, Caution

_YOUNG = _("Management of Health and Safety at Work Regulations 1999, reg. 19")
_WATER = _(
    "Environmental Permitting (England and Wales) Regulations 2016 (SI 2016/1154), regs 12 and 38: "
    "title and commencement read as of 2017-01-01, the two regulations from memory; the site's "
    "trade effluent consent"
)
_ROAD = _("Road Traffic Act 1988, s87 and s143")

PARTS: tuple[Caution, ...] = (
    # -- parts and evidence ----------------------------------------------------------------------
    Caution(
        "stub-snaps",
        "NOTICE",
        _("The sensor's plastic stub is brittle with heat and age."),
        _("A lever from the side snaps it, and the job waits for a new sensor."),
        _("The hose is warm, and leaves with a twist in line with the stub."),
        TRADE,
    ),
    Caution(
        "sensor-wetted",
        "NOTICE",
        _("Fluid or foam that reaches the pressure sensor."),
        _("It reads wrong from then on, and fakes the result."),
        _(
            "The gun meets a hose that is off its sensor; the sensor returns to a hose that is "
            "blown clear."
        ),
        _("Hydrostatics: 1 cm of water in the hose is 0.98 mbar"),
    ),
    Caution(
        "sensor-overpressure",
        "NOTICE",
        _("Air from a line, or suction, on the pressure sensor."),
        _("It bursts the cell: test ranges end at about 1 bar, and suction is forbidden."),
        _("Air meets the hose only while the sensor is off it."),
        _("tested by pressure up to about 1 bar, never by suction; common practice, no source"),
    ),
    Caution(
        "wrong-sensor",
        "NOTICE",
        _("Two like sensors side by side, one for the filter, one for exhaust gas recirculation."),
        _("Fluid goes to the wrong place, and the readings belong to another part."),
        _("The hose is traced to the filter, and its reading moves when the hose is blown."),
        TRADE,
    ),
    Caution(
        "hose-off-reading",
        "NOTICE",
        _("With the hose off, the sensor shows nothing of the filter."),
        _("A blocked filter looks clean, and revs go up unwatched."),
        _("Hose and sensor are on, and tugged, before any reading or raised revs."),
        TRADE,
    ),
    Caution(
        "wet-reading",
        "NOTICE",
        _("A wet filter reads high, and falls while it dries."),
        _("A number taken early misleads the verdict."),
        _("Readings after the clean count only once the drying run is done and level."),
        _("energy balance of drying: see 'steplatch limits'"),
    ),
    Caution(
        "line-name",
        "NOTICE",
        _("Calculated, specified and learned pressures stand beside the measured one."),
        _("Before and after are compared with different things."),
        _("The name of the line is written down as shown, and is the same both times."),
        TRADE,
    ),
    Caution(
        "codes-erased",
        "NOTICE",
        _("Cleared codes take their freeze frame with them."),
        _("The evidence for cause and customer is gone."),
        _("Stored, pending and freeze frame are written down before anything is cleared."),
        TRADE,
    ),
    Caution(
        "ash-counter",
        "WARNING",
        _("An ash counter or 'filter replaced' value, set back although the ash is still there."),
        _("The engine then stores too much soot and burns it too hot: fire."),
        _("After a clean on the vehicle the ash counter stays as it is."),
        _("common practice, no source; fluid on the vehicle removes no ash"),
    ),
    Caution(
        "filter-damaged",
        "NOTICE",
        _("A filter that is cracked, melted, hollow or missing."),
        _("Cleaning cannot mend it; soot passes, and driving without it is an offence."),
        _("Low pressure, soot at the outlet or a rattle lead to 'do not clean'."),
        _("Road Vehicles (Construction and Use) Regulations 1986, reg. 61a(3)"),
    ),
    Caution(
        "urea-system",
        "CAUTION",
        _("Urea lines, crystals and an injector behind or near the filter."),
        _("Crystals irritate skin and eyes; fluid may harm the coating behind."),
        _("No fluid towards the injector; maker's and fluid maker's word first."),
        _("common practice, no source; maker's data"),
    ),
    Caution(
        "drains",
        "NOTICE",
        _("Wash fluid with soot and ash near a drain."),
        _("It pollutes, and discharge without consent is an offence."),
        _("Drains are covered; what comes out is caught, kept and classified as waste."),
        _WATER,
    ),
    Caution(
        "raised-vehicle",
        "WARNING",
        _("A vehicle on a jack, on arms without their locks, or with a wheel off."),
        _("It comes down on whoever is under or beside it."),
        _(
            "Stands or locks carry it and it was pushed at, before anybody reaches in; all "
            "wheels on the floor before revs."
        ),
        _("HSE, Motor vehicle repair: introduction (jacks and axle stands, arm locks engaged)"),
    ),
    Caution(
        "stop-start",
        "WARNING",
        _("Automatic stop-start wakes at each start of the engine."),
        _("It stops in the spray with fluid in, and cranks again by itself."),
        _("It is switched off after this start, and its lamp says so."),
        TRADE,
    ),
    Caution(
        "low-loop",
        "WARNING",
        _("Recirculation that takes gas from behind the filter."),
        _(
            "It draws fluid into compressor, charge cooler and cylinders: the engine locks, "
            "running, and parts may fly at who stands by."
        ),
        _("Its valve is held shut in a way that stays, before any fluid."),
        TRADE,
    ),
    Caution(
        "fluid-vapour",
        "WARNING",
        _("Vapour of a flammable fluid on a hot exhaust."),
        _("It flashes at stub, tailpipe or intake."),
        _(
            "No fluid of class H224, H225 or H226, and none whose flash point is not known; no "
            "sparks, no open lamps."
        ),
        SHEET,
    ),
    Caution(
        "gun-stays-open",
        "WARNING",
        _("A gun that sticks, drips or has its trigger tied."),
        _("Fluid goes on running in, uncounted: it locks the engine, or sprays about."),
        _("Let go, it shuts by itself; air goes off after each dose."),
        TRADE,
    ),
    Caution(
        "line-keeps-fluid",
        "WARNING",
        _("Fluid that stands in the line while the gun is on it."),
        _("It falls into the exhaust as the gun comes off, uncounted: it can lock the engine."),
        _("Free end low over a jug as the gun comes off; a metre holds up to 28 mL."),
        TRADE,
    ),
    Caution(
        "injection",
        "WARNING",
        _("A jet of fluid or air under pressure."),
        _("It goes through skin and gloves, and into the eye."),
        _(
            "No hand before the nozzle, none to feel for a leak. Through the skin: hospital "
            "at once."
        ),
        TRADE,
    ),
    Caution(
        "burn-in-hold",
        "WARNING",
        _("Soot that begins to burn while revs are held."),
        _("Duct and hose on the tailpipe burn, the filter melts."),
        _(
            "Only a duct for hot gas; the temperature is read with each pressure; at a climb the "
            "pedal is let go."
        ),
        BURN,
    ),
    Caution(
        "turbocharger",
        "NOTICE",
        _("A turbine shaft that is washed, or revved before its oil has come."),
        _("Its bearing fails, and the engine draws oil."),
        _("It idles a minute before revs and before a stop."),
        TRADE,
    ),
    Caution(
        "noise",
        "CAUTION",
        _("Minutes of raised revs in a bay, and compressed air."),
        _("They harm the hearing."),
        _("Hearing protection on; others out of the bay."),
        _("Control of Noise at Work Regulations 2005 (from memory, not read)"),
    ),
    Caution(
        "ammonia",
        "WARNING",
        _("Alkaline fluid on urea crystals gives off ammonia."),
        _("It burns eyes and airways."),
        _("Faces stay away from stub and tailpipe; at the smell everybody goes out."),
        TRADE,
    ),
    # -- people and hand-over --------------------------------------------------------------------
    Caution(
        "wrong-vehicle",
        "WARNING",
        _("Two like vehicles, or papers of another one."),
        _("Limits and readings of one are used on another."),
        _("Plate and the end of the chassis number both match the order."),
        TRADE,
    ),
    Caution(
        "young-person",
        "WARNING",
        _("An apprentice or a person under 18, alone or tired."),
        _("Risks are not recognised in time."),
        _(
            "A qualified person is present and supervises; alone: read with the engine stopped and "
            "advise, no more."
        ),
        _YOUNG,
    ),
    Caution(
        "alone",
        "WARNING",
        _("One person at the gun and at the key."),
        _("Nobody switches off, and nobody fetches help."),
        _(
            "Self-closing trigger, key within reach, a phone on the body, somebody who calls at a "
            "stated hour. Alone: a loaded volume up to the strict limit; nothing above it, no "
            "turning by hand, no recovery with fluid in."
        ),
        TRADE,
    ),
    Caution(
        "interruption",
        "WARNING",
        _("Work that was interrupted, and goes on from memory."),
        _("A step is missed, or done twice."),
        _("Engine, hose, gun, key and hands are looked at again before anything else."),
        _("Altmann and others 2014, interruptions and sequence errors (abstract)"),
    ),
    Caution(
        "do-not-start",
        "WARNING",
        _("A vehicle that looks ready, with fluid in or a fault open."),
        _("Whoever turns the key breaks the engine, or gets hurt."),
        _("The key is tagged; a DO NOT START notice is signed by who receives the vehicle."),
        START,
    ),
    Caution(
        "road-test",
        "WARNING",
        _("A road test with chocks, hoses, tools or leaks left, or with the wrong driver."),
        _("Crash, fire, or an uninsured drive."),
        _("Driver licensed and insured for the vehicle; everything out, bonnet shut, no leak."),
        _ROAD,
    ),
)
