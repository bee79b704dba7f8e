"""Worked limits: each a value, every line of its working, and where it comes from."""

from .burst import Burst, burst, rate_spread_m3_s, reaction_allowance_s
from .inputs import Fluid, GunInput, Height, HeldClaim, RetainedClaim, VehicleInput, Workshop
from .plausible import ImplausibleInputs
from .waits import drying
from .worked import (
    KernelDoses,
    WorkedLimits,
    limit_to_json,
    to_json,
    work_limits,
)
from .working import (
    Bound,
    Figure,
    Limit,
    LooserThanWorked,
    Unit,
    Working,
    dml_down,
    dml_up,
)

__all__ = [
    "Bound",
    "Burst",
    "Figure",
    "Fluid",
    "GunInput",
    "Height",
    "HeldClaim",
    "ImplausibleInputs",
    "KernelDoses",
    "Limit",
    "LooserThanWorked",
    "RetainedClaim",
    "Unit",
    "VehicleInput",
    "WorkedLimits",
    "Working",
    "Workshop",
    "burst",
    "dml_down",
    "dml_up",
    "drying",
    "limit_to_json",
    "rate_spread_m3_s",
    "reaction_allowance_s",
    "to_json",
    "work_limits",
]
