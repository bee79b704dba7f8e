"""Where fluid stands in the plant, what moves it from where to where, and what need not empty.

One description for the proofs and for the practice vehicle, written from the hazard's side: a way
is there wherever fluid *can* go, however little likely, and a place is empty only after what
*surely* empties it. How much goes is left to the adversary; the practice vehicle has its own
shares, and goes only these ways (``runner/simulator/fluid_paths.py``).

Sources are named at each place. Nobody who decides reads this.
"""

from dataclasses import dataclass
from enum import Enum


class Place(Enum):
    """Where fluid can stand, from the gun on."""

    HOSE = "hose"
    TURBINE = "turbine side"
    CYLINDERS = "cylinders"
    LOOP = "recirculation and charge cooler"
    PORES = "filter face and pores"
    BEHIND = "behind the filter"
    SILENCER = "silencer"
    OUT = "out"

    __hash__ = object.__hash__


class Cause(Enum):
    """What moves fluid."""

    SPRAYED = "sprayed"
    LEAKED = "a gun on the hose leaks"
    STANDING = "the engine stands"
    RUNNING = "the engine runs"
    FIRED = "the engine fires"
    BLOWN = "the line is blown"
    UNCOUPLED = "the gun comes off"
    DRAINED = "a joint on the engine side is opened"
    OPENED = "the cylinders are opened"

    __hash__ = object.__hash__


@dataclass(frozen=True, slots=True)
class Holds:
    """Why fluid stays at a place, whether a drying run surely empties it, and who says so."""

    why: str
    dried: bool
    source: str


P = Place
HOLDS: dict[Place, Holds] = {
    P.HOSE: Holds(
        "no gas passes a hose that is shut at its upper end; 1 m of 6 mm bore holds 28 mL",
        False,
        "geometry: pi/4 x (6 mm)^2 x 1 m = 28.3 mL",
    ),
    P.TURBINE: Holds("volute, low spots of the pipe", True, "common practice, no source"),
    P.CYLINDERS: Holds(
        "the one whose exhaust valve is open takes all that runs back; 2 L, 16.5:1: 32 mL",
        True,
        "geometry: swept volume / (compression ratio - 1)",
    ),
    P.LOOP: Holds(
        "the charge cooler's end tank lies below its outlet, and no exhaust heats it",
        False,
        "common practice, no source",
    ),
    P.PORES: Holds(
        "walls of 40 to 60 % open pores soak it up, and soot repels it until they are wet",
        True,
        "Konstandopoulos and others, SAE 2000-01-1016 (read as a table of porosities)",
    ),
    P.BEHIND: Holds("what passes the walls stands in the outlet cone", True, "geometry"),
    P.SILENCER: Holds(
        "lies lowest, far from the heat: condensate stands there for days and rusts it",
        False,
        "common practice, no source",
    ),
    P.OUT: Holds("jug, rag, floor, vapour", True, "by definition"),
}

WAYS: dict[Cause, frozenset[tuple[Place, Place]]] = {
    Cause.SPRAYED: frozenset(
        {(P.HOSE, P.TURBINE), (P.HOSE, P.PORES), (P.HOSE, P.OUT), (P.TURBINE, P.PORES)}
    ),
    Cause.LEAKED: frozenset({(P.HOSE, P.TURBINE), (P.HOSE, P.OUT)}),
    Cause.STANDING: frozenset(
        {
            *((P.HOSE, P.TURBINE), (P.PORES, P.TURBINE), (P.TURBINE, P.CYLINDERS)),
            *((P.LOOP, P.CYLINDERS), (P.TURBINE, P.PORES)),
        }
    ),
    Cause.RUNNING: frozenset(
        {
            *((P.HOSE, P.TURBINE), (P.TURBINE, P.PORES), (P.PORES, P.BEHIND), (P.PORES, P.OUT)),
            *((P.BEHIND, P.SILENCER), (P.BEHIND, P.OUT), (P.SILENCER, P.OUT)),
            *((P.BEHIND, P.LOOP), (P.LOOP, P.CYLINDERS)),
        }
    ),
    Cause.FIRED: frozenset({(P.CYLINDERS, P.TURBINE)}),
    Cause.BLOWN: frozenset({(P.HOSE, P.PORES), (P.HOSE, P.TURBINE), (P.HOSE, P.OUT)}),
    Cause.UNCOUPLED: frozenset({(P.HOSE, P.TURBINE), (P.HOSE, P.OUT)}),
    Cause.DRAINED: frozenset({(P.TURBINE, P.OUT), (P.PORES, P.OUT)}),
    Cause.OPENED: frozenset({(P.CYLINDERS, P.OUT)}),
}
"""The ways that each cause opens. Vapour and steam count as out."""

NOT_DRIED = frozenset(place for place, holds in HOLDS.items() if not holds.dried)
"""The places that a drying run need not empty, however long it is."""

HELD_SHUT = frozenset({(P.BEHIND, P.LOOP)})
"""The ways that are closed while recirculation from behind the filter is held shut: without that
no row lets fluid in (``fluid-low-loop``)."""


def reached(start: Place, shut: frozenset[tuple[Place, Place]] = frozenset()) -> frozenset[Place]:
    """Every place that fluid at ``start`` can come to, by any causes one after another, itself
    among them; ``shut`` are ways that are closed."""
    ways = frozenset().union(*WAYS.values()) - shut
    found = {start}
    while new := {to for one, to in ways if one in found} - found:
        found |= new
    return frozenset(found)


ANYWHERE = reached(P.HOSE, HELD_SHUT) - {P.OUT}
"""Where what went in may be, as soon as it is in: the adversary need not wait."""

RUNS_BACK = frozenset(place for place in Place if P.CYLINDERS in reached(place))
"""The places from which fluid can come to a cylinder."""


@dataclass(frozen=True, slots=True)
class Fluid:
    """How much is in that a jug could catch, in 0.1 mL, and the places that may hold it.

    Which of them holds how much is open: each may hold all. So time, gas and heat empty nothing
    here but in favour of another place: after a drying run all may have stood in the hose.
    """

    dml: int = 0
    places: frozenset[Place] = frozenset()

    def entered(self, dml: int, most: int) -> "Fluid":
        """After ``dml`` more has come in through the hose; ``most`` stands for any amount."""
        return Fluid(min(self.dml + dml, most), ANYWHERE) if dml else self

    def blown(self) -> "Fluid":
        """After the line was blown: what stood in it is anywhere else."""
        return Fluid(self.dml, self.places - {P.HOSE})

    def dried(self) -> "Fluid":
        """After a drying run that truly went on: only what no gas or heat comes to is left."""
        left = self.places & NOT_DRIED & RUNS_BACK
        return Fluid(self.dml if left else 0, left)

    def drained(self, dml: int, most: int) -> "Fluid":
        """After ``dml`` has gone out; of ``most`` as much is left."""
        left = self.dml if self.dml == most else max(0, self.dml - dml)
        return Fluid(left, self.places if left else frozenset())
