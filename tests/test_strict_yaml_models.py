"""A file against its model: each error at its value or key, with a remedy."""

from pathlib import Path
from typing import Annotated, ClassVar, Literal

import pytest
from hypothesis import given, settings
from pydantic import AfterValidator, BaseModel, Field
from steplatch.runner.input.findings import BadFile, BadValue, Finding
from steplatch.runner.input.strict_yaml import (
    StrictModel,
    key_text,
    load_model,
    load_text,
    validate,
)

from tests.each import each
from tests.test_strict_yaml import YAML_LIKE, parser

__all__ = ["parser"]


def _even(value: int) -> int:
    if value % 2:
        raise BadValue(f"{value} is odd", "Write an even number")
    return value


def _not_seven(value: int) -> int:
    if value == 7:
        raise ValueError("seven is taken")
    return value


class Measure(StrictModel):
    kind: Literal["measure"]
    band: float
    measure: dict[str, str] | None = None


class Ask(StrictModel):
    kind: Literal["ask"]
    text: str
    answers: tuple[Literal["done", "not done"], ...] = ()
    ask: Measure | None = None


class Sheet(StrictModel):
    refused_keys: ClassVar[dict[str, str]] = {"plate": "Give it with the job"}
    title: Annotated[str, Field(min_length=2, max_length=10, pattern="^[a-z]+$")]
    urgent: bool = False
    count: Annotated[int, Field(ge=1, lt=9), AfterValidator(_even), AfterValidator(_not_seven)] = 2
    share: Annotated[float, Field(gt=0, le=1)] = 0.5
    steps: tuple[Annotated[Measure | Ask, Field(discriminator="kind")], ...] = ()
    either: int | bool = 1
    extra: dict[str, int] = {}  # noqa: RUF012 - pydantic copies it


def refused_by_model(text: str) -> tuple[Finding, ...]:
    document = load_text(text, "f.yaml")
    with pytest.raises(BadFile) as refused:
        validate(document, Sheet)
    return refused.value.findings


MODEL_REFUSALS = [
    ("titel: ab\n", 1, 1, "titel", "unknown key", 'Did you mean "title"?'),
    ("title: ab\nzzz: 1\n", 2, 1, "zzz", "unknown key", "Known here: title, urgent, count, share"),
    ("title: ab\nplate: X\n", 2, 1, "plate", "this key is refused here", "Give it with the job"),
    ("urgent: true\n", 1, 1, "title", "this key is missing", 'Add "title: ..."'),
    ("title: 5\n", 1, 8, "title", "a text is wanted, not the number 5", "Put quotes around it"),
    ("title: true\n", 1, 8, "title", "a text is wanted, not the switch true", "quotes around it"),
    ("title: null\n", 1, 8, "title", "a text is wanted, not null", "Write a text"),
    ("title: [a]\n", 1, 8, "title", "a text is wanted, not a list", "Write a text"),
    ("title: a\n", 1, 8, "title", 'the text "a" has the wrong size', "at least 2 characters"),
    ("title: abcdefghijk\n", 1, 8, "title", "wrong size", "at most 10 characters"),
    ("title: AB\n", 1, 8, "title", 'the text "AB" has the wrong form', "Write it as the examples"),
    ("title: ab\nurgent: yes\n", 2, 9, "urgent", '"yes" is a text', "Write true or false, in"),
    ("title: ab\nurgent: OFF\n", 2, 9, "urgent", '"OFF" is a text', "Write true or false, in"),
    ("title: ab\nurgent: 'true'\n", 2, 9, "urgent", '"true" is a text', "without quotes"),
    ("title: ab\nurgent: 1\n", 2, 9, "urgent", "true or false is wanted", "Write true or false"),
    ("title: ab\ncount: '2'\n", 2, 8, "count", 'not the text "2"', "without quotes or unit"),
    ("title: ab\ncount: 2.0\n", 2, 8, "count", "not the number 2.0", "Write digits only"),
    ("title: ab\ncount: true\n", 2, 8, "count", "not the switch true", "Write digits only"),
    ("title: ab\ncount: 0\n", 2, 8, "count", "0 is outside", "Write at least 1"),
    ("title: ab\ncount: 9\n", 2, 8, "count", "9 is outside", "Write less than 9"),
    ("title: ab\ncount: 3\n", 2, 8, "count", "3 is odd", "Write an even number"),
    ("title: ab\nshare: 1e-1\n", 2, 8, "share", 'not the text "1e-1"', "or exponent"),
    ("title: ab\nshare: 0.0\n", 2, 8, "share", "0.0 is outside", "Write more than 0"),
    ("title: ab\nshare: 1.5\n", 2, 8, "share", "1.5 is outside", "Write at most 1"),
    ("title: ab\nsteps: {}\n", 2, 8, "steps", "not a group of keys", 'on a line after "- "'),
    ("title: ab\nsteps: [5]\n", 2, 9, "steps[1]", "a group of keys is wanted", '"key: value"'),
    ("title: ab\nextra: []\n", 2, 8, "extra", "a group of keys is wanted, not a list", "lines"),
    ("title: ab\nextra: {a: x}\n", 2, 12, "extra.a", "a whole number is wanted", "digits only"),
    ("[]\n", 1, 1, "file", "a group of keys is wanted, not a list", '"key: value" lines'),
]  # fmt: skip


@each(("text", "line", "column", "key", "problem", "remedy"), MODEL_REFUSALS)
def test_an_error_of_the_model_points_at_the_value_or_the_key(
    text: str, line: int, column: int, key: str, problem: str, remedy: str
) -> None:
    finding = next(f for f in refused_by_model(text) if f.key == key)
    assert (finding.line, finding.column) == (line, column)
    assert problem in finding.problem
    assert remedy in finding.remedy


