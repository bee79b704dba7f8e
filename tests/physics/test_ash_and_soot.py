"""Ash from oil and heat of soot against published statements."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.physics.ash import (
    TRAPPED_SHARE_HIGH,
    TRAPPED_SHARE_LOW,
    ash_kg,
    ash_load_kg_m3,
    ash_share,
    oil_burnt_kg,
)
from steplatch.safety.physics.soot_burn import CARBON_HEAT_J_KG, adiabatic_rise_k


def test_two_published_statements_on_heavy_vehicles_agree() -> None:
    # Sappok, DieselNet technology guide on filter ash: at 6 g/L of soot half of what is
    # trapped is ash after 33 000 mi. Wang et al., Energy Sources A 41 (2019) 2184: over 80 %
    # is ash after 150 000 mi.
    assert ash_share(6.0, 6.0) == 0.5
    load = ash_load_kg_m3(6.0, 33_000.0, 150_000.0)
    assert load == pytest.approx(27.27, rel=1e-3)
    assert ash_share(load, 6.0) == pytest.approx(0.820, rel=1e-3)
    assert ash_share(load, 6.0) > 0.80


def test_ash_from_a_usual_light_diesel() -> None:
    # 0.1 L per 1000 km at 0.85 kg/L and 0.8 % for 100 000 km: worked apart; 20 to 70 % of it
    # trapped: Wang et al., Energy Sources A 41 (2019) 2184.
    oil = oil_burnt_kg(0.1, 100_000.0)
    assert ash_kg(oil, 0.008, 1.0) * 1e3 == pytest.approx(68.0, rel=1e-12)
    assert ash_kg(oil, 0.008, TRAPPED_SHARE_LOW) * 1e3 == pytest.approx(13.6, rel=1e-12)
    assert ash_kg(oil, 0.008, TRAPPED_SHARE_HIGH) * 1e3 == pytest.approx(47.6, rel=1e-12)


def test_burning_eight_grams_a_litre_would_heat_a_published_core_by_354_kelvin() -> None:
    # Heat of carbon 393.5 kJ/mol: standard value, from memory. Core 2.677 kg, 3.62 L: Yao et
    # al., Energy Sources A 45 (2023), Tables 2 and 3. Specific heat 1 kJ/(kg K) assumed.
    assert pytest.approx(32.76, rel=1e-3) == CARBON_HEAT_J_KG / 1e6
    assert adiabatic_rise_k(8e-3 * 3.62, 2.677) == pytest.approx(354.0, abs=0.5)


# Liu et al., Processes 9 (2021) 1403, Table 6 (simulation, 100 cells per square inch
# cordierite): flow kg/h, inlet degC, soot g/L -> peak degC.
LIU = [
    (155.1, 550.0, 3.0, 625.6), (155.1, 600.0, 6.0, 814.8), (155.1, 650.0, 9.0, 967.2),
    (286.9, 550.0, 6.0, 769.5), (286.9, 600.0, 9.0, 942.1), (286.9, 650.0, 3.0, 661.1),
    (428.8, 550.0, 9.0, 874.6), (428.8, 600.0, 3.0, 631.7), (428.8, 650.0, 6.0, 798.1),
]  # fmt: skip


def test_simulated_burns_stay_below_the_adiabatic_rise_and_grow_with_soot() -> None:
    # Core of about 500 kg/m3 and 1 kJ/(kg K): from memory, so only the order is checked.
    mean_rise: dict[float, list[float]] = {}
    for _, inlet, soot, peak in LIU:
        assert peak - inlet < adiabatic_rise_k(soot * 1e-3, 0.5)
        mean_rise.setdefault(soot, []).append(peak - inlet)
    means = [sum(mean_rise[soot]) / 3.0 for soot in (3.0, 6.0, 9.0)]
    assert means == sorted(means)


@given(st.floats(0.0, 2.0), st.floats(0.0, 300_000.0), st.floats(0.0, 1.0))
def test_trapped_ash_never_exceeds_the_ash_in_the_oil(
    litres: float, distance: float, trapped: float
) -> None:
    oil = oil_burnt_kg(litres, distance)
    assert ash_kg(oil, 0.008, trapped) <= ash_kg(oil, 0.008, 1.0) <= 0.008 * oil


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: oil_burnt_kg(-0.1, 1.0), "consumption"),
        (lambda: oil_burnt_kg(0.1, -1.0), "distance_km"),
        (lambda: oil_burnt_kg(0.1, 1.0, 0.0), "density_kg_l"),
        (lambda: ash_kg(-1.0, 0.008, 0.5), "oil_kg"),
        (lambda: ash_kg(1.0, 8.0, 0.5), "sulphated_ash_share.*not a percentage"),
        (lambda: ash_kg(1.0, 0.008, 50.0), "trapped_share.*not a percentage"),
        (lambda: ash_load_kg_m3(-1.0, 1.0, 1.0), "known_load_kg_m3"),
        (lambda: ash_load_kg_m3(1.0, 0.0, 1.0), "known_km"),
        (lambda: ash_load_kg_m3(1.0, 1.0, -1.0), "distance_km"),
        (lambda: ash_share(-1.0, 2.0), "ash_load"),
        (lambda: ash_share(2.0, -1.0), "soot_load is -1.0"),
        (lambda: ash_share(0.0, 0.0), "ash_load \\+ soot_load"),
        (lambda: adiabatic_rise_k(-1.0, 2.0), "soot_kg"),
        (lambda: adiabatic_rise_k(1.0, 0.0), "core_kg"),
        (lambda: adiabatic_rise_k(1.0, 2.0, 0.0), "core_heat"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
