"""The vehicle as a second witness: it can refuse and trip, and make nothing known or permitted."""

from dataclasses import fields, replace
from itertools import product
from random import Random
from typing import Any

import pytest
from steplatch.safety.bay import FACTS, SPRAYS, Act, Bay, Burning, Engine, RunOn, Secured, Trip
from steplatch.safety.effects import EFFECTS, MEASURED
from steplatch.safety.interlocks import Ask, rows_for
from steplatch.safety.kernel import Granted, Happened, MeasuredHappening, apply, trips
from steplatch.safety.measured import (
    CONTRADICTIONS,
    NOTHING_MEASURED,
    RESTS_ON,
    STATES,
    Measured,
    contradicted,
    contradictions,
)
from steplatch.safety.occurrences import TRIPS, Happening
from steplatch.safety.plant.environment import all_asks
from steplatch.safety.plant.truth import PlantState
from steplatch.safety.registers.trusted_reports import CAUGHT_BY_A_LINK, TRUSTED_REPORTS
from steplatch.safety.verify.kernel_model import DOSES, LIMITS, Kernel
from steplatch.safety.verify.kernel_proof import ObserverMonitor, believed, comes, prove
from steplatch.safety.verify.observers import Observer
from steplatch.safety.verify.search import search

from tests.safety.test_kernel_proof import DIRECT, MONITORS, OBSERVERS, random_bay
from tests.safety.witness_model import (
    WitnessTransitions,
    false_reports_behind_a_link,
    measured_in,
)

H = Happening
EVERY = tuple(Measured(*states) for states in product(*STATES.values()))
CELLS: dict[tuple[str, str], frozenset[str]] = {
    # (said engine, measured engine and band): what refuses, written by hand
    ("stopped", "running idle"): frozenset({"measured-running"}),
    ("stopped", "running raised"): frozenset({"measured-running"}),
    ("stopped", "turning unknown"): frozenset({"measured-turning"}),
    ("stopped", "stopped unknown"): frozenset(),
    ("stopped", "unknown unknown"): frozenset(),
    ("idling", "running idle"): frozenset(),
    ("idling", "running unknown"): frozenset(),
    ("idling", "running raised"): frozenset({"measured-not-idle"}),
    ("idling", "running other"): frozenset({"measured-not-idle"}),
    ("idling", "turning unknown"): frozenset({"measured-not-idle"}),
    ("idling", "stopped unknown"): frozenset({"measured-stopped"}),
    ("idling", "unknown unknown"): frozenset(),
    ("raised", "running raised"): frozenset(),
    ("raised", "running idle"): frozenset({"measured-not-raised"}),
    ("raised", "running other"): frozenset({"measured-not-raised"}),
    ("raised", "stopped unknown"): frozenset({"measured-stopped"}),
    ("road", "running other"): frozenset(),
    ("road", "stopped unknown"): frozenset({"measured-stopped"}),
    ("unknown", "running raised"): frozenset(),
    ("unknown", "stopped unknown"): frozenset(),
}


@pytest.mark.parametrize(("said", "seen"), sorted(CELLS))
def test_what_is_said_of_the_engine_and_what_is_measured(said: str, seen: str) -> None:
    bay = Bay(engine=Engine(said))  # type: ignore[call-arg]
    measured = Measured(*seen.split())
    assert {row.id for row in contradictions(bay, measured)} == CELLS[said, seen]


def test_burning_and_rolling_contradict_what_is_said_of_them() -> None:
    bay = Bay(burning=Burning.NO, secured=Secured.YES)
    assert {r.id for r in contradictions(bay, Measured(burning="yes"))} == {"measured-burning"}
    assert {r.id for r in contradictions(bay, Measured(moving="yes"))} == {"measured-moving"}
    assert not list(contradictions(bay, Measured(burning="no", moving="no")))
    assert not list(contradictions(Bay(), Measured(burning="yes", moving="yes")))


def test_nothing_measured_permits_what_the_rows_refuse() -> None:
    """Whatever is measured, the reasons to refuse are those of the rows, and more."""
    rng = Random(5)
    asks = list(all_asks(DOSES, tuple(Trip)))
    refused = 0
    for _ in range(200):
        bay, ask, measured = random_bay(rng), rng.choice(asks), rng.choice(EVERY)
        more = contradicted(bay, ask, measured)
        refused += bool(more)
        rests_on = {fact for row in rows_for(ask.act) for fact in row.reads}
        for one in more:
            (row,) = [r for r in CONTRADICTIONS if r.id == one.interlock]
            assert row.fact in rests_on and row.holds(bay, measured)
            assert contradicted(bay, ask, measured.without(row.channel)) != more
        assert contradicted(bay, ask, NOTHING_MEASURED) == ()
    assert refused > 20


def test_the_engine_can_be_stopped_whatever_a_display_says() -> None:
    for engine, measured in product(Engine, EVERY):
        assert contradicted(Bay(engine=engine), Ask(Act.STOP_ENGINE), measured) == ()


