"""Whether one set of jug shots is enough to time a burst by, or a second set is needed."""

import statistics
from enum import Enum

from ..catalogue import _
from . import choices

_HAIR = 1e-9  # of the bound: 2 mL/s worked out of 10 mL in 5 s stays inside


class RateDoubt(Enum):
    """Why a set of shots is not taken by itself."""

    UNUSUAL = "unusual"
    JUMPED = "jumped"
    DISAGREES = "disagrees"
    SCATTERS = "scatters"


def rate_doubt(
    rates_m3_s: tuple[float, ...],
    last_m3_s: float | None = None,
    doubted_m3_s: tuple[float, ...] | None = None,
) -> RateDoubt | None:
    """Why this set of shots needs another set that agrees with it; None where it is taken.

    Rates in m3/s, mean against mean. ``last_m3_s`` is this gun's last known rate;
    ``doubted_m3_s`` the set before, where that one was doubted: from then on only two sets in a
    row that agree are taken, for nobody knows which of two that differ was the slip. A set whose
    shots scatter by more than the burst's bound can bear is never taken. The figures are design
    choices (see ``choices``). Raises ValueError without a rate.
    """
    mean = _mean(rates_m3_s)
    scatter = statistics.stdev(rates_m3_s) / mean if len(rates_m3_s) > 1 else 0.0
    wide = scatter > choices.SHOTS_SCATTER.value * (1.0 + _HAIR)
    if doubted_m3_s is not None:
        within = _within(mean, _mean(doubted_m3_s), choices.SETS_AGREE.value)
        if not within:
            return RateDoubt.DISAGREES
        return RateDoubt.SCATTERS if wide else None
    low, high = choices.USUAL_RATE_LOW.value, choices.USUAL_RATE_HIGH.value
    if not low * (1.0 - _HAIR) <= mean <= high * (1.0 + _HAIR):
        return RateDoubt.UNUSUAL
    if last_m3_s is not None and not _within(mean, last_m3_s, choices.RATE_JUMP.value):
        return RateDoubt.JUMPED
    return RateDoubt.SCATTERS if wide else None


def _within(one: float, other: float, factor: float) -> bool:
    return max(one, other) <= min(one, other) * factor * (1.0 + _HAIR)


def _mean(rates_m3_s: tuple[float, ...]) -> float:
    if not rates_m3_s:
        raise ValueError(_("no shots: no rate"))
    return statistics.fmean(rates_m3_s)
