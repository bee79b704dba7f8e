"""Small procedures: a count made by hand, and recoveries spoiled as an author might spoil them."""

from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from patched import Patch, changed, loaded, moved, scenario, short, with_steps, without
from steplatch.runner.core.plan import Plan
from steplatch.runner.core.procedure import WhenCondition
from steplatch.runner.core.steps import AskStep
from steplatch.runner.core.steps.ask import Option
from steplatch.runner.core.tries import Scenario
from steplatch.runner.proof.graph import Graph
from steplatch.runner.proof.prove import ProofResult, prove
from steplatch.safety.verify.search import SearchCapped

KEPT = """crew identity arrival agree-measure engine-seen hands-codes ignition-codes codes-saved
    secured fumes gun-away hose-found controls kit final-hose final-gun release received
    hand-over"""


@cache
def small() -> Plan:
    """A job without fluid or start, with the shipped recoveries and cards, back before fluid."""
    plan = short()
    steps = [s for s in plan.main.steps() if s.id in KEPT.split()]
    steps = [s.model_copy(update={"when": ()}) if s.id == "kit" else s for s in steps]
    others = {
        name: other.model_copy(
            update={
                "return_to": other.return_to and "before-fluid",
                "return_with_fluid": other.return_with_fluid and "before-fluid",
            }
        )
        for name, other in plan.others.items()
    }
    return replace(plan, main=with_steps(plan.main, steps), others=others)


def spoiled(of: str, patch: Patch) -> Plan:
    plan = small()
    other = with_steps(plan.others[of], patch(plan.others[of].steps()))
    return replace(plan, others={**plan.others, of: other})


def with_other(of: str, **fields: Any) -> Plan:
    plan = small()
    return replace(plan, others={**plan.others, of: plan.others[of].model_copy(update=fields)})


def proof(plan: Plan) -> ProofResult:
    return prove(plan, loaded().place, scenario(agreed=("measure",)), 1)


@cache
def twin() -> ProofResult:
    return proof(small())


def asked(step: str, form: str = "text", when: tuple[WhenCondition, ...] = ()) -> AskStep:
    options = (Option(value="left", say="to the left"), Option(value="right", say="to the right"))
    return AskStep(
        id=step, do="Say what you see.", kind="ask", name=step.replace("-", "_"),
        form=form, options=options if form == "choice" else (), when=when,  # type: ignore[arg-type]
    )  # fmt: skip


def test_the_search_counts_what_a_hand_counts() -> None:
    """First text, a choice, a text only for 'left', then the end.

    By hand, before the end: each of the three steps fresh and begun makes 6; at the third the
    choice can only be 'left'. The end is entered the same way from both sides: what was chosen
    matters no more. Moves before the end: 5 from step to step, 1 that leaves the third out.
    """
    plan = short()
    left = (WhenCondition(fact="which-way".replace("-", "_"), among=("left",)),)
    end = plan.main.steps()[-1]
    steps = (asked("first"), asked("which-way", "choice"), asked("left-one", when=left), end)
    graph = Graph(replace(plan, main=with_steps(plan.main, steps)), Scenario(), 0, giving_up=False)
    graph.explore()
    before = [n for n in range(len(graph.states)) if graph.step_of(n)[1] != end.id]
    assert len(before) == 6
    assert sum(len(list(graph.moves_from(n))) for n in before) == 7
    at_the_end = {to for n in before for _, to, _ in graph.moves_from(n)} - set(before)
    assert len(at_the_end) == 1


def test_a_search_that_grows_too_large_proves_nothing_and_says_so() -> None:
    with pytest.raises(SearchCapped, match="nothing is proven"):
        prove(small(), loaded().place, scenario(), 0, cap=50)


@pytest.mark.slow
def test_the_small_job_is_searched_with_a_disturbance_at_any_moment() -> None:
    result = twin()
    assert result.ended == {"", "finished", "abandoned"}
    assert {"spill", "overdose", "fire", "unpermitted"} <= result.trips
    assert {"spill", "unpermitted"} <= result.resets


KNOWN = frozenset(
    {("always", "after-taken", "hand-over"), ("end", "finished in reach", "hand-over")}
)
"""What the search with disturbances finds, and nothing else. Both follow from what the small job
leaves out: it has no 'after' readings to take when fluid went in by mishap, and no release that
somebody left alone could sign."""


@pytest.mark.slow
def test_the_twin_has_just_the_faults_of_what_it_leaves_out() -> None:
    assert {(f.kind, f.name, f.step) for f in twin().faults} == KNOWN


def test_a_trip_that_nothing_answers_is_named_before_any_search() -> None:
    others = {k: v for k, v in small().others.items() if k != "recovery-spill"}
    (fault,) = proof(replace(small(), others=others)).faults
    assert fault.name == "every trip answered" and "spill" in fault.said


def test_a_return_to_a_point_that_is_not_there_is_named_with_its_line() -> None:
    (fault,) = proof(with_other("recovery-spill", return_to="no-such-point")).faults
    assert (fault.name, fault.step) == ("return is a point", "reset-trip")
    assert fault.place.startswith("recovery-spill.yaml:") and "no-such-point" in fault.said


SPOILED: tuple[tuple[str, str, Patch, str, str], ...] = (
    # (what the author did, procedure, patch, property, step where it shows)
    ("reset before the check", "recovery-unexpected", moved("reset-trip", "hands-first"),
     "finished in reach", "reset-trip"),
    ("not opened", "recovery-overdose", without("open"), "finished in reach",
     "turn"),
    ("a role that nobody has", "recovery-spill", changed("reset-trip", role="supervisor"),
     "finished in reach", "reset-trip"),
    ("nobody saw the turns", "recovery-overdose", without("turn-seen"),
     "finished in reach", "turn"),
    ("gun left on", "abandon", without("gun-off"), "abandoned in reach", "crew"),
    ("nobody signs the notice", "abandon", without("notice"), "abandoned in reach", "crew"),
    ("no tag", "abandon", without("tag"), "abandoned in reach", "notice"),
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(
    ("of", "patch", "name", "step"), [pytest.param(*row[1:], id=row[0]) for row in SPOILED]
)
def test_a_spoiled_recovery_is_caught_by_property_and_step(
    of: str, patch: Patch, name: str, step: str
) -> None:
    before = {(f.name, f.step) for f in twin().faults}
    found = {(f.name, f.step) for f in proof(spoiled(of, patch)).faults} - before
    assert (name, step) in found, found
