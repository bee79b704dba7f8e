"""What a formula may be given: the ends of each range, and what comes back."""

import math

import pytest
from steplatch.safety.physics.domain import not_negative, positive, share, within


def test_a_share_goes_from_nothing_to_all_of_it() -> None:
    assert (share("part", 0.0), share("part", 1.0)) == (0.0, 1.0)
    for value in (-0.001, 1.001, 1.05, 50.0, math.nan):
        with pytest.raises(ValueError, match=r"part is .*not a percentage"):
            share("part", value)


def test_what_is_above_zero_or_not_below_it_comes_back_and_the_rest_is_refused() -> None:
    assert positive("mass", 5e-324, "kg") == 5e-324
    assert not_negative("mass", 0.0, "kg") == 0.0
    for value in (-5e-324, math.inf, math.nan):
        with pytest.raises(ValueError, match="above 0 kg"):
            positive("mass", value, "kg")
        with pytest.raises(ValueError, match="0 kg or above"):
            not_negative("mass", value, "kg")
    with pytest.raises(ValueError, match="above 0 kg"):
        positive("mass", 0.0, "kg")


def test_a_value_at_either_end_of_a_range_is_within_it() -> None:
    for value in (2.0, 3.0, 2.5):
        within("level", value, 2.0, 3.0, "m")
    for value in (1.999, 3.001, math.nan):
        with pytest.raises(ValueError, match=r"level is .*from 2 to 3 m"):
            within("level", value, 2.0, 3.0, "m")
