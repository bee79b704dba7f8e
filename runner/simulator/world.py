"""The state of the practice vehicle and how it moves on in time: no words, no clock.

``World.advance`` integrates in steps of at most half a second, two seconds while all stands
still. It is deterministic: the same seed, setup and calls give the same state, bit for bit.
"""

import math
from dataclasses import dataclass
from enum import Enum
from random import Random
from typing import Final

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import Fuel, Height, VehicleInput
from steplatch.safety.physics.cylinder import clearance_volume_m3, peak_pressure_ratio

from .engine import AMBIENT_PA, SimulatedEngine
from .filter_bed import BedDrop, FilterBed
from .fluid_paths import FluidPaths
from .gun import PracticeGun
from .observation import Mishap, WhatIf
from .sensor import HoseFitting, PressureSensor
from .setup import Setup
from .thermal import Thermal

STEP_S: Final = 0.5
STILL_STEP_S: Final = 2.0
MAX_ADVANCE_S: Final = 86400.0
BOILING_K: Final = 373.15

_SELF_START_S: Final = 25.0
_SILENCER_PA: Final = 1500.0
_SILENCER_FLOW_KG_S: Final = 0.043
_MODEL_EVERY_S: Final = 5.0
_MODEL_LAG_S: Final = 900.0
_MODEL_LAMP_KG_M3: Final = 9.6
_LOW_PRESSURE_PA: Final = 400.0
_CODE_AFTER_S: Final = 20.0
_ASSUMED_RATIO: Final = 16.5
_TEARS_RPM: Final = 1500.0
"""From about here the gas tears liquid out of a charge cooler (common practice, no source)."""


class KeyPosition(Enum):
    """Where the key is: in the box, in the lock but off, or on."""

    BOXED = "in the box"
    OFF = "off"
    ON = "on"


@dataclass(frozen=True, slots=True)
class Flow:
    """The gas flow of this moment: air and exhaust [kg/s], drop over the filter."""

    air_kg_s: float
    exhaust_kg_s: float
    drop: BedDrop


_STILL: Final = Flow(0.0, 0.0, BedDrop(0.0, 0.0, 0.0))


