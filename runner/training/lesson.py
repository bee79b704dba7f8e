"""Lessons: scripted practice jobs, played through the same guide as a person's.

A lesson is data (examples/lessons): faults, seed, who works and signs, the answers that only
a person can give. Where it is silent, the player answers as a careful apprentice would: what
the practice vehicle shows, else what the step asks for. A step that it cannot get past ends
the lesson with an error that names the step; nothing is skipped.
"""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field
from steplatch.safety.catalogue import _

from ..input.strict_yaml import StrictModel, load_model
from ..screen.page import page_lines
from ..screen.talk import HeardAt, Prompt
from ..simulator.slip import Slip

MAX_REPEATS = 150

LOOK_AGAIN = {
    **{"secured": "yes", "fumes": "extraction", "controls": "other", "hands": "clear"},
    **{"lift": "wheels", "flash": "none", "trigger": "springs", "stop_start": "off"},
    **{"kit": "heat", "spill": "ready", "sheet": "read", "crew": "pair", "reach": "clear"},
}
"""What a careful apprentice sees when asked again about people and place; the vehicle itself
is looked at."""


class LessonStuck(RuntimeError):  # noqa: N818 - it names what happened
    """The lesson cannot get past a step, or asks for an answer that it does not give."""


class Cast(StrictModel):
    """Who works and who signs in which role."""

    worker: str
    technician: str
    supervisor: str


class ExpectedEnd(StrictModel):
    """How the lesson must end."""

    ended: str
    verdicts: Annotated[tuple[str, ...], Field(min_length=1)]


class Lesson(StrictModel):
    """One scripted practice job. ``answers`` maps a prompt's key to what is typed; a list is
    used up one by one, its last item again and again. ``slips`` are the mistakes at the trigger,
    by the spray at which they happen."""

    id: str
    title: str
    teaches: str
    procedure: str
    faults: Annotated[tuple[str, ...], Field(min_length=1)]
    seed: int
    cast: Cast
    answers: dict[str, str | tuple[str, ...]]
    slips: dict[Literal["spray_off", "spray_running"], Slip] = Field(default_factory=dict)
    expected: ExpectedEnd


def load_lesson(path: Path) -> Lesson:
    """Read one lesson file. Raises BadFile."""
    lesson, _ = load_model(path, Lesson)
    return lesson


class Script:
    """Plays a lesson. ``quiet`` swallows what the screen would show; else it is printed."""

    def __init__(self, lesson: Lesson, width: int = 80, quiet: bool = True) -> None:
        self.lesson = lesson
        self.said: list[str] = []
        self._width = width
        self._quiet = quiet
        self._used: dict[str, int] = {}
        self._last = ""
        self._page = ("", "")
        self._repeats = 0

    @property
    def width(self) -> int:
        """Columns to write in."""
        return self._width

    def say(self, text: str = "", style: str = "") -> None:
        """Keep what the screen would show."""
        self.said.append(text)
        if not self._quiet:
            print(text)

    def count(self, cap_s: float, heard: HeardAt | None = None, practice: bool = True) -> str:
        """Nobody presses a key: the seconds are asked for."""
        return ""

    def rest(self, seconds: float, around: Prompt) -> str:
        """Nobody types while it waits."""
        return ""

    def ring(self, until_answered: bool = False) -> None:
        """Nobody hears it."""

    def ask(self, prompt: Prompt) -> str:
        """The lesson's answer, else what the vehicle shows, else what the step asks for."""
        self._repeats = self._repeats + 1 if prompt.key == self._last else 0
        self._last = prompt.key
        if self._repeats > MAX_REPEATS:
            raise LessonStuck(
                _(
                    "lesson '{id}' does not get past '{key}'. The last lines were:\n",
                    id=self.lesson.id,
                    key=prompt.key,
                )
                + "\n".join(self.said[-12:])
            )
        answer = self._scripted(prompt.key) or prompt.truth or self._careful(prompt)
        if not answer:
            raise LessonStuck(
                _(
                    "lesson '{id}' has no answer for '{key}': {text} Add it under 'answers'.",
                    id=self.lesson.id,
                    key=prompt.key,
                    text=prompt.text,
                )
            )
        page, before = prompt.page, self._page
        self._page = (page.group, page.step) if page is not None else before
        if page is not None and self._page != before:
            for text, style in page_lines(page, self._width, page.group != before[0]):
                self.say(text, style)
        for text, style in (*prompt.lead, *prompt.foot):
            self.say(text, style)
        self.say(prompt.text)
        self.say(f"> {answer}")
        return answer

    def _scripted(self, key: str) -> str:
        given = self.lesson.answers.get(key, "")
        if isinstance(given, str):
            return given
        at = self._used.get(key, 0)
        self._used[key] = at + 1
        return given[min(at, len(given) - 1)]

    def _careful(self, prompt: Prompt) -> str:
        cast = self.lesson.cast
        roles = {"technician": cast.technician, "supervisor": cast.supervisor,
                 "apprentice": cast.worker, "customer": "customer"}  # fmt: skip
        if prompt.want.startswith("role:"):
            able = {choice.value for choice in prompt.choices}
            name = roles[prompt.want.removeprefix("role:")]
            return name if name in able or not able else sorted(able)[0]
        fact = prompt.key.removeprefix("look:")
        if fact != prompt.key and LOOK_AGAIN.get(fact) in {c.value for c in prompt.choices}:
            return LOOK_AGAIN[fact]
        if prompt.kind == "choice" and prompt.want in {c.value for c in prompt.choices}:
            return prompt.want
        return prompt.want if prompt.kind in ("line", "go") else ""
