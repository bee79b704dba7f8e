"""A procedure as data: stages of steps, and the questions that are asked of them.

What each kind of step is stands in ``steps/``; which kinds there are, in ``steps/__init__.py``;
loading, in ``loading.py``.
"""

from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal, NamedTuple, get_args

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag
from steplatch.safety.bay import Trip
from steplatch.safety.catalogue import _
from steplatch.safety.registers.carried import carried

from ..input.model_findings import KeyPath
from .applies import Applies

MAX_STEPS = 9
MAX_STAGES = 48
MAX_CONDITIONS = 8


class Strict(BaseModel):
    """A value of a procedure file: no unknown key, no conversion, no change."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{1,39}$")]
StepText = Annotated[str, Field(min_length=3, max_length=400)]
Say = Callable[[tuple[str | int, ...], str, str], None]
"""Takes a finding about a step: its key, the problem, the remedy."""


class WhenCondition(Strict):
    """One condition of ``when``: a fact, ``fluid_count`` (how the fluid that may be in stands
    against the engine-off limits), or the name of an earlier choice; and its states."""

    fact: str
    among: Annotated[tuple[str, ...], Field(min_length=1, max_length=8)]


class Unfolded(NamedTuple):
    """Keys of a step as its model has them, and for each that has another name or place in the
    file, its path there."""

    data: dict[str, Any]
    moved: dict[KeyPath, KeyPath]


class Step(Strict):
    """What every step of a procedure has, whatever its kind, and what is asked of it as data."""

    id: Id
    do: StepText
    why: StepText | None = None
    remedy: StepText | None = None
    cautions: Annotated[tuple[str, ...], Field(max_length=6)] = ()
    """What the procedure adds to the cautions that its act carries by itself."""
    when: Annotated[tuple[WhenCondition, ...], Field(max_length=MAX_CONDITIONS)] = ()
    held: str | None = None
    """How long a state has lasted before the answer counts, as a time with its unit."""
    offered: tuple[Literal["last job"], ...] = ()
    """Where an answer may be offered from (``from`` in a file); never taken unasked."""

    head: ClassVar[str] = ""
    """The field that stands behind the kind's name in a file; '' where ``word`` stands there."""
    word: ClassVar[str] = "yes"
    may_be_held: ClassVar[bool] = False
    may_be_offered: ClassVar[bool] = False
    puts_fluid_in: ClassVar[bool] = False
    closes: ClassVar[bool] = False
    """Whether a procedure may end with it."""
    returns: ClassVar[bool] = False
    """Whether it leads back to the main procedure."""
    looked_again: ClassVar[bool] = False
    """Whether it is done again when an interruption came right after it."""

    puts_right: ClassVar[frozenset[str]] = frozenset()
    """The facts that are put right at the step itself, without going back."""

    takes_min: ClassVar[float] = 0.5
    """About how many minutes it takes (workshop default; common practice, no source)."""

    @classmethod
    def kind_name(cls) -> str:
        """The kind's name, which is its key in a file."""
        return str(get_args(cls.model_fields["kind"].annotation)[0])

    @classmethod
    def own_keys(cls) -> tuple[str, ...]:
        """The keys of its own that a file may hold, the kind's name first."""
        inner = {*Step.model_fields, "kind", cls.head}
        return (cls.kind_name(), *(name for name in cls.model_fields if name not in inner))

    @classmethod
    def unfold(cls, written: Mapping[str, Any]) -> Unfolded:
        """Its own keys as a file has them, as the model has them."""
        name = cls.kind_name()
        data = {key: value for key, value in written.items() if key != name}
        if cls.head:
            return Unfolded(data | {cls.head: written[name]}, {(cls.head,): (name,)})
        return Unfolded(data, {})

    @classmethod
    def fold(cls, plain: Mapping[str, Any]) -> dict[str, Any]:
        """Its own fields as a file has them: the inverse of ``unfold``."""
        head = {cls.kind_name(): plain[cls.head] if cls.head else cls.word}
        return head | {key: plain[key] for key in cls.own_keys()[1:] if key in plain}

    @property
    def gives(self) -> str:
        """The name under which its answer can be read by a later ``when``; '' for none."""
        return ""

    @property
    def looks_at(self) -> str:
        """The fact that a person looks at here; '' for none."""
        return ""

    @property
    def may_be_left(self) -> bool:
        """Whether it may be left as not applicable, with a reason and a name."""
        return False

    @property
    def check(self) -> str | None:
        """The check of ``safety.checks`` that it settles, if it settles one."""
        return None

    @property
    def doings(self) -> tuple[str, ...]:
        """What is done here, in the words of a file: ``act start``, ``look lift``."""
        value = getattr(self, self.head) if self.head else self.word
        values = value if isinstance(value, tuple) else (value,)
        return tuple(f"{self.kind_name()} {getattr(v, 'value', v)}" for v in values)

    def shown_cautions(self, fluid: bool) -> tuple[str, ...]:
        """The cautions of what is done here and those that the procedure adds; with ``fluid``, also
        those of fluid that is in, or may be."""
        return carried(self.doings, self.cautions, fluid)

    def settles(self) -> frozenset[str]:
        """The facts, choices and evidence that it can settle: where a refusal may lead back to."""
        return frozenset()

    @property
    def led_back_to(self) -> bool:
        """Whether a refusal leads back to it, so that what it settles is known again."""
        return False

    def work(self) -> frozenset[str]:
        """The work that is done by it, as ``safety.checks.WORK`` names it."""
        return self.settles()

    def problems(self, say: Say) -> None:
        """Say what is wrong with what the file says of it."""


