"""The fluid gun of the practice vehicle: contents, rate, spread, drift."""

from dataclasses import dataclass
from random import Random


@dataclass(slots=True)
class PracticeGun:
    """``rate_ml_s`` mean rate; each pull of the trigger has its own within ``spread`` (share);
    ``drift_per_ml`` share by which the rate has grown after each mL given."""

    rate_ml_s: float
    spread: float
    drift_per_ml: float
    contents_ml: float = 0.0
    given_ml: float = 0.0
    pull: float = 1.0
    coupled: bool = False

    def pull_trigger(self, rng: Random) -> None:
        """A new pull: its rate is drawn once."""
        self.pull = 1.0 + max(-2.5, min(2.5, rng.gauss(0.0, 1.0))) * self.spread

    @property
    def rate_now_ml_s(self) -> float:
        """The rate of this pull, with the drift so far [mL/s]."""
        drift = min(0.8, self.drift_per_ml * self.given_ml)
        return self.rate_ml_s * self.pull * (1.0 + drift)

    def drip(self, volume_ml: float) -> float:
        """What a shut gun lets through [mL], no more than is in it."""
        out = min(self.contents_ml, volume_ml)
        self.contents_ml -= out
        return out

    def give(self, dt_s: float) -> float:
        """What comes out in ``dt_s`` [mL], no more than is in it."""
        out = min(self.contents_ml, self.rate_now_ml_s * dt_s)
        self.contents_ml -= out
        self.given_ml += out
        return out
