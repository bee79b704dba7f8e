"""Whole practice jobs through a real terminal: what is needed stands on the screen."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from runner.bundle import EXAMPLES
from runner.console.guide import Guide, Keeper
from runner.practice.hand import VehicleClock
from runner.practice.lesson import ScriptTalk, load_lesson
from runner.practice.play import bundle_for, hand_of
from runner.practice.vehicle import SimulatedVehicle
from runner.real import keeper_for
from runner.record import DataFolder, make_data_folder
from runner.store import begin
from tests.console.terminal import Screen, Typist


def _played(tmp_path: Path, columns: int, rows: int, lesson_name: str) -> tuple[str, Typist]:
    lesson = load_lesson(EXAMPLES / "lessons" / f"{lesson_name}.yaml")
    bundle = bundle_for(lesson.procedure)
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    data = DataFolder(tmp_path, "a test")
    make_data_folder(data)
    clock = VehicleClock(datetime(2026, 3, 2, 9, tzinfo=UTC), vehicle)
    session, folder = begin(data, bundle, clock, lesson.cast.worker, practice=True)
    screen = Screen(columns, rows)
    typist = Typist(screen, ScriptTalk(lesson, width=columns))
    guide = Guide(
        session, typist, folder.id, Keeper(keeper_for(session, folder)), hand_of(bundle, vehicle)
    )
    try:
        return guide.run(), typist
    finally:
        session.writer.close()
        screen.close()


@pytest.mark.parametrize(
    ("columns", "rows", "lesson"), [(80, 24, "good-clean"), (44, 12, "stall-recovered")]
)
def test_a_whole_job_can_be_worked_with_the_instruction_and_the_stop_word_on_the_screen(
    tmp_path: Path, quick: Path, columns: int, rows: int, lesson: str
) -> None:
    ended, typist = _played(quick, columns, rows, lesson)
    assert ended == "finished"
    lost = []
    for prompt, shown in typist.seen:
        if "s stop" not in shown:
            lost.append(f"{prompt.key}: the stop word")
        if prompt.kind == "choice" and not all(
            _start(c.say) in " ".join(shown.split()) for c in prompt.choices[-2:]
        ):
            lost.append(f"{prompt.key}: the last answers")
    assert lost == []


def _start(text: str) -> str:
    return " ".join(text.split()[:2])


def test_once_fluid_is_in_the_stall_or_start_line_is_shown_with_every_step(
    quick: Path,
) -> None:
    _, typist = _played(quick, 80, 24, "good-clean")
    shown = {p.key: text for p, text in typist.seen}
    for key in ("off-soak", "run-idle", "run-spray", "hold-level"):
        assert "IF IT STALLS NOW" in shown[key] or "MAY I START?" in shown[key], shown[key]
