"""The questions that make the files of gun, fluid, workshop and people. Examples are invented."""

from steplatch.safety.catalogue import _

from .files import FluidFile, GunFile, PersonPart, WorkshopFile
from .questions import FileKind, Question

_Q = Question
_SHEET, _ALLOWS = _("container and data sheet"), _("what its maker allows")
_OWN, _PLACE = _("limits of your own"), _("the place")
_TIGHTEN = _("it can tighten the worked limit, never loosen it")
_NO_OWN = _("no limit of your own; the worked one stands")
_NO_FIGURE = _("its maker gives no figure; the worked limit stands")
_RULE = _("your own rules, if you have one")

GUN = FileKind(
    "gun",
    _("the fluid gun"),
    GunFile,
    (
        _Q("label", _("What is the gun called here?"), _("it stands on the screen and the sheet"),
           _("your own words"), _("pressure gun, one litre")),
        _Q("bottle", _("How much does its bottle hold?"),
           _("where nobody knows what went in, a full bottle is taken"),
           _("marks on the bottle, or fill it once from a jug"),
           "1.0 L"),
        _Q("reaction", _("How long from 'stop' until the trigger is shut?"),
           _("what sprays meanwhile is taken off every burst"),
           _("try it with water; in doubt take longer"), "0.5 s"),
        _Q("self_closing", _("Does the trigger shut when the hand lets go?"),
           _("who is alone sprays by time only with one that does"), _("try it with water"), "yes"),
    ),
    {
        "jug_shots": _("a rate from yesterday is not a rate: it is measured in the job"),
        "practice_stops": _("the one time above is asked; times of practice bursts are written "
        "into the file by hand"),
    },
)  # fmt: skip

FLUID = FileKind(
    "fluid",
    _("the cleaning fluid"),
    FluidFile,
    (
        _Q(
            "label",
            _("What is the fluid called?"),
            _("it stands on the screen and the sheet"),
            _("its container"),
            _("aqueous filter cleaner"),
            _SHEET,
        ),
        _Q(
            "data_sheet",
            _("Which safety data sheet have you got, which revision?"),
            _("it is kept with the job, which asks whether it is at hand"),
            _("the head of the sheet"),
            _("example sheet, revision 3"),
            _SHEET,
        ),
        _Q(
            "data_sheet_date",
            _("Of what date is the sheet?"),
            _("a sheet that is years old is told at the step that reads it"),
            _("the head of the sheet"),
            "2024-05-31",
            _SHEET,
        ),
        _Q(
            "hazard_codes",
            _("Which hazard statements does it name?"),
            _("they say what is worn; what feeds a fire is refused"),
            _("section 2 of the data sheet"),
            "H315 H319",
            _SHEET,
        ),
        _Q(
            "density",
            _("What is its density?"),
            _("the drying time is worked with it"),
            _("section 9 of the data sheet"),
            "1.01 kg/L",
            _SHEET,
        ),
        _Q(
            "water_share",
            _("What share of it is water?"),
            _("for drying all of it is taken as water; what is not is told"),
            _("section 3 of the data sheet, or ask its maker"),
            "95 %",
            _SHEET,
        ),
        _Q(
            "max_exhaust_engine_off",
            _("How hot may the exhaust be, engine off?"),
            _("it can lower the worked limit, never raise it"),
            _("the fluid's instructions"),
            "80 °C",
            _ALLOWS,
            _NO_FIGURE,
        ),
        _Q(
            "max_exhaust_running",
            _("How hot may the exhaust be, engine running?"),
            _("it can lower the worked limit, never raise it"),
            _("the fluid's instructions"),
            "150 °C",
            _ALLOWS,
            _NO_FIGURE,
        ),
        _Q(
            "maker_soak",
            _("How long does its maker let it soak?"),
            _("a longer soak replaces the worked one, a shorter does not"),
            _("the fluid's instructions"),
            "5 min",
            _ALLOWS,
            _NO_FIGURE,
        ),
    ),
    {},
)

