"""What the proof takes for granted of the plant, and the plant in which each of it does not hold.

Each assumption has a plant that is weaker by it alone. The kernel proof runs in that plant too and
must find what then is wrongly believed (``tests/safety/test_assumed.py``): so none is idle, and
what rests on each is seen. Beside each stands which rows answer it as far as they can, and the
hazard whose register entry says what is left over.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from steplatch.safety.bay import Act, Arrival
from steplatch.safety.kernel import Happened, Seen
from steplatch.safety.occurrences import Happening
from steplatch.safety.plant.environment import (
    JUGS_DML,
    EnvironmentTransitions,
    Transition,
    TransitionEnd,
)
from steplatch.safety.plant.truth import ANY, PlantState, after, entered

H = Happening


class SagKeepsSome(EnvironmentTransitions):
    """A line that hung low over the jug until nothing more came still holds some, in a sag."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        for said, ends in super().of(act, world):
            yield said, ends
            if said == "seen: line drained" and world.fluid and world.fluid.dried().dml:
                yield f"{said}, and a sag keeps some", [_with_more(end) for end in ends]


class JugHoldsWater(EnvironmentTransitions):
    """Part of what the jug catches is condensate, oil or soot, not fluid that was counted."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        yield from super().of(act, world)
        if H.DRAINED in self.happenings and not world.dose and world.fluid and world.fluid.dml:
            told = Happened(H.DRAINED, JUGS_DML[-1])
            truth = (("did", H.DRAINED.value, JUGS_DML[0]),)
            ends: list[TransitionEnd] = [
                (told, w, truth) for w in after(world, H.DRAINED, JUGS_DML[0])
            ]
            yield "drained, and part of it was water", ends


class GunLeaks(EnvironmentTransitions):
    """A gun that is shut on the hose, under air, lets fluid through."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        yield from super().of(act, world)
        if world.gun in (ANY, "coupled"):
            yield "the gun leaks", [(None, entered(world, 1), (("sprayed", 1),))]


class LoadedOnTop(EnvironmentTransitions):
    """A loaded gun held old fluid beneath: more goes in than was loaded."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        for said, ends in super().of(act, world):
            yield said, ends
            if world.loaded and world.dose and said.startswith("reported: spray_ended"):
                yield f"{said}, on top of old fluid", [_with_more(end) for end in ends]


class WordOfArrival(EnvironmentTransitions):
    """A vehicle of which it is said that it came dry, and there was fluid in."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        yield from super().of(act, world)
        if "arrival" in self.looked_at and not world.arrived_dry:
            dry = Seen("arrival", Arrival.DRY)
            truth = (("seen", "arrival", "dry"),) if "arrival" in self.sees else ()
            yield "said: it came dry, and it did not", [(dry, world, truth)]


class ComesLate(EnvironmentTransitions):
    """Fluid that hung above a valve comes down after the engine was turned by hand."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        yield from super().of(act, world)
        if world.hand_turn == "turned":
            later = replace(world, hand_turn="not turned")
            yield "fluid comes late", [(None, later, (("doubt", "hand_turn"),))]


class HeatSoaksBack(EnvironmentTransitions):
    """The exhaust that was measured grows hotter, with nobody doing anything."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        yield from super().of(act, world)
        for fact in ("port", "touch"):
            if fact in self.sees:
                yield f"{fact}: hotter by itself", [(None, world, (("doubt", fact),))]


def _with_more(end: TransitionEnd) -> TransitionEnd:
    told, world, truth = end
    return told, entered(world, 1), (*truth, ("sprayed", 1))


@dataclass(frozen=True, slots=True)
class PlantAssumption:
    """``says`` what is taken for granted; ``weaker`` the plant without it; ``refutes`` the fact of
    which the tool then believes what is not true; ``rows`` answer it as far as they can; ``left``
    what no row sees, told at ``hazard``."""

    says: str
    weaker: type[EnvironmentTransitions]
    refutes: str
    rows: tuple[str, ...]
    hazard: str
    left: str


ASSUMED: tuple[PlantAssumption, ...] = (
    PlantAssumption(
        "A line that hung low over the jug until nothing more came is empty.",
        SagKeepsSome,
        "wet",
        ("revs-line-clear", "stop-with-fluid", "start-ledger"),
        "line-keeps-fluid",
        "after a drying at idle all that went in counts until the line was let out low over a jug; "
        "what a sag then keeps, and the film on its wall, is blown in with the engine stopped",
    ),
    PlantAssumption(
        "What the jug catches is fluid that was counted.",
        JugHoldsWater,
        "wet",
        ("reset-fluid", "start-check"),
        "hydraulic-lock",
        "condensate, oil and soot in the jug are taken off the count as if they were fluid; a jug "
        "that holds more than was counted makes it unknown",
    ),
    PlantAssumption(
        "A gun that is shut on the hose lets nothing through.",
        GunLeaks,
        "wet",
        ("spray-trigger", "spray-coupled"),
        "gun-stays-open",
        "it is tried once into the jug; the gun is off the hose through the soak, and on it again "
        "for the first start and through an idle drying",
    ),
    PlantAssumption(
        "A loaded gun was empty before.",
        LoadedOnTop,
        "wet",
        ("spray-off-ledger", "spray-rate"),
        "hydraulic-lock",
        "old fluid in the gun goes in on top of what was loaded",
    ),
    PlantAssumption(
        "Who says that it drove in and that nobody put fluid in is right.",
        WordOfArrival,
        "wet",
        ("start-ledger", "try-before-fluid"),
        "hydraulic-lock",
        "that it drove in is seen; what others put in since its last drive is a word",
    ),
    PlantAssumption(
        "After soak and hand turn no more comes to a cylinder than before.",
        ComesLate,
        "hand_turn",
        ("start-soak", "turn-soaked", "start-check"),
        "partial-lock",
        "within the strict limit all of it in one cylinder is borne whenever it comes; above it "
        "the start rests on what the filter keeps, for the 15 min that a turn stands, also where "
        "the gun was put on after it",
    ),
    PlantAssumption(
        "What was measured cool stays cool for ten minutes, unless the engine ran or stopped.",
        HeatSoaksBack,
        "port",
        ("spray-off-cool", "spray-running-band", "hose-cool"),
        "hot-flash",
        "after a stop the core goes on warming the pipe; a stop ends the measurement, a slow rise "
        "after a new one does not",
    ),
)
"""All that the kernel proof takes for granted of the plant, beside that people obey and answer
honestly (``registers/trusted_reports.py`` holds what a single false answer does)."""
