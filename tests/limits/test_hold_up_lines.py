"""What the hold-up says of the depth below the ports, and what it takes for granted."""

from dataclasses import replace

from safety.limits import Height
from safety.limits.hold_up import HoldUp, hold_up
from safety.limits.structure import filter_space
from tests.limits.cars import USUAL

LOW = replace(
    USUAL,
    height=Height.BELOW,
    inlet_below_port_m=0.4,
    level_tolerance_m=0.05,
    pipe_bore_m=0.05,
    pipe_hold_up_m3=500e-6,
)


def held(below_m: float, tolerance_m: float = 0.05) -> HoldUp:
    car = replace(LOW, inlet_below_port_m=below_m, level_tolerance_m=tolerance_m)
    return hold_up(car, filter_space(car))


def text(found: HoldUp) -> list[str]:
    return [str(line) for line in found.lines]


def test_the_depth_that_counts_is_written_with_the_tolerance_taken_off() -> None:
    assert text(held(0.4))[0] == "depth that counts = 0.4 m - 0.05 m level tolerance = 0.35 m"
    assert len(held(0.4).lines) > 1


def test_a_depth_within_the_tolerance_adds_nothing_and_says_only_that() -> None:
    for below_m in (0.05, 0.03):
        found = held(below_m)
        said = f"level tolerance 0.05 m takes up all of {below_m:.4g} m: nothing is added"
        assert (found.volume_m3, text(found), found.assumptions) == (0.0, [said], ())


def test_what_is_assumed_of_the_filter_is_said_only_of_a_filter_that_is_known() -> None:
    known = replace(LOW, filter_volume_m3=3.0e-3)
    unknown = replace(LOW, filter_volume_m3=None, retained=None)
    space = filter_space(known)
    assert space.void_assumptions
    assert hold_up(known, space).assumptions == space.void_assumptions
    assert hold_up(unknown, filter_space(unknown)).assumptions == ()
