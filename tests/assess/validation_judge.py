"""Rows of the validation table for what the judge takes each reading for, for waits, revs and the
band of a gun: each sum redone here with the stated choices as figures, not read from the program.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from steplatch.runner.assess.flow import FlowPoint, flow_point, zero_unread
from steplatch.runner.assess.line_fit import chi_square_tail, fit_lines
from steplatch.runner.assess.terms import Axis, spread
from steplatch.runner.core.typed_set import parse_set
from steplatch.runner.input.quantities import parse_quantity
from steplatch.safety.limits import burst, work_limits
from steplatch.safety.limits import choices as chosen
from steplatch.safety.limits.gun_rate import rate_doubt
from steplatch.safety.limits.plausible import ImplausibleInputs
from steplatch.safety.limits.revs import work_revs
from steplatch.safety.limits.waits import drying_at_most
from steplatch.safety.physics.cooling import cooling_wait_s
from steplatch.safety.physics.cylinder import clearance_volume_m3
from steplatch.safety.physics.drying import boiling_point_k
from steplatch.safety.physics.gas import R_AIR

from tests.assess.scatter import scaled_by_scatter
from tests.assess.sets import VEHICLE, WORKSHOP
from tests.limits.cars import FLUID, GUN, USUAL
from tests.limits.cars import WORKSHOP as BAY

CHOICE = "worked by hand from the stated design choice"
ANSCOMBE = "F. J. Anscombe, Am. Stat. 27 (1973) 17, data set 1 (from memory)"
IF97 = "IAPWS R7-97 (2012), Industrial Formulation 1997, Table 36 (from memory)"
AS64 = "M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions (1964), Table 26.8 (memory)"
CIPM = "A. Picard et al., CIPM-2007, Metrologia 45 (2008) 149: molar mass 28.96546 g/mol (memory)"
BIPM = "BIPM, The International System of Units, 9th ed. (2019) (from memory)"
BAI = "X. Bai et al., Appl. Therm. Eng. 100 (2016) 1292, Tables 1 and 3"
Plain = tuple[str, str, float, float, float, str]


def judge_rows() -> Iterator[Plain]:
    """Quantity, unit, published or by hand, ours, tolerance, source."""
    yield from _published()
    yield from _readings()
    yield from _estimated()
    yield from _waits()
    yield from _gun()


def _published() -> Iterator[Plain]:
    x = (10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0)
    y = (8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68)
    fit = scaled_by_scatter(fit_lines(x, y, [0.0] * 11, [1.0] * 11))
    yield "Anscombe, slope", "1", 0.5, fit.slopes[0], 5e-4, ANSCOMBE
    yield "Anscombe, intercept", "1", 3.0, fit.offsets[0], 5e-3, ANSCOMBE
    yield "Anscombe, standard error of the slope", "1", 0.118, fit.u_slope(), 5e-4, ANSCOMBE
    yield "boiling point at 0.1 MPa", "K", 372.755919, boiling_point_k(1e5), 0.05, IF97
    for chi, freedom, share in ((3.84146, 1, 0.05), (5.99146, 2, 0.05), (16.2662, 3, 0.001)):
        ours = chi_square_tail(chi, freedom)
        yield f"chance of chi-square over {chi}, {freedom} free", "1", share, ours, 1e-6, AS64
    yield "gas constant of dry air", "J/(kg K)", 8.314462618 / 28.96546e-3, R_AIR, 0.02, CIPM
    for text, pascal in (("1 bar", 1e5), ("1 hPa", 100.0), ("1 kPa", 1000.0)):
        yield text, "Pa", pascal, parse_quantity(text, "pressure").si_value, 1e-6, BIPM
    space = 1e6 * clearance_volume_m3(7.14e-3 / 6, 18.0)
    yield "space of one of 6 cylinders of 7.14 L, ratio 18", "mL", 70.0, space, 0.05, BAI
    cells = parse_quantity("200 cpsi", "cell_density").si_value / 1e4
    yield "200 cells to the square inch", "1/cm2", 31.0, cells, 0.05, BAI


# -- what a reading is taken for ----------------------------------------------------------------

_HEAT = 2.5 / 473.15 - 1.0 / (473.15 + 110.4)
"""Viscosity times temperature by one kelvin at 200 degC, as a share (Sutherland's law)."""


def _point(
    line: str, condition: str = "raised", one_hose: bool = False, **more: float
) -> FlowPoint:
    made = parse_set(line, condition, "before")  # type: ignore[arg-type]
    return flow_point(
        replace(made, **more),  # type: ignore[arg-type]
        replace(VEHICLE, one_hose=one_hose, sensor_step_pa=100.0),
        WORKSHOP,
    )


def _root(*parts: float) -> float:
    return math.sqrt(math.fsum(p * p for p in parts))


def _within(point: FlowPoint, axis: Axis) -> float:
    """Standard uncertainty: of the pressure in mbar, of the flow in percent."""
    u = spread(point.terms, axis)
    return u / 100 if axis == "pressure" else 100 * u / point.share


def _readings() -> Iterator[Plain]:
    read = _point("96 2500 40 200 88 shut")
    share = 1.025 * 101325 / (101325 + 4800)
    yield "flow at 40 g/s of air, 200 degC, 96 mbar", "1", share, read.share, 1e-6, CHOICE
    zero = _point("1 0 x x x x", "zero")
    hand = _root(0.4, 1 / math.sqrt(12))
    yield (
        "uncertainty of a zero in whole mbar",
        "mbar",
        hand,
        _within(zero, "pressure"),
        1e-5,
        CHOICE,
    )
    hand = _root(0.4, 1 / math.sqrt(12), 1.44, 0.864, 2.88)
    yield "uncertainty of 96 mbar", "mbar", hand, _within(read, "pressure"), 1e-5, CHOICE
    heat = 100 * _HEAT
    hand = _root(2.5, 0.25, 4.0, 10 * heat, 10 * heat, 1.5, 0.6)
    yield "uncertainty of a flow that is read", "%", hand, _within(read, "flow"), 1e-5, CHOICE
    early = _point("96 2500 40 200 88 shut", held_s=60.0)
    wide = _root(hand, 30 * heat)
    yield "the same, read before it was held", "%", wide, _within(early, "flow"), 1e-5, CHOICE
    unread = spread(zero_unread("before").terms, "pressure") / 100
    yield "uncertainty of a zero that is not read", "mbar", 2.0, unread, 1e-6, CHOICE
    hose = _point("96 2500 40 200 88 shut", one_hose=True)
    yield "behind the filter, one hose", "mbar", 10 * share**2, hose.behind_pa / 100, 1e-5, CHOICE
    hand = _root(_within(read, "pressure"), 6 * share**2)
    yield "uncertainty of 96 mbar, one hose", "mbar", hand, _within(hose, "pressure"), 1e-5, CHOICE


def _estimated() -> Iterator[Plain]:
    for condition, kelvin in (("idle", 423.15), ("raised", 493.15)):
        got = _point("0 2500 40 x 88 shut", condition)
        warm = (kelvin / 473.15) ** 2.5 * (473.15 + 110.4) / (kelvin + 110.4)
        name = f"{condition}, exhaust assumed"
        yield f"flow, {name}", "1", 1.025 * warm, got.share, 1e-6, CHOICE
        heat = 100 * (2.5 / kelvin - 1.0 / (kelvin + 110.4))
        hand = _root(2.5, 0.25, 4.0, 15 * heat, 30 * heat, 35 * heat, 1.5, 0.6)
        yield f"uncertainty, {name}", "%", hand, _within(got, "flow"), 1e-5, CHOICE
    full = 1000 * 0.9 * 2e-3 * 2500 / 120 * 101325 / (287.053 * 313.15)
    for state, part, u in (("shut", 0.0, 2.0), ("part", 0.2, 12.0), ("open", 0.35, 10.0)):
        yield from _without_air(state, state, full, part, u)
    yield from _without_air("not known", "x", full, 0.2, 15.0)


def _without_air(name: str, typed: str, full_g_s: float, part: float, u: float) -> Iterator[Plain]:
    got = _point(f"0 2500 x 200 88 {typed}")
    air = full_g_s * (1 - part)
    yield f"air by speed, recirculation {name}", "g/s", air, 1000 * got.air_kg_s, 2e-3, CHOICE
    valve = u / (1 - part)
    heat = 1000 * _HEAT
    hand = _root(2.0, 6.0, valve, 0.2 * valve, 3.0, heat, heat, 1.5, 0.6)
    yield f"uncertainty, recirculation {name}", "%", hand, _within(got, "flow"), 1e-5, CHOICE


# -- waits, revs, the gun -----------------------------------------------------------------------


def _waits() -> Iterator[Plain]:
    slow = cooling_wait_s(447.15, 441.15, 60.0, 293.15, 373.15).slow_s
    hand = 1.4 * 60 / math.log(154 / 148) * math.log(148 / 80)
    yield "wait from 168 to 100 degC, slow end", "s", hand, slow, 0.5, CHOICE
    late = drying_at_most(250e-6, USUAL, FLUID, BAY, 2400.0, 493.15, 0.033)
    yield "to warm 3 L of filter, 33 g/s of 220 degC", "s", 48.59, late.cold_s, 0.05, CHOICE
    yield "to dry 250 mL, a quarter of it wet", "s", 462.9, late.wet_s, 0.5, CHOICE
    unknown = replace(USUAL, filter_volume_m3=None)
    cold = drying_at_most(250e-6, unknown, FLUID, BAY, 2400.0, 493.15, 0.033).cold_s
    yield "the same of a filter not known, 2.0 L", "s", 77.75, cold, 0.05, CHOICE
    revs = work_revs(USUAL, BAY)
    yield "raised revs, upper end", "1/min", 2450.0, revs.raised_upper.value, 1.0, CHOICE
    yield "raised revs, lower end", "1/min", 2300.0, revs.raised_lower.value, 1.0, CHOICE
    yield "lowest ceiling over an idle of 800", "1/min", 1400.0, _border(_takes_ceiling, 900.0, 2400.0), 1.0, CHOICE  # noqa: E501  # fmt: skip
    limits = work_limits(USUAL, FLUID, BAY, GUN)
    degc = limits.exhaust_running.value - 273.15
    yield "exhaust for a running dose", "degC", 200.0, degc, 0.5, CHOICE
    yield "gloved hands", "degC", 150.0, limits.gloved.value - 273.15, 0.5, CHOICE
    yield "soak", "s", 300.0, limits.soak.value, 1.0, CHOICE
    yield "ceiling of the revs", "1/min", 2500.0, limits.rev_ceiling.value, 1.0, CHOICE
    yield "bare hands", "degC", 49.0, limits.touch.value - 273.15, 0.1, "MIL-HDBK-454, Guideline 1"
    off = limits.exhaust_engine_off.value - 273.15
    yield "exhaust, engine off, at sea level", "degC", 100.0, off, 0.1, CHOICE


def _takes_ceiling(rpm: float) -> bool:
    car = replace(USUAL, idle_rpm=800.0, maker_rev_ceiling_rpm=rpm)
    try:
        work_revs(car, BAY)
    except ImplausibleInputs:
        return False
    return True


def _border(holds: Callable[[float], bool], low: float, high: float) -> float:
    """Where ``holds`` changes between two values."""
    was = holds(low)
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) == was else (low, middle)
    return high


