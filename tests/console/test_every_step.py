"""Whole jobs at every size, with and without colour: stopped, and answered wrongly, at each step.

The whole matrix is slow; the default run takes one piece of one job.
"""

import re
from collections.abc import Mapping
from pathlib import Path

import pytest
from steplatch.runner.cli import exits

from tests.console.reader import Reader
from tests.console.terminal import Program, begun
from tests.console.test_wrong_input import kinds, steps_done

NOTHING = ("", "y", "\x07", "1\n1\n")
"""What is an answer nowhere: Enter alone, a letter, a control key, several lines at once."""
NO_CHOICE = ("0", "99", "²", "--help", "true")
"""What is no answer to a numbered question."""
TERMINALS: tuple[tuple[int, int, Mapping[str, str]], ...] = (
    (80, 24, {"COLORTERM": "truecolor"}),
    (80, 24, {"NO_COLOR": "1"}),
    (44, 12, {}),
    (44, 12, {"NO_COLOR": "1"}),
    (140, 40, {}),
    (80, 24, {"TERM": "dumb"}),
)


def place(screen: str) -> str:
    """Where the job stands, by the last words that say so."""
    found = re.findall(r"^DO {2,}(.*)", screen, re.M)
    return found[-1] if found else ""


def worked(program: Program, most: int, wrong: bool) -> tuple[int, int]:
    """Work on, stopping and (``wrong``) answering wrongly at the first question of each step; the
    numbers of answers and of stops."""
    reader = Reader()
    stopped: set[str] = set()
    for count in range(most):
        try:
            program.ready()
        except AssertionError:
            assert program.child.eof() or "sheet" in program.text()
            return count, len(stopped)
        said = program.said()
        here = place(said)
        if here and here not in stopped and "PERMITTED" not in said:
            stopped.add(here)
            if wrong:
                _wrongly(program, said)
            program.send("s")
            program.ready()
            assert "HELD. Gun shut first." in program.said(), program.said()
            program.send("go")
            program.ready()
            said = program.said()
        program.send(reader.answer(said))
    return most, len(stopped)


def _wrongly(program: Program, said: str) -> None:
    """Type what is no answer: the same question stands there again."""
    question = [line for line in said.splitlines() if line.strip()][-3:]
    typed = [*NOTHING, *(NO_CHOICE if re.search(r"^  dk ", said, re.M) else ())]
    for text in typed:
        program.send(text)
        program.ready()
        assert place(program.said()) == place(said), (text, question, program.said())


def test_stop_and_wrong_answers_at_each_of_the_first_steps(quick: Path) -> None:
    program = begun(quick, columns=44, rows=12, NO_COLOR="1")
    answers, stops = worked(program, 5, wrong=True)
    assert answers == 5 and stops >= 4
    assert kinds(quick).count("Stop") == stops and kinds(quick).count("GoOn") == stops
    assert b"38;" not in program.raw and b"48;" not in program.raw
    program.ready()
    program.send("leave")
    assert program.end() == exits.LEFT_OPEN


@pytest.mark.slow
@pytest.mark.parametrize(("columns", "rows", "env"), TERMINALS)
def test_a_whole_job_is_stopped_at_every_step_and_still_ends(
    quick: Path, columns: int, rows: int, env: Mapping[str, str]
) -> None:
    program = begun(quick, columns=columns, rows=rows, **env)
    answers, stops = worked(program, 500, wrong=False)
    assert program.end() == exits.OK
    assert answers > 150 and stops > 90
    assert kinds(quick).count("Stop") == stops
    coloured = b"\x1b[1;38;" in program.raw
    assert coloured == ("NO_COLOR" not in env and env.get("TERM") != "dumb")


@pytest.mark.slow
@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (44, 12)])
def test_wrong_answers_of_every_kind_lead_nowhere_at_every_step(
    quick: Path, columns: int, rows: int
) -> None:
    program = begun(quick, columns=columns, rows=rows)
    answers, stops = worked(program, 500, wrong=True)
    assert program.end() == exits.OK
    assert answers > 150 and stops > 90
    assert "hand-over" in steps_done(quick)


@pytest.mark.slow
def test_the_terminal_changes_its_size_at_every_question_and_the_job_still_ends(
    quick: Path,
) -> None:
    sizes = ((44, 12), (80, 24), (140, 40), (60, 16))
    program = begun(quick)
    reader = Reader()
    for count in range(500):
        try:
            program.ready()
        except AssertionError:
            break
        program.resize(*sizes[count % len(sizes)])
        program._answered = program._sent
        program.ready()
        program.send(reader.answer(program.said()))
    assert program.end() == exits.OK
    assert "hand-over" in steps_done(quick)
