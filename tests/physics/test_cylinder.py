"""Cylinder volumes and liquid in them against published engines and worked values."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.physics.cylinder import (
    clearance_volume_m3,
    effective_ratio,
    fill_share_for_pressure_ratio,
    peak_pressure_ratio,
)

RATIOS = st.floats(10.0, 25.0)
SHARES = st.floats(0.0, 0.95)


def test_clearance_volume_matches_a_published_engine_at_its_ratio_of_18() -> None:
    # Bai et al., Appl. Therm. Eng. 100 (2016) 1292, Table 1, and Du et al., Energies 11 (2018)
    # 472, Table 1: bore 108 mm, stroke 130 mm, six cylinders, "7.14 L", ratio 18.
    swept_m3 = math.pi / 4 * 0.108**2 * 0.130
    assert 6 * swept_m3 * 1e3 == pytest.approx(7.14, rel=1e-3)
    assert clearance_volume_m3(swept_m3, 18.0) * 1e6 == pytest.approx(70.05, rel=1e-3)


@pytest.mark.parametrize(
    ("litres", "cylinders", "ratio", "expected_ml"),
    # Swept / (ratio - 1), from the definition of the compression ratio.
    [(2.0, 4, 16.0, 33.33), (2.0, 4, 17.5, 30.30), (1.6, 4, 16.0, 26.67)],
)
def test_clearance_volume_of_usual_light_diesels(
    litres: float, cylinders: int, ratio: float, expected_ml: float
) -> None:
    clearance = clearance_volume_m3(litres * 1e-3 / cylinders, ratio)
    assert clearance * 1e6 == pytest.approx(expected_ml, abs=0.005)


@pytest.mark.parametrize(
    ("share", "ratio", "times_intake"),
    # Ratio 16, exponent 1.32: derived from the definition, worked apart.
    [(0.0, 16.0, 38.9), (0.1, 17.67, 44.3), (0.25, 21.0, 55.6), (0.5, 31.0, 93.0),
     (0.75, 61.0, 227.0)],
)  # fmt: skip
def test_liquid_raises_ratio_and_pressure_as_derived(
    share: float, ratio: float, times_intake: float
) -> None:
    assert effective_ratio(16.0, share) == pytest.approx(ratio, rel=5e-3)
    assert peak_pressure_ratio(16.0, share) == pytest.approx(times_intake, rel=5e-3)


@given(RATIOS, SHARES, st.floats(1.05, 1.4))
def test_fill_share_inverts_the_pressure_ratio(ratio: float, share: float, exp: float) -> None:
    pressure = peak_pressure_ratio(ratio, share, exp) * (1.0 + 1e-12)
    found = fill_share_for_pressure_ratio(ratio, pressure, exp)
    assert found == pytest.approx(share, abs=1e-9)


@given(RATIOS, SHARES, st.floats(0.001, 0.04))
def test_more_liquid_always_means_more_pressure(ratio: float, share: float, more: float) -> None:
    assert peak_pressure_ratio(ratio, share + more) > peak_pressure_ratio(ratio, share)


@given(RATIOS, st.floats(0.01, 3.0))
def test_a_higher_ratio_leaves_a_smaller_space(ratio: float, more: float) -> None:
    assert clearance_volume_m3(5e-4, ratio + more) < clearance_volume_m3(5e-4, ratio)


def test_a_compression_ratio_just_above_one_is_still_a_cylinder() -> None:
    """Swept over clearance plus one: 5 mL swept into 100 mL is a ratio of 1.05."""
    assert clearance_volume_m3(5e-6, 1.05) == pytest.approx(100e-6)


def test_a_cylinder_that_compresses_without_heating_takes_no_liquid_at_its_own_ratio() -> None:
    """Isothermal, exponent 1: the pressure ratio is the compression ratio."""
    assert fill_share_for_pressure_ratio(16.0, 16.0, 1.0) == 0.0
    assert peak_pressure_ratio(16.0, 0.0, 1.0) == 16.0


def test_a_pressure_ratio_below_the_dry_one_is_refused_with_the_dry_value() -> None:
    with pytest.raises(ValueError, match=r"already gives 59\.2 when dry: no liquid is allowed"):
        fill_share_for_pressure_ratio(22.0, 50.0)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: clearance_volume_m3(0.0, 16.0), "swept_m3"),
        (lambda: clearance_volume_m3(5e-4, 1.0), "compression_ratio is 1.0"),
        (lambda: clearance_volume_m3(5e-4, math.nan), "compression_ratio is nan"),
        (lambda: effective_ratio(16.0, 1.0), "locked solid"),
        (lambda: effective_ratio(16.0, -0.1), "fill_share"),
        (lambda: effective_ratio(0.5, 0.1), "compression_ratio"),
        (lambda: peak_pressure_ratio(16.0, 0.1, 1.41), "exponent"),
        (lambda: fill_share_for_pressure_ratio(16.0, 90.0, 0.9), "exponent"),
        (lambda: fill_share_for_pressure_ratio(16.0, 0.0), "pressure_ratio is 0.0: give a finite"),
        (lambda: fill_share_for_pressure_ratio(16.0, math.inf), "pressure_ratio is inf: give a"),
        (lambda: fill_share_for_pressure_ratio(math.nan, 90.0), "compression_ratio is nan"),
        (lambda: fill_share_for_pressure_ratio(0.5, 90.0), "compression_ratio is 0.5"),
    ],
)
def test_values_that_no_cylinder_has_are_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
