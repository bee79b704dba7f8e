"""Hazards from fluid in the engine, and from heat, fumes and movement."""

from ..interlocks.sources import HSE_FUMES, HSE_SECURE, ISOLATE, LOCK, MACHINERY, TRADE
from .hazard import Hazard

_SOOT_BURNS = "WorkSafeBC, risk advisory on diesel particulate filters (undated; up to 600 degC)"

ENGINE: tuple[Hazard, ...] = (
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
        "others put in before arrival, is not in it; nor is old fluid beneath a loaded volume. "
        "Condensate and oil in the jug are taken off as if they were fluid; only a jug that holds "
        "more than was counted makes the count unknown.",
        "Say how long the trigger was open, load only what is permitted, keep the key. Above the "
        "extended limit, or unknown: qualified people open the cylinders before anybody cranks.",
        f"{LOCK} (undated); clearance volume by geometry: swept volume / (compression ratio - 1)",
    ),
    Hazard(
        "line-keeps-fluid",
        "Fluid left in the line after an idle drying",
        "It falls into the exhaust when the gun comes off, and locks the next start.",
        "the engine; people beside it if the casing breaks",
        (
            "dried with the gun on the line: no gas passes a line that is shut at one end",
            "a long line, or one with a sag: a metre of 6 mm bore holds 28 mL",
        ),
        ("revs-line-clear", "stop-with-fluid", "start-ledger"),
        ("line-keeps-fluid",),
        "After a drying at idle all that went in stays counted until the line was let out low over "
        "a jug, gun off; that it hung low, and that nothing more came, is a person's word. A sag, "
        "and the film on the wall, keep a few millilitres.",
        "Hold the free end low over a jug from the moment the gun comes off, lift any sag, and "
        "answer that it ran back where it did: then it counts, and nobody cranks.",
        "geometry: pi/4 x (6 mm)^2 x 1 m = 28.3 mL; that a shut line does not empty: common "
        "practice, no source",
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
        "volume. Between those two the extended dose rests on the filter holding its share, also "
        "for the 15 min between the turn and the start.",
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
        "A probe on the pipe does not see the hottest place in the core, and for ten minutes a "
        "pipe that warms again by itself passes for as cool as it was.",
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
        (
            *("spray-not-burning", "revs-not-burning", "spray-spill", "spray-sheet"),
            "abandon-gun-away",
        ),
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
        "It is tried once into the jug; it can stick at the next press. It sits on the line again "
        "for the first start and through an idle drying: what leaks then is in no count.",
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
        "Nothing here measures noise, nor adds up for how long the revs are held.",
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
)
