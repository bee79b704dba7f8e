"""Resistance from sets: the trade's own examples, the units it is stated in, what is refused."""

from dataclasses import replace

import pytest
from steplatch.runner.assess.flow import flow_point, reference_flow
from steplatch.runner.assess.resistance import NoResistance, Resistance, resistance
from steplatch.runner.assess.terms import spread
from steplatch.runner.core.reading_set import ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.safety.limits.inputs import Workshop

from tests.assess.sets import BEFORE, VEHICLE, WORKSHOP, three


def fitted(sets: list[ReadingSet], workshop: Workshop = WORKSHOP) -> Resistance:
    got = resistance(sets, VEHICLE, workshop)
    assert isinstance(got, Resistance), got
    return got


def test_the_reference_flow_is_that_of_published_air() -> None:
    # 200 degC, 1 atm: viscosity 25.714 uPa s (US Standard Atmosphere 1976, eq. 51), density
    # 0.74603 kg/m3 (ideal gas); 40 g/s.
    assert reference_flow() == pytest.approx(25.714e-6 * 0.040 / 0.74603, rel=1e-4)


def test_at_the_reference_flow_the_resistance_is_the_pressure_read_there() -> None:
    # 39.02 g/s air + 2.5 % fuel = 40 g/s exhaust, at 200 degC and 1013 mbar.
    sets = three("before", "60 2500 39.02 200 88 shut", None, "0 0 x 150 86 x")
    got = fitted(sets)
    assert got.at_reference_mbar == pytest.approx(60, rel=0.035)


def test_volume_flow_agrees_with_the_worked_example() -> None:
    # Air 10 g/s, air to fuel 40, 150 degC, 101325 Pa: 10.25 g/s and 0.012287 m3/s (worked with
    # the ideal gas law). Viscosity at 150 degC 23.786 uPa s (US Standard Atmosphere 1976).
    one = parse_set("0 800 10 150 86 shut", "idle", "before")
    got = flow_point(one, VEHICLE, WORKSHOP)
    assert got.share * reference_flow() == pytest.approx(23.786e-6 * 0.012287, rel=2e-4)


def test_a_warmer_exhaust_at_the_same_air_is_a_larger_flow() -> None:
    # 100 -> 250 degC raises the drop about 1.8 times at equal mass flow (derived from Sutherland
    # and the ideal gas law: (523/373) x (27.6/21.7)).
    cool = flow_point(parse_set("0 800 10 100 86 x", "idle", "before"), VEHICLE, WORKSHOP)
    warm = flow_point(parse_set("0 800 10 250 86 x", "idle", "before"), VEHICLE, WORKSHOP)
    assert warm.share / cool.share == pytest.approx(1.78, abs=0.02)


def test_altitude_raises_the_flow_at_equal_mass() -> None:
    # 1000 m adds about 13 % at equal mass flow: 101325 / 89876 (US Standard Atmosphere 1976).
    one = parse_set("0 800 10 150 86 x", "idle", "before")
    high = flow_point(one, VEHICLE, Workshop("up", altitude_m=1000.0))
    low = flow_point(one, VEHICLE, WORKSHOP)
    assert high.share / low.share == pytest.approx(101325 / 89876.3, rel=1e-4)


def test_idle_high_and_raised_fine_can_agree() -> None:
    # 16 mbar at 8 g/s and 78 at 40 g/s: one line through about nought, a true resistance;
    # 16 and 60: offset about +5, zero or liquid suspect (worked example of the trade, at equal
    # temperature).
    true = fitted(three("before", "78 2500 40 180 88 shut", "16 820 8 180 86 open"))
    assert true.agreement == "agree"
    assert true.offset_from_flow_mbar == pytest.approx(0.5, abs=0.6)
    bent = fitted(three("before", "60 2500 40 180 88 shut", "16 820 8 180 86 open"))
    assert bent.agreement == "disagree"
    assert bent.offset_from_flow_mbar == pytest.approx(5.0, abs=0.6)


def test_an_offset_goes_into_the_fit_and_not_into_the_resistance() -> None:
    plain = fitted(three("before", zero="0 0 x 150 86 x"))
    raised = [
        replace(s, pressure_pa=(s.pressure_pa or 0) + 400)
        for s in three("before", zero="0 0 x 150 86 x")
    ]
    got = fitted(raised)
    assert got.at_reference_mbar == pytest.approx(plain.at_reference_mbar, rel=0.01)
    assert got.offset_mbar == pytest.approx(plain.offset_mbar + 4, abs=0.1)


def test_a_quantity_not_shown_widens_and_says_so() -> None:
    full = fitted(BEFORE)
    no_zero = fitted(three("before", zero=None))
    no_heat = fitted(three("before", "96 2500 40 x 88 shut", "19 820 9.0 x 86 open"))
    no_air = fitted(three("before", "96 2500 x 215 88 shut", "19 820 x 168 86 open"))
    for less in (no_zero, no_heat, no_air):
        assert less.u_at_reference_mbar / less.at_reference_mbar >= (
            full.u_at_reference_mbar / full.at_reference_mbar
        )
    assert "zero was not read" in " ".join(no_zero.notes)
    assert "exhaust temperature not shown" in " ".join(no_heat.notes)
    assert "air flow not shown" in " ".join(no_air.notes)
    assert no_air.basis == "engine speed only"
    assert no_zero.agreement == "cannot_tell"


def test_manifold_pressure_stands_in_for_air_flow() -> None:
    one = parse_set("96 2500 x 215 88 shut", "raised", "before")
    one = replace(one, manifold_pa=110_000.0, intake_k=318.15)
    got = flow_point(one, VEHICLE, WORKSHOP)
    # 0.90 x 2.0 L x 2500/120 at 1.10 bar, 45 degC: 45.2 g/s (speed-density, algebra).
    assert got.air_kg_s == pytest.approx(0.0452, rel=0.01)
    assert got.basis == "manifold_pressure"


def test_a_spread_from_a_log_counts() -> None:
    typed = parse_set("96 2500 40 215 88 shut", "raised", "before")
    noisy = replace(typed, spread_pa=900.0, averaged_s=10.0)
    wide, narrow = (
        spread(flow_point(one, VEHICLE, WORKSHOP).terms, "pressure") for one in (noisy, typed)
    )
    assert wide > narrow


@pytest.mark.parametrize(
    ("sets", "says"),
    [
        (three("before", "x 2500 40 215 88 x"), "no pressure was read"),
        (three("before", "96 x x 215 88 x"), "neither air flow nor engine speed"),
        (three("before", "96 2500 0 215 88 x"), "no air flow"),
        (three("before")[2:], "engine running"),
        (three("before", "-40 2500 40 215 88 x", None), "does not rise with the flow"),
    ],
)
def test_what_carries_no_resistance_is_refused_in_words(sets: list[ReadingSet], says: str) -> None:
    got = resistance(sets, VEHICLE, WORKSHOP)
    assert isinstance(got, NoResistance)
    assert says in " ".join(got.reasons)
