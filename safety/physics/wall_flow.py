"""Pressure drop of a wall-flow filter: walls, layers on them, and channels.

Sources: Konstandopoulos, Kostoglou, Skaperdas et al., SAE 2000-01-1016 (2000), eq. 1, A1 to
A4 (clean filter, after Konstandopoulos and Johnson, SAE 890405), A10, A15; Konstandopoulos
and Papaioannou, KONA 26 (2008) 36, eq. 8 and 10 (Forchheimer and end losses). The ash layer
lies between wall and soot, in series.
"""

import math
from dataclasses import dataclass
from typing import Final

from ..catalogue import _
from .domain import not_negative, positive, share

SQUARE_DUCT_F: Final = 28.454154
"""Twice friction factor times Reynolds number, laminar flow in a square duct (no unit)."""

_KIND: Final = "m"


@dataclass(frozen=True, slots=True)
class FilterGeometry:
    """A filter with square, alternately plugged channels.

    ``volume_m3`` outer volume of the core; ``length_m`` effective channel length;
    ``opening_m`` clear width of a channel; ``wall_m`` wall thickness; ``permeability_m2``
    of the clean wall. Raises ValueError when one is not above zero.
    """

    volume_m3: float
    length_m: float
    opening_m: float
    wall_m: float
    permeability_m2: float

    def __post_init__(self) -> None:
        positive("volume_m3", self.volume_m3, "m3")
        positive("length_m", self.length_m, _KIND)
        positive("opening_m", self.opening_m, _KIND)
        positive("wall_m", self.wall_m, _KIND)
        positive("permeability_m2", self.permeability_m2, "m2")

    @property
    def pitch_m(self) -> float:
        """Distance from channel to channel, m."""
        return self.opening_m + self.wall_m

    @property
    def cell_density_per_m2(self) -> float:
        """Channels (inlet and outlet) per m2 of face, 1/m2."""
        return 1.0 / self.pitch_m**2

    @property
    def face_area_m2(self) -> float:
        """Area of the inlet face, m2."""
        return self.volume_m3 / self.length_m

    @property
    def inlet_channel_count(self) -> float:
        """Number of inlet channels: half of all (no unit, not rounded)."""
        return self.face_area_m2 * self.cell_density_per_m2 / 2.0

    @property
    def wall_share(self) -> float:
        """Share of the volume that is wall (no unit)."""
        return 1.0 - (self.opening_m / self.pitch_m) ** 2

    @property
    def inlet_void_share(self) -> float:
        """Share of the volume that is open inlet channel (no unit)."""
        return 0.5 * (self.opening_m / self.pitch_m) ** 2

    @property
    def inlet_void_m3(self) -> float:
        """Volume of the clean inlet channels, m3."""
        return self.inlet_void_share * self.volume_m3

    def pore_volume_m3(self, porosity: float) -> float:
        """Volume of the pores in the clean walls, m3; porosity is a share from 0 to 1."""
        return share("porosity", porosity) * self.wall_share * self.volume_m3


@dataclass(frozen=True, slots=True)
class Drop:
    """Parts of a pressure drop and their sum, Pa."""

    wall_pa: float
    ash_pa: float
    soot_pa: float
    inlet_pa: float
    outlet_pa: float
    inertial_pa: float

    @property
    def total_pa(self) -> float:
        """Sum of the parts, Pa."""
        return (
            self.wall_pa
            + self.ash_pa
            + self.soot_pa
            + self.inlet_pa
            + self.outlet_pa
            + self.inertial_pa
        )


def opening_from_cell_density(cell_density_per_m2: float, wall_m: float) -> float:
    """Clear channel width, m, from channels per m2 of face and wall thickness in m.

    1 cell per square inch is 1550.0031 per m2. Raises ValueError when the walls leave
    no opening.

    >>> round(opening_from_cell_density(200.0 / 0.0254**2, 12 * 25.4e-6) * 1e3, 4)
    1.4913
    """
    positive("cell_density_per_m2", cell_density_per_m2, "1/m2")
    positive("wall_m", wall_m, _KIND)
    pitch_m = 1.0 / math.sqrt(cell_density_per_m2)
    if wall_m >= pitch_m:
        raise ValueError(
            _(
                "wall_m is {wall_m!r}, but {cell_density_per_m2:g} cells per m2 lie "
                "{pitch_m:.3g} m apart: no opening is left; check the units of both",
                wall_m=wall_m,
                cell_density_per_m2=cell_density_per_m2,
                pitch_m=pitch_m,
            )
        )
    return pitch_m - wall_m


def layer_thickness_m(
    mass_kg: float, layer_density_kg_m3: float, opening_m: float, inlet_length_m: float
) -> float:
    """Thickness, m, of an even layer on the four walls of every inlet channel.

    ``(a - sqrt(a^2 - m / (N L rho))) / 2``; ``inlet_length_m`` is N L, the length of all
    inlet channels together. Raises ValueError when the layer would fill the channel.
    Source: SAE 2000-01-1016, eq. A10.
    """
    not_negative("mass_kg", mass_kg, "kg")
    positive("layer_density_kg_m3", layer_density_kg_m3, "kg/m3")
    positive("opening_m", opening_m, _KIND)
    positive("inlet_length_m", inlet_length_m, _KIND)
    left_m2 = opening_m**2 - mass_kg / (inlet_length_m * layer_density_kg_m3)
    if left_m2 <= 0.0:
        most_kg = opening_m**2 * inlet_length_m * layer_density_kg_m3
        raise ValueError(
            _(
                "mass_kg is {mass_kg:g}, but the inlet channels are full at {most_kg:.3g} "
                "kg: check mass, density and filter size",
                mass_kg=mass_kg,
                most_kg=most_kg,
            )
        )
    return 0.5 * (opening_m - math.sqrt(left_m2))


