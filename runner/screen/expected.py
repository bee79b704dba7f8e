"""What is usually read at an instrument, and the unit it was typed in last: beside the prompt.

The ranges only help to see a slip while it is typed; what is odd is asked about afterwards
(``doubts``), and nothing here refuses.
"""

import re
from collections.abc import Callable

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput, Workshop
from steplatch.safety.physics.cooling import Wait, cooling_wait_s
from steplatch.safety.physics.exhaust import speed_density_air_kg_s
from steplatch.safety.physics.gas import standard_atmosphere

from ..assess.inputs import BANDS
from ..core.events import StepKey
from ..core.job import Job
from ..core.steps import ReadStep, TemperatureStep

Ranges = Callable[[Job, ReadStep], str]

_KELVIN = 273.15
_UNIT = re.compile(r"^[+-]?[\d.,]+\s*([A-Za-z][A-Za-z0-9/]*)")
_INTAKE_K = 313.15
_FILLED = 0.9
AIR_SHARE = (0.4, 1.5)
"""Half of the air recirculated, to a little boost: as in the second looks."""
WORKSHOP_K = 293.15
"""The air that the exhaust cools towards, where nobody measured it (workshop default)."""
LEAST_BETWEEN_S = 60.0
_STEP_K = 1.0


def ranges_of(vehicle: VehicleInput, workshop: Workshop) -> Ranges:
    """What this vehicle usually shows in a set: a line for the screen, without any pressure over
    the filter, which is what is to be found out."""

    def ranges(job: Job, step: ReadStep) -> str:
        n = job.log.number
        if step.condition == "zero":
            low, high = n("zero_low_pa") / 100, n("zero_high_pa") / 100
            return _("USUAL  {low:+.0f} to {high:+.0f} mbar, engine stopped", low=low, high=high)
        if step.condition == "raised":
            slow, fast = n("revs_low_rpm"), n("revs_high_rpm")
        else:
            slow, fast = vehicle.idle_rpm, vehicle.idle_rpm + BANDS.fast_idle_rpm
        pressure = standard_atmosphere(workshop.altitude_m).pressure_pa
        least, most = (
            share
            * 1000
            * speed_density_air_kg_s(
                vehicle.displacement_m3, speed, _FILLED, pressure, _INTAKE_K, 0.0
            )
            for share, speed in zip(AIR_SHARE, (slow, fast), strict=True)
        )
        warm = BANDS.coolant_warm_k - _KELVIN
        return _(
            "USUAL  {slow:.0f} to {fast:.0f} 1/min, {least:.0f} to {most:.0f} g/s, exhaust "
            "60 to {part}, coolant {warm:.0f} to 115 degC",
            slow=slow,
            fast=fast,
            least=least,
            most=most,
            part=400 if step.condition == "raised" else 300,
            warm=warm,
        )

    return ranges


def unit_line(job: Job, reads: frozenset[StepKey]) -> str:
    """The unit that the pressure was typed in last, when it was not mbar; else ''. The unit is
    typed each time: it is only recalled here."""
    typed = [mark.answer for mark in job.log.marks if mark.key in reads]
    found = _UNIT.match(typed[-1]) if typed else None
    if found is None or found.group(1) == "mbar":
        return ""
    return _(
        "UNIT   last time the pressure was typed in {group}: write it again", group=found.group(1)
    )


def cooling_line(job: Job, step: TemperatureStep) -> str:
    """How hot it was, how fast it falls and about how long it still takes; '' before two values.

    From the last two values, towards workshop air of 20 degC; a value still has to be
    measured in the end.
    """
    found = cooling(job, step)
    if found is None:
        return ""
    now_k, fall, wait = found
    return _(
        "COOLS  now {now_k:.0f} degC, falling {fall:.0f} a minute: about {fast_s:.0f} to "
        "{part:.0f} min",
        now_k=now_k - _KELVIN,
        fall=fall,
        fast_s=wait.fast_s / 60,
        part=max(1.0, wait.slow_s / 60),
    )


def cooling(job: Job, step: TemperatureStep) -> tuple[float, float, Wait] | None:
    """What it was last (K), how fast it falls (K a minute) and how long it still takes; None
    before two values."""
    values = [(int(v["at_ms"]) / 1000, float(v["k"])) for v in job.log.every("exhaust")]
    if len(values) < 2 or not step.highest():
        return None
    (first_s, first_k), (second_s, second_k) = values[-2:]
    between_s = second_s - first_s
    if between_s < LEAST_BETWEEN_S or second_k >= first_k:
        return None
    target_k = step.highest_k(job.log)
    try:
        wait = cooling_wait_s(first_k, second_k, between_s, WORKSHOP_K, target_k, _STEP_K)
    except ValueError:
        return None
    return second_k, (first_k - second_k) / between_s * 60, wait
