"""Two views of the practice vehicle: what its diagnostics show, and how it stands inside."""

from steplatch.safety.physics.exhaust import volume_flow_m3_s

from .engine import AMBIENT_PA, INTAKE_K
from .observation import Instruments, Truth
from .world import KeyPosition, World

_NOTHING = Instruments(None, None, None, None, None, None, None, ())
_DEGC_0_K = 273.15


def instruments(world: World) -> Instruments:
    """What the diagnostics show now. With the ignition off they show nothing at all."""
    if world.key is not KeyPosition.ON:
        return _NOTHING
    shows = world.vehicle.shows - world.setup.hides
    engine, thermal = world.engine, world.thermal
    air = world.flow.air_kg_s * world.flow_meter_scale
    exhaust = thermal.shown_k
    if world.setup.exhaust_floor_k is not None:
        exhaust = max(exhaust, world.setup.exhaust_floor_k)
    speed = float(round(engine.speed_rpm + engine.hunting_rpm))
    return Instruments(
        pressure_pa=world.sensor.shown_pa if "pressure" in shows else None,
        speed_rpm=speed if "speed" in shows else None,
        air_kg_s=round(air, 4) if "air" in shows else None,
        exhaust_k=_whole_degc(exhaust) if "exhaust" in shows else None,
        coolant_k=_whole_degc(thermal.coolant_k) if "coolant" in shows else None,
        recirculation=(
            engine.recirculation(thermal.coolant_k) if "recirculation" in shows else None
        ),
        modelled_soot_kg=round(world.modelled_soot_kg, 4),
        codes=tuple(sorted(world.codes)),
        manifold_pa=round(engine.manifold_pa, -3),
        intake_k=_whole_degc(INTAKE_K),
        burning=world.burning_s > 0.0 and engine.running,
    )


def truth(world: World) -> Truth:
    """How it stands inside."""
    fluid, bed, drop = world.fluid, world.bed, world.flow.drop
    exhaust = world.flow.exhaust_kg_s
    return Truth(
        elapsed_s=world.elapsed_s,
        running=world.engine.running,
        pressure_pa=drop.total_pa,
        volume_flow_m3_s=(
            volume_flow_m3_s(exhaust, world.filter_mean_k, AMBIENT_PA) if exhaust > 0.0 else 0.0
        ),
        gas_k=world.thermal.gas_k,
        body_k=world.thermal.body_k,
        viscous_resistance_per_m3=world.wet_resistance_per_m3(),
        dry_resistance_per_m3=world.dry_resistance_per_m3(),
        soot_kg=bed.soot_kg,
        loosened_kg=bed.loosened_kg,
        soot_gone_kg=bed.gone_kg,
        ash_kg=bed.ash_kg,
        bypass_share=drop.bypass_share,
        cylinder_ml=tuple(fluid.cylinder_ml),
        clearance_ml=world.clearance_ml,
        filter_ml=fluid.filter_ml,
        pipe_ml=fluid.pipe_ml,
        hose_ml=fluid.hose_ml,
        beyond_ml=fluid.beyond_ml,
        gun_ml=world.gun.contents_ml,
        evaporated_ml=fluid.evaporated_ml,
        outside_ml=fluid.outside_ml,
        filled_ml=fluid.filled_ml,
        gun_rate_ml_s=world.gun.rate_now_ml_s,
        peak_ratio=world.peak_ratio,
        damaged=world.damaged,
        mishaps=tuple(world.mishaps),
    )


def _whole_degc(kelvin: float) -> float:
    return round(kelvin - _DEGC_0_K) + _DEGC_0_K
