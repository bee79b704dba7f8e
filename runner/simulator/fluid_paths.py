"""Where the fluid is: gun, hose, filter face, filter walls, pipe, cylinders, gone.

Every mL that was ever filled in stands in exactly one place, so that the sum never changes.
The way back to the cylinders: what the filter does not take up stands in the pipe and runs by
itself through the turbine and manifold into the one cylinder whose exhaust valve is open.
The shares and times are common practice, no source; no published figure for what a filter
retains of such a dose exists, and the simulation claims none.
"""

import math
from dataclasses import dataclass, field
from typing import Final

_FACE_BACK_S: Final = 30.0
_PIPE_BLOWN_S: Final = 4.0
_HOSE_HOLDS_ML: Final = 1.8
_HOSE_BORE_M: Final = 5.0e-3
_HOSE_HEIGHT_M: Final = 0.30
_GRAVITY_M_S2: Final = 9.80665
_WALL_HOLDS_SHARE: Final = 0.85


@dataclass(slots=True)
class FluidPaths:
    """Volumes in mL. ``outside_ml`` is all that left the vehicle as liquid: jug, rag, drain,
    tailpipe, floor. ``open_cylinder`` is the one that liquid can run into now."""

    retained_ml: float
    run_back: float
    pipe_s: float
    transport_s: float
    pore_ml: float
    above_ports: bool
    cylinder_ml: list[float]
    open_cylinder: int
    hose_ml: float = 0.0
    face_ml: float = 0.0
    wall_ml: float = 0.0
    pipe_ml: float = 0.0
    evaporated_ml: float = 0.0
    outside_ml: float = 0.0
    filled_ml: float = field(default=0.0)

    @property
    def filter_ml(self) -> float:
        """Liquid in the filter, at the face and in the walls [mL]."""
        return self.face_ml + self.wall_ml

    @property
    def worst_ml(self) -> float:
        """Liquid in the fullest cylinder [mL]."""
        return max(self.cylinder_ml)

    @property
    def hose_head_pa(self) -> float:
        """Pressure of the liquid standing in the hose [Pa], at most a hose's height of it."""
        height_m = self.hose_ml * 1e-6 / (math.pi / 4.0 * _HOSE_BORE_M**2)
        return 1000.0 * _GRAVITY_M_S2 * min(height_m, _HOSE_HEIGHT_M)

    def spray_in(self, volume_ml: float, running: bool, to_manifold: bool, hot: bool) -> float:
        """``volume_ml`` comes from the gun; returns what reached the filter walls at once [mL].

        Part stays in the hose. ``to_manifold``: the hose is not the filter's. ``hot``: the
        exhaust is over the boiling point with the engine off, so that part flashes to steam.
        """
        to_hose = min(volume_ml, max(0.0, _HOSE_HOLDS_ML - self.hose_ml))
        self.hose_ml += to_hose
        dose_ml = volume_ml - to_hose
        if hot and not running:
            steam = 0.3 * dose_ml
            self.evaporated_ml += steam
            dose_ml -= steam
        if to_manifold:
            self.pipe_ml += dose_ml
            return 0.0
        if running:
            self.face_ml += dose_ml
            return 0.0
        room = max(0.0, self.retained_ml - self.wall_ml)
        to_wall = min(room, dose_ml * (1.0 - self.run_back))
        self.wall_ml += to_wall
        if self.above_ports:
            self.pipe_ml += dose_ml - to_wall
        else:
            self.face_ml += dose_ml - to_wall
        return to_wall

    def run_back_step(self, dt_s: float) -> None:
        """Engine stopped: liquid at the face goes to the pipe, the pipe lets it go down."""
        if not self.above_ports:
            return
        back = self.face_ml * (1.0 - math.exp(-dt_s / _FACE_BACK_S))
        self.face_ml -= back
        self.pipe_ml += back
        down = self.pipe_ml * (1.0 - math.exp(-dt_s / self.pipe_s))
        self.pipe_ml -= down
        self.cylinder_ml[self.open_cylinder] += down

    def carry_step(self, dt_s: float, flow_share: float) -> float:
        """Engine running: gas pushes liquid into the walls; returns what got there [mL].

        ``flow_share`` 1 at idle flow, larger at raised revs. Over what the walls can hold it
        leaves by the tailpipe.
        """
        blown = self.pipe_ml * (1.0 - math.exp(-dt_s / _PIPE_BLOWN_S))
        self.pipe_ml -= blown
        self.face_ml += blown
        moved = self.face_ml * (1.0 - math.exp(-dt_s * flow_share / self.transport_s))
        self.face_ml -= moved
        self.wall_ml += moved
        over = max(0.0, self.wall_ml - _WALL_HOLDS_SHARE * self.pore_ml)
        self.wall_ml -= over
        self.outside_ml += over
        return moved

    def expel_cylinders(self) -> None:
        """The engine has fired: what was in the cylinders goes out into the pipe."""
        self.pipe_ml += sum(self.cylinder_ml)
        self.cylinder_ml = [0.0] * len(self.cylinder_ml)

    def dry(self, volume_ml: float) -> None:
        """Liquid dries off the walls."""
        self.wall_ml -= volume_ml
        self.evaporated_ml += volume_ml

    def clear_hose(self, into_filter: bool) -> float:
        """Nearly all liquid leaves the hose, into the filter or into a rag; returns it [mL]."""
        moved = 0.97 * self.hose_ml
        self.hose_ml -= moved
        if into_filter:
            self.face_ml += moved
        else:
            self.outside_ml += moved
        return moved

    def drain_pipe(self) -> float:
        """A joint on the engine side of the filter is opened: what stands there runs out [mL]."""
        drained = self.pipe_ml + self.face_ml
        self.pipe_ml = self.face_ml = 0.0
        self.outside_ml += drained
        return drained

    def drain_cylinders(self) -> float:
        """The cylinders are opened and turned over by hand: their liquid comes out [mL]."""
        drained = sum(self.cylinder_ml)
        self.cylinder_ml = [0.0] * len(self.cylinder_ml)
        self.outside_ml += drained
        return drained

    def next_cylinder(self, by: int) -> None:
        """The crankshaft has come to rest elsewhere: another exhaust valve is open."""
        self.open_cylinder = (self.open_cylinder + by) % len(self.cylinder_ml)
