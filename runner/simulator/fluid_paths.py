"""Where the fluid is: gun, hose, filter face, filter walls, pipe, cylinders, behind, gone.

Every mL that was ever filled in stands in exactly one place, so that the sum never changes; it goes
only the ways of ``safety.plant.compartments``, the plant that the proofs run in.

The way back to the cylinders: what the filter does not take up stands in the pipe and runs by
itself through the turbine and manifold into the one cylinder whose exhaust valve is open. The
shares and times are common practice, no source; no published figure for what a filter retains of
such a dose exists, and the simulation claims none.
"""

import math
from dataclasses import dataclass, field
from typing import Final

from steplatch.safety.plant.compartments import WAYS, Cause, Place

_FACE_BACK_S: Final = 30.0
_PIPE_BLOWN_S: Final = 4.0
FILM_ML: Final = 1.8
"""What clings in the line, whatever runs out of it."""
_HOSE_BORE_M: Final = 5.0e-3
_HOSE_HEIGHT_M: Final = 0.30
_GRAVITY_M_S2: Final = 9.80665
_WALL_HOLDS_SHARE: Final = 0.85
_SILENCER_HOLDS_ML: Final = 10.0
_TO_LOOP_SHARE: Final = 0.3

_PLACES: Final = {
    "hose_ml": Place.HOSE,
    "pipe_ml": Place.TURBINE,
    "cylinder_ml": Place.CYLINDERS,
    "loop_ml": Place.LOOP,
    "face_ml": Place.PORES,
    "wall_ml": Place.PORES,
    "behind_ml": Place.BEHIND,
    "silencer_ml": Place.SILENCER,
    "evaporated_ml": Place.OUT,
    "outside_ml": Place.OUT,
}
"""Which place of the plant each volume stands at; face and walls are one place there."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way that fluid goes here, from one volume to another. Raises ValueError where the plant
    of the proofs has no such way."""

    cause: Cause
    start: str
    end: str

    def __post_init__(self) -> None:
        start, end = _PLACES[self.start], _PLACES[self.end]
        if start is not end and (start, end) not in WAYS[self.cause]:
            raise ValueError(f"{self.cause.value}: no way from {start.value} to {end.value}")


_TO_WALL = Way(Cause.SPRAYED, "hose_ml", "wall_ml")
_TO_FACE = Way(Cause.SPRAYED, "hose_ml", "face_ml")
_TO_PIPE = Way(Cause.SPRAYED, "hose_ml", "pipe_ml")
_STEAM = Way(Cause.SPRAYED, "hose_ml", "evaporated_ml")
_BACK = Way(Cause.STANDING, "face_ml", "pipe_ml")
_DOWN = Way(Cause.STANDING, "pipe_ml", "cylinder_ml")
_ON = Way(Cause.RUNNING, "pipe_ml", "face_ml")
_IN = Way(Cause.RUNNING, "face_ml", "wall_ml")
_THROUGH = Way(Cause.RUNNING, "wall_ml", "behind_ml")
_AWAY = Way(Cause.RUNNING, "behind_ml", "silencer_ml")
_ROUND = Way(Cause.RUNNING, "behind_ml", "loop_ml")
_DRAWN_IN = Way(Cause.RUNNING, "loop_ml", "cylinder_ml")
_TAILPIPE = Way(Cause.RUNNING, "silencer_ml", "outside_ml")
_VAPOUR = Way(Cause.RUNNING, "wall_ml", "evaporated_ml")
_EXPELLED = Way(Cause.FIRED, "cylinder_ml", "pipe_ml")
_BLOWN_IN = Way(Cause.BLOWN, "hose_ml", "face_ml")
_BLOWN_OUT = Way(Cause.BLOWN, "hose_ml", "outside_ml")
_FALLS_IN = Way(Cause.UNCOUPLED, "hose_ml", "pipe_ml")
_RUNS_OUT = Way(Cause.UNCOUPLED, "hose_ml", "outside_ml")
_LEAKED_IN = Way(Cause.LEAKED, "hose_ml", "pipe_ml")
_PIPE_OPENED = Way(Cause.DRAINED, "pipe_ml", "outside_ml")
_FACE_OPENED = Way(Cause.DRAINED, "face_ml", "outside_ml")
_OPENED = Way(Cause.OPENED, "cylinder_ml", "outside_ml")


