"""The kernel proof: whatever is asked, reported, seen and forgotten, in any order.

Two halves. *A fact that is known is true*: for each observer, every state of the
real ``permit`` and ``apply`` beside the real transition of things. *What is permitted is met*:
for each monitor, every belief under which the rows permit, with every truth behind it.
"""

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import pytest
from steplatch.safety.bay import (
    FACTS,
    SPRAYS,
    Act,
    Bay,
    DoseLimits,
    Engine,
    Port,
    Rate,
    RunOn,
    Soak,
    Trip,
)
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.kernel import (
    BayEvent,
    Granted,
    Happened,
    Lapsed,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
    apply,
    permit,
    trips,
)
from steplatch.safety.occurrences import Happening
from steplatch.safety.plant.environment import all_asks
from steplatch.safety.verify.alarms import Alarm, alarm_monitors
from steplatch.safety.verify.cone_of_influence import close, latch, project, readable, weakened_rows
from steplatch.safety.verify.kernel_model import DOSES, LIMITS, Kernel
from steplatch.safety.verify.kernel_proof import comes, gaps, prove, prove_belief, told, told_belief
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observers import FactObserver, Observer
from steplatch.safety.verify.search import SearchCapped

MONITORS: dict[str, Needs] = {
    m.name: m for m in need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
}
OBSERVERS: dict[str, Observer] = {
    "+".join(observer.facts): observer for m in MONITORS.values() for observer in m.observers
}

DIRECT = ("spray-coupled", "hands-clear", "turn-soaked", "spray-running-idle")
"""Monitors that are searched whole as well, as a check on the argument in two halves."""


# -- the argument -----------------------------------------------------------------------------

NAMES = [*FACTS, "wet", *(latch(trip) for trip in Trip)]
LOOKS = [(fact, state) for fact, states in FACTS.items() for state in states]


def random_bay(rng: Random) -> Bay:
    facts: dict[str, Any] = {fact: rng.choice(list(states)) for fact, states in FACTS.items()}
    return Bay(
        **facts,
        wet=rng.choice([None, 0, 1, 2, 3, 4]),
        reserved=rng.choice([0, 0, 1, 2]),
        permit=rng.choice([None, *Act]),
        trips=frozenset(rng.sample(list(Trip), rng.choice([0, 0, 1, 2]))),
    )


def random_event(rng: Random) -> BayEvent:
    kinds: tuple[Callable[[], BayEvent], ...] = (
        lambda: Granted(rng.choice(list(Act)), rng.randrange(4)),
        lambda: Happened(rng.choice(list(Happening)), rng.choice([None, 0, 1, 2, 3])),
        lambda: Seen(*rng.choice(LOOKS)),
        lambda: Lapsed(rng.choice(list(FACTS))),
        PermitLapsed,
        lambda: Tripped(rng.choice(list(Trip))),
        lambda: ResetDone(rng.choice(list(Trip))),
    )
    return rng.choice(kinds)()


def random_kept(rng: Random) -> frozenset[str]:
    return close(rng.sample(NAMES, rng.randrange(1, 5)))


@pytest.mark.parametrize("seed", range(2))
def test_projecting_and_then_applying_gives_the_same_as_applying_and_then_projecting(
    seed: int,
) -> None:
    rng = Random(seed)
    for _ in range(1500):
        bay, event, kept = random_bay(rng), random_event(rng), random_kept(rng)
        whole, part = apply(bay, event), apply(project(bay, kept), event)
        if isinstance(event, ResetDone) and latch(event.trip) not in kept:
            # asked for only where its trip is kept; else it is the lapse of 'recovery'
            assert whole == replace(apply(bay, Lapsed("recovery")), trips=bay.trips - {event.trip})
            continue
        assert project(part, kept) == project(whole, kept), (seed, bay, event, sorted(kept))
        caused = {t for t in trips(bay, event, whole, LIMITS) if latch(t) in kept}
        seen = {t for t in trips(project(bay, kept), event, part, LIMITS) if latch(t) in kept}
        assert seen <= caused, (seed, bay, event, sorted(kept))
        assert caused - seen <= {Trip.STALLED, Trip.UNATTENDED}


@pytest.mark.parametrize("seed", range(2))
def test_what_all_rows_permit_the_weakened_rows_permit_too(seed: int) -> None:
    rng = Random(seed)
    permitted = 0
    for _ in range(300):
        bay, kept = random_bay(rng), random_kept(rng)
        weak = weakened_rows(INTERLOCKS, kept)
        for ask in all_asks(DOSES, tuple(t for t in Trip if latch(t) in kept)):
            rows = tuple(row for row in INTERLOCKS if rng.random() < 0.8)
            if not permit(bay, ask, LIMITS, rows):
                permitted += 1
                here = tuple(row for row in weak if row.id in {r.id for r in rows})
                assert not permit(project(bay, kept), ask, LIMITS, here), (seed, bay, ask)
    assert permitted > 20


