"""From a set of readings to viscosity x volume flow at the filter, with its uncertainty.

The drop of a wall-flow filter is proportional to viscosity x volume flow (SAE 2000-01-1016,
eq. A1 to A4), so that product, not the air flow, is what a pressure is compared at. It is
given here as a share of the reference flow (``inputs.REFERENCE_TEXT``), without unit.

Every error of a point is a ``terms.Term`` that says what it is shared with: the scale of the
meter or of the engine's filling by every set on the same basis; what recirculates unseen by the
sets of one condition, idle or raised, alone; the bias of the exhaust probe, or of what is assumed
where none is shown, by all. What is shared cancels between before and after; by how much the
exhaust of one phase differs from what is assumed is shared by the sets of that phase alone and
does not cancel.
"""

import math
import re
from dataclasses import dataclass, replace
from typing import Final, Literal, TypeAlias

from steplatch.safety.limits.inputs import VehicleInput, Workshop
from steplatch.safety.physics.exhaust import speed_density_air_kg_s, volume_flow_m3_s
from steplatch.safety.physics.gas import standard_atmosphere, viscosity_pa_s

from ..core.reading_set import Phase, ReadingCondition, ReadingSet
from ..input.quantities import parse_quantity
from . import inputs
from .terms import Term

Basis: TypeAlias = Literal["none", "measured_air_flow", "manifold_pressure", "engine_speed_only"]


@dataclass(frozen=True, slots=True)
class FlowPoint:
    """One pressure against one flow share, with standard uncertainties.

    ``share`` is viscosity x volume flow over its reference value (0 with the engine stopped).
    ``terms`` are its errors; ``behind_pa`` is what one hose reads of all behind the filter.
    ``basis`` says where the air flow comes from; ``exhaust_k`` is None where it was assumed.
    """

    condition: ReadingCondition
    phase: Phase
    pressure_pa: float
    terms: tuple[Term, ...]
    share: float = 0.0
    behind_pa: float = 0.0
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
    own = _pressure_terms(readings, vehicle)
    if readings.condition == "zero":
        return FlowPoint("zero", readings.phase, pressure, own)
    air, basis, air_errors = _air(readings, vehicle, workshop)
    exhaust, heat_errors = _exhaust(readings)
    # Gas expands through the filter: its mean pressure carries the first-order correction.
    mean_pa = ambient_pa(workshop) + max(pressure, 0.0) / 2
    mass = air * (1 + inputs.FUEL_SHARE.value)
    share = (
        viscosity_pa_s(exhaust) * volume_flow_m3_s(mass, exhaust, mean_pa) / reference_flow()
        if mass > 0
        else 0.0
    )
    square = share**2 if vehicle.one_hose else 0.0
    errors = (
        *air_errors,
        *heat_errors,
        _percent("ambient", inputs.AMBIENT_SHARE, f"ambient {basis}"),
        _percent("fuel", inputs.U_FUEL_SHARE),
    )
    return FlowPoint(
        condition=readings.condition,
        phase=readings.phase,
        pressure_pa=pressure,
        terms=(
            *own,
            *_of_pressure(pressure),
            *_behind(square),
            *(replace(e, per_unit=share * e.per_unit) for e in errors),
        ),
        share=share,
        behind_pa=inputs.BEHIND_PA.value * square,
        basis=basis,
        air_kg_s=air,
        exhaust_k=readings.exhaust_k,
    )


def zero_unread(phase: Phase) -> FlowPoint:
    """The zero of a phase in which none was read."""
    u_mbar = inputs.ZERO_PRIOR_PA.value / 100
    return FlowPoint("zero", phase, 0.0, (Term("zero_unread", "mbar", u_mbar, "pressure", 100.0),))


def _pressure_terms(readings: ReadingSet, vehicle: VehicleInput) -> tuple[Term, ...]:
    step_pa = max(vehicle.sensor_step_pa, typed_step_pa(readings))
    rows = (
        ("reading", inputs.PRESSURE_OWN_PA.value),
        ("step", step_pa / math.sqrt(12)),
        ("spread", _spread_of_mean(readings)),
    )
    return tuple(Term(name, "mbar", pa / 100, "pressure", 100.0) for name, pa in rows)


