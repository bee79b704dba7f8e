"""The sheets of the shipped lessons, as they were reviewed."""

from collections.abc import Callable

import pytest
from steplatch.runner.record import JobFolder
from steplatch.runner.sheet.of_job import record_of

from tests.played import Played
from tests.report.write_golden import GOLDEN, LESSONS, lesson_text


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
    name: str, shown: Callable[[str], Played]
) -> None:
    assert_as_reviewed(name, shown(name).folder)


def test_a_played_job_that_nobody_sealed_says_so(good: Played) -> None:
    record = record_of(good.folder)
    assert (record.seal, record.seal_key) == ("not sealed", "")