class World:
    """All parts of the practice vehicle together. ``told`` collects what happened unasked."""

    def __init__(self, seed: int, setup: Setup, vehicle: VehicleInput) -> None:
        self.rng = Random(f"practice vehicle {seed}")
        self.setup = setup
        self.vehicle = vehicle
        rng = self.rng
        self.flow_meter_scale = 1.0 + max(-0.04, min(0.04, rng.gauss(0.0, 0.02)))
        own_zero_pa = max(-120.0, min(120.0, rng.gauss(0.0, 50.0)))
        rate_ml_s = setup.gun_rate_ml_s * rng.uniform(0.92, 1.08)
        load = rng.uniform(0.96, 1.04)

        ratio = vehicle.compression_ratio or _ASSUMED_RATIO
        swept_m3 = vehicle.displacement_m3 / vehicle.cylinders
        self.compression_ratio = ratio
        self.clearance_ml = clearance_volume_m3(swept_m3, ratio) * 1e6
        self.bed = FilterBed.build(
            volume_m3=vehicle.filter_volume_m3 or 1.25 * vehicle.displacement_m3,
            length_m=vehicle.filter_length_m or 0.152,
            cell_density_per_m2=vehicle.cell_density_per_m2 or 300.0 / 0.0254**2,
            wall_m=vehicle.wall_thickness_m or 0.305e-3,
            permeability_m2=vehicle.wall_permeability_m2 or 1.0e-13,
            porosity=vehicle.wall_porosity or 0.42,
            soot_kg_m3=setup.soot_kg_m3 * load,
            ash_kg_m3=setup.ash_kg_m3,
            reach=setup.reach,
            crack_m2=setup.crack_m2,
        )
        self.fluid = FluidPaths(
            retained_ml=setup.retained_ml,
            run_back=setup.run_back,
            pipe_s=setup.pipe_s,
            transport_s=setup.transport_s,
            pore_ml=self.bed.pore_ml,
            above_ports=vehicle.height is not Height.BELOW,
            cylinder_ml=[0.0] * vehicle.cylinders,
            open_cylinder=rng.randrange(vehicle.cylinders),
            hose_ml=setup.hose_ml,
            filled_ml=setup.hose_ml + setup.gun_ml,
            hose_holds_ml=setup.hose_holds_ml,
            loop_open=setup.loop_open,
        )
        self.gun = PracticeGun(
            rate_ml_s, setup.gun_spread, setup.gun_drift_per_ml, contents_ml=setup.gun_ml
        )
        self.sensor = PressureSensor(
            zero_pa=setup.zero_pa + own_zero_pa,
            lag_s=setup.sensor_lag_s,
            step_pa=setup.sensor_step_pa or vehicle.sensor_step_pa,
            frozen_pa=setup.frozen_pa,
            hose=HoseFitting.SWAPPED if setup.hoses_swapped else HoseFitting.ON,
            passes=setup.hose_passes,
            reads_recirculation=setup.reads_recirculation,
        )
        self.sensor.level_pa = (
            self.fluid.hose_head_pa if self.sensor.hose is HoseFitting.ON else 0.0
        )
        self.engine = SimulatedEngine(
            vehicle.displacement_m3,
            vehicle.idle_rpm,
            setup.highest_rpm,
            setup.recirculation,
            throttled=vehicle.fuel is Fuel.PETROL,
        )
        self.thermal = Thermal.cold(288.15) if setup.cold else Thermal()
        self.key = KeyPosition.OFF
        self.start_disabled = False
        self.bar_on = False
        self.burning_s = setup.burning_s
        if setup.burning_s > 0.0:
            self.key = KeyPosition.ON
            self.engine.fire()
            self.thermal = Thermal(metal_k=600.0, gas_k=800.0, body_k=780.0, shown_k=800.0)
        self.codes: set[str] = set(setup.codes)
        self.modelled_soot_kg = self.bed.soot_kg * setup.modelled_soot_scale
        self.elapsed_s = 0.0
        self.gun_open = False
        self.self_start_inhibited = not (setup.self_starting or vehicle.self_starting)
        self.can_self_start = not self.self_start_inhibited
        self.peak_ratio = peak_pressure_ratio(ratio, 0.0)
        self.damaged = False
        self.mishaps: list[Mishap] = []
        self.told: list[str] = []
        self.fired_since_fluid = True
        self.flow = _STILL
        self.oil: str = setup.oil
        self._burn_due_s = setup.burn_at_idle_s
        self._on_s = 0.0
        self._low_s = 0.0
        self._model_due_s = 0.0
        if self.engine.running:
            self.advance(60.0)
            self.elapsed_s = 0.0

    # -- time ---------------------------------------------------------------------------

    def advance(self, seconds: float) -> bool:
        """Let ``seconds`` pass; stops early, and returns True, when the engine stalls.

        Raises ValueError for a time that is not finite, negative, or over a day.
        """
        if not (math.isfinite(seconds) and 0.0 <= seconds <= MAX_ADVANCE_S):
            raise ValueError(
                _(
                    "seconds is {seconds!r}: give a time from 0 to {max_advance_s:g} s",
                    seconds=seconds,
                    max_advance_s=MAX_ADVANCE_S,
                )
            )
        moving = self.engine.running or self.gun_open or self.can_self_start
        steps = math.ceil(seconds / (STEP_S if moving else STILL_STEP_S))
        return any(self.step(seconds / steps) for _ in range(steps))

    def step(self, dt_s: float) -> bool:
        """One step; True when the engine has just stalled."""
        self.elapsed_s += dt_s
        self._spray(dt_s)
        stalled = self._run_engine(dt_s)
        coolant_k = self.thermal.coolant_k
        burn = self.burning_s > 0.0 and self.engine.running
        air = self.engine.air_kg_s(coolant_k)
        exhaust = self.engine.exhaust_kg_s(air, burn)
        dried_ml = self._move_fluid(dt_s, exhaust)
        self.thermal.advance(dt_s, exhaust, self.engine.speed_share, dried_ml / 1000.0 / dt_s, burn)
        if self.engine.running:
            self._burn_by_itself(dt_s)
            self.bed.wash(dt_s, exhaust)
            self.flow = Flow(air, exhaust, self._drop(exhaust))
            if burn:
                self._burn(dt_s)
        else:
            self.flow = _STILL
        self._sense(dt_s, exhaust)
        self._diagnose(dt_s)
        return stalled

    def _spray(self, dt_s: float) -> None:
        if not self.gun_open:
            if self.gun.coupled and self.setup.gun_leaks_ml_s > 0.0:
                self.fluid.leak_in(self.gun.drip(self.setup.gun_leaks_ml_s * dt_s))
            return
        passes = self.sensor.passes if self.gun.coupled else 1.0
        blocked = self.setup.hose_blocked
        out_ml = self.gun.give(dt_s * passes if blocked else dt_s)
        if not self.gun.coupled:
            self.fluid.outside_ml += out_ml
            return
        lost = 0.0 if blocked else out_ml * (1.0 - passes)
        self.fluid.outside_ml += lost
        running = self.engine.running
        hot = self.thermal.gas_k > BOILING_K
        if hot and not running and out_ml > 0.0:
            self.mishap("steam", _("Hot steam and fluid came back out at the hose end."))
        to_wall = self.fluid.spray_in(out_ml - lost, running, self.sensor.reads_recirculation, hot)
        self.bed.wet_with(to_wall)
        if running:
            self.engine.fluid_seen = True

    def _run_engine(self, dt_s: float) -> bool:
        liquid_ml = self.fluid.face_ml + self.fluid.pipe_ml
        stalled = self.engine.advance(dt_s, self.setup.sag_rpm_per_ml * liquid_ml, self.rng)
        if stalled:
            self.burning_s = 0.0
            self.fluid.next_cylinder(self.rng.randrange(1, 4))
            self.mishap("stall", _("The engine stalled with fluid on its way in."))
            self.told.append(_("The engine stalls."))
        self._on_s = (
            self._on_s + dt_s if self.key is KeyPosition.ON and not self.engine.running else 0.0
        )
        if self.can_self_start and not self.self_start_inhibited and self._on_s > _SELF_START_S:
            self._on_s = 0.0
            self.mishap("self-start", _("The engine turned by itself with the ignition on."))
            if self.crank():
                self.told.append(_("The engine starts by itself."))
            else:
                self.key = KeyPosition.OFF
                self.told.append(_("The engine jerks by itself: one thump, and it stops dead."))
        return stalled

    def _move_fluid(self, dt_s: float, exhaust_kg_s: float) -> float:
        """Returns what dried off [mL]."""
        if not self.engine.running:
            self.fluid.run_back_step(dt_s)
            self.bed.soak(dt_s, self.fluid.wall_ml)
            return 0.0
        carried = self.fluid.carry_step(dt_s, exhaust_kg_s / 0.0092)
        if self.engine.speed_rpm > _TEARS_RPM and self.fluid.draw_in() > 0.0:
            self._swallow()
        self.bed.wet_with(carried)
        dried = self.bed.dried_ml(
            dt_s, exhaust_kg_s, self.thermal.gas_k, self.fluid.wall_ml, self.setup.drying
        )
        self.fluid.dry(dried)
        return dried

    def _swallow(self) -> None:
        """The running engine has drawn liquid into a cylinder: it passes, or it locks."""
        self.peak_ratio = max(self.peak_ratio, self.ratio_now())
        if self.fill_share < 1.0:
            self.fluid.expel_cylinders()
            return
        self.damaged = True
        self.mishap("hydraulic lock", self.what_if().words)
        self.stop_engine()
        self.told.append(_("A bang, and the engine stands."))

    @property
    def filter_mean_k(self) -> float:
        """Mean gas temperature in the filter [K]; the sensor before it shows more."""
        return 0.5 * (self.thermal.gas_k + self.thermal.body_k)

    def _drop(self, exhaust_kg_s: float, liquid_ml: float | None = None) -> BedDrop:
        liquid = self.fluid.filter_ml if liquid_ml is None else liquid_ml
        return self.bed.drop(exhaust_kg_s, self.filter_mean_k, AMBIENT_PA, liquid)

    def dry_resistance_per_m3(self) -> float:
        """Pressure drop over viscosity and volume flow without the liquid [1/m3]."""
        return self._drop(self.flow.exhaust_kg_s or 0.0092, 0.0).resistance_per_m3

    def wet_resistance_per_m3(self) -> float:
        """The same with the liquid that is in the filter now [1/m3]."""
        return self._drop(self.flow.exhaust_kg_s or 0.0092).resistance_per_m3

    def _burn_by_itself(self, dt_s: float) -> None:
        if self._burn_due_s <= 0.0:
            return
        self._burn_due_s -= dt_s
        if self._burn_due_s <= 0.0:
            self.burning_s = self.setup.burn_lasts_s

    def _burn(self, dt_s: float) -> None:
        self.burning_s = max(0.0, self.burning_s - dt_s)
        if self.thermal.gas_k > 800.0:
            self.bed.burn(dt_s)
            self.modelled_soot_kg *= math.exp(-dt_s / 900.0)

    def _sense(self, dt_s: float, exhaust_kg_s: float) -> None:
        silencer = _SILENCER_PA * (exhaust_kg_s / _SILENCER_FLOW_KG_S) ** 2
        filter_pa = self.flow.drop.total_pa + (silencer if self.vehicle.one_hose else 0.0)
        recirculated = self.engine.recirculated_share(self.thermal.coolant_k)
        self.sensor.advance(
            dt_s,
            filter_pa,
            4800.0 * recirculated,
            self.fluid.hose_head_pa,
            self.engine.speed_share,
            self.engine.running,
            self.rng,
        )

    def _diagnose(self, dt_s: float) -> None:
        """The vehicle's own soot model and the codes that it sets by itself."""
        raised = self.engine.running and self.engine.speed_rpm > 1500.0
        self._low_s = self._low_s + dt_s if raised else 0.0
        if not raised:
            return
        other = self.sensor.reads_recirculation
        shown = self.flow.drop.total_pa if other else self.sensor.shown_pa
        if self._low_s > _CODE_AFTER_S:
            if self.setup.frozen_pa is not None:
                self.codes.add("P2453")
            elif shown < _LOW_PRESSURE_PA * self.engine.speed_share:
                self.codes.add("P244A")
        self._model_due_s -= dt_s
        if self._model_due_s > 0.0:
            return
        self._model_due_s = _MODEL_EVERY_S
        volume = self.bed.geometry.volume_m3
        exhaust = self.flow.exhaust_kg_s
        mean_k = self.filter_mean_k
        low = self.bed.drop(exhaust, mean_k, AMBIENT_PA, 0.0, soot_kg=2.0 * volume)
        high = self.bed.drop(exhaust, mean_k, AMBIENT_PA, 0.0, soot_kg=10.0 * volume)
        per_pa = 8.0 * volume / max(1.0, high.total_pa - low.total_pa)
        seen_kg = max(0.0, 2.0 * volume + (shown - low.total_pa) * per_pa)
        seen_kg = min(seen_kg, 20.0 * volume)
        self.modelled_soot_kg += (seen_kg - self.modelled_soot_kg) * _MODEL_EVERY_S / _MODEL_LAG_S
        if self.modelled_soot_kg > _MODEL_LAMP_KG_M3 * volume:
            self.codes.add("P2463")

    # -- the engine turned over ---------------------------------------------------------

    @property
    def fill_share(self) -> float:
        """Liquid in the fullest cylinder over its clearance volume (1 and more = full)."""
        return self.fluid.worst_ml / self.clearance_ml

    def ratio_now(self) -> float:
        """Peak compression pressure over intake pressure that a crank would reach now."""
        return self.what_if().peak_ratio

    def what_if(self, all_run_back: bool = False) -> WhatIf:
        """What a crank would meet now, or once all that can run back has run back."""
        cylinders = list(self.fluid.cylinder_ml)
        if all_run_back and not self.engine.running and self.fluid.above_ports:
            cylinders[self.fluid.open_cylinder] += self.fluid.pipe_ml + self.fluid.face_ml
        most_ml = max(cylinders)
        share = most_ml / self.clearance_ml
        ratio = self.compression_ratio
        return WhatIf(
            cylinder=cylinders.index(most_ml) + 1,
            liquid_ml=most_ml,
            clearance_ml=self.clearance_ml,
            peak_ratio=math.inf if share >= 1.0 else peak_pressure_ratio(ratio, share),
            dry_ratio=peak_pressure_ratio(ratio, 0.0),
        )

    def crank(self) -> bool:
        """The starter turns the engine; True when it fires. Records the pressure reached."""
        self.peak_ratio = max(self.peak_ratio, self.ratio_now())
        if self.fill_share >= 1.0:
            self.damaged = True
            self.mishap(
                "hydraulic lock",
                self.what_if().words,
            )
            return False
        if (
            self.sensor.hose is HoseFitting.OFF
            and not self.gun.coupled
            and self.fluid.filter_ml > 5.0
        ):
            self.mishap("foam", _("Hot foam blew out of the open hose."))
        self.engine.fire()
        self.key = KeyPosition.ON
        self.fluid.expel_cylinders()
        return True

    def mishap(self, kind: str, words: str) -> None:
        """Record what went wrong; the same kind again at once is the same mishap."""
        last = self.mishaps[-1] if self.mishaps else None
        if last is not None and last.kind == kind and self.elapsed_s - last.at_s < 30.0:
            return
        self.mishaps.append(Mishap(self.elapsed_s, kind, words))

    def stop_engine(self) -> None:
        """The key turns the engine off: a regeneration ends, a new exhaust valve is open."""
        if self.engine.running:
            self.engine.stop()
            self.burning_s = 0.0
            self.fluid.next_cylinder(self.rng.randrange(1, 4))
