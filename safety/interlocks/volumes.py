"""Conditions over the fluid ledger, and the acts that crank, run and spray."""

from ..bay import SPRAYS, Act, Bay, DoseLimits, HandTurn
from ..catalogue import _
from .language import Ask, Rule, is_

WET_NONE = Rule(_("ledger is zero"), frozenset({"wet"}), lambda b, a, m: b.wet == 0)
WET_STRICT = Rule(
    _("ledger within the strict limit"),
    frozenset({"wet"}),
    lambda b, a, m: b.wet is not None and b.wet <= m.strict,
)
WET_EXTENDED = Rule(
    _("ledger within the extended limit"),
    frozenset({"wet"}),
    lambda b, a, m: b.wet is not None and b.wet <= m.extended,
)


def dose_fits(limit: str) -> Rule:
    """The dose asked for, on top of the ledger, stays within the limit of that name."""

    def fits(b: Bay, a: Ask, m: DoseLimits) -> bool:
        return b.wet is not None and a.dose > 0 and b.wet + a.dose <= int(getattr(m, limit))

    return Rule(_("dose fits the {limit} limit", limit=limit), frozenset({"wet"}), fits)


FLUID_COUNT = ("none", "within_strict", "within_extended", "above", "not_known")
"""How the ledger stands against the limits of the engine-off dose."""


def fluid_count(bay: Bay, limits: DoseLimits) -> str:
    """The one of ``FLUID_COUNT`` that holds now; procedures may branch on it. Nobody is asked."""
    if bay.wet is None:
        return "not_known"
    if bay.wet == 0:
        return "none"
    if bay.wet <= limits.strict:
        return "within_strict"
    return "within_extended" if bay.wet <= limits.extended else "above"


TURNED = is_("hand_turn", HandTurn.VALID, HandTurn.RETRY)
CRANKS = (Act.START,)
RUNS = (Act.START, Act.RAISE, Act.SPRAY_RUNNING, Act.RUN_ON)
SPRAYING = tuple(SPRAYS)
