"""The debrief says what was refused, what it spared, and what was so; it ranks nobody."""

import json
import re
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path

import pytest
from steplatch.runner.cli import debrief as commands_debrief
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import parser
from steplatch.runner.cli.practice_job import begin_at_vehicle, context_of, setting_of
from steplatch.runner.core.commands import Look
from steplatch.runner.core.events import Recorded
from steplatch.runner.core.job import Job, Log
from steplatch.runner.jobs.session import Session
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import DataFolder, JobFolder, find_data_folder, make_data_folder, read
from steplatch.runner.record.clocks import RealClock
from steplatch.runner.screen.guide import guide
from steplatch.runner.screen.talk import Gone, Prompt
from steplatch.runner.simulator.faults import setup_with
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training import what_if
from steplatch.runner.training.debrief import Debrief, NoDebrief, debrief_of
from steplatch.runner.training.debrief_words import debrief_lines
from steplatch.runner.training.found import answers
from steplatch.runner.training.lesson import Lesson, Script
from steplatch.safety.limits.inputs import VehicleInput

from tests.played import START, Played, bundle_from, lesson_with

EXERCISE = """
id: held-by-the-pipe
title: A dose that comes late
set_by: supervisor-1
told: Choose the extended dose.
faults: [overdose-held-by-pipe]
seed: 7
ends: [finished]
notice:
  - {what: "The extended dose, as told.", step: tier, among: [extended]}
  - {what: "A split hose.", record: line_test, among: [split]}
"""
RANKING = ("well done", "score", "better than", "worse than", "best", "perfect")


class Careless(Script):
    """Asks for a start without looking at the extraction, and leaves after it was refused."""

    session: Session

    def ask(self, prompt: Prompt) -> str:
        """Nobody knows how the fumes stand, right before the start after the dose."""
        if prompt.key == "run-controls":
            self.session.submit(Look("fumes", "unknown"))
        if prompt.key == "look:fumes" and self.session.job.core.step == "run-start":
            raise Gone
        return super().ask(prompt)


@pytest.fixture(scope="module")
def careless(tmp_path_factory: pytest.TempPathFactory) -> JobFolder:
    """An exercise that was left right after a start was refused with fluid in."""
    room = tmp_path_factory.mktemp("careless")
    path = room / "exercise.yaml"
    path.write_text(EXERCISE, encoding="utf-8")
    setting = setting_of(parser().parse_args(["practise", "--exercise", str(path)]))
    data = find_data_folder(room, {})
    make_data_folder(data)
    session, folder = begin_at_vehicle(
        data,
        setting.bundle,
        VehicleClock(START, setting.vehicle),
        setting.vehicle,
        "apprentice-1",
        setting.about(plays_itself=False),
    )
    assert setting.note is not None
    session.submit(setting.note)
    talk = Careless(_typed(lesson_with(), setting.lesson))
    talk.session = session
    with pytest.raises(Gone):
        guide(context_of(session, folder, talk, setting.bundle, setting.vehicle))
    session.writer.close()
    return folder


def _typed(lesson: Lesson, card: Lesson) -> Lesson:
    return lesson.model_copy(update={"answers": card.answers})


@pytest.fixture(scope="module")
def van() -> VehicleInput:
    return bundle_from().vehicle


@pytest.fixture(scope="module")
def left(careless: JobFolder) -> Debrief:
    return debrief_of(careless, now=True)


@pytest.fixture(scope="module")
def finished(good: Played) -> Debrief:
    return debrief_of(good.folder)


def test_a_refused_start_with_fluid_in_says_what_it_would_have_met(left: Debrief) -> None:
    refused = [r for r in left.refused if "start the engine" in r.asked]
    assert len(refused) == 1
    assert "fume" in refused[0].reason.lower() and refused[0].remedy and refused[0].source
    found = re.search(r"(\d+) mL in cylinder \d, room for 33: compression", refused[0].otherwise)
    assert found and int(found[1]) > 5
    text = "\n".join(debrief_lines(left, 80))
    assert "Permitted, this would have come" in text and "bar, dry 39" in text


