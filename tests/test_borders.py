"""Where a number becomes a class: each border is tried on it, just below and just above.

The limits of a job are its recorded numbers, so that a check sets its own and the value that the
shipped vehicle happens to have does not matter. ``tests/mutation/test_borders_bite.py`` moves each
border and wants the check of its function to fail.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from steplatch.runner.assess.judges import facts_of, trend_of
from steplatch.runner.core.commands import Answer, Begin
from steplatch.runner.core.draft import Draft, No
from steplatch.runner.core.engine import Outcome
from steplatch.runner.core.events import Recorded, TimerSet
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.steps import AskStep, ReportStep
from steplatch.runner.core.steps.ask import COUNT, LineField, Option
from steplatch.runner.core.timers import NOT_DUE_MS
from steplatch.runner.workshop.files import load_vehicle
from steplatch.safety.bay import Burning, Engine, Port, RunOn, Soak, Touch, Trip, Zero

from tests.played import Stands
from tests.procedure_walk import ROOT

VEHICLE = load_vehicle(ROOT / "examples" / "workshop" / "vehicle.yaml")[0]


def codes(outcome: Outcome) -> set[str]:
    return {r.interlock for r in outcome.refusals}


def with_numbers(job: Job, **numbers: float) -> Job:
    text = {name: repr(value) for name, value in numbers.items()}
    return replace(job, log=replace(job.log, numbers={**job.log.numbers, **text}))


def with_bay(job: Job, **facts: Any) -> Job:
    return replace(job, core=replace(job.core, bay=replace(job.core.bay, **facts)))


# -- reading_steps -------------------------------------------------------------------------------


def zero_band(stands: Stands) -> None:
    """-10 to +5 mbar, both ends taken; outside it no 'before' set is good."""
    job = with_numbers(
        stands.at("before-zero-read", begun=True), zero_low_pa=-1000, zero_high_pa=500
    )
    for typed, zero in (
        ("-10", Zero.GOOD), ("-10.1", Zero.OUT), ("-90", Zero.OUT),
        ("5", Zero.GOOD), ("5.1", Zero.OUT), ("90", Zero.OUT), ("0", Zero.GOOD),
        ("x", Zero.OUT),
    ):  # fmt: skip
        after = stands.after(job, Answer("before-zero-read", f"{typed} 0 x x x x"))
        assert after.bay.zero is zero, typed
        assert (after.bay.before.value == "good") is (zero is Zero.GOOD), typed


def rev_ceiling(stands: Stands) -> None:
    """A set read on the ceiling is taken; above it the job trips and the step is not done."""
    at = stands.at("before-raised", begun=True)
    job = with_numbers(at, rev_ceiling_rpm=2300)
    for rpm, over in ((2299, False), (2300, False), (2301, True)):
        after = stands.after(job, Answer("before-raised", f"90 {rpm} 40 180 86 open"))
        assert (Trip.OVER_CEILING in after.bay.trips) is over, rpm
        assert (after.core.procedure == "recovery-over-ceiling") is over, rpm


def exhaust_classes(stands: Stands) -> None:
    port_classes(stands)
    touch_classes(stands)


def port_classes(stands: Stands) -> None:
    """Cool up to and with its limit, warm up to and with the next, hot above."""
    job = with_numbers(stands.at("run-temp", begun=True), port_cool_k=323.15, port_warm_k=373.15)
    for typed, port in (
        ("49.9", Port.COOL), ("50", Port.COOL), ("50.1", Port.WARM), ("99.9", Port.WARM),
        ("100", Port.WARM), ("100.1", Port.HOT), ("400", Port.HOT),
    ):  # fmt: skip
        after = stands.after(job, Answer("run-temp", typed))
        assert after.bay.port is port, typed
        assert (after.core.step == "run-temp") is (port is Port.HOT), typed


def touch_classes(stands: Stands) -> None:
    """Bare hands up to and with their limit, gloved up to and with the next, none above."""
    job = with_numbers(stands.at("line-cool", begun=True), touch_k=323.15, gloved_k=353.15)
    for typed, touch in (
        ("20", Touch.BARE), ("49.9", Touch.BARE), ("50", Touch.BARE), ("50.1", Touch.GLOVED),
        ("79.9", Touch.GLOVED), ("80", Touch.GLOVED), ("80.1", Touch.HOT), ("400", Touch.HOT),
    ):  # fmt: skip
        after = stands.after(job, Answer("line-cool", typed))
        assert after.bay.touch is touch, typed


# -- steps ---------------------------------------------------------------------------------------


def band_under_ceiling(stands: Stands) -> None:
    """The raised band may reach the ceiling, and not pass it."""
    job = stands.at("hold-raise")
    for high, fits in ((2299.0, True), (2300.0, True), (2301.0, False)):
        outcome = stands.decide(
            with_numbers(job, revs_high_rpm=high, rev_ceiling_rpm=2300), Begin("hold-raise")
        )
        assert outcome.refused is not fits, high


def asked_step(**fields: Any) -> AskStep:
    return AskStep.model_construct(
        id="asked", kind="ask", do="Say.", name="asked", when=(), options=(), low=None, high=None,
        quantity=None, want=(),
    ).model_copy(update=fields)  # fmt: skip


def taken(step: AskStep, value: str) -> bool:
    try:
        step.recorded(value)
    except No:
        return False
    return True


def found_wrong(step: AskStep) -> list[tuple[str | int, ...]]:
    found: list[tuple[str | int, ...]] = []
    step.problems(lambda key, problem, remedy: found.append(key))
    return found


def choices_to_choose_from(stands: Stands) -> None:
    """A choice has two answers at least."""
    options = tuple(Option(value=f"answer-{n}", say="Say it.") for n in range(3))
    for count, fits in ((0, False), (1, False), (2, True), (3, True)):
        step = asked_step(form="choice", options=options[:count])
        assert (found_wrong(step) == []) is fits, count


def bounds_in_order(stands: Stands) -> None:
    """The lower bound of a number may be the upper one, and not above it."""
    for low, fits in (("3.9 bar", True), ("4 bar", True), ("4.1 bar", False)):
        step = asked_step(form="number", quantity="pressure", low=low, high="4 bar")
        assert (found_wrong(step) == []) is fits, low


def typed_answers(stands: Stands) -> None:
    """A text has two letters at least; a number lies in its band, both ends taken."""
    text = asked_step(form="text")
    assert [taken(text, t) for t in ("a", "ab", "abc")] == [False, True, True]
    number = asked_step(form="number", quantity="pressure", low="2 bar", high="4 bar")
    values = {"1.99 bar": False, "2 bar": True, "3 bar": True, "4 bar": True, "4.01 bar": False}
    assert {v: taken(number, v) for v in values} == values
    for ends in ({"low": "2 bar"}, {"high": "4 bar"}):
        one = asked_step(form="number", quantity="pressure", **ends)
        assert taken(one, "1 bar") is ("low" not in ends)
        assert taken(one, "5 bar") is ("high" not in ends)


def years(stands: Stands) -> None:
    """0 to 60 years, both taken."""
    step = asked_step(form="number", quantity="years")
    values = {"-0.1": False, "0": True, "60": True, "60.1": False}
    assert {v: taken(step, v) for v in values} == values


def fields_of_a_line(stands: Stands) -> None:
    """As many numbers as there are fields, or fewer; never one more."""
    two = tuple(LineField(name=name, quantity=COUNT) for name in ("first", "second"))
    step = asked_step(form="fields", fields=two)
    values = {"none": True, "1": True, "1 2": True, "1 2 3": False}
    assert {v: taken(step, v) for v in values} == values


def counts(stands: Stands) -> None:
    """A whole number from 0 to a million, both taken."""
    step = asked_step(form="fields", fields=(LineField(name="first", quantity=COUNT),))
    values = {"-1": False, "0": True, "0.5": False, "1000000": True, "1000001": False}
    assert {v: taken(step, v) for v in values} == values


def waits(stands: Stands) -> None:
    zero_wait(stands)
    soak_wait(stands)


def zero_wait(stands: Stands) -> None:
    """A wait is over when nothing of it is left, and not a millisecond before."""
    job = stands.at("before-wait", begun=True)
    for left_ms, over in ((1, False), (0, True), (-1, True)):
        timers = {**job.log.timers, "zero": job.log.waited_ms + left_ms}
        now = replace(job, log=replace(job.log, timers=timers))
        outcome = stands.decide(now, Answer("before-wait", "due"), seconds=0.0)
        assert ("not-due" in codes(outcome)) is not over, left_ms


def soak_wait(stands: Stands) -> None:
    """The soak is over when the bay says that it is due; the timer alone does not end it."""
    job = stands.at("off-soak", begun=True)
    for soak, over in ((Soak.RUNNING, False), (Soak.DUE, True)):
        timers = {**job.log.timers, "soak": job.log.waited_ms + 10_000}
        now = with_bay(replace(job, log=replace(job.log, timers=timers)), soak=soak)
        outcome = stands.decide(now, Answer("off-soak", "due"), seconds=0.0)
        assert ("not-due" in codes(outcome)) is not over, soak


def drained(stands: Stands) -> None:
    """From nothing to 5 L may be drained into the jug."""
    job = stands.at("hold-level", last=True)
    step = ReportStep.model_construct(
        id="drain", kind="report", do="Drain.", happenings=("drained",), want=(), when=()
    )
    for typed, fits in (
        ("-0.1 mL", False), ("0 mL", True), ("0.1 mL", True), ("5000 mL", True),
        ("5000.1 mL", False),
    ):  # fmt: skip
        try:
            step.answer(Draft(stands.plan, job, "apprentice-1"), f"drained {typed}")
        except No:
            assert not fits, typed
        else:
            assert fits, typed


# -- the hold ------------------------------------------------------------------------------------


def noted(job: Job, *points: tuple[float, float]) -> Job:
    """A hold begun at the earliest point with these (minutes, mbar) noted; drying is over."""
    log = job.log
    records = tuple(r for r in log.records if r.name not in ("trend", "plateau"))
    records += tuple(
        Recorded("trend", {"at_ms": 1_000_000 + round(m * 60_000), "pa": repr(p * 100.0),
                           "typed": ""}, "hold-level", procedure="clean-above")
        for m, p in points
    )  # fmt: skip
    timers = {**log.timers, "hold_from": 1_000_000}
    return with_bay(replace(job, log=replace(log, records=records, timers=timers)),
                    run_on=RunOn.DONE)  # fmt: skip


FALLING = ((0, 120), (1, 104), (2, 92), (3, 82), (4, 75), (5, 69), (6, 64), (7, 61), (8, 58))
"""Minutes and mbar: 50 mbar + 70 mbar e^(-t / 4 min), shown in whole mbar; 8 mbar are left."""
LEVEL = ((0, 90), (1, 70), (2, 60), (3, 55), (4, 52), *((m, 50 + (m == 9)) for m in range(5, 16)))
"""Fell by half every minute, then 50 mbar for ten."""


def hold_until_level(stands: Stands) -> None:
    """A pressure that still falls is never taken as level, whatever is typed."""
    at = stands.at("hold-level", begun=True)
    falls = stands.decide(noted(at, *FALLING), Answer("hold-level", "done"), seconds=0.0)
    assert "still-falling" in codes(falls)
    (found,) = (e for e in falls.events if isinstance(e, Recorded) and e.name == "plateau")
    assert found.value["state"] == "falling" and float(found.value["chance_falling_share"]) > 0.9
    level = stands.decide(noted(at, *LEVEL), Answer("hold-level", "done"), seconds=0.0)
    (found,) = (e for e in level.events if isinstance(e, Recorded) and e.name == "plateau")
    assert not level.refused and found.value["state"] == "levelled"
    unseen = stands.decide(noted(at), Answer("hold-level", "done"), seconds=0.0)
    (found,) = (e for e in unseen.events if isinstance(e, Recorded) and e.name == "plateau")
    assert not unseen.refused and (found.value["state"], found.value["why"]) == ("not_shown", "few")
    for said, dry in ((unseen, None), (level, "yes")):
        job = noted(at)
        for event in said.events:
            job = evolve(job, event)
        assert facts_of(job).get("filter_dry") == dry, "the timer alone does not show it dry"
    for run_on, why in ((RunOn.RUNNING, "was not read in this run"), (RunOn.UNKNOWN, "cut short")):
        wet = stands.decide(
            with_bay(noted(at, *LEVEL), run_on=run_on), Answer("hold-level", "done"), seconds=0.0
        )
        (refusal,) = wet.refusals
        assert refusal.interlock == "not-dry" and why in refusal.reason
        assert ("Begin" in refusal.remedy) is (run_on is not RunOn.RUNNING)
    later = stands.decide(noted(at, *FALLING), Answer("hold-level", "57"), seconds=0.0)
    assert not later.refused
    assert any(isinstance(e, Recorded) and e.name == "trend" for e in later.events)


def timed_run(stands: Stands, due_ms: int) -> Job:
    """A drying run whose timer is due then, its exhaust read as hot."""
    job = noted(stands.at("hold-level", begun=True))
    timers = {**job.log.timers, "run_on": due_ms, "run_from": 0}
    job = replace(job, log=replace(job.log, timers=timers))
    return with_bay(job, run_on=RunOn.RUNNING, port=Port.HOT)


def run_counts_from_the_first_reading(stands: Stands) -> None:
    """Only the first reading of the exhaust in a run sets from when it counts."""
    for due_ms, first in ((NOT_DUE_MS, True), (NOT_DUE_MS - 1, False)):
        job = timed_run(stands, due_ms)
        read = stands.decide(job, Answer("hold-level", "300 degC"), seconds=0.0)
        set_now = [e.name for e in read.events if isinstance(e, TimerSet)]
        assert ("run_from" in set_now) is first, due_ms


def says_what_dry_lacks(stands: Stands) -> None:
    """While nothing was read the run has no end; afterwards what is left of it is said."""
    for due_ms, unread in ((NOT_DUE_MS, True), (NOT_DUE_MS - 1, False)):
        job = timed_run(stands, due_ms)
        (refusal,) = stands.decide(job, Answer("hold-level", "done"), seconds=0.0).refusals
        assert (("case", "unread") in refusal.about) is unread, due_ms


def trend_since_the_hold(stands: Stands) -> None:
    """What was noted before this hold began is not part of it; what was noted then is."""
    before = tuple((m - 20.0, 200.0 - 9 * m) for m in range(12))
    job = noted(stands.at("hold-level", begun=True), *before, *LEVEL)
    assert trend_of(job, VEHICLE)["state"] == "levelled"
    assert trend_of(noted(job, *LEVEL[:5]), VEHICLE)["state"] != "levelled"
    assert trend_of(noted(job), VEHICLE)["why"] == "few"
    for first_ms, counts in ((-1, False), (0, True), (1, True)):  # the fifth makes it enough
        five = ((first_ms / 60_000, 50.0), *((m / 2, 50.0 - 5 * m) for m in range(1, 5)))
        assert (trend_of(noted(job, *five), VEHICLE)["why"] != "few") is counts, first_ms


def cooled_since_it_stopped(stands: Stands) -> None:
    """Measured cool after the engine stopped, soot does not burn; measured before, nobody knows."""
    at = stands.at("run-temp", begun=True)
    for engine, measured_ms, said in (
        (Engine.STOPPED, 4_999, None), (Engine.STOPPED, 5_000, "no"), (Engine.STOPPED, 5_001, "no"),
        (Engine.IDLING, 5_001, None),
    ):  # fmt: skip
        job = with_bay(at, engine=engine, burning=Burning.UNKNOWN)
        plain = {"typed": "40", "k": "313.15", "at_ms": measured_ms, "class": "cool"}
        records = (
            *job.log.records,
            Recorded("exhaust", plain, "line-cool", procedure="clean-above"),
        )
        log = replace(job.log, records=records, set_ms={**job.log.set_ms, "engine": 5_000})
        assert facts_of(replace(job, log=log)).get("burning") == said, (engine, measured_ms)


CHECKS: dict[str, dict[str, Callable[[Stands], None]]] = {
    "runner/core/steps/read.py": {"ReadStep._take": rev_ceiling, "_zero_in_band": zero_band},
    "runner/core/steps/temperature.py": {"exhaust": exhaust_classes},
    "runner/core/steps/act.py": {"_band_ok": band_under_ceiling},
    "runner/core/steps/ask.py": {
        "AskStep.recorded": typed_answers,
        "AskStep.problems": choices_to_choose_from,
        "AskStep._bounds": bounds_in_order,
        "AskStep._line": fields_of_a_line,
        "_count": counts,
        "_years": years,
    },
    "runner/core/steps/wait.py": {"WaitStep.answer": waits},
    "runner/core/steps/hold.py": {
        "HoldStep._dried": hold_until_level,
        "HoldStep._exhaust": run_counts_from_the_first_reading,
        "_not_dry": says_what_dry_lacks,
    },
    "runner/core/steps/report.py": {"_drained_dml": drained},
    "runner/assess/judges.py": {
        "_cooled_since_it_stopped": cooled_since_it_stopped,
        "trend_of": trend_since_the_hold,
    },
}
"""The check of each function that has a border, by file."""
WHOLE = ("HoldStep._dried", "WaitStep.answer")
"""The functions of which every comparison is tried, not only those by size."""


@pytest.mark.parametrize(
    "check",
    [c for of in CHECKS.values() for c in of.values()],
    ids=lambda check: check.__name__,
)
def test_a_number_is_in_its_class_on_the_border_and_beside_it(
    stands: Stands, check: Callable[[Stands], None]
) -> None:
    check(stands)
