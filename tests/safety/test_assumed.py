"""What the proof takes for granted of the plant: none is idle, and each is answered and told."""

from itertools import chain

import pytest
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.plant.compartments import (
    ANYWHERE,
    HELD_SHUT,
    HOLDS,
    NOT_DRIED,
    RUNS_BACK,
    WAYS,
    Cause,
    Fluid,
    Place,
    reached,
)
from steplatch.safety.registers.hazards import HAZARDS
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.kernel_proof import prove_belief
from steplatch.safety.verify.monitors import need_monitors

from tests.safety.assumed import ASSUMED, PlantAssumption

P = Place
MONITORS = need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
OBSERVERS = {
    observer.facts[0]: observer
    for monitor in MONITORS
    for observer in monitor.observers
    if len(observer.facts) == 1
}
LAST_MOVE = {
    "SagKeepsSome": "seen: line drained, and a sag keeps some",
    "JugHoldsWater": "drained, and part of it was water",
    "GunLeaks": "the gun leaks",
    "LoadedOnTop": "reported: spray_ended, 1 in, 1 reported, on top of old fluid",
    "WordOfArrival": "said: it came dry, and it did not",
    "ComesLate": "fluid comes late",
    "HeatSoaksBack": "port: hotter by itself",
}
"""The move by which each weaker plant refutes what the tool believes. That the plant of the proof
refutes nothing is held by the kernel proof itself."""


@pytest.mark.parametrize("assumption", ASSUMED, ids=lambda a: a.weaker.__name__)
def test_without_it_the_proof_finds_what_is_wrongly_believed(assumption: PlantAssumption) -> None:
    _, found = prove_belief(OBSERVERS[assumption.refutes], transitions=assumption.weaker)
    assert not found.proven
    (said, _), _ = found.breaches[0].trace[-1]
    assert said == LAST_MOVE[assumption.weaker.__name__]


def test_each_is_answered_by_rows_and_told_where_its_hazard_says_what_is_left() -> None:
    assert {a.weaker.__name__ for a in ASSUMED} == set(LAST_MOVE)
    hazards = {hazard.id: hazard for hazard in HAZARDS}
    rows = {row.id for row in INTERLOCKS}
    for assumption in ASSUMED:
        assert assumption.rows and set(assumption.rows) <= rows
        assert assumption.left and hazards[assumption.hazard].left_over


def test_every_place_can_be_entered_says_why_it_holds_and_from_where_that_is_known() -> None:
    assert set(HOLDS) == set(Place)
    assert all(holds.why and holds.source for holds in HOLDS.values())
    assert set(WAYS) == set(Cause)
    ends = {end for _, end in chain.from_iterable(WAYS.values())}
    assert ends == set(Place) - {P.HOSE}, "the gun alone fills the hose"
    assert reached(P.HOSE) == set(Place)


def test_what_goes_in_may_be_anywhere_but_in_a_loop_that_is_held_shut() -> None:
    assert set(Place) - {P.OUT, P.LOOP} == ANYWHERE
    assert P.LOOP in reached(P.HOSE) and P.LOOP not in reached(P.HOSE, HELD_SHUT)


def test_fluid_behind_the_filter_comes_to_a_cylinder_by_the_loop_alone() -> None:
    assert {P.HOSE, P.TURBINE, P.PORES, P.LOOP, P.BEHIND} <= RUNS_BACK
    assert P.SILENCER not in RUNS_BACK
    assert P.CYLINDERS not in reached(P.BEHIND, HELD_SHUT)


def test_drying_empties_what_gas_or_heat_comes_to_and_leaves_the_line() -> None:
    assert {P.HOSE, P.LOOP, P.SILENCER} == NOT_DRIED
    sprayed = Fluid().entered(3, 10)
    assert sprayed == Fluid(3, ANYWHERE)
    assert sprayed.dried() == Fluid(3, frozenset({P.HOSE}))
    assert sprayed.blown().dried() == Fluid(), "a line that was blown holds nothing"
    assert Fluid().entered(0, 10) == Fluid() == Fluid().dried()


def test_no_jug_holds_what_nothing_held_and_any_amount_stays_any_amount() -> None:
    assert Fluid(3, ANYWHERE).drained(2, 10) == Fluid(1, ANYWHERE)
    assert Fluid(3, ANYWHERE).drained(5, 10) == Fluid()
    assert Fluid(10, ANYWHERE).drained(2, 10) == Fluid(10, ANYWHERE)
    assert Fluid(9, ANYWHERE).entered(5, 10).dml == 10