def test_what_is_set_aside_refuses_nothing_and_leaves_the_rest() -> None:
    bay = Bay(engine=Engine.STOPPED, burning=Burning.NO)
    measured = Measured("running", "idle", "yes", "no")
    left = measured.without("speed_rpm")
    assert left == Measured("unknown", "unknown", "yes", "no")
    assert {r.id for r in contradictions(bay, left)} == {"measured-burning"}
    assert {f for facts in RESTS_ON.values() for f in facts} == set(STATES)
    assert set(STATES) == {f.name for f in fields(Measured)}
    with pytest.raises(ValueError, match="cannot be measured"):
        measured.now("engine", "idling")


@pytest.mark.parametrize("what", MEASURED, ids=lambda what: what.value)
def test_a_measured_happening_makes_known_nothing_and_settles_nothing(what: Happening) -> None:
    rng = Random(what.value)
    for _ in range(400):
        bay = random_bay(rng)
        after = apply(bay, MeasuredHappening(what))
        for fact in FACTS:
            now = getattr(after, fact)
            assert now.unknown or now is getattr(bay, fact), fact
        assert (after.wet, after.reserved, after.permit) == (bay.wet, bay.reserved, bay.permit)
        assert after.trips == bay.trips


@pytest.mark.parametrize("what", MEASURED, ids=lambda what: what.value)
def test_it_makes_unknown_all_that_the_report_would_change_of_the_engine(what: Happening) -> None:
    """What the report makes unknown is unknown by the measurement too, and what the report sets
    of engine, key and starter is not left standing against it; a spray and its gun are settled by
    the person."""
    said, measured = EFFECTS[what], MEASURED[what]
    assert said.ends <= measured.ends
    if what is not H.OVER_CEILING:  # there what was said before stands: it can only be let fall
        assert "engine" in measured.ends
    assert measured.sets["run_on"] == {RunOn.RUNNING: RunOn.UNKNOWN}
    assert measured.wet == "keep"


@pytest.mark.parametrize("what", MEASURED, ids=lambda what: what.value)
def test_it_trips_as_the_report_does_where_it_is_expected(what: Happening) -> None:
    for wet, act in product((None, 0, 1), (None, Act.SPRAY_RUNNING)):
        bay = replace(Bay(), engine=Engine.IDLING, wet=wet)
        if act is not None:
            bay = apply(bay, Granted(act, 1))
        event = MeasuredHappening(what)
        found = set(trips(bay, event, apply(bay, event), LIMITS))
        if what in TRIPS:
            assert TRIPS[what] in found
        else:
            assert (Trip.STALLED in found) is (wet != 0 or act in SPRAYS)
        assert Trip.UNPERMITTED not in found
        report = Happened(what, 0)
        assert set(trips(bay, report, apply(bay, report), LIMITS)) <= found | {Trip.OVERDOSE}


def proven(observer: Observer) -> tuple[int, Any]:
    kernel = Kernel(
        ObserverMonitor(observer),
        observer.facts,
        doses=(1,),
        transitions=WitnessTransitions,
    )

    def borne_out(state: Any) -> bool:
        bay = kernel.bays[state[0]]
        return bay.permit is not None or observer.bears_out(
            believed(bay, observer), kernel.accounts[state[2]]
        )

    found = search(kernel, {"true": borne_out}, cap=400_000, first_breach_only=True)
    return found.states, found.breaches


QUICK = ("engine", "gun", "hand_turn", "hose")


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=[] if name in QUICK else [pytest.mark.slow])
        for name in sorted(OBSERVERS)
    ],
)
def test_with_a_witness_that_may_be_wrong_what_is_known_is_still_true(name: str) -> None:
    states, breaches = proven(OBSERVERS[name])
    assert states > 1 and not breaches


@pytest.mark.parametrize("name", DIRECT)
def test_with_a_witness_no_way_through_the_kernel_breaks_a_monitor(name: str) -> None:
    monitor = MONITORS[name]
    kernel = Kernel(monitor, monitor.facts, doses=(1,), transitions=WitnessTransitions)
    begun = {f"{act} begins": comes(kernel, "begin", act) for act in monitor.acts}
    found = prove(kernel, begun, cap=40_000)
    assert not found.breaches and not found.missed


def test_the_proof_would_find_a_report_of_the_vehicle_that_settles_a_fact(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(MEASURED, H.STALLED, EFFECTS[H.STALLED])
    _, breaches = proven(OBSERVERS["engine"])
    assert breaches


def test_what_a_link_catches_is_a_part_of_what_rests_on_one_honest_answer() -> None:
    for name, caught in CAUGHT_BY_A_LINK.items():
        assert caught and set(caught) < set(TRUSTED_REPORTS[name])


@pytest.mark.slow
@pytest.mark.parametrize("name", CAUGHT_BY_A_LINK)
def test_with_a_true_link_the_search_finds_the_rest_and_no_more(name: str) -> None:
    left = set(TRUSTED_REPORTS[name]) - set(CAUGHT_BY_A_LINK[name])
    assert set(false_reports_behind_a_link(OBSERVERS[name])) == left


def test_what_a_true_link_reports_of_the_plant() -> None:
    assert measured_in(PlantState()) == NOTHING_MEASURED
    assert measured_in(PlantState(engine="stopped", key="off")) == NOTHING_MEASURED
    assert measured_in(PlantState(engine="stopped", key="on")).engine == "stopped"
    assert measured_in(PlantState(engine="idling")).band == "idle"
    assert measured_in(PlantState(engine="raised")).band == "raised"
    assert measured_in(PlantState(engine="road")).engine == "running"
