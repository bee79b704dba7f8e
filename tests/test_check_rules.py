"""What ``check`` says of style and meaning: each rule by a file that breaks it, at its line."""

import ast
import inspect
from pathlib import Path

import pytest
from steplatch.runner.assess.facts import choice_domains
from steplatch.runner.core.loading import load_kept, load_procedure
from steplatch.runner.core.steps.ask import RESERVED
from steplatch.runner.core.vocabulary import PERSONAL, VOCABULARY
from steplatch.runner.input.findings import BadFile
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.record import PersonalField
from steplatch.runner.screen import everywhere

from tests.step_text import in_step, lines_of, without_steps, written_out

BROKEN = [
    # (step, old, new, what is said)
    ("oil-level", "Read, rub", "The read, rub", "begins no act"),
    ("oil-level", "the dipstick.", "the dipstick", "no sentence"),
    ("oil-level", "the dipstick.", "the dipstick thoroughly.", "'thoroughly' cannot be checked"),
    ("before-lower", "Let the engine", "Let it, when held, the engine", "condition comes"),
    ("run-spray", 'why: "Act on the sag', 'remedy: "Act on the sag', "say why"),
    ("advice", "Type the advice", "Clear the ash counter, type the advice", "never set back"),
    ("advice", "given to the customer", "that it runs like new", "promised to nobody"),
    ("advice", "given to the customer", "that it is SIL 2", "promised to nobody"),
    ("complaint", "ask: text", "ask: text\n        personal: yes", "cannot be kept apart"),
    ("contact", "        personal: yes", "        may_not_apply: yes", "a customer's data"),
    ("ash", "name: ash_state", "name: ash_sate", "write 'ash_state'"),
    ("ash", "at_limit:", "over_limit:", "never 'over_limit'"),
    ("age", "ask: years", "ask: text", "is read as years"),
    ("core", "cautions: [filter-damaged", "cautions: [filter-damage", "filter-damaged"),
    ("advice", "ask: text", "ask: txt", "quantity 'txt'"),
    ("oil-level", "Read, rub and smell the", "Read " + "and read " * 9 + "the", "21 words"),
    ("hand-over", "Hand over vehicle", "Sign it. Hand over vehicle", "more than one act"),
    ("contact", "customer can be", "customer can, if need be, be", "condition comes"),
    ("road-choice", "drive:", "back:", "a word that works at every question"),
    ("triage-seen", "sign: technician", "sign: technican", "technician"),
]  # fmt: skip


def findings_of(folder: Path, text: str) -> list[str]:
    path = folder / "mine.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as bad:
        load_procedure(path)
    return [str(finding) for finding in bad.value.findings]


@pytest.mark.parametrize(("step", "old", "new", "said"), BROKEN, ids=[row[3] for row in BROKEN])
def test_each_rule_is_told_at_its_step(
    tmp_path: Path, step: str, old: str, new: str, said: str
) -> None:
    text = in_step(written_out(), step, old, new)
    told = findings_of(tmp_path, text)
    first, after = lines_of(text, step)
    (mine,) = [one for one in told if said in one]
    assert first < int(mine.split("mine.yaml:")[1].split(":")[0]) <= after, mine


WHOLE = [
    (("before-zero-read",), "'read before zero' is missing"),
    (("after-raised", "after-idle"), "'read after raised' is missing"),
    (("line-test-blow",), "'ask line_test' is missing"),
    (("line-key", "line-kit", "line-cool", "line-hands", "line-which", "line-off",
      "line-test-blow", "line-on"), "'ask line_test' is missing"),
    (("triage-judge",), "'judge triage' is missing"),
]  # fmt: skip


@pytest.mark.parametrize(("steps", "said"), WHOLE, ids=[row[1] + row[0][0] for row in WHOLE])
def test_evidence_that_nothing_supports_is_told(
    tmp_path: Path, steps: tuple[str, ...], said: str
) -> None:
    told = findings_of(tmp_path, without_steps(written_out(), *steps))
    assert any(said in one for one in told), told


def test_the_words_that_no_answer_may_have_are_those_that_work_everywhere() -> None:
    tree = ast.parse(inspect.getsource(everywhere.carry_out))
    cases = [node for node in ast.walk(tree) if isinstance(node, ast.MatchValue)]
    words = {ast.literal_eval(node.value) for node in cases} - {"?", "??"}
    assert words | {"dk"} == RESERVED


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("    done: The engine stands.\n", "", "done"),
        ("    done: The engine stands.\n", "    done: Does it stand?\n", "asks nothing"),
        (
            "      - final-stop:",
            "      - extra-{n}: Look at it.\n        ask: text\n" * 9 + "      - final-stop:",
            "at most 9",
        ),
    ],
)
def test_a_stage_is_short_and_ends_with_a_completion_line(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    text = written_out()
    assert text.count(old) == 1
    for n in range(9):
        new = new.replace("{n}", str(n), 1)
    told = findings_of(tmp_path, text.replace(old, new))
    assert any(said in one for one in told), told


def test_a_card_that_does_not_stop_first_or_returns_is_told(tmp_path: Path) -> None:
    text = written_out(PROCEDURES / "card-fire.yaml")
    told = findings_of(tmp_path, in_step(text, "out", "report: stopped", "report: lowered"))
    assert any("then stops the engine" in one for one in told)
    told = findings_of(tmp_path, in_step(text, "ended", "end: abandoned", "end: finished"))
    assert any("a card never returns" in one for one in told)


def test_a_text_that_a_job_kept_is_not_judged_by_rules_that_came_later(tmp_path: Path) -> None:
    text = in_step(written_out(), "oil-level", "the dipstick.", "the dipstick thoroughly.")
    path = tmp_path / "kept.yaml"
    path.write_text(text, encoding="utf-8")
    assert load_kept(path)[0].step("oil-level").do.endswith("thoroughly.")


def test_the_vocabulary_is_what_the_program_reads() -> None:
    domains = choice_domains()
    own = {name: word for name, word in VOCABULARY.items() if word.values}
    for name, word in own.items():
        assert set(word.values) == set(domains[name]) - {"unknown"}, name
    assert {field.value for field in PersonalField} - {"vin"} == PERSONAL
    assert VOCABULARY.keys() >= PERSONAL


def test_every_name_that_the_shipped_jobs_ask_is_of_the_vocabulary_or_of_its_own() -> None:
    asked = {
        step.name: step
        for path in PROCEDURES.glob("[!s]*.yaml")
        for step in load_procedure(path)[0].steps()
        if step.kind == "ask"
    }
    judged = {name for name, word in VOCABULARY.items() if "triage" in word.read_by}
    assert judged <= asked.keys(), judged - asked.keys()
