"""The pressure sensor of the practice vehicle: what it makes of the true pressure.

Zero error, lag, pulsation, step, liquid standing in the hose, hose off, hoses swapped, a
split or blocked hose, a substitute value, and the like sensor that is not the filter's.
"""

import math
from dataclasses import dataclass
from enum import Enum
from random import Random


class HoseFitting(Enum):
    """How the upstream hose stands at the sensor."""

    ON = "on"
    OFF = "off"
    SWAPPED = "swapped"


@dataclass(slots=True)
class PressureSensor:
    """``passes`` share of the pressure that comes through the hose; ``level_pa`` the lagged
    pressure at the sensor before its zero error."""

    zero_pa: float
    lag_s: float
    step_pa: float
    frozen_pa: float | None
    hose: HoseFitting
    passes: float
    reads_recirculation: bool
    level_pa: float = 0.0
    noise_pa: float = 0.0

    def advance(
        self,
        dt_s: float,
        filter_pa: float,
        recirculation_pa: float,
        head_pa: float,
        speed_share: float,
        running: bool,
        rng: Random,
    ) -> None:
        """One step: ``filter_pa`` true drop, ``head_pa`` of the liquid in the hose."""
        source_pa = recirculation_pa if self.reads_recirculation else filter_pa * self.passes
        if self.hose is HoseFitting.OFF:
            at_sensor = 0.0
        elif self.hose is HoseFitting.SWAPPED:
            at_sensor = -(source_pa + head_pa)
        else:
            at_sensor = source_pa + head_pa
        lag_s = self.lag_s * (1.0 + head_pa / 500.0)
        self.level_pa += (at_sensor - self.level_pa) * (1.0 - math.exp(-dt_s / lag_s))
        spread = (18.0 + 25.0 * speed_share) if running else 6.0
        self.noise_pa = rng.gauss(0.0, spread)

    @property
    def shown_pa(self) -> float:
        """What the diagnostics show [Pa], in the sensor's steps."""
        if self.frozen_pa is not None:
            return self.frozen_pa
        value = self.level_pa + self.zero_pa + self.noise_pa
        return round(value / self.step_pa) * self.step_pa
