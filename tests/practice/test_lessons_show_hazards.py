"""Every hazard of the register is shown by a lesson: what people are told before it, and what the
vehicle does where a fault is behind it."""

from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

import pytest
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.safety.registers.cautions import CAUTIONS
from steplatch.safety.registers.hazards import HAZARDS

from tests.played import Played, bundle_from, lesson_with, play

GOOD = "good-clean"
LESSONS: dict[str, str] = {
    GOOD: """hydraulic-lock partial-lock stall-in-spray hot-flash stop-start fluid-vapour
        burn-in-hold turbocharger noise sensor-wetted hose-off battery road-test foam over-revs""",
    "not-with-this-car": """low-loop hot-sensor-wetted ammonia raised-vehicle vehicle-moves
        moving-parts self-start fumes runaway oil-diluted burns drains urea stub wrong-sensor
        filter-broken reliance handed-over-latched""",
    "gun-drifts": """gun-stays-open injection fluid-contact false-evidence alone-or-young
        wrong-vehicle""",
    "burn-watched": "fire",
    "ash-laden": "line-keeps-fluid",
}  # fmt: skip
"""By lesson the hazards that it shows: the shortest that does."""

NO_LESSON = {
    "check-outlived": "a lesson's people sign once, and nothing moves behind their back",
    "interruption": "a lesson plays itself to its end; resuming is tried at the keyboard",
}

SEEN: dict[str, tuple[str, str]] = {
    "line-holds": ("ash-laden", "run out of the line into the jug"),
    "gun-drips": ("gun-drifts", "Let go, it goes on dripping into the jug."),
    "low-loop-open": ("not-with-this-car", "from behind it to the compressor, valve open"),
}
"""A fault of the practice vehicle behind a hazard: the lesson, and what is seen of it there."""


@pytest.fixture(scope="module")
def screen(good: Played) -> Callable[[str], str]:
    """What the screen said in a lesson, as one line of words."""

    @cache
    def said(name: str) -> str:
        lesson = lesson_with(name)
        procedure = bundle_from(PROCEDURES / f"{lesson.procedure}.yaml")
        played = good if name == GOOD else play(Path(mkdtemp()), lesson, procedure)
        assert played.ended == lesson.expected.ended
        return " ".join(" ".join(played.talk.said).split())

    return said


def test_each_hazard_has_its_lesson_or_a_reason() -> None:
    shown = [hazard for hazards in LESSONS.values() for hazard in hazards.split()]
    assert len(set(shown)) == len(shown)
    assert {*shown, *NO_LESSON} == {hazard.id for hazard in HAZARDS}


@pytest.mark.parametrize("lesson", LESSONS)
def test_a_lesson_tells_the_hazards_that_it_shows(
    lesson: str, screen: Callable[[str], str]
) -> None:
    told = screen(lesson)
    hazards = {hazard.id: hazard for hazard in HAZARDS}
    for name in LESSONS[lesson].split():
        cautions = [CAUTIONS[caution] for caution in hazards[name].cautions]
        assert any(c.hazard in told and c.consequence in told for c in cautions), name


@pytest.mark.parametrize("fault", SEEN)
def test_what_a_fault_does_is_seen_in_its_lesson(fault: str, screen: Callable[[str], str]) -> None:
    lesson, words = SEEN[fault]
    assert fault in lesson_with(lesson).faults
    assert words in screen(lesson)
