"""The lines of a strict dose: each step of the working is there, and none that adds nothing."""

from dataclasses import replace

from steplatch.safety.limits import Height, Limit, VehicleInput, Workshop, work_limits
from steplatch.safety.physics.cylinder import peak_pressure_ratio

from tests.limits.cars import FLUID, GUN, HELD, USUAL


def strict(vehicle: VehicleInput, workshop: Workshop | None = None) -> Limit:
    return work_limits(vehicle, FLUID, workshop or Workshop("Test"), GUN).dose_strict


def test_how_the_share_of_the_space_follows_from_the_allowed_pressure_is_written_out() -> None:
    lines = strict(USUAL).lines
    starts = [line.split(" = ")[0] for line in lines]
    at = starts.index("effective compression ratio at that pressure")
    assert starts[at + 1 : at + 3] == ["share of the space", "all fluid in one cylinder"]


def test_a_strict_limit_is_the_share_of_one_cylinder_and_no_sum_follows() -> None:
    assert "limit" not in "".join(strict(USUAL).lines)
    low = replace(
        USUAL,
        height=Height.BELOW,
        inlet_below_port_m=0.4,
        pipe_bore_m=0.05,
        level_tolerance_m=0.05,
        pipe_hold_up_m3=500e-6,
        held_below=HELD,
    )
    assert strict(low) == strict(USUAL)
    extended = work_limits(low, FLUID, Workshop("Test"), GUN).dose_extended
    assert extended is not None
    ends = [line for line in extended.lines if line.startswith(("nor may it", "extended limit = "))]
    assert ends[0] == "nor may it count more than the space of one cylinder, 32.26 mL"
    assert len(ends) == 2


def test_a_dry_compression_just_as_high_as_allowed_is_said_to_leave_no_room() -> None:
    dry = peak_pressure_ratio(16.5, 0.0)
    limit = strict(USUAL, Workshop("Test", cranking_pressure_ratio=dry))
    assert limit.value == 0.0
    assert any("already as high as allowed" in line for line in limit.lines)
