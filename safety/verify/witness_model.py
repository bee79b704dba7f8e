"""The kernel proof with the vehicle as one more mover: a second witness that may be wrong.

At any moment it may report one of ``effects.MEASURED``, whether or not it is so; a permit that it
contradicts is an act that is not asked for, which the proof tries anyway. So with a link nothing is
believed or permitted that the proof without it did not allow for.
"""

from collections.abc import Iterator

from ..acts import Act
from ..effects import MEASURED
from ..kernel import MeasuredHappening
from ..plant.environment import EnvironmentTransitions, Transition
from ..plant.truth import PlantState


class WitnessTransitions(EnvironmentTransitions):
    """The environment, and a vehicle that reports at any moment, rightly or wrongly."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        """The honest transitions, and every report of the vehicle."""
        yield from super().of(act, world)
        for what in MEASURED:
            yield f"measured: {what.value}", [(MeasuredHappening(what), world, ())]
