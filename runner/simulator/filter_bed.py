"""The wall-flow filter of the practice vehicle: soot, ash, crack, wetness, loosened soot.

The pressure drop comes from ``safety.physics.wall_flow`` with more in it than the straight
line that a judgement fits: soot inside the walls, end losses that grow with the square of the
flow, liquid, and gas past a crack. What stands here and not there is common practice, no
source, except the shape of the soot inside the walls (steep for the first gram a litre, then
near linear, about twice the clean drop at 4 g/L: Du et al., Energies 11 (2018) 472, Table 3).
"""

import math
from dataclasses import dataclass
from typing import Final

from steplatch.safety.physics.gas import density_kg_m3, viscosity_pa_s
from steplatch.safety.physics.wall_flow import (
    FilterGeometry,
    opening_from_cell_density,
    pressure_drop_pa,
)

SOOT_PERMEABILITY_M2: Final = 1.6e-14
"""Between 1.45e-14 (Yao et al., Energy Sources A 45 (2023), Table 3) and 1.8e-14 (SAE
2000-01-1016, Table 7)."""

_IN_WALL_GAIN: Final = 1.5
_IN_WALL_LOAD_KG_M3: Final = 1.6
_END_LOSS: Final = 1.5
_WET_GAIN: Final = 2.2
_CRACK_DISCHARGE: Final = 0.7
_LOOSEN_ML: Final = 60.0
_SOAK_LOOSEN_S: Final = 500.0
_WASH_S: Final = 240.0
_WASH_FLOW_KG_S: Final = 0.043
_BURN_S: Final = 900.0
_DRY_SHARE: Final = 0.55
_WET_BULB_K: Final = 331.0
_THIN_ML: Final = 60.0


@dataclass(frozen=True, slots=True)
class BedDrop:
    """Pressure drop [Pa], share of the gas that passes beside the walls, and pressure drop
    over viscosity times volume flow [1/m3]."""

    total_pa: float
    bypass_share: float
    resistance_per_m3: float


