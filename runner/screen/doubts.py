"""Second looks at a set of readings as it is typed, before it goes into the record."""

from steplatch.safety.bay import Burning
from steplatch.safety.limits.inputs import VehicleInput, Workshop

from ..assess.judges import sets_of
from ..assess.plausibility import second_looks_by_topic
from ..core.job import Job
from ..core.reading_set import BadReading
from ..core.steps import ReadStep
from ..core.typed_set import parse_set
from .context import Doubts

_BURNING = {Burning.YES: True, Burning.NO: False}


def doubts_of(vehicle: VehicleInput, workshop: Workshop) -> Doubts:
    """What is odd about a line typed at this vehicle. A line that cannot be read has no doubts:
    the engine refuses it and says what is wrong."""

    def doubts(job: Job, step: ReadStep, typed: str) -> dict[str, list[str]]:
        try:
            got = parse_set(
                typed,
                step.condition,
                step.phase,
                line_name=str((job.log.latest("line_name") or {}).get("text", "")),
                burning=_BURNING.get(job.bay.burning),
                cylinders=vehicle.cylinders,
            )
        except BadReading:
            return {}
        phases = ("before",) if step.phase == "before" else ("before", step.phase)
        others = [s for phase in phases for s in sets_of(job, phase)]
        return second_looks_by_topic(got, vehicle, workshop, others)

    return doubts
