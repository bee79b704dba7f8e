"""The strict engine-off dose, and what a filter below the port holds."""

import itertools
import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.limits import (
    GunInput,
    Height,
    ImplausibleInputs,
    LooserThanWorked,
    VehicleInput,
    Workshop,
)
from steplatch.safety.limits.hold_up import hold_up
from steplatch.safety.limits.structure import filter_space
from steplatch.safety.physics.cylinder import clearance_volume_m3, peak_pressure_ratio

from tests.each import each
from tests.limits.cars import (
    CLAIM,
    HELD,
    LOW_SLUNG,
    ML,
    USUAL,
    extended_ml,
    held_ml,
    strict_ml,
    worked,
)

# --- strict -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("litres", "cylinders", "ratio", "half_of_space_ml"),
    # Common practice, no source: half of the space at top dead centre as a cap, by engine.
    [(1.3, 4, 16.8, 10.0), (1.5, 4, 16.0, 12.0), (1.4, 3, 16.5, 15.0), (1.6, 4, 17.0, 12.5),
     (2.0, 4, 15.5, 17.0), (2.0, 4, 18.5, 14.0), (2.2, 4, 15.8, 18.0), (2.3, 4, 16.0, 19.0),
     (3.0, 6, 16.5, 16.0)],
)  # fmt: skip
def test_strict_limit_is_about_half_the_space_and_never_much_over_it(
    litres: float, cylinders: int, ratio: float, half_of_space_ml: float
) -> None:
    car = VehicleInput("light diesel", litres * 1e-3, cylinders, compression_ratio=ratio)
    limit = strict_ml(car)
    assert 8.0 < limit < 21.0, "about 10 to 20 mL on a light diesel (design)"
    assert 0.75 * half_of_space_ml < limit < 1.05 * half_of_space_ml


def test_strict_limit_is_just_what_brings_compression_to_the_allowed_pressure() -> None:
    clearance_m3 = clearance_volume_m3(0.5e-3, 16.5)
    share = worked(USUAL).dose_strict.value / clearance_m3
    assert peak_pressure_ratio(16.5, share) == pytest.approx(90.0, rel=1e-9)


def test_an_unknown_compression_ratio_is_taken_as_the_highest_that_can_be_typed() -> None:
    unknown = worked(replace(USUAL, compression_ratio=None)).dose_strict
    assert unknown.value == worked(replace(USUAL, compression_ratio=25.0)).dose_strict.value
    with pytest.raises(ImplausibleInputs, match="outside 12 to 25"):
        worked(replace(USUAL, compression_ratio=25.001))
    assert any("may rise when it is known" in text for text in unknown.assumptions)
    assert worked(USUAL).dose_strict.assumptions == ()


@given(st.floats(12.0, 24.0), st.floats(0.01, 1.0))
def test_a_higher_compression_ratio_gives_a_smaller_strict_limit(ratio: float, more: float) -> None:
    lower = strict_ml(replace(USUAL, compression_ratio=ratio))
    assert strict_ml(replace(USUAL, compression_ratio=ratio + more)) < lower


@given(st.floats(1.0, 4.0), st.floats(1.01, 1.5))
def test_a_larger_engine_gives_a_larger_strict_limit(litres: float, factor: float) -> None:
    small = VehicleInput("small", litres * 1e-3, 4, compression_ratio=16.5)
    large = VehicleInput("large", litres * factor * 1e-3, 4, compression_ratio=16.5)
    assert strict_ml(large) > strict_ml(small)


@given(st.floats(1.0, 90.0))
def test_a_workshop_can_only_tighten_the_cranking_pressure(ratio: float) -> None:
    own = Workshop("Test", cranking_pressure_ratio=ratio)
    assert strict_ml(USUAL, own) <= strict_ml(USUAL)


def test_a_cranking_pressure_below_the_dry_one_leaves_no_strict_dose() -> None:
    limits = worked(USUAL, Workshop("Test", cranking_pressure_ratio=40.0))
    assert limits.dose_strict.value == 0.0
    assert limits.kernel_dml().strict_dml == 0
    assert any("no fluid may reach a cylinder" in line for line in limits.dose_strict.lines)


def test_a_looser_cranking_pressure_is_an_error_naming_both_values() -> None:
    with pytest.raises(LooserThanWorked, match=r"to 95 times, looser than the worked 90\.0"):
        worked(USUAL, Workshop("Test", cranking_pressure_ratio=95.0))


