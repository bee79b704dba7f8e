"""Every field of a file is asked, or is named with the reason why not; nothing else is asked."""

import io
import re

import pytest
from pydantic import BaseModel
from steplatch.runner.cli.making import KINDS
from steplatch.runner.input.strict_yaml import load_text
from steplatch.runner.screen.desk import BACK, DONT_KNOW, HELP, LEAVE, hint
from steplatch.runner.screen.terminal.plain_lines import PlainLines
from steplatch.runner.workshop.answers import FileAnswers, NotAnswer, value_of, written
from steplatch.runner.workshop.files import (
    FluidFile,
    GunFile,
    PersonPart,
    VehicleFile,
    WorkshopFile,
)
from steplatch.runner.workshop.questions import FileKind, Question, asked_of, more_of, screen_of

from tests.each import each

MODELS = {
    "vehicle": VehicleFile,
    "gun": GunFile,
    "fluid": FluidFile,
    "workshop": WorkshopFile,
    "people": PersonPart,
}
ALL = [(kind, question) for kind in KINDS.values() for question in kind.questions]
NAMES = [f"{kind.name}-{question.key}" for kind, question in ALL]


@pytest.mark.parametrize("name", MODELS)
def test_every_field_of_the_model_is_asked_once_or_left_out_with_a_reason(name: str) -> None:
    kind = KINDS[name]
    keys = [question.key for question in kind.questions]
    assert kind.model is MODELS[name]
    assert len(keys) == len(set(keys))
    assert not set(keys) & set(kind.left_out)
    assert set(keys) | set(kind.left_out) == set(kind.model.model_fields)
    assert all(len(reason.split()) > 5 for reason in kind.left_out.values())
    assert not any(kind.model.model_fields[key].is_required() for key in kind.left_out)


def test_no_question_sets_what_would_raise_a_limit_or_is_personal() -> None:
    keys = {question.key for _, question in ALL}
    assert not keys & set(VehicleFile.refused_keys)
    assert not keys & {"retained", "jug_shots", "cranking_pressure_ratio"}


@each(("kind", "question"), ALL)
def test_a_question_says_why_where_an_example_and_what_is_believed(
    kind: FileKind, question: Question
) -> None:
    shown = "\n".join(text for text, _ in screen_of(kind, question, "1 of 9"))
    asked = kind.asked(question.key)
    assert question.ask.endswith("?") and f"why: {question.why}" in shown
    assert f"find it: {question.where}" in shown
    if asked.form in ("yes_no", "one_of"):
        assert question.example in asked.answers
    else:
        assert question.example in shown
    if asked.range:
        assert f"{asked.range} is believed" in shown
    for text in (question.ask, question.why, question.where):
        assert len(text.split()) <= 20
        assert not re.search(r"\b(slowly|carefully|properly|quickly|adequately)\b", text)
    if asked.form == "quantity":
        assert all(unit in "\n".join(more_of(kind, question)) for unit in asked.units)


@each(("kind", "question"), ALL)
def test_the_loader_takes_every_example(kind: FileKind, question: Question) -> None:
    answers = FileAnswers(kind)
    if question.only_if is not None:
        answers.given[question.only_if[0]] = question.only_if[1]
    value = value_of(kind.asked(question.key), question.example)
    assert answers.problem_with(question.key, value) == ""


@pytest.mark.parametrize(("kind", "question"), ALL, ids=NAMES)
def test_a_question_with_its_answers_fits_44_columns_and_12_rows(
    kind: FileKind, question: Question, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(PlainLines, "width", 44)
    out = io.StringIO()
    talk = PlainLines(io.StringIO(), out)
    for text, style in screen_of(kind, question, f"{len(kind.questions)} of 26"):
        talk.say(text, style)
    asked = kind.asked(question.key)
    words = (BACK, *((DONT_KNOW,) if asked.optional else ()), HELP, LEAVE)
    choices = asked.answers if asked.form in ("yes_no", "one_of") else ()
    for number, answer in enumerate(choices, start=1):
        talk.say(f"  {number:<2} {answer}")
    talk.say(f"Type 1 to {len(choices)}{hint(words)}" if choices else f"Type it{hint(words)}")
    rows = out.getvalue().splitlines()
    assert len(rows) + 1 <= 12, out.getvalue()
    assert max(map(len, rows)) <= 44


ODD = ("#", "a: b", "'", '"', "- x", "[", "{a", "%", "!x", "&a", "*b", "true", "null", "12", "1.5",
       "2024-05-31", "yes", "|", "a #b", "x:", "ünïcode", "@", "`", "?", ":", "a,b", "1e3", "0x1",
       "\\", "~", ">", "-1", "012", "a,")  # fmt: skip


@each(("kind", "question"), ALL)
def test_whatever_is_typed_is_taken_as_that_very_text_or_refused_with_words(
    kind: FileKind, question: Question
) -> None:
    asked = kind.asked(question.key)
    if asked.form in ("yes_no", "one_of"):
        return
    for typed in ODD:
        try:
            value = value_of(asked, typed)
        except NotAnswer as why:
            assert str(why)
            continue
        data = load_text(f"{question.key}: {written(asked, value)}\n", "typed").data
        assert isinstance(data, dict)
        back = data[question.key]
        assert str(back) == value if asked.form == "number" else back == value


def test_a_model_field_of_a_new_type_cannot_be_asked_unnoticed() -> None:
    class Odd(BaseModel):
        field: dict[str, int]

    with pytest.raises(TypeError, match="no question"):
        asked_of(Odd.model_fields["field"])
