"""What is heard and seen at the practice vehicle while a burst goes on.

A copy of the vehicle is sprayed along with the count, so that the sag of the idle is there to be
acted on before it becomes a stall; the vehicle itself is sprayed once the trigger has shut.
"""

import copy
from typing import Final

from steplatch.safety.catalogue import _

from ..screen.talk import StyledLine
from ..simulator.acts_fluid import SAG_RPM
from ..simulator.vehicle import SimulatedVehicle

STEP_S: Final = 0.25
"""The step in which a burst is simulated."""
DROPS_RPM: Final = 40.0
"""A fall of the idle that an ear notices, below the one to act on (common practice, no source)."""


class Heard:
    """Told the seconds since the trigger opened, gives the line that says what is noticed then."""

    def __init__(self, vehicle: SimulatedVehicle) -> None:
        self._copy = copy.deepcopy(vehicle)
        self._known = len(self._copy.world.mishaps)
        self._copy.open_gun()
        self._begun_s = self._copy.elapsed_s
        self._ran = self._copy.world.engine.running
        self._stalled = False
        self.seconds = 0.0
        """How long the trigger has been open, as last told."""

    @property
    def vehicle(self) -> SimulatedVehicle:
        """The copy that is sprayed."""
        return self._copy

    def __call__(self, seconds: float) -> StyledLine:
        """What is noticed ``seconds`` after the trigger opened; never further back than before."""
        self.seconds = seconds
        world = self._copy.world
        while world.elapsed_s + STEP_S <= self._begun_s + seconds:
            self._stalled = world.step(STEP_S) or self._stalled
        return self._line()

    def _line(self) -> StyledLine:
        world = self._copy.world
        if self._stalled:
            return _("HEARD  The engine has stalled."), "DANGER"
        if any(mishap.kind == "steam" for mishap in world.mishaps[self._known :]):
            return _("HEARD  A hiss: hot steam comes back at the hose."), "DANGER"
        if world.gun.contents_ml <= 0.0:
            return _("HEARD  Only air: the gun is empty."), "CAUTION"
        if not world.gun.coupled:
            return _("SEEN   Fluid runs over the engine bay."), "DANGER"
        if not self._ran:
            return _("HEARD  The gun, and nothing else."), ""
        # the note tells the mean speed; what the idle hunts about it is no sag
        fall = world.engine.asked_rpm - world.engine.speed_rpm
        speed = f"{world.engine.speed_rpm / 10:.0f}0 1/min"
        if fall > SAG_RPM:
            return _("HEARD  The note sags: {speed}.", speed=speed), "DANGER"
        if fall > DROPS_RPM:
            return _("HEARD  The note drops: {speed}.", speed=speed), "CAUTION"
        return _("HEARD  An even note: {speed}.", speed=speed), ""
