"""What stands in the working of the heat limits, and what is taken where nothing was said."""

from steplatch.safety.limits import Fluid, GunInput, Height, VehicleInput, Workshop
from steplatch.safety.limits.heat import work_heat

FLUID = Fluid("test fluid", "SDS 1", "2025-01-01")
SEA_LEVEL_LINE = "exhaust under 100 degC before an engine-off dose: fluid must not flash"


def lines_at(altitude_m: float) -> list[str]:
    limit = work_heat(FLUID, Workshop("Test", altitude_m=altitude_m)).exhaust_engine_off
    return [str(line) for line in limit.lines]


def test_the_lower_boiling_point_of_a_high_workshop_is_written_out() -> None:
    """US Standard Atmosphere 1976 at 1500 m: 845.6 hPa, and Wagner and Pruss, J. Phys. Chem.
    Ref. Data 31 (2002) 387: water boils there at 94.99 degC, at sea level at 99.97."""
    assert lines_at(1500.0) == [
        SEA_LEVEL_LINE,
        "at 1500 m the air is at 845.6 mbar and water boils lower by 99.97 - 94.99 = 4.98 degC",
        "limit = 100 - 4.98 = 95.02 degC",
    ]


def test_any_height_above_the_sea_lowers_the_limit_and_none_below_it_raises_it() -> None:
    for altitude_m in (0.0, -300.0):
        assert lines_at(altitude_m) == [SEA_LEVEL_LINE]
    heat = work_heat(FLUID, Workshop("Test", altitude_m=0.5))
    assert heat.exhaust_engine_off.value < 373.15
    assert len(lines_at(0.5)) == 3


def test_of_a_vehicle_of_which_only_the_engine_is_known_this_is_taken() -> None:
    car = VehicleInput("car", 2.0e-3, 4)
    assert car.height is Height.UNKNOWN
    assert (car.idle_rpm, car.sensor_step_pa) == (820.0, 100.0)
    assert not (car.self_starting or car.one_hose or car.urea_after_filter)
    assert car.shows == {"pressure", "speed", "air", "exhaust", "coolant", "recirculation"}


def test_of_a_gun_a_fluid_and_a_workshop_this_is_taken() -> None:
    gun = GunInput("gun", 1.0e-3)
    assert (gun.rates_m3_s, gun.reaction_s, gun.self_closing) == ((), 0.5, True)
    assert (FLUID.density_kg_m3, FLUID.water_share, FLUID.hazard_codes) == (1000.0, 1.0, ())
    workshop = Workshop("Test")
    assert (workshop.altitude_m, workshop.air_k) == (0.0, 293.15)