def test_the_pressure_of_a_crank_on_liquid_is_that_worked_by_hand(van: VehicleInput) -> None:
    """500 mL swept, ratio 16: 33.3 mL above the piston. With 20 mL in it (533.3 - 20) / 13.3 =
    38.5, to the power 1.32 = 124 times 1.013 bar; dry 16^1.32 = 38.9 times. Worked by hand."""
    vehicle = SimulatedVehicle(7, "none", van)
    vehicle.world.fluid.cylinder_ml[2] = 20.0
    assert what_if.cranked(vehicle) == (
        "20 mL in cylinder 3, room for 33: compression reaches about 125 bar, dry 39"
    )
    vehicle.world.fluid.cylinder_ml[2] = 33.4
    assert "the piston meets liquid" in what_if.cranked(vehicle)
    vehicle.world.fluid.cylinder_ml[2] = 30.0
    assert "over 250 bar, dry 39; a rod may bend" in what_if.cranked(vehicle)


def test_what_is_tried_on_a_copy_does_not_touch_the_vehicle(
    good: Played, van: VehicleInput
) -> None:
    step = good.session.plan.main.step("run-start")
    vehicle = SimulatedVehicle(7, "none", van)
    before = vehicle.truth()
    assert "A start would have met" in what_if.had_it_been_permitted(deepcopy(vehicle), step, "")
    assert vehicle.truth() == before


@pytest.mark.parametrize(
    ("seconds", "words"), [("8", "mL would have left the gun"), ("20", "the piston meets liquid")]
)
def test_a_refused_burst_says_what_would_have_run_back(
    good: Played, van: VehicleInput, seconds: str, words: str
) -> None:
    vehicle = SimulatedVehicle(7, "overdose-held-by-pipe", van)
    vehicle.advance(3600.0)
    for act in (vehicle.hose_off, vehicle.couple_gun):
        act()
    vehicle.fill_gun(400.0)
    step = good.session.plan.main.step("off-spray")
    assert words in what_if.had_it_been_permitted(vehicle, step, seconds)


def test_a_job_that_goes_on_keeps_its_secret_unless_now_is_said(
    careless: JobFolder, left: Debrief
) -> None:
    with pytest.raises(NoDebrief, match=r"spoil.*--now"):
        debrief_of(careless)
    assert left.ended == "goes on" and left.faults == ("overdose-held-by-pipe",)


def test_a_real_job_has_no_debrief(tmp_path: Path) -> None:
    data = DataFolder(tmp_path, "a test")
    make_data_folder(data)
    session, folder = begin(data, bundle_from(), RealClock(), "apprentice-1", practice=False)
    session.writer.close()
    with pytest.raises(NoDebrief, match="real job: there is no debrief"):
        debrief_of(folder)


def test_an_exercise_is_held_against_the_record(left: Debrief, careless: JobFolder) -> None:
    assert left.exercise == "A dose that comes late" and left.as_set is False
    assert left.noticed == [("The extended dose, as told.", True), ("A split hose.", False)]
    notes = [line.command for line in read(careless.path) if line.command["kind"] == "Note"]
    (note,) = [n for n in notes if n["name"] == "exercise"]
    assert note["value"]["id"] == "held-by-the-pipe" and note["value"]["set_by"] == "supervisor-1"
    assert "overdose" not in json.dumps(note)


def test_what_was_typed_stands_beside_what_was_so(finished: Debrief) -> None:
    by_what = {one.what: one for one in finished.against}
    assert by_what["before, raised"].told.endswith("mbar")
    assert "over the filter" in by_what["before, raised"].true
    assert not by_what["before, raised"].differs and not by_what["line test"].differs
    burst = by_what["burst, engine off"]
    counted, left_ml = (int(re.findall(r"\d+", text)[0]) for text in (burst.told, burst.true))
    assert 0 < left_ml <= counted and not burst.differs
    assert "% easier" in by_what["verdict"].true


