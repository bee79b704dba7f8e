"""Questions of whole jobs, asked once for all tests that only look at them."""

from dataclasses import replace
from pathlib import Path

import pytest
from steplatch.runner.screen.talk import Prompt
from steplatch.runner.training.lesson import Script

from tests.played import lesson_with, play


class Recording(Script):
    """Plays a lesson and keeps every question that was asked."""

    prompts: list[Prompt]

    def ask(self, prompt: Prompt) -> str:
        """Keep the question, answer as the lesson does."""
        live = prompt.live() if prompt.live is not None else ()
        self.prompts.append(replace(prompt, live=lambda: live, watch=None))
        return super().ask(prompt)


def walked(lesson_name: str, folder: Path) -> list[Prompt]:
    """Every question of a shipped lesson, played to its end."""
    lesson = lesson_with(lesson_name)
    talk = Recording(lesson)
    talk.prompts = []
    assert play(folder, lesson, talk=talk).ended == "finished"
    return talk.prompts


@pytest.fixture(scope="session")
def clean_prompts(tmp_path_factory: pytest.TempPathFactory) -> list[Prompt]:
    """All questions of a good clean."""
    return walked("good-clean", tmp_path_factory.mktemp("walked"))
