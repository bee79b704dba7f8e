"""Writes the reviewed texts anew: ``python -m tests.report.write_golden``. Read the difference.

With ``--examples`` it plays the jobs of ``examples/jobs`` anew as well, after the rules or the
procedures have changed.

The texts are the customer's page and the agreement of two invented jobs and of the shipped
lessons, which are played for it. What differs from one playing to the next (the random part of
the job's id, and so the hash of the record) is set to fixed values.
"""

import shutil
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from steplatch.runner.record import JobFolder
from steplatch.runner.sheet.content import sheet_content
from steplatch.runner.sheet.html_page import to_html
from steplatch.runner.sheet.of_job import record_of
from steplatch.runner.sheet.text_page import to_text

from tests.played import lesson_with, play
from tests.report.sample_sheets import sheet_of

GOLDEN: Final = Path(__file__).parent / "golden"
INVENTED: Final = ("good", "poor")
JOBS: Final = Path(__file__).parents[2] / "examples" / "jobs"
EXAMPLES: Final = ("good-clean", "ash-laden")
LESSONS: Final = ("good-clean", "ash-laden", "stall-recovered", "overdose-recovered")


def lesson_text(folder: JobFolder) -> str:
    """Customer's page and agreement of a played lesson, 80 columns wide."""
    record = replace(record_of(folder), job_id="2026-03-02-goldentx", head_hash="0123abcd" * 8)
    sheet = sheet_content(record)
    return to_text(sheet, 80, "customer") + "\n" + to_text(sheet, 80, "agreement")


def write() -> None:
    """Write every golden text."""
    GOLDEN.mkdir(exist_ok=True)
    for name in INVENTED:
        text = to_text(sheet_of(name), 80, "customer")
        (GOLDEN / f"{name}.txt").write_text(text, encoding="utf-8")
    for name in LESSONS:
        with TemporaryDirectory() as room:
            text = lesson_text(play(Path(room), lesson_with(name)).folder)
        (GOLDEN / f"lesson-{name}.txt").write_text(text, encoding="utf-8")


def write_examples() -> None:
    """Play the example jobs anew in place of the old ones, each with its sheet."""
    for old in JOBS.iterdir():
        shutil.rmtree(old)
    for name in EXAMPLES:
        with TemporaryDirectory() as room:
            folder = play(Path(room), lesson_with(name)).folder
            (folder.path / "lock").unlink(missing_ok=True)
            page = to_html(sheet_content(record_of(folder)))
            (folder.path / "sheet.html").write_text(page, encoding="utf-8")
            shutil.copytree(folder.path, JOBS / folder.id)


if __name__ == "__main__":
    write()
    if "--examples" in sys.argv:
        write_examples()
