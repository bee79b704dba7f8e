"""Vehicles, fluids, guns and workshops for the tests of the worked limits."""

from steplatch.safety.limits import (
    Fluid,
    GunInput,
    Height,
    HeldClaim,
    RetainedClaim,
    VehicleInput,
    Workshop,
)

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
