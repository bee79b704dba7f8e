"""An exercise worked by a first-time reader at a real terminal, to the debrief at its end."""

import json
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.training.memory import MEMORY_FILE

from tests.console.reader import Reader, work
from tests.console.terminal import Program

EXERCISE = EXAMPLES / "exercises" / "it-sags.yaml"
MOST_ANSWERS = 500


def begun(data: Path, *options: str) -> Program:
    program = Program(data, "practise", "--plain", "--exercise", str(EXERCISE), *options)
    first = program.ready()
    assert "EXERCISE: Spray at idle, set by supervisor-1." in first
    assert "Waits" in first and "sags-on-spray" not in first
    program.answer("1")
    return program


def plain(program: Program) -> str:
    return program.raw.decode("utf-8", "replace").replace("\r", "")


@pytest.mark.slow
def test_a_first_time_reader_works_an_exercise_to_its_end_and_reads_its_debrief(
    quick: Path,
) -> None:
    program = begun(quick)
    reader = Reader()
    for _ in range(MOST_ANSWERS):
        try:
            program.ready(within=60.0)
        except AssertionError:
            break  # the program ended
        program.send(reader.answer(program.said()))
    assert program.end(60.0) == exits.OK
    before, _, debrief = plain(program).partition("PRACTICE: debrief of")
    assert debrief and "sags-on-spray" not in before
    assert "sags-on-spray: The idle sags" in debrief
    assert "in the record: The sag, reported as a sag." in " ".join(debrief.split())
    assert "in the record: No engine-off dose, as told." in " ".join(debrief.split())


def test_an_exercise_is_noted_with_the_job_and_stopping_it_comes_back_with_its_card(
    quick: Path,
) -> None:
    program = begun(quick, "--speed", "600")
    assert "600 times" in plain(program)
    program.answer("s")
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    (folder,) = (quick / "jobs").iterdir()
    journal = (folder / "journal.jsonl").read_text(encoding="utf-8")
    assert '"exercise"' in journal and "it-sags" in journal and "sags-on-spray" not in journal
    kept = json.loads((folder / MEMORY_FILE).read_text(encoding="utf-8"))
    assert kept["about"]["lesson"] == "good-clean" and "it-sags" in kept["about"]["exercise"]
    again = Program(quick, "debrief")
    assert again.end() == exits.FAILED
    assert "--now" in plain(again) and "sags-on-spray" not in plain(again)


def test_a_job_that_is_come_back_to_passes_its_waits_as_fast_as_it_was_begun(quick: Path) -> None:
    program = begun(quick, "--speed", "600")
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    (folder,) = (quick / "jobs").iterdir()
    kept = json.loads((folder / MEMORY_FILE).read_text(encoding="utf-8"))
    assert kept["about"]["speed"] == 600.0
    again = Program(quick, "resume", "--plain")
    assert "waits pass 600 times as fast" in again.ready()
    again.send("leave")
    assert again.end() == exits.LEFT_OPEN
    kept = json.loads((folder / MEMORY_FILE).read_text(encoding="utf-8"))
    assert kept["about"]["speed"] == 600.0, "and the next time as well"


@pytest.mark.slow
def test_a_paced_wait_shows_practice_and_the_step_and_paper_is_written_in_it(quick: Path) -> None:
    program = Program(quick, "practise", "--speed", "40")
    program.ready()
    program.answer("1")
    reader = Reader()
    work(program, reader, until="DO     Stop the engine.")
    program.answer("go")
    program.send("1")
    program.shows("PRACTICE WAIT")
    assert "PRACTICE  8/" in program.text() and "DO     Wait two minutes." in program.text()
    assert "USEFUL now: " in program.text()
    program.answer("write")
    program.answer("4")
    program.send("short trips")
    program.shows("KEPT   what filled it")
    program.shows("The time is over", within=20.0)
    program.ready()
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    (folder,) = (quick / "jobs").iterdir()
    assert '"written_ahead"' in (folder / "journal.jsonl").read_text(encoding="utf-8")
