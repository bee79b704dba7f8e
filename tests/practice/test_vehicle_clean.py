"""Whole cleans on the practice vehicle: what fluid, revs and time do to the filter."""

import time

import pytest
from steplatch.runner.simulator.observation import NoticedKind
from steplatch.runner.simulator.vehicle import SimulatedVehicle


def hold_pa(vehicle: SimulatedVehicle, minutes: int) -> list[float]:
    """True pressure at raised revs, once a minute."""
    vehicle.raise_revs()
    found = []
    for _ in range(minutes):
        vehicle.advance(60.0)
        found.append(vehicle.truth().pressure_pa)
    return found


def with_running_dose(vehicle: SimulatedVehicle, ml: float = 280.0) -> SimulatedVehicle:
    vehicle.start()
    vehicle.advance(120.0)
    vehicle.hose_off()
    vehicle.couple_gun()
    assert vehicle.spray_volume(ml).sign is NoticedKind.DONE
    vehicle.advance(30.0)
    vehicle.uncouple_gun()
    vehicle.clear_line()
    vehicle.hose_on()
    return vehicle


def before_pa(seed: int, fault: str) -> float:
    vehicle = SimulatedVehicle(seed, fault)
    vehicle.start()
    return hold_pa(vehicle, 5)[-1]


@pytest.mark.parametrize("seed", range(3))
def test_a_clean_brings_the_raised_pressure_down_and_it_levels(seed: int) -> None:
    before = before_pa(seed, "none")
    curve = hold_pa(with_running_dose(SimulatedVehicle(seed)), 24)
    assert curve[-1] < 0.65 * before
    # Common practice, no source: about 50 mbar at 2500 1/min is the target.
    assert 3500.0 < curve[-1] < 6500.0
    assert curve[3] - curve[6] > 3.0 * abs(curve[-4] - curve[-1])
    assert abs(curve[-4] - curve[-1]) < 100.0


def test_an_ash_laden_filter_stays_high_after_the_same_clean() -> None:
    curve = hold_pa(with_running_dose(SimulatedVehicle(1, "ash-laden")), 24)
    assert curve[-1] > 8000.0
    assert SimulatedVehicle(1, "ash-laden").truth().ash_kg > 0.2


def test_ash_is_never_taken_out() -> None:
    vehicle = with_running_dose(SimulatedVehicle(1, "ash-laden"), 800.0)
    ash = SimulatedVehicle(1, "ash-laden").truth().ash_kg
    hold_pa(vehicle, 10)
    assert vehicle.truth().ash_kg == ash


def test_packed_soot_leaves_a_smaller_gain() -> None:
    soft = hold_pa(with_running_dose(SimulatedVehicle(2)), 20)[-1] / before_pa(2, "none")
    hard = hold_pa(with_running_dose(SimulatedVehicle(2, "hard-soot")), 20)[-1]
    assert hard / before_pa(2, "hard-soot") > soft + 0.1


def test_revs_without_fluid_do_not_clean() -> None:
    vehicle = SimulatedVehicle(2)
    vehicle.start()
    curve = hold_pa(vehicle, 20)
    assert curve[-1] == pytest.approx(curve[5], rel=0.03)
    assert vehicle.truth().soot_gone_kg == 0.0


def test_a_wet_filter_reads_high_and_slow_drying_makes_it_last() -> None:
    plain = with_running_dose(SimulatedVehicle(2))
    slow = with_running_dose(SimulatedVehicle(2, "wet-filter-slow-dry"))
    truth = plain.truth()
    assert truth.viscous_resistance_per_m3 > 1.5 * truth.dry_resistance_per_m3
    hold_pa(plain, 4)
    hold_pa(slow, 4)
    assert plain.truth().filter_ml < 5.0 < slow.truth().filter_ml


def test_a_litre_dries_in_minutes_at_raised_revs_and_far_slower_at_idle() -> None:
    # Common practice, no source: 1 L takes about 8 to 12 min at 2500 1/min and 45 to 90 min at
    # idle; a third of it, held by the walls, takes the like share. Mean rates, mL/s.
    rates = []
    for raised in (True, False):
        vehicle = with_running_dose(SimulatedVehicle(2), 300.0)
        if raised:
            vehicle.raise_revs()
        vehicle.advance(40.0)
        start = vehicle.truth().filter_ml
        vehicle.advance(60.0)
        rates.append((start - vehicle.truth().filter_ml) / 60.0)
    assert 1000.0 / rates[0] / 60.0 == pytest.approx(10.0, abs=3.0)
    assert 1000.0 / rates[1] / 60.0 == pytest.approx(65.0, abs=25.0)


def test_all_soot_is_in_the_filter_or_gone() -> None:
    vehicle = SimulatedVehicle(2)
    start = vehicle.truth().soot_kg
    with_running_dose(vehicle)
    hold_pa(vehicle, 6)
    truth = vehicle.truth()
    assert truth.soot_gone_kg > 0.005
    assert truth.soot_kg + truth.soot_gone_kg == pytest.approx(start, rel=1e-9)


def test_soaking_loosens_more_soot_than_no_wait() -> None:
    loosened = []
    for wait_s in (1.0, 600.0):
        vehicle = SimulatedVehicle(2)
        vehicle.advance(1800.0)
        vehicle.hose_off()
        vehicle.couple_gun()
        vehicle.spray_volume(35.0)
        vehicle.advance(wait_s)
        loosened.append(vehicle.truth().loosened_kg)
    assert loosened[1] > 1.1 * loosened[0]


def test_two_hours_are_simulated_in_under_three_seconds() -> None:
    vehicle = with_running_dose(SimulatedVehicle(2))
    vehicle.raise_revs()
    start = time.process_time()
    vehicle.advance(7200.0)
    assert time.process_time() - start < 3.0