# --- height -----------------------------------------------------------------------------------


@each("height", list(Height))
@each("below_m", [0.05, 0.2, 0.4, 1.0])
@each("claimed", [False, True])
def test_no_height_lifts_the_strict_dose(height: Height, below_m: float, claimed: bool) -> None:
    held = HELD if claimed else None
    car = replace(LOW_SLUNG, height=height, inlet_below_port_m=below_m, held_below=held)
    assert strict_ml(car) == strict_ml(USUAL)
    assert worked(car).dose_strict.lines == worked(USUAL).dose_strict.lines


def test_the_low_filters_of_the_review_no_longer_lift_the_strict_dose() -> None:
    """2.0 L with the filter 0.2 m below gave 179 mL strict and a 3.0 L V6 408 mL, on one word
    and one number. One cylinder of them bears 15.15 mL: 500 mL / 15.5 = 32.26 mL
    of space, of which (30.23 - 16.5) / 29.23 = 0.4698, where 30.23 = 90 ^ (1 / 1.32)."""
    low = replace(USUAL, height=Height.BELOW, inlet_below_port_m=0.2, pipe_bore_m=0.05)
    v6 = replace(low, displacement_m3=3.0e-3, cylinders=6, inlet_below_port_m=0.4)
    for car in (low, v6):
        limits = worked(car)
        assert limits.dose_strict.value * 1e6 == pytest.approx(15.15, abs=0.01)
        assert limits.dose_extended is None
        assert "nobody stands for it that what lies below" in limits.no_extended_because
        assert limits.kernel_dml().extended_dml == 151


def test_above_and_unknown_height_credit_nothing() -> None:
    low = replace(LOW_SLUNG, inlet_below_port_m=0.3)
    for height in (Height.ABOVE, Height.UNKNOWN):
        limits = worked(replace(low, height=height))
        assert limits.dose_extended is None and held_ml(replace(low, height=height)) == 0.0
        assert limits.no_extended_because == "the vehicle file claims no retained volume"


def test_below_without_a_depth_credits_nothing_and_says_so() -> None:
    car = replace(LOW_SLUNG, inlet_below_port_m=None)
    limits = worked(car)
    assert limits.dose_extended is None
    assert "nothing is held below the exhaust ports" in limits.no_extended_because
    assert any(
        "depth below the ports not known" in text
        for text in hold_up(car, filter_space(car)).assumptions
    )


def test_a_depth_within_the_level_tolerance_and_the_reading_credits_nothing() -> None:
    for below_m in (0.12, 0.10, 0.05):
        assert worked(replace(LOW_SLUNG, inlet_below_port_m=below_m)).dose_extended is None


def test_an_unknown_level_tolerance_takes_ten_centimetres_off() -> None:
    unknown = replace(LOW_SLUNG, level_tolerance_m=None, pipe_bore_m=0.02)
    known = replace(LOW_SLUNG, pipe_bore_m=0.02)
    assert held_ml(unknown) == held_ml(known)
    assumed = hold_up(unknown, filter_space(unknown)).assumptions
    assert any("level tolerance not known" in text for text in assumed)


def test_two_centimetres_of_credited_depth_add_what_pipe_and_channels_hold() -> None:
    # By hand: pipe 50 mm less 3 across, 2 cm: 34.70 mL. Filter 3 L, cube root 144.2 mm, longest
    # side 248.1 mm, reached 0.08062; channels 0.3138 x 3000 mL x 0.25 x 0.08062^1.5 = 5.388 mL.
    assert held_ml(LOW_SLUNG) == pytest.approx(34.70 + 5.388, abs=0.005)


def test_a_known_length_tells_over_which_height_the_filter_fills() -> None:
    # 3 L, 300 mm long: 112.8 mm wide, so 300 counts; 60 mm long: 252.3 mm wide, so that counts.
    for length_m, longest_m in ((0.3, 0.3), (0.06, 0.25231)):
        car = replace(LOW_SLUNG, pipe_bore_m=None, filter_length_m=length_m)
        channels_ml = 0.25 * 941.4 * (0.02 / longest_m) ** 1.5
        assert held_ml(car) == pytest.approx(channels_ml, rel=1e-4)


