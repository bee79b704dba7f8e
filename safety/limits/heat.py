"""Temperatures for fluid and for bare hands, and the soak after an engine-off dose."""

from dataclasses import dataclass
from typing import Final

from ..catalogue import _
from ..physics.drying import boiling_point_k
from ..physics.gas import standard_atmosphere
from .inputs import Fluid, Workshop
from .working import (
    Bound,
    Figure,
    Limit,
    Unit,
    Working,
    set_by_workshop,
    tightened,
)

_ZERO_DEGC_K: Final = 273.15
_ENGINE_OFF_K: Final = 373.15  # common practice, no source
_RUNNING_K: Final = 473.15  # design choice
_TOUCH_K: Final = 322.15
_GLOVED_K: Final = 423.15  # design choice
_SOAK_S: Final = 300.0  # common practice, no source
_PRACTICE: Final = _("common practice, no source")


@dataclass(frozen=True, slots=True)
class Heat:
    """Highest temperatures, K, and least soak, s."""

    exhaust_engine_off: Limit
    exhaust_running: Limit
    touch: Limit
    gloved: Limit
    soak: Limit


def work_heat(fluid: Fluid, workshop: Workshop) -> Heat:
    """Work the temperature limits and the soak; the tightest of every figure wins.

    Raises LooserThanWorked on a workshop figure that would loosen one, ValueError on a
    figure that is not finite and on an altitude outside -600 to 3000 m.
    """
    who = _("workshop {label}", label=workshop.label)
    maker = _("data for {label}", label=fluid.label)
    return Heat(
        exhaust_engine_off=set_by_workshop(
            tightened(
                _engine_off(workshop.altitude_m), (Figure(maker, fluid.max_exhaust_k_engine_off),)
            ),
            Figure(who, workshop.max_exhaust_k_engine_off),
        ),
        exhaust_running=set_by_workshop(
            tightened(_running(), (Figure(maker, fluid.max_exhaust_k_running),)),
            Figure(who, workshop.max_exhaust_k_running),
        ),
        touch=set_by_workshop(_touch(), Figure(who, workshop.max_touch_k)),
        gloved=set_by_workshop(_gloved(), Figure(who, workshop.max_touch_gloved_k)),
        soak=set_by_workshop(
            tightened(_soak(), (Figure(maker, fluid.maker_soak_s),)),
            Figure(who, workshop.soak_s),
        ),
    )


def _engine_off(altitude_m: float) -> Limit:
    sea_k = boiling_point_k(standard_atmosphere(0.0).pressure_pa)
    air_pa = standard_atmosphere(altitude_m).pressure_pa
    boiling_k = boiling_point_k(air_pa)
    lower_by_k = max(0.0, sea_k - boiling_k)
    value = _ENGINE_OFF_K - lower_by_k
    lines = [Working(_("exhaust under 100 degC before an engine-off dose: fluid must not flash"))]
    if lower_by_k > 0.0:
        lines.append(
            Working(
                _(
                    "at {altitude_m:.4g} m the air is at {air_pa:.4g} mbar and water boils "
                    "lower by {sea_k:.4g} - {boiling_k:.4g} = {lower_by_k:.3g} degC",
                    altitude_m=altitude_m,
                    air_pa=air_pa / 100,
                    sea_k=sea_k - _ZERO_DEGC_K,
                    boiling_k=boiling_k - _ZERO_DEGC_K,
                    lower_by_k=lower_by_k,
                )
            )
        )
        lines.append(
            Working(
                _(
                    "limit = 100 - {lower_by_k:.3g} = {value:.4g} degC",
                    lower_by_k=lower_by_k,
                    value=value - _ZERO_DEGC_K,
                )
            )
        )
    return Limit(
        name=_("exhaust temperature for an engine-off dose"),
        value=value,
        unit=Unit.K,
        bound=Bound.AT_MOST,
        lines=tuple(lines),
        source=_("{practice}, lowered for the altitude", practice=_PRACTICE)
        if lower_by_k > 0.0
        else _PRACTICE,
        validity=_("measured at the port; time since the engine stopped never replaces a reading"),
    )


def _running() -> Limit:
    return Limit(
        name=_("exhaust temperature for a running dose"),
        value=_RUNNING_K,
        unit=Unit.K,
        bound=Bound.AT_MOST,
        lines=(
            Working(_("a warm idle gives 110 to 170 degC (common practice, no source)")),
            Working(
                _(
                    "soot begins to burn with nitrogen dioxide above 250 degC (Fiebig et al., "
                    "J. Occup. Med. Toxicol. 9:6, 2014): 200 degC keeps clear of it"
                )
            ),
        ),
        source=_("design choice between a warm idle and burning soot"),
        validity=_("measured at the port while idling; fluid and vehicle data may tighten it"),
    )


def _touch() -> Limit:
    return Limit(
        name=_("bare metal for bare hands"),
        value=_TOUCH_K,
        unit=Unit.K,
        bound=Bound.AT_MOST,
        lines=(
            Working(_("parts that are handled: 49 degC; other parts within reach: 60 degC")),
            Working(_("hose and adaptor are handled, so the lower one; above it, gloves")),
        ),
        source=_("MIL-HDBK-454, Guideline 1, 4.3"),
        validity=_(
            "guidance for healthy adults; not measured, or measured long ago, counts as hot"
        ),
    )


def _gloved() -> Limit:
    return Limit(
        name=_("bare metal for heat-proof gloves"),
        value=_GLOVED_K,
        unit=Unit.K,
        bound=Bound.AT_MOST,
        lines=(
            Working(
                _(
                    "gloves marked for contact heat at level 2 hold off 250 degC for 15 s "
                    "(EN 407, from memory, not read)"
                )
            ),
            Working(
                _("a hose that sticks takes longer than one grip: 150 degC keeps 100 degC off it")
            ),
        ),
        source=_("design choice: no published figure for this work"),
        validity=_("gloves dry, whole and marked so, sleeves closed; the maker's marking rules"),
    )


def _soak() -> Limit:
    return Limit(
        name=_("soak after an engine-off dose"),
        value=_SOAK_S,
        unit=Unit.S,
        bound=Bound.AT_LEAST,
        lines=(
            Working(
                _(
                    "fluid is left to settle for about 5 min = 5 x 60 = {soak_s:.4g} s",
                    soak_s=_SOAK_S,
                )
            ),
        ),
        source=_PRACTICE,
        validity=_(
            "gun off the hose, air off, ignition off; a longer time given by the maker rules"
        ),
    )
