"""Edges of the kernel that the way through a job never comes near."""

from dataclasses import replace

import pytest
from steplatch.safety.bay import (
    FACTS,
    Act,
    Bay,
    Engine,
    Kit,
    Rate,
    RunOn,
    Zero,
    state_of,
    states_of,
)
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Granted, Happened, PermitLapsed, apply
from steplatch.safety.occurrences import Happening

SPRAYING_OFF = replace(
    Bay(), engine=Engine.STOPPED, rate=Rate.MEASURED, wet=10, reserved=5, permit=Act.SPRAY_OFF
)


def test_a_permit_without_a_dose_reserves_nothing() -> None:
    assert Granted(Act.SPRAY_OFF).dose == 0
    after = apply(replace(SPRAYING_OFF, reserved=0, permit=None), Granted(Act.SPRAY_OFF))
    assert (after.wet, after.reserved) == (10, 0)


def test_an_end_of_another_kind_of_spray_is_no_account_of_the_open_one() -> None:
    """An idle that sags cannot end a spray with the engine off: the volume is not believed."""
    after = apply(SPRAYING_OFF, Happened(Happening.SPRAY_SAGGED, 1))
    assert (after.wet, after.reserved, after.permit) == (None, 0, Act.SPRAY_OFF)
    loaded = apply(replace(SPRAYING_OFF, rate=Rate.LOADED), Happened(Happening.SPRAY_SAGGED, 1))
    assert loaded.wet == 10


def test_the_end_of_the_open_spray_settles_the_ledger_by_what_is_reported() -> None:
    after = apply(SPRAYING_OFF, Happened(Happening.SPRAY_ENDED, 3))
    assert (after.wet, after.reserved, after.permit) == (8, 0, None)


def test_a_bay_is_untouched_until_anything_at_all_is_known_of_it() -> None:
    assert Bay().untouched
    for fact, states in FACTS.items():
        for state in states:
            if state is not getattr(Bay(), fact):
                assert not replace(Bay(), **{fact: state}).untouched, fact
    assert not replace(Bay(), wet=0).untouched
    assert not replace(Bay(), reserved=1).untouched
    assert not replace(Bay(), permit=Act.START).untouched


def test_states_are_found_by_their_names_within_one_fact_only() -> None:
    assert states_of("kit", ("worn", "boxed")) == {state_of("kit", "worn")}
    assert states_of("engine", ()) == frozenset()
    assert states_of("kit", tuple(s.value for s in Kit)) == frozenset(Kit)
    with pytest.raises(KeyError):
        states_of("colour", ("worn",))


def test_an_unanswered_permit_to_take_the_hose_off_loses_the_zero_and_one_to_read_keeps_it() -> (
    None
):
    known = replace(Bay(), zero=Zero.GOOD)
    handled = apply(replace(known, permit=Act.TAKE_HOSE_OFF), PermitLapsed())
    assert handled.zero is Zero.UNKNOWN
    for act in (Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER):
        assert apply(replace(known, permit=act), PermitLapsed()).zero is Zero.GOOD, act


def test_an_ask_that_names_no_dose_asks_for_none() -> None:
    assert Ask(Act.SPRAY_OFF) == Ask(Act.SPRAY_OFF, dose=0, band_under_ceiling=True, trip=None)


@pytest.mark.parametrize(("wet", "amount"), [(10, None), (None, 3)])
def test_a_spray_that_cannot_be_settled_leaves_no_reservation(
    wet: int | None, amount: int | None
) -> None:
    after = apply(replace(SPRAYING_OFF, wet=wet), Happened(Happening.SPRAY_ENDED, amount))
    assert (after.wet, after.reserved) == (None, 0)


@pytest.mark.parametrize("engine", [Engine.STOPPED, Engine.UNKNOWN])
def test_the_time_of_a_drying_run_that_ran_out_without_the_engine_dries_nothing(
    engine: Engine,
) -> None:
    bay = replace(Bay(), engine=engine, run_on=RunOn.RUNNING, wet=10)
    after = apply(bay, Happened(Happening.RUN_ON_DUE))
    assert (after.wet, after.run_on) == (10, RunOn.UNKNOWN)
    dried = apply(replace(bay, engine=Engine.RAISED), Happened(Happening.RUN_ON_DUE))
    assert dried.wet == 0 and dried.run_on not in (RunOn.UNKNOWN, RunOn.RUNNING)


def test_an_unanswered_permit_for_something_else_than_a_spray_leaves_the_ledger_as_it_stands() -> (
    None
):
    bay = replace(SPRAYING_OFF, permit=Act.HANDS_IN)
    assert apply(bay, PermitLapsed()).wet == 10


def test_the_end_of_a_drying_run_that_nobody_began_dries_nothing() -> None:
    bay = replace(Bay(), engine=Engine.IDLING, run_on=RunOn.UNKNOWN, wet=10)
    assert apply(bay, Happened(Happening.RUN_ON_DUE)).wet == 10
