"""The visits of one car over time, as text and on the sheet."""

import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main
from steplatch.runner.jobs.visits import Pressure, Visit, earlier_visits, picture
from steplatch.runner.record import DataFolder, JobFolder
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.of_job import record_of
from steplatch.runner.sheet.text_page import to_text

from tests import played
from tests.played import Played
from tests.report.sample_sheets import good_job

FIRST = Visit("2025-03-01", 98_000.0, Pressure(71.0, 10.0), Pressure(23.0, 4.0), 68.0)
SECOND = Visit("2026-01-05", 112_400.0, Pressure(64.0, 9.0), None, None)


def test_visits_stand_beneath_each_other_with_gain_distance_and_bars() -> None:
    lines = picture([FIRST, SECOND])
    assert lines[0] == "2025-03-01  68 % easier" and lines[3] == "2026-01-05  14400 km later"
    came, went, again = (line.count("#") for line in (lines[1], lines[2], lines[4]))
    assert came == 30 > again > went > 5
    assert picture([]) == []


def test_earlier_visits_come_from_the_jobs_of_the_same_plate_and_kind(good: Played) -> None:
    data = DataFolder(good.folder.path.parent.parent, "a test")
    (visit,) = earlier_visits(data, "example-1", practice=True)
    assert visit.day == good.folder.id[:10] and visit.km and visit.km > 1000
    assert visit.came and visit.went and visit.came.mbar > visit.went.mbar
    assert visit.gain_percent and visit.gain_percent > 20
    assert earlier_visits(data, "example-1", practice=False) == []
    assert earlier_visits(data, "EXAMPLE 2", practice=True) == []
    assert earlier_visits(data, "example-1", True, before=visit.day) == []


def test_the_sheet_shows_todays_visit_beside_the_earlier_ones_and_a_new_car_none() -> None:
    new = sheet_content(good_job())
    assert "Visits of this car" not in to_text(new, 200, "technical")
    known = sheet_content(replace(good_job(), visits=(FIRST, SECOND)))
    said = to_text(known, 200, "technical")
    assert "Visits of this car" in said and "14400 km later" in said and "71 ± 10 mbar" in said
    assert "Pressure at the same flow, visit by visit" in to_html(known, "technical")


def test_a_car_that_came_back_has_its_visits_under_the_list_and_on_its_sheet(
    good: Played,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shutil.copytree(good.folder.path.parent, tmp_path / "jobs")
    monkeypatch.setattr(played, "START", datetime.fromisoformat("2025-03-01T09:00:00+00:00"))
    played.play(tmp_path, played.lesson_with())
    folder = tmp_path / "jobs" / good.folder.id
    assert main(["--data", str(tmp_path), "jobs", "--vehicle", "EXAMPLE 1"]) == exits.OK
    said = capsys.readouterr().out
    assert "VISITS, pressure at the same flow, practice" in said
    assert said.count("came ") == 2 and "0 km later" in said
    assert [v.day[:4] for v in record_of(JobFolder(folder)).visits] == ["2025"]
