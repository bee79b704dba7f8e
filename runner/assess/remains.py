"""What remains in the filter: the clean-filter band from its geometry, the ash from its past.

Both are bands, not values. The clean band says what pressure a filter of this size takes at
the reference flow (``inputs.REFERENCE_TEXT``) from newly built to used, coated and in the
middle of its soot cycle. The ash band says how much oil ash the distance has left.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Final

from steplatch.safety.limits.inputs import VehicleInput
from steplatch.safety.physics.ash import (
    TRAPPED_SHARE_HIGH,
    TRAPPED_SHARE_LOW,
    ash_kg,
    oil_burnt_kg,
)
from steplatch.safety.physics.exhaust import volume_flow_m3_s
from steplatch.safety.physics.gas import viscosity_pa_s
from steplatch.safety.physics.wall_flow import (
    FilterGeometry,
    opening_from_cell_density,
    pressure_drop_pa,
)

from ..input.resolution import Numbers
from . import inputs, words
from .facts import Facts

_CPSI: Final = 1 / 0.0254**2
_MIL: Final = 25.4e-6

CELLS: Final = ((200 * _CPSI, 14 * _MIL), (300 * _CPSI, 10 * _MIL), (300 * _CPSI, 12 * _MIL))
"""Usual structures, cells per m2 and wall in m (physics: SiC and cordierite car filters)."""
LENGTHS_M: Final = (0.12, 0.20)
VOLUME_OF_DISPLACEMENT: Final = (0.93, 2.38)
"""Published filter volumes over displacement: Liu et al. 2021 (0.93) to Bai et al. 2016 (2.38)."""
CLEAN_PERMEABILITY_M2: Final = (1.8e-13, 5.3e-13)
"""Clean walls, SAE 2000-01-1016, Table 7 (1.8 to 3.5e-13) and Table A1 (5.3e-13)."""
USED_WALL_FACTOR: Final = 3.0
"""Coating and soot held inside the wall cut its permeability about threefold: workshop default."""
MID_CYCLE_SOOT_KG_M3: Final = 2.0
"""Soot cake of a filter between two regenerations, g/L: workshop default; the design limit in
the literature is 6 g/L (a published ash review)."""
DAMAGE_SHARE: Final = 0.5
"""Below this share of the lowest clean value a filter is suspected broken: workshop default."""
LAYER_HARMLESS_SHARE: Final = 1 - (1 - 2 * 0.11) ** 2
"""Share of the inlet channel that an ash layer of 11 % of the channel width takes; up to there
its effect is negligible (Wang et al., Energy Sources A 41 (2019) 2184)."""
ASH_DENSITY_KG_M3: Final = (400.0, 1000.0)
"""Ash as packed in channels, SAE 2000-01-1016, p. 12."""
OIL_L_PER_1000_KM: Final = (0.05, 0.30)
OIL_ASH: Final = (0.005, 0.016)
"""Sulphated ash of engine oils, mass share: low-ash 0.5 % to full-ash 1.6 % (published
summaries of the ACEA sequences)."""


@dataclass(frozen=True, slots=True)
class CleanBand:
    """Pressure that this filter should take at the reference flow, mbar.

    ``new_low_mbar`` to ``new_high_mbar``: clean walls. ``today_high_mbar``: the limit of "flows as
    expected today", the model's used wall in mid-cycle. ``damage_below_mbar``: under it a leak or
    damage is suspected. ``known``: what of the filter the vehicle's file says.
    """

    new_low_mbar: float
    new_high_mbar: float
    today_high_mbar: float
    damage_below_mbar: float
    known: tuple[str, ...]

    @property
    def basis(self) -> str:
        """What the band rests on, in words."""
        return words.clean_basis(self.known)

    @property
    def source(self) -> str:
        """Where the band comes from."""
        return words.CLEAN_SOURCE

    def taken(self, numbers: Numbers) -> "CleanBand":
        """The band at the resolution of its numbers, as it is judged by."""
        return CleanBand(
            numbers.take("new_low_mbar", self.new_low_mbar),
            numbers.take("new_high_mbar", self.new_high_mbar),
            numbers.take("today_high_mbar", self.today_high_mbar),
            numbers.take("damage_below_mbar", self.damage_below_mbar),
            self.known,
        )


@dataclass(frozen=True, slots=True)
class AshBand:
    """Oil ash that is likely in the filter, g, and what share of the inlet channels it takes.

    ``said`` are ids of ``words.ASH_SAID``: what moved the upper edge. ``state`` is low, high or
    unknown.
    """

    distance_km: float
    low_g: float
    high_g: float
    low_share: float
    high_share: float
    state: str
    said: tuple[str, ...]

    @property
    def text(self) -> str:
        """The same in words."""
        return words.ash(self.distance_km, self.low_g, self.high_g, self.said)


@lru_cache(maxsize=64)
def clean_band(vehicle: VehicleInput) -> CleanBand:
    """The band of the clean and the used filter. What is not known is spanned, not guessed."""
    new, used = [], []
    q = volume_flow_m3_s(inputs.REFERENCE_EXHAUST_KG_S, inputs.REFERENCE_K, inputs.REFERENCE_PA)
    mu = viscosity_pa_s(inputs.REFERENCE_K)
    for geometry in _geometries(vehicle):
        clean = pressure_drop_pa(geometry, q, mu).total_pa / 100
        new.append(clean)
        soot = MID_CYCLE_SOOT_KG_M3 * geometry.volume_m3
        worn = FilterGeometry(
            geometry.volume_m3,
            geometry.length_m,
            geometry.opening_m,
            geometry.wall_m,
            geometry.permeability_m2 / USED_WALL_FACTOR,
        )
        used.append(pressure_drop_pa(worn, q, mu, soot_kg=soot).total_pa / 100)
    known = tuple(
        name
        for name, value in (
            ("volume", vehicle.filter_volume_m3),
            ("length", vehicle.filter_length_m),
            ("cells", vehicle.cell_density_per_m2),
            ("wall_permeability", vehicle.wall_permeability_m2),
        )
        if value is not None
    )
    return CleanBand(
        new_low_mbar=min(new),
        new_high_mbar=max(new),
        today_high_mbar=max(used),
        damage_below_mbar=DAMAGE_SHARE * min(new),
        known=known,
    )


def _geometries(vehicle: VehicleInput) -> Iterator[FilterGeometry]:
    volumes = (
        (vehicle.filter_volume_m3,)
        if vehicle.filter_volume_m3 is not None
        else tuple(f * vehicle.displacement_m3 for f in VOLUME_OF_DISPLACEMENT)
    )
    lengths = (vehicle.filter_length_m,) if vehicle.filter_length_m is not None else LENGTHS_M
    if vehicle.cell_density_per_m2 is not None and vehicle.wall_thickness_m is not None:
        cells: tuple[tuple[float, float], ...] = (
            (vehicle.cell_density_per_m2, vehicle.wall_thickness_m),
        )
    else:
        cells = CELLS
    walls = (
        (0.7 * vehicle.wall_permeability_m2, 1.4 * vehicle.wall_permeability_m2)
        if vehicle.wall_permeability_m2 is not None
        else CLEAN_PERMEABILITY_M2
    )
    for volume, length, (density, wall), k in product(volumes, lengths, cells, walls):
        opening = opening_from_cell_density(density, wall)
        yield FilterGeometry(volume, length, opening, wall, k)


def ash_band(vehicle: VehicleInput, facts: Facts, numbers: Numbers | None = None) -> AshBand | None:
    """The ash that distance and oil have left, None when the distance is not known.

    ``ash_distance_km`` (since the filter was new) counts before ``distance_km``. Town duty
    raises the upper edge by half (more starts, burns and oil for the distance); a young vehicle
    (over 30 000 km a year) with motorway duty lowers it by a third: common practice, no source.
    """
    distance = facts.number("ash_distance_km")
    if distance is None:
        distance = facts.number("distance_km")
    if distance is None:
        return None
    oil = _span(vehicle.oil_l_per_1000_km, OIL_L_PER_1000_KM)
    ash = _span(vehicle.oil_sulphated_ash, OIL_ASH)
    trapped = (TRAPPED_SHARE_LOW, TRAPPED_SHARE_HIGH)
    middle = 1000 * ash_kg(oil_burnt_kg(_middle(oil), distance), _middle(ash), _middle(trapped))
    # The ends of three spans rarely meet: half-widths (of the logarithms) add in quadrature.
    wide = math.hypot(*(math.log(high / low) / 2 for low, high in (oil, ash, trapped)))
    low, high = middle * math.exp(-wide), middle * math.exp(wide)
    said = []
    if facts.get("duty") == "town":
        high *= 1.5
        said.append("town")
    elif facts.get("duty") == "unknown":
        said.append("duty_unknown")
    age = facts.number("age_years")
    if facts.get("duty") == "motorway" and age and distance / age > 30000:
        high *= 2 / 3
        said.append("young")
    if age and age > 10:
        high *= 1.2
        said.append("old")
    elif age is None:
        said.append("age_unknown")
    voids = [g.inlet_void_m3 for g in _geometries(vehicle)]
    taken = numbers or Numbers()
    low_share = taken.take("low_share", low / 1000 / ASH_DENSITY_KG_M3[1] / max(voids))
    high_share = taken.take("high_share", min(high / 1000 / ASH_DENSITY_KG_M3[0] / min(voids), 1.0))
    if low_share > LAYER_HARMLESS_SHARE:
        state = "high"
    elif high_share < LAYER_HARMLESS_SHARE:
        state = "low"
    else:
        state = "unknown"
    return AshBand(
        taken.take("distance_km", distance),
        taken.take("low_g", low),
        taken.take("high_g", high),
        low_share,
        high_share,
        state,
        tuple(said),
    )


def _middle(span: tuple[float, float]) -> float:
    return math.sqrt(span[0] * span[1])


def _span(known: float | None, default: tuple[float, float]) -> tuple[float, float]:
    return default if known is None else (known, known)