STEP_REFUSALS = [
    ("kind: measure\n    bnad: 1", 4, 5, "bnad", "unknown key", 'Did you mean "band"?'),
    ("kind: measure\n    bnad: 1", 3, 5, "band", "this key is missing", 'Add "band: ..."'),
    ("kind: ask\n    text: 5", 4, 11, "text", "a text is wanted", "quotes around it"),
    ("kind: asc\n    text: a", 3, 11, "kind", '"asc" is not one of the kinds', "measure, ask"),
    ("text: a", 3, 5, "kind", "this key is missing", 'Add "kind: ..."'),
    ("kind: ask\n    text: a\n    answers: [dne]", 5, 15, "answers[1]", 'the text "dne" is not',
     "Write one of: done or not done"),
    ("kind: ask\n    text: a\n    answers: [true]", 5, 15, "answers[1]", "the switch true is not",
     "quote it"),
    # a key of the same name as the kind's tag: the path must not lose or double it
    ("kind: measure\n    band: x\n    measure: {band: a}", 4, 11, "band", "a number is wanted",
     "plain number"),
    ("kind: measure\n    band: 1\n    measure: {band: 2}", 5, 21, "measure.band",
     "a text is wanted", "quotes"),
    ("kind: ask\n    text: a\n    ask: {kind: measure, band: x}", 5, 32, "ask.band",
     "a number is wanted", "plain number"),
    ("kind: ask\n    text: a\n    ask: {kind: measure}", 5, 5, "ask.band",
     "this key is missing", 'Add "band: ..."'),
    ("kind: ask\n    text: a\n    ask: {kind: measure, band: 1, bant: 2}", 5, 35, "ask.bant",
     "unknown key", 'Did you mean "band"?'),
]  # fmt: skip


@each(("step", "line", "column", "key", "problem", "remedy"), STEP_REFUSALS)
def test_tags_of_a_union_do_not_appear_in_the_path(
    step: str, line: int, column: int, key: str, problem: str, remedy: str
) -> None:
    found = refused_by_model(f"title: ab\nsteps:\n  - {step}\n")
    finding = next(f for f in found if f.key == f"steps[1].{key}")
    assert (finding.line, finding.column) == (line, column)
    assert problem in finding.problem
    assert remedy in finding.remedy


def test_the_known_keys_are_those_of_the_chosen_kind() -> None:
    (finding,) = refused_by_model("title: ab\nsteps:\n  - kind: ask\n    text: a\n    qqq: 1\n")
    assert finding.remedy == "Known here: kind, text, answers, ask"


def test_the_alternatives_of_a_union_are_one_finding() -> None:
    (finding,) = refused_by_model("title: ab\neither: x\n")
    assert (finding.line, finding.column, finding.key) == (2, 9, "either")
    assert finding.problem == (
        'a whole number is wanted, not the text "x"; or true or false is wanted, not the text "x"'
    )


def test_a_plain_value_error_of_a_validator_is_a_finding_too() -> None:
    class Taken(StrictModel):
        count: Annotated[int, AfterValidator(_not_seven)]

    with pytest.raises(BadFile) as refused:
        validate(load_text("count: 7\n", "f.yaml"), Taken)
    (finding,) = refused.value.findings
    assert (finding.line, finding.column, finding.problem) == (1, 8, "seven is taken")


def test_all_errors_of_the_model_come_at_once() -> None:
    found = refused_by_model("titel: x\nurgent: no\ncount: 0\nsteps:\n  - kind: ask\n")
    assert [(f.line, f.key) for f in found] == [
        (1, "title"), (1, "titel"), (2, "urgent"), (3, "count"), (5, "steps[1].text"),
    ]  # fmt: skip


def test_a_sound_file_gives_a_frozen_model_with_tuples(tmp_path: Path) -> None:
    path = tmp_path / "f.yaml"
    path.write_text("title: ab\nsteps:\n  - {kind: measure, band: 1}\n", "utf-8")
    sheet, document = load_model(path, Sheet)
    assert sheet.steps == (Measure(kind="measure", band=1.0),)
    assert document.where["steps", 0, "band"].line == 3
    with pytest.raises(ValueError, match="frozen"):
        sheet.title = "other"


def test_a_model_that_lets_unknown_keys_through_is_a_programmers_mistake() -> None:
    class Loose(BaseModel):
        a: int

    with pytest.raises(TypeError, match="must forbid unknown keys"):
        validate(load_text("a: 1\n", "f.yaml"), Loose)


def test_a_check_made_later_can_point_at_a_path_or_its_nearest_parent() -> None:
    document = load_text("a:\n  b: 1\n", "f.yaml")
    assert document.finding(("a", "b"), "p", "r") == Finding("f.yaml", 2, 6, "a.b", "p", "r")
    at_key = document.finding(("a", "b"), "p", "r", at_key=True)
    assert (at_key.line, at_key.column) == (2, 3)
    missing = document.finding(("a", "c", 1), "p", "r")
    assert (missing.line, missing.column, missing.key) == (1, 1, "a.c[2]")


def test_items_are_counted_from_one_in_what_people_read() -> None:
    assert key_text(("steps", 2, "band")) == "steps[3].band"
    assert key_text((0, 1)) == "[1][2]"
    assert key_text(()) == "file"


@settings(max_examples=150, deadline=None)
@given(text=YAML_LIKE)
def test_any_text_against_a_model_is_taken_or_refused(text: str) -> None:
    try:
        document = load_text("title: ab\n" + text, "f.yaml")
    except BadFile:
        return
    try:
        validate(document, Sheet)
    except BadFile as refused:
        assert all(f.line >= 1 and f.column >= 1 for f in refused.findings)
