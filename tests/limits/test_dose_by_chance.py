"""The doses against what is safe, drawn at random from the hazard's side.

Nothing of ``safety.limits`` is used for the truth. Each typed value is off by what its reading
leaves open; pipes, filters and tilt are drawn with it. The limit may not lie above what one in a
thousand of these vehicles bears, nor what is counted as held above what stays there in one in a
thousand. Bounds that no source was found for are from memory: a light
diesel bears 120 times its intake pressure, cranking compresses with an exponent of 1.25 to 1.35.
"""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest
from steplatch.safety.limits import Height, VehicleInput, work_limits

from tests.limits.cars import CLAIM, FLUID, GUN, HELD, USUAL, WORKSHOP

DRAWS = 4000
LOW = replace(USUAL, height=Height.BELOW, pipe_bore_m=0.05, held_below=HELD)
CARS = [
    USUAL,
    replace(USUAL, compression_ratio=None),
    replace(USUAL, compression_ratio=12.5),
    replace(USUAL, compression_ratio=22.0),
    replace(USUAL, displacement_m3=1.4e-3, cylinders=3),
    replace(USUAL, displacement_m3=3.0e-3, cylinders=6, compression_ratio=None),
    replace(USUAL, retained=replace(CLAIM, volume_m3=8e-6)),
    replace(USUAL, retained=CLAIM),
    *(
        replace(LOW, inlet_below_port_m=depth, level_tolerance_m=tolerance, pipe_hold_up_m3=hold_up)
        for depth in (0.03, 0.12, 0.15, 0.35, 0.8)
        for tolerance in (None, 0.0, 0.05)
        for hold_up in (None, 150e-6, 900e-6)
    ),
    *(
        replace(LOW, pipe_bore_m=None, inlet_below_port_m=depth, filter_length_m=length)
        for depth in (0.13, 0.2, 0.3)
        for length in (None, 0.15, 0.3)
    ),
    replace(LOW, inlet_below_port_m=0.2, retained=CLAIM),
]


def allowed_ml(chance: random.Random, car: VehicleInput) -> float:
    """What one true cylinder bears, found by halving on the pressure itself."""
    swept = car.displacement_m3 * 1e6 / car.cylinders * chance.uniform(0.975, 1.025)
    ratio = chance.uniform(12.0, 25.0)
    if car.compression_ratio is not None:
        ratio = car.compression_ratio + chance.uniform(-0.5, 0.5)
    space = swept / (ratio - 1.0)
    exponent = chance.uniform(1.25, 1.35)
    low, high = 0.0, space
    for _ in range(30):
        middle = (low + high) / 2
        pressed = ((swept + space - middle) / (space - middle)) ** exponent
        low, high = (low, middle) if pressed > 120.0 else (middle, high)
    return low


@dataclass(frozen=True)
class Pipe:
    """An upright pipe of one bore with a belly somewhere, lengths in m, volumes in mL."""

    area_cm2: float
    belly_ml: float
    belly_at_m: float

    def below_ml(self, level_m: float) -> float:
        return self.area_cm2 * level_m * 100 + (self.belly_ml if level_m >= self.belly_at_m else 0)


def held_ml(chance: random.Random, car: VehicleInput) -> float:
    """What stays below the port of the tilted car: pipe and filter as they truly are."""
    assert car.inlet_below_port_m is not None
    below = car.inlet_below_port_m + chance.gauss(0.0, 0.006)
    tilt = 0.10 if car.level_tolerance_m is None else car.level_tolerance_m
    level = max(0.0, below - tilt * chance.uniform(-1.0, 1.0))
    held = 0.0
    if car.pipe_bore_m is not None:
        area = math.pi / 4 * (100 * car.pipe_bore_m - chance.uniform(0.0, 0.3)) ** 2
        whole = area * max(below, 0.0) * 100
        if car.pipe_hold_up_m3 is None:
            belly = chance.uniform(0.0, 200.0)
        else:
            measured = car.pipe_hold_up_m3 * 1e6 / (1 + chance.gauss(0.0, 0.05))
            belly = max(0.0, measured - whole)
            area *= min(1.0, measured / whole) if whole else 1.0  # narrower than it is said to be
        held += Pipe(area, belly, max(below, 0.0) * chance.uniform(0.0, 1.0)).below_ml(level)
    return held + channels_ml(chance, car, level)


