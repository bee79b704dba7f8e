"""Practice jobs played inside the test process: the real guide, engine and journal, no terminal."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from steplatch.runner.assess import told
from steplatch.runner.cli.practice_job import begin_at_vehicle, context_of
from steplatch.runner.core.clock import Times
from steplatch.runner.core.commands import Command
from steplatch.runner.core.engine import Outcome, decide
from steplatch.runner.core.job import Job, Log, evolve
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.jobs.bundle import EXAMPLES, Bundle, Sources, load_bundle
from steplatch.runner.jobs.projection import entries
from steplatch.runner.jobs.session import Session
from steplatch.runner.record import JobFolder, find_data_folder, make_data_folder, read
from steplatch.runner.screen.guide import guide
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.lesson import Lesson, Script, load_lesson
from steplatch.runner.training.memory import About

START = datetime.fromisoformat("2026-03-02T09:00:00+00:00")
MAIN = PROCEDURES / "clean-above.yaml"


@dataclass
class Played:
    """A job that was played: where it ended, its session, folder, screen and vehicle."""

    session: Session
    folder: JobFolder
    talk: Script
    vehicle: SimulatedVehicle
    ended: str

    @property
    def verdict(self) -> dict[str, Any]:
        """The last verdict that was recorded, with its sentences."""
        found = self.session.job.log.latest("verdict")
        assert found is not None
        return told.verdict(found) | {"lines": told.lines("verdict", found)}


def lesson_with(
    name: str = "good-clean",
    faults: tuple[str, ...] | None = None,
    seed: int | None = None,
    answers: Mapping[str, str | tuple[str, ...]] | None = None,
) -> Lesson:
    """A shipped lesson with other faults, seed or answers."""
    lesson = load_lesson(EXAMPLES / "lessons" / f"{name}.yaml")
    return lesson.model_copy(
        update={
            "faults": faults or lesson.faults,
            "seed": lesson.seed if seed is None else seed,
            "answers": {**lesson.answers, **(answers or {})},
        }
    )


def times(log: Log, seconds: float = 1.0, **other: Any) -> Times:
    """A moment ``seconds`` after the last line of a job; ``other`` replaces parts of it."""
    last = log.last
    assert last is not None and last.boottime_ms is not None
    ms = round(seconds * 1000)
    moved = replace(last, monotonic_ms=last.monotonic_ms + ms, boottime_ms=last.boottime_ms + ms)
    return replace(moved, **other)


class Stands:
    """Every place where a played job stood, rebuilt from its record alone."""

    def __init__(self, played: Played) -> None:
        self.lines = list(read(played.folder.path))
        self.plan = played.session.plan
        self.jobs = [Job(), *(entry.after for entry in entries(self.lines))]

    def at(self, step: str, begun: bool = False, last: bool = False) -> Job:
        """The job when ``step`` was due (or begun) for the first (or last) time."""
        found = [j for j in self.jobs if j.core.step == step and j.core.begun is begun]
        assert found, f"the job never stood at {step}"
        return found[-1 if last else 0]

    def decide(
        self, job: Job, command: Command, by: str = "apprentice-1", seconds: float = 1.0
    ) -> Outcome:
        """What the shipped procedure says to ``command`` there."""
        return decide(self.plan, job, command, times(job.log, seconds), by)

    def after(self, job: Job, *commands: Command, by: str = "apprentice-1") -> Job:
        """The job after commands that must be let through."""
        for command in commands:
            outcome = self.decide(job, command, by)
            assert not outcome.refused, (command, outcome.refusals)
            for event in outcome.events:
                job = evolve(job, event)
        return job


def bundle_from(procedure: Path = MAIN, others: Path = PROCEDURES) -> Bundle:
    """The invented workshop with a procedure; what is shipped is loaded once."""
    if (procedure.parent, others) == (PROCEDURES, PROCEDURES):
        return _shipped(procedure)
    return load_bundle(replace(Sources.of_practice(procedure), others=others))


@cache
def _shipped(procedure: Path) -> Bundle:
    return load_bundle(Sources.of_practice(procedure))


def play(
    out: Path,
    lesson: Lesson,
    bundle: Bundle | None = None,
    talk: Script | None = None,
    confirmed: Callable[[int], None] | None = None,
) -> Played:
    """Play a lesson to its end. The journal is closed afterwards."""
    bundle = bundle or bundle_from()
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    clock = VehicleClock(START, vehicle)
    talk = talk or Script(lesson)
    data = find_data_folder(out, {})
    make_data_folder(data)
    about = About(lesson.id, plays_itself=True)
    session, folder = begin_at_vehicle(
        data, bundle, clock, vehicle, lesson.cast.worker, about, confirmed
    )
    try:
        ended = guide(context_of(session, folder, talk, bundle, vehicle))
    finally:
        session.writer.close()
    return Played(session, folder, talk, vehicle, ended)
