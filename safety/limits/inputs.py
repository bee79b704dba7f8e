"""What the worked limits are computed from: vehicle, gun, fluid and workshop, in SI.

Plain frozen dataclasses. ``None`` always means "not known", never "zero"; every limit
states what it assumes where a value is not known, and takes the side that is safe.
"""

from dataclasses import dataclass
from enum import Enum


class Fuel(Enum):
    """What the engine burns."""

    DIESEL = "diesel"
    PETROL = "petrol"


class Height(Enum):
    """Where the filter inlet lies against the lowest exhaust port."""

    ABOVE = "above"
    BELOW = "below"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class RetainedClaim:
    """A claim that the filter holds some fluid back, so that it does not run to a cylinder."""

    volume_m3: float
    basis: str
    approver: str


@dataclass(frozen=True, slots=True)
class HeldClaim:
    """Who vouches that fluid below the exhaust ports stays there, and on what basis.

    How much that is follows from depth, pipe and filter.
    """

    basis: str
    approver: str


@dataclass(frozen=True, slots=True)
class VehicleInput:
    """One vehicle as far as the limits and the judgement need it.

    Volumes m3, lengths m, pressures Pa, speeds 1/min, temperatures K.
    """

    label: str
    displacement_m3: float
    cylinders: int
    fuel: Fuel | None = None
    compression_ratio: float | None = None
    filter_volume_m3: float | None = None
    filter_length_m: float | None = None
    cell_density_per_m2: float | None = None
    wall_thickness_m: float | None = None
    wall_porosity: float | None = None
    wall_permeability_m2: float | None = None
    height: Height = Height.UNKNOWN
    inlet_below_port_m: float | None = None
    level_tolerance_m: float | None = None
    pipe_bore_m: float | None = None
    pipe_hold_up_m3: float | None = None
    held_below: HeldClaim | None = None
    retained: RetainedClaim | None = None
    maker_off_dose_m3: float | None = None
    maker_running_dose_m3: float | None = None
    maker_rev_ceiling_rpm: float | None = None
    idle_rpm: float = 820.0
    self_starting: bool = False
    one_hose: bool = False
    sensor_step_pa: float = 100.0
    shows: frozenset[str] = frozenset(
        {"pressure", "speed", "air", "exhaust", "coolant", "recirculation"}
    )
    urea_after_filter: bool = False
    oil_l_per_1000_km: float | None = None
    oil_sulphated_ash: float | None = None


@dataclass(frozen=True, slots=True)
class GunInput:
    """The fluid gun. ``rates_m3_s`` are the jug shots since it was last filled or adjusted,
    ``practice_stops_s`` the times from "stop" to the trigger shut of practice bursts."""

    label: str
    bottle_m3: float
    rates_m3_s: tuple[float, ...] = ()
    reaction_s: float = 0.5
    self_closing: bool = True
    practice_stops_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Fluid:
    """The cleaning fluid, as its container and safety data sheet name it."""

    label: str
    data_sheet: str
    data_sheet_date: str
    hazard_codes: tuple[str, ...] = ()
    density_kg_m3: float = 1000.0
    water_share: float = 1.0
    max_exhaust_k_engine_off: float | None = None
    max_exhaust_k_running: float | None = None
    maker_soak_s: float | None = None


@dataclass(frozen=True, slots=True)
class Workshop:
    """The workshop's own settings. Each may tighten a limit; none may loosen one. ``address`` and
    ``currency`` are for the sheet."""

    label: str
    address: str | None = None
    currency: str | None = None
    cranking_pressure_ratio: float | None = None
    off_dose_m3: float | None = None
    running_dose_m3: float | None = None
    rev_ceiling_rpm: float | None = None
    max_exhaust_k_engine_off: float | None = None
    max_exhaust_k_running: float | None = None
    max_touch_k: float | None = None
    max_touch_gloved_k: float | None = None
    soak_s: float | None = None
    altitude_m: float = 0.0
    air_k: float = 293.15
    bay_volume_m3: float | None = None
