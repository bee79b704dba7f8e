"""Second looks: an odd reading is asked about before it goes into the record."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from steplatch.runner.cli.guided_job import keeper_for
from steplatch.runner.cli.practice_job import bundle_for, hand_of
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import DataFolder, make_data_folder
from steplatch.runner.screen.context import Context, Keeper, Leave
from steplatch.runner.screen.doubts import doubts_of
from steplatch.runner.screen.everywhere import carry_out
from steplatch.runner.screen.guide import guide
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.lesson import Script, load_lesson

OUT_BY_TEN = "759 2376 39.7 224 87 shut"
RIGHT = "75.9 2376 39.7 224 87 shut"


class Typing(Script):
    """Types an odd set, then ``again``; leaves once the set is taken."""

    again = ""
    asked = 0

    def ask(self, prompt: Prompt) -> str:
        if prompt.key == "before-raised":
            return OUT_BY_TEN
        if prompt.key == "before-raised:again":
            self.asked += 1
            return self.again
        if prompt.key == "before-lower":
            return "leave"
        return super().ask(prompt)


@pytest.mark.parametrize(("again", "kept"), [(RIGHT, 7590.0), (OUT_BY_TEN, 75900.0)])
def test_an_odd_set_is_kept_only_when_it_is_typed_again_and_can_be_corrected(
    quick: Path, again: str, kept: float
) -> None:
    lesson = load_lesson(EXAMPLES / "lessons" / "good-clean.yaml")
    bundle = bundle_for(lesson.procedure)
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    data = DataFolder(quick, "a test")
    make_data_folder(data)
    clock = VehicleClock(datetime(2026, 3, 2, 9, tzinfo=UTC), vehicle)
    session, folder = begin(data, bundle, clock, lesson.cast.worker, practice=True)
    talk = Typing(lesson)
    talk.again = again
    keeper = Keeper(keeper_for(session, folder))
    doubts = doubts_of(bundle.vehicle, bundle.workshop)
    hand = hand_of(bundle, vehicle)
    try:
        with pytest.raises(Leave):
            guide(Context(session, talk, folder.id, keeper, hand, carry_out, doubts))
    finally:
        session.writer.close()
    taken = session.job.log.latest("reading")
    assert taken is not None and talk.asked == 1
    assert float(taken["pressure_pa"]) == pytest.approx(kept)
    doubted = session.job.log.latest("doubted")
    assert doubted is not None and doubted["typed"] == OUT_BY_TEN and doubted["topics"]
    said = "\n".join(talk.said)
    assert "out by ten" in said
    assert f"pressure over the filter: {again.split()[0]} mbar = " in said, "echoed in two units"
    assert session.job.core.held, "leaving is a stop: the job is held"
    assert "HELD. Gun shut first." in said
