"""Time for exhaust to boil off water held in the filter, by an energy balance.

Left out: evaporation below boiling point (the gas in truth leaves cooler and wetter, so
drying is quicker), heat lost from the can, water carried out as drops, and fluid that is not
water. The share of heat that reaches the water stands for gas that bypasses dry channels and for
heat lost; it is an input, not a published figure. What warms a cold core is a time of its own.
"""

import math
from typing import Final

from ..catalogue import _
from .domain import not_negative, positive, share, within

WATER_HEAT_J_KG_K: Final = 4200.0
"""Specific heat of liquid water, mean from 20 to 100 degC, J/(kg K)."""

EXHAUST_HEAT_J_KG_K: Final = 1010.0
"""Specific heat of lean exhaust as dry air, 20 to 250 degC, J/(kg K); low side."""

_BOILING_K: Final = 373.124  # at 101325 Pa
_LATENT_J_KG: Final = 2.2565e6  # at that temperature
_VAPOUR_SLOPE_K: Final = 4985.0  # of ln(pressure) over 1/T, 70 to 110 kPa


def boiling_point_k(pressure_pa: float) -> float:
    """Boiling point of water, K, at an absolute pressure in Pa.

    ``1/T = 1/373.124 - ln(p / 101325) / 4985``: the slope is fitted to the steam formulation
    IAPWS-95 (Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387). Within 0.03 K from
    70 to 110 kPa (up to 3000 m); refused outside.

    >>> round(boiling_point_k(101325.0) - 273.15, 2)
    99.97
    """
    within("pressure_pa", pressure_pa, 70.0e3, 110.0e3, _("Pa (absolute)"))
    return 1.0 / (1.0 / _BOILING_K - math.log(pressure_pa / 101325.0) / _VAPOUR_SLOPE_K)


def latent_heat_j_kg(temperature_k: float) -> float:
    """Latent heat of water, J/kg, at ``temperature_k``; linear, within 0.3 % of tables.

    Valid from 20 to 110 degC; refused outside.

    >>> round(latent_heat_j_kg(373.124) / 1e6, 4)
    2.2565
    """
    within("temperature_k", temperature_k, 293.15, 383.15, "K")
    return _LATENT_J_KG - 2.43e3 * (temperature_k - _BOILING_K)


def drying_time_s(
    water_kg: float,
    exhaust_kg_s: float,
    gas_in_k: float,
    gas_out_k: float,
    water_start_k: float,
    heat_share: float,
) -> float:
    """Time, s, until exhaust has boiled off ``water_kg``.

    ``m (c (T_out - T_start) + h) / (share * flow * cp * (T_in - T_out))``: ``gas_in_k``
    before the filter, ``gas_out_k`` the temperature at which gas leaves the wet filter and
    water boils, ``water_start_k`` of the fluid when sprayed. Steady flow and temperatures.

    Raises ValueError when the gas is not hotter than it leaves: it then dries nothing in
    this balance. See the module for what is left out.

    >>> round(drying_time_s(1.0, 0.035, 498.15, 373.15, 293.15, 1.0) / 60, 1)
    9.8
    """
    not_negative("water_kg", water_kg, "kg")
    positive("exhaust_kg_s", exhaust_kg_s, "kg/s")
    positive("gas_in_k", gas_in_k, "K")
    positive("water_start_k", water_start_k, "K")
    positive("heat_share", share("heat_share", heat_share), _("(a share)"))
    latent = latent_heat_j_kg(gas_out_k)
    if gas_in_k <= gas_out_k:
        raise ValueError(
            _(
                "gas_in_k is {gas_in_k:g} K, not above {gas_out_k:g} K at which the water "
                "boils: this exhaust is too cold to dry the filter; raise the revs and "
                "measure again",
                gas_in_k=gas_in_k,
                gas_out_k=gas_out_k,
            )
        )
    warm_up = WATER_HEAT_J_KG_K * max(0.0, gas_out_k - water_start_k)
    power_w = heat_share * exhaust_kg_s * EXHAUST_HEAT_J_KG_K * (gas_in_k - gas_out_k)
    return water_kg * (warm_up + latent) / power_w


def warming_time_s(
    core_j_k: float,
    exhaust_kg_s: float,
    gas_in_k: float,
    start_k: float,
    end_k: float,
    heat_share: float,
) -> float:
    """Time, s, until exhaust has warmed a core of ``core_j_k`` (J/K) from start to end.

    ``C / (share * flow * cp) * ln((T_in - T_start) / (T_in - T_end))``: the gas leaves as warm as
    the core, which is of one temperature (Newton's law; see ``physics.cooling``). Raises
    ValueError when the gas is not hotter than the end.

    >>> round(warming_time_s(2000.0, 0.035, 473.15, 293.15, 373.15, 0.7))
    48
    """
    not_negative("core_j_k", core_j_k, "J/K")
    positive("exhaust_kg_s", exhaust_kg_s, "kg/s")
    positive("start_k", start_k, "K")
    positive("heat_share", share("heat_share", heat_share), _("(a share)"))
    if gas_in_k <= end_k:
        raise ValueError(
            _(
                "gas_in_k is {gas_in_k:g} K, not above {end_k:g} K: it never gets there",
                gas_in_k=gas_in_k,
                end_k=end_k,
            )
        )
    power_w_k = heat_share * exhaust_kg_s * EXHAUST_HEAT_J_KG_K
    return core_j_k / power_w_k * math.log(max(1.0, (gas_in_k - start_k) / (gas_in_k - end_k)))
