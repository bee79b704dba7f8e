"""A short form of the shipped job, and ways in which an author might spoil it.

The short form leaves out what no interlock and no condition reads (texts, history, the road).
Every patch gives a new ``Plan``; step places still come from the shipped files.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from steplatch.runner.core.plan import Plan
from steplatch.runner.core.procedure import Procedure, Stage, WhenCondition
from steplatch.runner.core.steps import AskStep
from steplatch.runner.core.tries import Scenario
from steplatch.runner.input.shelf import procedure_files
from steplatch.runner.proof.prove import ProofResult
from steplatch.runner.proof.runs import USUAL, make_run, well_run
from steplatch.runner.proof.words import LoadedProcedures

PROCEDURES = Path(__file__).resolve().parents[2] / "procedures"
SHIPPED = procedure_files()
Steps = tuple[Any, ...]
Patch = Callable[[Steps], Steps]


def scenario(**changed: tuple[str, ...]) -> Scenario:
    """The usual answers with some changed; everything comes out well."""
    return Scenario("short", USUAL | changed, well=True)


@cache
def loaded() -> LoadedProcedures:
    """The shipped job with its recoveries and cards."""
    return LoadedProcedures(PROCEDURES / "clean-above.yaml", SHIPPED)


@cache
def short() -> Plan:
    """The shipped job in its short form."""
    plan = loaded().plan
    read = {c.fact for s in plan.main.steps() for c in s.when}
    steps = [s for s in plan.main.steps() if not (isinstance(s, AskStep) and s.name not in read)]
    kept = tuple(s for s in steps if not s.id.startswith(("road-", "driver", "drive")))
    return replace(plan, main=with_steps(plan.main, kept))


def with_steps(procedure: Procedure, steps: Sequence[Any]) -> Procedure:
    """The procedure with these steps, and the return points that are left."""
    points = {p: r for stage in procedure.stages for p, r in _point(stage, steps)}
    starts = sorted({0, *(n for n, step in enumerate(steps) if step.id in points)})
    stages = tuple(
        Stage.model_construct(
            id=f"stage-{n}", title="a stage", done="done.", steps=tuple(steps[n:end]),
            returns=points.get(steps[n].id, ()),
        )
        for n, end in pairwise((*starts, len(steps)))
    )  # fmt: skip
    return procedure.model_copy(update={"stages": stages})


def _point(stage: Stage, steps: Sequence[Any]) -> list[tuple[str, tuple[str, ...]]]:
    """The first step that is left of a stage that recoveries come back to."""
    left = {step.id for step in steps}
    ids = [step.id for step in stage.steps if step.id in left]
    return [(ids[0], stage.returns)] if stage.returns and ids else []


def spoiled(patch: Patch, of: str = "") -> Plan:
    """The short job with ``patch`` on the steps of the procedure ``of`` (the main one)."""
    plan = short()
    if not of:
        return replace(plan, main=with_steps(plan.main, patch(plan.main.steps())))
    other = with_steps(plan.others[of], patch(plan.others[of].steps()))
    return replace(plan, others={**plan.others, of: other})


def proof(plan: Plan, run: str) -> ProofResult:
    """What ``check`` says of a plan when all goes well in the run of this name."""
    return make_run(plan, loaded().place, well_run(run))


# -- what an author might do ---------------------------------------------------------------------


def without(*names: str) -> Patch:
    """Steps forgotten."""

    def patch(steps: Steps) -> Steps:
        assert set(names) <= {s.id for s in steps}, "the patch names a step that is not there"
        return tuple(s for s in steps if s.id not in names)

    return patch


def swapped(first: str, second: str) -> Patch:
    """Two steps in each other's place."""

    def patch(steps: Steps) -> Steps:
        at = {s.id: n for n, s in enumerate(steps)}
        order = list(steps)
        order[at[first]], order[at[second]] = steps[at[second]], steps[at[first]]
        return tuple(order)

    return patch


def moved(name: str, after: str) -> Patch:
    """A step at another place."""

    def patch(steps: Steps) -> Steps:
        step = next(s for s in steps if s.id == name)
        rest = [s for s in steps if s.id != name]
        at = [s.id for s in rest].index(after) + 1
        return (*rest[:at], step, *rest[at:])

    return patch


def again(name: str, after: str, new: str, **changed: Any) -> Patch:
    """A copy of a step, under a new id, at another place."""

    def patch(steps: Steps) -> Steps:
        step = next(s for s in steps if s.id == name).model_copy(update={"id": new, **changed})
        at = [s.id for s in steps].index(after) + 1
        return (*steps[:at], step, *steps[at:])

    return patch


def changed(name: str, **fields: Any) -> Patch:
    """A step with other values."""

    def patch(steps: Steps) -> Steps:
        assert name in {s.id for s in steps}
        return tuple(s.model_copy(update=fields) if s.id == name else s for s in steps)

    return patch


def only_when(name: str, fact: str, *among: str) -> Patch:
    """A step under one more condition."""

    def patch(steps: Steps) -> Steps:
        found = next(s for s in steps if s.id == name)
        when = (*found.when, WhenCondition(fact=fact, among=among))
        return changed(name, when=when)(steps)

    return patch


def both(*patches: Patch) -> Patch:
    """Several patches, one after another."""

    def patch(steps: Steps) -> Steps:
        for one in patches:
            steps = one(steps)
        return steps

    return patch
