"""Wall-flow pressure drop against published filters, figures and exact duct flow."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.physics.gas import viscosity_pa_s
from steplatch.safety.physics.wall_flow import (
    SQUARE_DUCT_F,
    Drop,
    FilterGeometry,
    layer_thickness_m,
    opening_from_cell_density,
    pressure_drop_pa,
)

from tests.each import each

INCH_M = 0.0254
MIL_M = 25.4e-6

# Filter A of Konstandopoulos, Kostoglou, Skaperdas et al., SAE 2000-01-1016 (2000), text and
# Table A1: 5.66 in across, opening 1.44 mm, wall 0.356 mm, 144 mm long, permeability
# 5.3e-13 m2; gas 2.87e-5 Pa s, 0.64 kg/m3, 70 kg/h; soot 3.2e-14 m2, 97 kg/m3.
FACE_M2 = math.pi / 4.0 * (5.66 * INCH_M) ** 2
FILTER_A = FilterGeometry(FACE_M2 * 0.144, 0.144, 1.44e-3, 0.356e-3, 5.3e-13)
FLOW_A = 70.0 / 3600.0 / 0.64
MU_A = 2.87e-5
SOOT = {"soot_permeability_m2": 3.2e-14, "soot_density_kg_m3": 97.0}


def mass_for_thickness(layer_m: float) -> float:
    """Inverse of eq. A10, written apart from the program."""
    cross_m2 = FILTER_A.opening_m**2 - (FILTER_A.opening_m - 2.0 * layer_m) ** 2
    return cross_m2 * FILTER_A.inlet_channel_count * FILTER_A.length_m * 97.0


def wall_area_m2(geometry: FilterGeometry) -> float:
    """The four walls of each inlet channel, which the gas passes."""
    return geometry.inlet_channel_count * 4.0 * geometry.opening_m * geometry.length_m


def test_filter_a_has_the_published_size() -> None:
    assert FILTER_A.volume_m3 == pytest.approx(2.33751e-3, rel=1e-5)
    assert FILTER_A.cell_density_per_m2 * INCH_M**2 == pytest.approx(200.01, rel=1e-4)
    assert FILTER_A.inlet_channel_count == pytest.approx(2516.2, rel=1e-4)
    assert wall_area_m2(FILTER_A) == pytest.approx(2.087, rel=1e-3)
    assert wall_area_m2(FILTER_A) == pytest.approx(2.1, abs=0.05), "paper: 2.1 m2"
    assert FILTER_A.face_area_m2 == pytest.approx(math.pi / 4 * (5.66 * INCH_M) ** 2, rel=1e-12)


def test_filter_a_has_the_published_channel_velocity() -> None:
    # Table A1: 5.85 m/s clean, 29.62 m/s with 0.4 mm of soot.
    channels_m2 = FILTER_A.inlet_channel_count * FILTER_A.opening_m**2
    assert FLOW_A / channels_m2 == pytest.approx(5.85, rel=0.01)
    left_m2 = FILTER_A.inlet_channel_count * (FILTER_A.opening_m - 0.8e-3) ** 2
    assert FLOW_A / left_m2 == pytest.approx(29.62, rel=0.01)


# Layer in um; parts in Pa worked apart from eq. A15; last two: Fig. A4, one-dimensional line
# and computed fluid dynamics, kPa, read off the printed figure to 0.1.
LOADED = [
    (0.0, 280.6, 0.0, 110.1, 500.8, 0.5, 0.5),
    (100.0, 280.6, 1405.7, 200.2, 1996.6, 2.0, 2.05),
    (200.0, 280.6, 3059.1, 404.6, 3854.4, 3.9, 4.0),
    (300.0, 280.6, 5066.8, 950.6, 6408.1, 6.4, 6.8),
    (400.0, 280.6, 7623.1, 2821.1, 10834.9, 10.9, 11.1),
]


@pytest.mark.parametrize(("um", "wall", "soot", "inlet", "total", "line", "cfd"), LOADED)
def test_loaded_filter_a_follows_the_published_figure(
    um: float, wall: float, soot: float, inlet: float, total: float, line: float, cfd: float
) -> None:
    drop = pressure_drop_pa(FILTER_A, FLOW_A, MU_A, soot_kg=mass_for_thickness(um * 1e-6), **SOOT)
    assert drop.wall_pa == pytest.approx(wall, rel=3e-4)
    assert drop.soot_pa == pytest.approx(soot, rel=1e-4)
    assert drop.inlet_pa == pytest.approx(inlet, rel=3e-4)
    assert drop.outlet_pa == pytest.approx(110.1, rel=5e-4)
    assert drop.total_pa == pytest.approx(total, rel=1e-4)
    assert drop.total_pa / 1e3 == pytest.approx(line, rel=0.03), "Fig. A4, line"
    assert drop.total_pa / 1e3 == pytest.approx(cfd, rel=0.07), "Fig. A4, computed flow"


def test_clean_filter_a_agrees_with_computed_fluid_dynamics() -> None:
    # SAE 2000-01-1016, Fig. 4, first point: 0.47 kPa, read to 0.05.
    assert pressure_drop_pa(FILTER_A, FLOW_A, MU_A).total_pa == pytest.approx(470.0, rel=0.10)


@pytest.mark.parametrize(
    ("grams", "worked_pa", "figure_kpa"),
    # SAE 2000-01-1016, Fig. 4: computed fluid dynamics over soot mass, read off the figure.
    # The paper's mass axis runs 3.6 % lower for a thickness, so the steep end is looser.
    [(18.1, 1927.0, 2.0), (33.7, 3689.0, 3.96), (46.3, 5959.0, 6.77), (56.4, 9531.0, 11.06)],
)
def test_loading_by_mass_follows_the_published_figure(
    grams: float, worked_pa: float, figure_kpa: float
) -> None:
    drop = pressure_drop_pa(FILTER_A, FLOW_A, MU_A, soot_kg=grams * 1e-3, **SOOT)
    assert drop.total_pa == pytest.approx(worked_pa, rel=1e-3)
    assert drop.total_pa / 1e3 == pytest.approx(figure_kpa, rel=0.15)


@pytest.mark.parametrize(
    ("permeability", "worked_pa", "figure_kpa"),
    # SAE 2000-01-1016, Table 7 and the first points of Figs. 10 to 13 (read to 0.1 kPa): four
    # cordierite filters 10.5 in x 12 in, 100 cells per square inch, wall 17 mil, at
    # 0.236 m3/s (0 degC, 1 atm) of exhaust at 260 degC.
    [(2.4e-13, 2946.0, 2.9), (3.3e-13, 2379.0, 2.2), (3.5e-13, 2293.0, 2.2),
     (1.8e-13, 3638.0, 3.6)],
)  # fmt: skip
def test_four_clean_published_filters_agree_with_measurement(
    permeability: float, worked_pa: float, figure_kpa: float
) -> None:
    wall_m = 17.0 * MIL_M
    length_m = 12.0 * INCH_M
    opening_m = opening_from_cell_density(100.0 / INCH_M**2, wall_m)
    volume_m3 = math.pi / 4.0 * (10.5 * INCH_M) ** 2 * length_m
    geometry = FilterGeometry(volume_m3, length_m, opening_m, wall_m, permeability)
    flow = 0.236 * 533.15 / 273.15
    total = pressure_drop_pa(geometry, flow, viscosity_pa_s(533.15)).total_pa
    assert total == pytest.approx(worked_pa, rel=1e-3)
    assert figure_kpa == pytest.approx(total / 1e3, rel=0.08)


def exact_square_duct_f_re() -> float:
    """Friction factor times Reynolds number of a square duct, from the exact series."""
    series = sum(math.tanh(n * math.pi / 2.0) / n**5 for n in range(1, 401, 2))
    mean_velocity = (1.0 - 192.0 / math.pi**5 * series) / 3.0
    return 2.0 / mean_velocity


def test_square_duct_friction_is_that_of_exact_laminar_flow() -> None:
    # Exact series for a rectangular duct (from memory: White, Viscous Fluid Flow): with half
    # side 1 the mean velocity is (1 - 192/pi^5 sum tanh(n pi/2)/n^5)/3 and the hydraulic
    # diameter 2, so f Re = 2 / mean velocity.
    f_re = exact_square_duct_f_re()
    assert f_re == pytest.approx(14.22708, rel=1e-6)
    assert pytest.approx(2.0 * f_re, rel=1e-6) == SQUARE_DUCT_F
    # Shah and London, Laminar Flow Forced Convection in Ducts (1978), polynomial at aspect
    # ratio 1.
    shah_london = 24.0 * (1 - 1.3553 + 1.9467 - 1.7012 + 0.9564 - 0.2537)
    assert 2.0 * shah_london == pytest.approx(SQUARE_DUCT_F, rel=5e-4)
    # Konstandopoulos and Papaioannou, KONA 26 (2008) 36, eq. 5 and 6: 14.227 and 28.454.
    assert round(SQUARE_DUCT_F, 3) == 28.454


def test_end_losses_equal_the_velocity_head() -> None:
    # KONA 26 (2008) 36, eq. 8: with zeta = 1 the term is rho U^2 / 2.
    drop = pressure_drop_pa(FILTER_A, FLOW_A, MU_A, density_kg_m3=0.64, inertial_loss=1.0)
    velocity = FLOW_A / (FILTER_A.inlet_channel_count * FILTER_A.opening_m**2)
    assert drop.inertial_pa == pytest.approx(10.85, rel=1e-3)
    assert drop.inertial_pa == pytest.approx(0.5 * 0.64 * velocity**2, rel=1e-12)


def test_forchheimer_term_follows_the_wall_velocity() -> None:
    # KONA 26 (2008) 36, eq. 8: beta rho u_wall^2 w, u_wall through the filtration area.
    drop = pressure_drop_pa(FILTER_A, FLOW_A, MU_A, density_kg_m3=0.64, forchheimer_per_m=1e6)
    u_wall = FLOW_A / wall_area_m2(FILTER_A)
    assert drop.inertial_pa == pytest.approx(1e6 * 0.64 * u_wall**2 * 0.356e-3, rel=1e-9)


# Channels per square inch, wall in mil, porosity; opening mm, wall share, inlet void share,
# pore L per L, filtration area m2 per L. Derived geometry; porosities from SAE 2000-01-1016,
# Table 7 (0.50, 0.48), and KONA 26 (2008) 36, Fig. 5 (0.42).
STRUCTURES = [
    (200.0, 12.0, 0.50, 1.4913, 0.3106, 0.3447, 0.1553, 0.925),
    (300.0, 10.0, 0.42, 1.2125, 0.3164, 0.3418, 0.1329, 1.128),
    (300.0, 12.0, 0.42, 1.1617, 0.3725, 0.3138, 0.1564, 1.080),
    (200.0, 14.0, 0.42, 1.4405, 0.3568, 0.3216, 0.1498, 0.893),
    (100.0, 17.0, 0.48, 2.1082, 0.3111, 0.3445, 0.1493, 0.654),
]


@pytest.mark.parametrize(
    ("cells", "mil", "porosity", "opening", "wall", "void", "pores", "area"), STRUCTURES
)
def test_usual_structures_have_the_derived_volumes(
    cells: float, mil: float, porosity: float, opening: float, wall: float, void: float,
    pores: float, area: float,
) -> None:  # fmt: skip
    wall_m = mil * MIL_M
    geometry = FilterGeometry(
        1e-3, 0.15, opening_from_cell_density(cells / INCH_M**2, wall_m), wall_m, 1e-12
    )
    assert geometry.opening_m * 1e3 == pytest.approx(opening, abs=6e-5)
    assert geometry.wall_share == pytest.approx(wall, abs=6e-5)
    assert geometry.inlet_void_share == pytest.approx(void, abs=6e-5)
    assert geometry.inlet_void_m3 == pytest.approx(void * 1e-3, rel=1e-3)
    assert geometry.pore_volume_m3(porosity) * 1e3 == pytest.approx(pores, abs=6e-5)
    assert wall_area_m2(geometry) == pytest.approx(area, abs=6e-4)


def test_a_published_opening_and_wall_give_the_named_cell_density() -> None:
    # SAE 2000-01-1016, filter B: opening 2.11 mm, wall 17 mil = 0.4318 mm, "100 cpsi".
    geometry = FilterGeometry(1e-3, 0.15, 2.11e-3, 0.4318e-3, 1e-12)
    assert geometry.cell_density_per_m2 * INCH_M**2 == pytest.approx(99.86, rel=1e-4)
    assert geometry.cell_density_per_m2 * INCH_M**2 == pytest.approx(100.0, rel=5e-3)


def test_ash_lies_in_series_under_the_soot() -> None:
    # Series form: Q mu / (8 N L k) ln(a / (a - 2 w)) for a layer next to the wall.
    ash_kg = 0.030
    drop = pressure_drop_pa(
        FILTER_A, FLOW_A, MU_A, ash_kg=ash_kg, ash_permeability_m2=1.65e-13,
        ash_density_kg_m3=518.0,
    )  # fmt: skip
    inlet_m = FILTER_A.inlet_channel_count * FILTER_A.length_m
    left_m = math.sqrt(FILTER_A.opening_m**2 - ash_kg / (inlet_m * 518.0))
    expected = FLOW_A * MU_A / (8.0 * inlet_m * 1.65e-13) * math.log(FILTER_A.opening_m / left_m)
    assert drop.ash_pa == pytest.approx(expected, rel=1e-9)
    assert drop.soot_pa == 0.0
    assert drop.inlet_pa > drop.outlet_pa


def test_soot_on_ash_fills_the_opening_that_the_ash_leaves() -> None:
    # Both layers by hand: cross-section left in a channel after ash, then after soot.
    ash_kg, soot_kg = 0.030, 0.010
    drop = pressure_drop_pa(FILTER_A, FLOW_A, MU_A, soot_kg=soot_kg, ash_kg=ash_kg, **SOOT)
    inlet_m = FILTER_A.inlet_channel_count * FILTER_A.length_m
    after_ash = math.sqrt(FILTER_A.opening_m**2 - ash_kg / (inlet_m * 518.0))
    after_soot = math.sqrt(after_ash**2 - soot_kg / (inlet_m * 97.0))
    expected = FLOW_A * MU_A / (8.0 * inlet_m * 3.2e-14) * math.log(after_ash / after_soot)
    assert drop.soot_pa == pytest.approx(expected, rel=1e-9)
    clean = pressure_drop_pa(FILTER_A, FLOW_A, MU_A)
    assert drop.inlet_pa / clean.inlet_pa == pytest.approx(
        (FILTER_A.opening_m / after_soot) ** 4, rel=1e-9
    )


@given(st.floats(0.0, 0.02), st.floats(0.0, 0.02), st.floats(0.001, 0.02))
def test_more_soot_or_more_ash_always_means_more_drop(soot: float, ash: float, more: float) -> None:
    def total(soot_kg: float, ash_kg: float) -> float:
        return pressure_drop_pa(FILTER_A, FLOW_A, MU_A, soot_kg=soot_kg, ash_kg=ash_kg).total_pa

    assert total(soot + more, ash) > total(soot, ash)
    assert total(soot, ash + more) > total(soot, ash)


@given(st.floats(0.0, 0.1), st.floats(1e-5, 5e-5), st.floats(0.0, 0.04))
def test_drop_is_proportional_to_viscosity_times_flow(
    flow: float, viscosity: float, soot: float
) -> None:
    base = pressure_drop_pa(FILTER_A, 0.01, 2e-5, soot_kg=soot).total_pa
    scaled = pressure_drop_pa(FILTER_A, flow, viscosity, soot_kg=soot).total_pa
    assert scaled == pytest.approx(base * flow * viscosity / (0.01 * 2e-5), rel=1e-9, abs=1e-12)


def test_layers_that_are_not_described_are_taken_as_published() -> None:
    """SAE 2000-01-1016 (2000): soot 3.2e-14 m2 and 97 kg/m3 (Table 6); ash 5e-14 m2 and 518
    kg/m3, inside its 2.77 to 7.4e-14 m2 and 400 to 1000 kg/m3 (p. 12)."""
    taken = pressure_drop_pa(FILTER_A, 0.03, MU_A, soot_kg=0.01, ash_kg=0.05)
    published = pressure_drop_pa(
        FILTER_A,
        0.03,
        MU_A,
        soot_kg=0.01,
        soot_permeability_m2=3.2e-14,
        soot_density_kg_m3=97.0,
        ash_kg=0.05,
        ash_permeability_m2=5.0e-14,
        ash_density_kg_m3=518.0,
    )
    assert taken == published


def test_the_parts_add_up() -> None:
    assert Drop(1.0, 2.0, 3.0, 4.0, 5.0, 6.0).total_pa == 21.0


@each(
    ("call", "named"),
    [
        (lambda: FilterGeometry(0.0, 0.1, 1e-3, 3e-4, 1e-13), "volume_m3"),
        (lambda: FilterGeometry(1e-3, -0.1, 1e-3, 3e-4, 1e-13), "length_m"),
        (lambda: FilterGeometry(1e-3, 0.1, 0.0, 3e-4, 1e-13), "opening_m"),
        (lambda: FilterGeometry(1e-3, 0.1, 1e-3, math.nan, 1e-13), "wall_m"),
        (lambda: FilterGeometry(1e-3, 0.1, 1e-3, 3e-4, 0.0), "permeability_m2"),
        (lambda: FILTER_A.pore_volume_m3(50.0), "porosity is 50.0.*not a percentage"),
        (lambda: opening_from_cell_density(0.0, 3e-4), "cell_density_per_m2"),
        (lambda: opening_from_cell_density(310000.0, 0.0), "wall_m"),
        (lambda: opening_from_cell_density(310000.0, 0.3), "no opening is left"),
        (lambda: opening_from_cell_density(1e6, 1e-3), "no opening is left"),
        (lambda: layer_thickness_m(1.0, 1.0, 1.0, 1.0), "full at 1 kg"),
        (lambda: layer_thickness_m(1.0, 500.0, 2e-3, 100.0), "full at 0.2 kg"),
        (lambda: layer_thickness_m(-1.0, 97.0, 1e-3, 300.0), "mass_kg"),
        (lambda: layer_thickness_m(0.0, 0.0, 1e-3, 300.0), "layer_density_kg_m3"),
        (lambda: layer_thickness_m(0.0, 97.0, 0.0, 300.0), "opening_m"),
        (lambda: layer_thickness_m(0.0, 97.0, 1e-3, 0.0), "inlet_length_m"),
        (lambda: pressure_drop_pa(FILTER_A, 0.03, MU_A, soot_kg=1.0), "channels are full"),
        (lambda: pressure_drop_pa(FILTER_A, -0.03, MU_A), "flow_m3_s"),
        (lambda: pressure_drop_pa(FILTER_A, 0.03, 0.0), "viscosity_pa_s"),
        (
            lambda: pressure_drop_pa(FILTER_A, 0.03, MU_A, soot_permeability_m2=0.0),
            "soot_permeability_m2",
        ),
        (
            lambda: pressure_drop_pa(FILTER_A, 0.03, MU_A, ash_permeability_m2=0.0),
            "ash_permeability_m2",
        ),
        (lambda: pressure_drop_pa(FILTER_A, 0.03, MU_A, inertial_loss=-1.0), "inertial_loss is"),
        (
            lambda: pressure_drop_pa(FILTER_A, 0.03, MU_A, forchheimer_per_m=-1.0),
            "forchheimer_per_m is",
        ),
        (
            lambda: pressure_drop_pa(FILTER_A, 0.03, MU_A, inertial_loss=0.5),
            "density_kg_m3 is missing",
        ),
        (
            lambda: pressure_drop_pa(
                FILTER_A, 0.03, MU_A, density_kg_m3=0.0, forchheimer_per_m=1.0
            ),
            "density_kg_m3 is 0.0",
        ),
    ],
)
def test_values_that_no_filter_has_are_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
