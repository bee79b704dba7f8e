"""Temperatures of the practice vehicle: coolant, inlet metal, gas at the filter, filter body.

Lumped bodies. Heat is lost to the air under the bonnet with a rate that grows with the
difference (radiation), so that the fall is faster at first and slower later than one
exponential (a single time constant from two readings is therefore only an estimate).

Heat capacities, losses and gas temperatures: common practice, no source. They are set so that
a warm idle shows 140 to 180 degC at a close-coupled filter, a stop after it takes about 15 to
20 min to fall under 100 degC, and one after a rev hold 20 to 40 min.
"""

from dataclasses import dataclass, field
from typing import Final

GAS_CP_J_KG_K: Final = 1050.0
"""Specific heat of lean exhaust near 500 K [J/(kg K)], from memory, within a few percent."""

LATENT_HEAT_J_KG: Final = 2.36e6
"""Latent heat of water near 60 degC [J/kg] (steam tables, from memory: 2.358e6)."""

_METAL_J_K: Final = 4000.0
_BODY_J_K: Final = 4500.0
_METAL_LOSS_S: Final = 1800.0
_BODY_LOSS_S: Final = 2300.0
_RADIATION_PER_K: Final = 0.0015
_TO_METAL_SHARE: Final = 0.7
_COOLANT_LOSS_S: Final = 9000.0
_THERMOSTAT_K: Final = 360.2
_SENSOR_S: Final = 8.0
_BURN_K: Final = 873.0


@dataclass(slots=True)
class Thermal:
    """The four temperatures [K]; ``advance`` moves them on by a small step."""

    surroundings_k: float = 293.15
    coolant_k: float = 359.5
    metal_k: float = 425.0
    gas_k: float = field(default=425.0)
    body_k: float = 415.0
    shown_k: float = 425.0

    @classmethod
    def cold(cls, surroundings_k: float) -> "Thermal":
        """All bodies at the temperature of the surroundings."""
        t = surroundings_k
        return cls(surroundings_k=t, coolant_k=t, metal_k=t, gas_k=t, body_k=t, shown_k=t)

    def advance(
        self, dt_s: float, flow_kg_s: float, speed_share: float, evaporated_kg_s: float, burn: bool
    ) -> None:
        """One step of ``dt_s`` (at most a few seconds).

        ``flow_kg_s`` exhaust mass flow (0 = stopped), ``speed_share`` 0 at idle and 1 at
        2500 1/min, ``evaporated_kg_s`` liquid drying off in the filter, ``burn`` whether a
        regeneration heats the gas.
        """
        bay_k = 0.75 * self.surroundings_k + 0.25 * self.coolant_k
        metal_loss = self._loss(self.metal_k, bay_k, _METAL_J_K / _METAL_LOSS_S)
        body_loss = self._loss(self.body_k, bay_k, _BODY_J_K / _BODY_LOSS_S)
        if flow_kg_s > 0.0:
            port_k = self._port_k(speed_share)
            to_metal = flow_kg_s * GAS_CP_J_KG_K * _TO_METAL_SHARE * (port_k - self.metal_k)
            self.metal_k += dt_s * (to_metal - metal_loss) / _METAL_J_K
            self.gas_k = port_k - _TO_METAL_SHARE * (port_k - self.metal_k)
            if burn:  # the heat comes up in the catalyst just before the filter
                self.gas_k = max(self.gas_k, _BURN_K)
            to_body = flow_kg_s * GAS_CP_J_KG_K * (self.gas_k - self.body_k)
            latent = evaporated_kg_s * LATENT_HEAT_J_KG
            self.body_k += dt_s * (to_body - body_loss - latent) / _BODY_J_K
            self._warm_coolant(dt_s, speed_share)
        else:
            self.metal_k -= dt_s * metal_loss / _METAL_J_K
            self.body_k -= dt_s * body_loss / _BODY_J_K
            self.gas_k = 0.9 * self.metal_k + 0.1 * self.body_k
            self.coolant_k -= dt_s * (self.coolant_k - self.surroundings_k) / _COOLANT_LOSS_S
        self.body_k = max(self.body_k, min(self.surroundings_k, bay_k))
        self.shown_k += (self.gas_k - self.shown_k) * min(1.0, dt_s / _SENSOR_S)

    def _port_k(self, speed_share: float) -> float:
        """Gas leaving the engine [K]: cooler while the coolant is cold."""
        warm = 471.0 + 66.0 * speed_share
        return warm - 0.55 * max(0.0, _THERMOSTAT_K - self.coolant_k)

    def _warm_coolant(self, dt_s: float, speed_share: float) -> None:
        rate_k_s = 0.030 + 0.045 * speed_share
        nearness = min(1.0, max(-1.0, (_THERMOSTAT_K - self.coolant_k) / 4.0))
        self.coolant_k += dt_s * rate_k_s * nearness

    @staticmethod
    def _loss(body_k: float, bay_k: float, conductance_w_k: float) -> float:
        rise = body_k - bay_k
        return conductance_w_k * rise * (1.0 + _RADIATION_PER_K * max(0.0, rise))
