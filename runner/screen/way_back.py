"""From a refusal to the earlier step that would settle it, so that nobody has to search for it."""

from typing import Any

from steplatch.safety.bay import FACTS
from steplatch.safety.interlocks import INTERLOCKS, Refusal
from steplatch.safety.kernel import LOOKED_AT

from ..core.conditions import applies, leads_elsewhere
from ..core.engine import over_a_spray
from ..core.job import Job
from ..core.procedure import Procedure

_ROWS = {row.id: row for row in INTERLOCKS}


def way_back(procedure: Procedure, job: Job, refusals: tuple[Refusal, ...]) -> Any | None:
    """The earliest of the steps that would settle the refusals, each the nearest one before the
    current step; None where a refusal rests on more than one fact that nobody knows, no earlier
    step settles it, or nobody may go back there."""
    steps = procedure.steps()
    here = [step.id for step in steps].index(job.core.step)
    found: list[int] = []
    for refusal in refusals:
        row = _ROWS.get(refusal.interlock)
        if row is None:
            continue
        open_facts = [f for f in row.reads if f in FACTS and not job.bay.knows(f)]
        facts = list(row.reads) if len(row.reads) == 1 else open_facts
        if len(facts) != 1:
            continue
        (fact,) = facts
        at = next(
            (
                at
                for at in range(here - 1, -1, -1)
                if steps[at].led_back_to
                and fact in steps[at].settles()
                and applies(job, steps[at]) is True
            ),
            None,
        )
        if at is not None:
            found.append(at)
    if not found or over_a_spray(procedure, job, steps[min(found)].id):
        return None
    return steps[min(found)]


def way_past(procedure: Procedure, job: Job, refusals: tuple[Refusal, ...]) -> Any | None:
    """Where a refusal rests on a fact that no look and no step before can put right any more: the
    earlier step at which another answer leads past the refused one. None where there is none."""
    rows = [_ROWS[r.interlock] for r in refusals if r.interlock in _ROWS]
    until = procedure.steps()[: procedure.place(job.core.step) + 1]
    settled = LOOKED_AT.union(*(s.settles() for s in until if applies(job, s) is True))
    if not any(len(row.reads) == 1 and not set(row.reads) & settled for row in rows):
        return None
    past = leads_elsewhere(procedure, job, procedure.step(job.core.step))
    if past is None or over_a_spray(procedure, job, past):
        return None
    return procedure.step(past)
