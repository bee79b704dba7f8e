"""A vehicle that differs from the sum that judges it: random cases with a known truth.

Nothing of ``runner.assess`` is used. The true drop has an inertial part, the gas another
viscosity law and the fuel's own mass; the air meter has a scale error, the exhaust probe a bias
and a lag, the sensor a gain, an offset and a step; what a person types is rounded and scattered.
Errors are uniform or triangular, not normal.
"""

import math
import random
from dataclasses import dataclass, field, replace

from steplatch.runner.core.reading_set import Phase, ReadingCondition, ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.safety.limits.inputs import VehicleInput, Workshop


@dataclass(frozen=True)
class Truth:
    """What is so in one case. ``blocked`` before, ``clean`` after: mbar at 40 g/s, 200 degC."""

    litres: float
    blocked: float
    clean: float
    altitude_m: float
    inertial: float
    meter_scale: float
    probe_bias_k: float
    gain: float
    offset_mbar: float
    step_mbar: float
    idle_rpm: float
    raised_rpm: float
    recirculated: float
    seed: int
    faults: tuple[str, ...] = ()
    zero_shift_mbar: float = 0.0
    raised_recirculated: float = 0.0
    valve_wanders: float = 0.0
    """Half-width by which what recirculates differs from one reading to the next."""

    @property
    def ratio(self) -> float:
        """True resistance after over before."""
        return self.clean / self.blocked


def draw(seed: int, faults: tuple[str, ...] = ()) -> Truth:
    """One random vehicle with its condition."""
    rng = random.Random(seed)
    litres = rng.choice((1.3, 1.5, 1.6, 2.0, 2.0, 2.2, 3.0))
    # The trade's levels for a 2.0 L: about 50 normal at raised revs, 80 to 250 blocked.
    blocked = rng.uniform(60, 260) * 2.0 / litres
    clean = blocked * rng.choice((rng.uniform(0.1, 0.6), rng.uniform(0.5, 1.0)))
    return Truth(
        litres=litres,
        blocked=blocked,
        clean=clean,
        altitude_m=rng.uniform(0, 1500),
        inertial=rng.uniform(0, 0.03),
        meter_scale=1 + rng.uniform(-0.07, 0.07),
        probe_bias_k=rng.uniform(-17, 17),
        gain=1 + rng.uniform(-0.05, 0.05),
        offset_mbar=rng.uniform(-1.5, 2.0),
        step_mbar=rng.choice((0.1, 1.0, 1.0)),
        idle_rpm=rng.uniform(780, 850),
        raised_rpm=rng.uniform(2200, 2550),
        recirculated=rng.choice((0.0, rng.uniform(0.2, 0.4))),
        seed=seed,
        faults=faults,
    )


def true_flow(truth: Truth, rpm: float, recirculated: float, rng: random.Random) -> float:
    """Fresh air, kg/s: filling 0.85 at 1.2 kg/m3, thinner with height, and what loads do to it."""
    density = 1.2 * math.exp(-truth.altitude_m / 8300)
    swept_m3_s = truth.litres * 1e-3 * rpm / 120
    return 0.85 * swept_m3_s * density * (1 - recirculated) * rng.uniform(0.97, 1.06)


def true_pressure(truth: Truth, level: float, air: float, exhaust_k: float, fuel: float) -> float:
    """True drop in mbar: laminar part by White's viscosity law, plus the inertial part."""
    ambient = 101325 * math.exp(-truth.altitude_m / 8300)

    def viscous(mass: float, kelvin: float, pascal: float) -> float:
        # F. M. White, Viscous Fluid Flow: mu0 1.716e-5 at 273 K, S 111 K (from memory); lean
        # exhaust is 1 to 4 % less viscous than air.
        mu = 0.98 * 1.716e-5 * (kelvin / 273) ** 1.5 * (273 + 111) / (kelvin + 111)
        return mu * mass * 287.0 * kelvin / pascal

    unit = viscous(0.040, 473.15, 101325)
    mass = air * (1 + fuel)
    drop = level * viscous(mass, exhaust_k, ambient) / unit
    for _ in range(20):
        mean = ambient + 50 * drop
        share = viscous(mass, exhaust_k, mean) / unit
        inertial = truth.inertial * level * share * (mass / 0.040)
        drop = level * share + inertial
    return drop


@dataclass
class Case:
    """The sets of one case, as typed, with the vehicle and the facts."""

    truth: Truth
    vehicle: VehicleInput
    workshop: Workshop
    before: list[ReadingSet]
    after: list[ReadingSet]
    facts: dict[str, object] = field(default_factory=dict)


