"""Which steps stand on one page: consecutive looks, questions, readings and acts of a stage.

The engine works them one after the other, each with its own journal line; only what stands on the
screen is shared. Each is answered in its turn, by a key of its own.
"""

from typing import Any

from steplatch.safety.bay import Act

from ..core.conditions import applies
from ..core.job import Job
from ..core.procedure import Procedure
from ..core.steps import (
    ActStep,
    AskStep,
    GunStep,
    LookStep,
    ReadStep,
    ReportStep,
    TemperatureStep,
)

DELIBERATE = frozenset({Act.TRY_START, Act.START, Act.RAISE, Act.HAND_TURN})
"""Acts that turn an engine: beside the permit they take a key of their own. So does a spray."""

SHARED = (LookStep, AskStep, ReportStep, TemperatureStep, ReadStep, GunStep, ActStep)
"""Kinds of step that share a page; a spray, a wait, a hold, what is judged and what is signed have
one of their own."""


def deliberate(step: Any) -> bool:
    """Whether the act of a step takes a second key, pressed as it is done."""
    return isinstance(step, ActStep) and step.act in DELIBERATE


def is_line(step: Any) -> bool:
    """Whether a step can share its page with its neighbours."""
    return isinstance(step, SHARED)


def lines_of(procedure: Procedure, step: Any, job: Job) -> tuple[list[Any], list[Any]]:
    """The steps done before ``step`` on its page, and those to come on it; none where it has a
    page of its own."""
    if not is_line(step):
        return [], []
    _, stage, place = procedure.stage_of(step.id)
    done = {mark.key for mark in job.log.marks}
    before: list[Any] = []
    for earlier in reversed(stage.steps[: place - 1]):
        if (procedure.id, earlier.id) not in done:
            continue
        if not is_line(earlier):
            break
        before.insert(0, earlier)
    after: list[Any] = []
    for later in stage.steps[place:]:
        if applies(job, later) is False:
            continue
        if not is_line(later):
            break
        after.append(later)
    return before, after
