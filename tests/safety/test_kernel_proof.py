"""The kernel proof: whatever is asked, reported, seen and forgotten, in any order.

Two halves. *A fact that is known is true*: for each strand of the truth, every state of the
real ``permit`` and ``apply`` beside the real course of things. *What is permitted is met*:
for each monitor, every belief under which the rows permit, with every truth behind it.
"""

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from safety.bay import FACTS, SPRAYS, Act, Bay, Engine, Port, Rate, RunOn, Soak, Trip
from safety.happenings import Happening
from safety.interlocks import INTERLOCKS
from safety.kernel import (
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
from safety.kernel_proof import (
    DOSES,
    LIMITS,
    Kernel,
    Move,
    State,
    all_asks,
    close,
    gaps,
    project,
    prove,
    prove_belief,
    told,
    weakened_rows,
)
from safety.monitors import Needs, Strand, fluid_monitors
from safety.search import SearchCapped

MONITORS: dict[str, Needs] = {
    m.name: m for m in fluid_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
}
STRANDS: dict[str, Strand] = {
    "+".join(strand.facts): strand for m in MONITORS.values() for strand in m.strands
}


def _facts(monitor: Needs) -> tuple[str, ...]:
    return tuple(fact for strand in monitor.strands for fact in strand.facts)


# -- the argument -----------------------------------------------------------------------------

NAMES = [*FACTS, "wet", *(trip.value for trip in Trip)]
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


@pytest.mark.parametrize("seed", range(4))
def test_projecting_and_then_applying_gives_the_same_as_applying_and_then_projecting(
    seed: int,
) -> None:
    rng = Random(seed)
    for _ in range(1500):
        bay, event, kept = random_bay(rng), random_event(rng), random_kept(rng)
        whole, part = apply(bay, event), apply(project(bay, kept), event)
        if isinstance(event, ResetDone) and event.trip.value not in kept:
            # asked for only where its trip is kept; else it is the lapse of 'recovery'
            assert whole == replace(apply(bay, Lapsed("recovery")), trips=bay.trips - {event.trip})
            continue
        assert project(part, kept) == project(whole, kept), (seed, bay, event, sorted(kept))
        caused = {t for t in trips(bay, event, whole, LIMITS) if t.value in kept}
        seen = {t for t in trips(project(bay, kept), event, part, LIMITS) if t.value in kept}
        assert caused == seen, (seed, bay, event, sorted(kept))


@pytest.mark.parametrize("seed", range(4))
def test_what_all_rows_permit_the_weakened_rows_permit_too(seed: int) -> None:
    rng = Random(seed)
    permitted = 0
    for _ in range(300):
        bay, kept = random_bay(rng), random_kept(rng)
        weak = weakened_rows(INTERLOCKS, kept)
        for ask in all_asks(DOSES, tuple(t for t in Trip if t.value in kept)):
            rows = tuple(row for row in INTERLOCKS if rng.random() < 0.8)
            if not permit(bay, ask, LIMITS, rows):
                permitted += 1
                here = tuple(row for row in weak if row.id in {r.id for r in rows})
                assert not permit(project(bay, kept), ask, LIMITS, here), (seed, bay, ask)
    assert permitted > 20


def test_a_weakened_row_reads_only_what_is_kept() -> None:
    kept = close({"wet"})
    rows = weakened_rows(INTERLOCKS, kept)
    assert {fact for row in rows for fact in row.reads} <= kept | {"trips"}
    assert "spray-off-ledger" in {row.id for row in rows}


# -- the proof --------------------------------------------------------------------------------

STATES_AT_MOST = {"wet": 45_000}


@pytest.mark.parametrize("name", sorted(STRANDS))
def test_the_tool_knows_nothing_that_is_not_true(name: str) -> None:
    kernel, found = prove_belief(STRANDS[name])
    assert not found.breaches, told(found.breaches[0])
    assert len(kernel.bays) > 2
    assert found.states <= STATES_AT_MOST.get(name, 2_500)


@pytest.mark.parametrize("name", sorted(MONITORS))
def test_whatever_is_permitted_is_truly_met(name: str) -> None:
    assert next(gaps(MONITORS[name]), None) is None


def begins(act: str) -> Callable[[State, Move, State], bool]:
    """Met by the move in which ``act`` is truly begun."""
    return lambda before, move, after: any(
        event[:2] == ("begin", act) for _, _, truth in move.outcomes for event in truth
    )


DIRECT = sorted(name for name in MONITORS if "wet" not in _facts(MONITORS[name]))


@pytest.mark.parametrize("name", DIRECT)
def test_no_way_through_the_kernel_breaks_a_monitor(name: str) -> None:
    monitor = MONITORS[name]
    kernel = Kernel(monitor, _facts(monitor), doses=(1,))
    found = prove(kernel, {f"{act} begins": begins(act) for act in monitor.acts}, cap=50_000)
    assert not found.breaches, told(found.breaches[0])
    assert not found.missed


def test_a_kernel_beyond_the_cap_proves_nothing_and_says_so() -> None:
    monitor = MONITORS["spray-off-still"]
    with pytest.raises(SearchCapped):
        prove(Kernel(monitor, _facts(monitor)), cap=50)


# -- the proofs can fail ----------------------------------------------------------------------

SERVES_FLUID = {
    "start-ledger": "start-with-fluid",
    "start-soak": "start-soaked",
    "turn-soaked": "turn-soaked",
    "stop-with-fluid": "stop-stays-startable",
    "spray-off-ledger": "spray-off-ledger",
    "spray-running-ledger": "spray-running-ledger",
    "spray-rate": "spray-rate",
    "spray-off-cool": "spray-off-cool",
    "spray-running-band": "spray-running-band",
    "spray-sheet": "spray-sheet",
    "fluid-kit": "spray-kit",
    "spray-spill": "spray-spill",
    "spray-not-burning": "spray-not-burning",
    "spray-off-still": "spray-off-still",
    "spray-running-idle": "spray-running-idle",
    "run-controls": "spray-running-attended",
    "spray-coupled": "spray-coupled",
}
"""Interlock -> the monitor that breaks when the row is taken out."""


@pytest.mark.parametrize("row", sorted(SERVES_FLUID))
def test_without_this_row_its_monitor_is_broken(row: str) -> None:
    monitor = MONITORS[SERVES_FLUID[row]]
    rest = tuple(r for r in INTERLOCKS if r.id != row)
    assert len(rest) == len(INTERLOCKS) - 1
    assert next(gaps(monitor, rest), None) is not None
    found = prove(Kernel(monitor, _facts(monitor), rest, doses=(1, 2)), cap=60_000)
    assert found.breaches and found.breaches[0].name == monitor.name


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
