"""Every fault in the register can be drawn, and each shows in what the vehicle does."""

import re

import pytest
from steplatch.runner.simulator.faults import FAULTS, UnknownFaultError, draw_faults, setup_with
from steplatch.runner.simulator.hand import Hand
from steplatch.runner.simulator.observation import reading_line
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.card import PracticeCard

from tests.each import each


def all_that_shows(fault: str) -> list[object]:
    """One script that tries everything a person can notice, without any look at the truth."""
    vehicle = SimulatedVehicle(11, fault)
    hand, card = Hand(vehicle, 2300.0, 2500.0), PracticeCard(vehicle, {})
    seen: list[object] = [hand.look("oil", ("ok", "thinned")).answer, card["smoke"]]
    seen += [hand.look(fact) for fact in ("trigger", "low_loop")]
    seen += [vehicle.empty_gun(), vehicle.ignition(True), vehicle.show()]
    seen += [vehicle.advance(60.0), vehicle.trace_hose(), vehicle.start(), vehicle.advance(60.0)]
    seen += [vehicle.show(), vehicle.raise_revs(), vehicle.advance(60.0), vehicle.show()]
    seen += [vehicle.stop(), vehicle.inhibit_self_start(), vehicle.advance(2400.0)]
    seen += [vehicle.ignition(True), vehicle.show(), vehicle.ignition(False), vehicle.fill_gun(600)]
    seen += [vehicle.jug_shot(5.0) for _ in range(5)]
    seen += [vehicle.hose_off(), vehicle.couple_gun(), vehicle.spray(10.0), vehicle.advance(600.0)]
    seen += [vehicle.start(), vehicle.start(), vehicle.advance(60.0), vehicle.spray(25.0)]
    seen += [vehicle.advance(60.0), vehicle.uncouple_gun(), vehicle.clear_line()]
    seen += [vehicle.hose_on(), vehicle.advance(60.0), vehicle.show(), vehicle.raise_revs()]
    for _ in range(6):
        seen += [vehicle.advance(60.0), vehicle.show()]
    return seen


@pytest.fixture(scope="module")
def soot_only() -> list[object]:
    return all_that_shows("none")


@each("fault", sorted(set(FAULTS) - {"none"}))
def test_each_fault_shows_to_who_works_at_the_vehicle(fault: str, soot_only: list[object]) -> None:
    assert all_that_shows(fault) != soot_only


def test_there_are_enough_faults_for_practice() -> None:
    assert len(FAULTS) >= 14
    assert not FAULTS["none"].changes


@each("name", sorted(FAULTS))
def test_a_fault_has_a_typeable_name_and_one_line_that_fits_the_screen(name: str) -> None:
    fault = FAULTS[name]
    assert fault.name == name and re.fullmatch(r"[a-z]+(-[a-z]+)*", name)
    assert 10 < len(fault.line) <= 100 and fault.line.endswith(".") and "\n" not in fault.line


def test_an_unknown_fault_is_refused_with_the_list_to_choose_from() -> None:
    with pytest.raises(UnknownFaultError, match=r"'ash-ladden' is not known\..*ash-laden"):
        SimulatedVehicle(1, "ash-ladden")


def test_a_fault_given_twice_or_five_faults_are_refused() -> None:
    with pytest.raises(UnknownFaultError, match="each once"):
        setup_with("cracked", "cracked")
    with pytest.raises(UnknownFaultError, match="at most 4"):
        setup_with(*sorted(FAULTS)[:5])


def test_two_faults_can_be_put_together() -> None:
    both = setup_with("ash-laden", "zero-error")
    assert both.ash_kg_m3 == setup_with("ash-laden").ash_kg_m3
    assert both.zero_pa == setup_with("zero-error").zero_pa


def test_a_drawn_fault_is_the_same_for_the_same_seed_and_every_fault_can_be_drawn() -> None:
    assert draw_faults(5) == draw_faults(5)
    assert {draw_faults(seed)[0] for seed in range(1000)} == set(FAULTS)


def test_no_fault_name_shows_in_what_the_vehicle_says() -> None:
    for fault in ("ash-laden", "cracked", "zero-error"):
        vehicle = SimulatedVehicle(1, fault)
        vehicle.start()
        words = vehicle.advance(10.0).words + reading_line(vehicle.show())
        assert fault not in words and "ash" not in words and "crack" not in words
