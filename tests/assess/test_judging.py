"""What the record of a job keeps of a judgement."""

from pathlib import Path

from steplatch.runner.assess.judges import trend_of
from steplatch.runner.workshop.files import load_vehicle

from tests.played import Stands
from tests.test_borders import LEVEL, noted

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
