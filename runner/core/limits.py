"""The worked limits as the command that enters them into the record: every later decision takes
them from there, rounded to the safe side."""

from statistics import fmean

from steplatch.safety.limits.burst import reaction_allowance_s
from steplatch.safety.limits.inputs import Fluid, GunInput, VehicleInput, Workshop
from steplatch.safety.limits.waits import dries_above_k, drying, drying_at_most, taken_exhaust_k
from steplatch.safety.limits.worked import WorkedLimits

from ..input.resolution import at_least, at_most, quantised
from .commands import SetLimits

ZERO_LOW_PA = -1000.0
ZERO_HIGH_PA = 500.0
"""Gross band of the zero, Pa: -10 to +5 mbar (common practice, no source; a maker's narrower
range rules). An offset inside it goes into the fit."""
ZERO_WAIT_S = 120.0
"""Two minutes of standing before a zero counts (common practice, no source): the flow is gone
within seconds, the lag of sensor and hose within some ten, a warm sensor drifts on for
about a minute."""
_SAMPLE_M3 = 100e-6


CLOSES = "gun_closes"
"""The number that says whether the trigger shuts when the hand lets go: 1 for yes, 0 for no."""


def limits_command(
    worked: WorkedLimits,
    vehicle: VehicleInput,
    gun: GunInput,
    fluid: Fluid,
    workshop: Workshop,
    hashes: dict[str, str],
) -> SetLimits:
    """The doses in 0.1 mL, the numbers of ``_numbers``, and ``hashes`` of what they rest on."""
    strict, extended, running = worked.kernel_dml()
    numbers = _numbers(worked, vehicle, gun, fluid, workshop)
    return SetLimits(strict, extended, running, numbers, hashes)


def _numbers(
    worked: WorkedLimits, vehicle: VehicleInput, gun: GunInput, fluid: Fluid, workshop: Workshop
) -> dict[str, str]:
    """The numbers that later decisions read, as decimals rounded to the safe side: what limits
    from above down, what limits from below or counts against a limit up."""
    highest = {
        "port_cool_k": worked.exhaust_engine_off.value,
        "port_warm_k": worked.exhaust_running.value,
        "touch_k": worked.touch.value,
        "gloved_k": worked.gloved.value,
        "zero_high_pa": ZERO_HIGH_PA,
        "revs_high_rpm": worked.raised_upper.value,
        "rev_ceiling_rpm": worked.rev_ceiling.value,
    }
    least = {
        "soak_s": worked.soak.value,
        "zero_wait_s": ZERO_WAIT_S,
        "zero_low_pa": ZERO_LOW_PA,
        "revs_low_rpm": worked.raised_lower.value,
        "reaction_ms": reaction_allowance_s(gun) * 1000.0,
        "bottle_ml": gun.bottle_m3 * 1e6,
        "dries_above_k": dries_above_k(workshop),
    }
    for name, speed_rpm in (
        ("idle", vehicle.idle_rpm),
        ("raised", worked.raised_lower.value),
    ):
        time = drying(_SAMPLE_M3, vehicle, fluid, workshop, speed_rpm)
        least[f"drying_{name}_s_per_ml"] = time.value / (_SAMPLE_M3 * 1e6)
        least[f"drying_{name}_exhaust_k"] = taken_exhaust_k(speed_rpm)
        slow = drying_at_most(_SAMPLE_M3, vehicle, fluid, workshop, speed_rpm)
        least[f"drying_{name}_slow_s_per_ml"] = slow.wet_s / (_SAMPLE_M3 * 1e6)
        least[f"drying_{name}_cold_s"] = slow.cold_s
    usual = {}
    if gun.rates_m3_s:
        usual["gun_rate_ml_s"] = fmean(gun.rates_m3_s) * 1e6
    return {
        **{name: at_most(name, value) for name, value in highest.items()},
        **{name: at_least(name, value) for name, value in least.items()},
        **{name: quantised(name, value) for name, value in usual.items()},
        "cylinders": str(vehicle.cylinders),
        CLOSES: "1" if gun.self_closing else "0",
    }
