"""What can be done while something cools, soaks or dries: the paperwork that is still to come.

Steps are worked in their order: that order keeps people safe, and nothing here bends it. What is
pure paper (see ``WRITTEN_AHEAD``) can be written in a wait all the same. It is kept as a note of
its own, with its own time; when the step's turn comes it stands there, and one key
answers the step with it. All other paper can be read ahead.
"""

from typing import Any

from steplatch.safety.catalogue import _

from ..core.conditions import applies
from ..core.job import Job
from ..core.procedure import Procedure
from ..core.steps import AskStep, SignStep

PAPER = ("Type", "Say", "Ask", "Show", "Tell", "Write")
"""First words of steps that need no act at the vehicle; 'Read' and 'Look' need a look at it."""
WRITTEN_AHEAD = frozenset(
    {"root_cause", "root_cause_text", "alternatives"}
    | {"price", "warning", "advice", "return_date", "waste"}
)
"""Answers that say something of customer, papers and advice, and nothing of how vehicle, gun or
fluid stand now; no step's condition and no interlock rests on when they are written. What the
customer answered is not among them: a yes is written when it is given."""
NOTE = "written_ahead"
"""The name of the note that holds it."""
MOST = 4
AGREEMENT = _("the customer's agreement page")


def paperwork(procedure: Procedure, job: Job) -> list[Any]:
    """The steps to come that can be prepared away from the vehicle, in order."""
    return [
        step
        for step in _to_come(procedure, job)
        if isinstance(step, AskStep)
        and (step.do.split(" ", 1)[0] in PAPER or step.name in WRITTEN_AHEAD)
        and applies(job, step) is not False
    ]


def writable(procedure: Procedure, job: Job) -> list[AskStep]:
    """Those of the paperwork that can be written now."""
    return [
        step
        for step in paperwork(procedure, job)
        if step.name in WRITTEN_AHEAD and not step.personal
    ]


def written(job: Job, step: AskStep) -> tuple[str, str] | None:
    """What was last written ahead for ``step``, and the time of day; None when nothing was."""
    notes = [n for n in job.log.every(NOTE) if n.get("step") == step.id]
    return (str(notes[-1]["text"]), str(notes[-1]["at"])) if notes else None


def useful_now(procedure: Procedure, job: Job) -> str:
    """One line: what to write or prepare while this lasts; empty when nothing is left."""
    steps = [s for s in writable(procedure, job) if written(job, s) is None]
    names = [short(step.do) for step in steps or paperwork(procedure, job)]
    if _agreement_to_come(procedure, job):
        names.insert(0, AGREEMENT)
    more = _(", and {count} more", count=len(names) - MOST) if len(names) > MOST else ""
    how = _(" Type write.") if steps else ""
    return f"{'; '.join(names[:MOST])}{more}.{how}" if names else ""


def ahead_lines(procedure: Procedure, job: Job, job_id: str) -> list[str]:
    """The whole list, to be read ahead, with where the agreement page comes from."""
    now = {step.id for step in writable(procedure, job)}
    out = []
    for step in paperwork(procedure, job):
        head = _("WRITE ") if step.id in now else _("AHEAD ")
        out.append(f"{head} {step.do}")
    if _agreement_to_come(procedure, job):
        out.append(
            _(
                "AHEAD  Print {agreement}: steplatch sheet {job_id} --agreement --html FILE",
                agreement=AGREEMENT,
                job_id=job_id,
            )
        )
    return out or [_("AHEAD  Nothing is left that could be prepared now.")]


def short(do: str) -> str:
    """A step of paper in few words."""
    plain = do.rstrip(".")
    for first in ("Type ", "Say ", "the "):
        plain = plain.removeprefix(first)
    return plain


def _to_come(procedure: Procedure, job: Job) -> list[Any]:
    steps = procedure.steps()
    at = [step.id for step in steps].index(job.core.step)
    return list(steps[at + 1 :])


def _agreement_to_come(procedure: Procedure, job: Job) -> bool:
    return any(
        isinstance(step, SignStep) and step.meaning == "agreed" for step in _to_come(procedure, job)
    )
