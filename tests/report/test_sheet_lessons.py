"""The sheets of the shipped lessons, as they were reviewed; the speed of one from a cold start."""

import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

from runner.record import JobFolder, read
from runner.sheet_of import record_of
from tests.played import Played, lesson_with, play
from tests.report.write_golden import GOLDEN, LESSONS, lesson_text

ROOT = Path(__file__).parents[2]
COLD_S = 3.0
"""Processor time that page and PDF of a whole job may take from a cold start, loading, audit and
all, on a computer that does nothing else."""

ROOT = Path(__file__).parents[2]


def assert_as_reviewed(name: str, folder: JobFolder) -> None:
    """The text of a lesson's sheet is the reviewed one."""
    reviewed = (GOLDEN / f"lesson-{name}.txt").read_text(encoding="utf-8")
    assert lesson_text(folder) == reviewed, (
        "read the difference; if it is right: python -m tests.report.write_golden"
    )


def test_the_sheet_of_the_good_clean_reads_as_it_was_reviewed(good: Played) -> None:
    assert_as_reviewed("good-clean", good.folder)


@pytest.mark.slow
@pytest.mark.parametrize("name", LESSONS[1:])
def test_the_sheets_of_the_other_lessons_read_as_they_were_reviewed(
    name: str, tmp_path: Path
) -> None:
    assert_as_reviewed(name, play(tmp_path, lesson_with(name)).folder)


def test_a_played_job_that_nobody_sealed_says_so(good: Played) -> None:
    record = record_of(good.folder)
    assert (record.seal, record.seal_key) == ("not sealed", "")


def test_page_and_pdf_of_a_whole_job_are_made_in_time_from_a_cold_start(
    good: Played, tmp_path: Path
) -> None:
    events = sum(len(line.outcome["events"]) for line in read(good.folder.path))
    assert events > 400
    yardstick = _loop_s()
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [
            sys.executable, "-m", "runner.cli", "--data", str(good.folder.path.parents[1]),
            "sheet", good.folder.id, "--html", str(tmp_path / "x.html"),
            "--pdf", str(tmp_path / "x.pdf"),
        ],
        cwd=ROOT, check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    took_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    slower = max(1.0, max(yardstick, _loop_s()) / LOOP_S)  # others work on this computer too
    assert took_s < COLD_S * 1.5 * slower, f"{took_s:.2f} s, this computer {slower:.2f} times slow"


LOOP_S = 0.07
"""What ``_loop_s`` takes on the computer that the limit was measured on, at rest."""


def _loop_s() -> float:
    """Processor time of a fixed piece of work."""
    start = time.process_time()
    sum(i * i % 7 for i in range(1_000_000))
    return time.process_time() - start
