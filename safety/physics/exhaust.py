"""Exhaust flow through the filter, from the air that the engine breathes."""

from typing import Final

from ..catalogue import _
from .domain import positive, share
from .gas import density_kg_m3

_STROKES_PER_CHARGE_S_MIN: Final = 120.0  # four-stroke: one charge in two turns, 60 s a minute


def exhaust_mass_flow_kg_s(air_kg_s: float, air_fuel_ratio: float) -> float:
    """Mass flow of exhaust, kg/s: air plus the fuel burnt in it.

    ``air (1 + 1/AFR)``; AFR is air to fuel by mass (about 40 and more at a diesel idle).
    With high-pressure recirculation the gas leaves and returns before the filter, so
    ``air_kg_s`` is the fresh air only. Not valid with low-pressure recirculation, where
    more than the fresh air passes the filter. Raises ValueError on values not above zero.

    >>> round(exhaust_mass_flow_kg_s(0.010, 40.0), 6)
    0.01025
    """
    positive("air_kg_s", air_kg_s, "kg/s")
    positive("air_fuel_ratio", air_fuel_ratio, _("(kg air per kg fuel)"))
    return air_kg_s * (1.0 + 1.0 / air_fuel_ratio)


def volume_flow_m3_s(mass_flow_kg_s: float, temperature_k: float, pressure_pa: float) -> float:
    """Volume flow, m3/s, of a mass flow of air-like gas at T in K and absolute pressure in Pa.

    Ideal gas. Raises ValueError on values not above zero.

    >>> round(volume_flow_m3_s(0.01025, 423.15, 101325.0), 5)
    0.01229
    """
    positive("mass_flow_kg_s", mass_flow_kg_s, "kg/s")
    return mass_flow_kg_s / density_kg_m3(pressure_pa, temperature_k)


def speed_density_air_kg_s(
    displacement_m3: float,
    speed_rpm: float,
    volumetric_efficiency: float,
    manifold_pa: float,
    manifold_k: float,
    recirculated_share: float,
) -> float:
    """Fresh air drawn by a four-stroke engine, kg/s, when no air-flow reading is shown.

    ``eta V (N/120) p/(R T) (1 - x)``; V whole displacement in m3, N in 1/min, manifold
    pressure absolute in Pa, manifold T in K, x mass share of recirculated gas in the charge.
    Efficiency (0.85 to 0.95) and recirculation (0 to 0.5 at idle) are rarely known: carry
    their uncertainty. Standard algebra; no more exact than its inputs.
    Raises ValueError on values out of their physical range.

    >>> round(speed_density_air_kg_s(2.0e-3, 800.0, 0.9, 101325.0, 313.15, 0.0), 5)
    0.01353
    """
    positive("displacement_m3", displacement_m3, "m3")
    positive("speed_rpm", speed_rpm, "1/min")
    positive("volumetric_efficiency", volumetric_efficiency, _("(a share, about 0.9)"))
    share("recirculated_share", recirculated_share)
    charge_m3_s = volumetric_efficiency * displacement_m3 * speed_rpm / _STROKES_PER_CHARGE_S_MIN
    return charge_m3_s * density_kg_m3(manifold_pa, manifold_k) * (1.0 - recirculated_share)
