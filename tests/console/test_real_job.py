"""A whole real job, from choosing to signed and sealed, at a real terminal of 80 by 24.

The program is the one that a workshop starts: real clock, PIN, seal. Only the computer's clocks
are put ahead where a person would wait, and the vehicle is a simulated one that the test keeps to
itself: its readings are typed, as they would be from an instrument.
"""

import re
import shutil
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.jobs.bundle import EXAMPLES, Sources, load_bundle
from steplatch.runner.jobs.store import job_of
from steplatch.runner.record import JobFolder, find_data_folder, make_data_folder, read, verify
from steplatch.runner.record.keys import KeyFolder
from steplatch.runner.simulator.hand import Hand
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.lesson import load_lesson
from steplatch.runner.workshop.pins import Cost, PinBook

from tests.console.at_vehicle import BURST_S, BURSTS, AtVehicle
from tests.console.terminal import Program
from tests.start.terminal import Start

MOST_ANSWERS = 400
PIN = "4821"
WORKSHOP = EXAMPLES / "workshop"
TO_BEGIN = (("2", "Which vehicle?"), ("1", "Who does the work?"), ("1", "Who else stays"),
            ("1 2", "Type begin"))  # fmt: skip


def chosen_by_questions(folder: Path) -> Program:
    """``steplatch run`` without a word more: led to a real job of the apprentice."""
    shutil.copytree(WORKSHOP, folder, dirs_exist_ok=True)
    start = Start(folder, "run", module="tests.console.put_ahead")
    start.asked("What now?")
    for typed, then in TO_BEGIN:
        start.type(typed, then)
    start.keys("begin\r")
    return Program.goes_on(start.child, start.raw, start.sent)


@pytest.mark.slow
def test_a_real_job_of_two_people_is_worked_from_choosing_to_signed_and_sealed(
    quick: Path,
) -> None:
    data = find_data_folder(quick / "data", {})
    make_data_folder(data)
    PinBook(data.path / "people.json", Cost(2, 1, 1)).set_pin(
        "technician-1", "Example Technician", PIN
    )
    KeyFolder(data.path / "keys").make(bytes(range(32)))
    lesson = load_lesson(EXAMPLES / "lessons" / "good-clean.yaml")
    card = {key: text for key, text in lesson.answers.items() if isinstance(text, str)}
    bundle = load_bundle(Sources.of_folder(WORKSHOP, PROCEDURES / "clean-above.yaml"))
    vehicle = SimulatedVehicle(lesson.seed, "none", bundle.vehicle)
    hand = Hand(vehicle, bundle.limits.raised_lower.value, bundle.limits.raised_upper.value)

    program = chosen_by_questions(quick)
    program.shows("step 1 of", within=30.0)
    person = AtVehicle(program, hand, {**card, "tier": "none"}, PIN)
    counted, waited, screens = [], 0, []
    for _ in range(MOST_ANSWERS):
        try:
            screen = program.ready(within=30.0)
        except AssertionError:
            assert program.child.eof(), program.text()
            break
        screens.append(screen)
        if "It ends by itself" in screen:
            waited += 1
            person.pass_time(60.0)
            program._answered = program._sent = len(program.raw)
            continue
        typed = person.answer(program.said())
        program.send(typed)
        if typed == str(BURST_S) and "Type the seconds to spray" in screen:
            counted.append(person.burst())
    assert program.end(30.0) == exits.OK, program.text()

    (folder,) = (JobFolder(path) for path in (data.path / "jobs").iterdir())
    job = job_of(folder)
    assert job.core.ended == "finished" and not job.log.practice
    lines = list(read(folder.path))
    assert {line.envelope.actor for line in lines} >= {"apprentice-1", "technician-1"}
    signed = {(s.person, s.meaning, s.role) for s in job.log.signatures}
    assert ("technician-1", "checked", "technician") in signed
    assert ("technician-1", "released", "technician") in signed
    hows = {line.command["how"] for line in lines if line.command["kind"] == "Sign"}
    assert "pin" in hows and "practice" not in hows
    within = rf"(?<![0-9a-f.]){PIN}(?![0-9a-f])"  # a hash may hold the four digits by chance
    assert not re.search(within, folder.journal.read_text(encoding="utf-8"))
    sprays = [e["seconds"] for e in job.log.every("spray")]
    assert len(counted) == BURSTS and [float(s) for s in sprays] == counted
    assert all(2.0 < seconds < 2 * BURST_S for seconds in counted)
    assert verify(folder.path).sound and (folder.path / "seal").exists()
    sheet = (folder.path / "sheet.html").read_text(encoding="utf-8")
    assert "PRACTICE" not in sheet and "Example Technician" in sheet
    assert waited >= 2, "the zero was waited for"
    assert "PRACTICE" not in program.raw.decode("utf-8", "replace")
    assert all("s stop" in screen for screen in screens), "stop stands at every question"
    assert job.log.latest("verdict") is not None
