"""Writes the reviewed texts anew: ``python -m tests.report.write_golden``. Read the difference.

The texts are the customer's page and the agreement of two invented jobs and of the shipped
lessons, which are played for it. What differs from one playing to the next (the random part of
the job's id, and so the hash of the record) is set to fixed values.
"""

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from runner.record import JobFolder
from runner.report import sheet_content, to_text
from runner.sheet_of import record_of
from tests.played import lesson_with, play
from tests.report.sample_sheets import sheet_of

GOLDEN: Final = Path(__file__).parent / "golden"
INVENTED: Final = ("good", "poor")
LESSONS: Final = ("good-clean", "ash-laden", "stall-recovered")


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


if __name__ == "__main__":
    write()
