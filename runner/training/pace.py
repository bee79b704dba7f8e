"""Practice time that passes instead of jumping: waits at a chosen speed, bursts counted by hand."""

import time
from collections.abc import Callable
from datetime import datetime

from steplatch.safety.bay import Act
from steplatch.safety.catalogue import _
from steplatch.safety.occurrences import Happening

from ..record.clocks import Rest
from ..screen.talk import Prompt, StyledLine, Talk
from ..screen.terminal.keyboard import Stopped
from ..simulator.hand import SPRAYED, Hand, Noticed, VehicleClock
from ..simulator.vehicle import SimulatedVehicle
from .heard import Heard

LEAST_BURST_S = 0.1
"""Two key presses are never nearer to each other at a trigger."""


Beside = Callable[[Heard, StyledLine], StyledLine]
"""Told what is heard in a burst at a vehicle with a link, gives the line that is shown."""


class PacedVehicleClock(VehicleClock):
    """Waits take ``seconds`` over ``speed`` of real time, in view; stop works all the while."""

    def __init__(
        self, start: datetime, vehicle: SimulatedVehicle, speed: float, talk: Talk
    ) -> None:
        super().__init__(start, vehicle)
        self._speed = speed
        self._talk = talk

    def wait(self, seconds: float) -> None:
        """Let it pass, as the talk shows it. Raises Stopped, Gone."""
        self.wait_in_view(seconds)

    def wait_in_view(
        self, seconds: float, rest: Rest | None = None, said: Callable[[str], bool] | None = None
    ) -> None:
        """Let it pass. What had passed when it was stopped has passed. ``rest`` shows the wait
        (the talk's own otherwise); ``said`` is told each word typed meanwhile and carries out what
        it knows. Raises Stopped, Gone."""
        left = seconds
        while left > 0:
            begun = time.monotonic()
            try:
                typed = (rest or self._rest)(left / self._speed, _("PRACTICE WAIT"))
                known = bool(typed) and said is not None and said(typed)
            finally:
                passed = min(left, (time.monotonic() - begun) * self._speed)
                super().wait(passed)
                left -= passed
            if typed.lower() in ("s", "stop"):
                raise Stopped
            if not typed:
                super().wait(left)
                return
            if not known:
                self._talk.say(_("A wait cannot be hurried. s stops."))

    def _rest(self, seconds: float, text: str) -> str:
        return self._talk.rest(seconds, Prompt(text, "line", ""))


class PacedHand(Hand):
    """Hands that count a burst in real time, from one key press to the next."""

    def __init__(self, hand: Hand, speed: float, talk: Talk) -> None:
        super().__init__(hand.vehicle, hand.target_rpm, hand.target_rpm, hand.told, hand.slips)
        self.beside: Beside | None = None
        self.waits = _("it passes {speed:g} times as fast as real time", speed=speed)
        self._talk = talk

    def _spray(self, act: Act, seconds: float, load_ml: float | None) -> Noticed:
        """As long as the person holds the trigger, who is told what is heard meanwhile: a sag is
        acted on by the person or by nobody. A loaded gun sprays until it is empty, or sags."""
        self.counted = "" if load_ml is not None else self._counted(seconds)
        if not self.counted:
            return super()._spray(act, max(seconds, LEAST_BURST_S), load_ml)
        self.slips.pop(act.value, None)
        seen = self.vehicle.spray(max(float(self.counted), LEAST_BURST_S))
        return self._said(seen, SPRAYED.get(seen.sign, Happening.SPRAY_ENDED))

    def _counted(self, cap_s: float) -> str:
        """The seconds from key to key. Raises Stopped, once what went in until then is in."""
        heard, beside = Heard(self.vehicle), self.beside
        try:
            if beside is None:
                return self._talk.count(cap_s, heard)
            return self._talk.count(cap_s, lambda seconds: beside(heard, heard(seconds)))
        except Stopped:
            if heard.seconds > 0.0:
                self.vehicle.spray(max(heard.seconds, LEAST_BURST_S))
            raise
