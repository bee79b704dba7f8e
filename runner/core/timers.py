"""Timers of a job: when one is due, and what its end is credited for."""

import math

from steplatch.safety.bay import RunOn, Soak
from steplatch.safety.kernel import Happened
from steplatch.safety.occurrences import Happening

from .draft import Draft
from .events import TimerSet

NOT_DUE_MS = 2**53 - 1
"""When a timer is due that nothing has started yet, in ms (the most that JSON keeps exactly)."""


def timer(draft: Draft, name: str, seconds: float) -> TimerSet:
    """A timer that is due after ``seconds`` of credited waiting."""
    return TimerSet(name, draft.job.log.waited_ms + math.ceil(seconds * 1000))


def left_s(left_ms: int) -> str:
    """What is left of a wait, in whole seconds rounded up."""
    return str(math.ceil(max(left_ms, 0) / 1000))


def run_timers(draft: Draft) -> None:
    """Credit what is due by now."""
    log, bay = draft.job.log, draft.job.bay
    if log.waited_ms >= log.timers.get("soak", NOT_DUE_MS) and bay.soak is Soak.RUNNING:
        draft.add(Happened(Happening.SOAK_DUE))
    drying_due(draft)


def drying_due(draft: Draft) -> None:
    """Credit the drying run when its time is over and the last exhaust reading still counts."""
    log, bay = draft.job.log, draft.job.bay
    over = log.waited_ms >= log.timers.get("run_on", NOT_DUE_MS)
    if over and bay.run_on is RunOn.RUNNING and bay.knows("port"):
        draft.add(Happened(Happening.RUN_ON_DUE))
