"""The questions that make the files of gun, fluid, workshop and people. Examples are invented."""

from .files import FluidFile, GunFile, PersonPart, WorkshopFile
from .questions import FileKind, Question

_Q = Question
_SHEET, _ALLOWS = "container and data sheet", "what its maker allows"
_OWN, _PLACE = "limits of your own", "the place"
_TIGHTEN = "it can tighten the worked limit, never loosen it"
_NO_OWN = "no limit of your own; the worked one stands"
_NO_FIGURE = "its maker gives no figure; the worked limit stands"
_RULE = "your own rules, if you have one"

GUN = FileKind(
    "gun",
    "the fluid gun",
    GunFile,
    (
        _Q("label", "What is the gun called here?", "it stands on the screen and the sheet",
           "your own words", "pressure gun, one litre"),
        _Q("bottle", "How much does its bottle hold?",
           "where nobody knows what went in, a full bottle is taken",
           "marks on the bottle, or fill it once from a jug",
           "1.0 L"),
        _Q("reaction", "How long from 'stop' until the trigger is shut?",
           "what sprays meanwhile is taken off every burst",
           "try it with water; in doubt take longer", "0.5 s"),
        _Q("self_closing", "Does the trigger shut when the hand lets go?",
           "who is alone sprays by time only with one that does", "try it with water", "yes"),
    ),
    {
        "jug_shots": "a rate from yesterday is not a rate: it is measured in the job",
        "practice_stops": "the one time above is asked; times of practice bursts are written "
        "into the file by hand",
    },
)  # fmt: skip

FLUID = FileKind(
    "fluid",
    "the cleaning fluid",
    FluidFile,
    (
        _Q("label", "What is the fluid called?", "it stands on the screen and the sheet",
           "its container", "aqueous filter cleaner", _SHEET),
        _Q("data_sheet", "Which safety data sheet have you got, which revision?",
           "it is kept with the job, which asks whether it is at hand",
           "the head of the sheet",
           "example sheet, revision 3", _SHEET),
        _Q("data_sheet_date", "Of what date is the sheet?",
           "a sheet that is years old is told at the step that reads it",
           "the head of the sheet", "2024-05-31", _SHEET),
        _Q("hazard_codes", "Which hazard statements does it name?",
           "they say what is worn; what feeds a fire is refused",
           "section 2 of the data sheet", "H315 H319", _SHEET),
        _Q("density", "What is its density?", "the drying time is worked with it",
           "section 9 of the data sheet", "1.01 kg/L", _SHEET),
        _Q("water_share", "What share of it is water?",
           "for drying all of it is taken as water; what is not is told",
           "section 3 of the data sheet, or ask its maker", "95 %", _SHEET),
        _Q("max_exhaust_engine_off", "How hot may the exhaust be, engine off?",
           "it can lower the worked limit, never raise it", "the fluid's instructions", "80 °C",
           _ALLOWS, _NO_FIGURE),
        _Q("max_exhaust_running", "How hot may the exhaust be, engine running?",
           "it can lower the worked limit, never raise it", "the fluid's instructions", "150 °C",
           _ALLOWS, _NO_FIGURE),
        _Q("maker_soak", "How long does its maker let it soak?",
           "a longer soak replaces the worked one, a shorter does not",
           "the fluid's instructions", "5 min", _ALLOWS, _NO_FIGURE),
    ),
    {},
)  # fmt: skip

WORKSHOP = FileKind(
    "workshop",
    "your workshop",
    WorkshopFile,
    (
        _Q("label", "What is the workshop called?", "it stands at the head of the sheet",
           "your own words", "workshop at the mill", _PLACE),
        _Q("altitude", "How high above the sea does it lie?",
           "air pressure, and so boiling and flow, depend on it", "a map", "120 m", _PLACE),
        _Q("air", "How warm is it usually in the bay?", "cooling and drying times depend on it",
           "a thermometer", "18 °C", _PLACE),
        _Q("address", "What is its address?", "it stands at the head of the sheet",
           "as on an order, on one line", "1 Mill Lane, Exampleton", _PLACE, "it is left out"),
        _Q("currency", "In which currency are prices told?",
           "a price typed as a bare number is kept with it",
           "three letters, as banks write them", "EUR", _PLACE,
           "prices are kept as they are typed"),
        _Q("off_dose", "Own limit: fluid with the engine off?", _TIGHTEN, _RULE, "10 mL", _OWN,
           _NO_OWN),
        _Q("running_dose", "Own limit: fluid with the engine running?", _TIGHTEN, _RULE, "300 mL",
           _OWN, _NO_OWN),
        _Q("rev_ceiling", "Own limit: speed without load?", _TIGHTEN, _RULE, "2500 1/min", _OWN,
           _NO_OWN),
        _Q("max_exhaust_engine_off", "Own limit: exhaust heat, engine off?", _TIGHTEN, _RULE,
           "60 °C", _OWN, _NO_OWN),
        _Q("max_exhaust_running", "Own limit: exhaust heat, engine running?", _TIGHTEN, _RULE,
           "150 °C", _OWN, _NO_OWN),
        _Q("max_touch", "Own limit: hottest part for bare hands?", _TIGHTEN, _RULE, "45 °C", _OWN,
           _NO_OWN),
        _Q("max_touch_gloved", "Own limit: hottest part for heat-proof gloves?", _TIGHTEN, _RULE,
           "100 °C", _OWN, _NO_OWN),
        _Q("soak", "Own limit: shortest soak?", _TIGHTEN, _RULE, "10 min", _OWN, _NO_OWN),
    ),
    {
        "cranking_pressure_ratio": "it means something only beside the working that 'steplatch "
        "limits' shows, so it is written into the file by hand",
        "bay_volume": "nothing is worked out from it; files that name it are taken",
    },
)  # fmt: skip

PERSON = FileKind(
    "people",
    "somebody who works here",
    PersonPart,
    (
        _Q("id", "What is the person's short name in the record?",
           "the journal holds it; it is never given to anybody else",
           "make one up: small letters, digits and -", "technician-1"),
        _Q("name", "What is the person's name?", "it is printed beside a signature",
           "ask them", "Example Technician"),
        _Q("role", "What may the person answer for?", "who may sign and check hangs on it",
           "what they are qualified for, not how long they are here", "technician"),
        _Q("under_18", "Is the person under 18?", "some work is refused to the young",
           "ask them", "no"),
    ),
    {"retired": "nobody new has retired; 'steplatch people retire' closes an id"},
)  # fmt: skip
