"""The validation table: published values beside what this program gives.

``python -m tests.assess.validation_rows`` prints the table that stands in VALIDATION.md.
Every value is retyped from the source named beside it; where a title could not be checked only
author, journal and year are given.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from steplatch.runner.assess.forecast import forecast
from steplatch.runner.assess.line_fit import LinesFit, fit_lines
from steplatch.runner.input.quantities import parse_quantity
from steplatch.safety.physics.ash import (
    TRAPPED_SHARE_HIGH,
    TRAPPED_SHARE_LOW,
    ash_kg,
    oil_burnt_kg,
)
from steplatch.safety.physics.cooling import time_to_reach_s
from steplatch.safety.physics.gas import density_kg_m3, standard_atmosphere, viscosity_pa_s
from steplatch.safety.physics.wall_flow import (
    SQUARE_DUCT_F,
    FilterGeometry,
    opening_from_cell_density,
    pressure_drop_pa,
)

from tests.assess.scatter import scaled_by_scatter
from tests.assess.test_line_fit import NORRIS_X, NORRIS_Y
from tests.assess.validation_judge import judge_rows
from tests.assess.validation_limits import limit_rows


@dataclass(frozen=True)
class Row:
    """One comparison. The difference may be ``tolerance`` in the unit of the value."""

    quantity: str
    unit: str
    published: float
    ours: float
    tolerance: float
    source: str

    @property
    def difference(self) -> float:
        """Ours less the published value."""
        return self.ours - self.published

    @property
    def agrees(self) -> bool:
        """Whether the difference is within the tolerance."""
        return abs(self.difference) <= self.tolerance


ATMOSPHERE = "US Standard Atmosphere, 1976, NOAA-S/T 76-1562, Table I"
VISCOSITY = (
    "E. W. Lemmon, R. T. Jacobsen, Viscosity and Thermal Conductivity Equations for Nitrogen, "
    "Oxygen, Argon, and Air, Int. J. Thermophys. 25 (2004) 21, evaluated"
)
DENSITY = "E. W. Lemmon et al., J. Phys. Chem. Ref. Data 29 (2000) 331, air, evaluated"
KK2000 = "A. G. Konstandopoulos et al., SAE 2000-01-1016 (2000)"
KONA = "A. G. Konstandopoulos, E. Papaioannou, KONA 26 (2008) 36"
SHAH = "R. K. Shah, A. L. London, Laminar Flow Forced Convection in Ducts (1978), polynomial"
GUM = "JCGM 100:2008 (GUM), annex H.3"
KESSEL = (
    "R. Kessel, R. N. Kacker, K.-D. Sommer, Uncertainty budget for range calibration, "
    "Measurement 45 (2012) 1661"
)
ISO = "ISO/TS 28037:2010, Determination and use of straight-line calibration functions"
YORK = (
    "K. Pearson (1901) data, D. York (1966) weights; method of York et al., Am. J. Phys. 72 (2004)"
)
NORRIS = "NIST StRD Norris, J. Norris, Calibration of Ozone Monitors"
WANG = "Wang et al., Energy Sources A 41 (2019) 2184"
BY_HAND = "worked by hand from the definition"
INCROPERA = "Incropera et al., Fundamentals of Heat and Mass Transfer, example 5.1"
CENGEL = "Y. Cengel, Heat and Mass Transfer, example 4-1"
STEEL_BALL = "worked example, steel ball, public teaching page"
SP811 = "A. Thompson, B. N. Taylor, NIST SP 811 (2008), appendix B.8"


def rows() -> list[Row]:
    """All rows, in the order of the table."""
    return [*_gas(), *_filter(), *_lines(), *_trend(), *_ash(), *_others(), *_limits()]


def _gas() -> Iterator[Row]:
    for height, kelvin, pascal in ((0, 288.150, 101325.0), (1000, 281.651, 89876.3)):
        air = standard_atmosphere(float(height))
        yield Row(
            f"air temperature at {height} m", "K", kelvin, air.temperature_k, 1e-3, ATMOSPHERE
        )
        yield Row(f"air pressure at {height} m", "Pa", pascal, air.pressure_pa, 0.1, ATMOSPHERE)
    high = standard_atmosphere(3000.0)
    yield Row("air pressure at 3000 m", "Pa", 70121.2, high.pressure_pa, 0.1, ATMOSPHERE)
    yield Row(
        "air density at 0 m", "kg/m3", 1.2250, density_kg_m3(101325.0, 288.15), 5e-5, ATMOSPHERE
    )
    yield Row(
        "air viscosity at 15 degC", "uPa s", 17.894, 1e6 * viscosity_pa_s(288.15), 1e-3, ATMOSPHERE
    )
    for celsius, micro in ((20, 18.206), (100, 21.896), (200, 26.046), (400, 33.284)):
        ours = 1e6 * viscosity_pa_s(celsius + 273.15)
        # Sutherland's law is known to lie below: 0.4 % at 15 degC growing to 2.5 % at 400.
        yield Row(
            f"air viscosity at {celsius} degC", "uPa s", micro, ours, 0.025 * micro, VISCOSITY
        )
    for celsius, density in ((20, 1.20458), (200, 0.74581), (400, 0.52419)):
        ours = density_kg_m3(101325.0, celsius + 273.15)
        yield Row(f"air density at {celsius} degC", "kg/m3", density, ours, 1e-3 * density, DENSITY)


def _filter() -> Iterator[Row]:
    yield Row("2 c_f Re of a square duct", "1", 28.454, SQUARE_DUCT_F, 5e-4, KONA + ", eq. 5 and 6")
    yield Row("c_f Re of a square duct", "1", 14.2296, SQUARE_DUCT_F / 2, 5e-3, SHAH)
    a = FilterGeometry(
        math.pi / 4 * (5.66 * 0.0254) ** 2 * 0.144, 0.144, 1.44e-3, 0.356e-3, 5.3e-13
    )
    flow, mu = 70 / 3600 / 0.64, 2.87e-5
    area = KK2000 + ", Table A1"
    yield Row(
        "filtration area of filter A",
        "m2",
        2.1,
        a.inlet_channel_count * 4 * a.opening_m * a.length_m,
        0.05,
        area,
    )
    velocity = flow / (a.inlet_channel_count * a.opening_m**2)
    yield Row("inlet velocity of filter A", "m/s", 5.85, velocity, 0.03, area)
    yield Row("gas viscosity at 280 degC", "uPa s", 28.7, 1e6 * viscosity_pa_s(553.15), 0.15, area)
    yield Row("gas density at 280 degC", "kg/m3", 0.64, density_kg_m3(101325, 553.15), 5e-3, area)
    for micron, kpa in ((0, 0.5), (100, 2.0), (200, 3.9), (300, 6.4), (400, 10.9)):
        w = micron * 1e-6
        mass = (
            97.0
            * a.inlet_channel_count
            * a.length_m
            * (a.opening_m**2 - (a.opening_m - 2 * w) ** 2)
        )
        ours = pressure_drop_pa(a, flow, mu, soot_kg=mass).total_pa / 1000
        yield Row(
            f"drop of filter A, {micron} um soot", "kPa", kpa, ours, max(0.1, 0.03 * kpa),
            KK2000 + ", Fig. A4, read off to 0.1 kPa",
        )  # fmt: skip
    length, kelvin = 12 * 0.0254, 533.15
    opening = opening_from_cell_density(100 / 0.0254**2, 17 * 25.4e-6)
    volume = math.pi / 4 * (10.5 * 0.0254) ** 2 * length
    through = 0.236 * kelvin / 273.15
    for name, k, kpa in (("1", 2.4, 2.9), ("2", 3.3, 2.2), ("3", 3.5, 2.2), ("4", 1.8, 3.6)):
        one = FilterGeometry(volume, length, opening, 17 * 25.4e-6, k * 1e-13)
        ours = pressure_drop_pa(one, through, viscosity_pa_s(kelvin)).total_pa / 1000
        yield Row(
            f"drop of clean filter {name} of Table 7", "kPa", kpa, ours, 0.08 * kpa + 0.05,
            KK2000 + ", Table 7, Figs. 10 to 13, read off",
        )  # fmt: skip
    clean = [(112.6, 0.077), (222.3, 0.188), (334.4, 0.254), (454.1, 0.358), (556.1, 0.480)]
    ashed = [(145.1, 0.191), (291.3, 0.393), (442.9, 0.582), (603.9, 0.791)]
    for name, data, off in (("clean", clean, 0.03), ("with 16.7 g ash", ashed, 0.01)):
        x, y = zip(*data, strict=True)
        got = scaled_by_scatter(fit_lines(x, y, [0] * len(x), [1] * len(x)))
        yield Row(
            f"offset of the {name} filter", "kPa", 0.0, got.offsets[0], off,
            KK2000 + ", Fig. 23, read off; laminar drop goes through nought",
        )  # fmt: skip


def _lines() -> Iterator[Row]:
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    gum = scaled_by_scatter(fit_lines([v - 20 for v in t], b, [0] * 11, [1] * 11))
    yield from _line("thermometer", gum, GUM, ("-0.1712", "0.0029", "0.00218", "0.00067"))
    r = gum.cov_offset_slope() / gum.u_offset() / gum.u_slope()
    yield Row("thermometer, correlation", "1", -0.930, r, 5e-4, GUM)
    two = fit_lines([0, 2.041], [0, 20], [5e-5 / 3**0.5] * 2, [0, 20 * 1.15e-4])
    yield Row("pressure sensor, slope", "1", 9.799118079, two.slopes[0], 1e-8, KESSEL)
    yield Row("pressure sensor, u(slope)", "1", 0.00114381755, two.u_slope(), 1e-9, KESSEL)
    yield Row("pressure sensor, u(offset)", "1", 0.000282876173, two.u_offset(), 1e-11, KESSEL)
    six, half = [1, 2, 3, 4, 5, 6], [0.5, 0.5, 0.5]
    one = fit_lines(six, [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0] * 6, half * 2)
    yield from _line(
        "equal weights", one, ISO + ", 6.3, p. 13", ("1.867", "0.465", "1.757", "0.120")
    )
    yield Row("equal weights, chi-square", "1", 1.665, one.chi_square, 5e-4, ISO + ", 6.3, p. 13")
    uneven = fit_lines(six, [3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [0] * 6, [*half, 1.0, 1.0, 1.0])
    page = ISO + ", 6.3, p. 15"
    yield from _line("unequal weights", uneven, page, ("0.885", "0.530", "2.057", "0.178"))
    yield Row("unequal weights, chi-square", "1", 4.131, uneven.chi_square, 5e-4, page)
    both = fit_lines(
        [1.2, 1.9, 2.9, 4.0, 4.7, 5.9], [3.4, 4.4, 7.2, 8.5, 10.8, 13.5],
        [0.2] * 6, [0.2, 0.2, 0.2, 0.4, 0.4, 0.4],
    )  # fmt: skip
    page = ISO + ", 7.4, p. 21 (its iteration stopped earlier)"
    yield Row("uncertain in both, offset", "1", 0.5788, both.offsets[0], 1e-4, page)
    yield Row("uncertain in both, slope", "1", 2.159, both.slopes[0], 1e-3, page)
    yield Row("uncertain in both, u(slope)", "1", 0.1355, both.u_slope(), 3e-4, page)
    yield Row("uncertain in both, chi-square", "1", 2.743, both.chi_square, 5e-4, page)
    w_x = [1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1]
    w_y = [1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500]
    york = fit_lines(
        [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4],
        [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5],
        [w**-0.5 for w in w_x], [w**-0.5 for w in w_y],
    )  # fmt: skip
    yield Row("Pearson's data, offset", "1", 5.47991022, york.offsets[0], 1e-8, YORK)
    yield Row("Pearson's data, slope", "1", -0.480533407, york.slopes[0], 1e-9, YORK)
    yield Row("Pearson's data, u(offset)", "1", 0.294970735, york.u_offset(), 1e-8, YORK)
    yield Row("Pearson's data, u(slope)", "1", 0.057985009, york.u_slope(), 1e-9, YORK)
    ozone = scaled_by_scatter(fit_lines(NORRIS_X, NORRIS_Y, [0] * 36, [1] * 36))
    yield Row("ozone, offset", "1", -0.262323073774029, ozone.offsets[0], 1e-10, NORRIS)
    yield Row("ozone, slope", "1", 1.00211681802045, ozone.slopes[0], 1e-12, NORRIS)
    yield Row("ozone, u(offset)", "1", 0.232818234301152, ozone.u_offset(), 1e-10, NORRIS)
    yield Row("ozone, u(slope)", "1", 0.429796848199937e-3, ozone.u_slope(), 1e-12, NORRIS)


def _line(
    name: str, fit: LinesFit, source: str, published: tuple[str, str, str, str]
) -> Iterator[Row]:
    """The four figures of a line, each to half of the last figure printed."""
    ours = (fit.offsets[0], fit.u_offset(), fit.slopes[0], fit.u_slope())
    for word, was, now in zip(
        ("offset", "u(offset)", "slope", "u(slope)"), published, ours, strict=True
    ):
        tolerance = 0.501 * 10.0 ** -len(was.partition(".")[2])
        yield Row(f"{name}, {word}", "1", float(was), now, tolerance, source)


def _trend() -> Iterator[Row]:
    """A fall of which nothing is hidden: 40 mbar to 30, time constant 4 min, a reading a minute."""
    fall = [(60.0 * m, 3000.0 + 4000.0 * math.exp(-m / 4)) for m in range(16)]
    got = forecast(fall, 0.1)
    yield Row("fall of 4 min watched for 15, level", "mbar", 30.0, got.level_mbar, 0.5, BY_HAND)
    early = forecast(fall[:11], 0.1)
    minutes = early.level_in_s(1.0, 0.5) / 60
    due = 4 * math.log(40.0) - 10  # 40 e^(-t / 4) = 1
    yield Row("the same after 10 min, to go to 1 mbar", "min", due, minutes, 0.9, BY_HAND)


def _ash() -> Iterator[Row]:
    burnt = ash_kg(oil_burnt_kg(0.1, 100_000.0), 0.008, 1.0) * 1000
    yield Row("oil ash burnt in 100 000 km", "g", 68.0, burnt, 1e-6, BY_HAND)
    for share, grams in ((TRAPPED_SHARE_LOW, 13.6), (TRAPPED_SHARE_HIGH, 47.6)):
        trapped = ash_kg(oil_burnt_kg(0.1, 100_000.0), 0.008, share) * 1000
        yield Row(f"of it trapped, {grams:g} g", "g", grams, trapped, 1e-6, WANG)


def _others() -> Iterator[Row]:
    yield Row(
        "thermocouple, time to 199 degC", "s", 5.2, time_to_reach_s(1.0, 298.15, 472.15, 473.15),
        0.05, INCROPERA,
    )  # fmt: skip
    # D 1 mm, rho 8500, cp 320, h 210: tau = rho cp D / (6 h).
    tau = 8500 * 320 * 1e-3 / (6 * 210)
    ninety_nine = time_to_reach_s(tau, 400.0, 300.0 + 1.0, 300.0)
    yield Row("thermocouple, time to 99 %", "s", 10.0, ninety_nine, 0.1, CENGEL)
    ball = time_to_reach_s(16.0, 1000.0, 350.0, 300.0)
    yield Row("steel ball, 1000 to 350 K", "s", 42.23, ball, 0.02, STEEL_BALL)
    for text, pascal in (("1 psi", 6894.757), ("1 mmHg", 133.3224), ("1 inHg", 3386.389)):
        ours = parse_quantity(text, "pressure").si_value
        yield Row(text, "Pa", pascal, ours, 1e-3 if "psi" in text else 0.02, SP811)


def _limits() -> Iterator[Row]:
    for given in (*limit_rows(), *judge_rows()):
        yield Row(*given)


def table() -> str:
    """The table as Markdown."""
    all_rows = rows()
    sources = sorted({r.source for r in all_rows})
    lines = [
        "# Validation table",
        "",
        "Published values beside what this program gives. Generated by",
        "`python -m tests.assess.validation_rows`; a test fails when a row leaves its tolerance or",
        f"when this page is not what the program gives. {len(all_rows)} rows.",
        "",
        "| quantity | unit | published | ours | difference | tolerance | source |",
        "|---|---|---|---|---|---|---|",
    ]
    for row in all_rows:
        at = sources.index(row.source) + 1
        lines.append(
            f"| {row.quantity} | {row.unit} | {row.published:.10g} | {row.ours:.7g} | "
            f"{row.difference:.1e} | {row.tolerance:.1e} | {at} |"
        )
    lines += ["", "Sources", ""]
    lines += [f"{n}. {source}" for n, source in enumerate(sources, start=1)]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(table(), end="")
