"""A paused virtual machine counts nothing: the wall clock tells, and all is asked again."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from steplatch.runner.core.clock import Times, parted_ms
from steplatch.runner.core.commands import Note
from steplatch.runner.jobs.auditing import AuditGrade, audit_job
from steplatch.runner.jobs.session import PARTED_MS
from steplatch.runner.jobs.store import begin
from steplatch.runner.record import DataFolder, make_data_folder, read
from steplatch.runner.record.clocks import PracticeClock

from tests.played import START, bundle_from

NOTE = Note("text_fault", {"text": "a note"})


class Paused(PracticeClock):
    """Its wall clock goes on by ``ahead_s`` while the running clocks stand still."""

    ahead_s = 0.0

    def now(self) -> Times:
        moment = super().now()
        wall = datetime.fromisoformat(moment.utc) + timedelta(seconds=self.ahead_s)
        return replace(moment, utc=wall.strftime("%Y-%m-%dT%H:%M:%S.000Z"))


@pytest.mark.parametrize(("ahead_s", "asked"), [(3600.0, True), (119.0, False), (-3600.0, False)])
def test_everything_is_asked_again_where_the_wall_clock_ran_ahead(
    quick: Path, ahead_s: float, asked: bool
) -> None:
    data = DataFolder(quick, "the test")
    make_data_folder(data)
    clock = Paused(START)
    session, folder = begin(data, bundle_from(), clock, "technician-1", practice=True)
    session.submit(NOTE)
    clock.wait(600.0)
    assert not session.submit(NOTE).refused and not session.job.core.held
    clock.ahead_s = ahead_s
    session.submit(NOTE)
    session.submit(NOTE)
    kinds = [line.command["kind"] for line in read(folder.path)]
    assert kinds.count("Interrupted") == int(asked)
    assert session.job.core.held is asked
    session.writer.close()
    assert audit_job(folder).code == AuditGrade.GOOD.value


def test_how_far_the_clocks_parted() -> None:
    then = Times("2025-01-31T14:00:00.000Z", "+01:00", 5_000, 5_000, "boot-1")
    later = replace(then, utc="2025-01-31T15:00:00.000Z", boottime_ms=65_000)
    assert parted_ms(then, later) == 3_540_000 > PARTED_MS
    assert parted_ms(later, then) == 0
    assert parted_ms(then, replace(later, boot="boot-2")) == 0, "another boot lapses all anyway"
    assert parted_ms(then, replace(later, boottime_ms=None)) == 0
    slept = replace(later, boottime_ms=3_605_000)
    assert parted_ms(then, slept) == 0, "a computer that slept has counted its sleep"
