"""The engine of the practice vehicle: speed, governor, sag, recirculation, air, fuel.

Idle and raised flows follow speed-density with a volumetric efficiency of 0.88 and a third of
the charge recirculated at a warm idle, which gives the 8 to 10 g/s at idle and about 42 g/s at
2500 1/min that a 2 litre engine shows (common practice, no source).
"""

from dataclasses import dataclass
from random import Random
from typing import Final

from steplatch.safety.physics.exhaust import exhaust_mass_flow_kg_s, speed_density_air_kg_s

from ..core.reading_set import Recirculation
from .setup import RecirculationWay

AMBIENT_PA: Final = 101325.0
INTAKE_K: Final = 311.0
RAISED_RPM: Final = 2500.0
STALL_RPM: Final = 470.0

_THROTTLED_SHARE: Final = 0.35
_STOICHIOMETRIC: Final = 14.7
"""Air to petrol by mass, from memory."""
_EFFICIENCY: Final = 0.88
_OPEN_SHARE: Final = 0.335
_SPEED_LAG_S: Final = 0.9
_BOOST_AT_RAISED: Final = 0.05
_RECIRCULATES_FROM_K: Final = 333.0
_SHUTS_AT_RPM: Final = 1700.0


@dataclass(slots=True)
class SimulatedEngine:
    """``running`` and ``speed_rpm`` as they are, ``asked_rpm`` what the pedal asks for."""

    displacement_m3: float
    idle_rpm: float
    highest_rpm: float
    way: RecirculationWay
    running: bool = False
    speed_rpm: float = 0.0
    asked_rpm: float = 0.0
    ran_s: float = 0.0
    fluid_seen: bool = False
    hunting_rpm: float = 0.0
    throttled: bool = False

    def fire(self) -> None:
        """It has started: idle at once."""
        self.running = True
        self.speed_rpm = self.asked_rpm = self.idle_rpm

    def stop(self) -> None:
        """It stands still."""
        self.running = False
        self.speed_rpm = self.asked_rpm = self.hunting_rpm = 0.0

    def ask(self, speed_rpm: float) -> float:
        """The pedal asks for a speed; returns what the governor gives [1/min]."""
        self.asked_rpm = min(max(speed_rpm, self.idle_rpm), self.highest_rpm)
        return self.asked_rpm

    def advance(self, dt_s: float, sag_rpm: float, rng: Random) -> bool:
        """One step; returns True when it has just stalled."""
        if not self.running:
            return False
        self.ran_s += dt_s
        goal = self.asked_rpm - sag_rpm
        self.speed_rpm += (goal - self.speed_rpm) * min(1.0, dt_s / _SPEED_LAG_S)
        self.hunting_rpm = rng.gauss(0.0, 4.0)
        if self.speed_rpm < STALL_RPM:
            self.stop()
            return True
        return False

    @property
    def speed_share(self) -> float:
        """0 at idle or stopped, 1 at 2500 1/min, in between and beyond linear."""
        return max(0.0, (self.speed_rpm - self.idle_rpm) / (RAISED_RPM - self.idle_rpm))

    @property
    def manifold_pa(self) -> float:
        """Absolute manifold pressure [Pa]: ambient, a little boost at raised revs; throttled
        without load, about a third of ambient (common practice, no source)."""
        if self.throttled:
            return AMBIENT_PA * _THROTTLED_SHARE
        return AMBIENT_PA * (1.0 + _BOOST_AT_RAISED * self.speed_share)

    def recirculated_share(self, coolant_k: float) -> float:
        """Share of the charge that is recirculated exhaust."""
        if not self.running or self.throttled:
            return 0.0
        if self.way == "stuck open":
            return _OPEN_SHARE
        if coolant_k < _RECIRCULATES_FROM_K:
            return 0.0
        if self.way == "shut after fluid" and self.fluid_seen:
            return 0.0
        closed = (self.speed_rpm - self.idle_rpm - 200.0) / (_SHUTS_AT_RPM - self.idle_rpm - 200.0)
        return _OPEN_SHARE * min(1.0, max(0.0, 1.0 - closed))

    def recirculation(self, coolant_k: float) -> Recirculation:
        """The state of the valve as the diagnostics name it."""
        share = self.recirculated_share(coolant_k)
        if share <= 0.02:
            return "shut"
        return "open" if share >= 0.8 * _OPEN_SHARE else "part"

    def air_kg_s(self, coolant_k: float) -> float:
        """Fresh air drawn [kg/s], 0 when stopped."""
        if not self.running:
            return 0.0
        return speed_density_air_kg_s(
            self.displacement_m3,
            self.speed_rpm,
            _EFFICIENCY,
            self.manifold_pa,
            INTAKE_K,
            self.recirculated_share(coolant_k),
        )

    def exhaust_kg_s(self, air_kg_s: float, burn: bool) -> float:
        """Exhaust mass flow [kg/s]: lean without load, richer while a regeneration runs; throttled,
        as much air as the fuel needs."""
        if air_kg_s <= 0.0:
            return 0.0
        if self.throttled:
            return exhaust_mass_flow_kg_s(air_kg_s, _STOICHIOMETRIC)
        return exhaust_mass_flow_kg_s(air_kg_s, 28.0 if burn else 45.0)