def _gun() -> Iterator[Plain]:
    def alike(ml_s: float, last: float | None = None, other: float | None = None) -> bool:
        before = None if other is None else (other * 1e-6,) * 3
        return rate_doubt((ml_s * 1e-6,) * 3, last and last * 1e-6, before) is None

    for name, hand, ours in (
        ("least usual rate", 2.0, _border(alike, 1.0, 4.0)),
        ("highest usual rate", 5.9, _border(alike, 4.0, 16.0)),
        ("most after 2.5 mL/s", 5.0, _border(lambda v: alike(v, 2.5), 3.0, 5.8)),
        ("most after a doubted set of 4 mL/s", 5.0, _border(lambda v: alike(v, None, 4.0), 4, 8)),
    ):
        yield f"rate of a gun, {name}", "mL/s", hand, ours, 1e-4, CHOICE

    def taken(apart: float) -> bool:
        return rate_doubt(tuple(4e-6 * v for v in (1 - apart, 1.0, 1 + apart))) is None

    yield "scatter of three shots, most", "%", 10.0, 100 * _border(taken, 0.0, 0.5), 1e-4, CHOICE

    def timed(seconds: float) -> bool:
        rates = (4e-6,) * 3
        upper = burst(1.0, 0.0, rates, 0.5).rate_upper_m3_s
        return not burst(upper * (seconds + 0.5), 0.0, rates, 0.5).too_short

    yield "shortest burst that is timed", "s", 3.0, _border(timed, 1.0, 8.0), 0.05, CHOICE
    longest = burst(1e-3, 0.0, (4e-6,) * 3, 0.5, chosen.LONGEST_OFF_BURST.value).seconds
    yield "longest burst, engine off", "s", 15.0, float(longest), 0.5, CHOICE
