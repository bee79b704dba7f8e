"""From a set of readings to viscosity x volume flow at the filter, with its uncertainty.

The drop of a wall-flow filter is proportional to viscosity x volume flow (SAE 2000-01-1016,
eq. A1 to A4), so that product, not the air flow, is what a pressure is compared at. It is
given here as a share of the reference flow (``inputs.REFERENCE_TEXT``), without unit.

Errors are split by what they are shared with: ``own`` belongs to one reading; ``air`` is the
scale of the meter or of the engine's filling, shared by every set on the same basis; ``valve``
is what recirculates unseen, alike in the sets of one condition, idle or raised, alone;
``heat`` is the bias of the exhaust probe, or of what is assumed where none is shown. What is
shared cancels between before and after; ``visit``, by how much the exhaust of one phase differs
from what is assumed, is shared by the sets of that phase alone and does not cancel.
"""

import math
import re
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from steplatch.safety.limits.inputs import VehicleInput, Workshop
from steplatch.safety.physics.exhaust import speed_density_air_kg_s, volume_flow_m3_s
from steplatch.safety.physics.gas import standard_atmosphere, viscosity_pa_s

from ..core.reading_set import Phase, ReadingCondition, ReadingSet
from ..input.quantities import parse_quantity
from . import inputs

Basis: TypeAlias = Literal["none", "measured_air_flow", "manifold_pressure", "engine_speed_only"]


@dataclass(frozen=True, slots=True)
class FlowPoint:
    """One pressure against one flow share, with standard uncertainties.

    ``share`` is viscosity x volume flow over its reference value (0 with the engine stopped).
    ``own_share``, ``air_share``, ``valve_share``, ``heat_share`` and
    ``visit_share`` are relative to ``share``.
    ``pressure_own_pa`` is this reading's alone; ``gain`` the sensor's shared relative error.
    ``behind_pa`` is what one hose reads of all behind the filter, the same unknown in all sets.
    ``basis`` says where the air flow comes from; ``exhaust_k`` is None where it was assumed.
    """

    condition: ReadingCondition
    phase: Phase
    pressure_pa: float
    pressure_own_pa: float
    gain: float = 0.0
    share: float = 0.0
    own_share: float = 0.0
    air_share: float = 0.0
    valve_share: float = 0.0
    heat_share: float = 0.0
    visit_share: float = 0.0
    behind_pa: float = 0.0
    u_behind_pa: float = 0.0
    basis: Basis = "none"
    air_kg_s: float = 0.0
    exhaust_k: float | None = None


class NoPressure(ValueError):  # noqa: N818 - it names the outcome
    """A set without a pressure, or a running engine without any basis for its flow.

    Its text is an id of ``runner.assess.words.NO_FIT``.
    """


def reference_flow() -> float:
    """Viscosity x volume flow at the reference, Pa m3 (share 1 of ``FlowPoint.share``)."""
    volume_m3_s = volume_flow_m3_s(
        inputs.REFERENCE_EXHAUST_KG_S, inputs.REFERENCE_K, inputs.REFERENCE_PA
    )
    return viscosity_pa_s(inputs.REFERENCE_K) * volume_m3_s


def ambient_pa(workshop: Workshop) -> float:
    """Air pressure at the workshop's height, Pa, by the standard atmosphere."""
    return standard_atmosphere(workshop.altitude_m).pressure_pa


def flow_point(readings: ReadingSet, vehicle: VehicleInput, workshop: Workshop) -> FlowPoint:
    """The pressure and flow share of one set. Raises ``NoPressure`` when there is none.

    A missing air flow is estimated (speed-density), a missing exhaust temperature assumed, and
    the uncertainty grows.
    """
    if readings.pressure_pa is None:
        raise NoPressure("no_pressure")
    pressure = readings.pressure_pa
    own = math.hypot(
        inputs.PRESSURE_OWN_PA.value,
        max(vehicle.sensor_step_pa, typed_step_pa(readings)) / math.sqrt(12),
        _spread_of_mean(readings),
    )
    if readings.condition == "zero":
        return FlowPoint("zero", readings.phase, pressure, own)
    air, air_own, air_shared, valve, basis = _air(readings, vehicle, workshop)
    exhaust, heat_own, heat_shared = _exhaust(readings)
    ambient = ambient_pa(workshop)
    # Gas expands through the filter: its mean pressure carries the first-order correction.
    mean_pa = ambient + max(pressure, 0.0) / 2
    mass = air * (1 + inputs.FUEL_SHARE.value)
    share = (
        viscosity_pa_s(exhaust) * volume_flow_m3_s(mass, exhaust, mean_pa) / reference_flow()
        if mass > 0
        else 0.0
    )
    per_k = _relative_per_k(exhaust)
    square = share**2 if vehicle.one_hose else 0.0
    return FlowPoint(
        condition=readings.condition,
        phase=readings.phase,
        pressure_pa=pressure,
        pressure_own_pa=math.hypot(
            own, pressure * math.hypot(inputs.PRESSURE_OWN_SHARE.value, inputs.CURVATURE.value)
        ),
        gain=inputs.PRESSURE_GAIN.value,
        share=share,
        own_share=math.hypot(air_own, per_k * heat_own, inputs.U_FUEL_SHARE.value),
        air_share=math.hypot(air_shared, inputs.AMBIENT_SHARE.value),
        valve_share=valve,
        heat_share=per_k * heat_shared,
        visit_share=0.0
        if readings.exhaust_k is not None
        else per_k * inputs.U_ASSUMED_EXHAUST_VISIT_K.value,
        behind_pa=inputs.BEHIND_PA.value * square,
        u_behind_pa=inputs.U_BEHIND_PA.value * square,
        basis=basis,
        air_kg_s=air,
        exhaust_k=readings.exhaust_k,
    )


