"""The wait for drying after fluid."""

from dataclasses import dataclass
from typing import Final

from ..catalogue import _
from ..physics.domain import not_negative, positive
from ..physics.drying import (
    EXHAUST_HEAT_J_KG_K,
    WATER_HEAT_J_KG_K,
    boiling_point_k,
    drying_time_s,
    latent_heat_j_kg,
    warming_time_s,
)
from ..physics.exhaust import speed_density_air_kg_s
from ..physics.gas import standard_atmosphere
from . import choices
from .inputs import Fluid, VehicleInput, Workshop
from .working import Bound, Limit, Unit, Working

_ZERO_DEGC_K: Final = 273.15
LEAST_ABOVE_K: Final = 1.0  # a reading nearer to boiling than this credits nothing
_RAISED_FROM_RPM: Final = 1500.0  # above it the raised estimate of exhaust temperature holds


def drying(
    wet_m3: float,
    vehicle: VehicleInput,
    fluid: Fluid,
    workshop: Workshop,
    speed_rpm: float,
    exhaust_k: float | None = None,
    air_kg_s: float | None = None,
) -> Limit:
    """Least time, s, for the exhaust to dry ``wet_m3`` of fluid at a steady engine speed.

    ``exhaust_k`` before the filter and ``air_kg_s`` as read; either is estimated on the
    low side when not given, and the limit says so. All fluid counts as water, which needs
    the most heat; the fuel's mass and drying below boiling point are not credited. Parts of
    a fluid that boil above water are not covered. Raises ValueError on values out of range
    and when the exhaust is too cold to dry anything.
    """
    not_negative("wet_m3", wet_m3, "m3")
    positive("speed_rpm", speed_rpm, "1/min")
    positive("density_kg_m3", fluid.density_kg_m3, "kg/m3")
    given = _given(wet_m3, vehicle, fluid, workshop, speed_rpm, exhaust_k, air_kg_s)
    water_kg, flow_kg_s, gas_k, boiling_k = given.heat
    share = choices.HEAT_SHARE.value
    value = drying_time_s(*given.heat, workshop.air_k, share)
    warm_k = max(0.0, boiling_k - workshop.air_k)
    need_j = water_kg * (WATER_HEAT_J_KG_K * warm_k + latent_heat_j_kg(boiling_k))
    power_w = share * flow_kg_s * EXHAUST_HEAT_J_KG_K * (gas_k - boiling_k)
    slow = _at_most(given, vehicle, workshop)
    return Limit(
        name=_("drying at {speed_rpm:.4g} 1/min", speed_rpm=speed_rpm),
        value=value,
        unit=Unit.S,
        bound=Bound.AT_LEAST,
        lines=(
            Working(
                _(
                    "water, all fluid counted = {wet_m3:.4g} mL x {density_kg_m3:.4g} g/mL = "
                    "{water_kg:.4g} g",
                    wet_m3=wet_m3 * 1000000.0,
                    density_kg_m3=fluid.density_kg_m3 / 1000,
                    water_kg=water_kg * 1000,
                )
            ),
            Working(
                _(
                    "heat needed = {water_kg:.4g} g x ({water_heat_j_kg_k:.4g} x "
                    "{warm_k:.4g} + {latent_heat_j_kg:.5g}) J/g = {need_j:.4g} J",
                    water_kg=water_kg * 1000,
                    water_heat_j_kg_k=WATER_HEAT_J_KG_K / 1000,
                    warm_k=warm_k,
                    latent_heat_j_kg=latent_heat_j_kg(boiling_k) / 1000,
                    need_j=need_j,
                )
            ),
            given.flow_line,
            Working(
                _(
                    "heat given = {share:.4g} x {flow_kg_s:.4g} g/s x "
                    "{exhaust_heat_j_kg_k:.4g} J/(g K) x ({gas_k:.5g} - {boiling_k:.5g}) K = "
                    "{power_w:.4g} W",
                    share=share,
                    flow_kg_s=flow_kg_s * 1000,
                    exhaust_heat_j_kg_k=EXHAUST_HEAT_J_KG_K / 1000,
                    gas_k=gas_k - _ZERO_DEGC_K,
                    boiling_k=boiling_k - _ZERO_DEGC_K,
                    power_w=power_w,
                )
            ),
            Working(
                _(
                    "time = {need_j:.4g} J / {power_w:.4g} W = {value:.4g} s",
                    need_j=need_j,
                    power_w=power_w,
                    value=value,
                )
            ),
            Working(
                _(
                    "slow end, a cold core and a quarter of it wet = {cold_s:.4g} s + "
                    "{wet_s:.4g} s = {cold_s_2:.4g} s",
                    cold_s=slow.cold_s,
                    wet_s=slow.wet_s,
                    cold_s_2=slow.cold_s + slow.wet_s,
                )
            ),
        ),
        source=_(
            "heat balance; design choice: {share:.4g} of the heat reaches the water", share=share
        ),
        validity=_("engine running steadily, warm filter, fluid that boils no higher than water"),
        assumptions=given.notes,
    )


@dataclass(frozen=True, slots=True)
class DryingAtMost:
    """The slow end of drying, s: to warm a cold core, and to dry what is wet of it."""

    cold_s: float
    wet_s: float


def drying_at_most(
    wet_m3: float,
    vehicle: VehicleInput,
    fluid: Fluid,
    workshop: Workshop,
    speed_rpm: float,
    exhaust_k: float | None = None,
    air_kg_s: float | None = None,
) -> DryingAtMost:
    """How long drying may take where the core is cold and a quarter of it is wet; as ``drying``.

    The filter is the largest that is usual where its volume is not known. The drying run is
    credited by this time, the safe side; the pressure has to level as well.
    """
    given = _given(wet_m3, vehicle, fluid, workshop, speed_rpm, exhaust_k, air_kg_s)
    return _at_most(given, vehicle, workshop)


