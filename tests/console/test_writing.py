"""Paper written in a wait: kept with its own time, answered in its turn, never out of order."""

from typing import Any

import pytest
from steplatch.runner.core.steps import AskStep
from steplatch.runner.record import read
from steplatch.runner.screen.meanwhile import NOTE, WRITTEN_AHEAD, writable, written
from steplatch.runner.training.lesson import Script
from steplatch.safety.bay import FACTS

from tests.played import Played, Stands, lesson_with, play

CAUSE = "short trips, and a leaking injector that is mended"
PRICE = "the price told on the phone, in writing"


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """A good clean whose apprentice writes in the first wait and keeps it later."""
    lesson = lesson_with(
        answers={
            "before-wait": ("write", "write", "write", "due"),
            "write": ("cause-text", "price", "root-cause"),
            "write:text": (CAUSE, PRICE),
            "write:choice": "mended",
            "cause-text": "=",
            "price": "not " + PRICE,
            "before-ignition:outcome": ("write", "ignition_on"),
        }
    )
    talk = Script(lesson)
    return play(tmp_path_factory.mktemp("written"), lesson, talk=talk)


def _lines(played: Played) -> list[Any]:
    return list(read(played.folder.path))


def test_what_was_written_in_a_wait_is_a_note_with_its_own_time_before_its_step(
    played: Played,
) -> None:
    lines = _lines(played)
    notes = [n for n in lines if n.command.get("name") == NOTE]
    assert [n.command["value"]["step"] for n in notes] == [
        *("cause-text", "price", "root-cause"),
    ]
    answered = {
        e["step"]: line.envelope
        for line in lines
        for e in line.outcome["events"]
        if e["kind"] == "Done"
    }
    for note in notes:
        step = note.command["value"]["step"]
        assert note.envelope.seq < answered[step].seq
        assert note.envelope.times.utc < answered[step].times.utc
        assert note.envelope.times.utc[11:13] == note.command["value"]["at"][:2]
    in_wait = [line.envelope.seq for line in lines if line.command.get("step") == "before-wait"]
    assert in_wait[0] < notes[0].envelope.seq < notes[-1].envelope.seq < in_wait[-1]


def test_keep_answers_a_step_with_what_was_written_and_anything_else_replaces_it(
    played: Played,
) -> None:
    log = played.session.job.log
    assert played.ended == "finished"
    assert log.latest("root_cause_text") == {"text": CAUSE}
    assert log.latest("price") == {"text": "not " + PRICE}
    said = "\n".join(played.talk.said)
    assert f"  {CAUSE}" in said and "WRITTEN " in said
    assert "KEPT   " in said


def test_the_steps_keep_their_order_whatever_was_written_ahead(played: Played) -> None:
    order = [step.id for step in played.session.plan.main.steps()]
    done = [mark.step for mark in played.session.job.log.marks]
    assert done == sorted(done, key=order.index)


def test_outside_a_wait_nothing_is_written_ahead(played: Played) -> None:
    assert "Paper is written ahead while something cools" in "\n".join(played.talk.said)


def test_only_paper_on_which_nothing_rests_can_be_written_ahead(played: Played) -> None:
    plan = played.session.plan
    asks = {s.name: s for s in plan.steps() if isinstance(s, AskStep)}
    assert set(asks) >= WRITTEN_AHEAD, "each is asked for by a step"
    assert not WRITTEN_AHEAD & plan.branches_on and not WRITTEN_AHEAD & set(FACTS)
    assert not any(asks[name].personal for name in WRITTEN_AHEAD)
    bay = ("tools_counted", "leaks_seen", "codes_after", "oil_after", "agreed_how", "line_test")
    assert not WRITTEN_AHEAD & set(bay)


def test_what_is_written_is_offered_until_its_step_is_past(played: Played) -> None:
    stands = Stands(played)
    early, late = stands.at("before-zero-read"), stands.at("verdict-judge")
    main = played.session.plan.main
    assert {"cause-text", "price", "waste", "advice"} <= {s.id for s in writable(main, early)}
    assert {s.id for s in writable(main, late)} == {"advice", "return-date"}
    step = main.step("cause-text")
    assert isinstance(step, AskStep)
    assert written(stands.at("before-wait"), step) is None
    there = written(early, step)
    assert there is not None and there[0] == CAUSE
