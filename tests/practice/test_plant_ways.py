"""The practice vehicle's fluid goes the ways of the plant that the proofs run in, and no other."""

import pytest
from steplatch.runner.simulator import fluid_paths
from steplatch.runner.simulator.fluid_paths import FILM_ML, Way
from steplatch.runner.simulator.observation import NoticedKind
from steplatch.safety.plant.compartments import WAYS, Cause, Place

from tests.practice.test_vehicle_fluid import idling, ready

LONG_DRY_S = 4000.0


def test_a_way_that_the_plant_of_the_proofs_does_not_have_cannot_be_written() -> None:
    with pytest.raises(ValueError, match="no way from silencer to cylinders"):
        Way(Cause.RUNNING, "silencer_ml", "cylinder_ml")


def test_the_vehicle_goes_every_cause_of_the_plant() -> None:
    used = {way.cause for way in vars(fluid_paths).values() if isinstance(way, Way)}
    assert used == set(WAYS) == set(Cause)
    gone = {
        place
        for way in vars(fluid_paths).values()
        if isinstance(way, Way)
        for place in (fluid_paths._PLACES[way.start], fluid_paths._PLACES[way.end])
    }
    assert gone == set(Place)


def test_a_drying_run_with_the_gun_on_leaves_the_line_full() -> None:
    vehicle = idling(1, "line-holds", 120.0)
    vehicle.spray(25.0)
    vehicle.advance(LONG_DRY_S)
    truth = vehicle.truth()
    assert truth.hose_ml > 25.0
    assert truth.filter_ml + truth.pipe_ml < 1.0, "all that gas comes to is dry"


@pytest.mark.parametrize("lowered", [True, False])
def test_what_stood_in_the_line_goes_to_the_jug_or_to_a_cylinder(lowered: bool) -> None:
    vehicle = idling(1, "line-holds", 120.0)
    vehicle.spray(25.0)
    vehicle.advance(LONG_DRY_S)
    vehicle.stop()
    vehicle.uncouple_gun(lowered)
    assert vehicle.truth().hose_ml == pytest.approx(FILM_ML)
    vehicle.advance(900.0)
    worst = max(vehicle.truth().cylinder_ml)
    assert worst < 0.5 if lowered else worst > 20.0
    expected = NoticedKind.STARTED if lowered else NoticedKind.SLOW_UNEVEN_CRANK
    assert vehicle.start().sign is expected


def test_a_gun_that_drips_on_the_line_fills_a_cylinder_through_the_soak() -> None:
    on, off = ready(1, "gun-drips", 60.0), ready(1, "gun-drips", 60.0)
    for vehicle in (on, off):
        vehicle.spray(3.0)
    off.uncouple_gun()
    for vehicle in (on, off):
        vehicle.advance(900.0)
    assert max(on.truth().cylinder_ml) > max(off.truth().cylinder_ml) + 15.0


def test_what_passes_the_filter_comes_back_by_the_intake_where_that_way_is_open() -> None:
    locked = {}
    for fault in ("none", "low-loop-open"):
        vehicle = idling(1, fault, 1000.0)
        for _ in range(8):
            vehicle.spray(25.0)
            vehicle.advance(10.0)
        vehicle.uncouple_gun()
        vehicle.hose_on()
        vehicle.raise_revs(2500.0)
        vehicle.advance(30.0)
        locked[fault] = vehicle.truth().damaged
    assert locked == {"none": False, "low-loop-open": True}
