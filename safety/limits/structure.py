"""What the filter's channels and wall pores can hold; unknown values at their low side."""

from dataclasses import dataclass

from ..catalogue import _
from ..physics.wall_flow import FilterGeometry, opening_from_cell_density
from . import choices
from .inputs import VehicleInput
from .working import Working


@dataclass(frozen=True, slots=True)
class FilterSpace:
    """Volumes in m3 inside one clean filter, with the working of each."""

    pore_m3: float
    inlet_void_m3: float
    pore_lines: tuple[Working, ...]
    void_lines: tuple[Working, ...]
    pore_assumptions: tuple[str, ...]
    void_assumptions: tuple[str, ...]


def filter_space(vehicle: VehicleInput) -> FilterSpace:
    """Pore and inlet channel volume of the filter.

    What is not known is taken on the low side: volume from the displacement, pores and
    channels from the lowest of five usual structures (SAE 2000-01-1016, Table 7; KONA 26
    (2008) 36, Fig. 5). Raises ValueError on unsound values.
    """
    volume_m3, first, assumptions = _volume(vehicle)
    pore_share, pore_note = _pore_share(vehicle)
    void_share, void_note = _void_share(vehicle)
    pore_m3 = pore_share * volume_m3
    void_m3 = void_share * volume_m3
    return FilterSpace(
        pore_m3=pore_m3,
        inlet_void_m3=void_m3,
        pore_lines=(
            *first,
            Working(
                _(
                    "pores in the walls = {pore_share:.4g} x {volume_m3:.4g} mL = {pore_m3:.4g} mL",
                    pore_share=pore_share,
                    volume_m3=volume_m3 * 1000000.0,
                    pore_m3=pore_m3 * 1000000.0,
                )
            ),
        ),
        void_lines=(
            Working(
                _(
                    "inlet channels = {void_share:.4g} x {volume_m3:.4g} mL = {void_m3:.4g} mL",
                    void_share=void_share,
                    volume_m3=volume_m3 * 1000000.0,
                    void_m3=void_m3 * 1000000.0,
                )
            ),
        ),
        pore_assumptions=(*assumptions, *pore_note),
        void_assumptions=(*assumptions, *void_note),
    )


def _volume(vehicle: VehicleInput) -> tuple[float, tuple[Working, ...], tuple[str, ...]]:
    known = vehicle.filter_volume_m3
    if known is not None:
        return known, (), ()
    share = choices.LOW_FILTER_TO_ENGINE.value
    volume_m3 = share * vehicle.displacement_m3
    line = Working(
        _(
            "filter volume = {share:.4g} x {displacement_m3:.4g} mL = {volume_m3:.4g} mL",
            share=share,
            displacement_m3=vehicle.displacement_m3 * 1000000.0,
            volume_m3=volume_m3 * 1000000.0,
        )
    )
    return (
        volume_m3,
        (line,),
        (_("filter volume not known: {share:.4g} x displacement taken", share=share),),
    )


def _geometry(vehicle: VehicleInput) -> FilterGeometry | None:
    """One m3 of the filter; only shares are read, so its length and permeability are arbitrary."""
    cells, wall_m = vehicle.cell_density_per_m2, vehicle.wall_thickness_m
    if cells is None or wall_m is None:
        return None
    return FilterGeometry(1.0, 1.0, opening_from_cell_density(cells, wall_m), wall_m, 1e-12)


def _pore_share(vehicle: VehicleInput) -> tuple[float, tuple[str, ...]]:
    geometry = _geometry(vehicle)
    if geometry is None or vehicle.wall_porosity is None:
        low = choices.LOW_PORE_SHARE.value
        return low, (
            _("cells, wall or porosity not known: pores taken as {low:.4g} of the filter", low=low),
        )
    return geometry.pore_volume_m3(vehicle.wall_porosity), ()


def _void_share(vehicle: VehicleInput) -> tuple[float, tuple[str, ...]]:
    geometry = _geometry(vehicle)
    if geometry is None:
        low = choices.LOW_INLET_VOID.value
        return low, (
            _("cells or wall not known: inlet channels taken as {low:.4g} of the filter", low=low),
        )
    return geometry.inlet_void_share, ()
