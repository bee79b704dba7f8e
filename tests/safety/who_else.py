"""Who else must act against a hazard: not the person at the vehicle, but who answers for bay,
fluid, gun, vehicle and people. The tool can ask none of them anything; it only says so.

All are common practice, no source, unless the hazard's own source says otherwise.
"""

WHO_ELSE: dict[str, str] = {
    "hydraulic-lock": "who owns the vehicle says what was put in before; who approves the dose "
    "stands for the vehicle's data; qualified people open the cylinders",
    "line-keeps-fluid": "the workshop keeps the line as short as the job allows, and clear to see "
    "through",
    "partial-lock": "who approves a retained volume stands for it; the customer is told what a "
    "partial lock can do later",
    "stall-in-spray": "a second person at the controls calls the sag",
    "hot-flash": "the workshop has a contact probe, checked against boiling water",
    "runaway": "the workshop has an air blank that fits, and the site a plan for a runaway",
    "oil-diluted": "the customer decides on the oil change, and on what broke the burns off",
    "burns": "the employer gives gloves marked for contact heat, and sees that they are dry",
    "fumes": "the employer measures the air, keeps the extraction and sets an alarm",
    "vehicle-moves": "the workshop has chocks that fit, and a level bay",
    "moving-parts": "the second person answers aloud before anything moves",
    "self-start": "the customer hands over every key; trained people see to high voltage",
    "over-revs": "the maker's data give the ceiling; who enters them answers for it",
    "fire": "the site has extinguishers, a way out and a meeting point; the fire service does the "
    "rest",
    "raised-vehicle": "the employer has lift and stands examined as the law asks",
    "stop-start": "the maker's data say how it is held off",
    "low-loop": "the maker's data say where recirculated gas is taken off, and how it is held shut",
    "fluid-vapour": "the supplier gives the data sheet, with flash point and residue",
    "gun-stays-open": "the workshop has the gun serviced, and takes one that drips out of use",
    "injection": "the site knows the hospital, and tells it what fluid it was",
    "burn-in-hold": "the workshop has a duct that bears hot gas",
    "hot-sensor-wetted": "the customer hears before the yes that a sensor can fail",
    "turbocharger": "the customer hears of play and oil found; a specialist measures it",
    "noise": "the employer assesses the noise and gives hearing protection",
    "ammonia": "the fluid's maker says whether it is alkaline; the employer sees to the air",
    "fluid-contact": "the employer assesses the fluid, gives gloves and goggles, and fills the "
    "eye wash",
    "foam": "the workshop keeps other cars and people out of the line of the tailpipe",
    "drains": "the site knows where its drains lead, and has a licensed carrier for the waste",
    "urea": "the makers of coating and fluid say whether they bear each other",
    "stub": "the customer hears before the yes that old plastic snaps",
    "sensor-wetted": "the customer hears that a wetted sensor may have to be replaced",
    "hose-off": "who releases the vehicle tugs at the hose",
    "wrong-sensor": "the maker's data show which sensor is which",
    "false-evidence": "the workshop has gauge and probe compared with another once a year",
    "filter-broken": "the customer decides on a new filter; the testing station looks at it",
    "battery": "the workshop has a stabilised supply that gives what the engine draws",
    "alone-or-young": "the employer says who works alone, and who calls at which hour",
    "check-outlived": "the checker comes again when called",
    "interruption": "whoever interrupts waits for the end of the step",
    "reliance": "who buys the link tries it on an engine that stalls",
    "wrong-vehicle": "who takes the order writes plate and chassis number from the vehicle",
    "handed-over-latched": "who receives the vehicle signs for the notice, and keeps it standing",
    "road-test": "the employer insures the drive and sees the licence",
}
"""By the id of the hazard."""
