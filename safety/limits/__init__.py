"""Worked limits: each a value, every line of its working, and where it comes from."""

from safety.limits.burst import Burst, burst, rate_spread_m3_s
from safety.limits.inputs import Fluid, Gun, Height, HeldClaim, RetainedClaim, Vehicle, Workshop
from safety.limits.plausible import ImplausibleInputs
from safety.limits.room import Illustration, room_air_illustration
from safety.limits.waits import CoolingWait, cooling_wait, drying
from safety.limits.worked import (
    KernelDoses,
    WorkedLimits,
    limit_to_json,
    to_json,
    work_limits,
)
from safety.limits.working import (
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
    "CoolingWait",
    "Figure",
    "Fluid",
    "Gun",
    "Height",
    "HeldClaim",
    "Illustration",
    "ImplausibleInputs",
    "KernelDoses",
    "Limit",
    "LooserThanWorked",
    "RetainedClaim",
    "Unit",
    "Vehicle",
    "WorkedLimits",
    "Working",
    "Workshop",
    "burst",
    "cooling_wait",
    "dml_down",
    "dml_up",
    "drying",
    "limit_to_json",
    "rate_spread_m3_s",
    "room_air_illustration",
    "to_json",
    "work_limits",
]
