"""Rows of the validation table for doses, bursts and drying: sums redone by hand, and steam tables.

The sums start from the design choices as they are stated; each was worked beside the definition,
not by this program.
"""

from collections.abc import Iterator
from dataclasses import replace

from steplatch.safety.limits import GunInput, burst, drying, reaction_allowance_s, work_limits
from steplatch.safety.limits.burst import STUDENT_999
from steplatch.safety.limits.hold_up import hold_up
from steplatch.safety.limits.inputs import VehicleInput
from steplatch.safety.limits.structure import filter_space
from steplatch.safety.physics.cylinder import clearance_volume_m3, peak_pressure_ratio
from steplatch.safety.physics.drying import (
    EXHAUST_HEAT_J_KG_K,
    WATER_HEAT_J_KG_K,
    boiling_point_k,
    drying_time_s,
    latent_heat_j_kg,
)

from tests.limits.cars import CLAIM, FLUID, GUN, LOW_SLUNG, USUAL, WORKSHOP

STEAM = "W. Wagner, A. Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387 (IAPWS-95), evaluated"
AIR = "E. W. Lemmon et al., J. Phys. Chem. Ref. Data 29 (2000) 331, air, evaluated"
STUDENT = "E. T. Federighi, J. Am. Stat. Assoc. 54 (1959) 683, 0.999"
KK2000 = "A. G. Konstandopoulos et al., SAE 2000-01-1016 (2000), Table 7, by hand"
BY_HAND = "worked by hand from the definition"
CHOICE = "worked by hand from the stated design choice"

Plain = tuple[str, str, float, float, float, str]


def limit_rows() -> Iterator[Plain]:
    """Quantity, unit, published or by hand, ours, tolerance, source."""
    yield from _steam()
    yield from _doses()
    yield from _bursts()
    yield from _dry()


def _steam() -> Iterator[Plain]:
    for celsius, pascal in ((90, 70181.8), (95, 84608.5)):
        ours = boiling_point_k(pascal)
        yield f"boiling point at {pascal:g} Pa", "K", celsius + 273.15, ours, 0.05, STEAM
    for celsius, kilo in ((25, 2441.68), (60, 2357.65), (90, 2282.49)):
        ours = latent_heat_j_kg(celsius + 273.15) / 1e3
        yield f"heat of vaporisation at {celsius} degC", "kJ/kg", kilo, ours, 5.0, STEAM
    mean = (419.166 - 83.913) / 80 * 1000  # from 20 to 100 degC
    yield "specific heat of water, 20 to 100 degC", "J/(kg K)", mean, WATER_HEAT_J_KG_K, 20.0, STEAM
    yield "specific heat of air, 20 to 250 degC", "J/(kg K)", 1018.0, EXHAUST_HEAT_J_KG_K, 15.0, AIR


def _ml(car: VehicleInput, which: str) -> float:
    limits = work_limits(car, FLUID, WORKSHOP, GUN)
    limit = {
        "strict": limits.dose_strict,
        "extended": limits.dose_extended,
        "running": limits.running_dose,
    }[which]
    assert limit is not None
    return limit.value * 1e6


