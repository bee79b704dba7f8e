"""Exercises: a practice job that a supervisor sets, with faults that stay hidden till the debrief.

An exercise is data (examples/exercises): what the trainee is told, the faults or what they are
drawn from, how the job should end, and what must be noticed on the way. Whether something was
noticed is read from the record alone: an answer, a trip, a refusal, a doubted reading.
"""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from runner.job import Job
from runner.practice.faults import FAULTS, MAX_FAULTS, draw_faults
from runner.practice.lesson import Lesson
from runner.strict_yaml import Document, StrictModel, load_model

Name = Annotated[str, Field(min_length=1, max_length=60)]
Text = Annotated[str, Field(min_length=3, max_length=600)]


def _known(name: str) -> str:
    if name not in FAULTS:
        raise ValueError(f"{name!r} is no fault; 'steplatch practise --list-faults' lists them")
    return name


FaultName = Annotated[str, AfterValidator(_known)]


class Draw(StrictModel):
    """``count`` faults drawn by the seed from ``among``."""

    count: Annotated[int, Field(ge=1, le=MAX_FAULTS)] = 1
    among: Annotated[tuple[FaultName, ...], Field(min_length=2)]

    @model_validator(mode="after")
    def _enough(self) -> "Draw":
        if len(set(self.among)) != len(self.among):
            raise ValueError("a fault stands twice under 'among'")
        if self.count > len(self.among):
            raise ValueError(f"{self.count} cannot be drawn from {len(self.among)}")
        return self


class Notice(StrictModel):
    """One thing that must be noticed: what, in words, and where the record shows it.

    ``record`` names an answer or judgement, ``among`` the values that show it. ``with_faults``
    leaves it out unless one of these was drawn.
    """

    what: Text
    record: Name
    among: Annotated[tuple[Name, ...], Field(min_length=1)]
    with_faults: tuple[FaultName, ...] = ()

    def noticed(self, job: Job) -> bool:
        """Whether the record shows it: any value under ``record``, also one corrected later."""
        values = [
            value for r in job.log.records if r.name == self.record for value in _said(r.value)
        ]
        values += [v for c in job.log.corrections if c.name == self.record for v in _said(c.was)]
        return bool(set(values) & set(self.among))


class Exercise(StrictModel):
    """One exercise. ``card`` is the lesson whose answers stand on the practice card (customer,
    papers, codes); ``answers`` replace single ones of them."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
    title: Name
    set_by: Name
    told: Text
    procedure: Name = "clean-above"
    card: Name = "good-clean"
    answers: dict[str, str] = Field(default_factory=dict)
    faults: tuple[FaultName, ...] = ()
    draw: Draw | None = None
    seed: Annotated[int, Field(ge=0, le=2**31)]
    ends: Annotated[tuple[Literal["finished", "abandoned"], ...], Field(min_length=1)]
    notice: Annotated[tuple[Notice, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _one_way(self) -> "Exercise":
        if bool(self.faults) == (self.draw is not None):
            raise ValueError("give either 'faults' or 'draw', not both and not neither")
        return self

    def drawn(self, seed: int) -> tuple[str, ...]:
        """The faults of this exercise: as given, or drawn by ``seed``."""
        if self.draw is None:
            return self.faults
        return draw_faults(seed, self.draw.count, self.draw.among)

    def due(self, faults: tuple[str, ...]) -> tuple[Notice, ...]:
        """What must be noticed with these faults."""
        return tuple(
            n for n in self.notice if not n.with_faults or set(n.with_faults) & set(faults)
        )

    def on_card(self, lesson: Lesson) -> Lesson:
        """The lesson that lends its practice card, with this exercise's own answers."""
        return lesson.model_copy(
            update={"answers": {**lesson.answers, **self.answers}, "slips": {}}
        )


def load_exercise(path: Path) -> tuple[Exercise, Document]:
    """Read one exercise file. Raises BadFile."""
    return load_model(path, Exercise)


def _said(value: dict[str, object]) -> list[str]:
    return [str(value[key]) for key in ("choice", "text", "state", "typed", "role") if key in value]