def channels_ml(chance: random.Random, car: VehicleInput, level_m: float) -> float:
    """Inlet channels of a round filter that stands or lies, its lowest point at the inlet."""
    assert car.filter_volume_m3 is not None
    volume = car.filter_volume_m3
    length = car.filter_length_m
    if length is None:
        slim = chance.uniform(0.5, 2.0)  # length over width
        width = (4 * volume / (math.pi * slim)) ** (1 / 3)
        length = slim * width
    else:
        width = math.sqrt(4 * volume / (math.pi * length))
    if chance.random() < 0.5:
        filled = min(1.0, level_m / length)
    else:
        up = min(1.0, level_m / width)
        angle = 2 * math.acos(1 - 2 * up)
        filled = (angle - math.sin(angle)) / (2 * math.pi)
    return volume * 1e6 * filled * chance.uniform(0.31, 0.36) * chance.uniform(0.25, 0.9)


def retained_ml(chance: random.Random, car: VehicleInput) -> float:
    """What truly stays of a claim: poured in less what came back, each jug off by up to 5 %."""
    assert car.retained is not None
    claimed = car.retained.volume_m3 * 1e6
    poured = 2.0 * claimed
    back = poured - claimed
    return max(
        0.0, poured * (1 + chance.uniform(-0.05, 0.05)) - back * (1 + chance.uniform(-0.05, 0.05))
    )


def stays_ml(chance: random.Random, car: VehicleInput) -> float:
    held = held_ml(chance, car) if car.held_below is not None else 0.0
    kept = retained_ml(chance, car) if car.retained is not None else 0.0
    return max(held, kept)


def one_in_a_thousand(
    draw: Callable[[random.Random, VehicleInput], float], car: VehicleInput
) -> float:
    chance = random.Random(20)
    return sorted(draw(chance, car) for _ in range(DRAWS))[DRAWS // 1000]


def named(car: VehicleInput) -> str:
    return (
        f"{car.displacement_m3 * 1e3:g}L-{car.compression_ratio}-{car.height.value}-"
        f"{car.inlet_below_port_m}-{car.level_tolerance_m}-{car.pipe_hold_up_m3}-"
        f"{car.filter_length_m}-{car.retained is not None}"
    )


@pytest.mark.parametrize("car", CARS, ids=named)
def test_no_dose_lies_above_what_one_in_a_thousand_vehicles_bears(car: VehicleInput) -> None:
    limits = work_limits(car, FLUID, WORKSHOP, GUN)
    strict_ml = limits.dose_strict.value * 1e6
    assert strict_ml <= one_in_a_thousand(allowed_ml, car)
    if limits.dose_extended is not None:
        lifted_ml = limits.dose_extended.value * 1e6 - strict_ml
        assert 0.0 < lifted_ml <= one_in_a_thousand(stays_ml, car)


def test_the_draw_would_see_a_dose_that_is_too_large() -> None:
    """22 taken for an unknown ratio, as it was, is above what one in a thousand bears."""
    one = one_in_a_thousand(allowed_ml, replace(USUAL, compression_ratio=None))
    was = work_limits(replace(USUAL, compression_ratio=22.0), FLUID, WORKSHOP, GUN)
    assert was.dose_strict.value * 1e6 > one


def test_from_above_the_ports_to_far_below_no_dose_takes_a_step() -> None:
    """Level is 0 mm below: a millimetre more never lifts a dose by more than pipe and channels
    of a millimetre hold."""
    least = work_limits(replace(USUAL, held_below=HELD), FLUID, WORKSHOP, GUN).dose_strict.value
    last = least
    for mm in range(0, 600):
        car = replace(LOW, inlet_below_port_m=mm / 1000)
        limits = work_limits(car, FLUID, WORKSHOP, GUN)
        dose = (limits.dose_extended or limits.dose_strict).value
        assert limits.dose_strict.value == least
        assert -1e-12 <= dose - last <= 8e-6
        last = dose
    assert last > least
