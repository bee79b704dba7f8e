"""Second looks at a set of readings as it is typed, before it goes into the record."""

from runner.console.guide import Doubts
from runner.job import Job
from runner.judging import sets_of
from runner.procedure import ReadStep
from runner.readings.entry import parse_set
from runner.readings.model import BadReading
from runner.readings.second_look import second_looks_by_topic
from safety.bay import Burning
from safety.limits.inputs import Vehicle, Workshop

_BURNING = {Burning.YES: True, Burning.NO: False}


def doubts_of(vehicle: Vehicle, workshop: Workshop) -> Doubts:
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
