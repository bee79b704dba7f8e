"""What can be done while something cools, soaks or dries: the paperwork that is still to come.

It is read ahead, not answered ahead: a step is answered in its place, when its turn comes.
"""

from typing import Any

from runner.engine import applies
from runner.job import Job
from runner.procedure import AskStep, Procedure, SignStep

PAPER = ("Type", "Say", "Ask", "Show", "Tell", "Write")
"""First words of steps that need no act at the vehicle; 'Read' and 'Look' need a look at it."""
MOST = 4
AGREEMENT = "the customer's agreement page"


def paperwork(procedure: Procedure, job: Job) -> list[Any]:
    """The steps to come that can be prepared away from the vehicle, in order."""
    steps = procedure.steps()
    at = [step.id for step in steps].index(job.core.step)
    return [
        step
        for step in steps[at + 1 :]
        if isinstance(step, AskStep)
        and step.do.split(" ", 1)[0] in PAPER
        and applies(job, step) is not False
    ]


def useful_now(procedure: Procedure, job: Job) -> str:
    """One line: what to prepare while this lasts; empty when nothing is left."""
    names = [_short(step.do) for step in paperwork(procedure, job)]
    if _agreement_to_come(procedure, job):
        names.insert(0, AGREEMENT)
    more = f", and {len(names) - MOST} more" if len(names) > MOST else ""
    return "; ".join(names[:MOST]) + more if names else ""


def ahead_lines(procedure: Procedure, job: Job, job_id: str) -> list[str]:
    """The whole list, to be read ahead, with where the agreement page comes from."""
    out = [f"AHEAD  {step.do}" for step in paperwork(procedure, job)]
    if _agreement_to_come(procedure, job):
        out.append(f"AHEAD  Print {AGREEMENT}: steplatch sheet {job_id} --agreement --html FILE")
    return out or ["AHEAD  Nothing is left that could be prepared now."]


def _agreement_to_come(procedure: Procedure, job: Job) -> bool:
    steps = procedure.steps()
    at = [step.id for step in steps].index(job.core.step)
    return any(isinstance(step, SignStep) and step.meaning == "agreed" for step in steps[at + 1 :])


def _short(do: str) -> str:
    return do.rstrip(".").removeprefix("Type ").removeprefix("the ")
