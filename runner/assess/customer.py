"""What the customer is told: short, true, without a promise.

The words follow common practice (no source): say what was measured, how sure it is, what the
work cannot do, what to do next.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from steplatch.safety.catalogue import _

from .resistance import way

_OPENING: Final = {
    "as_expected": _("The filter flows as expected today."),
    "improved_not_normal": _("It flows more easily, but was not shown to flow as it should."),
    "not_improved": _("The readings show no improvement."),
    "contradictory": _("The readings do not fit together yet; the cause has to be found first."),
    "damage_suspected": _("The readings or the look of it point to a damaged filter or a leak."),
    "cannot_say": _("We cannot say from today's readings whether it is better."),
}
_CAUSE: Final = {
    "mended": _("What filled it was mended."),
    "none_found": _("We looked for what filled it and found nothing; it may fill again."),
    "accepted": _("What filled it was not mended, as you decided. It will fill again."),
    "open": _("What filled it is not mended. It will fill again."),
    "unknown": _("We have not established what filled it; it may fill again."),
}


def customer_text(
    verdict: str,
    gain: Mapping[str, float] | None,
    root_cause: str,
    return_days: int,
    return_km: int,
    not_measured: Sequence[str],
) -> tuple[str, ...]:
    """The sentences for the customer, in order. ``gain`` as in ``compare.Gain``, percent."""
    out = [_OPENING[verdict]]
    shown = gain and way(gain["ratio_share"], gain["u_log_ratio_share"]) == "easier"
    if gain and shown and verdict in ("as_expected", "improved_not_normal"):
        low, high = gain["low_percent"], gain["high_percent"]
        out.insert(
            0,
            _(
                "Exhaust gas now passes your filter {gain:.0f} % more easily than when you "
                "came: for the same flow it needs that much less pressure. We are 95 % sure "
                "it is between {low:.0f} and {high:.0f} %. Both times at the same warmth and "
                "flow, or put right for the difference by calculation.",
                gain=gain["percent"],
                low=low,
                high=high,
            ),
        )
    out.append(_("We cannot remove ash or see inside. This is not a new filter."))
    out.append(_("The lamp may come on again."))
    out.append(_CAUSE[root_cause])
    if return_days:
        out.append(
            _(
                "Come back within {return_days} days or {return_km} km for a check.",
                return_days=return_days,
                return_km=return_km,
            )
        )
    if not_measured:
        out.append(_("Not measured today: {not_measured}.", not_measured=", ".join(not_measured)))
    return tuple(out)
