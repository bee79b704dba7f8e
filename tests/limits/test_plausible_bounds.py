"""The ends of each range of inputs that is believed: both inside, the next value outside."""

from dataclasses import replace
from typing import Any

import pytest
from steplatch.safety.limits import (
    Fluid,
    GunInput,
    ImplausibleInputs,
    RetainedClaim,
    VehicleInput,
    Workshop,
)
from steplatch.safety.limits.plausible import Range, check_inputs

from tests.each import each
from tests.limits.cars import FLUID, GUN, USUAL, WORKSHOP

CAR = replace(USUAL, filter_volume_m3=None)
ML, MM = 1e6, 1e3
PER_INCH2 = 0.0254**2

# Field, lowest and highest value in the unit shown, that unit, how many of it in one of SI.
CARS = [
    ("displacement_m3", 0.15, 3.0, "L a cylinder", 1e3 / 4),
    ("compression_ratio", 12.0, 25.0, "(diesel)", 1.0),
    ("filter_volume_m3", 0.4, 5.0, "times the displacement", 500.0),
    ("filter_length_m", 40.0, 1000.0, "mm", MM),
    ("cell_density_per_m2", 50.0, 900.0, "per square inch", PER_INCH2),
    ("wall_thickness_m", 0.1, 0.8, "mm", MM),
    ("wall_porosity", 0.3, 0.75, "(share)", 1.0),
    ("wall_permeability_m2", 1e-14, 1e-11, "m2", 1.0),
    ("inlet_below_port_m", 0.0, 1500.0, "mm", MM),
    ("level_tolerance_m", 0.0, 1000.0, "mm", MM),
    ("pipe_bore_m", 20.0, 150.0, "mm", MM),
    ("pipe_hold_up_m3", 0.0, 20.0, "L", 1e3),
    ("maker_off_dose_m3", 0.0, 1000.0, "mL", ML),
    ("maker_running_dose_m3", 0.0, 5000.0, "mL", ML),
    ("maker_rev_ceiling_rpm", 1000.0, 5000.0, "1/min", 1.0),
    ("idle_rpm", 400.0, 1300.0, "1/min", 1.0),
]
FLUIDS = [
    ("density_kg_m3", 600.0, 1800.0, "kg/m3", 1.0),
    ("maker_soak_s", 10.0, 86400.0, "s", 1.0),
]
WORKSHOPS = [
    ("cranking_pressure_ratio", 1.0, 1000.0, "times", 1.0),
    ("off_dose_m3", 0.0, 1000.0, "mL", ML),
    ("running_dose_m3", 0.0, 5000.0, "mL", ML),
    ("rev_ceiling_rpm", 1000.0, 5000.0, "1/min", 1.0),
    ("soak_s", 10.0, 86400.0, "s", 1.0),
    ("altitude_m", -400.0, 3000.0, "m", 1.0),
    ("bay_volume_m3", 10.0, 1e6, "m3", 1.0),
]
GUNS = [
    ("bottle_m3", 10.0, 20000.0, "mL", ML),
    ("reaction_s", 0.0, 5.0, "s", 1.0),
]
CELSIUS = [
    (FLUID, "max_exhaust_k_engine_off", 0.0, 800.0),
    (FLUID, "max_exhaust_k_running", 0.0, 800.0),
    (WORKSHOP, "max_exhaust_k_engine_off", 0.0, 800.0),
    (WORKSHOP, "max_exhaust_k_running", 0.0, 800.0),
    (WORKSHOP, "max_touch_k", 0.0, 800.0),
    (WORKSHOP, "max_touch_gloved_k", 0.0, 800.0),
    (WORKSHOP, "air_k", -30.0, 50.0),
]
Part = VehicleInput | Fluid | Workshop | GunInput


def found(part: Part) -> tuple[str, ...]:
    parts: dict[type, Any] = {VehicleInput: CAR, Fluid: FLUID, Workshop: WORKSHOP, GunInput: GUN}
    parts[type(part)] = part
    try:
        check_inputs(parts[VehicleInput], parts[Fluid], parts[Workshop], parts[GunInput])
    except ImplausibleInputs as refused:
        return refused.findings
    return ()