def _of_pressure(pressure_pa: float) -> tuple[Term, ...]:
    """The errors that grow with the pressure."""
    rows = (
        ("pulsation", inputs.PRESSURE_OWN_SHARE, ""),
        ("curvature", inputs.CURVATURE, ""),
        ("gain", inputs.PRESSURE_GAIN, "gain"),
    )
    return tuple(
        Term(name, "percent", 100 * stated.value, "pressure", pressure_pa / 100, shared)
        for name, stated, shared in rows
    )


def _behind(square: float) -> tuple[Term, ...]:
    if not square:
        return ()
    u_mbar = inputs.U_BEHIND_PA.value / 100
    return (Term("behind", "mbar", u_mbar, "pressure", 100 * square, "behind"),)


def _percent(name: str, stated: inputs.Stated, shared: str = "") -> Term:
    """An error of the flow in percent of it (``per_unit`` for a flow of 1)."""
    return Term(name, "percent", 100 * stated.value, "flow", 0.01, shared)


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


def _exhaust(readings: ReadingSet) -> tuple[float, tuple[Term, ...]]:
    """The exhaust in K, and its errors for a flow of 1."""
    rows: tuple[tuple[str, inputs.Stated, str], ...]
    if readings.exhaust_k is not None:
        exhaust_k = readings.exhaust_k
        rows = (
            ("exhaust", inputs.EXHAUST_OWN_K, ""),
            ("exhaust_bias", inputs.EXHAUST_SHARED_K, "heat"),
        )
    else:
        exhaust_k = inputs.ASSUMED_EXHAUST_K[readings.condition].value
        rows = (
            ("exhaust_assumed", inputs.U_ASSUMED_EXHAUST_OWN_K, ""),
            ("exhaust_assumed_bias", inputs.U_ASSUMED_EXHAUST_SHARED_K, "heat"),
            ("exhaust_visit", inputs.U_ASSUMED_EXHAUST_VISIT_K, f"visit {readings.phase}"),
        )
    if readings.held_s is not None and readings.held_s < inputs.BANDS.held_s:
        rows += (("exhaust_early", inputs.U_EARLY_EXHAUST_K, ""),)
    per_k = _relative_per_k(exhaust_k)
    return exhaust_k, tuple(
        Term(name, "k", stated.value, "flow", per_k, shared) for name, stated, shared in rows
    )


def _air(
    readings: ReadingSet, vehicle: VehicleInput, workshop: Workshop
) -> tuple[float, Basis, tuple[Term, ...]]:
    """The air flow in kg/s, its basis, and its errors for a flow of 1."""
    if readings.air_kg_s is not None:
        if readings.air_kg_s <= 0:
            raise NoPressure("no_air")
        air_g_s, floor_g_s = 1000 * readings.air_kg_s, 1000 * inputs.AIR_OWN_FLOOR_KG_S.value
        return (
            readings.air_kg_s,
            "measured_air_flow",
            (
                _percent("air", inputs.AIR_OWN),
                Term("air_figure", "g_s", floor_g_s, "flow", 1 / air_g_s),
                _percent("air_scale", inputs.AIR_SCALE, "air measured_air_flow"),
            ),
        )
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
    valve = _percent("valve", inputs.U_RECIRCULATED[state], f"valve {basis} {readings.condition}")
    valve = replace(valve, per_unit=valve.per_unit / (1 - recirculated))
    moved = replace(valve, id="valve_own", u=inputs.VALVE_OWN.value * valve.u, shared="")
    unread = () if manifold is not None else (_percent("manifold", inputs.U_MANIFOLD),)
    return (
        air,
        basis,
        (
            _percent("filling", inputs.U_FILLING_OWN),
            _percent("filling_scale", inputs.U_FILLING_SHARED, f"air {basis}"),
            valve,
            moved,
            *unread,
        ),
    )
