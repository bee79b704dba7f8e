"""Whole practice jobs through a real terminal: what is needed stands on the screen."""

import statistics
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.guided_job import keeper_for
from steplatch.runner.cli.practice_job import bundle_for, hand_of
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import DataFolder, make_data_folder
from steplatch.runner.screen.context import Context, Keeper
from steplatch.runner.screen.everywhere import carry_out
from steplatch.runner.screen.guide import guide
from steplatch.runner.screen.terminal import keyboard, keys
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.lesson import Script, load_lesson

from tests.console.reader import Reader
from tests.console.terminal import Program, Screen, Typist, begun

NEXT_STEP_S = 0.3
KEY_S = 0.1


def _played(tmp_path: Path, columns: int, rows: int, lesson_name: str) -> tuple[str, Typist]:
    lesson = load_lesson(EXAMPLES / "lessons" / f"{lesson_name}.yaml")
    bundle = bundle_for(lesson.procedure)
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    data = DataFolder(tmp_path, "a test")
    make_data_folder(data)
    clock = VehicleClock(datetime(2026, 3, 2, 9, tzinfo=UTC), vehicle)
    session, folder = begin(data, bundle, clock, lesson.cast.worker, practice=True)
    screen = Screen(columns, rows)
    typist = Typist(screen, Script(lesson, width=columns))
    keeper, hand = Keeper(keeper_for(session, folder)), hand_of(bundle, vehicle)
    on = Context(session, typist, folder.id, keeper, hand, carry_out)
    try:
        return guide(on), typist
    finally:
        session.writer.close()
        screen.close()


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal that scrolls; a paste is told from typing sooner, to save the time."""
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setattr(keyboard, "PASTE_S", 0.002)
    monkeypatch.setattr(keys, "PASTE_S", 0.002)


def test_on_a_small_screen_instruction_limit_stall_line_and_stop_word_stand_at_each_question(
    quick: Path, terminal: None
) -> None:
    ended, typist = _played(quick, 44, 12, "stall-recovered")
    assert ended == "finished"
    lost = []
    for prompt, shown in typist.seen:
        flat = " ".join(shown.split())
        needed = ["s stop"]
        needed += [" ".join(text.split()) for text, style in prompt.lead if style == "do"]
        needed += [text for text, _ in prompt.foot]
        if prompt.key.endswith("-spray"):
            needed.append("mL counted")
        lost += [f"{prompt.key}: {words}" for words in needed if words not in flat]
    assert lost == []
    assert all(part.rstrip().endswith("Enter reads on") for part in typist.parts)
    keys = [p.key for p, _ in typist.seen]
    first, last = keys.index("run-spray:outcome"), keys.index("after-stop:outcome")
    silent = [
        prompt.key
        for prompt, shown in typist.seen[first:last]
        if "IF IT STALLS NOW" not in shown and "MAY I START?" not in shown
    ]
    assert silent == [], "once fluid is in, the stall or start line is shown at every question"


def test_key_echo_and_next_question_come_soon_with_every_line_safe_on_disk(
    tmp_path: Path,
) -> None:
    program = begun(tmp_path)
    reader = Reader()
    keys, steps = [], []
    for _ in range(20):
        program.ready()
        typed = reader.answer(program.said())
        column = program.screen.cursor.x
        started = time.monotonic()
        program.child.send(typed[:1])
        while program.screen.cursor.x == column:
            program.pump(0.002)
        keys.append(time.monotonic() - started)
        started = time.monotonic()
        program.send(typed[1:])
        program.ready()
        steps.append(time.monotonic() - started)
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN
    assert statistics.median(keys) < KEY_S, keys
    assert statistics.median(steps) < NEXT_STEP_S, steps
    print(
        f"key {max(keys) * 1e3:.0f} ms, step median {statistics.median(steps) * 1e3:.0f} ms, "
        f"slowest {max(steps) * 1e3:.0f} ms"
    )


def test_on_the_smallest_terminal_the_first_question_can_be_read_and_stopped(quick: Path) -> None:
    program = Program(quick, "practise", columns=30, rows=10)
    assert "s to stop" in " ".join(program.ready().split())
    program.send("s")
    assert program.end() == exits.STOPPED
