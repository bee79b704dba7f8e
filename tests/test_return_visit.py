"""The car that comes back: its kept set is offered, typed, corrected, compared; held is timed."""

from collections.abc import Callable
from pathlib import Path

import pytest
from steplatch.runner.core.commands import Answer, Begin, Correct
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.steps import AskStep, KeptStep, ReadStep
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.record import DataFolder
from steplatch.runner.screen.holding import HELD_S, wanted_s
from steplatch.runner.screen.recall import Recall

from tests.played import Played, Stands, bundle_from, lesson_with, play

VISIT = PROCEDURES / "return-visit.yaml"
MAIN = load_procedure(VISIT)[0]


@pytest.fixture(scope="module")
def visit(shown: Callable[[str], Played]) -> Played:
    return shown("came-back")


@pytest.fixture
def recall(good: Played) -> Recall:
    """What a job at the car of the good clean can ask of that clean."""
    data = DataFolder(good.folder.path.parent.parent, "a test")
    found = Recall(data, practice=True, job_id="another")
    found.arrives("EXAMPLE 1")
    return found


def test_the_last_set_after_the_work_is_offered_as_it_was_typed(
    recall: Recall, good: Played
) -> None:
    typed = {
        (r["phase"], r["condition"]): r["typed"] for r in good.session.job.log.every("reading")
    }
    kept = [step for step in MAIN.steps() if isinstance(step, KeptStep)]
    offered = {step.condition: recall.kept_set(step) for step in kept}
    day = good.folder.id[:10]
    assert offered == {
        "raised": (typed["road", "raised"], day),
        "idle": (typed["road", "idle"], day),
        "zero": (typed["after", "zero"], day),
    }
    asks = {step.name: step for step in MAIN.steps() if isinstance(step, AskStep)}
    assert recall.offered(asks["kept_distance"]) == ("98000 km", day)
    assert recall.offered(asks["kept_line"]) == ("differential pressure, measured", day)


def test_nothing_is_offered_for_a_car_that_was_never_here(recall: Recall) -> None:
    recall.arrives("EXAMPLE 99")
    assert recall.kept_set(next(s for s in MAIN.steps() if isinstance(s, KeptStep))) is None


def test_a_kept_set_is_not_todays_and_counts_as_no_evidence(visit: Played) -> None:
    log = visit.session.job.log
    assert len(log.every("kept")) == 3 and len(log.every("reading")) == 3
    stands = Stands(visit)
    before, after = stands.at("kept-raised"), stands.at("measure-how")
    assert before.bay.before is after.bay.before and before.bay.zero is after.bay.zero


def test_a_line_that_cannot_be_read_is_refused(visit: Played) -> None:
    stands = Stands(visit)
    job = stands.after(stands.at("kept-raised"), Begin("kept-raised"))
    outcome = stands.decide(job, Answer("kept-raised", "27 mbar"))
    assert [refusal.interlock for refusal in outcome.refusals] == ["reading"]


def test_a_corrected_kept_set_is_compared_anew(visit: Played) -> None:
    stands = Stands(visit)
    job = stands.at("tools")
    first = job.log.latest("change") or {}
    assert first["state"] == "harder"
    fix = Correct("kept", 0, "77 2374 39.7 233 87 shut", "the sheet says 77, not 27")
    again = stands.after(job, fix).log.latest("change") or {}
    assert again["before"] != first["before"] and again["state"] != "harder"


def test_without_a_kept_set_it_ends_with_a_set_to_compare_with_next_time(tmp_path: Path) -> None:
    lesson = lesson_with("came-back", answers={"kept-from": "none"})
    played = play(tmp_path, lesson, bundle_from(VISIT))
    assert played.ended == "finished"
    change = played.session.job.log.latest("change") or {}
    assert change["state"] == "cannot_say" and change["after"] is not None


def test_a_procedure_can_ask_for_a_longer_hold_and_for_no_shorter_one() -> None:
    read = next(step for step in MAIN.steps() if isinstance(step, ReadStep) and step.held)
    longer, shorter = (read.model_copy(update={"held": held}) for held in ("5 min", "10 s"))
    assert [wanted_s(step) for step in (read, longer, shorter)] == [HELD_S, 300.0, HELD_S]
