"""What the hold-up says of the depth below the ports, and what it takes for granted."""

from dataclasses import replace

from steplatch.safety.limits import Height
from steplatch.safety.limits.hold_up import HoldUp, hold_up
from steplatch.safety.limits.structure import filter_space

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
    assert (
        text(held(0.42))[0]
        == "depth that counts = 0.42 m - 0.05 m level tolerance - 0.02 m reading = 0.35 m"
    )
    assert len(held(0.4).lines) > 1


def test_a_depth_within_the_tolerance_adds_nothing_and_says_only_that() -> None:
    for below_m in (0.069, 0.05):
        found = held(below_m)
        said = (
            "level tolerance 0.05 m and 0.02 m of reading take up all of "
            f"{below_m:.4g} m: nothing is added"
        )
        assert (found.volume_m3, text(found), found.assumptions) == (0.0, [said], ())


def test_what_is_assumed_of_the_filter_is_said_only_of_a_filter_that_is_known() -> None:
    known = replace(LOW, filter_volume_m3=3.0e-3)
    unknown = replace(LOW, filter_volume_m3=None, retained=None)
    space = filter_space(known)
    assert space.void_assumptions
    assert hold_up(known, space).assumptions == space.void_assumptions
    assert hold_up(unknown, filter_space(unknown)).assumptions == ()


def test_each_part_of_the_hold_up_is_written_out_and_the_smaller_pipe_counts() -> None:
    """By hand: pi / 4 x 4.7^2 x 35 = 607.2; 0.8 x 800 - pi / 4 x 5^2 x 7 = 502.6; longest side
    1.72 x 144.2 = 248.1 mm, so all of it is reached: 0.25 x 941.4 = 235.4."""
    car = replace(LOW, inlet_below_port_m=0.42, pipe_hold_up_m3=800e-6)
    assert text(hold_up(car, filter_space(car))) == [
        "depth that counts = 0.42 m - 0.05 m level tolerance - 0.02 m reading = 0.35 m",
        "pipe by its bore, 3 mm less = 0.7854 x (4.7 cm)^2 x 35 cm = 607.2 mL",
        "pipe as measured, less what lies within the level tolerance = 0.8 x 800 mL - 0.7854 x "
        "(5 cm)^2 x 7 cm = 502.6 mL",
        "inlet channels = 0.3138 x 3000 mL = 941.4 mL",
        "filter channels counted = 0.25 x 1 ^ 1.5 x 941.4 mL = 235.4 mL",
        "held below the ports = 502.6 mL + 235.4 mL = 737.9 mL",
    ]


def test_cells_without_a_wall_or_a_wall_without_cells_say_as_little_as_neither() -> None:
    neither = filter_space(replace(LOW, cell_density_per_m2=None, wall_thickness_m=None))
    assert neither.pore_assumptions and neither.void_assumptions
    assert filter_space(replace(LOW, cell_density_per_m2=310000.0)) == neither
    assert filter_space(replace(LOW, wall_thickness_m=3.05e-4)) == neither


def test_a_pipe_and_a_filter_of_which_nothing_is_known_are_said_to_count_nothing() -> None:
    bare = replace(LOW, pipe_bore_m=None, pipe_hold_up_m3=None, filter_volume_m3=None)
    found = hold_up(bare, filter_space(bare))
    assert found.volume_m3 == 0.0
    assert text(found)[1:] == [
        "pipe: bore and hold-up not known, nothing is counted",
        "filter: volume not known, nothing is counted",
        "held below the ports = 0 mL + 0 mL = 0 mL",
    ]


def test_a_measured_hold_up_that_tells_nothing_is_said_to_count_nothing() -> None:
    no_bore = replace(LOW, pipe_bore_m=None)
    assert text(hold_up(no_bore, filter_space(no_bore)))[1] == (
        "pipe: bore and how much of the hold-up lies low not known, nothing is counted"
    )
    shallow = replace(LOW, pipe_hold_up_m3=90e-6)
    assert text(hold_up(shallow, filter_space(shallow)))[2] == (
        "pipe as measured, 90 mL: all of it may lie within the level tolerance, nothing is counted"
    )
