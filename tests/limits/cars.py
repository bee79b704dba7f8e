"""Vehicles, fluids, guns and workshops for the tests of the worked limits."""

from dataclasses import replace

from steplatch.safety.limits import (
    Fluid,
    GunInput,
    Height,
    HeldClaim,
    RetainedClaim,
    VehicleInput,
    WorkedLimits,
    Workshop,
    work_limits,
)
from steplatch.safety.limits.hold_up import hold_up
from steplatch.safety.limits.structure import filter_space

FLUID = Fluid("test fluid", "SDS 1", "2025-01-01")
WORKSHOP = Workshop("Test")
GUN = GunInput("gun 1", 1.0e-3)
CLAIM = RetainedClaim(25e-6, "weighed before and after on this type", "A. Supervisor")
HELD = HeldClaim("filled with water and tilted on this type", "A. Supervisor")
USUAL = VehicleInput(
    "2 L four-cylinder",
    2.0e-3,
    4,
    compression_ratio=16.5,
    filter_volume_m3=3.0e-3,
    height=Height.ABOVE,
)
CLAIMED = replace(USUAL, retained=CLAIM)
LOW_SLUNG = replace(
    USUAL,
    height=Height.BELOW,
    inlet_below_port_m=0.14,
    level_tolerance_m=0.10,
    pipe_bore_m=0.05,
    held_below=HELD,
)
ML = 1e-6


def worked(
    vehicle: VehicleInput, workshop: Workshop = WORKSHOP, gun: GunInput = GUN
) -> WorkedLimits:
    return work_limits(vehicle, FLUID, workshop, gun)


def strict_ml(vehicle: VehicleInput, workshop: Workshop = WORKSHOP) -> float:
    return worked(vehicle, workshop).dose_strict.value * 1e6


def held_ml(vehicle: VehicleInput) -> float:
    return hold_up(vehicle, filter_space(vehicle)).volume_m3 * 1e6


def extended_ml(limits: WorkedLimits) -> float:
    assert limits.dose_extended is not None, limits.no_extended_because
    return limits.dose_extended.value * 1e6
