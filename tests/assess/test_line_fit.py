"""The straight-line fit agrees with published worked examples."""

import math
import random

import pytest
from steplatch.runner.assess.line_fit import CannotFit, chi_square_tail, fit_lines

from tests.assess.scatter import scaled_by_scatter


def test_gum_h3_thermometer_calibration() -> None:
    # JCGM 100:2008 (GUM), annex H.3, Table H.6: temperatures and corrections, t0 = 20 degC.
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    got = scaled_by_scatter(fit_lines([v - 20 for v in t], b, [0] * 11, [1] * 11))
    assert got.offsets[0] == pytest.approx(-0.1712, abs=5e-5)
    assert got.u_offset() == pytest.approx(0.0029, abs=5e-5)
    assert got.slopes[0] == pytest.approx(0.00218, abs=5e-6)
    assert got.u_slope() == pytest.approx(0.00067, abs=5e-6)
    r = got.cov_offset_slope() / got.u_offset() / got.u_slope()
    assert r == pytest.approx(-0.930, abs=5e-4)
    s = (got.chi_square / got.degrees_of_freedom) ** 0.5
    assert s == pytest.approx(0.0035, abs=5e-5)
    at_30 = got.offsets[0] + 10 * got.slopes[0]
    u_30 = (got.u_offset() ** 2 + 100 * got.u_slope() ** 2 + 20 * got.cov_offset_slope()) ** 0.5
    assert at_30 == pytest.approx(-0.1494, abs=5e-5)
    assert u_30 == pytest.approx(0.0041, abs=5e-5)


def test_two_point_calibration_of_a_pressure_sensor() -> None:
    # R. Kessel, R. Kacker, K.-D. Sommer, "Uncertainty budget for range calibration", Measurement 45
    # (2012) 1661: 0 and 20 with relative uncertainty 1.15e-4, readings 0 and 2.041, resolution
    # +/- 5e-5 (rectangular).
    got = fit_lines([0, 2.041], [0, 20], [5e-5 / 3**0.5] * 2, [0, 20 * 1.15e-4])
    assert got.slopes[0] == pytest.approx(9.799118079, rel=1e-9)
    assert got.u_slope() == pytest.approx(0.00114381755, rel=1e-6)
    assert got.offsets[0] == pytest.approx(0, abs=1e-12)
    assert got.u_offset() == pytest.approx(0.000282876173, rel=1e-8)
    r = got.cov_offset_slope() / got.u_offset() / got.u_slope()
    assert r == pytest.approx(-0.1211704, rel=1e-6)
    assert got.degrees_of_freedom == 0 and got.probability is None


def test_iso_ts_28037_example_1_equal_weights() -> None:
    # ISO/TS 28037:2010, 6.3, p. 13.
    got = fit_lines([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0] * 6, [0.5] * 6)
    assert got.offsets[0] == pytest.approx(1.867, abs=5e-4)
    assert got.u_offset() == pytest.approx(0.465, abs=5e-4)
    assert got.slopes[0] == pytest.approx(1.757, abs=5e-4)
    assert got.u_slope() == pytest.approx(0.120, abs=5e-4)
    assert got.cov_offset_slope() == pytest.approx(-0.050, abs=5e-4)
    assert got.chi_square == pytest.approx(1.665, abs=5e-4)
    assert got.degrees_of_freedom == 4
    # What the line says at y = 10.5 (0.5) and at x = 3.5 (0.2), recomputed by another program.
    a, b = got.offsets[0], got.slopes[0]
    x = (10.5 - a) / b
    u_x = (0.25 + got.u_offset() ** 2 + x**2 * got.u_slope() ** 2 + 2 * x * -0.05) ** 0.5 / b
    assert (x, u_x) == pytest.approx((4.913279, 0.322036), abs=1e-6)


