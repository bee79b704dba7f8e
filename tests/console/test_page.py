"""The layout of every question of a whole job, at every size: nothing lost, nothing too wide."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len
from steplatch.runner.screen.page import ScreenPart, parts_of, wrapped
from steplatch.runner.screen.screen import caution_texts
from steplatch.runner.screen.talk import Choice, Page, Prompt

from tests.console.conftest import walked

SIZES = ((44, 12), (80, 24), (140, 40), (60, 16), (30, 10), (200, 60))
BAY = (44, 12)


@pytest.fixture(
    scope="module", params=["good-clean", pytest.param("stall-recovered", marks=pytest.mark.slow)]
)
def prompts(
    request: pytest.FixtureRequest, clean_prompts: list[Prompt], tmp_path_factory: Any
) -> list[Prompt]:
    """All questions of a job; the one that stalls and is recovered is played in the slow run."""
    if request.param == "good-clean":
        return clean_prompts
    return walked(str(request.param), tmp_path_factory.mktemp("stalls"))


def text_of(part: ScreenPart, column: int = 0) -> str:
    """A part as one line of words; of a wide screen one side."""
    cells = [row[min(column, len(row) - 1)].text for row in part.rows if column < len(row)]
    return " ".join(" ".join(cells).split())


def test_every_part_of_every_question_fits_its_screen(prompts: list[Prompt]) -> None:
    wrong = []
    for columns, rows in SIZES:
        for prompt in prompts:
            for part in parts_of(prompt, [], columns, rows):
                if len(part.rows) > rows - 2:
                    wrong.append(f"{prompt.key} at {columns}x{rows}: {len(part.rows)} rows")
                for row in part.rows:
                    if sum(cell.width for cell in row) > columns or any(
                        cell_len(cell.text) > cell.width for cell in row
                    ):
                        wrong.append(f"{prompt.key} at {columns}x{rows}: {row}")
                if cell_len(part.keys) >= columns and columns >= BAY[0]:
                    wrong.append(f"{prompt.key} at {columns}x{rows}: {part.keys}")
    assert wrong == []


def test_cautions_stand_whole_before_the_instruction_and_the_instruction_with_the_question(
    prompts: list[Prompt],
) -> None:
    wrong = []
    for columns, rows in SIZES[:4]:
        for prompt in prompts:
            assert prompt.page is not None
            parts = parts_of(prompt, [], columns, rows)
            whole = " ".join(text_of(part) for part in parts)
            do = next((t for t, style in prompt.lead if style == "do"), "")
            do = " ".join(do.split())
            for word, body in caution_texts(prompt.page.cautions):
                at = whole.find(f"{word} {body}")
                if at < 0 or (do and at > whole.rfind(do)):
                    wrong.append(f"{prompt.key} at {columns}x{rows}: {body[:30]}")
            last = text_of(parts[-1])
            if do not in last or " ".join(prompt.text.split()) not in last:
                wrong.append(f"{prompt.key} at {columns}x{rows}: {do}")
            for text, _ in prompt.foot:
                if text not in last:
                    wrong.append(f"{prompt.key} at {columns}x{rows}: {text}")
            for choice in prompt.choices:
                if choice.say not in whole:
                    wrong.append(f"{prompt.key} at {columns}x{rows}: {choice.say}")
            if "stop" not in parts[0].keys:
                wrong.append(f"{prompt.key}: no stop")
    assert wrong == []


def test_no_question_of_a_step_loses_its_instruction_on_a_small_screen(
    prompts: list[Prompt],
) -> None:
    lost = []
    for prompt in prompts:
        do = next((" ".join(t.split()) for t, _ in prompt.lead if t.startswith("DO ")), "")
        if do not in text_of(parts_of(prompt, [], *BAY)[-1]):
            lost.append(f"{prompt.key}: {do}")
    assert lost == []
    assert sum(any(t.startswith("DO ") for t, _ in p.lead) for p in prompts) > 150


def test_where_we_are_what_is_done_what_is_next_and_what_is_known_are_on_a_normal_screen(
    prompts: list[Prompt],
) -> None:
    steps = [p for p in prompts if p.page is not None and ":" in p.page.step]
    assert len(steps) > 150
    shown = 0
    for prompt in steps:
        page = prompt.page
        assert page is not None
        first = " ".join(text_of(part) for part in parts_of(prompt, [], 80, 24))
        assert page.place.split(",")[0] in first and ("line " if page.shared else "step ") in first
        wide = " ".join(text_of(part, 2) for part in parts_of(prompt, [], 140, 40))
        assert "KNOWN OF THE VEHICLE" in wide
        assert "here" in wide.split("THE WAY")[1]
        whole = not page.done or "DONE" in first
        whole &= not page.then or ("THEN" if page.shared else "NEXT") in first
        whole |= bool(page.cautions or page.reminded)  # what is to be read comes before it
        shown += ("KNOWN" in first and whole) or any(t.startswith("READ") for t, _ in prompt.lead)
    assert shown == len(steps)
    assert sum(not (p.page.cautions or p.page.reminded) for p in steps if p.page) > 80


def test_a_call_stands_once_on_the_screen_and_steps_left_out_are_counted(
    clean_prompts: list[Prompt],
) -> None:
    called = next(p for p in clean_prompts if p.page is not None and p.page.visit)
    assert called.page is not None
    note = (f"CALL   {called.page.visit}", "head")
    shown = " ".join(text_of(part) for part in parts_of(called, [note], 80, 24))
    assert shown.count(called.page.visit) == 1
    lower = next(p for p in clean_prompts if p.key == "hold-level")
    assert lower.page is not None and lower.page.place.endswith("not needed")
    assert "not needed" in text_of(parts_of(lower, [], 80, 24)[-1])


def test_what_helps_and_decides_nothing_makes_no_part_of_its_own_on_a_small_screen(
    clean_prompts: list[Prompt],
) -> None:
    spray = [p for p in clean_prompts if p.key == "run-spray"]
    assert spray and any(text.startswith("BY ") for text, _ in spray[0].lead)
    for prompt in spray:
        with_it = parts_of(prompt, [], 44, 12)
        without = replace(prompt, lead=tuple(x for x in prompt.lead if x[0][:3] != "BY "))
        assert len(with_it) == len(parts_of(without, [], 44, 12))


def test_a_context_row_that_is_cut_says_so(clean_prompts: list[Prompt]) -> None:
    cut = [
        text_of(part)
        for prompt in clean_prompts
        for part in parts_of(prompt, [], 80, 24)[-1:]
        if "hands clear, OPEN" in " ".join(text_of(part).split())
    ]
    assert cut == []


def test_a_question_that_is_asked_again_does_not_bring_the_read_parts_back(
    prompts: list[Prompt],
) -> None:
    long = [p for p in prompts if len(parts_of(p, [], *BAY)) > 2]
    assert len(long) > 20
    for prompt in long:
        news = [("REFUSED  not so.", "refused")]
        parts = parts_of(prompt, news, *BAY, again=True)
        whole = " ".join(text_of(part) for part in parts)
        assert "REFUSED" in whole
        assert len(parts) <= len(parts_of(prompt, news, *BAY))
        assert prompt.page is not None
        words = {word for word, _ in caution_texts(prompt.page.cautions)}
        full = all(row[0].text for row in parts[-1].rows)
        assert not words or full or any(word in whole for word in words)


def test_a_list_too_long_for_the_screen_is_read_in_parts_before_the_question() -> None:
    choices = tuple(Choice(f"c{n}", f"the answer called number {n}") for n in range(1, 20))
    page = Page("p:s", "1/2 A stage, step 1 of 2", "1/2 1/2 A stage", True, "begun 09:00")
    prompt = Prompt("s", "choice", "Which?", choices, lead=(("DO     Look.", "do"),), page=page)
    parts = parts_of(prompt, [], *BAY)
    everything = [text_of(part) for part in parts]
    for choice in choices:
        assert any(choice.say in text for text in everything)
    assert "DO Look." in everything[-1] and everything[-1].endswith("Which? Type 1 to 19, or dk.")
    assert [part.last for part in parts].count(True) == 1 and parts[-1].last


def test_a_practice_job_says_so_on_every_screen(prompts: list[Prompt]) -> None:
    for columns, rows in SIZES[:3]:
        for prompt in prompts:
            for part in parts_of(prompt, [], columns, rows):
                assert "PRACTICE" in part.rows[0][0].text


def test_text_is_hung_under_its_label_its_number_and_its_beginning() -> None:
    assert wrapped("DO     one two three", 16) == ["DO     one two", "       three"]
    assert wrapped("  2  one two three", 12) == ["  2  one two", "     three"]
    assert wrapped("  one two", 6) == ["  one", "  two"]
    assert wrapped("短い 文字 です", 6) == ["短い", "文字", "です"]


def test_a_checker_is_told_that_the_first_answer_is_kept_from_the_screen(
    prompts: list[Prompt],
) -> None:
    own = [p for p in prompts if p.key.startswith("check:")]
    assert own
    for prompt in own:
        for columns, rows in ((80, 24), (140, 40)):
            whole = " ".join(
                text_of(part, side)
                for part in parts_of(prompt, [], columns, rows)
                for side in (0, 2 if columns > 100 else 0)
            )
            assert "not shown: look yourself" in whole
            assert prompt.truth == "" or f"{prompt.truth}:" not in whole
