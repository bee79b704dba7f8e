"""Many jobs are worked on by several processes, in order, with the same outcome as by one."""

import os
from functools import partial
from pathlib import Path

import pytest
from steplatch.runner.cli.audit import _audited
from steplatch.runner.jobs.book import JobBook
from steplatch.runner.system import over_cores as module
from steplatch.runner.system.over_cores import over_cores

from tests.book.small_jobs import data_in, ended, job_id_of, recorded, small_job


def where(offset: int, number: int) -> tuple[int, int]:
    """The number, and the process that it was worked on in."""
    return number + offset, os.getpid()


def dies_elsewhere(here: int, number: int) -> int:
    """Ends its process at one number, if it is another process than ``here``."""
    if number == 5 and os.getpid() != here:
        os._exit(1)
    return number


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MANY", 3)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)


def test_results_come_in_order_from_other_processes(few: None) -> None:
    found = list(over_cores(partial(where, 10), range(9)))
    assert [number for number, _ in found] == list(range(10, 19))
    assert os.getpid() not in {process for _, process in found}


def test_a_few_jobs_are_worked_on_here() -> None:
    assert {process for _, process in over_cores(partial(where, 0), range(5))} == {os.getpid()}


def test_a_process_that_dies_costs_only_time(few: None) -> None:
    assert list(over_cores(partial(dies_elsewhere, os.getpid()), range(9))) == list(range(9))


def test_book_and_audit_find_the_same_over_cores(few: None, quick: Path) -> None:
    made = data_in(quick)
    folders = [
        small_job(made, job_id_of(number), [recorded("verdict", state="improved")], [ended()])
        for number in range(6)
    ]
    with JobBook.open(made) as book:
        assert book.sync() == 6
        rows = book.rows()
    assert [row.job for row in rows] == [folder.id for folder in folders]
    assert {row.state for row in rows} == {"finished"}
    work = partial(_audited, made, (), None, None)
    assert list(over_cores(work, folders)) == list(map(work, folders))
