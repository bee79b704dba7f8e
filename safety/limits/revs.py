"""Ceiling on engine speed in the bay, and the raised band that lies wholly below it."""

from dataclasses import dataclass
from typing import Final

from ..catalogue import _
from . import choices
from .inputs import VehicleInput, Workshop
from .plausible import ImplausibleInputs
from .working import (
    Bound,
    Figure,
    Limit,
    Unit,
    Working,
    set_by_workshop,
    tightened,
)

_CEILING_RPM: Final = 2500.0  # common practice, no source
_PRACTICE: Final = _("common practice, no source")


@dataclass(frozen=True, slots=True)
class Revs:
    """Ceiling, and both ends of the raised band, 1/min."""

    ceiling: Limit
    raised_lower: Limit
    raised_upper: Limit


def work_revs(vehicle: VehicleInput, workshop: Workshop) -> Revs:
    """Work the ceiling and the raised band, 1/min.

    Raises ImplausibleInputs when the ceiling leaves no room for a raised band above idle,
    LooserThanWorked when the workshop's ceiling is above the worked one.
    """
    idle = vehicle.idle_rpm
    practice = Limit(
        name=_("engine speed in the bay"),
        value=_CEILING_RPM,
        unit=Unit.RPM,
        bound=Bound.AT_MOST,
        lines=(
            Working(
                _("revs are held at {ceiling_rpm:.4g} 1/min at the most", ceiling_rpm=_CEILING_RPM)
            ),
        ),
        source=_PRACTICE,
        validity=_("in the bay, without load; not the road test"),
    )
    makers = tightened(practice, (Figure(_("vehicle maker"), vehicle.maker_rev_ceiling_rpm),))
    ceiling = set_by_workshop(
        makers, Figure(_("workshop {label}", label=workshop.label), workshop.rev_ceiling_rpm)
    )
    margin, width = choices.REV_MARGIN.value, choices.REV_BAND.value
    upper, lower = ceiling.value - margin, ceiling.value - margin - width
    least = idle + choices.REV_ABOVE_IDLE.value
    if lower < least:
        raise ImplausibleInputs(
            (
                _(
                    "engine speed ceiling {value:.4g} 1/min ({source}) leaves a raised band "
                    "from {lower:.4g}, too near idle at {idle:.4g}: give a ceiling of "
                    "{least:.4g} 1/min or more, or check the idle speed",
                    value=ceiling.value,
                    source=ceiling.source,
                    lower=lower,
                    idle=idle,
                    least=least + margin + width,
                ),
            )
        )
    why = f"{choices.REV_MARGIN.why}; {choices.REV_BAND.why}"
    return Revs(
        ceiling=ceiling,
        raised_lower=Limit(
            name=_("raised revs, lower end"),
            value=lower,
            unit=Unit.RPM,
            bound=Bound.AT_LEAST,
            lines=(
                Working(
                    _(
                        "lower end = {upper:.6g} - {width:.4g} = {lower:.6g} 1/min",
                        upper=upper,
                        width=width,
                        lower=lower,
                    )
                ),
            ),
            source=_("design choice below the ceiling ({source})", source=ceiling.source),
            validity=why,
        ),
        raised_upper=Limit(
            name=_("raised revs, upper end"),
            value=upper,
            unit=Unit.RPM,
            bound=Bound.AT_MOST,
            lines=(
                Working(
                    _(
                        "upper end = {value:.6g} - {margin:.4g} = {upper:.6g} 1/min",
                        value=ceiling.value,
                        margin=margin,
                        upper=upper,
                    )
                ),
            ),
            source=_("design choice below the ceiling ({source})", source=ceiling.source),
            validity=why,
        ),
    )