def pressure_drop_pa(
    geometry: FilterGeometry,
    flow_m3_s: float,
    viscosity_pa_s: float,
    density_kg_m3: float | None = None,
    soot_kg: float = 0.0,
    soot_permeability_m2: float = 3.2e-14,
    soot_density_kg_m3: float = 97.0,
    ash_kg: float = 0.0,
    ash_permeability_m2: float = 5.0e-14,
    ash_density_kg_m3: float = 518.0,
    inertial_loss: float = 0.0,
    forchheimer_per_m: float = 0.0,
) -> Drop:
    """Pressure drop across a filter, Pa, part by part.

    ``flow_m3_s`` at the filter's own temperature and pressure; ``inertial_loss`` is the
    coefficient zeta of both ends together, on the mean inlet velocity of the clean channel
    (0.2 to 0.8 usual); ``forchheimer_per_m`` of the wall is nil in ordinary filters. Both
    need ``density_kg_m3``.

    Default soot and ash layers: soot 3.2e-14 m2 and 97 kg/m3 (SAE 2000-01-1016, Table 6);
    ash 5e-14 m2, within the 2.77 to 7.4e-14 measured there (p. 12), and 518 kg/m3, within
    its 400 to 1000. Real layers scatter by a factor of two; ash plugs at the channel ends,
    liquid, soot inside the wall and slip are left out.

    Valid for laminar channel flow and below about 15 kPa, where the gas may be taken as
    incompressible (KONA 26 (2008), A.3 to A.9: 7 % too high only above that). Raises
    ValueError on values out of range and on layers that fill a channel.

    >>> clean = FilterGeometry(2.33751e-3, 0.144, 1.44e-3, 0.356e-3, 5.3e-13)
    >>> round(pressure_drop_pa(clean, 70 / 3600 / 0.64, 2.87e-5).total_pa, 1)
    500.8
    """
    not_negative("flow_m3_s", flow_m3_s, "m3/s")
    positive("viscosity_pa_s", viscosity_pa_s, "Pa s")
    positive("soot_permeability_m2", soot_permeability_m2, "m2")
    positive("ash_permeability_m2", ash_permeability_m2, "m2")
    not_negative("inertial_loss", inertial_loss, _("(no unit)"))
    not_negative("forchheimer_per_m", forchheimer_per_m, "1/m")

    opening_m = geometry.opening_m
    inlet_length_m = geometry.inlet_channel_count * geometry.length_m
    ash_m = layer_thickness_m(ash_kg, ash_density_kg_m3, opening_m, inlet_length_m)
    on_ash_m = opening_m - 2.0 * ash_m
    soot_m = layer_thickness_m(soot_kg, soot_density_kg_m3, on_ash_m, inlet_length_m)
    on_soot_m = on_ash_m - 2.0 * soot_m

    scale = viscosity_pa_s * flow_m3_s / (2.0 * geometry.volume_m3) * geometry.pitch_m**2
    channel = scale * 4.0 * SQUARE_DUCT_F * geometry.length_m**2 / 3.0
    return Drop(
        wall_pa=scale * geometry.wall_m / (geometry.permeability_m2 * opening_m),
        ash_pa=scale * math.log(opening_m / on_ash_m) / (2.0 * ash_permeability_m2),
        soot_pa=scale * math.log(on_ash_m / on_soot_m) / (2.0 * soot_permeability_m2),
        inlet_pa=channel / on_soot_m**4,
        outlet_pa=channel / opening_m**4,
        inertial_pa=_inertial_pa(
            geometry, flow_m3_s, density_kg_m3, inertial_loss, forchheimer_per_m
        ),
    )


def _inertial_pa(
    geometry: FilterGeometry,
    flow_m3_s: float,
    density_kg_m3: float | None,
    inertial_loss: float,
    forchheimer_per_m: float,
) -> float:
    if inertial_loss == 0.0 and forchheimer_per_m == 0.0:
        return 0.0
    if density_kg_m3 is None:
        raise ValueError(
            _(
                "density_kg_m3 is missing: inertial_loss and forchheimer_per_m need the density "
                "of the gas at the filter"
            )
        )
    positive("density_kg_m3", density_kg_m3, "kg/m3")
    opening_m = geometry.opening_m
    velocity_head = (
        density_kg_m3 * flow_m3_s**2 * geometry.pitch_m**4 / (geometry.volume_m3**2 * opening_m**2)
    )
    wall_term = forchheimer_per_m * geometry.wall_m / 4.0
    end_term = 2.0 * inertial_loss * (geometry.length_m / opening_m) ** 2
    return velocity_head * (wall_term + end_term)