def test_iso_ts_28037_example_2_unequal_weights() -> None:
    # ISO/TS 28037:2010, 6.3, p. 15.
    u_y = [0.5, 0.5, 0.5, 1.0, 1.0, 1.0]
    got = fit_lines([1, 2, 3, 4, 5, 6], [3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [0] * 6, u_y)
    assert got.offsets[0] == pytest.approx(0.885, abs=5e-4)
    assert got.u_offset() == pytest.approx(0.530, abs=5e-4)
    assert got.slopes[0] == pytest.approx(2.057, abs=5e-4)
    assert got.u_slope() == pytest.approx(0.178, abs=5e-4)
    assert got.cov_offset_slope() == pytest.approx(-0.082, abs=5e-4)
    assert got.chi_square == pytest.approx(4.131, abs=5e-4)


def test_iso_ts_28037_example_3_uncertain_in_both() -> None:
    # ISO/TS 28037:2010, 7.4, p. 21.
    x, y = [1.2, 1.9, 2.9, 4.0, 4.7, 5.9], [3.4, 4.4, 7.2, 8.5, 10.8, 13.5]
    got = fit_lines(x, y, [0.2] * 6, [0.2, 0.2, 0.2, 0.4, 0.4, 0.4])
    assert got.offsets[0] == pytest.approx(0.5788, abs=5e-5)
    assert got.slopes[0] == pytest.approx(2.159, abs=1e-3)
    assert got.u_offset() == pytest.approx(0.4764, rel=2e-3)
    assert got.u_slope() == pytest.approx(0.1355, rel=2e-3)
    assert got.cov_offset_slope() == pytest.approx(-0.0577, rel=3e-3)
    assert got.chi_square == pytest.approx(2.743, abs=5e-4)


def test_the_pearson_data_with_york_weights() -> None:
    # Data of K. Pearson (1901) with the weights of D. York (1966); solution and internal
    # standard errors as published for the method of York et al., Am. J. Phys. 72 (2004) 367.
    x = [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
    y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
    w_x = [1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1]
    w_y = [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500]
    got = fit_lines(x, y, [w**-0.5 for w in w_x], [w**-0.5 for w in w_y])
    assert got.offsets[0] == pytest.approx(5.47991022, abs=1e-8)
    assert got.slopes[0] == pytest.approx(-0.480533407, abs=1e-9)
    assert got.u_offset() == pytest.approx(0.294970735, abs=1e-8)
    assert got.u_slope() == pytest.approx(0.0579850090, abs=1e-9)
    assert got.chi_square / 8 == pytest.approx(1.483294149, abs=1e-8)


# NIST StRD Norris: J. Norris, "Calibration of Ozone Monitors", NIST Statistical Reference
# Datasets, linear regression, lower difficulty; y and x retyped.
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0,
    998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
    666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
    999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip


def test_norris_ozone_monitors_as_certified() -> None:
    got = scaled_by_scatter(fit_lines(NORRIS_X, NORRIS_Y, [0] * 36, [1] * 36))
    assert got.offsets[0] == pytest.approx(-0.262323073774029, rel=1e-9)
    assert got.u_offset() == pytest.approx(0.232818234301152, rel=1e-9)
    assert got.slopes[0] == pytest.approx(1.00211681802045, rel=1e-12)
    assert got.u_slope() == pytest.approx(0.429796848199937e-3, rel=1e-9)
    s = (got.chi_square / got.degrees_of_freedom) ** 0.5
    assert s == pytest.approx(0.884796396144373, rel=1e-9)


def test_clean_and_ashed_filter_of_the_literature() -> None:
    # SAE 2000-01-1016 (2000), Fig. 23: pressure drop (kPa) over air flow (L/min) of one filter
    # clean and with 16.7 g of ash, read off the figure to +/- 3 L/min and +/- 0.006 kPa.
    clean = [(112.6, 0.077), (222.3, 0.188), (334.4, 0.254), (454.1, 0.358), (556.1, 0.480)]
    ash = [(145.1, 0.191), (291.3, 0.393), (442.9, 0.582), (603.9, 0.791)]
    for data, offset, slope in ((clean, -0.021, 8.71e-4), (ash, 0.0067, 13.01e-4)):
        x, y = zip(*data, strict=True)
        plain = scaled_by_scatter(fit_lines(x, y, [0] * len(x), [1] * len(x)))
        assert plain.offsets[0] == pytest.approx(offset, abs=6e-4)
        assert plain.slopes[0] == pytest.approx(slope, abs=6e-7)
        assert abs(plain.offsets[0]) < 2 * plain.u_offset()
    both = [*clean, *ash]
    x, y = zip(*both, strict=True)
    got = fit_lines(x, y, [3.0] * 9, [0.006] * 9, [0] * 5 + [1] * 4)
    ratio = got.slopes[1] / got.slopes[0]
    # Slopes through nought: 13.16 over 8.19, ratio 1.61; with free offsets 1.49.
    assert ratio == pytest.approx(1.5, abs=0.15)
    u = ratio * got.u_log_ratio(1, 0)
    assert ratio - 2 * u < 13.16 / 8.19 < ratio + 3 * u


def test_a_shared_scale_error_cancels_in_the_ratio_of_two_lines() -> None:
    x, y = [0.0, 0.2, 1.0] * 2, [0.0, 20.0, 100.0, 0.0, 12.0, 60.0]
    line = [0, 0, 0, 1, 1, 1]
    own, scale = 0.01, 0.10
    shared = [
        [xi * xj * (scale**2 + (own**2 if i == j else 0)) for j, xj in enumerate(x)]
        for i, xi in enumerate(x)
    ]
    alone = [[xi * xj * (own**2 + scale**2) * (i == j) for j, xj in enumerate(x)]
             for i, xi in enumerate(x)]  # fmt: skip
    with_scale = fit_lines(x, y, shared, [0.5] * 6, line)
    without = fit_lines(x, y, [own * v for v in x], [0.5] * 6, line)
    apart = fit_lines(x, y, alone, [0.5] * 6, line)
    assert with_scale.u_log_ratio(1, 0) == pytest.approx(without.u_log_ratio(1, 0), rel=0.02)
    assert apart.u_log_ratio(1, 0) > 4 * with_scale.u_log_ratio(1, 0)
    assert with_scale.u_slope() == pytest.approx(0.1 * with_scale.slopes[0], rel=0.05)


def test_stated_uncertainties_hold_for_simulated_points() -> None:
    rng = random.Random(5)
    inside = 0
    x_true = [0.0, 0.2, 1.0]
    for _ in range(400):
        x = [v * (1 + rng.gauss(0, 0.03)) for v in x_true]
        y = [1.0 + 50 * v + rng.gauss(0, 0.5) for v in x_true]
        got = fit_lines(x, y, [0.03 * v for v in x_true], [0.5] * 3)
        inside += abs(got.slopes[0] - 50) < 1.96 * got.u_slope()
    assert 0.92 < inside / 400 < 0.98


def test_what_does_not_determine_a_line_is_refused() -> None:
    for x, y, u_x, u_y, line in (
        ([], [], [], [], None),
        ([1.0], [1.0], [0.1], [0.1], None),
        ([1.0, 1.0], [1.0, 2.0], [0.1] * 2, [0.1] * 2, None),
        ([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], [0.1] * 3, [0.1] * 3, [0, 0, 1]),
        ([1.0, 2.0, 3.0], [1.0, 2.0, 3.5], [0.0] * 3, [0.0] * 3, None),
    ):
        with pytest.raises(CannotFit):
            fit_lines(x, y, u_x, u_y, line)
    with pytest.raises(CannotFit):
        scaled_by_scatter(fit_lines([1.0, 2.0], [1.0, 2.0], [0.1] * 2, [0.1] * 2))
    with pytest.raises(ValueError, match="do not fit"):
        fit_lines([1.0, 2.0], [1.0, 2.0], [0.1], [0.1] * 2)


# NIST/SEMATECH e-Handbook of Statistical Methods (2012), 1.3.6.7.4, lower-tail critical values:
# the chance that chi-square with so many degrees of freedom is greater, and the value; retyped.
CRITICAL = {
    5: {0.90: 1.610, 0.95: 1.145, 0.975: 0.831, 0.99: 0.554, 0.999: 0.210},
    10: {0.90: 4.865, 0.95: 3.940, 0.975: 3.247, 0.99: 2.558, 0.999: 1.479},
    30: {0.90: 20.599, 0.95: 18.493, 0.975: 16.791, 0.99: 14.953, 0.999: 11.588},
    100: {0.90: 82.358, 0.95: 77.929, 0.975: 74.222, 0.99: 70.065, 0.999: 61.918},
}


@pytest.mark.parametrize("freedom", CRITICAL)
def test_the_tail_of_chi_square_is_that_of_the_tables(freedom: int) -> None:
    for chance, value in CRITICAL[freedom].items():
        above, below = (chi_square_tail(value + d, freedom) for d in (5e-4, -5e-4))
        assert above < chance < below


def test_the_tail_of_chi_square_is_that_of_another_program_far_out_too() -> None:
    # 5 % points of chi-square, 1 and 4 degrees of freedom: 3.841 and 9.488 (from memory).
    assert chi_square_tail(3.841, 1) == pytest.approx(0.05, abs=1e-4)
    assert chi_square_tail(9.488, 4) == pytest.approx(0.05, abs=1e-4)
    from scipy.special import chdtrc

    for freedom in (1, 2, 3, 4, 5, 8, 15, 40, 333, 2000):
        for share in (1e-12, 1e-3, 0.3, 0.9, 1.0, 1.2, 3.0, 9.0, 500.0):
            x = share * freedom
            want = float(chdtrc(freedom, x))
            assert chi_square_tail(x, freedom) == pytest.approx(want, rel=1e-11, abs=1e-300)
    assert chi_square_tail(0.0, 3) == 1.0
    assert chi_square_tail(math.inf, 4) == 0.0
    for bad in ((-1.0, 2), (math.nan, 2), (1.0, 0)):
        with pytest.raises(ValueError, match="no tail"):
            chi_square_tail(*bad)
