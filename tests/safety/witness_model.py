"""The kernel proof with the vehicle as one more mover: a second witness that may be wrong.

At any moment it may report one of ``effects.MEASURED``, whether or not it is so; a permit that it
contradicts is an act that is not asked for, which the proof tries anyway. So with a link nothing is
believed or permitted that the proof without it did not allow for.
"""

from collections.abc import Iterator

from steplatch.safety.acts import Act
from steplatch.safety.effects import MEASURED
from steplatch.safety.kernel import MeasuredHappening
from steplatch.safety.measured import NOTHING_MEASURED, Measured, contradictions
from steplatch.safety.occurrences import Happening
from steplatch.safety.plant.environment import EnvironmentTransitions, Transition
from steplatch.safety.plant.truth import PlantState
from steplatch.safety.verify.kernel_model import Kernel
from steplatch.safety.verify.kernel_proof import ObserverMonitor, believed
from steplatch.safety.verify.observers import Observer
from steplatch.safety.verify.search import search

from tests.safety.false_reports import SMALL, FalseReportTransitions


class WitnessTransitions(EnvironmentTransitions):
    """The environment, and a vehicle that reports at any moment, rightly or wrongly."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        """The honest transitions, and every report of the vehicle."""
        yield from super().of(act, world)
        for what in MEASURED:
            yield f"measured: {what.value}", [(MeasuredHappening(what), world, ())]


class LinkedFalseReports(FalseReportTransitions):
    """One false report, and a vehicle with a link, whose report is true: what it measures happens
    to be told where a person is silent."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        """The transitions of one false report; of what is measured nobody can be silent."""
        silences = {f"silence: {what.value}": what for what in MEASURED}
        for said, ends in super().of(act, world):
            what: Happening | None = silences.get(said)
            if what is None:
                yield said, ends
            else:
                told = MeasuredHappening(what)
                yield said, [(told, after, truth) for _, after, truth in ends]


def measured_in(world: PlantState) -> Measured:
    """What a true link reports of ``world``: a running engine always, one that stands still only
    with the ignition on; of what the model does not track nothing."""
    if world.engine == "idling":
        return Measured(engine="running", band="idle")
    if world.engine == "raised":
        return Measured(engine="running", band="raised")
    if world.engine == "road":
        return Measured(engine="running", band="other")
    if world.engine == "stopped" and world.key == "on":
        return Measured(engine="stopped")
    return NOTHING_MEASURED


def false_reports_behind_a_link(
    observer: Observer, false_report: str | None = None, *, cap: int = 400_000
) -> tuple[str, ...]:
    """As ``false_reports_behind``, with a true link: a false belief that stands while the vehicle
    contradicts what is said of the engine permits nothing that rests on the engine.

    Raises:
        steplatch.safety.verify.search.SearchCapped: the model grew beyond ``cap`` states.
    """
    kept = (*observer.facts, "engine", "key")
    kernel = Kernel(
        ObserverMonitor(observer), kept, limits=SMALL, doses=(1,), transitions=LinkedFalseReports
    )
    assert isinstance(kernel.transitions, LinkedFalseReports)
    kernel.transitions.only = false_report
    found: set[str] = set()

    def borne_out(state: tuple[int, int, int, str]) -> bool:
        bay, world = kernel.bays[state[0]], kernel.worlds[state[1]]
        truth = kernel.accounts[state[2]]
        if bay.permit is not None or observer.bears_out(believed(bay, observer), truth):
            return True
        if any(contradictions(bay, measured_in(world))):
            return True
        found.add(world.false_report)
        return False

    always = {kernel.monitor.name: borne_out}
    search(kernel, always, cap=cap, first_breach_only=false_report is not None)
    return tuple(sorted(found))
