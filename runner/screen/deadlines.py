"""By when a step has to be done, and what to do when that is missed: beside the instruction."""

from typing import Any

from steplatch.safety.bay import Act
from steplatch.safety.catalogue import _
from steplatch.safety.effects import LASTS_S
from steplatch.safety.interlocks import rows_for

from ..core.clock import Times
from ..core.engine import PERMIT_S, ROAD_PERMIT_S
from ..core.job import Job
from ..core.steps import ActStep, SprayStep
from .asking import clock_text
from .talk import StyledLine

SHORT_S = 900
"""A fact that lasts longer is looked at again by itself while the engine runs, and is not counted
down on the screen."""

LATER = {
    "port": _("measure the exhaust again"),
    "touch": _("measure the exhaust again"),
    "hand_turn": _("turn by hand again"),
    "start_check": _("call the checker again"),
    "idle": _("watch the idle again"),
}
"""What has to be done again once the fact has lapsed."""


def permit_left_s(job: Job) -> float | None:
    """Seconds for which the permit of an act still stands; None where none does."""
    act = job.bay.permit
    if act is None:
        return None
    lasts_s = ROAD_PERMIT_S if act is Act.ROAD_TEST else PERMIT_S
    return lasts_s - _age_s(job, "permit")


def soonest(job: Job, act: Act) -> tuple[str, float] | None:
    """The fact under ``act`` that lapses first, and the seconds until then; None where none is
    short-lived and known."""
    facts = {
        fact
        for row in rows_for(act)
        for fact in row.reads
        if LASTS_S.get(fact, SHORT_S + 1) <= SHORT_S and not getattr(job.bay, fact).unknown
    }
    left = sorted((LASTS_S[fact] - _age_s(job, fact), fact) for fact in facts)
    return (left[0][1], left[0][0]) if left else None


def by_lines(job: Job, step: Any, now: Times) -> tuple[StyledLine, ...]:
    """By when the act of ``step`` has to be permitted, before what it rests on lapses."""
    if isinstance(step, ActStep):
        found = soonest(job, step.act)
    elif isinstance(step, SprayStep):
        found = soonest(job, Act.SPRAY_OFF if step.engine == "off" else Act.SPRAY_RUNNING)
    else:
        return ()
    if found is None:
        return ()
    clock = clock_text(now, found[1])[:5]
    return ((_("BY     {clock}; later {later}.", clock=clock, later=LATER[found[0]]), ""),)


def permit_lines(job: Job, now: Times) -> tuple[StyledLine, ...]:
    """By when a permitted act has to be done."""
    left_s = permit_left_s(job)
    if left_s is None:
        return ()
    clock = clock_text(now, left_s)[:5]
    return ((_("BY     {clock}; later it is no longer permitted: ask again.", clock=clock), ""),)


def _age_s(job: Job, name: str) -> float:
    return (job.log.aged_ms - job.log.set_ms.get(name, 0)) / 1000