class Stage(Strict):
    """Fewer than ten steps and a completion line."""

    id: Id
    title: StepText
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=MAX_STEPS)]
    done: StepText
    returns: tuple[Id, ...] = ()
    """The return points that it is: a recovery that names one comes back to its first step."""


HERE = "here"
_Listed = tuple[tuple[Stage, ...], tuple[Any, ...], dict[str, tuple[int, Any]], tuple[int, ...]]


class Procedure(Strict):
    """A whole procedure file.

    ``role`` is ``main`` for a job, ``recovery`` for what a trip leads to (``answers``), and
    ``card`` for an emergency card, which never returns. A recovery ends in an ``end`` step
    or in a ``reset`` step and returns to ``return_to``, a return point of the main procedure (or
    ``here``: the step that was left); once fluid has gone in, to ``return_with_fluid`` if given.
    """

    id: Id
    revision: Annotated[int, Field(ge=1)]
    title: StepText
    role: Literal["main", "recovery", "card"]
    purpose: StepText
    applies_to: Annotated[
        Annotated[StepText, Tag("words")] | Annotated[Applies, Tag("states")],
        Discriminator(lambda value: "words" if isinstance(value, str) else "states"),
    ]
    competence: StepText
    author: StepText
    approver: StepText
    date: Annotated[str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
    sources: Annotated[tuple[StepText, ...], Field(min_length=1)]
    answers: tuple[Trip, ...] = ()
    return_to: Id | None = None
    return_with_fluid: Id | None = None
    stages: Annotated[tuple[Stage, ...], Field(min_length=1, max_length=MAX_STAGES)]

    def steps(self) -> tuple[Any, ...]:
        """All steps in order."""
        return self._listed()[1]

    def step(self, step_id: str) -> Any:
        """The step ``step_id``. Raises KeyError when there is none."""
        return self._found(step_id)[1]

    def place(self, step_id: str) -> int:
        """How many steps stand before ``step_id``. Raises KeyError when there is no such step."""
        return self._found(step_id)[0]

    def _found(self, step_id: str) -> tuple[int, Any]:
        found = self._listed()[2].get(step_id)
        if found is None:
            raise KeyError(_("{id} has no step {step_id!r}", id=self.id, step_id=step_id))
        return found

    def _listed(self) -> _Listed:
        if self._list[0] is not self.stages:  # a copy with other stages took the list along
            del self.__dict__["_list"]
        return self._list

    @cached_property
    def _list(self) -> _Listed:
        """The stages, all their steps, each by its id with its place, and the places of the sprays:
        worked out once, since a decision asks for a step a dozen times."""
        steps = tuple(step for stage in self.stages for step in stage.steps)
        by_id = {s.id: (at, s) for at, s in reversed([*enumerate(steps)])}
        sprays = tuple(at for at, s in enumerate(steps) if s.puts_fluid_in)
        return self.stages, steps, by_id, sprays

    def sprays(self) -> tuple[int, ...]:
        """The places of the spray steps."""
        return self._listed()[3]

    def returned_to(self, point: str) -> str:
        """The step that a recovery comes back to at ``point``: the first of the stage that is it,
        or, as records of the first form say it, the step of that id. Raises KeyError."""
        for stage in self.stages:
            if point in stage.returns:
                return str(stage.steps[0].id)
        return str(self.step(point).id)

    def return_point(self, main: "Procedure", fluid: bool) -> str:
        """Where this recovery comes back to in ``main``; ``fluid``: some has gone in, or may have.

        A main procedure that puts no fluid in may lack the point for that; the other one serves.
        """
        assert self.return_to is not None  # checked when the file was loaded
        if not fluid or self.return_with_fluid is None:
            return self.return_to
        if main.sprays() or main.has_point(self.return_with_fluid):
            return self.return_with_fluid
        return self.return_to

    def has_point(self, point: str) -> bool:
        """Whether a recovery can come back to ``point`` here."""
        try:
            return bool(self.returned_to(point))
        except KeyError:
            return point == HERE

    def missing_points(self, main: "Procedure") -> tuple[str, ...]:
        """The keys of the return points of this recovery that ``main`` must have and has not."""
        keys = ("return_to", *(("return_with_fluid",) if main.sprays() else ()))
        named = ((key, getattr(self, key)) for key in keys)
        return tuple(key for key, point in named if point and not main.has_point(point))

    def stage_of(self, step_id: str) -> tuple[int, Stage, int]:
        """Stage number (from 1), stage, and the step's number in it (from 1)."""
        for number, stage in enumerate(self.stages, start=1):
            for place, step in enumerate(stage.steps, start=1):
                if step.id == step_id:
                    return number, stage, place
        raise KeyError(_("{id} has no step {step_id!r}", id=self.id, step_id=step_id))
