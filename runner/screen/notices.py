"""What the screen says when a fact is too old or asked again, and when an act is refused.

Each fact has its words here, written for whoever stands at the vehicle: what to do to know it.
"""

from steplatch.safety.bay import FACTS
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import Refusal
from steplatch.safety.kernel import Happened, Lapsed, PermitLapsed
from steplatch.safety.occurrences import Happening

from ..core.events import Event
from .talk import StyledLine

TO_KNOW = {
    "engine": _("Look and listen whether the engine runs"),
    "idle": _("Watch the idle"),
    "key": _("Look where the key is"),
    "starter": _("Look how the start is disabled"),
    "start_tried": _("Try the start, with the start disabled"),
    "bar": _("Look at the crank bolt for socket and bar"),
    "secured": _("Look at brake, gear and chocks"),
    "fumes": _("Look at the extraction"),
    "lift": _("Look at what carries the vehicle"),
    "low_loop": _("Look up where recirculated gas is taken off"),
    "flash": _("Read sections 2 and 9 of the data sheet"),
    "trigger": _("Try whether the gun shuts by itself"),
    "stop_start": _("Look at the stop-start lamp"),
    "controls": _("Look who is at the controls"),
    "hands": _("Call for hands clear"),
    "hose": _("Look at the pressure hose and its sensor"),
    "gun": _("Look at the gun"),
    "line": _("Look into the pressure hose"),
    "port": _("Measure the exhaust"),
    "touch": _("Measure the exhaust where hands work"),
    "burning": _("Read whether the filter burns soot"),
    "rate": _("Measure the gun"),
    "sheet": _("Read the data sheet"),
    "kit": _("Look at gloves, glasses and sleeves"),
    "spill": _("Look at drains, extinguisher and battery"),
    "reach": _("Look whether the hose can be reached"),
    "sensor": _("Look which sensor is the filter's"),
    "identity": _("Compare the vehicle"),
    "crew": _("Count who stays to the end"),
    "arrival": _("Say how the vehicle came"),
    "agreed": _("Ask the customer"),
    "triage": _("Judge the findings"),
    "tier": _("Choose the dose"),
    "soak": _("Soak"),
    "run_on": _("Dry it"),
    "hand_turn": _("Turn the engine by hand"),
    "inspection": _("Look into the turbine"),
    "zero": _("Read the zero"),
    "before": _("Read the set before cleaning"),
    "after": _("Read the set after cleaning"),
    "codes": _("Read the fault codes"),
    "oil": _("Read the dipstick"),
    "fuel": _("Look what fuel it burns"),
    "foul": _("Look and smell for oil or coolant in the filter"),
    "coating": _("Look up the filter's coating"),
    "fluid_check": _("Call the checker to the fluid check"),
    "start_check": _("Call the checker to the start check"),
    "release_check": _("Call the checker to the release"),
    "road": _("Look whether it is ready for the road"),
    "driver": _("Say who drives"),
    "tag": _("Look at the tag on the key"),
    "fluid_in": _("Say whether fluid has gone in"),
    "recovery": _("Work the recovery"),
}
"""What to do to know a fact; 'again.' or 'yourself.' follows."""


def look_again(fact: str) -> StyledLine:
    """The instruction over the question how a fact stands now."""
    return _("DO     {to_know} again.", to_know=TO_KNOW[fact]), "do"


def look_yourself(fact: str) -> StyledLine:
    """The instruction for a checker's own look."""
    return _("DO     {to_know} yourself.", to_know=TO_KNOW[fact]), "do"


def differs(fact: str, stands: str) -> str:
    """What is said where a checker saw something else than the record."""
    return _(
        "DIFFERS the record said '{stands}'. What was seen last counts; put it right before "
        "anybody signs. {to_know} again.",
        stands=stands,
        to_know=TO_KNOW[fact],
    )


def soon_too_old(fact: str) -> str:
    """What is said while a fact is still believed, but not for long."""
    return _("SOON   {to_know} again: it is soon too old.", to_know=TO_KNOW[fact])


def news_of(event: Event) -> str:
    """What an event that only time brings means to who stands at the vehicle; '' for others."""
    match event:
        case Lapsed(fact) if fact in FACTS:
            return _("TOO OLD {to_know} again.", to_know=TO_KNOW[fact])
        case PermitLapsed():
            return _("TOO OLD The permit: do not act on it; ask for it again.")
        case Happened(what=Happening.SOAK_DUE):
            return _("DUE    The soak is over.")
        case Happened(what=Happening.RUN_ON_DUE):
            return _("DUE    The drying time is over.")
    return ""


def refusal_lines(refusal: Refusal) -> tuple[StyledLine, ...]:
    """Why an act is refused, what to do, and where the rule comes from."""
    return (
        (_("REFUSED {reason}", reason=refusal.reason), "refused"),
        (_("DO     {remedy}", remedy=refusal.remedy), "do"),
        (_("       source: {source} [{row}]", source=refusal.source, row=refusal.interlock), ""),
    )
