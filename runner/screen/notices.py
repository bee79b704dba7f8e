"""What the screen says when a fact is too old or asked again, and when an act is refused.

Each fact has its words here, written for whoever stands at the vehicle: what to do to know it.
"""

from steplatch.safety.bay import FACTS
from steplatch.safety.interlocks import Refusal
from steplatch.safety.kernel import Happened, Lapsed, PermitLapsed
from steplatch.safety.occurrences import Happening

from ..core.events import Event
from .talk import StyledLine

TO_KNOW = {
    "engine": "Look and listen whether the engine runs",
    "idle": "Watch the idle",
    "key": "Look where the key is",
    "starter": "Look how the start is disabled",
    "start_tried": "Try the start, with the start disabled",
    "bar": "Look at the crank bolt for socket and bar",
    "secured": "Look at brake, gear and chocks",
    "fumes": "Look at the extraction",
    "lift": "Look at what carries the vehicle",
    "low_loop": "Look up where recirculated gas is taken off",
    "flash": "Read sections 2 and 9 of the data sheet",
    "trigger": "Try whether the gun shuts by itself",
    "stop_start": "Look at the stop-start lamp",
    "controls": "Look who is at the controls",
    "hands": "Call for hands clear",
    "hose": "Look at the pressure hose and its sensor",
    "gun": "Look at the gun",
    "line": "Look into the pressure hose",
    "port": "Measure the exhaust",
    "touch": "Measure the exhaust where hands work",
    "burning": "Read whether the filter burns soot",
    "rate": "Measure the gun",
    "sheet": "Read the data sheet",
    "kit": "Look at gloves, glasses and sleeves",
    "spill": "Look at drains, extinguisher and battery",
    "reach": "Look whether the hose can be reached",
    "sensor": "Look which sensor is the filter's",
    "identity": "Compare the vehicle",
    "crew": "Count who stays to the end",
    "arrival": "Say how the vehicle came",
    "agreed": "Ask the customer",
    "triage": "Judge the findings",
    "tier": "Choose the dose",
    "soak": "Soak",
    "run_on": "Dry it",
    "hand_turn": "Turn the engine by hand",
    "inspection": "Look into the turbine",
    "zero": "Read the zero",
    "before": "Read the set before cleaning",
    "after": "Read the set after cleaning",
    "codes": "Read the fault codes",
    "oil": "Read the dipstick",
    "fuel": "Look what fuel it burns",
    "foul": "Look and smell for oil or coolant in the filter",
    "coating": "Look up the filter's coating",
    "fluid_check": "Call the checker to the fluid check",
    "start_check": "Call the checker to the start check",
    "release_check": "Call the checker to the release",
    "road": "Look whether it is ready for the road",
    "driver": "Say who drives",
    "tag": "Look at the tag on the key",
    "fluid_in": "Say whether fluid has gone in",
    "recovery": "Work the recovery",
}
"""What to do to know a fact; 'again.' or 'yourself.' follows."""


def look_again(fact: str) -> StyledLine:
    """The instruction over the question how a fact stands now."""
    return f"DO     {TO_KNOW[fact]} again.", "do"


def look_yourself(fact: str) -> StyledLine:
    """The instruction for a checker's own look."""
    return f"DO     {TO_KNOW[fact]} yourself.", "do"


def differs(fact: str, stands: str) -> str:
    """What is said where a checker saw something else than the record."""
    return (
        f"DIFFERS the record said '{stands}'. What was seen last counts; put it right before "
        f"anybody signs. {TO_KNOW[fact]} again."
    )


def soon_too_old(fact: str) -> str:
    """What is said while a fact is still believed, but not for long."""
    return f"SOON   {TO_KNOW[fact]} again: it is soon too old."


def news_of(event: Event) -> str:
    """What an event that only time brings means to who stands at the vehicle; '' for others."""
    match event:
        case Lapsed(fact) if fact in FACTS:
            return f"TOO OLD {TO_KNOW[fact]} again."
        case PermitLapsed():
            return "TOO OLD The permit: do not act on it; ask for it again."
        case Happened(what=Happening.SOAK_DUE):
            return "DUE    The soak is over."
        case Happened(what=Happening.RUN_ON_DUE):
            return "DUE    The drying time is over."
    return ""


def refusal_lines(refusal: Refusal) -> tuple[StyledLine, ...]:
    """Why an act is refused, what to do, and where the rule comes from."""
    return (
        (f"REFUSED {refusal.reason}", "refused"),
        (f"DO     {refusal.remedy}", "do"),
        (f"       source: {refusal.source} [{refusal.interlock}]", ""),
    )