def test_a_low_filter_that_somebody_stands_for_counts_in_the_extended_dose_alone() -> None:
    # Pipe 20 mm less 3 across, 2 cm: 4.540 mL; no filter volume, so no channels.
    car = replace(LOW_SLUNG, pipe_bore_m=0.02, filter_volume_m3=None)
    limits = worked(car)
    assert extended_ml(limits) == pytest.approx(limits.dose_strict.value * 1e6 + 4.540, abs=0.001)
    assert limits.dose_extended is not None
    assert "hand-turn check" in limits.dose_extended.validity
    assert limits.dose_extended.source == (
        "strict limit and what is held below the ports, approved by A. Supervisor"
    )
    assert any(HELD.basis in line for line in limits.dose_extended.lines)


def test_of_two_claims_the_larger_counts_and_no_more_than_the_space_of_one_cylinder() -> None:
    # 500 mL / (16.5 - 1) = 32.26 mL, though 40.1 mL are held; 19.9 mL are claimed as retained.
    both = worked(replace(LOW_SLUNG, retained=CLAIM))
    for limits in (worked(LOW_SLUNG), both):
        assert extended_ml(limits) == pytest.approx(strict_ml(USUAL) + 32.26, abs=0.01)
    # What did not come back may be what lies low: 0.8 x 3 mL stays under the held.
    small = replace(LOW_SLUNG, pipe_bore_m=0.02)
    together = worked(replace(small, retained=replace(CLAIM, volume_m3=3e-6)))
    assert extended_ml(together) == pytest.approx(strict_ml(USUAL) + held_ml(small))
    larger = worked(replace(small, retained=replace(CLAIM, volume_m3=20e-6)))
    assert extended_ml(larger) == pytest.approx(strict_ml(USUAL) + 16.0)
    assert together.dose_extended is not None
    assert together.dose_extended.source.count("A. Supervisor") == 2


def test_a_measured_hold_up_counts_only_what_lies_below_the_level_tolerance() -> None:
    # By hand, 50 mm bore: 10 cm of tolerance and 2 cm of reading hold 235.6 mL at least, the 2 cm
    # below them 34.70 mL at 47 mm; four fifths of what was measured count.
    plain = replace(LOW_SLUNG, filter_volume_m3=None)
    assert held_ml(plain) == pytest.approx(34.70, abs=0.01)
    for measured_ml, counted_ml in ((60.0, 0.0), (294.5, 0.0), (319.524, 20.0), (600.0, 34.70)):
        car = replace(plain, pipe_hold_up_m3=measured_ml * ML)
        assert held_ml(car) == pytest.approx(counted_ml, abs=0.01)
    without_bore = replace(plain, pipe_bore_m=None, pipe_hold_up_m3=600 * ML)
    assert held_ml(without_bore) == 0.0


def pipe_m3(level_m: float, heights: list[float], lengths: list[float], bore_m: float) -> float:
    """What a pipe of straight pieces between these heights holds up to a level."""
    wet_m = 0.0
    for (low, high), length in zip(itertools.pairwise(heights), lengths, strict=True):
        if high > low:
            wet_m += length * min(1.0, max(0.0, (level_m - low) / (high - low)))
    return math.pi / 4.0 * bore_m**2 * wet_m


def test_what_counts_stays_in_a_pipe_of_any_shape_and_tilt() -> None:
    """Monte Carlo, 4,000 pipes of 3 to 8 straight pieces from the inlet up to the port (seed 14),
    of even bore; measured full to the port, then tilted so that the port is lower by anything up
    to the tolerance. What stays is integrated along the pipe, and is never less than counted."""
    chance = random.Random(14)
    counted_some = 0
    for _ in range(4000):
        below_m, bore_m = chance.uniform(0.02, 0.8), chance.uniform(0.02, 0.09)
        tolerance_m = chance.uniform(0.02, 0.3)
        heights = sorted(chance.uniform(0.0, below_m) for _ in range(chance.randint(2, 7)))
        heights = [0.0, *heights, below_m]
        lengths = [
            (high - low) * chance.choice((1.0, 1.5, 4.0, 12.0))
            for low, high in itertools.pairwise(heights)
        ]
        full_m3 = pipe_m3(below_m, heights, lengths, bore_m)
        car = replace(
            LOW_SLUNG,
            filter_volume_m3=None,
            inlet_below_port_m=below_m,
            level_tolerance_m=tolerance_m,
            pipe_bore_m=chance.choice((bore_m, None)),
            pipe_hold_up_m3=chance.choice((full_m3, None)),
        )
        level_m = below_m - chance.uniform(0.0, tolerance_m)
        stays_m3 = pipe_m3(level_m, heights, lengths, bore_m)
        counted_m3 = hold_up(car, filter_space(car)).volume_m3
        assert counted_m3 <= stays_m3 + 1e-12
        counted_some += counted_m3 > 0.0
    assert counted_some > 1000