def test_a_weakened_row_reads_only_what_is_kept() -> None:
    kept = close({"wet"})
    rows = weakened_rows(INTERLOCKS, kept)
    assert {fact for row in rows for fact in row.reads} <= readable(kept)
    assert "spray-off-ledger" in {row.id for row in rows}


# -- the proof --------------------------------------------------------------------------------


def test_the_tool_knows_nothing_of_fluid_that_is_not_true_at_one_dose() -> None:
    """At every dose, and of every other fact: ``test_kernel_counts``."""
    kernel, found = prove_belief(OBSERVERS["wet"], limits=DoseLimits(1, 1, 1), doses=(1,))
    assert not found.breaches, told_belief(kernel, OBSERVERS["wet"], found.breaches[0])
    assert found.states == 18_452


def test_a_false_belief_is_told_with_the_way_to_it_and_with_what_is_true() -> None:
    observer = FactObserver(
        "hose", done={"hose_off": "off"}
    )  # a truth in which no hose goes on again
    kernel, found = prove_belief(observer)
    said = told_belief(kernel, observer, found.breaches[0])
    *way, end = said.splitlines()
    assert way[0].startswith("1. ")
    assert end.startswith("=> true: hose: believed {'hose': 'on'}, truly ")


@pytest.mark.parametrize("name", sorted(MONITORS))
def test_whatever_is_permitted_is_truly_met(name: str) -> None:
    assert next(gaps(MONITORS[name]), None) is None


@pytest.mark.parametrize(
    "alarm",
    [
        pytest.param(alarm, marks=[pytest.mark.slow] if alarm.name != "alarm-secured" else [])
        for alarm in alarm_monitors()
    ],
    ids=lambda alarm: alarm.name,
)
def test_what_a_running_engine_needs_is_never_lost_without_an_alarm(alarm: Alarm) -> None:
    kernel = Kernel(alarm, alarm.facts, doses=(1,))
    found = prove(kernel, {"alarm": comes(kernel, "tripped", "unattended")}, cap=10_000)
    assert not found.breaches, told(found.breaches[0])
    assert found.met == {"alarm"}


@pytest.mark.parametrize("name", DIRECT)
def test_no_way_through_the_kernel_breaks_a_monitor(name: str) -> None:
    monitor = MONITORS[name]
    kernel = Kernel(monitor, monitor.facts, doses=(1,))
    begun = {f"{act} begins": comes(kernel, "begin", act) for act in monitor.acts}
    found = prove(kernel, begun, cap=10_000)
    assert not found.breaches, told(found.breaches[0])
    assert not found.missed


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(set(MONITORS) - set(DIRECT)))
def test_no_way_through_the_kernel_breaks_one_of_the_other_monitors(name: str) -> None:
    monitor = MONITORS[name]
    found = prove(Kernel(monitor, monitor.facts, doses=(1,)), cap=1_000_000)
    assert not found.breaches, told(found.breaches[0])


def test_a_kernel_beyond_the_cap_proves_nothing_and_says_so() -> None:
    monitor = MONITORS["spray-off-still"]
    with pytest.raises(SearchCapped):
        prove(Kernel(monitor, monitor.facts), cap=50)


# -- what the proof found, kept as tests of the tables ----------------------------------------


def test_an_unanswered_act_leaves_nothing_known_that_it_may_have_ended() -> None:
    port = Port.COOL
    bay = apply(replace(Bay(), port=port, soak=Soak.RUNNING), Granted(Act.START))
    after = apply(bay, PermitLapsed())
    assert after.port.unknown and after.soak.unknown and after.engine.unknown


def test_a_drying_time_that_ends_without_a_drying_run_dries_nothing() -> None:
    wet = replace(Bay(), wet=2, engine=Engine.IDLING)
    assert apply(wet, Happened(Happening.RUN_ON_DUE)).wet == 2
    running = replace(wet, run_on=RunOn.RUNNING)
    assert apply(running, Happened(Happening.RUN_ON_DUE)).wet == 0
    stopped = replace(running, engine=Engine.STOPPED)
    assert apply(stopped, Happened(Happening.RUN_ON_DUE)).wet == 2


def test_a_stall_is_no_account_of_an_engine_off_spray_that_is_still_open() -> None:
    bay = replace(Bay(), wet=1, rate=Rate.MEASURED)
    for act in SPRAYS:
        opened = apply(bay, Granted(act, 2))
        wet = apply(opened, Happened(Happening.STALLED, 2)).wet
        assert wet == (3 if act is Act.SPRAY_RUNNING else None)


def test_a_drain_takes_nothing_off_a_spray_that_is_still_open() -> None:
    opened = apply(replace(Bay(), wet=1), Granted(Act.SPRAY_OFF, 2))
    drained = apply(opened, Happened(Happening.DRAINED, 3))
    assert drained.wet == 2
    assert apply(drained, Happened(Happening.SPRAY_ENDED, 2)).wet == 2
