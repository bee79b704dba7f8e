"""The simulated vehicle: the acts that a person does at it, and what comes back.

Each act returns an ``Observation``: only what a person could see, hear or feel. ``show`` is
what the vehicle's own diagnostics show; ``truth`` is for debriefs and tests. The vehicle has
no clock: time passes by ``advance`` (or ``wait``), while spraying and while cranking, and
never otherwise. The same seed, faults and acts give the same answers, so that a vehicle can be
rebuilt from ``acts_done``.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput

from . import views
from .acts import ActDone, act
from .acts_engine import EngineActs
from .acts_fluid import FluidActs
from .acts_line import LineActs
from .faults import setup_with
from .observation import Instruments, NoticedKind, Observation, Truth, WhatIf
from .setup import PRACTICE_VEHICLE
from .world import World


class SimulatedVehicle(EngineActs, LineActs, FluidActs):
    """A practice vehicle. ``faults``: a name from ``FAULTS`` or several; default soot only.

    ``vehicle`` gives sizes; what it leaves unknown is taken as on a common 2 litre class.
    Raises ``UnknownFaultError`` for a name that is not in the register.
    """

    def __init__(
        self,
        seed: int = 1,
        faults: str | Sequence[str] = "none",
        vehicle: VehicleInput = PRACTICE_VEHICLE,
    ) -> None:
        self.seed = seed
        self.faults: tuple[str, ...] = (faults,) if isinstance(faults, str) else tuple(faults)
        self.vehicle = vehicle
        super().__init__(World(seed, setup_with(*self.faults), vehicle))

    @classmethod
    def rebuilt(
        cls,
        seed: int,
        faults: str | Sequence[str],
        acts: Sequence[ActDone],
        vehicle: VehicleInput = PRACTICE_VEHICLE,
    ) -> "SimulatedVehicle":
        """The vehicle as it stands after ``acts``. Raises ValueError for an unknown act."""
        new = cls(seed, faults, vehicle)
        for done in acts:
            new.redo(done)
        return new

    def redo(self, done: ActDone) -> Any:
        """Do an act again as it was noted; returns what it let a person notice. Raises ValueError
        for an unknown act."""
        name, args, kwargs = done
        method = None if name.startswith("_") else getattr(self, name, None)
        if method is None or not hasattr(method, "__wrapped__"):
            raise ValueError(_("{name!r} is no act of the practice vehicle", name=name))
        return method(*args, **kwargs)

    @property
    def acts_done(self) -> tuple[ActDone, ...]:
        """Every act so far, in order."""
        return tuple(self.acts)

    @property
    def elapsed_s(self) -> float:
        """Simulated seconds since the start."""
        return self.world.elapsed_s

    @act
    def advance(self, seconds: float) -> Observation:
        """Let time pass [s]; tells what happened unasked meanwhile. ValueError if negative."""
        world = self.world
        before = world.engine.running
        end = world.elapsed_s + seconds
        while world.advance(max(0.0, end - world.elapsed_s) if world.told else seconds):
            pass
        words = " ".join(world.told)
        world.told.clear()
        if not words:
            return Observation(
                NoticedKind.NOTHING, _("Nothing that you would notice."), seconds=seconds
            )
        if before and not world.engine.running:
            return Observation(NoticedKind.STALLED, words, seconds=seconds)
        sign = NoticedKind.SELF_STARTED if world.engine.running else NoticedKind.SOLID_STOP
        return Observation(sign, words, seconds=seconds)

    wait = advance

    def show(self) -> Instruments:
        """What the vehicle's diagnostics show now; all ``None`` with the ignition off."""
        return views.instruments(self.world)

    @act
    def show_mean(self, seconds: float = 10.0) -> Instruments:
        """Watch the diagnostics for ``seconds`` and take the mean of what moves.

        Pressure, speed and air flow are means of one look a second; the rest as at the end.
        ValueError for a time below one second.
        """
        if not seconds >= 1.0:
            raise ValueError(_("seconds is {seconds!r}: watch for at least 1 s", seconds=seconds))
        looks = []
        for _other in range(int(seconds)):
            self.advance(1.0)
            looks.append(self.show())
        return replace(
            looks[-1],
            pressure_pa=_mean([look.pressure_pa for look in looks]),
            speed_rpm=_mean([look.speed_rpm for look in looks]),
            air_kg_s=_mean([look.air_kg_s for look in looks]),
        )

    def truth(self) -> Truth:
        """How it stands inside: for debriefs and tests, never for who practises."""
        return views.truth(self.world)

    def what_if_started(self, all_run_back: bool = False) -> WhatIf:
        """What a start would have met, for the debrief of a refused or regretted one.

        ``all_run_back``: once all that stands in pipe and filter face has run down. Changes
        nothing.
        """
        return self.world.what_if(all_run_back)


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if len(known) == len(values) else None