def _doses() -> Iterator[Plain]:
    space = 1e6 * clearance_volume_m3(400e-6, 16.0)
    yield "space of one cylinder, 1.6 L, ratio 16", "mL", 26.667, space, 0.005, BY_HAND
    for fill, times in ((0.0, 38.85), (0.25, 55.63), (0.5, 93.00)):
        ours = peak_pressure_ratio(16.0, fill)
        yield f"compression, {fill:g} of the space full", "1", times, ours, 0.1, BY_HAND
    yield "strict dose, 2.0 L, ratio 16.5", "mL", 15.154, _ml(USUAL, "strict"), 0.01, CHOICE
    unknown = replace(USUAL, compression_ratio=None)
    yield "strict dose, 2.0 L, ratio unknown", "mL", 3.730, _ml(unknown, "strict"), 0.005, CHOICE
    eight = _ml(replace(USUAL, retained=replace(CLAIM, volume_m3=8e-6)), "extended")
    yield "extended dose, 8 mL retained", "mL", 21.554, eight, 0.01, CHOICE
    large = _ml(replace(USUAL, retained=replace(CLAIM, volume_m3=500e-6)), "extended")
    yield "extended dose, 5 % of the pores", "mL", 35.089, large, 0.01, CHOICE
    yield "held 14 cm below, tolerance 10 cm", "mL", 40.09, _held(LOW_SLUNG), 0.02, CHOICE
    unlevelled = replace(LOW_SLUNG, level_tolerance_m=None, filter_volume_m3=None)
    yield "the same, pipe alone, tolerance unknown", "mL", 34.70, _held(unlevelled), 0.02, CHOICE
    measured = replace(LOW_SLUNG, pipe_hold_up_m3=319.524e-6, filter_volume_m3=None)
    yield "the same, measured 319.5 mL", "mL", 20.0, _held(measured), 0.02, CHOICE
    deep = replace(LOW_SLUNG, pipe_bore_m=None, inlet_below_port_m=0.9)
    yield "channels of a deep filter of 3 L", "mL", 235.35, _held(deep), 0.02, CHOICE
    yield "running dose, 3 L", "mL", 299.0, _ml(USUAL, "running"), 0.2, CHOICE
    small = _ml(replace(USUAL, filter_volume_m3=None), "running")
    yield "running dose, 2.0 L, filter unknown", "mL", 179.4, small, 0.2, CHOICE
    cells = replace(
        USUAL,
        cell_density_per_m2=200 / 0.0254**2,
        wall_thickness_m=12 * 25.4e-6,
        wall_porosity=0.5,
    )
    pores = 1e3 * filter_space(cells).pore_m3 / 3.0
    yield "pores a litre, 200 cells, 12 mil, 0.50", "L/L", 0.1553, pores, 2e-4, KK2000


def _held(car: VehicleInput) -> float:
    return hold_up(car, filter_space(car)).volume_m3 * 1e6


def _bursts() -> Iterator[Plain]:
    for freedom, value in ((2, 22.327), (8, 4.501), (10, 4.144), (30, 3.385)):
        ours = STUDENT_999[freedom - 1]
        yield f"Student's t, {freedom} degrees of freedom", "1", value, ours, 6e-4, STUDENT
    three = burst(38e-6, 0.0, (3.8e-6, 4.0e-6, 4.2e-6), 0.5)
    upper = three.rate_upper_m3_s * 1e6
    yield "rate counted for 3.8, 4.0 and 4.2 mL/s", "mL/s", 4.9570, upper, 1e-3, CHOICE
    single = burst(38e-6, 0.0, (4e-6,), 0.5).rate_upper_m3_s * 1e6
    yield "rate counted for one shot of 4.0 mL/s", "mL/s", 5.2731, single, 1e-3, CHOICE
    stops = reaction_allowance_s(GunInput("gun", 1e-3, practice_stops_s=(0.3, 0.4, 0.5)))
    yield "reaction counted for 0.3, 0.4 and 0.5 s", "s", 0.7026, stops, 1e-3, CHOICE


def _dry() -> Iterator[Plain]:
    # 1 kg: (335.25 + 2256.4) kJ over 0.035 kg/s x 1.010 kJ/(kg K) x 125 K.
    ours = drying_time_s(1.0, 0.035, 498.15, 373.15, 293.15, 1.0)
    yield "time to dry 1 kg at 35 g/s, 225 degC", "s", 586.5, ours, 2.0, STEAM
    for speed, seconds in ((820.0, 3358.0), (2400.0, 344.4)):
        ours = drying(250e-6, USUAL, FLUID, WORKSHOP, speed).value
        yield f"time to dry 250 mL at {speed:g} 1/min", "s", seconds, ours, seconds * 5e-3, CHOICE
