"""Two prompts that lead to each other end a lesson, and are said to a person."""

from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main

from tests.attacks.readers import run


@pytest.mark.parametrize("fault", ["fires-late"])
def test_a_lesson_with_a_fault_that_it_does_not_know_ends(quick: Path, fault: str) -> None:
    words = ["practise", "--hands-free", "--fault", fault, "--out", str(quick)]
    ran = run("practise", words, limit_s=120)
    assert not ran.trace, ran.trace
    assert ran.code in (exits.OK, exits.FAILED)
    if ran.code == exits.FAILED:
        assert "nothing changes any more" in ran.said or "does not get past" in ran.said


def test_the_lessons_own_way_is_never_taken_for_standing_still(quick: Path) -> None:
    assert main(["practise", "--hands-free", "--out", str(quick)]) == exits.OK