def _at_most(given: "_Given", vehicle: VehicleInput, workshop: Workshop) -> DryingAtMost:
    water_kg, flow_kg_s, gas_k, boiling_k = given.heat
    core_m3 = vehicle.filter_volume_m3
    if core_m3 is None:
        core_m3 = choices.HIGH_FILTER_TO_ENGINE.value * vehicle.displacement_m3
    core_j_k = choices.CORE_HEAT_J_M3_K.value * core_m3
    share, low = choices.HEAT_SHARE.value, choices.LOW_HEAT_SHARE.value
    return DryingAtMost(
        cold_s=warming_time_s(core_j_k, flow_kg_s, gas_k, workshop.air_k, boiling_k, share),
        wet_s=drying_time_s(water_kg, flow_kg_s, gas_k, boiling_k, workshop.air_k, low),
    )


@dataclass(frozen=True, slots=True)
class _Given:
    """What both ends of drying rest on. ``heat``: the water, kg; the exhaust's flow, kg/s, and its
    temperature, K; the boiling point, K. ``notes`` say which of them was estimated."""

    heat: tuple[float, float, float, float]
    flow_line: Working
    notes: tuple[str, ...]


def _given(
    wet_m3: float,
    vehicle: VehicleInput,
    fluid: Fluid,
    workshop: Workshop,
    speed_rpm: float,
    exhaust_k: float | None,
    air_kg_s: float | None,
) -> _Given:
    air_pa = standard_atmosphere(workshop.altitude_m).pressure_pa
    flow_kg_s, flow_line, flow_note = _flow(vehicle, workshop, speed_rpm, air_pa, air_kg_s)
    gas_k, heat_note = _exhaust(speed_rpm, exhaust_k)
    heat = (wet_m3 * fluid.density_kg_m3, flow_kg_s, gas_k, boiling_point_k(air_pa))
    rest = 1.0 - fluid.water_share
    other = _(
        "{rest:.3g} % of the fluid is no water: it may stay when the water has gone",
        rest=rest * 100,
    )
    return _Given(heat, flow_line, (*flow_note, *heat_note, *((other,) if rest > 0.0 else ())))


def _flow(
    vehicle: VehicleInput,
    workshop: Workshop,
    speed_rpm: float,
    air_pa: float,
    air_kg_s: float | None,
) -> tuple[float, Working, tuple[str, ...]]:
    if air_kg_s is not None:
        positive("air_kg_s", air_kg_s, "kg/s")
        return (
            air_kg_s,
            Working(_("air flow as read: {air_kg_s:.4g} g/s", air_kg_s=air_kg_s * 1000)),
            (),
        )
    filling, recirculated = choices.LOW_FILLING.value, choices.HIGH_RECIRCULATION.value
    flow = speed_density_air_kg_s(
        vehicle.displacement_m3, speed_rpm, filling, air_pa, workshop.air_k, recirculated
    )
    line = Working(
        _(
            "air flow from speed and displacement, filling {filling:.4g}, recirculated "
            "{recirculated:.4g}: {flow:.4g} g/s",
            filling=filling,
            recirculated=recirculated,
            flow=flow * 1000,
        )
    )
    return flow, line, (_("air flow not measured: estimated on the low side"),)


def dries_above_k(workshop: Workshop) -> float:
    """Temperature of the exhaust, K, above which this balance dries: where water boils here."""
    return boiling_point_k(standard_atmosphere(workshop.altitude_m).pressure_pa)


def taken_exhaust_k(speed_rpm: float) -> float:
    """Temperature, K, that the time at this speed is worked with while none was measured."""
    return _taken(speed_rpm).value


def drying_as_read_s(
    wet_ml: float, cold_s: float, s_per_ml: float, taken_k: float, above_k: float, worst_k: float
) -> float | None:
    """Time, s, to dry ``wet_ml`` when the worst exhaust read is ``worst_k``; None: never.

    ``cold_s`` to warm the core and ``s_per_ml`` are worked for exhaust at ``taken_k`` that leaves
    at ``above_k`` (``drying_at_most``). By the heat balance what dries grows as the difference
    falls; what warms grows by less, and is taken as growing so too. A reading above ``taken_k``
    shortens nothing, and one less than ``LEAST_ABOVE_K`` over ``above_k`` dries nothing (design
    choices).

    >>> drying_as_read_s(10.0, 40.0, 6.0, 403.0, 373.0, 388.0)
    200.0
    """
    not_negative("wet_ml", wet_ml, "mL")
    gas_k = min(worst_k, taken_k)
    if gas_k - above_k < LEAST_ABOVE_K:
        return None
    return (cold_s + wet_ml * s_per_ml) * (taken_k - above_k) / (gas_k - above_k)


def _taken(speed_rpm: float) -> choices.DesignChoice:
    return choices.COOL_RAISED if speed_rpm >= _RAISED_FROM_RPM else choices.COOL_IDLE


def _exhaust(speed_rpm: float, exhaust_k: float | None) -> tuple[float, tuple[str, ...]]:
    if exhaust_k is not None:
        return positive("exhaust_k", exhaust_k, "K"), ()
    choice = _taken(speed_rpm)
    return choice.value, (
        _(
            "exhaust temperature not measured: {value:.4g} degC taken",
            value=choice.value - _ZERO_DEGC_K,
        ),
    )
