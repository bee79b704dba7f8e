"""The hazard register: what can hurt whom, which interlocks and cautions answer it, what is left.

An interlock refuses an act on what people report; it senses and moves nothing. So each hazard
names what is **left over** and what **only a person can do**. Local rules, the maker's data and
the fluid's data sheet stand above every line.
"""

from dataclasses import dataclass

from ..interlocks.sources import (
    AMC,
    COSHH,
    HSE_FUMES,
    HSE_SECURE,
    ISOLATE,
    LOCK,
    MACHINERY,
    TRADE,
)


@dataclass(frozen=True, slots=True)
class Hazard:
    """One hazard. ``interlocks`` and ``cautions`` are ids of the other two registers.

    ``source`` says where it is known from that this happens, or that there is no source.
    """

    id: str
    title: str
    harm: str
    who: str
    causes: tuple[str, ...]
    interlocks: tuple[str, ...]
    cautions: tuple[str, ...]
    left_over: str
    only_a_person_can: str
    source: str


_SOOT_BURNS = "WorkSafeBC, risk advisory on diesel particulate filters (undated; up to 600 degC)"


HAZARDS: tuple[Hazard, ...] = (
    # -- fluid and the engine ----------------------------------------------------------------
    Hazard(
        "hydraulic-lock",
        "Hydraulic lock",
        "A rod bends or breaks at the first crank; the engine is lost.",
        "the customer's engine; people beside it if the casing breaks",
        (
            "more fluid runs back than a cylinder holds at the top of its stroke",
            "a burst timed by a rate that is no longer true, or by a slip at the jug",
            "a crank before the fluid has settled",
        ),
        (
            *("start-ledger", "start-soak", "start-check", "start-no-fluid-trip", "turn-soaked"),
            *("spray-off-ledger", "spray-rate", "spray-check", "spray-off-pair", "reset-fluid"),
            *("spray-before-first", "spray-off-burst"),
        ),
        ("hydraulic-lock", "bar-kicks"),
        "The ledger is an upper bound of what was reported. Fluid that nobody reported, or that "
        "others put in before arrival, is not in it.",
        "Say how long the trigger was open, load only what is permitted, keep the key. Above the "
        "extended limit, or unknown: qualified people open the cylinders before anybody cranks.",
        f"{LOCK} (undated); clearance volume by geometry: swept volume / (compression ratio - 1)",
    ),
    Hazard(
        "partial-lock",
        "A partial lock that starts and fails later",
        "A bent rod lets go on the road.",
        "driver and others on the road; the engine",
        ("less fluid than fills a cylinder, yet more than the strict limit in one cylinder",),
        ("start-ledger", "start-check", "stop-with-fluid", "reset-fluid"),
        ("partial-lock",),
        "Turning by hand finds a full cylinder, not one between strict limit and clearance "
        "volume. Between those two the extended dose rests on the filter holding its share.",
        "Feel that all compressions are alike, hear an even beat in the first 2 s, and compare "
        "even cranking with fuelling off before and after where that can be done.",
        f"{LOCK} (undated), which says that a partial lock can be the more serious one",
    ),
    Hazard(
        "stall-in-spray",
        "A stall during a running spray",
        "Fluid runs back with nothing to carry it out; the next crank locks.",
        "the engine",
        ("the spray outruns what the idle can carry", "the sag is not heard or not acted on"),
        (
            *("spray-running-idle", "spray-running-ledger", "start-no-fluid-trip", "start-ledger"),
            *("reset-possible", "reset-recovered", "reset-fluid", "stop-with-fluid"),
        ),
        ("stall-with-fluid",),
        "Between sag and stall lies about a second.",
        "Shut the gun on the sag; look into the engine side of the turbine, with a second person.",
        TRADE,
    ),
    Hazard(
        "hot-flash",
        "Fluid into a hot exhaust",
        "Steam and fluid blow back at the stub into the face; the core cracks.",
        "who holds the gun; the filter",
        ("exhaust not measured, or measured too long ago", "soot burning in the filter"),
        ("spray-off-cool", "spray-running-band", "spray-not-burning"),
        ("steam-at-stub", "thermal-shock", "hot-foam"),
        "A probe on the pipe does not see the hottest place in the core.",
        "Keep the face to the side; use the contact probe on bare pipe.",
        TRADE,
    ),
    Hazard(
        "runaway",
        "Engine runaway from oil",
        "The engine bursts and throws parts.",
        "everybody near",
        ("oil over the mark or thinned by fuel", "a worn turbo; revs raised on a blocked filter"),
        ("revs-ceiling", "run-controls", "run-oil"),
        ("runaway", "oil-overfull"),
        "Oil is judged on the dipstick, not measured, and is read again only after an overdose or "
        "a stall with fluid in.",
        "Read the dipstick before running; stay out of the line of the flywheel; have the air "
        "blank at hand where the intake can be reached safely.",
        TRADE,
    ),
    Hazard(
        "oil-diluted",
        "Oil diluted or over-full",
        "Bearings wear, or the engine feeds on its own oil.",
        "the engine; people near it in a runaway",
        ("fuel from broken-off burns", "fluid past the rings after an overdose"),
        ("reset-recovered", "run-oil"),
        ("oil-overfull",),
        "A smell and a level do not measure a few percent of fuel.",
        "Read, smell, and change the oil before any burn where in doubt.",
        TRADE,
    ),
    # -- heat, fumes, movement ---------------------------------------------------------------
    Hazard(
        "burns",
        "Burns from exhaust, turbo and filter",
        "Burnt hands and forearms.",
        "who works at the hose",
        (
            "time since the stop taken for a measurement",
            "the limit for fluid taken for one for hands",
            "heat soaking back out of turbine and filter after a stop",
            "an infrared reading of a shiny pipe",
        ),
        ("hose-cool", "refit-idle"),
        ("hot-exhaust", "probe-misleads"),
        "One place is measured; parts beside it may be hotter. Heat-proof gloves end at the wrist, "
        "hold for seconds, and conduct when wet; nobody reads their marking for you. Only the pull "
        "of the hose asks for it: gun off and hose on are done in the same minutes.",
        "Measure where the hand will be; gloves dry, whole and marked for contact heat, sleeves "
        "over their cuffs; whoever holds the lamp wears them too.",
        f"ISO 13732-1:2006, hot surfaces, burn thresholds (scope read); {_SOOT_BURNS}",
    ),
    Hazard(
        "fumes",
        "Exhaust fumes indoors",
        "Carbon monoxide kills; diesel smoke causes cancer.",
        "everybody in the room",
        ("no extraction, or it slips off", "an open door taken for ventilation"),
        ("run-fumes", "reset-attended"),
        ("fumes-indoors",),
        "Nothing here measures the air.",
        "Carry an alarm, obey the site's own rules, leave when unwell.",
        f"{HSE_FUMES} (web page, undated); HSE, EH40/2005, exposure limits of 2018",
    ),
    Hazard(
        "vehicle-moves",
        "The vehicle moves",
        "People are crushed.",
        "who stands in front or behind",
        ("gear engaged, brake off, chocks missing",),
        ("run-secured", "run-controls", "road-ready", "reset-attended"),
        ("vehicle-rolls",),
        "A look can be wrong; chocks slip on wet floors.",
        "Pull at the chocks; keep everybody out of the line of travel.",
        f"{HSE_SECURE} (web page, undated)",
    ),
    Hazard(
        "moving-parts",
        "Hands at belts, fan or crank",
        "Lost fingers, broken wrists.",
        "who works in the engine bay",
        (
            *("hands in while another starts", "refit at idle too near the belts"),
            "a bar left on the crank bolt",
        ),
        (
            *("start-hands-clear", "hands-in-still", "hands-told", "refit-idle", "refit-hands"),
            *("start-only-when-stopped", "start-bar-off", "reset-attended"),
        ),
        ("moving-parts", "bar-kicks", "bar-left-on"),
        "The tool cannot see a hand.",
        "Show the hands, say the words aloud, wait for the answer.",
        f"{ISOLATE}; {MACHINERY}.3 (deliberate start)",
    ),
    Hazard(
        "self-start",
        "A vehicle that starts by itself",
        "It cranks with hands in or with fluid in; high voltage in hybrids.",
        "who works in the engine bay; the engine",
        ("keyless entry in range", "stop-start or hybrid drive awake with the ignition on"),
        (
            *("hands-in-still", "spray-off-still", "ignition-not-in-soak", "start-hands-clear"),
            *("try-disabled", "try-before-fluid", "fluid-start-tried"),
        ),
        ("self-start", "hybrid-voltage", "heaters-awake"),
        "The try proves one moment, before fluid; afterwards only a look says that the same relay, "
        "fuse or lead is still out.",
        "Hold the box; know where the spare key is; leave orange cables to trained people.",
        f"{ISOLATE}; {MACHINERY}.3; that such vehicles start by themselves: {TRADE}",
    ),
    Hazard(
        "over-revs",
        "Revs over the ceiling",
        "Parts fail; a blocked filter drives oil and heat back.",
        "the engine; people near it",
        ("a band asked for above the ceiling", "revs raised from something else than idle"),
        ("revs-ceiling", "revs-from-idle", "revs-hose-on", "revs-gun-away"),
        ("over-revs",),
        "The pedal is a foot; the tool only hears about it.",
        "Watch the speed while holding it, and let go early.",
        TRADE,
    ),
    Hazard(
        "fire",
        "Fire, or soot that begins to burn in or under the car",
        "Burns, a lost vehicle, a lost building.",
        "everybody near; property",
        (
            "a burn that begins by itself at raised revs",
            "rags, grass or fluid under a hot filter",
            "wash fluid that the data sheet calls flammable",
        ),
        ("spray-not-burning", "revs-not-burning", "spray-spill", "spray-sheet"),
        ("burning-soot", "hot-ground"),
        "A burn can begin at any time while it runs.",
        "Keep an extinguisher and the way out; leave, call, do not go back for the car.",
        _SOOT_BURNS,
    ),
    Hazard(
        "raised-vehicle",
        "A raised vehicle comes down",
        "People under it or beside it are crushed.",
        "who works under or beside it; the vehicle",
        (
            "a jack taken for a stand, lift arms without their locks, air suspension that sinks",
            "a wheel off for the crank bolt, then a start or raised revs",
        ),
        ("lift-carries", "lift-down", "run-secured"),
        ("raised-vehicle",),
        "The tool believes what is said of stands and locks. Whoever bends to look underneath in "
        "between is asked nothing.",
        "Push at it before anybody reaches under it; wheel on and down before revs; sink the air "
        "suspension or lock it by the maker's way first.",
        f"{HSE_SECURE} (web page, undated): jacks and axle stands, arm locks engaged",
    ),
    Hazard(
        "stop-start",
        "Automatic stop-start in the spray",
        "It stops with fluid on its way in, and cranks by itself.",
        "the engine; who holds the gun",
        ("stop-start wakes anew at each start",),
        ("spray-stop-start", "spray-running-idle"),
        ("stop-start",),
        "A switch can be pressed again, and some vehicles ignore it.",
        "Look at its lamp after the start; pedal or gear as the maker's data say.",
        TRADE,
    ),
    Hazard(
        "low-loop",
        "Fluid drawn to the intake by recirculation from behind the filter",
        "Filtrate reaches cooler, compressor and charge cooler, and locks the engine from there.",
        "the engine; the compressor wheel",
        ("gas taken off behind the filter, its valve open in the spray or in the drying run",),
        ("fluid-low-loop",),
        ("low-loop",),
        "Held shut is what a person saw once; a valve can leak, and a controller can move it.",
        "Hold it shut in a way that stays, look at the valve while it runs, and open the lowest "
        "point of the charge cooler where in doubt.",
        TRADE,
    ),
    Hazard(
        "fluid-vapour",
        "Vapour or residue of the fluid that burns",
        "A flash at the stub, at the tailpipe or in the intake; residue burns at the next burn.",
        "who holds the gun; everybody near; the filter",
        (
            "a fluid classed flammable, or of unknown flash point, on a hot exhaust",
            "residue left in the filter, burnt at the next regeneration",
        ),
        ("spray-flash", "spray-sheet", "spray-running-band", "after-only-dried"),
        ("fluid-vapour",),
        "A fluid above 60 degC flash point is not called flammable, and can still burn on metal "
        "at 200 degC. What it leaves behind is known to its maker alone.",
        "Read sections 2, 9 and 10; keep sparks and lamps away; the first burn afterwards is "
        "watched, outdoors or on the road.",
        "EU CLP Regulation, Annex I 2.6 (text of 2025, read as an extract); the data sheet",
    ),
    Hazard(
        "gun-stays-open",
        "A gun that does not shut by itself",
        "Fluid goes on going in after the trigger is let go, and through the soak.",
        "the engine; who holds the gun",
        ("worn seals, a trigger catch, dirt in the valve",),
        ("spray-trigger", "spray-coupled", "revs-gun-away"),
        ("gun-stays-open",),
        "It is tried once into the jug; it can stick at the next press.",
        "Air off and gun off the hose after each dose; watch the level in the gun.",
        TRADE,
    ),
    Hazard(
        "injection",
        "Fluid or air under pressure through skin or into an eye",
        "A wound that looks small and costs the finger or the eye.",
        "who holds the gun",
        ("a finger held before the nozzle", "an adaptor that lets go under air"),
        ("fluid-kit", "spray-coupled", "spray-trigger"),
        ("injection",),
        "Gloves do not stop a jet. Whether one went through the skin is seen by nobody here.",
        "Never feel for a leak with a hand. Through the skin: to hospital at once, however small "
        "it looks, with the data sheet; an eye: rinse first, then to hospital.",
        TRADE,
    ),
    Hazard(
        "burn-in-hold",
        "Soot begins to burn while revs are held",
        "Extraction hose or foam duct burns; the filter melts.",
        "everybody in the room; the filter",
        ("a dried, loaded filter at raised revs", "a duct that bears no hot gas"),
        ("revs-not-burning", "run-fumes"),
        ("burn-in-hold",),
        "The flag is read before the revs and again after half an hour; in between only the "
        "vehicle's own report, where it is linked, or whoever reads the temperature sees a burn.",
        "Read the exhaust temperature with each pressure; at a climb let go the pedal, leave it "
        "idling, take the duct off, clear the ground.",
        _SOOT_BURNS,
    ),
    Hazard(
        "hot-sensor-wetted",
        "Hot oxygen or nitrogen oxide sensor wetted",
        "Its ceramic cracks.",
        "the customer's sensor",
        ("heaters awake while wet, or fluid on a hot sensor in the spray",),
        ("ignition-not-in-soak", "spray-running-band"),
        ("heaters-awake",),
        "Nobody knows where the drops go in the pipe; with the engine running the heaters are on. "
        "What was looked up forbids nothing: the customer hears it.",
        "Before fluid look up where such sensors sit, and whether their heaters can be left off.",
        TRADE,
    ),
    Hazard(
        "turbocharger",
        "Turbine bearing washed or run dry of oil",
        "The bearing fails, oil reaches the exhaust, and the engine may run away.",
        "the engine; everybody near in a runaway",
        ("fluid against a worn shaft seal", "revs straight after a start with fluid in"),
        ("revs-from-idle", "revs-ceiling", "run-oil"),
        ("turbocharger",),
        "Play at the shaft is not measured here.",
        "Let it idle a minute before revs and before a stop; look for oil at its joints.",
        TRADE,
    ),
    Hazard(
        "noise",
        "Noise at raised revs, and of compressed air",
        "Hearing is harmed.",
        "everybody beside the vehicle",
        ("minutes of raised revs in a closed bay", "a line blown free beside the ear"),
        ("revs-ceiling",),
        ("noise",),
        "Nothing here measures noise.",
        "Hearing protection on before revs and before air; others out of the bay.",
        "Control of Noise at Work Regulations 2005 (from memory, not read)",
    ),
    Hazard(
        "ammonia",
        "Ammonia from alkali on urea deposits",
        "It burns eyes and airways.",
        "who stands at tailpipe and stub",
        ("an alkaline fluid on urea crystals, warmed",),
        ("fluid-coating", "run-fumes", "fluid-kit"),
        ("ammonia",),
        "Crystals are not seen from outside; extraction takes gas at the tailpipe alone.",
        "Where urea is dosed before or behind the filter: nose and face away, stop at the smell.",
        TRADE,
    ),
    # -- fluid, people, environment ----------------------------------------------------------
    Hazard(
        "fluid-contact",
        "Fluid on skin, in eyes, breathed as mist",
        "Burns of eyes and skin, harm to the lungs.",
        "everybody at the vehicle",
        ("no data sheet, or that of another product", "adaptor not seated with the air on"),
        ("spray-sheet", "fluid-kit", "spray-coupled", "couple-hose-off", "crew-may-run"),
        ("fluid-splash", "fluid-mist", "gun-pressure"),
        "Protection is the last line: gloves tear, mist drifts. That an eye wash stands there says "
        "not that it is full.",
        "Read sections 2, 4 and 8; know where the eye wash is.",
        f"{COSHH}; EU CLP Regulation, Annex I (text of 2025)",
    ),
    Hazard(
        "foam",
        "Foam and soot at tailpipe and joints",
        "Irritated skin and eyes, slips, stained paint.",
        "people behind the vehicle; cars beside it",
        ("foam driven out at the first firing and at raised revs", "an open port at a start"),
        ("start-port-shut", "spray-spill", "fluid-kit"),
        ("foam-at-tailpipe", "hot-foam", "hose-blowback"),
        "Joints leak where nobody looked.",
        "Set tray and cover, move other cars, wipe up at once.",
        TRADE,
    ),
    Hazard(
        "drains",
        "Fluid, soot and ash into drains",
        "Pollution, and an offence.",
        "the water; the workshop",
        ("uncovered drains", "rinsing the floor"),
        ("spray-spill",),
        ("drains",),
        "Classifying the waste is the producer's duty.",
        "Cover, collect, label, and hand over to an authorised carrier.",
        "Environmental Permitting (England and Wales) Regulations 2016 (SI 2016/1154), regs 12 and "
        "38 (from memory; title and commencement read as of 2017-01-01); the site's consent",
    ),
    Hazard(
        "urea",
        "Urea system near by",
        "Harmed coating, crystals on skin.",
        "the customer's exhaust; who works there",
        ("a coated filter; a urea injector in front of the filter",),
        ("spray-triage", "fluid-coating"),
        ("urea-system",),
        "Whether a coating bears the fluid is known to its makers alone; where nobody can say, a "
        "written warning stands in its place.",
        "Look it up, and ask both makers.",
        TRADE,
    ),
    # -- parts and evidence ------------------------------------------------------------------
    Hazard(
        "stub",
        "Snapped sensor stub or damaged sensor",
        "A new sensor, an open port.",
        "the customer's sensor",
        ("levered from the side", "air pressure or suction on the sensor"),
        ("hose-cool", "hose-which", "revs-hose-on"),
        ("stub-snaps", "sensor-overpressure"),
        "Old plastic snaps under the best of hands.",
        "Warm it, twist it in line, stop when it does not come.",
        TRADE,
    ),
    Hazard(
        "sensor-wetted",
        "Fluid on the sensor",
        "Readings that are wrong from then on.",
        "the customer's sensor; who relies on the verdict",
        ("gun on a hose that is still on its sensor", "refit with fluid in the hose"),
        ("couple-hose-off", "revs-line-clear", "refit-hands"),
        ("sensor-wetted",),
        "A drop may hang in a sag of the hose.",
        "Blow it until nothing more comes, and lay it without a sag.",
        f"{TRADE}; hydrostatics: 1 cm of water is 0.98 mbar",
    ),
    Hazard(
        "hose-off",
        "Reading or revving with the hose off",
        "A blocked filter passes for a clean one, and is revved unwatched.",
        "the engine; the customer",
        ("hose not refitted, or not tugged",),
        ("revs-hose-on", "hand-over-still"),
        ("hose-off-reading",),
        "A hose can hold a tug and leak.",
        "Raise the revs gently and see the pressure rise.",
        TRADE,
    ),
    Hazard(
        "wrong-sensor",
        "The wrong one of two like sensors",
        "Fluid into another system; readings of another part.",
        "the customer's engine",
        ("two sensors side by side", "hoses swapped at the refit"),
        ("hose-which",),
        ("wrong-sensor", "line-name"),
        "A hose traced by hand can be lost behind a cover.",
        "Trace the whole length, and see which reading moves.",
        TRADE,
    ),
    Hazard(
        "false-evidence",
        "Readings that mislead",
        "A good filter is cleaned, a bad one is passed, the customer is misled.",
        "customer and workshop",
        (
            "no 'before', or a 'before' after fluid",
            "an 'after' from a wet filter or a sensor with a zero error",
            "codes cleared before they were written down",
        ),
        (
            *("zero-stopped", "before-only-dry", "after-only-dried", "codes-saved-first"),
            *("codes-after-readings", "spray-before-first", "run-on-running"),
        ),
        ("wet-reading", "line-name", "codes-erased", "ash-counter"),
        "A number typed from another line or another day looks like a right one.",
        "Type what is shown, take the photograph, say x for what is not shown.",
        TRADE,
    ),
    Hazard(
        "filter-broken",
        "Filter missing, cracked or melted",
        "Soot passes; the clean makes a low reading lower; driving is an offence.",
        "the public; the customer",
        ("a core broken before the job", "a core cracked by cold fluid on hot ceramic"),
        ("spray-triage", "spray-off-cool", "fluid-diesel", "fluid-foul"),
        ("filter-damaged", "thermal-shock"),
        "A crack that bypasses little stays unseen.",
        "Look at the outlet, tap the casing, believe a pressure that is too low.",
        "Road Vehicles (Construction and Use) Regulations 1986, reg. 61A(3) (read in trade press; "
        "the year from memory)",
    ),
    Hazard(
        "battery",
        "Battery flat or gassing",
        "A slow crank that hides a locked cylinder; burns, explosion.",
        "the engine; who works at the battery",
        ("long work with the ignition on", "charging near sparks"),
        ("spray-spill",),
        ("battery-low",),
        "Support is asked for as one item among those that must be ready.",
        "Connect a stabilised supply, eyes covered, no rings on the fingers.",
        "HSE, INDG139 (undated; read in a secondary page)",
    ),
    # -- people and organisation -------------------------------------------------------------
    Hazard(
        "alone-or-young",
        "Tired or alone; apprentice; person under 18",
        "A risk is not seen, and nobody switches off.",
        "the apprentice; the one who works alone",
        (
            "nobody qualified stays",
            "the same person does and checks, and sees what is expected",
            "alone: hurt, unwell or held fast, and nobody comes",
        ),
        (
            *("crew-may-run", "spray-off-pair", "turn-pair", "run-controls", "spray-check"),
            *("start-check", "reset-recovered", "hand-over-signed"),
        ),
        ("young-person", "alone"),
        "The tool believes who is said to be here, and does not see tiredness. A second look by "
        "the same eyes misses what the first missed: alone, that a wrong volume was loaded, that "
        "fluid of before is in, or that soak and port are not as said, is caught by nobody. What "
        "bounds it is the dose alone: all of a strict dose in one cylinder is borne, if the "
        "vehicle's data are right. A spill, a burn or a stall finds one pair of hands.",
        "Say at the start who stays; send the tired one home. Alone: a phone on the body, "
        "somebody who calls at a stated hour, the syringe read twice, and stop and wait for help "
        "where two are asked for.",
        "Management of Health and Safety at Work Regulations 1999, reg. 19",
    ),
    Hazard(
        "check-outlived",
        "A signature that outlives what was looked at",
        "A spray, a start or a hand-over rests on a look at something that has moved since.",
        "everybody at the vehicle; the customer",
        ("hose, gun, dose, crew or order change after the check", "work goes on after the release"),
        ("spray-check", "start-check", "hand-over-signed"),
        ("interruption",),
        "What moves and is not told ends no check.",
        "Sign last, just before the act; say what was touched afterwards, and sign again.",
        f"{TRADE}; {AMC}",
    ),
    Hazard(
        "interruption",
        "Interruption and resume",
        "A step is left out or done twice; the state is assumed.",
        "everybody at the vehicle",
        ("telephone, crash, end of shift",),
        ("start-only-when-stopped", "start-ledger", "spray-coupled", "start-hands-clear"),
        ("interruption",),
        "The answer to 'was anything done meanwhile?' is believed.",
        "Walk round the vehicle before answering.",
        "Altmann and others 2014, interruptions and sequence errors (abstract read)",
    ),
    Hazard(
        "reliance",
        "Reliance on the screen",
        "Nobody listens any more: a stall, a runaway or a burn is noticed late.",
        "everybody at the vehicle, where a link shows what the engine does",
        (
            "a value that is late, frozen or wrong is taken for the engine",
            "a link that is lost while the gun is open",
            "a screen that is silent is taken for a vehicle that is well",
        ),
        ("spray-running-idle", "start-only-when-stopped", "spray-not-burning"),
        ("over-revs", "burning-soot"),
        "The vehicle's report is made for emissions, is late by up to a second, and can be wrong; "
        "it refuses and trips, and permits nothing.",
        "Ears and eyes first; shut the gun when the link is lost; type what is true.",
        f"{TRADE}; that the vehicle is a witness and no guard is a design choice",
    ),
    Hazard(
        "wrong-vehicle",
        "The wrong vehicle",
        "Limits of one engine used on another.",
        "the customer's engine",
        ("two like vans in the yard", "papers swapped"),
        ("spray-identity", "spray-agreed"),
        ("wrong-vehicle",),
        "Both places can be copied from the same paper.",
        "Read plate and chassis number from the vehicle itself.",
        TRADE,
    ),
    Hazard(
        "handed-over-latched",
        "Handed over or left with a fault latched",
        "Somebody starts an engine with fluid in, or drives with a hose off.",
        "customer, driver, the next person at the key",
        ("a trip forgotten overnight", "no notice on the key"),
        (
            *("no-trip-latched", "hand-over-still", "hand-over-codes", "hand-over-signed"),
            *("hand-over-dry", "abandon-tagged", "reset-possible", "reset-recovered"),
            "revs-gun-away",
        ),
        ("do-not-start",),
        "A tag can be taken off.",
        "Hand the notice over in person, and have it signed.",
        f"{MACHINERY}.4 (a reset does not restart); {AMC}",
    ),
    Hazard(
        "road-test",
        "Road test not made ready",
        "Crash, fire, uninsured drive; fluid sucked through at load.",
        "driver, public",
        ("chocks, hoses or tools left", "driver without licence or insurance", "filter still wet"),
        ("road-ready", "road-dry", "revs-hose-on", "crew-may-run"),
        ("road-test", "hot-ground"),
        "Licence and insurance are taken on a person's word.",
        "Show the licence; walk round the vehicle; drive the last mile gently.",
        "Road Traffic Act 1988, s87 and s143",
    ),
)
"""Every hazard; the order is that of the printed register."""
