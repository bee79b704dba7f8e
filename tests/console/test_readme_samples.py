"""The samples that the README shows are what the program shows."""

from pathlib import Path

from steplatch.runner.screen.notices import refusal_lines
from steplatch.runner.screen.page import parts_of, wrapped
from steplatch.runner.screen.talk import Prompt
from steplatch.safety.interlocks import INTERLOCKS, Refusal

from tests.played import Played

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")


def shown(after: str) -> list[str]:
    """The lines of the sample that stands after these words in the README."""
    return README.split(after, 1)[1].split("```text\n", 1)[1].split("\n```", 1)[0].split("\n")


def test_the_step_that_the_readme_shows_is_what_the_screen_shows(
    clean_prompts: list[Prompt],
) -> None:
    step = "clean-above:off-spray"
    prompt = next(p for p in clean_prompts if p.page is not None and p.page.step == step)
    part = parts_of(prompt, [], 80, 24)[-1]
    rows = ["".join(cell.text for cell in row).rstrip() for row in part.rows]
    assert shown("A step of the shipped procedure") == [*rows, part.keys]


def test_the_verdict_and_the_refusal_that_the_readme_shows_are_said(good: Played) -> None:
    verdict = shown("The end of a job")
    assert verdict == good.verdict["lines"][: len(verdict)]
    row = next(row for row in INTERLOCKS if row.id == "start-ledger")
    lines = refusal_lines(Refusal(row.id, row.reason, row.remedy, row.source))
    said = [text for line, _ in lines for text in wrapped(line, 80)]
    assert shown("An act that is not safe now") == said
