"""A real job (no practice vehicle): waits pass in their own time, and can be stopped."""

import contextlib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from steplatch.runner.cli.guided_job import keeper_for
from steplatch.runner.cli.practice_job import bundle_for
from steplatch.runner.jobs.bundle import EXAMPLES
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import DataFolder, make_data_folder
from steplatch.runner.record.clocks import PracticeClock
from steplatch.runner.screen import guide as screen_guide
from steplatch.runner.screen.context import Context, Keeper, Leave
from steplatch.runner.screen.everywhere import carry_out
from steplatch.runner.screen.guide import guide
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.training.lesson import Script, load_lesson

READINGS = {
    "before-raised": "75.9 2376 39.7 224 87 shut",
    "before-idle": "15.2 821 8.7 197 87 open",
}
WRITES = {"write": "advice", "write:text": "One steady drive a week."}


class AtTheVehicle(Script):
    """Answers as a person at a real vehicle; ``words`` are typed while it waits."""

    clock: PracticeClock
    words: list[str]
    rested_s = 0.0

    def ask(self, prompt: Prompt) -> str:
        if prompt.key == "before-ignition:outcome":
            return "leave"
        if prompt.key in WRITES:
            return WRITES[prompt.key]
        if prompt.key in READINGS:
            return READINGS[prompt.key]
        if prompt.key.endswith(":outcome"):
            good = {"ignition_on", "started", "raised", "stopped"}
            return next(c.value for c in prompt.choices if c.value in good)
        return super().ask(prompt)

    def rest(self, seconds: float, around: Prompt) -> str:
        self.said += [text for text, _ in around.lead]
        if self.words:
            self.clock.wait(5.0)
            return self.words.pop(0)
        self.clock.wait(seconds)
        self.rested_s += seconds
        return ""


def test_a_real_wait_is_not_hurried_by_a_word_and_a_stop_within_it_holds_the_job(
    quick: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lesson = load_lesson(EXAMPLES / "lessons" / "good-clean.yaml")
    bundle = bundle_for(lesson.procedure)
    data = DataFolder(quick, "a test")
    make_data_folder(data)
    clock = PracticeClock(datetime(2026, 3, 2, 9, tzinfo=UTC))
    session, folder = begin(data, bundle, clock, lesson.cast.worker, practice=False)
    talk = AtTheVehicle(lesson)
    talk.clock, talk.words = clock, ["due", "go", "?", "write", "s"]
    keeper = Keeper(keeper_for(session, folder))
    on = Context(session, talk, folder.id, keeper, None, carry_out)
    held = []
    card = screen_guide.card

    def noted(on: Context) -> None:
        held.append(session.job.core.step)
        card(on)

    monkeypatch.setattr(screen_guide, "card", noted)
    try:
        with contextlib.suppress(Leave):
            guide(on)
    finally:
        session.writer.close()
    assert held == ["before-wait"], "the stop within the wait held the job there"
    said = "\n".join(talk.said)
    assert said.count("It cannot be hurried") == 2 and "HELP on: Wait two minutes." in said
    assert session.job.core.step == "before-ignition"
    assert "USEFUL now: " in said and "KEPT   advice given to the customer" in said
    (note,) = session.job.log.every("written_ahead")
    assert note["step"] == "advice" and note["text"] == WRITES["write:text"]
    assert 95 <= talk.rested_s <= 121
    assert "PRACTICE" not in said and "(practice vehicle)" not in said


def test_how_long_revs_were_held_is_timed_and_a_set_typed_too_soon_is_said(quick: Path) -> None:
    lesson = load_lesson(EXAMPLES / "lessons" / "good-clean.yaml")
    bundle = bundle_for(lesson.procedure)
    data = DataFolder(quick, "a test")
    make_data_folder(data)
    clock = PracticeClock(datetime(2026, 3, 2, 9, tzinfo=UTC))
    session, folder = begin(data, bundle, clock, lesson.cast.worker, practice=False)
    lines: dict[str, str] = {}

    class Timed(AtTheVehicle):
        def ask(self, prompt: Prompt) -> str:
            if prompt.key in READINGS:
                self.clock.wait(45.0 if prompt.key == "before-raised" else 130.0)
                lines[prompt.key] = prompt.live()[0][0] if prompt.live is not None else ""
            return super().ask(prompt)

    talk = Timed(lesson)
    talk.clock, talk.words = clock, []
    on = Context(session, talk, folder.id, Keeper(keeper_for(session, folder)), None, carry_out)
    try:
        with contextlib.suppress(Leave):
            guide(on)
    finally:
        session.writer.close()
    assert lines == {"before-raised": "HELD   0:45 of 2:00", "before-idle": "HELD   2:00 of 2:00"}
    said = [text for text in talk.said if text.startswith("EARLY")]
    assert said == ["EARLY  held for 45 s of 120: compared wider. Read it again."]
    sets = {plain["condition"]: plain for plain in session.job.log.readings("before")}
    assert sets["raised"]["held_s"] == "45" and int(sets["idle"]["held_s"]) >= 120
