"""Practice time that passes instead of jumping: waits at a chosen speed, bursts counted by hand."""

import time
from datetime import datetime

from runner.console.keyboard import Stopped
from runner.console.talk import Talk
from runner.practice.hand import Hand, Noticed, VehicleClock
from runner.practice.vehicle import SimulatedVehicle
from safety.bay import Act


class PacedClock(VehicleClock):
    """Waits take ``seconds`` over ``speed`` of real time, in view; stop works all the while."""

    def __init__(
        self, start: datetime, vehicle: SimulatedVehicle, speed: float, talk: Talk
    ) -> None:
        super().__init__(start, vehicle)
        self._speed = speed
        self._talk = talk

    def wait(self, seconds: float) -> None:
        """Let it pass. What had passed when it was stopped has passed. Raises Stopped, Gone."""
        left = seconds
        while left > 0:
            begun = time.monotonic()
            try:
                typed = self._talk.rest(left / self._speed, "practice wait")
            finally:
                passed = min(left, (time.monotonic() - begun) * self._speed)
                super().wait(passed)
                left -= passed
            if typed.lower() in ("s", "stop"):
                raise Stopped
            if not typed:
                super().wait(left)
                return
            self._talk.say("A wait cannot be hurried. s stops.")


class PacedHand(Hand):
    """Hands that count a burst in real time, from one key press to the next."""

    def __init__(self, hand: Hand, speed: float, talk: Talk) -> None:
        super().__init__(hand.vehicle, hand.target_rpm, hand.target_rpm, hand.told, hand.slips)
        self.waits = f"it passes {speed:g} times as fast as real time"
        self._talk = talk

    def _spray(self, act: Act, seconds: float, load_ml: float | None) -> Noticed:
        """As long as the person holds the trigger; the sag is heeded, since it cannot be heard."""
        if load_ml is None:
            seconds = float(self._talk.count(seconds) or seconds)
        return super()._spray(act, max(seconds, 0.1), load_ml)
