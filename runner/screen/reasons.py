"""Why a critical step is done, where its procedure gives no reason of its own.

A step's own ``why`` always comes first; these say what is true of every step of their kind.
Common practice, no source, where the interlock behind the act does not give one.
"""

from typing import Any

from steplatch.safety.bay import Act
from steplatch.safety.catalogue import _

from ..core.steps import ActStep, HoldStep, SignStep, SprayStep, TemperatureStep

BY_ACT = {
    Act.START: _("A start with hands in, or with too much fluid in, cannot be taken back."),
    Act.STOP_ENGINE: _("It cools from here on; fluid that is in stays in."),
    Act.RAISE: _("More gas passes, so that a difference shows; over the ceiling parts give way."),
    Act.HANDS_IN: _("The answer shows that they heard: nobody cranks while hands are in."),
    Act.HANDS_AT_HOSE: _("Belts and fan turn: whoever sits at the controls is the only stop."),
    Act.TAKE_HOSE_OFF: _("Levered sideways the stub snaps."),
    Act.PUT_HOSE_ON: _("A hose left off makes a blocked filter look clean."),
    Act.COUPLE_GUN: _("Air comes on only after the adaptor is seated and tugged."),
    Act.UNCOUPLE_GUN: _("A gun left on can leak, and the fluid count would be unknown."),
    Act.CLEAR_LINE: _("Liquid in the hose reads as pressure."),
    Act.HAND_TURN: _("It finds a full cylinder before the starter does."),
    Act.CLEAR_CODES: _("What is cleared is gone: only what was written down stays as evidence."),
    Act.ROAD_TEST: _("Only hot and dry does the filter show how it will be for the customer."),
    Act.SPRAY_OFF: _("Too much runs back into a cylinder and locks the engine."),
    Act.SPRAY_RUNNING: _("Act on the sag, not on the stall."),
    Act.IGNITION_ON: _("Some cars start by themselves once the ignition is on."),
}
BY_MEANING = {
    "did": _("Whoever did it knows best what was done."),
    "checked": _("Nobody sees their own slip: the checker looks before the record is shown."),
    "released": _("It is the last look before the vehicle moves among people."),
    "agreed": _("A yes given after the work is worth nothing."),
    "received": _("The vehicle goes on with somebody who knows how it stands."),
}
BY_KIND = {
    TemperatureStep: _("Fluid on a hot pipe flashes into steam, and hot metal burns."),
    HoldStep: _("A wet filter reads high, and fluid left in could run back at a stop."),
}


def reason_for(step: Any) -> str:
    """The reason of a critical step that has none of its own; '' for any other."""
    if getattr(step, "why", None):
        return ""
    match step:
        case ActStep():
            return BY_ACT.get(step.act, "")
        case SprayStep():
            return BY_ACT[Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING]
        case SignStep():
            return BY_MEANING[step.meaning]
        case TemperatureStep() | HoldStep():
            return BY_KIND[type(step)]
    return ""
