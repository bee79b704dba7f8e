"""A step is named by its procedure and its id: the same id stands in several procedures."""

from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from steplatch.runner.core.codec import decode_event
from steplatch.runner.core.events import (
    Begun,
    Done,
    Event,
    MarkedNotApplicable,
    Moved,
    Recorded,
    Signed,
)
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.record import read
from steplatch.runner.screen.screen import done_text

from tests.played import Played

AT_A_STEP = (Begun, Done, Recorded, Signed, MarkedNotApplicable)


@pytest.fixture(scope="module")
def recovered(shown: Callable[[str], Played]) -> Played:
    """A lesson that leaves the main procedure and clears the line in the other one."""
    return shown("overdose-recovered")


def told(played: Played) -> Iterator[tuple[str, Event, Job]]:
    """Every recorded event, with the procedure that was worked then and the job after it."""
    job, procedure = Job(), ""
    for line in read(played.folder.path):
        for plain in line.outcome["events"]:
            event = decode_event(plain)
            job = evolve(job, event)
            yield procedure, event, job
            if isinstance(event, Moved):
                procedure = event.procedure


def test_no_two_steps_share_a_key_though_many_share_an_id(good: Played) -> None:
    plan = good.session.plan
    keys = [(p.id, step.id) for p in plan.procedures for step in p.steps()]
    assert len(set(keys)) == len(keys)
    shared = [step for step, count in Counter(step for _, step in keys).items() if count > 1]
    assert "clear" in shared
    for procedure, step in keys:
        found = plan.step(procedure, step)
        assert found is plan.procedure(procedure).step(step)
    assert plan.step("no-such-procedure", "clear") is None


@pytest.mark.parametrize("lesson", ["good", "recovered"])
def test_what_is_recorded_at_a_step_names_the_procedure_that_was_worked(
    lesson: str, request: pytest.FixtureRequest
) -> None:
    played: Played = request.getfixturevalue(lesson)
    found = [(procedure, event) for procedure, event, _ in told(played)]
    named = [(procedure, event) for procedure, event in found if isinstance(event, AT_A_STEP)]
    assert len(named) > 100
    for procedure, event in named:
        assert event.procedure == procedure, event
        assert played.session.plan.step(procedure, event.step) is not None, event


@pytest.mark.parametrize("lesson", ["good", "recovered"])
def test_every_done_line_names_the_step_that_was_done(
    lesson: str, request: pytest.FixtureRequest
) -> None:
    played: Played = request.getfixturevalue(lesson)
    plan = played.session.plan
    seen = set()
    for procedure, event, job in told(played):
        if not isinstance(event, Done):
            continue
        done = plan.procedure(procedure).step(event.step)
        text = done_text(plan, job.log.marks[-1])
        assert text.startswith(f"{done.do.rstrip('.')}: "), (procedure, event)
        seen.add((procedure, event.step))
    assert lesson == "good" or ("recovery-overdose", "clear") in seen


def test_the_screen_of_a_played_lesson_names_the_line_that_was_cleared(recovered: Played) -> None:
    """The bare id 'clear' is also the clearing of the codes, which stands first."""
    done = [t for t in recovered.talk.said if t.startswith("DONE") and "blown clear" in t]
    assert done and all("Blow the hose clear" in text for text in done)
