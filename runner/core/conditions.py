"""Whether a step applies: all its conditions hold, or it cannot be said."""

from dataclasses import dataclass

from steplatch.safety.bay import FACTS, states_of
from steplatch.safety.interlocks.volumes import fluid_count

from .job import Job
from .procedure import Procedure, Step


@dataclass(frozen=True, slots=True)
class Undecided:
    """Whether a step applies cannot be said: ``fact`` (or choice) is not known."""

    fact: str


def applies(job: Job, step: Step) -> bool | Undecided:
    """Whether ``step`` applies now: all its conditions hold.

    One condition that is known not to hold settles it; otherwise an unknown one leaves it open.
    """
    undecided: Undecided | None = None
    for condition in step.when:
        fact, among = condition.fact, condition.among
        if fact == "fluid_count":
            known, holds = True, fluid_count(job.bay, job.core.limits) in among
        elif fact in FACTS:
            known, holds = job.bay.knows(fact), job.bay.among(fact, states_of(fact, among))
        else:
            known, holds = job.core.chose(fact), job.core.chose(fact, among)
        if not known:
            undecided = undecided or Undecided(fact)
        elif not holds:
            return False
    return undecided or True


def leads_elsewhere(procedure: Procedure, job: Job, step: Step) -> str | None:
    """The last step before ``step`` that settles what ``step`` applies by: where nothing can put
    right what it is refused for, another answer there leads past it. None where there is none."""
    by = {condition.fact for condition in step.when}
    steps = procedure.steps()
    before = steps[: [each.id for each in steps].index(step.id)]
    found = (s.id for s in reversed(before) if by & set(s.settles()) and applies(job, s) is True)
    return next(found, None)
