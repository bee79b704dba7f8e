"""A real job as the workshop's record has it: begun, ended, listed, sealed, with its sheet.

It is worked from a lesson at the simulated vehicle, as practice is, but opened as a real job: a
short one, since most of what is asked of a record doesn't hang on its length.
"""

import atexit
import shutil
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from steplatch.runner.cli.closing import close_job
from steplatch.runner.cli.practice_job import context_of
from steplatch.runner.core.job import Job
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.jobs.ledgers import key_folder
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import DataFolder, JobFolder, make_data_folder
from steplatch.runner.screen.guide import guide
from steplatch.runner.screen.terminal.plain_lines import PlainLines
from steplatch.runner.simulator.hand import VehicleClock
from steplatch.runner.simulator.vehicle import SimulatedVehicle
from steplatch.runner.training.lesson import Script

from tests.played import START, bundle_from, lesson_with

Real = tuple[JobFolder, Job]


SHORT, WHOLE = "zero-drifted", "good-clean"
"""Lessons: a check of the sensor's zero, and a whole clean."""


def real_job(
    data: DataFolder,
    key: bool = True,
    close: bool = True,
    token: str = "abcdefgh",
    worked: str = SHORT,
) -> Real:
    """A job worked to its end in this data folder; ``close`` seals it and writes its sheet."""
    source, ended = _played(token, worked)
    shutil.copytree(source, data.path, dirs_exist_ok=True)
    if key:
        key_folder(data).make(b"k" * 32 if token == "abcdefgh" else b"o" * 32)
    (path,) = (p for p in data.jobs.iterdir() if p.name.endswith(token))
    folder = JobFolder(path)
    if close:
        close_job(PlainLines(), folder, ended, "technician-1")
    return folder, ended


@cache
def _played(token: str, worked: str) -> tuple[Path, Job]:
    """A data folder with one real job, worked to its end once, not closed, without a key."""
    room = Path(mkdtemp(prefix="steplatch-test-"))
    atexit.register(shutil.rmtree, room, ignore_errors=True)
    data = DataFolder(room / "data", "the test")
    make_data_folder(data)
    lesson = lesson_with(worked)
    bundle = bundle_from(PROCEDURES / f"{lesson.procedure}.yaml")
    vehicle = SimulatedVehicle(lesson.seed, lesson.faults, bundle.vehicle)
    clock = VehicleClock(START, vehicle)
    session, folder = begin(data, bundle, clock, lesson.cast.worker, practice=False, token=token)
    try:
        guide(context_of(session, folder, Script(lesson), bundle, vehicle))
    finally:
        session.writer.close()
    return data.path, session.job
