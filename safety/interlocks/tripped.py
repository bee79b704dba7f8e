"""What a latched trip forbids, and what a reset asks (invariants 1 and 7)."""

from ..bay import Act, Crew, Engine, FluidIn, Hands, Inspection, Recovery, Trip
from ..catalogue import _
from .attended import CONTROLLED, FUMES_GONE, SECURE
from .language import Interlock, Rule, both, either, is_, row
from .sources import HSE_SECURE, LOCK, MACHINERY
from .volumes import CRANKS, TURNED, WET_EXTENDED, WET_NONE, WET_STRICT

_FLUID_TRIPS = frozenset(
    {
        Trip.OVERDOSE,
        Trip.STALLED,
        Trip.HARD_TURN,
        Trip.UNEVEN_CRANK,
        Trip.SELF_STARTED,
        Trip.UNPERMITTED,
    }
)

_NOT_AFTER_TRIP = tuple(
    a
    for a in Act
    if a
    not in {
        Act.STOP_ENGINE,
        Act.UNCOUPLE_GUN,
        Act.HANDS_IN,
        Act.HAND_TURN,
        Act.ABANDON,
        Act.RESET,
        Act.START,
        Act.RUN_ON,
        Act.CLEAR_LINE,
        Act.PUT_HOSE_ON,
        Act.HANDS_AT_HOSE,
        Act.TAKE_HOSE_OFF,
    }
)

TRIPPED: tuple[Interlock, ...] = (
    row(
        "no-trip-latched",
        _NOT_AFTER_TRIP,
        Rule(_("no trip latched"), frozenset({"trips"}), lambda b, a, m: not b.trips),
        _("A trip is latched."),
        _("Work the recovery that is on the screen; only then reset."),
        MACHINERY + ".4",
        7,
    ),
    row(
        "start-no-fluid-trip",
        CRANKS,
        Rule(
            _("no trip about fluid or starting is latched"),
            frozenset({"trips"}),
            lambda b, a, m: not b.trips,
        ),
        _("A trip is latched: the engine must not be cranked."),
        _("Work the recovery; reset it; then the start is asked again."),
        MACHINERY + ".4",
        1,
    ),
    row(
        "reset-possible",
        (Act.RESET,),
        both(
            Rule(_("the trip is latched"), frozenset({"trips"}), lambda b, a, m: a.trip in b.trips),
            Rule(
                _("the trip has a reset"),
                frozenset(),
                lambda b, a, m: a.trip is not None and not a.trip.terminal,
            ),
        ),
        _("This trip has no reset: the job can only be made safe and abandoned."),
        _("Make safe and abandon; licensed people take over."),
        MACHINERY + ".4",
        7,
    ),
    row(
        "reset-recovered",
        (Act.RESET,),
        either(
            is_("recovery", Recovery.CHECKED),
            both(
                is_("recovery", Recovery.OWN),
                is_("crew", Crew.ALONE_ADULT),
                either(
                    Rule(
                        _("a trip that has nothing to do with fluid"),
                        frozenset(),
                        lambda b, a, m: a.trip not in _FLUID_TRIPS,
                    ),
                    both(is_("fluid_in", FluidIn.NO), WET_NONE),
                ),
            ),
        ),
        _(
            "The recovery was not worked to its end and checked; where fluid may be in, that takes "
            "another person."
        ),
        _(
            "Work every step of the recovery; have it checked. Alone, only without fluid: "
            "look at it all again yourself and sign. Otherwise get a second person, or make "
            "safe and abandon."
        ),
        MACHINERY + ".4",
        7,
    ),
    row(
        "reset-fluid",
        (Act.RESET,),
        either(
            Rule(
                _("a trip that has nothing to do with fluid"),
                frozenset(),
                lambda b, a, m: a.trip not in _FLUID_TRIPS,
            ),
            both(
                is_("engine", Engine.STOPPED),
                either(
                    WET_STRICT,
                    both(
                        WET_EXTENDED, is_("inspection", Inspection.DRY, Inspection.OPENED), TURNED
                    ),
                    both(is_("inspection", Inspection.OPENED), TURNED),
                ),
            ),
            both(is_("engine", Engine.IDLING, Engine.RAISED), WET_NONE),
        ),
        _("Fluid may be in a cylinder: the reset would allow a start."),
        _(
            "Engine stopped: drain to the strict limit. Up to the extended one: look into "
            "the engine side of the turbine and turn by hand, both seen by two. Above it, or "
            "unknown: cylinders opened by qualified people first; a look at a hot dry "
            "manifold says nothing."
        ),
        LOCK,
        1,
    ),
    row(
        "reset-attended",
        (Act.RESET,),
        either(
            Rule(
                _("a trip that is not about what a running engine needs"),
                frozenset(),
                lambda b, a, m: a.trip is not Trip.UNATTENDED,
            ),
            is_("engine", Engine.STOPPED),
            both(SECURE, FUMES_GONE, CONTROLLED, is_("hands", Hands.CLEAR)),
        ),
        _("It runs on, and what was missing is not known to be back."),
        _(
            "Secured, fumes dealt with, somebody at the controls, hands clear: look and say so. "
            "Or stop it."
        ),
        HSE_SECURE,
        4,
    ),
)
"""The rows about trips and resets, in reading order."""
