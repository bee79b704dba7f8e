"""Heat that trapped soot gives off if it burns all at once in the filter."""

from typing import Final

from .domain import not_negative, positive

CARBON_HEAT_J_KG: Final = 393.5e3 / 12.011e-3
"""Heat of burning carbon to CO2, J/kg: 393.5 kJ/mol over 12.011 g/mol."""


def adiabatic_rise_k(soot_kg: float, core_kg: float, core_heat_j_kg_k: float = 1000.0) -> float:
    """Temperature rise of the core, K, if all soot burns and no heat leaves.

    Mean rise: soot is not spread evenly, so parts get hotter; the gas stream carries heat
    away, so the whole stays cooler. A comparison of loads, not a forecast.
    Raises ValueError on values out of range.

    >>> round(adiabatic_rise_k(8e-3 * 3.62, 2.677))
    354
    """
    not_negative("soot_kg", soot_kg, "kg")
    positive("core_kg", core_kg, "kg")
    positive("core_heat_j_kg_k", core_heat_j_kg_k, "J/(kg K)")
    return soot_kg * CARBON_HEAT_J_KG / (core_kg * core_heat_j_kg_k)
