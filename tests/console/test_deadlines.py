"""By when a step has to be done, and why it is done, stand beside its instruction."""

import re
from dataclasses import replace

import pytest
from steplatch.runner.core.engine import PERMIT_S, ROAD_PERMIT_S
from steplatch.runner.core.job import Job
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.steps import ActStep, HoldStep, SignStep, SprayStep, TemperatureStep
from steplatch.runner.input.shelf import procedure_files
from steplatch.runner.screen.deadlines import (
    LATER,
    SHORT_S,
    by_lines,
    permit_left_s,
    permit_lines,
    soonest,
)
from steplatch.runner.screen.reasons import BY_ACT, BY_MEANING, reason_for
from steplatch.runner.screen.talk import Prompt
from steplatch.safety.bay import Act
from steplatch.safety.effects import LASTS_S

from tests.each import each
from tests.played import Stands

SHIPPED = [load_procedure(path)[0] for path in procedure_files()]
CRITICAL = (ActStep, SprayStep, HoldStep, TemperatureStep, SignStep)
VAGUE = re.compile(r"\b(slowly|carefully|properly|quickly|adequately|as needed)\b")


def aged(job: Job, seconds: float) -> Job:
    return replace(job, log=replace(job.log, aged_ms=job.log.aged_ms + round(seconds * 1000)))


def test_a_permit_says_until_when_it_stands_and_what_to_do_later(stands: Stands) -> None:
    permitted = next(job for job in stands.jobs if job.bay.permit is Act.START)
    left_s = permit_left_s(permitted)
    assert left_s == pytest.approx(PERMIT_S)
    assert permit_left_s(aged(permitted, 100.0)) == pytest.approx(PERMIT_S - 100.0)
    driving = next(job for job in stands.jobs if job.bay.permit is Act.ROAD_TEST)
    assert permit_left_s(driving) == pytest.approx(ROAD_PERMIT_S)
    assert permit_left_s(stands.at("crew")) is None
    now = permitted.log.last
    assert now is not None and permit_lines(stands.at("crew"), now) == ()
    ((text, _),) = permit_lines(permitted, now)
    assert re.match(r"BY     \d\d:\d\d; later it is no longer permitted: ask again\.", text)


def test_a_spray_says_by_when_the_temperature_has_to_be_measured_again(stands: Stands) -> None:
    job = stands.at("off-spray")
    found = soonest(job, Act.SPRAY_OFF)
    assert found is not None and found[0] == "port" and 0 < found[1] <= LASTS_S["port"]
    later = soonest(aged(job, 60.0), Act.SPRAY_OFF)
    assert later is not None and later[1] == pytest.approx(found[1] - 60.0)
    now, step = job.log.last, stands.plan.main.step("off-spray")
    assert now is not None
    ((text, _),) = by_lines(job, step, now)
    assert re.match(r"BY     \d\d:\d\d; later measure the exhaust again\.", text)
    assert by_lines(job, stands.plan.main.step("waste"), now) == ()


def test_each_fact_that_is_counted_down_says_what_to_do_later() -> None:
    short = {fact for fact, lasts_s in LASTS_S.items() if lasts_s <= SHORT_S}
    assert short == set(LATER)


def test_deadlines_stand_with_the_questions_of_a_whole_job(clean_prompts: list[Prompt]) -> None:
    having = {p.key for p in clean_prompts if any(text.startswith("BY ") for text, _ in p.lead)}
    acts = {p.key for p in clean_prompts if p.key.endswith(":outcome") and "spray" not in p.key}
    assert acts <= having
    assert {"off-spray", "off-turn:outcome", "run-spray"} <= having


@each("procedure", SHIPPED, ids=lambda p: p.id)
def test_every_critical_step_carries_a_why_of_its_own_or_of_its_kind(procedure: object) -> None:
    steps = [s for s in procedure.steps() if isinstance(s, CRITICAL)]  # type: ignore[attr-defined]
    assert [s.id for s in steps if not (s.why or reason_for(s))] == []
    assert all(not reason_for(s) for s in steps if s.why), "a step's own why comes first"


def test_a_reason_is_one_line_without_vague_words() -> None:
    for text in (*BY_ACT.values(), *BY_MEANING.values()):
        assert len(text.split()) <= 20 and text.endswith(".") and not VAGUE.search(text)
