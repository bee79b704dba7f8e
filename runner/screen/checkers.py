"""When a second person is needed: said at the start, and called in time.

The visits are the hold points that another person signs; two of them within a few steps are one
visit. The times are rough: a step takes about as long as a step usually takes in the workshop.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice
from typing import Any

from steplatch.safety.bay import Agreed, Crew, Tier
from steplatch.safety.catalogue import _, ngettext, spoken

from ..core.conditions import applies
from ..core.job import Job
from ..core.procedure import Procedure
from ..core.signers import Ahead, here, may_sign, needed, work_of
from ..core.steps import SignStep

CALL_STEPS = 3
"""A checker is called this many steps ahead (common practice, no source)."""
SAME_VISIT = 5
"""Hold points this near to the first of a visit, in steps, belong to it."""
ROUND_MIN = 5
SETTLED_WITH_CUSTOMER = ("agreed", "triage", "tier", "fluid_in", "engine")
"""Facts that are open until the customer has answered, whatever they are before: with a yes to
the clean, fluid comes."""
_BY_ANOTHER = ("checked", "released")


def visits(procedure: Procedure, job: Job) -> list[tuple[Any, int, float]]:
    """The hold points still to come that another person signs: step, steps until then, and about
    how many minutes. What cannot be decided yet is counted as coming."""
    out: list[tuple[Any, int, float]] = []
    minutes = 0.0
    for ahead, step in enumerate(_to_come(procedure, job)):
        if _is_visit(step):
            out.append((step, ahead, minutes))
        minutes += step.takes_min
    return out


def visit_lines(procedure: Procedure, job: Job) -> list[str]:
    """The visits in words, for the start of a job; hold points near each other are one visit."""
    out: list[str] = []
    last = -SAME_VISIT - 1
    for step, ahead, minutes in visits(procedure, job):
        if ahead - last > SAME_VISIT:
            stage = procedure.stage_of(step.id)[1]
            out.append(
                _(
                    "{role}, in about {rounded} min, before the end of '{title}'",
                    role=spoken(step.role),
                    rounded=_rounded(minutes),
                    title=stage.title,
                )
            )
            last = ahead
    return out


def signer_lines(procedure: Procedure, job: Job, worker: str) -> list[str]:
    """Every hold point to come that nobody here could sign if ``worker`` does the work until then:
    which, when, and what would do; empty when each can be signed."""
    job = _with_crew(job)
    out: list[str] = []
    work: frozenset[str] = frozenset()
    others = [str(p["id"]) for p in here(job) if p["id"] != worker]
    minutes = {step.id: at for step, _, at in visits(procedure, job)}
    for step in _to_come(procedure, job):
        if step.id not in minutes or may_sign(job, step, Ahead(worker, work)):
            work |= frozenset(work_of(procedure, step))
            continue
        stage = procedure.stage_of(step.id)[1]
        better = [name for name in others if may_sign(job, step, Ahead(name, work))]
        ways = [
            _("{name} does that work in {worker}'s place (type over)", name=name, worker=worker)
            for name in better
        ]
        ways.append(_("another {needed} comes by then (type join)", needed=needed(step)))
        out.append(
            _(
                "NOBODY here can sign '{do}', in about {rounded} min, stage '{title}', if "
                "{worker} does the work. What would do: {ways}",
                do=step.do.rstrip("."),
                rounded=_rounded(minutes[step.id]),
                title=stage.title,
                worker=worker,
                ways="; or ".join(ways),
            )
        )
    return out


def _with_crew(job: Job) -> Job:
    """The job with the crew that the people here make, before anybody has said who stays."""
    people = here(job)
    if job.bay.knows("crew"):
        return job
    if len(people) > 1:
        bay = job.bay.but(crew=Crew.PAIR)
    elif people and people[0]["role"] != "apprentice" and not people[0]["under_18"]:
        bay = job.bay.but(crew=Crew.ALONE_ADULT, tier=Tier.NONE)
    else:
        bay = job.bay.but(crew=Crew.ALONE_JUNIOR)
    return replace(job, core=replace(job.core, bay=bay))


def next_visit(procedure: Procedure, step: Any, job: Job) -> str:
    """The call for the next checker when it is time for it; empty otherwise."""
    for ahead, step in enumerate(islice(_to_come(procedure, job), CALL_STEPS + 1)):
        if _is_visit(step):
            steps = ngettext("the next step", "{ahead} steps from here", ahead, ahead=ahead)
            return (
                _("the {role} now: needed {steps}", role=spoken(step.role), steps=steps)
                if ahead
                else ""
            )
    return ""


def _is_visit(step: Any) -> bool:
    return isinstance(step, SignStep) and step.point == "hold" and step.meaning in _BY_ANOTHER


def _to_come(procedure: Procedure, job: Job) -> Iterator[Any]:
    steps = procedure.steps()
    at = [s.id for s in steps].index(job.core.step)
    return (s for n, s in enumerate(steps[at:]) if n == 0 or _may_come(job, s))


def _may_come(job: Job, step: Any) -> bool:
    """Whether a step may still come: what the customer has not answered yet is open."""
    if job.bay.agreed not in (Agreed.UNKNOWN, Agreed.MEASURE):
        return applies(job, step) is not False
    no_dose = job.bay.tier is Tier.NONE  # nothing goes in with the engine off
    open_facts = SETTLED_WITH_CUSTOMER[:2] if no_dose else SETTLED_WITH_CUSTOMER
    settled = tuple(c for c in step.when if c.fact not in open_facts)
    return applies(job, step.model_copy(update={"when": settled})) is not False


def _rounded(minutes: float) -> int:
    return max(ROUND_MIN, round(minutes / ROUND_MIN) * ROUND_MIN)