def typed_step_pa(readings: ReadingSet) -> float:
    """The step of the last digit of a typed pressure, Pa: ``4`` in kPa is 1000, ``4.0`` is 100.

    0 where none was typed. A person who types whole numbers has rounded to them.
    """
    for one in readings.readings:
        if one.quantity == "pressure" and one.source == "typed":
            digits = _NUMBER.match(one.typed.strip())
            if digits is None:
                return 0.0
            whole = parse_quantity("1", "pressure", one.unit).si_value
            return float(whole * 10.0 ** -len(digits.group(1) or ""))
    return 0.0


_NUMBER: Final = re.compile(r"[+\-\u2212]?[0-9]*(?:[.,]([0-9]*))?")


def _spread_of_mean(readings: ReadingSet) -> float:
    """Standard uncertainty of an averaged pressure: one independent value every 2 s."""
    if not readings.spread_pa:
        return 0.0
    return readings.spread_pa / math.sqrt(max(1.0, (readings.averaged_s or 0.0) / 2))


def _relative_per_k(exhaust_k: float) -> float:
    # d ln(mu T)/dT of Sutherland's law times T.
    return 2.5 / exhaust_k - 1.0 / (exhaust_k + 110.4)


def _exhaust(readings: ReadingSet) -> tuple[float, float, float]:
    early = readings.held_s is not None and readings.held_s < inputs.BANDS.held_s
    moving = inputs.U_EARLY_EXHAUST_K.value if early else 0.0
    if readings.exhaust_k is not None:
        own = math.hypot(inputs.EXHAUST_OWN_K.value, moving)
        return readings.exhaust_k, own, inputs.EXHAUST_SHARED_K.value
    assumed = inputs.ASSUMED_EXHAUST_K[readings.condition]
    return (
        assumed.value,
        math.hypot(inputs.U_ASSUMED_EXHAUST_OWN_K.value, moving),
        inputs.U_ASSUMED_EXHAUST_SHARED_K.value,
    )


def _air(
    readings: ReadingSet, vehicle: VehicleInput, workshop: Workshop
) -> tuple[float, float, float, float, Basis]:
    if readings.air_kg_s is not None:
        if readings.air_kg_s <= 0:
            raise NoPressure("no_air")
        own = math.hypot(inputs.AIR_OWN.value, inputs.AIR_OWN_FLOOR_KG_S.value / readings.air_kg_s)
        return readings.air_kg_s, own, inputs.AIR_SCALE.value, 0.0, "measured_air_flow"
    if readings.speed_rpm is None or readings.speed_rpm <= 0:
        raise NoPressure("no_flow")
    state = readings.recirculation or "unknown"
    recirculated = inputs.RECIRCULATED[state].value
    manifold = readings.manifold_pa
    basis: Basis = "engine_speed_only" if manifold is None else "manifold_pressure"
    air = speed_density_air_kg_s(
        vehicle.displacement_m3,
        readings.speed_rpm,
        inputs.FILLING.value,
        manifold if manifold is not None else ambient_pa(workshop),
        readings.intake_k if readings.intake_k is not None else inputs.INTAKE_K.value,
        recirculated,
    )
    open_share = inputs.U_RECIRCULATED[state].value / (1 - recirculated)
    own = math.hypot(inputs.U_FILLING_OWN.value, 0.3 * open_share)
    if manifold is None:
        own = math.hypot(own, 0.03)
    return air, own, inputs.U_FILLING_SHARED.value, open_share, basis
