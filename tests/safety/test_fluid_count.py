"""How the ledger stands against the limits: each boundary, by the definition of the limits."""

import pytest
from steplatch.safety.bay import Bay, DoseLimits, RunOn
from steplatch.safety.interlocks.volumes import FLUID_COUNT, fluid_count

LIMITS = DoseLimits(strict=10, extended=25, running=400)


@pytest.mark.parametrize(
    ("wet", "said"),
    [
        (0, "none"),
        (1, "within_strict"),
        (10, "within_strict"),
        (11, "within_extended"),
        (25, "within_extended"),
        (26, "above"),
        (None, "not_known"),
    ],
)
def test_the_count_is_told_against_the_limits_to_the_tenth(wet: int | None, said: str) -> None:
    assert fluid_count(Bay(wet=wet), LIMITS) == said


def test_with_no_dose_allowed_any_fluid_is_above() -> None:
    assert fluid_count(Bay(wet=1), DoseLimits(0, 0, 0)) == "above"


@pytest.mark.parametrize(("wet", "said"), [(0, "none"), (1, "in_line"), (None, "in_line")])
def test_what_stands_in_the_line_alone_is_told_as_such(wet: int | None, said: str) -> None:
    assert fluid_count(Bay(wet=wet, run_on=RunOn.LINE), LIMITS) == said


def test_the_words_are_all_that_a_procedure_may_branch_on() -> None:
    assert (
        *("none", "in_line", "within_strict", "within_extended", "above", "not_known"),
    ) == FLUID_COUNT
