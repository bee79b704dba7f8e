"""The practice vehicle is the same each time: for lessons, tests and coming back to a job."""

import pytest
from steplatch.runner.simulator.observation import reading_line
from steplatch.runner.simulator.vehicle import SimulatedVehicle


def some_work(vehicle: SimulatedVehicle) -> list[str]:
    vehicle.start()
    vehicle.advance(90.0)
    lines = [reading_line(vehicle.show())]
    vehicle.raise_revs()
    vehicle.show_mean()
    lines.append(reading_line(vehicle.show()))
    vehicle.set_idle()
    vehicle.hose_off()
    vehicle.couple_gun()
    vehicle.spray_volume(60.0, shut_at_sag=True)
    vehicle.uncouple_gun()
    vehicle.clear_line()
    vehicle.hose_on()
    vehicle.advance(33.3)
    lines.append(reading_line(vehicle.show()))
    return lines


def test_the_same_seed_and_acts_give_the_same_vehicle_bit_for_bit() -> None:
    first, second = SimulatedVehicle(7), SimulatedVehicle(7)
    assert some_work(first) == some_work(second)
    assert first.truth() == second.truth()
    assert first.show() == second.show()


def test_another_seed_gives_another_vehicle() -> None:
    first, second = SimulatedVehicle(7), SimulatedVehicle(8)
    some_work(first)
    some_work(second)
    assert first.truth().soot_kg != second.truth().soot_kg
    assert first.truth().gun_rate_ml_s != second.truth().gun_rate_ml_s


def test_a_vehicle_is_rebuilt_from_its_acts() -> None:
    vehicle = SimulatedVehicle(7, ("ash-laden", "zero-error"))
    some_work(vehicle)
    again = SimulatedVehicle.rebuilt(7, ("ash-laden", "zero-error"), vehicle.acts_done)
    assert again.truth() == vehicle.truth()
    assert again.show() == vehicle.show()
    assert again.acts_done == vehicle.acts_done


def test_an_act_made_of_others_is_noted_once() -> None:
    vehicle = SimulatedVehicle(7)
    vehicle.spray_volume(20.0)
    assert [name for name, _, _ in vehicle.acts_done] == ["spray_volume"]


@pytest.mark.parametrize("name", ["no_such_act", "truth", "__init__", "world"])
def test_only_acts_can_be_done_again(name: str) -> None:
    with pytest.raises(ValueError, match="no act of the practice vehicle"):
        SimulatedVehicle.rebuilt(1, "none", [(name, (), {})])


def test_looking_and_asking_for_the_truth_change_nothing() -> None:
    looked, left = SimulatedVehicle(7), SimulatedVehicle(7)
    for vehicle in (looked, left):
        vehicle.start()
        vehicle.advance(30.0)
    for _ in range(5):
        looked.show()
        looked.truth()
    assert looked.advance(30.0) == left.advance(30.0)
    assert looked.truth() == left.truth()
