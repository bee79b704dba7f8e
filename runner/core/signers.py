"""Who may sign a hold point: one pure function, asked before step 1 and again at the step.

Doing a step bars nobody from checking another one; who did the work that a check looks at does
not check that same work. Which work that is, each check says (``safety.checks``).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from steplatch.safety.bay import Check, Crew
from steplatch.safety.checks import (
    ADDS_UP,
    CHECKS,
    EVERYTHING,
    WORK,
    CheckRule,
    at_least,
    counts_as,
)

from .job import Job
from .procedure import Procedure, Step

CUSTOMER = "customer"
WITNESS = "witness"
"""Whose look a witness's is: nobody's. It was told, and the work may go on."""
REFUSED = frozenset({"role", "checker-is-doer"})
_CHECKS = ("checked", "released")


def work_of(procedure: Procedure, step: Step) -> tuple[str, ...]:
    """What of that which ``step`` does some check looks at."""
    looked_at = tuple(sorted(WORK.intersection(step.work())))
    return (*looked_at, "recovery") if procedure.role == "recovery" else looked_at


def rule_of(step: Step) -> CheckRule | None:
    """The check that ``step`` settles, if it settles one."""
    return CHECKS[step.check] if step.check else None


def alone(job: Job) -> bool:
    """Whether one person is here alone."""
    return job.bay.among("crew", (Crew.ALONE_ADULT, Crew.ALONE_JUNIOR))


@dataclass(frozen=True, slots=True)
class Ahead:
    """What is thought to come before a hold point: who works until then, and what work is done."""

    worker: str = ""
    work: frozenset[str] = frozenset()


NOTHING = Ahead()


def did(job: Job, rule: CheckRule, person: str, ahead: Ahead = NOTHING) -> bool:
    """Whether ``person`` has done the work that a check looks at, or will have done it by then."""
    stands = (rule.work - (ahead.work - ADDS_UP)) | {EVERYTHING}
    done = any(job.log.was_done_by(what, person) for what in sorted(stands))
    if rule.told_outside and not ahead.work and not done and _told_only(job, rule):
        return person in job.log.doers
    return done or (person == ahead.worker and not rule.work.isdisjoint(ahead.work))


def _told_only(job: Job, rule: CheckRule) -> bool:
    """Whether the work was reported outside its step: nobody stands as who did it."""
    people = [str(p["id"]) for p in job.log.people]
    return not any(job.log.was_done_by(what, p) for what in sorted(rule.work) for p in people)


def standing(job: Job, step: Any, person: str, role: str, ahead: Ahead = NOTHING) -> str:
    """How a signature of ``person`` at ``step`` would stand: ``other``, ``same`` or ``witness``;
    or why it does not count, one of ``REFUSED``."""
    worked = person == ahead.worker or person in job.log.doers
    rule = rule_of(step)
    if rule is not None:
        did_it = did(job, rule, person, ahead) or (alone(job) and worked)
        counts = counts_as(rule, role, did_it, job.bay)
        if counts is Check.OTHER and at_least(step.role, rule.role):
            counts = counts if at_least(role, step.role) else "role"
        return str(getattr(counts, "value", counts))
    if step.role == CUSTOMER:
        return "other" if role == CUSTOMER else "role"
    if step.point == WITNESS:
        return WITNESS
    if worked and step.meaning in _CHECKS and not alone(job):
        return "checker-is-doer"
    if not at_least(role, step.role):
        return "role"
    return "same" if worked else "other"


def may_sign(job: Job, step: Any, ahead: Ahead = NOTHING) -> tuple[str, ...]:
    """Who of the people here may sign ``step``, by id, after what is thought to come ``ahead``."""
    if step.role == CUSTOMER:
        return (CUSTOMER,)
    return tuple(
        str(p["id"])
        for p in here(job)
        if standing(job, step, str(p["id"]), str(p["role"]), ahead) not in REFUSED
    )


def here(job: Job) -> tuple[dict[str, Any], ...]:
    """The people who are here, as they were written down; all of the roster while nobody said."""
    log = job.log
    return tuple(p for p in log.people if not log.here or p["id"] in log.here)


def needed(step: Any) -> str:
    """The least role for ``step``: the procedure's, or the check's where that asks for more."""
    rule = rule_of(step)
    return step.role if rule is None or at_least(step.role, rule.role) else rule.role


def nobody_signs(procedure: Procedure, roles: Iterable[str]) -> tuple[Any, ...]:
    """The hold points and resets of a procedure that nobody of these roles may sign."""
    there = tuple(roles)
    return tuple(
        step
        for step in procedure.steps()
        if getattr(step, "role", CUSTOMER) != CUSTOMER
        and getattr(step, "point", "") != WITNESS
        and not any(at_least(role, step.role) for role in there)
    )


def who_could(job: Job, step: Any) -> tuple[str, tuple[str, ...]]:
    """For a refusal: ``here`` with who could sign it now, ``away`` with who of the roster could,
    or ``nobody``."""
    able = may_sign(job, step)
    if able:
        return "here", able
    away = tuple(
        str(p["id"])
        for p in job.log.people
        if p not in here(job) and standing(job, step, str(p["id"]), str(p["role"])) not in REFUSED
    )
    return ("away", away) if away else ("nobody", ())
