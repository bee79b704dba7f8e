"""An engine's true speed over time, and the samples that a vehicle makes of it.

Independent of the reducer: it knows when something truly happens. The vehicle renews its value
every ``refresh_ms``, answers a question after some delay, and loses some answers. Time in ms,
speed in 1/min.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random

from steplatch.runner.live.samples import Sample

Speed = Callable[[float], float]


@dataclass
class Vehicle:
    """How the vehicle reports: ``refresh_ms`` between new values, answers ``delay_ms`` (low,
    high) after the question, a share ``lost`` of answers missing, noise ``sd_rpm``."""

    rng: Random
    refresh_ms: float = 100.0
    delay_ms: tuple[float, float] = (5.0, 40.0)
    lost: float = 0.01
    sd_rpm: float = 10.0
    interval_ms: float = 100.0

    def samples(
        self, speed: Speed, from_ms: float, to_ms: float, channel: str = "speed_rpm"
    ) -> Iterator[Sample]:
        """What comes in while the program asks every ``interval_ms``."""
        phase = self.rng.uniform(0.0, self.refresh_ms)
        ask = from_ms + self.rng.uniform(0.0, self.interval_ms)
        last_renewal, shown = None, 0.0
        while True:
            answer = ask + self.rng.uniform(*self.delay_ms)
            if answer >= to_ms:
                return
            renewal = (answer - phase) // self.refresh_ms * self.refresh_ms + phase
            if renewal != last_renewal:
                true = speed(max(renewal, 0.0))
                noisy = true + self.rng.gauss(0.0, self.sd_rpm) if true > 0 else 0.0
                last_renewal, shown = renewal, max(0.0, noisy)
            if self.rng.random() >= self.lost:
                milli = round(shown * 4) * 250 if channel == "speed_rpm" else round(shown) * 1000
                yield Sample(int(answer), channel, milli)
            ask = max(ask + self.interval_ms, answer)


def hunting(rng: Random, idle_rpm: float = 820.0, swing_rpm: float = 20.0) -> Speed:
    """An idle that hunts slowly."""
    period, phase = rng.uniform(3000.0, 8000.0), rng.uniform(0.0, 6.3)

    def speed(at_ms: float) -> float:
        from math import sin

        return idle_rpm + swing_rpm * sin(6.283 * at_ms / period + phase)

    return speed


def ramp(before: Speed, at_ms: float, took_ms: float, to_rpm: float) -> Speed:
    """``before`` until ``at_ms``, then straight to ``to_rpm`` within ``took_ms``."""

    def speed(now_ms: float) -> float:
        if now_ms < at_ms:
            return before(now_ms)
        start = before(at_ms)
        share = min(1.0, (now_ms - at_ms) / took_ms)
        return start + (to_rpm - start) * share

    return speed


def first_time(speed: Speed, when: Callable[[float], bool], from_ms: float, to_ms: float) -> float:
    """The first ms at which ``when`` is true of the speed. ValueError where it never is."""
    at = from_ms
    while at < to_ms:
        if when(speed(at)):
            return at
        at += 1.0
    raise ValueError("it never happens")
