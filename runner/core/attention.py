"""Answers that came faster than a look takes: marked, never blocked, and nobody is judged."""

from steplatch.safety.catalogue import _

from .engine import Outcome
from .events import Done
from .job import Job
from .procedure import Procedure

QUICK_MS = 1500
"""Who looks, comes back and types takes longer than this (workshop default; common practice, no
source): a glance, a key and a step back already take about as long; it only says so, quietly."""
LOOKED = ("look", "ask", "temperature", "report", "judge")
"""Kinds of step that are answered by looking."""


def quick_answer(procedure: Procedure, job: Job, outcome: Outcome) -> str:
    """A quiet line when the step that was just done was answered faster than a look; else ''.

    It says what anybody can derive from the two marks of the step; practice time jumps, so that
    a practice job has none.
    """
    done = [event.step for event in outcome.events if isinstance(event, Done)]
    marks = [mark for mark in job.log.marks if done and mark.step == done[-1]]
    if job.log.practice or not marks:
        return ""
    try:
        kind = procedure.step(done[-1]).kind
    except KeyError:
        return ""
    took_ms = marks[-1].done_ms - marks[-1].begun_ms
    if kind not in LOOKED or took_ms >= QUICK_MS:
        return ""
    return _(
        "QUICK  answered in {took_ms:.1f} s, faster than a look; the record shows it.",
        took_ms=took_ms / 1000,
    )