def test_a_wrong_answer_about_the_vehicle_is_marked_as_different() -> None:
    job = Job(
        log=Log(
            records=(
                Recorded("line_test", {"choice": "ok"}, "line-test-blow", procedure="clean-above"),
            )
        )
    )
    (right,) = answers(job, setup_with("none"))
    (wrong,) = answers(job, setup_with("hose-split"))
    assert not right.differs and right.true == "the hose was open and whole"
    assert wrong.differs and wrong.told == "ok" and wrong.true == "the upstream hose was split"


def test_minutes_of_all_stages_add_up_to_the_job(finished: Debrief, good: Played) -> None:
    whole_min = good.session.job.log.aged_ms / 60000
    assert sum(s.practice_min for s in finished.stages) == pytest.approx(whole_min, abs=0.1)
    assert all(s.own_min is None for s in finished.stages)


def test_answers_faster_than_a_look_are_listed_by_this_computers_clock(left: Debrief) -> None:
    assert left.quick and all(0 <= quick.seconds < 1.5 for quick in left.quick)
    assert all(stage.own_min is not None for stage in left.stages)


@pytest.mark.parametrize("width", [80, 44])
def test_the_debrief_fits_the_screen_and_ranks_nobody(
    finished: Debrief, left: Debrief, width: int
) -> None:
    for debrief in (finished, left):
        lines = debrief_lines(debrief, width)
        assert lines[0].startswith("PRACTICE") and max(map(len, lines)) <= width
        text = " ".join(lines).lower()
        assert not [word for word in RANKING if re.search(rf"\b{word}\b", text)]
        assert "what was wrong with the vehicle" in text


def test_the_command_takes_the_last_practice_job_and_gives_it_as_json(
    good: Played, capsys: pytest.CaptureFixture[str]
) -> None:
    data = ["--data", str(good.folder.path.parents[1]), "debrief"]
    assert commands_debrief.debrief(parser().parse_args([*data, "--json"])) == exits.OK
    plain = json.loads(capsys.readouterr().out)
    assert plain["job"] == good.folder.id and plain["limits_ml"] == [16.2, 32.2]
    assert plain["faults"][0]["name"] == "none" and plain["faults"][0]["teaches"]


@pytest.fixture(scope="module")
def overrun(shown: Callable[[str], Played]) -> Played:
    return shown("overdose-recovered")


@pytest.mark.slow
def test_an_overdose_is_not_cranked_and_is_worked_to_one_start(overrun: Played) -> None:
    assert overrun.ended == "finished" and not overrun.vehicle.truth().damaged
    happened = [line.command.get("what") for line in read(overrun.folder.path)]
    latched = next(
        number
        for number, line in enumerate(read(overrun.folder.path))
        if any(event.get("trip") == "overdose" for event in line.outcome["events"])
    )
    turned, started = (happened.index(what, latched) for what in ("turned_even", "started"))
    assert latched < turned < started
    said = debrief_of(overrun.folder)
    (trip,) = said.trips
    assert (
        trip.trip == "overdose"
        and trip.reset_at
        and "over 250 bar, dry 39; a rod may bend" in trip.true
    )
    assert trip.answered == ("Too much fluid, or not known how much",)


@pytest.mark.slow
def test_the_stall_lesson_stalls_during_the_running_spray_and_recovers(
    shown: Callable[[str], Played],
) -> None:
    played = shown("stall-recovered")
    assert played.ended == "finished" and not played.vehicle.truth().damaged
    assert [m.kind for m in played.vehicle.truth().mishaps] == ["stall"]
    trips = debrief_of(played.folder).trips
    assert "stalled" in {trip.trip for trip in trips} and all(trip.reset_at for trip in trips)