WORKSHOP = FileKind(
    "workshop",
    _("your workshop"),
    WorkshopFile,
    (
        _Q(
            "label",
            _("What is the workshop called?"),
            _("it stands at the head of the sheet"),
            _("your own words"),
            _("workshop at the mill"),
            _PLACE,
        ),
        _Q(
            "altitude",
            _("How high above the sea does it lie?"),
            _("air pressure, and so boiling and flow, depend on it"),
            _("a map"),
            "120 m",
            _PLACE,
        ),
        _Q(
            "air",
            _("How warm is it usually in the bay?"),
            _("cooling and drying times depend on it"),
            _("a thermometer"),
            "18 °C",
            _PLACE,
        ),
        _Q(
            "address",
            _("What is its address?"),
            _("it stands at the head of the sheet"),
            _("as on an order, on one line"),
            _("1 Mill Lane, Exampleton"),
            _PLACE,
            _("it is left out"),
        ),
        _Q(
            "currency",
            _("In which currency are prices told?"),
            _("a price typed as a bare number is kept with it"),
            _("three letters, as banks write them"),
            "EUR",
            _PLACE,
            _("prices are kept as they are typed"),
        ),
        _Q(
            "off_dose",
            _("Own limit: fluid with the engine off?"),
            _TIGHTEN,
            _RULE,
            "10 mL",
            _OWN,
            _NO_OWN,
        ),
        _Q(
            "running_dose",
            _("Own limit: fluid with the engine running?"),
            _TIGHTEN,
            _RULE,
            "300 mL",
            _OWN,
            _NO_OWN,
        ),
        _Q(
            "rev_ceiling",
            _("Own limit: speed without load?"),
            _TIGHTEN,
            _RULE,
            "2500 1/min",
            _OWN,
            _NO_OWN,
        ),
        _Q(
            "max_exhaust_engine_off",
            _("Own limit: exhaust heat, engine off?"),
            _TIGHTEN,
            _RULE,
            "60 °C",
            _OWN,
            _NO_OWN,
        ),
        _Q(
            "max_exhaust_running",
            _("Own limit: exhaust heat, engine running?"),
            _TIGHTEN,
            _RULE,
            "150 °C",
            _OWN,
            _NO_OWN,
        ),
        _Q(
            "max_touch",
            _("Own limit: hottest part for bare hands?"),
            _TIGHTEN,
            _RULE,
            "45 °C",
            _OWN,
            _NO_OWN,
        ),
        _Q(
            "max_touch_gloved",
            _("Own limit: hottest part for heat-proof gloves?"),
            _TIGHTEN,
            _RULE,
            "100 °C",
            _OWN,
            _NO_OWN,
        ),
        _Q("soak", _("Own limit: shortest soak?"), _TIGHTEN, _RULE, "10 min", _OWN, _NO_OWN),
    ),
    {
        "cranking_pressure_ratio": _(
            "it means something only beside the working that 'steplatch "
            "limits' shows, so it is written into the file by hand"
        ),
        "bay_volume": _("nothing is worked out from it; files that name it are taken"),
    },
)

PERSON = FileKind(
    "people",
    _("somebody who works here"),
    PersonPart,
    (
        _Q("id", _("What is the person's short name in the record?"),
           _("the journal holds it; it is never given to anybody else"),
           _("make one up: small letters, digits and -"), "technician-1"),
        _Q("name", _("What is the person's name?"), _("it is printed beside a signature"),
           _("ask them"), _("Example Technician")),
        _Q("role", _("What may the person answer for?"), _("who may sign and check hangs on it"),
           _("what they are qualified for, not how long they are here"), "technician"),
        _Q("under_18", _("Is the person under 18?"), _("some work is refused to the young"),
           _("ask them"), "no"),
    ),
    {"retired": _("nobody new has retired; 'steplatch people retire' closes an id")},
)  # fmt: skip
