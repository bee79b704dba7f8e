"""Extended and running doses, and the makers' and workshop's figures that may only tighten."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.limits import (
    GunInput,
    Height,
    LooserThanWorked,
    RetainedClaim,
    VehicleInput,
    Workshop,
    burst,
)

from tests.limits.cars import (
    CLAIM,
    CLAIMED,
    GUN,
    LOW_SLUNG,
    ML,
    USUAL,
    WORKSHOP,
    extended_ml,
    held_ml,
    strict_ml,
    worked,
)

# --- extended ---------------------------------------------------------------------------------


def test_a_usual_car_gets_a_burst_of_5_to_10_seconds_extended_and_a_shorter_one_strict() -> None:
    # Common practice, no source: 2 L four-cylinder, 3 L filter above the cylinders, engine-off
    # burst of 5 to 10 s at 3 to 5 mL/s.
    limits = worked(CLAIMED)
    for rate_ml_s in (3.0, 3.5, 4.0, 4.5, 5.0):
        shots = tuple(rate_ml_s * factor * ML for factor in (0.95, 1.0, 1.05))
        assert limits.dose_extended is not None
        extended = burst(limits.dose_extended.value, 0.0, shots, 0.5)
        strict = burst(limits.dose_strict.value, 0.0, shots, 0.5)
        assert 5 <= extended.seconds <= 10
        assert strict.seconds < extended.seconds


def test_without_a_claim_there_is_no_extended_limit() -> None:
    limits = worked(USUAL)
    assert limits.dose_extended is None
    assert limits.no_extended_because == "the vehicle file claims no retained volume"
    kernel = limits.kernel_dml()
    assert kernel.extended_dml == kernel.strict_dml


def test_a_claim_on_a_filter_of_unknown_size_is_not_counted() -> None:
    limits = worked(replace(CLAIMED, filter_volume_m3=None))
    assert limits.dose_extended is None
    assert "filter volume is not known" in limits.no_extended_because


def test_of_a_small_claim_four_fifths_are_counted() -> None:
    small = replace(USUAL, retained=replace(CLAIM, volume_m3=8e-6))
    assert extended_ml(worked(small)) == pytest.approx(strict_ml(USUAL) + 0.8 * 8.0, rel=1e-12)


def test_a_large_claim_is_cut_to_a_small_share_of_the_pores() -> None:
    # 5 % of the pores; 0.1329 L of pores a litre (300 cells per square inch, wall 10 mil,
    # porosity 0.42: Yao et al., Energy Sources A 45 (2023), Tables 2 and 3), 3 L.
    large = replace(USUAL, retained=replace(CLAIM, volume_m3=500e-6))
    assert extended_ml(worked(large)) - strict_ml(USUAL) == pytest.approx(
        0.05 * 0.1329 * 3000.0, rel=1e-9
    )


def test_known_cells_wall_and_porosity_are_used_for_the_ceiling() -> None:
    # 200 cells per square inch, wall 12 mil, porosity 0.50 (SAE 2000-01-1016, Table 7):
    # 0.1553 L of pores a litre.
    known = replace(
        USUAL,
        retained=replace(CLAIM, volume_m3=500e-6),
        cell_density_per_m2=200.0 / 0.0254**2,
        wall_thickness_m=12 * 25.4e-6,
        wall_porosity=0.50,
    )
    limits = worked(known)
    assert extended_ml(limits) - strict_ml(USUAL) == pytest.approx(23.3, abs=0.05)
    assert limits.running_dose.assumptions == ()
    without = worked(replace(known, wall_porosity=None))
    assert any("porosity not known" in text for text in without.running_dose.assumptions)


def test_known_cells_are_used_for_the_channels_that_hold_fluid() -> None:
    known = replace(LOW_SLUNG, cell_density_per_m2=200.0 / 0.0254**2, wall_thickness_m=12 * 25.4e-6)
    assert held_ml(known) - held_ml(LOW_SLUNG) == pytest.approx(
        5.388 * (0.3447 / 0.3138 - 1.0), abs=0.004
    )
    for car, said in ((known, False), (LOW_SLUNG, True)):
        extended = worked(car).dose_extended
        assert extended is not None
        assert any("cells or wall" in text for text in extended.assumptions) is said


def test_no_claim_counts_for_more_than_the_space_of_one_cylinder() -> None:
    lorry_filter = replace(
        USUAL, filter_volume_m3=9.0e-3, retained=replace(CLAIM, volume_m3=500e-6)
    )
    gained = extended_ml(worked(lorry_filter)) - strict_ml(USUAL)
    assert gained == pytest.approx(500.0 / 15.5, rel=1e-9)


@given(
    ratio=st.one_of(st.none(), st.floats(12.0, 25.0)),
    filter_l=st.floats(1.0, 9.0),
    claim_ml=st.floats(0.1, 900.0),
    depth=st.floats(0.0, 1.0),
    height=st.sampled_from(list(Height)),
    maker_ml=st.one_of(st.none(), st.floats(1.0, 300.0)),
    running_ml=st.one_of(st.none(), st.floats(10.0, 900.0)),
    bottle_ml=st.floats(10.0, 2000.0),
)
def test_strict_never_exceeds_extended_nor_either_the_running_dose(
    ratio: float | None,
    filter_l: float,
    claim_ml: float,
    depth: float,
    height: Height,
    maker_ml: float | None,
    running_ml: float | None,
    bottle_ml: float,
) -> None:
    car = replace(
        LOW_SLUNG,
        compression_ratio=ratio,
        filter_volume_m3=filter_l * 1e-3,
        retained=replace(CLAIM, volume_m3=claim_ml * ML),
        height=height,
        inlet_below_port_m=depth,
        maker_off_dose_m3=None if maker_ml is None else maker_ml * ML,
        maker_running_dose_m3=None if running_ml is None else running_ml * ML,
    )
    limits = worked(car, gun=GunInput("gun", bottle_ml * ML))
    kernel = limits.kernel_dml()
    assert 0 <= kernel.strict_dml <= kernel.extended_dml <= kernel.running_dml
    assert kernel.strict_dml <= limits.dose_strict.value * 1e7 + 1e-5
    if maker_ml is not None:
        assert limits.dose_strict.value <= maker_ml * ML
    if limits.dose_extended is not None:
        assert limits.dose_extended.value > limits.dose_strict.value
        assert limits.no_extended_because == ""
    else:
        assert limits.no_extended_because


@given(st.floats(0.1, 60.0), st.floats(0.1, 60.0))
def test_a_larger_claim_never_lowers_the_extended_limit(claim_ml: float, more: float) -> None:
    def extended(ml: float) -> float:
        return extended_ml(worked(replace(USUAL, retained=replace(CLAIM, volume_m3=ml * ML))))

    assert extended(claim_ml + more) >= extended(claim_ml)


# --- makers and workshop ----------------------------------------------------------------------


def test_the_makers_tighter_figure_wins_and_is_named() -> None:
    limits = worked(replace(CLAIMED, maker_off_dose_m3=12e-6))
    assert limits.dose_strict.value == 12e-6
    assert limits.dose_strict.source == "vehicle maker"
    assert limits.dose_extended is None
    assert limits.no_extended_because == (
        "nothing is left above the strict limit: vehicle maker is as tight"
    )


def test_a_maker_who_forbids_an_engine_off_dose_leaves_none() -> None:
    for car in (CLAIMED, USUAL):
        limits = worked(replace(car, maker_off_dose_m3=0.0))
        kernel = limits.kernel_dml()
        assert (kernel.strict_dml, kernel.extended_dml) == (0, 0) and kernel.running_dml > 0
        assert limits.dose_extended is None
        assert limits.no_extended_because == ("no engine-off dose at all: vehicle maker gives 0 mL")


def test_the_makers_looser_figure_changes_nothing() -> None:
    limit = worked(replace(USUAL, maker_off_dose_m3=100e-6)).dose_strict
    assert limit.value == worked(USUAL).dose_strict.value
    assert "vehicle maker gives 100 mL: not tighter, changes nothing" in limit.lines


def test_a_workshop_figure_between_strict_and_extended_narrows_the_extended_only() -> None:
    limits = worked(CLAIMED, Workshop("Test", off_dose_m3=25e-6))
    assert extended_ml(limits) == pytest.approx(25.0)
    assert limits.dose_strict.value == worked(CLAIMED).dose_strict.value


def test_a_workshop_figure_below_strict_narrows_strict_and_leaves_no_extended() -> None:
    for car in (CLAIMED, USUAL):
        limits = worked(car, Workshop("Test", off_dose_m3=10e-6))
        assert limits.dose_strict.value == 10e-6
        assert limits.dose_strict.source == "workshop Test"
        assert limits.dose_extended is None


def test_a_workshop_dose_looser_than_worked_is_an_error_naming_both_values() -> None:
    with pytest.raises(LooserThanWorked) as caught:
        worked(USUAL, Workshop("Test", off_dose_m3=20e-6))
    assert str(caught.value) == (
        "workshop Test sets engine-off dose, strict to 20 mL, looser than the worked 15.1 mL "
        "(worked from the vehicle; design choice): give 15.1 mL or less, or leave it out"
    )
    assert caught.value.asked == 20e-6
    assert caught.value.limit.name == "engine-off dose, strict"
    with pytest.raises(LooserThanWorked, match=r"extended to 40 mL, looser than .* 35\.0 mL"):
        worked(CLAIMED, Workshop("Test", off_dose_m3=40e-6))
    with pytest.raises(LooserThanWorked, match="running dose to 400 mL"):
        worked(USUAL, Workshop("Test", running_dose_m3=400e-6))


# --- running ----------------------------------------------------------------------------------


def test_the_running_dose_of_a_usual_car_is_about_300_ml() -> None:
    # Common practice, no source: "about 130 of 300 mL".
    assert worked(USUAL).running_dose.whole() == 299


def test_an_unknown_filter_is_taken_as_small_and_the_running_dose_says_so() -> None:
    unknown = worked(replace(USUAL, filter_volume_m3=None)).running_dose
    assert unknown.value * 1e6 == pytest.approx(0.75 * 0.1329 * 0.9 * 2000.0, rel=1e-9)
    assert any("0.9 x displacement taken" in text for text in unknown.assumptions)


# Filter volume over displacement of four published pairs: Yao et al. 2023 (3.62 / 3.29 L),
# Du et al. 2018 (11.34 / 7.14), Bai et al. 2016 (17.0 / 7.14), Liu et al. 2021 (4.83 / 5.2).
@pytest.mark.parametrize(
    ("filter_l", "engine_l"), [(3.62, 3.29), (11.34, 7.14), (17.0, 7.14), (4.83, 5.2)]
)
def test_the_filter_taken_when_unknown_is_smaller_than_every_published_one(
    filter_l: float, engine_l: float
) -> None:
    assert filter_l > 0.9 * engine_l


@pytest.mark.parametrize(
    ("vehicle", "gun", "workshop", "expected_ml", "source"),
    [
        (replace(USUAL, maker_running_dose_m3=200e-6), GUN, WORKSHOP, 200.0, "vehicle maker"),
        (USUAL, GunInput("gun 2", 250e-6), WORKSHOP, 250.0, "one bottle of gun 2"),
        (USUAL, GUN, Workshop("Test", running_dose_m3=150e-6), 150.0, "workshop Test"),
    ],
)
def test_the_tightest_running_figure_wins_and_is_named(
    vehicle: VehicleInput, gun: GunInput, workshop: Workshop, expected_ml: float, source: str
) -> None:
    limit = worked(vehicle, workshop, gun).running_dose
    assert limit.value * 1e6 == pytest.approx(expected_ml)
    assert limit.source == source


def test_a_claim_names_basis_and_approver_in_the_working() -> None:
    claim = RetainedClaim(10e-6, "weighed", "B. Approver")
    limit = worked(replace(USUAL, retained=claim)).dose_extended
    assert limit is not None
    assert any("basis: weighed; approved by B. Approver" in line for line in limit.lines)
    assert "hand-turn check" in limit.validity
