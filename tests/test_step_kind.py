"""A kind of step is one file: this one adds a kind of its own, and no other file knows of it."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Literal

import pytest
from steplatch.runner.core.commands import Answer
from steplatch.runner.core.draft import Draft, refuse
from steplatch.runner.core.job import Job
from steplatch.runner.core.loading import load_procedure, procedure_model
from steplatch.runner.core.procedure import Procedure, Say
from steplatch.runner.core.showing import Question, Source
from steplatch.runner.core.steps import KINDS
from steplatch.runner.core.steps.kind import Kind
from steplatch.runner.core.tries import Scenario, Standing, Try
from steplatch.runner.input.findings import BadFile
from steplatch.runner.proof.graph import Graph

from tests.played import Played, bundle_from, lesson_with, play
from tests.proof.patched import short, with_steps
from tests.step_text import written_out

STEP = "- rags-in: Count the rags that go to the vehicle.\n        count: 9"


class CountStep(Kind):
    """Count what goes to the vehicle."""

    kind: Literal["count"]
    most: int

    head = "most"

    def problems(self, say: Say) -> None:
        if self.most < 1:
            say(("most",), "nothing can be counted", "write 1 or more")

    def answer(self, draft: Draft, value: str) -> None:
        if not value.isascii() or not value.isdigit() or int(value) > self.most:
            raise refuse("answer/choice", typed=value, choices=f"0 to {self.most}")
        draft.record("rags", {"text": value})
        draft.done(value)

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        return (f"at most {self.most}{source('', 'as the file says')}",)

    def asks(self) -> Question:
        return Question("Type how many.")

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        for text in ("0", str(self.most), str(self.most + 1)):
            yield Try(f"{text} rags", Answer(self.id, text))


EVERY = (*KINDS, CountStep)


def with_a_count(step: str = STEP) -> str:
    lines = written_out().splitlines()
    (at,) = (i for i, line in enumerate(lines) if line.lstrip().startswith("- oil-history:"))
    lines[at : at + 3] = [f"      {step}"]
    return "\n".join(lines) + "\n"


def loaded(tmp_path: Path, step: str = STEP) -> Procedure:
    file = tmp_path / "clean-above.yaml"
    file.write_text(with_a_count(step), encoding="utf-8")
    return load_procedure(file, EVERY)[0]


@pytest.fixture(scope="module")
def counted(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The good lesson with a count in it, at first one too many, played to its end."""
    main = loaded(tmp_path_factory.mktemp("procedure"))
    bundle = replace(bundle_from(), main=main)
    lesson = lesson_with(answers={"rags-in": ("10", "4")})
    return play(tmp_path_factory.mktemp("counted"), lesson, bundle)


def test_a_file_with_the_new_kind_is_loaded_and_its_meaning_checked(tmp_path: Path) -> None:
    assert isinstance(loaded(tmp_path).step("rags-in"), CountStep)
    with pytest.raises(BadFile) as bad:
        loaded(tmp_path, STEP.replace("count: 9", "count: 0"))
    assert "nothing can be counted" in str(bad.value)
    with pytest.raises(BadFile) as unknown:
        load_procedure(tmp_path / "clean-above.yaml")
    assert "count" in str(unknown.value)


def test_its_schema_is_made_with_it() -> None:
    assert "CountStep" in procedure_model(EVERY).model_json_schema()["$defs"]
    assert "CountStep" not in procedure_model().model_json_schema()["$defs"]


def test_it_is_begun_asked_refused_answered_and_recorded(counted: Played) -> None:
    job = counted.session.job
    assert counted.ended == "finished"
    (mark,) = (m for m in job.log.marks if m.key == ("clean-above", "rags-in"))
    assert mark.answer == "4" and job.log.latest("rags") == {"text": "4"}


def test_its_limit_its_question_and_its_refusal_are_on_the_screen(counted: Played) -> None:
    said = "\n".join(counted.talk.said)
    assert "LIMIT  at most 9 (as the file says)" in said
    assert "DO     Count the rags that go to the vehicle." in said
    assert "'10' is none of the answers." in said
    assert "DONE   Count the rags that go to the vehicle: 4" in said


def test_the_proof_tries_what_it_says(counted: Played) -> None:
    plan = short()
    step = counted.session.plan.main.step("rags-in")
    steps = (step, plan.main.steps()[-1])
    graph = Graph(replace(plan, main=with_steps(plan.main, steps)), Scenario(), 0, giving_up=False)
    graph.explore()
    tried = {t.said for t in graph.tries}
    assert {"begin", "0 rags", "9 rags", "10 rags"} <= tried
    stood = {graph.fields.value(graph.row(i), "step") for i in range(len(graph.states))}
    assert stood == {step.id for step in steps}
