"""An answer typed too early, on a part of a screen or after REFUSED, is not lost."""

import os
import threading
import time
from collections.abc import Iterator
from dataclasses import replace

import pytest
from steplatch.runner.screen.asking import ask_line
from steplatch.runner.screen.context import Context, Keeper
from steplatch.runner.screen.everywhere import carry_out
from steplatch.runner.screen.refusal import after_refusal
from steplatch.runner.screen.talk import GO, Page, Prompt, Stopped
from steplatch.runner.screen.terminal.full_screen import FullScreen
from steplatch.safety.interlocks import Refusal

from tests.console.terminal import Screen
from tests.console.test_dialogues import OnPaper, Typing
from tests.played import Stands

PAGE = Page("read", "1/1 A stage, step 1 of 1", "1/1", False, "begun", why="Because of it. " * 40)


@pytest.fixture
def screen(monkeypatch: pytest.MonkeyPatch) -> Iterator[Screen]:
    monkeypatch.setenv("TERM", "xterm-256color")
    made = Screen(44, 12)
    yield made
    made.close()


def answered(screen: Screen, prompt: Prompt, *keys: tuple[str, bytes]) -> str:
    """What a question takes: each of ``keys`` is pressed once its words stand there."""
    talk = FullScreen(screen.stdin, screen.stdout)
    missed: list[str] = []

    def press() -> None:
        for words, pressed in keys:
            if not screen.shows(words):
                missed.append(f"{words!r} never came:\n{screen.text()}")
                pressed = b"\x1b"
            os.write(screen.master, pressed)
            time.sleep(0.2)  # what follows at once is taken for a paste

    pressing = threading.Thread(target=press, daemon=True)
    pressing.start()
    try:
        return talk.ask(prompt)
    except Stopped:
        raise AssertionError(missed) from None
    finally:
        pressing.join(8)
        talk.close()


def test_a_line_typed_on_an_early_part_stands_at_the_question_and_enter_takes_it(
    screen: Screen,
) -> None:
    prompt = Prompt("read", "line", "One line: mbar 1/min.", page=PAGE)
    first = ("part 1 of", b"75.9 2376\n")
    assert answered(screen, prompt, first, ("part 2 of 3: Enter reads on 75.9 2376", b"\n"),
                    ("> 75.9 2376", b"\n")) == "75.9 2376"  # fmt: skip


def test_the_deliberate_key_is_pressed_at_its_question_alone(screen: Screen) -> None:
    prompt = Prompt("start:go", "go", "When everybody knows:", page=replace(PAGE, step="start"))
    assert answered(screen, prompt, ("part 1 of 3", b"g\n"), ("part 1 of 3: Enter reads on", b"\n"),
                    ("part 2 of", b"\n"), ("press g", b"g")) == GO  # fmt: skip


def test_a_reading_typed_after_refused_is_taken_and_a_figure_of_a_list_is_not(
    stands: Stands,
) -> None:
    refusal = (Refusal("reading-condition", "The engine idles.", "Raise it.", "the procedure"),)

    def after(step_id: str, typed: str) -> tuple[Context, Typing]:
        talk = Typing({f"{step_id}:refused": [typed]})
        session = OnPaper(stands, stands.at(step_id))
        on = Context(session, talk, "2026-03-02-aaaaaaaa", Keeper(lambda _, v: v), None, carry_out)
        after_refusal(on, session.plan.main.step(step_id), refusal)
        return on, talk

    on, talk = after("before-raised", "75.9 2376 39.7 224 87 s")
    assert ask_line(on, "before-raised", "One line:") == "75.9 2376 39.7 224 87 s"
    assert talk.said[-1] == "  taken: 75.9 2376 39.7 224 87 s" and on.retyped == ("", "")
    for step_id, typed in (("before-raised", "again"), ("fumes", "2"), ("run-spray", "8")):
        on, _ = after(step_id, typed)
        assert on.retyped == ("", ""), step_id
