"""Exercises: a practice job that a supervisor sets, with faults that stay hidden till the debrief.

An exercise is data (examples/exercises): what the trainee is told, the faults or what they are
drawn from, how the job should end, and what must be noticed on the way. Whether something was
noticed is read from the record alone: an answer, a trip, a refusal, a doubted reading.
"""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator
from steplatch.safety.catalogue import _

from ..core.amend import JUDGED
from ..core.job import Job
from ..core.plan import Plan
from ..input.findings import BadValue, Finding
from ..input.strict_yaml import Document, StrictModel, load_model
from ..simulator.faults import FAULTS, MAX_FAULTS, draw_faults
from .lesson import Lesson

Name = Annotated[str, Field(max_length=60)]
ExerciseText = Annotated[str, Field(min_length=3, max_length=600)]


def _known(name: str) -> str:
    if name not in FAULTS:
        raise BadValue(
            _("{name!r} is no fault", name=name), _("See 'steplatch practise --list-faults'")
        )
    return name


FaultName = Annotated[str, AfterValidator(_known)]


class Draw(StrictModel):
    """``count`` faults drawn by the seed from ``among``."""

    count: Annotated[int, Field(ge=1, le=MAX_FAULTS)] = 1
    among: Annotated[tuple[FaultName, ...], Field(min_length=2)]

    @model_validator(mode="after")
    def _enough(self) -> "Draw":
        if len(set(self.among)) != len(self.among):
            raise BadValue(_("a fault stands twice under 'among'"), _("Name each once"))
        if self.count > len(self.among):
            raise BadValue(
                _(
                    "{count} cannot be drawn from {count_2}",
                    count=self.count,
                    count_2=len(self.among),
                ),
                _("Draw fewer, or name more"),
            )
        return self


class Notice(StrictModel):
    """One thing that must be noticed: what, in words, and where the record shows it.

    ``step`` (a step's id) or ``record`` (the name of an answer or judgement) says where to look,
    ``among`` the values that show it. ``with_faults`` leaves it out unless one of them is in.
    """

    what: ExerciseText
    step: Name = ""
    record: Name = ""
    among: Annotated[tuple[Name, ...], Field(min_length=1)]
    with_faults: tuple[FaultName, ...] = ()

    @model_validator(mode="after")
    def _one_place(self) -> "Notice":
        if bool(self.step) == bool(self.record):
            raise BadValue(
                _("where the record shows it is not clear"), _("Give either 'step' or 'record'")
            )
        return self

    def noticed(self, job: Job) -> bool:
        """Whether the record shows it; also where it was corrected later."""
        log = job.log
        if self.step:
            return any(m.step == self.step and m.answer in self.among for m in log.marks)
        values = [v for r in log.records if r.name == self.record for v in _said(r.value)]
        values += [v for c in log.corrections if c.name == self.record for v in _said(c.was)]
        return bool(set(values) & set(self.among))


class Exercise(StrictModel):
    """One exercise. ``card`` is the lesson whose answers stand on the practice card (customer,
    papers, codes); ``answers`` replace single ones of them."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
    title: Name
    set_by: Name
    told: ExerciseText
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
            raise BadValue(
                _("what is wrong with the vehicle is not clear"),
                _("Give either 'faults' or 'draw'"),
            )
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


def wrong_places(exercise: Exercise, document: Document, plan: Plan) -> list[Finding]:
    """Steps and answers that the procedure does not have: nobody could ever notice those."""
    steps = {step.id for step in plan.steps()}
    names = {str(getattr(step, "name", "")) for step in plan.steps()} | _JUDGED
    out = []
    for number, notice in enumerate(exercise.notice):
        key = "step" if notice.step else "record"
        if (notice.step or notice.record) in (steps if notice.step else names):
            continue
        out.append(
            document.finding(
                ("notice", number, key),
                _(
                    "'{step}' is no {key} of {procedure}",
                    step=notice.step or notice.record,
                    key=key,
                    procedure=exercise.procedure,
                ),
                _("Take it from the procedure's file"),
            )
        )
    return out


_JUDGED = {"triage", *JUDGED, "plateau", "spray", "gun", "doubted", "kept"}


def _said(value: dict[str, object]) -> list[str]:
    return [str(value[key]) for key in ("choice", "text", "state", "typed", "what") if key in value]
