"""Ash from oil against published statements."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.safety.physics.ash import (
    TRAPPED_SHARE_HIGH,
    TRAPPED_SHARE_LOW,
    ash_kg,
    oil_burnt_kg,
)


def test_ash_from_a_usual_light_diesel() -> None:
    # 0.1 L per 1000 km at 0.85 kg/L and 0.8 % for 100 000 km: worked apart; 20 to 70 % of it
    # trapped: Wang et al., Energy Sources A 41 (2019) 2184.
    oil = oil_burnt_kg(0.1, 100_000.0)
    assert ash_kg(oil, 0.008, 1.0) * 1e3 == pytest.approx(68.0, rel=1e-12)
    assert ash_kg(oil, 0.008, TRAPPED_SHARE_LOW) * 1e3 == pytest.approx(13.6, rel=1e-12)
    assert ash_kg(oil, 0.008, TRAPPED_SHARE_HIGH) * 1e3 == pytest.approx(47.6, rel=1e-12)


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
        (lambda: ash_kg(1.0, 0.008, 50.0), "trapped_share.*not a percentage"),
    ],
)
def test_values_out_of_range_are_refused_by_name(call: object, named: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=named):
        call()
