"""What the record of a job keeps of a judgement."""

from pathlib import Path

from runner.files import load_vehicle
from runner.judging import trend_of
from tests.played import Stands

VEHICLE = Path(__file__).parents[2] / "examples" / "workshop" / "vehicle.yaml"


def test_a_level_goes_on_record_with_its_uncertainty_or_not_at_all(stands: Stands) -> None:
    vehicle, _ = load_vehicle(VEHICLE)
    got = trend_of(stands.at("hold-level", begun=True, last=True), vehicle)
    assert got["state"] == "levelled"
    level, u_level = float(got["level_pa"]), float(got["u_level_pa"])
    assert 500 < level < 20_000 and 0 < 2 * u_level < level
    early = trend_of(stands.at("hold-level", begun=True), vehicle)
    assert early["state"] == "cannot_tell"
    assert early["level_pa"] is None and early["u_level_pa"] is None and early["why"]