@dataclass(slots=True)
class FilterBed:
    """Soot [kg] fast (``reachable``: fluid can get at it; ``packed``: it cannot) and loosened."""

    geometry: FilterGeometry
    porosity: float
    reachable_kg: float
    packed_kg: float
    ash_kg: float
    crack_m2: float
    loosened_kg: float = 0.0
    gone_kg: float = 0.0

    @classmethod
    def build(
        cls,
        volume_m3: float,
        length_m: float,
        cell_density_per_m2: float,
        wall_m: float,
        permeability_m2: float,
        porosity: float,
        soot_kg_m3: float,
        ash_kg_m3: float,
        reach: float,
        crack_m2: float,
    ) -> "FilterBed":
        """A dry bed with the given loads [kg/m3 of filter]; ``reach`` the loosenable share."""
        opening_m = opening_from_cell_density(cell_density_per_m2, wall_m)
        soot_kg = soot_kg_m3 * volume_m3
        return cls(
            geometry=FilterGeometry(volume_m3, length_m, opening_m, wall_m, permeability_m2),
            porosity=porosity,
            reachable_kg=soot_kg * reach,
            packed_kg=soot_kg * (1.0 - reach),
            ash_kg=ash_kg_m3 * volume_m3,
            crack_m2=crack_m2,
        )

    @property
    def soot_kg(self) -> float:
        """All soot still in the filter, loosened or not [kg]."""
        return self.reachable_kg + self.packed_kg + self.loosened_kg

    @property
    def pore_ml(self) -> float:
        """Room for liquid in the pores of the walls [mL]."""
        return self.geometry.pore_volume_m3(self.porosity) * 1e6

    def drop(
        self,
        flow_kg_s: float,
        gas_k: float,
        outlet_pa: float,
        liquid_ml: float,
        soot_kg: float | None = None,
    ) -> BedDrop:
        """The pressure drop at an exhaust mass flow [kg/s], mean gas temperature [K], absolute
        outlet pressure [Pa] and liquid in the walls [mL].

        ``soot_kg`` replaces the true load, for what a model of the filter would expect.
        """
        soot = self.soot_kg if soot_kg is None else soot_kg
        density = density_kg_m3(outlet_pa, gas_k)
        viscosity = viscosity_pa_s(gas_k)
        flow_m3_s = flow_kg_s / density
        clean = self.geometry
        load = soot / clean.volume_m3
        in_wall = 1.0 + _IN_WALL_GAIN * (1.0 - math.exp(-load / _IN_WALL_LOAD_KG_M3))
        sooty = FilterGeometry(
            clean.volume_m3,
            clean.length_m,
            clean.opening_m,
            clean.wall_m,
            clean.permeability_m2 / in_wall,
        )
        parts = pressure_drop_pa(
            sooty,
            flow_m3_s,
            viscosity,
            density_kg_m3=density,
            soot_kg=soot,
            soot_permeability_m2=SOOT_PERMEABILITY_M2,
            ash_kg=self.ash_kg,
            inertial_loss=_END_LOSS,
        )
        wet = 1.0 + _WET_GAIN * min(1.0, liquid_ml / self.pore_ml)
        viscous_pa = (parts.total_pa - parts.inertial_pa) * wet
        through = self._through_share(viscous_pa, parts.inertial_pa, flow_m3_s, density)
        return BedDrop(
            total_pa=viscous_pa * through + parts.inertial_pa * through**2,
            bypass_share=1.0 - through,
            resistance_per_m3=viscous_pa / (viscosity * flow_m3_s) if flow_m3_s > 0.0 else 0.0,
        )

    def _through_share(
        self, viscous_pa: float, inertial_pa: float, flow_m3_s: float, density: float
    ) -> float:
        """Share of the gas that passes the walls: both ways have the same pressure drop."""
        if self.crack_m2 <= 0.0 or flow_m3_s <= 0.0:
            return 1.0
        low, high = 0.0, 1.0
        for _ in range(30):
            share = 0.5 * (low + high)
            walls_pa = viscous_pa * share + inertial_pa * share**2
            speed_m_s = (1.0 - share) * flow_m3_s / (_CRACK_DISCHARGE * self.crack_m2)
            if walls_pa < 0.5 * density * speed_m_s**2:
                low = share
            else:
                high = share
        return 0.5 * (low + high)

    def wet_with(self, volume_ml: float) -> None:
        """Fluid that has just come to the walls loosens part of the soot that it can reach."""
        self._loosen(1.0 - math.exp(-volume_ml / _LOOSEN_ML))

    def soak(self, dt_s: float, liquid_ml: float) -> None:
        """Standing liquid goes on loosening, slowly."""
        wetted = min(1.0, liquid_ml / self.pore_ml)
        self._loosen(wetted * (1.0 - math.exp(-dt_s / _SOAK_LOOSEN_S)))

    def _loosen(self, share: float) -> None:
        moved = self.reachable_kg * share
        self.reachable_kg -= moved
        self.loosened_kg += moved

    def wash(self, dt_s: float, flow_kg_s: float) -> None:
        """The gas takes loosened soot away, quickly at raised revs and hardly at idle."""
        rate_per_s = (flow_kg_s / _WASH_FLOW_KG_S) ** 2 / _WASH_S
        moved = self.loosened_kg * (1.0 - math.exp(-rate_per_s * dt_s))
        self.loosened_kg -= moved
        self.gone_kg += moved

    def burn(self, dt_s: float) -> None:
        """A regeneration burns soot off, loosened or not."""
        left = math.exp(-dt_s / _BURN_S)
        self.gone_kg += self.soot_kg * (1.0 - left)
        self.reachable_kg *= left
        self.packed_kg *= left
        self.loosened_kg *= left

    def dried_ml(
        self, dt_s: float, flow_kg_s: float, gas_k: float, liquid_ml: float, factor: float
    ) -> float:
        """Liquid that dries off in ``dt_s`` [mL of water], slower once the walls are thinly wet.

        Heat balance with 55 % of the heat of the gas above its wet-bulb temperature: about
        10 min a litre at 2500 1/min and an hour at idle.
        """
        if liquid_ml <= 0.0 or gas_k <= _WET_BULB_K:
            return 0.0
        heat_w = flow_kg_s * 1050.0 * (gas_k - _WET_BULB_K) * _DRY_SHARE * factor
        thin = min(1.0, liquid_ml / _THIN_ML)
        return min(liquid_ml, heat_w / 2.36e6 * dt_s * 1000.0 * thin)
