"""The ten worst single false answers: safety rests on each, and each is asked otherwise too."""

import pytest
from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.safety.registers.trusted_reports import TRUSTED_REPORTS

from tests.safety.second_questions import SECOND_QUESTIONS, SecondQuestion

TRUSTED = {false_report for told in TRUSTED_REPORTS.values() for false_report in told}


def test_there_are_ten_and_each_is_a_false_answer_that_suffices_alone() -> None:
    told = [second.false_report for second in SECOND_QUESTIONS]
    assert len(set(told)) == len(told) == 10
    assert set(told) <= TRUSTED


@pytest.mark.parametrize("second", SECOND_QUESTIONS, ids=lambda second: second.false_report)
def test_a_step_asks_otherwise_and_what_is_left_is_said(second: SecondQuestion) -> None:
    name, step_id = second.asked
    (step,) = (s for s in load_procedure(PROCEDURES / f"{name}.yaml")[0].steps() if s.id == step_id)
    kind, _, said = second.false_report.partition(": ")
    if kind == "look":
        assert step.looks_at != said.split()[0], "the same look again is no second question"
    else:
        assert f"report {said}" not in step.doings
    assert all(len(text.split()) > 4 for text in (second.noticed, second.car, second.left))
