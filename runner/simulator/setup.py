"""How the practice vehicle stands on arrival, and how it will behave.

One frozen ``Setup`` holds all that a fault may change. The numbers without a source below are
common practice, no source, chosen so that the readings lie where a workshop meets them.
"""

from dataclasses import dataclass
from math import inf
from typing import Final, Literal

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import Height, VehicleInput

from .fluid_paths import FILM_ML

PRACTICE_VEHICLE: Final = VehicleInput(
    label=_("practice vehicle, 2.0 L four-cylinder"),
    displacement_m3=1.998e-3,
    cylinders=4,
    compression_ratio=16.5,
    filter_volume_m3=2.5e-3,
    filter_length_m=0.152,
    cell_density_per_m2=300.0 / 0.0254**2,
    wall_thickness_m=0.305e-3,
    wall_porosity=0.42,
    wall_permeability_m2=1.0e-13,
    height=Height.ABOVE,
    idle_rpm=820.0,
    sensor_step_pa=100.0,
    oil_l_per_1000_km=0.1,
    oil_sulphated_ash=0.008,
)
"""The vehicle of the practice jobs: invented, of the common 2 litre class (common practice,
no source). Cells and wall as the 300/12 silicon carbide row of common catalogues; the wall's
permeability is that of a coated wall, below the bare-wall values in the literature."""

RecirculationWay = Literal["normal", "stuck open", "shut after fluid"]


@dataclass(frozen=True, slots=True)
class Setup:
    """What a fault may change: state on arrival and behaviour. Units last in the names.

    ``soot_kg_m3`` and ``ash_kg_m3`` load for each m3 of filter (the same number as g/L).
    ``crack_m2`` open area beside the filter. ``reach`` share of the soot that fluid can get
    at. ``retained_ml`` what the filter takes up of an engine-off dose while dry, ``run_back``
    the share of each such dose that runs back all the same, ``pipe_s`` time constant with
    which the pipe lets liquid go to the cylinder. ``transport_s`` time constant with which
    the gas carries sprayed fluid from the inlet face into the walls, ``sag_rpm_per_ml`` loss
    of idle speed for each mL standing at the face. ``drying`` factor on the drying rate.
    ``hose_holds_ml`` what stays standing in the line under a shut gun, ``gun_leaks_ml_s`` what a
    shut gun on the line lets through, ``loop_open`` whether gas is led to the intake from behind
    the filter. ``burn_at_idle_s`` after so long at a warm idle a regeneration begins by itself, for
    ``burn_lasts_s``; 0 for never.
    """

    soot_kg_m3: float = 9.5
    ash_kg_m3: float = 6.0
    crack_m2: float = 0.0
    reach: float = 0.985
    retained_ml: float = 45.0
    run_back: float = 0.15
    pipe_s: float = 60.0
    transport_s: float = 6.0
    sag_rpm_per_ml: float = 1.6
    drying: float = 1.0
    zero_pa: float = 0.0
    sensor_step_pa: float | None = None
    sensor_lag_s: float = 1.5
    frozen_pa: float | None = None
    hoses_swapped: bool = False
    reads_recirculation: bool = False
    hose_passes: float = 1.0
    hose_blocked: bool = False
    hose_ml: float = 0.0
    recirculation: RecirculationWay = "normal"
    gun_ml: float = 0.0
    gun_rate_ml_s: float = 4.0
    gun_spread: float = 0.03
    gun_drift_per_ml: float = 0.0
    self_starting: bool = False
    highest_rpm: float = inf
    fires_late: bool = False
    cold: bool = False
    burning_s: float = 0.0
    hides: frozenset[str] = frozenset()
    exhaust_floor_k: float | None = None
    modelled_soot_scale: float = 1.1
    codes: tuple[str, ...] = ("P2463",)
    oil: Literal["ok", "thinned"] = "ok"
    extraction_leaks: bool = False
    hose_holds_ml: float = FILM_ML
    gun_leaks_ml_s: float = 0.0
    loop_open: bool = False
    burn_at_idle_s: float = 0.0
    burn_lasts_s: float = 0.0
