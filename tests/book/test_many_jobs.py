"""How long a list takes when there are many jobs, from the start of the program to its end."""

import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest
from steplatch.runner.jobs.book import JobBook
from steplatch.runner.record import DataFolder, list_jobs

from tests.book.small_jobs import data_in, ended, job_id_of, moved, recorded, small_job

ROOT = Path(__file__).resolve().parents[2]


def many(made: DataFolder, count: int) -> None:
    """So many small jobs, a fifth of them open."""
    for number in range(count):
        last = [] if number % 5 else [ended()]
        verdict = recorded("verdict", state="improved", title="improved")
        small_job(made, job_id_of(number), [moved(f"step-{number}"), verdict, *last])


def seconds_to_list(made: DataFolder, *words: str) -> tuple[float, str]:
    """How much of a processor the command takes in a process of its own, from start to end, and
    what it said: a busy machine makes it wait, but not work more."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-m", "steplatch.runner.cli", "--data", str(made.path), "jobs", *words],
        cwd=ROOT, capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    user = after.ru_utime - before.ru_utime
    return user + after.ru_stime - before.ru_stime, done.stdout


def test_500_jobs_add_little_to_what_a_list_of_one_takes(quick: Path) -> None:
    one, made = data_in(quick / "one"), data_in(quick / "many")
    many(one, 1)
    many(made, 500)
    bare, _ = seconds_to_list(one)
    with JobBook.open(made) as book:
        assert book.sync() == 500
    took, _ = seconds_to_list(made)
    searched, said = seconds_to_list(made, "step-499")
    assert "1 of 500 jobs" in said
    assert took - bare < 0.4 and searched - bare < 0.4
    assert len(list_jobs(made)) == 500


@pytest.mark.slow
def test_10_000_jobs_are_listed_and_searched_in_under_a_second(quick: Path) -> None:
    made = data_in(quick)
    many(made, 10_000)
    begun = time.monotonic()
    with JobBook.open(made) as book:
        assert book.sync() == 10_000
    filled = time.monotonic() - begun
    took = min(seconds_to_list(made)[0] for _ in range(3))
    searched = min(seconds_to_list(made, "step-9999")[0] for _ in range(3))
    found = min(seconds_to_list(made, "--state", "open", "--since", "2015-01-01")[0] for _ in [0])
    print(f"first list {filled:.1f} s, list {took:.2f} s, search {searched:.2f} s, "
          f"filter {found:.2f} s")  # fmt: skip
    assert took < 1.0 and searched < 1.0 and found < 1.0
