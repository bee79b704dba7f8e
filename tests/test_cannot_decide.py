"""A fault inside ``decide`` holds the job and is said; the record, resume and audit bear it.

The fault is planted in a judge, which ``decide`` calls, or in a handler.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from steplatch.runner.assess.judges import make_judges
from steplatch.runner.cli.exits import AUDIT_BROKEN, OK
from steplatch.runner.core import engine, reports
from steplatch.runner.core.commands import Begin, Command, GiveUp, GoOn, Look, Note, Report, Stop
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.plan import Judges, Plan
from steplatch.runner.jobs import bundle
from steplatch.runner.jobs.auditing import audit, audit_job
from steplatch.runner.jobs.bundle import EXAMPLES, Sources
from steplatch.runner.jobs.session import CANNOT_DECIDE, Session, decided
from steplatch.runner.jobs.store import begin, resume
from steplatch.runner.record import JobFolder, find_data_folder, make_data_folder, read
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.safety.bay import Engine, FluidIn
from steplatch.safety.occurrences import Happening

from tests.played import MAIN, START, Played, Stands, lesson_with, play, times

SOURCES = Sources.of_folder(EXAMPLES / "workshop", MAIN)
BY = "apprentice-1"


def fails(*_: Any) -> Any:
    """A judge with a fault."""
    raise ZeroDivisionError("a planted fault")


def with_fault(plan: Plan, judge: str = "triage") -> Plan:
    return replace(plan, judges=replace(plan.judges, **{judge: fails}))


@pytest.fixture
def at_triage(stands: Stands) -> tuple[Plan, Job, Command]:
    job = stands.at("triage-judge")
    return with_fault(stands.plan), job, Begin("triage-judge")


def begun(quick: Path, clock: VehicleClock) -> tuple[Session, JobFolder]:
    """A new practice job, its vehicle not kept."""
    data = find_data_folder(quick, {})
    make_data_folder(data)
    return begin(data, bundle.load_bundle(SOURCES), clock, BY, practice=True)


def after(job: Job, plan: Plan, command: Command) -> Job:
    for event in decided(plan, job, command, times(job.log), BY).events:
        job = evolve(job, event)
    return job


def test_a_fault_inside_decide_is_a_refusal_and_a_hold(at_triage: Any) -> None:
    plan, job, command = at_triage
    outcome = decided(plan, job, command, times(job.log), BY)
    assert [r.interlock for r in outcome.refusals] == [CANNOT_DECIDE]
    held = after(job, plan, command)
    assert held.core.held and held.core.step == "triage-judge" and not held.core.begun
    assert held.bay.triage.unknown and held.bay.permit is None
    for fact in ("engine", "hands", "wet", "port"):
        assert getattr(held.bay, fact) == getattr(job.bay, fact)


def test_the_time_is_counted_all_the_same(at_triage: Any) -> None:
    plan, job, command = at_triage
    later = after(job, plan, command)
    assert later.log.aged_ms > job.log.aged_ms and later.log.last != job.log.last


def test_stop_giving_up_and_another_try_work_where_a_step_can_never_be_worked(
    at_triage: Any,
) -> None:
    plan, job, command = at_triage
    held = after(job, plan, command)
    once_more = after(after(held, plan, GoOn()), plan, command)
    assert once_more.core.held and once_more.core.step == "triage-judge"
    assert after(once_more, plan, Stop()).core.held
    given_up = after(once_more, plan, GiveUp())
    assert given_up.core.procedure == "abandon" and not given_up.core.held


@pytest.mark.parametrize(
    "command", [Report(Happening.STALLED.value), Look("engine", "stopped")], ids=["report", "look"]
)
def test_what_was_seen_and_could_not_be_taken_in_leaves_nothing_believed(
    stands: Stands, monkeypatch: pytest.MonkeyPatch, command: Command
) -> None:
    job = stands.at("run-spray")
    job = stands.after(job, Begin("run-spray", "3"))
    assert job.bay.engine is Engine.IDLING and job.bay.wet is not None
    monkeypatch.setattr(reports, "report", fails)
    monkeypatch.setattr(reports, "look", fails)
    held = after(job, stands.plan, command)
    assert held.core.held and held.core.meanwhile and held.bay.permit is None
    assert held.bay.engine is Engine.UNKNOWN and held.bay.wet is None
    assert held.bay.fluid_in is FluidIn.YES and "engine" in held.core.ask_again


@pytest.fixture
def failing(quick: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Played]:
    """A practice job whose triage fails: tried twice, then given up and abandoned."""

    def judges(*given: Any) -> Judges:
        return replace(make_judges(*given), triage=fails)

    monkeypatch.setattr(bundle, "make_judges", judges)
    answers = {"card": ("go", "go", "abandon"), "reason": "the triage cannot be worked"}
    lesson = lesson_with(answers=answers)
    yield play(quick, lesson)


def test_the_whole_job_is_abandoned_and_sound_and_decided_alike_by_audit(
    failing: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert failing.ended == "abandoned"
    lines = list(read(failing.folder.path))
    failed = [line for line in lines if [r["interlock"] for r in line.outcome["refused"]]
              == [CANNOT_DECIDE]]  # fmt: skip
    assert len(failed) == 3
    for line in failed:
        assert line.command == {"kind": "Begin", "step": "triage-judge", "seconds": ""}
        said = json.dumps(line.outcome)
        assert "Traceback" not in said and "planted" not in said
        assert {"kind": "Held", "why": CANNOT_DECIDE} in line.outcome["events"]
    shown = "\n".join(failing.talk.said)
    assert "could not be decided" in shown and " HELD. Gun shut first." in shown
    assert audit_job(failing.folder).code == OK
    monkeypatch.undo()
    found = audit(failing.folder)  # judged by what does not fail, the same rules decide otherwise
    assert found.intact and len(found.differences) >= 3
    assert audit_job(failing.folder).code == AUDIT_BROKEN


def test_a_job_that_could_not_be_decided_is_come_back_to(
    stands: Stands, good: Played, quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = VehicleClock(START, good.vehicle)
    session, folder = begun(quick, clock)
    monkeypatch.setattr(engine, "_work", fails)
    assert session.submit(Begin("crew")).refused
    assert not session.submit(Note("called", {"role": "technician"})).refused
    session.writer.close()
    again, _, _ = resume(folder, clock, BY)
    try:
        assert again.job.core.step == "crew" and again.job.core.held
        monkeypatch.undo()
        assert not again.submit(GoOn()).refused
        assert not again.submit(Begin("crew")).refused
    finally:
        again.writer.close()
    assert len(list(read(folder.path))) == 7


def test_a_fault_in_the_reckoning_of_time_holds_and_is_written_once(
    good: Played, quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = VehicleClock(START, good.vehicle)
    session, folder = begun(quick, clock)
    monkeypatch.setattr(engine, "run_timers", fails)
    for _ in range(3):
        assert session.tick().refused and session.job.core.held
    monkeypatch.undo()
    assert not session.submit(GoOn()).refused
    session.writer.close()
    assert [line.command["kind"] for line in read(folder.path)].count("Tick") == 1


def test_a_recorded_decision_that_now_fails_is_told(
    good: Played, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bundle, "make_judges", lambda *_: Judges(*[fails] * 5))
    found = audit(good.folder)
    assert found.intact
    assert any("'Begin' cannot be decided" in text for text in found.differences)


def test_memory_that_ran_out_is_no_decision(at_triage: Any) -> None:
    plan, job, command = at_triage

    def runs_out(*_: Any) -> Any:
        raise MemoryError

    plan = replace(plan, judges=replace(plan.judges, triage=runs_out))
    with pytest.raises(MemoryError):
        decided(plan, job, command, times(job.log), BY)