def believed(part: Part, field: str, value: float) -> str:
    changed: dict[str, Any] = {field: value}
    return "\n".join(found(replace(part, **changed)))


@each(
    ("part", "bounds"),
    [(part, row) for part, rows in ((CAR, CARS), (FLUID, FLUIDS), (WORKSHOP, WORKSHOPS),
                                    (GUN, GUNS)) for row in rows],
    ids=lambda it: it[0] if isinstance(it, tuple) else type(it).__name__,
)  # fmt: skip
def test_both_ends_of_a_range_are_believed_and_the_next_value_is_not(
    part: Part, bounds: tuple[str, float, float, str, float]
) -> None:
    field, low, high, unit, shown_per_si = bounds
    step = 0.02 * min(abs(low) or high, high)
    for shown in (low, high):
        assert believed(part, field, shown / shown_per_si) == ""
    for shown in (low - step, high + step):
        said = believed(part, field, shown / shown_per_si)
        assert f"{field} is {shown:.6g} {unit}, outside {low:g} to {high:g}: check" in said


@pytest.mark.parametrize(("part", "field", "low", "high"), CELSIUS)
def test_a_temperature_is_believed_up_to_both_ends_and_shown_in_celsius(
    part: Part, field: str, low: float, high: float
) -> None:
    for degc in (low, high):
        assert believed(part, field, degc + 273.15) == ""
    for degc in (low - 0.5, high + 0.5):
        said = believed(part, field, degc + 273.15)
        assert f"{field} is {degc:.6g} degC, outside {low:g} to {high:g}" in said


def test_one_to_sixteen_cylinders_are_believed_and_each_has_its_share_of_the_displacement() -> None:
    for cylinders in (1, 16):
        assert found(replace(CAR, cylinders=cylinders, displacement_m3=0.5e-3 * cylinders)) == ()
    assert (
        "cylinders is 17 cylinders, outside 1 to 16"
        in found(replace(CAR, cylinders=17, displacement_m3=17 * 0.5e-3))[0]
    )
    one_big = found(replace(CAR, cylinders=1, displacement_m3=3.5e-3))
    assert "displacement_m3 is 3.5 L a cylinder" in one_big[0]
    assert "cylinders is 0" in found(replace(CAR, cylinders=0))[0]


def test_a_filter_is_measured_against_the_smallest_engine_too() -> None:
    tiny = replace(CAR, displacement_m3=0.6e-3, filter_volume_m3=0.1e-3)
    assert "filter_volume_m3 is 0.166667 times the displacement" in found(tiny)[0]


def test_a_claim_of_held_fluid_is_believed_from_a_tenth_of_a_millilitre_to_a_litre() -> None:
    def claimed(ml: float) -> str:
        return "\n".join(found(replace(CAR, retained=RetainedClaim(ml / ML, "weighed", "A. B."))))

    assert claimed(0.1) == claimed(1000.0) == ""
    for ml in (0.098, 1020.0):
        assert f"retained.volume_m3 is {ml:.6g} mL, outside 0.1 to 1000" in claimed(ml)


def test_each_shot_into_the_jug_is_believed_by_itself_and_named_by_its_number() -> None:
    assert found(replace(GUN, rates_m3_s=(0.2 / ML, 50.0 / ML))) == ()
    said = found(replace(GUN, rates_m3_s=(4.0 / ML, 51.0 / ML, 0.19 / ML)))
    assert [line.split(",")[0] for line in said] == [
        "gun gun 1: rate of shot 2 is 51 mL/s",
        "gun gun 1: rate of shot 3 is 0.19 mL/s",
    ]


def test_a_bound_typed_in_another_unit_stays_inside_by_a_hair_and_no_more() -> None:
    """A hair is a thousand millionth of the larger end: what a change of units may lose."""
    metre = Range(0.0, 1.0, "m")
    assert metre.finding("x", -1e-9) is None
    assert metre.finding("x", 1.0 + 1e-9) is None
    assert metre.finding("x", -1.05e-9) is not None
    assert metre.finding("x", 1.0 + 1.05e-9) is not None
    assert metre.finding("x", None) is None
    below = Range(-2.0, 1.0, "m")
    assert below.finding("x", -2.0 - 1.9e-9) is None
    assert below.finding("x", 1.0 + 1.9e-9) is None
