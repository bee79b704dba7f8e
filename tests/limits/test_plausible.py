"""Slipped decimal points and mistaken units are refused, all at once."""

import math
from dataclasses import fields, replace

import pytest
from steplatch.safety.limits import (
    Fluid,
    GunInput,
    ImplausibleInputs,
    RetainedClaim,
    VehicleInput,
    Workshop,
    work_limits,
)

from tests.each import each
from tests.limits.cars import FLUID, GUN, USUAL, WORKSHOP

Inputs = VehicleInput | Fluid | Workshop | GunInput


def findings(*changed: Inputs) -> tuple[str, ...]:
    parts: dict[type, Inputs] = {
        VehicleInput: USUAL,
        Fluid: FLUID,
        Workshop: WORKSHOP,
        GunInput: GUN,
    }
    parts |= {type(part): part for part in changed}
    vehicle, fluid, workshop, gun = (
        parts[kind] for kind in (VehicleInput, Fluid, Workshop, GunInput)
    )
    assert isinstance(vehicle, VehicleInput) and isinstance(fluid, Fluid)
    assert isinstance(workshop, Workshop) and isinstance(gun, GunInput)
    with pytest.raises(ImplausibleInputs) as caught:
        work_limits(vehicle, fluid, workshop, gun)
    assert str(caught.value) == "\n".join(caught.value.findings)
    return caught.value.findings


def test_a_slipped_point_in_the_compression_ratio_is_refused_with_a_remedy() -> None:
    # 1.65 for 16.5 would allow hundreds of millilitres.
    assert findings(replace(USUAL, compression_ratio=1.65)) == (
        "vehicle 2 L four-cylinder: compression_ratio is 1.65 (diesel), outside 12 to 25: check "
        "the decimal point and the unit, or leave it out if not known",
    )


def test_litres_given_as_cubic_metres_are_refused() -> None:
    found = findings(replace(USUAL, displacement_m3=2.0))
    assert "displacement_m3 is 500 L a cylinder" in found[0]


def what_changed(changed: Inputs) -> list[str]:
    """The names of the fields that are not as usual: an id of a test, and the name to be found."""
    base = {VehicleInput: USUAL, Fluid: FLUID, Workshop: WORKSHOP, GunInput: GUN}[type(changed)]
    return [f.name for f in fields(changed) if getattr(changed, f.name) != getattr(base, f.name)]


@each(
    "changed",
    [
        replace(USUAL, displacement_m3=0.0),
        replace(USUAL, displacement_m3=-2e-3),
        replace(USUAL, cylinders=0),
        replace(USUAL, filter_volume_m3=0.3e-3),
        replace(USUAL, filter_length_m=15.0),
        replace(USUAL, cell_density_per_m2=300.0),
        replace(USUAL, wall_thickness_m=0.3),
        replace(USUAL, wall_porosity=48.0),
        replace(USUAL, wall_permeability_m2=0.3),
        replace(USUAL, inlet_below_port_m=-0.1),
        replace(USUAL, inlet_below_port_m=20.0),
        replace(USUAL, level_tolerance_m=-0.01),
        replace(USUAL, pipe_bore_m=0.5),
        replace(USUAL, pipe_hold_up_m3=-1e-6),
        replace(USUAL, maker_off_dose_m3=15.0),
        replace(USUAL, maker_running_dose_m3=math.nan),
        replace(USUAL, maker_rev_ceiling_rpm=250.0),
        replace(USUAL, idle_rpm=82.0),
        replace(USUAL, retained=RetainedClaim(0.0, "weighed", "A")),
        replace(USUAL, retained=RetainedClaim(20e-6, " ", "A")),
        replace(USUAL, retained=RetainedClaim(20e-6, "weighed", "")),
        replace(FLUID, density_kg_m3=1.0),
        replace(FLUID, max_exhaust_k_engine_off=100.0),
        replace(FLUID, max_exhaust_k_running=200.0),
        replace(FLUID, maker_soak_s=5.0),
        replace(WORKSHOP, cranking_pressure_ratio=0.5),
        replace(WORKSHOP, off_dose_m3=-1e-6),
        replace(WORKSHOP, running_dose_m3=300.0),
        replace(WORKSHOP, rev_ceiling_rpm=250.0),
        replace(WORKSHOP, max_exhaust_k_engine_off=100.0),
        replace(WORKSHOP, max_exhaust_k_running=200.0),
        replace(WORKSHOP, max_touch_k=49.0),
        replace(WORKSHOP, max_touch_gloved_k=150.0),
        replace(WORKSHOP, soak_s=5.0),
        replace(WORKSHOP, altitude_m=4000.0),
        replace(WORKSHOP, air_k=20.0),
        replace(WORKSHOP, bay_volume_m3=1.0),
        replace(GUN, bottle_m3=1.0),
        replace(GUN, reaction_s=-0.5),
        replace(GUN, rates_m3_s=(4e-6, 4.0)),
    ],
    ids=lambda changed: f"{type(changed).__name__}: {', '.join(what_changed(changed))}",
)
def test_each_value_that_cannot_be_right_is_one_finding_that_names_it(changed: Inputs) -> None:
    named = what_changed(changed)
    found = findings(changed)
    name = {"rates_m3_s": "rate of shot 2", "retained": "retained."}.get(named[-1], named[-1])
    assert any(name in text for text in found)
    assert all("check" in text or "fill in" in text for text in found)


def test_all_findings_come_at_once() -> None:
    found = findings(
        replace(USUAL, compression_ratio=165.0, idle_rpm=8.0),
        replace(FLUID, density_kg_m3=1.0),
        replace(WORKSHOP, altitude_m=9000.0),
        replace(GUN, bottle_m3=1.0),
    )
    assert len(found) == 5


def test_a_full_and_usual_set_of_inputs_passes() -> None:
    full = replace(
        USUAL,
        filter_length_m=0.15,
        cell_density_per_m2=300.0 / 0.0254**2,
        wall_thickness_m=2.54e-4,
        wall_porosity=0.42,
        wall_permeability_m2=5e-13,
        inlet_below_port_m=0.2,
        level_tolerance_m=0.05,
        pipe_bore_m=0.05,
        pipe_hold_up_m3=1e-4,
        maker_off_dose_m3=15e-6,
        maker_running_dose_m3=3e-4,
        maker_rev_ceiling_rpm=2500.0,
    )
    gun = replace(GUN, rates_m3_s=(3.8e-6, 4.0e-6, 4.2e-6))
    assert work_limits(full, FLUID, WORKSHOP, gun).dose_strict.value == 15e-6
