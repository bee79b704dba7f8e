"""What the record of a job keeps of a judgement."""

from pathlib import Path

import pytest
from steplatch.runner.assess.judges import facts_of, trend_of
from steplatch.runner.workshop.files import load_vehicle
from steplatch.safety.bay import LowLoop

from tests.played import Stands
from tests.test_borders import LEVEL, noted, with_bay

VEHICLE = Path(__file__).parents[2] / "examples" / "workshop" / "vehicle.yaml"


def test_a_level_goes_on_record_with_its_uncertainty_or_not_at_all(stands: Stands) -> None:
    vehicle, _ = load_vehicle(VEHICLE)
    got = trend_of(noted(stands.at("hold-level", begun=True), *LEVEL), vehicle)
    assert got["state"] == "levelled"
    level, u_level = float(got["level_mbar"]), float(got["u_level_mbar"])
    assert abs(level - 50) < 1 and 0 < 2 * u_level < level
    early = trend_of(stands.at("hold-level", begun=True), vehicle)
    assert early["state"] == "not_shown"
    assert early["level_mbar"] is None and early["u_level_mbar"] is None and early["why"]


@pytest.mark.parametrize(
    ("looked_up", "fact"),
    [
        (LowLoop.NONE, "no"), (LowLoop.HELD_SHUT, "yes"), (LowLoop.OPEN, "yes"),
        (LowLoop.UNKNOWN, None),
    ],
)  # fmt: skip
def test_recirculated_gas_is_judged_as_it_was_looked_up(
    stands: Stands, looked_up: LowLoop, fact: str | None
) -> None:
    """A loop whose valve is held shut is still there; one that nobody looked up says nothing."""
    job = with_bay(stands.at("hold-level", begun=True), low_loop=looked_up)
    assert facts_of(job).get("low_pressure_recirculation") == fact
