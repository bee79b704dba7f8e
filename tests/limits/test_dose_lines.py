"""The lines of a strict dose: each step of the working is there, and none that adds nothing."""

from dataclasses import replace

from safety.limits import Height, Limit, Vehicle, Workshop, work_limits
from safety.physics.cylinder import peak_pressure_ratio
from tests.limits.cars import FLUID, GUN, USUAL


def strict(vehicle: Vehicle, workshop: Workshop | None = None) -> Limit:
    return work_limits(vehicle, FLUID, workshop or Workshop("Test"), GUN).dose_strict


def test_how_the_share_of_the_space_follows_from_the_allowed_pressure_is_written_out() -> None:
    lines = strict(USUAL).lines
    starts = [line.split(" = ")[0] for line in lines]
    at = starts.index("effective compression ratio at that pressure")
    assert starts[at + 1 : at + 3] == ["share of the space", "all fluid in one cylinder"]


def test_a_sum_with_nothing_held_back_is_not_written() -> None:
    assert not any(line.startswith("strict limit = ") for line in strict(USUAL).lines)
    low = replace(
        USUAL,
        height=Height.BELOW,
        inlet_below_port_m=0.4,
        pipe_bore_m=0.05,
        level_tolerance_m=0.05,
        pipe_hold_up_m3=500e-6,
    )
    held = strict(low)
    assert held.value > strict(USUAL).value
    assert any(line.startswith("strict limit = ") for line in held.lines)


def test_a_dry_compression_just_as_high_as_allowed_is_said_to_leave_no_room() -> None:
    dry = peak_pressure_ratio(16.5, 0.0)
    limit = strict(USUAL, Workshop("Test", cranking_pressure_ratio=dry))
    assert limit.value == 0.0
    assert any("already as high as allowed" in line for line in limit.lines)
