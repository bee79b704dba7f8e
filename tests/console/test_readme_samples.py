"""The samples and pictures that the README shows are what the program shows."""

from pathlib import Path

from steplatch.runner.screen.notices import refusal_lines
from steplatch.runner.screen.page import wrapped
from steplatch.runner.screen.talk import Prompt
from steplatch.safety.interlocks import INTERLOCKS, Refusal

from tests.played import Played
from tests.upkeep.write_pictures import PICTURES, STEPS, part_at, screen

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")


def shown(after: str) -> list[str]:
    """The lines of the sample that stands after these words in the README."""
    return README.split(after, 1)[1].split("```text\n", 1)[1].split("\n```", 1)[0].split("\n")


def test_the_pictures_of_the_readme_are_what_the_screen_shows(clean_prompts: list[Prompt]) -> None:
    for name, step in STEPS.items():
        kept = (PICTURES / f"{name}.svg").read_text(encoding="utf-8")
        drawn = screen(part_at(clean_prompts, step))
        assert kept == drawn, "run: python -m tests.upkeep.write_pictures"
        assert f"examples/guide/pictures/{name}.svg" in README
        assert drawn.count("<text") > 10 and "LIMIT" in drawn
    assert (PICTURES / "sheet.png").read_bytes().startswith(b"\x89PNG")


def test_the_verdict_and_the_refusal_that_the_readme_shows_are_said(good: Played) -> None:
    verdict = shown("The end of a job")
    assert verdict == good.verdict["lines"][: len(verdict)]
    row = next(row for row in INTERLOCKS if row.id == "start-ledger")
    lines = refusal_lines(Refusal(row.id, row.reason, row.remedy, row.source))
    said = [text for line, _ in lines for text in wrapped(line, 80)]
    assert shown("An act that is not safe now") == said