def take(truth: Truth, warmer_k: float = 0.0) -> Case:
    """Read the vehicle before and after, with its planted faults.

    ``warmer_k`` is how much warmer the exhaust is in all sets after than before.
    """
    vehicle = VehicleInput(
        f"{truth.litres} L",
        truth.litres * 1e-3,
        4,
        idle_rpm=round(truth.idle_rpm),
        sensor_step_pa=truth.step_mbar * 100,
    )
    workshop = Workshop("bay", altitude_m=truth.altitude_m)
    rng = random.Random(truth.seed + 1_000_003)
    ambient_k = rng.uniform(-10, 10)
    before = _phase(truth, "before", truth.blocked, rng, ambient_k)
    after_truth = truth
    if "zero error" in truth.faults:
        after_truth = replace(truth, offset_mbar=truth.offset_mbar + rng.choice((-14, 7, 9)))
    if "liquid in hose" in truth.faults:
        after_truth = replace(truth, zero_shift_mbar=rng.uniform(3.5, 5.0))
    if "recirculation changed" in truth.faults:
        other = 0.0 if truth.recirculated else rng.uniform(0.3, 0.4)
        after_truth = replace(truth, recirculated=other)
    level = truth.clean * (rng.uniform(1.5, 2.2) if "wet filter" in truth.faults else 1.0)
    after = _phase(after_truth, "after", level, rng, ambient_k + warmer_k)
    facts: dict[str, object] = {"loads_off": "yes", "hose_clear": "yes", "filter_dry": "yes"}
    if "wet filter" in truth.faults:
        facts |= {"filter_dry": "unknown", "plateau": "falling"}
    if "wrong unit" in truth.faults:
        after[0] = replace(after[0], pressure_pa=10 * (after[0].pressure_pa or 0))
    if "frozen value" in truth.faults:
        after = [replace(s, pressure_pa=1000.0) for s in after]
    if "swapped before/after" in truth.faults:
        before, after = (
            [replace(s, phase="before") for s in after],
            [replace(s, phase="after") for s in before],
        )
    if "wrong sensor" in truth.faults:
        # The like sensor beside it: pressure of the recirculation path, hardly moved by flow.
        after = [
            replace(s, pressure_pa=100.0 * round(rng.uniform(-4, 4)) + (300 if i else 0))
            for i, s in enumerate(after)
        ]
    return Case(truth, vehicle, workshop, before, after, facts)


def _phase(
    truth: Truth, phase: Phase, level: float, rng: random.Random, ambient_k: float
) -> list[ReadingSet]:
    out = []
    for condition, rpm, base_k, recirculated in (
        ("raised", truth.raised_rpm, 473.0, truth.raised_recirculated),
        ("idle", truth.idle_rpm, 425.0, truth.recirculated),
    ):
        rpm = rpm + rng.uniform(-30, 30)
        kelvin = base_k + ambient_k + rng.uniform(-12, 12)
        if truth.valve_wanders:
            moved = recirculated + truth.valve_wanders * rng.uniform(-1, 1)
            recirculated = min(max(moved, 0.0), 0.5)
        air = true_flow(truth, rpm, recirculated, rng)
        fuel = rng.uniform(0.015, 0.035)
        mbar = true_pressure(truth, level, air, kelvin, fuel)
        shown = (truth.offset_mbar + truth.zero_shift_mbar) + mbar * truth.gain
        # Pulsation, read by eye; the meter and the probe scatter while it is held.
        shown += rng.uniform(-0.7, 0.7) + mbar * rng.triangular(-0.045, 0.045)
        meter = air * truth.meter_scale * (1 + rng.triangular(-0.055, 0.055))
        lag = rng.triangular(-24, 24)
        out.append(
            _typed(
                condition,  # type: ignore[arg-type]
                phase,
                truth.step_mbar,
                shown,
                rpm,
                meter,
                kelvin + truth.probe_bias_k + lag,
                "open" if recirculated else "shut",
                rng,
            )
        )
    zero = truth.offset_mbar + truth.zero_shift_mbar + rng.uniform(-0.5, 0.5)
    shown_zero = truth.step_mbar * round(zero / truth.step_mbar)
    out.append(parse_set(f"{shown_zero:.1f} 0 x 150 86 x", "zero", phase))
    return out


def _typed(
    condition: ReadingCondition,
    phase: Phase,
    step: float,
    mbar: float,
    rpm: float,
    air: float,
    kelvin: float,
    state: str,
    rng: random.Random,
) -> ReadingSet:
    shown = step * round(mbar / step)
    if rng.random() < 0.3:
        state = "x"
    text = (
        f"{shown:.1f} {rpm:.0f} {air * 1e3:.1f} {kelvin - 273.15:.0f} "
        f"{rng.uniform(83, 92):.0f} {state}"
    )
    return parse_set(text, condition, phase)
