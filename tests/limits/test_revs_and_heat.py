"""Ceiling, raised band, temperatures and soak."""

from dataclasses import replace

import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.limits import (
    Fluid,
    ImplausibleInputs,
    LooserThanWorked,
    VehicleInput,
    WorkedLimits,
    Workshop,
    work_limits,
)

from tests.limits.cars import FLUID, GUN, USUAL, WORKSHOP
from tests.physics.reference import props


def worked(
    vehicle: VehicleInput = USUAL, fluid: Fluid = FLUID, workshop: Workshop = WORKSHOP
) -> WorkedLimits:
    return work_limits(vehicle, fluid, workshop, GUN)


def test_the_ceiling_is_2500_and_the_band_lies_wholly_below() -> None:
    # Common practice, no source: 2500 1/min at the most.
    limits = worked()
    assert limits.rev_ceiling.whole() == 2500
    assert (limits.raised_lower.whole(), limits.raised_upper.whole()) == (2300, 2450)


@given(st.floats(1000.0, 5000.0), st.floats(1000.0, 2500.0), st.floats(600.0, 1000.0))
def test_the_band_always_lies_between_idle_and_the_tightest_ceiling(
    maker: float, own: float, idle: float
) -> None:
    vehicle = replace(USUAL, maker_rev_ceiling_rpm=maker, idle_rpm=idle)
    workshop = Workshop("Test", rev_ceiling_rpm=own)
    if own > min(maker, 2500.0):
        with pytest.raises(LooserThanWorked, match="engine speed in the bay"):
            worked(vehicle, workshop=workshop)
        return
    if min(maker, own) - 200.0 < idle + 400.0:
        with pytest.raises(ImplausibleInputs, match="too near idle"):
            worked(vehicle, workshop=workshop)
        return
    limits = worked(vehicle, workshop=workshop)
    ceiling = limits.rev_ceiling.value
    assert ceiling == min(maker, own, 2500.0)
    assert idle + 400.0 <= limits.raised_lower.value < limits.raised_upper.value < ceiling


def test_a_ceiling_too_near_idle_names_the_least_that_works() -> None:
    with pytest.raises(ImplausibleInputs, match="give a ceiling of 1420 1/min or more"):
        worked(workshop=Workshop("Test", rev_ceiling_rpm=1300.0))
    assert worked(workshop=Workshop("Test", rev_ceiling_rpm=1420.0)).raised_lower.whole() == 1220


def test_engine_off_fluid_waits_for_100_degc_at_sea_level() -> None:
    # Common practice, no source: exhaust under 100 degC.
    limit = worked().exhaust_engine_off
    assert limit.value == 373.15
    assert limit.whole() == 100
    assert limit.source == "common practice, no source"
    assert worked(workshop=Workshop("Test", altitude_m=-300.0)).exhaust_engine_off == limit


@pytest.mark.parametrize("altitude_m", [300.0, 1000.0, 1500.0, 2500.0])
def test_engine_off_limit_falls_with_altitude_as_the_boiling_point_does(
    altitude_m: float,
) -> None:
    # US Standard Atmosphere 1976 by `fluids`; IAPWS-95 (Wagner and Pruss 2002) by CoolProp.
    sea = props("T", "P", 101325.0, "Q", 0, "Water")
    here = props("T", "P", ATMOSPHERE_1976(altitude_m).P, "Q", 0, "Water")
    limit = worked(workshop=Workshop("Test", altitude_m=altitude_m)).exhaust_engine_off
    assert limit.value == pytest.approx(373.15 - (sea - here), abs=0.05)
    assert "lowered for the altitude" in limit.source


def test_the_running_limit_lies_above_a_warm_idle_and_below_burning_soot() -> None:
    # Warm idle 110 to 170 degC: common practice, no source. Soot burns with nitrogen dioxide
    # above 250 degC: Fiebig et al., J. Occup. Med. Toxicol. 9:6 (2014).
    assert 170 < worked().exhaust_running.whole() < 250


def test_bare_hands_stop_at_49_degc() -> None:
    # MIL-HDBK-454, Guideline 1, 4.3: operating controls not over 49 degC, other exposed parts
    # not over 60 degC.
    assert worked().touch.whole() == 49


def test_heat_proof_gloves_stop_at_150_degc_and_never_above_what_is_told_of_their_marking() -> None:
    # EN 407, contact heat, level 2: 250 degC for 15 s at least (from memory, not read).
    assert worked().touch.value < worked().gloved.value < 250 + 273.15
    assert worked().gloved.whole() == 150


def test_the_soak_is_at_least_5_minutes_and_a_longer_makers_time_rules() -> None:
    # Common practice, no source: about 5 min.
    assert worked().soak.whole() == 300
    longer = replace(FLUID, maker_soak_s=600.0)
    assert worked(fluid=longer).soak.value == 600.0
    assert worked(fluid=longer).soak.source == "data for test fluid"
    assert worked(fluid=replace(FLUID, maker_soak_s=120.0)).soak.value == 300.0
    assert worked(workshop=Workshop("Test", soak_s=400.0)).soak.value == 400.0


def test_fluid_data_can_tighten_the_temperatures() -> None:
    cool = replace(FLUID, max_exhaust_k_engine_off=333.15, max_exhaust_k_running=423.15)
    limits = worked(fluid=cool)
    assert limits.exhaust_engine_off.whole() == 60
    assert limits.exhaust_running.whole() == 150
    hot = replace(FLUID, max_exhaust_k_engine_off=400.0, max_exhaust_k_running=600.0)
    assert worked(fluid=hot).exhaust_engine_off.value == 373.15
    assert worked(fluid=hot).exhaust_running.value == 473.15


@pytest.mark.parametrize(
    ("workshop", "message"),
    [
        (Workshop("T", max_exhaust_k_engine_off=383.15), r"to 110 degC, looser .* 100\.0 degC"),
        (Workshop("T", max_exhaust_k_running=523.15), r"to 250 degC, looser .* 200\.0 degC"),
        (Workshop("T", max_touch_k=333.15), r"to 60 degC, looser .* 49\.0 degC"),
        (Workshop("T", max_touch_gloved_k=433.15), r"to 160 degC, looser .* 150\.0 degC"),
        (Workshop("T", soak_s=120.0), r"to 120 s, looser .* 300\.0 s .*300\.0 s or more"),
        (Workshop("T", rev_ceiling_rpm=3000.0), r"to 3000 1/min, looser .* 2500\.0 1/min"),
    ],
)
def test_a_workshop_figure_that_loosens_is_an_error_naming_both_values(
    workshop: Workshop, message: str
) -> None:
    with pytest.raises(LooserThanWorked, match=message):
        worked(workshop=workshop)


def test_a_tighter_workshop_figure_is_the_limit() -> None:
    own = Workshop(
        "T",
        max_exhaust_k_engine_off=353.15,
        max_exhaust_k_running=433.15,
        max_touch_k=318.15,
        max_touch_gloved_k=373.15,
        rev_ceiling_rpm=2300.0,
    )
    limits = worked(workshop=own)
    assert limits.exhaust_engine_off.whole() == 80
    assert limits.exhaust_running.whole() == 160
    assert limits.touch.whole() == 45
    assert limits.gloved.whole() == 100
    assert limits.raised_upper.whole() == 2250
    assert limits.touch.source == "workshop T"