def test_all_of_any_strict_dose_in_one_cylinder_stays_under_the_allowed_pressure() -> None:
    """Monte Carlo, 3,000 vehicles of any height and claim (seed 14): the strict dose in one
    cylinder is compressed by (V - liquid) / (clearance - liquid) to the power 1.32, written here
    anew; 90 times is the design choice (no published figure for liquid exists)."""
    chance = random.Random(14)
    for _ in range(3000):
        cylinders, ratio = chance.choice((3, 4, 5, 6, 8)), chance.uniform(13.0, 24.0)
        swept_ml = chance.uniform(250.0, 700.0)
        car = replace(
            LOW_SLUNG,
            displacement_m3=swept_ml * cylinders * ML,
            cylinders=cylinders,
            compression_ratio=ratio,
            filter_volume_m3=swept_ml * cylinders * ML * chance.uniform(0.6, 3.0),
            height=chance.choice(list(Height)),
            inlet_below_port_m=chance.uniform(0.0, 1.2),
            level_tolerance_m=chance.uniform(0.0, 0.3),
            pipe_bore_m=chance.uniform(0.03, 0.1),
            pipe_hold_up_m3=chance.uniform(0.0, 5.0) * 1e-3,
            retained=chance.choice((None, CLAIM)),
            held_below=chance.choice((None, HELD)),
        )
        liquid_ml, space_ml = strict_ml(car), swept_ml / (ratio - 1.0)
        pressure = ((swept_ml + space_ml - liquid_ml) / (space_ml - liquid_ml)) ** 1.32
        assert pressure <= 90.0 + 1e-6
        limits = worked(car)
        if limits.dose_extended is not None:
            assert limits.dose_extended.value * 1e6 <= liquid_ml + space_ml + 1e-6
            assert any(c is not None for c in (car.retained, car.held_below))


def test_channels_count_no_more_than_their_share_however_deep_the_filter_lies() -> None:
    for depth_m in (0.369, 0.90):
        car = replace(LOW_SLUNG, pipe_bore_m=None, inlet_below_port_m=depth_m)
        assert held_ml(car) == pytest.approx(0.25 * 0.3138 * 3000.0, rel=1e-9)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.005))
def test_what_is_held_grows_with_depth_and_without_a_step(depth: float, more: float) -> None:
    shallow = held_ml(replace(LOW_SLUNG, inlet_below_port_m=depth))
    deeper = held_ml(replace(LOW_SLUNG, inlet_below_port_m=min(1.0, depth + more)))
    assert shallow - 1e-9 <= deeper
    slope_ml_m = 25.0 * 3.1416 / 4.0 * 100.0 + 0.25 * 0.3138 * 3000.0 / 0.1442
    assert deeper - shallow <= slope_ml_m * more + 1e-6


@given(st.floats(0.05, 0.6), st.floats(0.0, 0.3), st.floats(0.001, 0.2))
def test_a_wider_level_tolerance_never_raises_what_is_held(
    depth: float, tolerance: float, more: float
) -> None:
    car = replace(
        LOW_SLUNG,
        inlet_below_port_m=depth,
        level_tolerance_m=tolerance,
        pipe_hold_up_m3=400 * ML,
    )
    assert held_ml(replace(car, level_tolerance_m=tolerance + more)) <= held_ml(car)


def test_no_depth_lifts_the_engine_off_dose_above_the_running_dose() -> None:
    limits = worked(replace(LOW_SLUNG, inlet_below_port_m=1.2), gun=GunInput("small", 20e-6))
    assert limits.dose_extended is not None
    assert limits.dose_extended.value == limits.running_dose.value == 20e-6
    assert limits.dose_extended.source == "running dose (no engine-off dose exceeds it)"
