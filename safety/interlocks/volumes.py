"""Conditions over the fluid ledger, and the acts that crank, run and spray."""

from safety.bay import SPRAYS, Act, Bay, DoseLimits, HandTurn
from safety.interlocks.language import Ask, Rule, is_

WET_NONE = Rule("ledger is zero", frozenset({"wet"}), lambda b, a, m: b.wet == 0)
WET_STRICT = Rule(
    "ledger within the strict limit",
    frozenset({"wet"}),
    lambda b, a, m: b.wet is not None and b.wet <= m.strict,
)
WET_EXTENDED = Rule(
    "ledger within the extended limit",
    frozenset({"wet"}),
    lambda b, a, m: b.wet is not None and b.wet <= m.extended,
)


def dose_fits(limit: str) -> Rule:
    """The dose asked for, on top of the ledger, stays within the limit of that name."""

    def fits(b: Bay, a: Ask, m: DoseLimits) -> bool:
        return b.wet is not None and a.dose > 0 and b.wet + a.dose <= int(getattr(m, limit))

    return Rule(f"dose fits the {limit} limit", frozenset({"wet"}), fits)


TURNED = is_("hand_turn", HandTurn.VALID, HandTurn.RETRY)
CRANKS = (Act.START,)
RUNS = (Act.START, Act.RAISE, Act.SPRAY_RUNNING)
SPRAYING = tuple(SPRAYS)