@dataclass(slots=True)
class FluidPaths:
    """Volumes in mL. ``outside_ml`` is all that left the vehicle as liquid: jug, rag, drain,
    tailpipe, floor. ``open_cylinder`` is the one that liquid can run into now; ``hose_holds_ml``
    what stays standing in the line under a shut gun; ``loop_open`` whether gas is led to the
    intake from behind the filter."""

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
    behind_ml: float = 0.0
    silencer_ml: float = 0.0
    loop_ml: float = 0.0
    evaporated_ml: float = 0.0
    outside_ml: float = 0.0
    filled_ml: float = field(default=0.0)
    hose_holds_ml: float = FILM_ML
    loop_open: bool = False

    @property
    def filter_ml(self) -> float:
        """Liquid in the filter, at the face and in the walls [mL]."""
        return self.face_ml + self.wall_ml

    @property
    def beyond_ml(self) -> float:
        """Liquid that has passed the filter and is still in the vehicle [mL]."""
        return self.behind_ml + self.silencer_ml + self.loop_ml

    @property
    def worst_ml(self) -> float:
        """Liquid in the fullest cylinder [mL]."""
        return max(self.cylinder_ml)

    @property
    def hose_head_pa(self) -> float:
        """Pressure of the liquid standing in the hose [Pa], at most a hose's height of it."""
        height_m = self.hose_ml * 1e-6 / (math.pi / 4.0 * _HOSE_BORE_M**2)
        return 1000.0 * _GRAVITY_M_S2 * min(height_m, _HOSE_HEIGHT_M)

    def _go(self, way: Way, volume_ml: float) -> None:
        """``volume_ml`` goes that way; to and from the cylinder whose valve is open."""
        for name, moved_ml in ((way.start, -volume_ml), (way.end, volume_ml)):
            if name == "cylinder_ml":
                self.cylinder_ml[self.open_cylinder] += moved_ml
            else:
                setattr(self, name, getattr(self, name) + moved_ml)

    def _all_cylinders_go(self, way: Way) -> float:
        moved = sum(self.cylinder_ml)
        self.cylinder_ml = [0.0] * len(self.cylinder_ml)
        setattr(self, way.end, getattr(self, way.end) + moved)
        return moved

    def spray_in(self, volume_ml: float, running: bool, to_manifold: bool, hot: bool) -> float:
        """``volume_ml`` comes from the gun; returns what reached the filter walls at once [mL].

        Part stays in the hose. ``to_manifold``: the hose is not the filter's. ``hot``: the
        exhaust is over the boiling point with the engine off, so that part flashes to steam.
        """
        stays = min(volume_ml, max(0.0, self.hose_holds_ml - self.hose_ml))
        self.hose_ml += volume_ml
        dose_ml = volume_ml - stays
        if hot and not running:
            steam = 0.3 * dose_ml
            self._go(_STEAM, steam)
            dose_ml -= steam
        if to_manifold:
            self._go(_TO_PIPE, dose_ml)
            return 0.0
        if running:
            self._go(_TO_FACE, dose_ml)
            return 0.0
        room = max(0.0, self.retained_ml - self.wall_ml)
        to_wall = min(room, dose_ml * (1.0 - self.run_back))
        self._go(_TO_WALL, to_wall)
        self._go(_TO_PIPE if self.above_ports else _TO_FACE, dose_ml - to_wall)
        return to_wall

    def leak_in(self, volume_ml: float) -> None:
        """A shut gun on the hose lets ``volume_ml`` through, past what stands in the line."""
        self.hose_ml += volume_ml
        self._go(_LEAKED_IN, max(0.0, self.hose_ml - max(self.hose_holds_ml, FILM_ML)))

    def let_line_go(self, lowered: bool) -> float:
        """The gun comes off the line: what stood under it runs out into a jug where the free end
        is held low, and into the exhaust where it is not. Returns it [mL]."""
        moved = max(0.0, self.hose_ml - FILM_ML)
        self._go(_RUNS_OUT if lowered else _FALLS_IN, moved)
        return moved

    def run_back_step(self, dt_s: float) -> None:
        """Engine stopped: liquid at the face goes to the pipe, the pipe lets it go down."""
        if not self.above_ports:
            return
        self._go(_BACK, self.face_ml * (1.0 - math.exp(-dt_s / _FACE_BACK_S)))
        self._go(_DOWN, self.pipe_ml * (1.0 - math.exp(-dt_s / self.pipe_s)))

    def carry_step(self, dt_s: float, flow_share: float) -> float:
        """Engine running: gas pushes liquid into the walls; returns what got there [mL].

        ``flow_share`` 1 at idle flow, larger at raised revs. What the walls cannot hold passes
        them: to the silencer and out, and in part round to the intake where that way is open.
        """
        self._go(_ON, self.pipe_ml * (1.0 - math.exp(-dt_s / _PIPE_BLOWN_S)))
        moved = self.face_ml * (1.0 - math.exp(-dt_s * flow_share / self.transport_s))
        self._go(_IN, moved)
        over = max(0.0, self.wall_ml - _WALL_HOLDS_SHARE * self.pore_ml)
        self._go(_THROUGH, over)
        if self.loop_open:
            self._go(_ROUND, _TO_LOOP_SHARE * self.behind_ml)
        self._go(_AWAY, self.behind_ml)
        self._go(_TAILPIPE, max(0.0, self.silencer_ml - _SILENCER_HOLDS_ML))
        return moved

    def draw_in(self) -> float:
        """Raised revs tear what stands in the charge cooler into a cylinder; returns it [mL]."""
        moved = self.loop_ml
        self._go(_DRAWN_IN, moved)
        return moved

    def expel_cylinders(self) -> None:
        """The engine has fired: what was in the cylinders goes out into the pipe."""
        self._all_cylinders_go(_EXPELLED)

    def dry(self, volume_ml: float) -> None:
        """Liquid dries off the walls."""
        self._go(_VAPOUR, volume_ml)

    def clear_hose(self, into_filter: bool) -> float:
        """Nearly all liquid leaves the hose, into the filter or into a rag; returns it [mL]."""
        moved = 0.97 * self.hose_ml
        self._go(_BLOWN_IN if into_filter else _BLOWN_OUT, moved)
        return moved

    def drain_pipe(self) -> float:
        """A joint on the engine side of the filter is opened: what stands there runs out [mL]."""
        drained = self.pipe_ml + self.face_ml
        self._go(_PIPE_OPENED, self.pipe_ml)
        self._go(_FACE_OPENED, self.face_ml)
        return drained

    def drain_cylinders(self) -> float:
        """The cylinders are opened and turned over by hand: their liquid comes out [mL]."""
        return self._all_cylinders_go(_OPENED)

    def next_cylinder(self, by: int) -> None:
        """The crankshaft has come to rest elsewhere: another exhaust valve is open."""
        self.open_cylinder = (self.open_cylinder + by) % len(self.cylinder_ml)
