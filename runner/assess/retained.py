"""What a filter holds back, from three pours: what was poured in less what came back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ..input.resolution import Numbers, outcome

POURS: Final = 3
READ_ML: Final = 1.0
"""How well a jug is read, twice; also the least that a vehicle's file takes (workshop default)."""
SCATTER_SHARE: Final = 0.25
"""The most that three pours may differ, as a share of the smallest (workshop default)."""


@dataclass(frozen=True, slots=True)
class Retained:
    """``given`` with the smallest of the pours, or why there is no number: ``none`` is held,
    they ``scatter``, or it ``cannot_say``. Volumes in mL."""

    state: str
    pours: int
    retained_ml: float | None
    spread_ml: float | None

    def to_json(self) -> dict[str, Any]:
        """The outcome as a record holds it."""
        plain: dict[str, Any] = outcome(self)
        return plain


def retained(
    pours: Sequence[tuple[float, float]], recorded: Mapping[str, Any] | None = None
) -> Retained:
    """The volume that is held back, from pairs of poured and came back, mL.

    The smallest counts: the dose limit rests on what is surely held. Raises ``Disagreement``.
    """
    numbers = Numbers(recorded)
    held = [poured - back for poured, back in pours]
    if len(held) < POURS or min(held) < -READ_ML:
        return Retained("cannot_say", len(held), None, None)
    least = numbers.take("retained_ml", max(0.0, min(held)))
    spread = numbers.take("spread_ml", max(held) - min(held))
    if least < READ_ML:
        state = "none"
    elif spread > max(2 * READ_ML, SCATTER_SHARE * least):
        state = "scatter"
    else:
        state = "given"
    return Retained(state, len(held), least, spread)
