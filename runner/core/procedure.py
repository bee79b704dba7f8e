"""A procedure as data: the closed set of step kinds, strict models, and their meaning.

Loading has two stages: shape (pydantic, through ``strict_yaml``) and meaning (``_meaning``:
names that must exist, ids that must be unique, words a step may hold). Every finding names
file, line, column, key and remedy. Which interlocks apply follows from the kind of step and
its act; a procedure cannot name, add or drop one.
"""

import difflib
import re
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from steplatch.safety.bay import FACTS, Act, Trip
from steplatch.safety.checks import CHECKS, at_least
from steplatch.safety.interlocks.volumes import FLUID_COUNT
from steplatch.safety.kernel import LOOKED_AT
from steplatch.safety.registers.cautions import CAUTIONS

from ..input.findings import BadFile, Finding
from ..input.quantities import DIMENSIONS, BadQuantity, parse_quantity
from ..input.strict_yaml import Document, Source, load_model

MAX_WORDS = 20
MAX_STEPS = 9
MAX_CONDITIONS = 5
YEARS = "years"
QUANTITIES = (*DIMENSIONS, YEARS)
"""What a number may be asked for as: a kind of quantity that has units here, or an age in years."""
_VAGUE = ("slowly", "carefully", "as needed", "properly", "quickly", "if necessary", "adequately")


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


Id = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{1,39}$")]
Line = Annotated[str, Field(min_length=3, max_length=400)]


class Condition(_Strict):
    """One condition of ``when``: a fact, ``fluid_count`` (how the fluid that may be in stands
    against the engine-off limits), or the name of an earlier choice; and its states."""

    fact: str
    among: Annotated[tuple[str, ...], Field(min_length=1, max_length=8)]


class _Step(_Strict):
    id: Id
    do: Line
    why: Line | None = None
    remedy: Line | None = None
    cautions: Annotated[tuple[str, ...], Field(max_length=6)] = ()
    when: Annotated[tuple[Condition, ...], Field(max_length=MAX_CONDITIONS)] = ()


class LookStep(_Step):
    """Look at one fact and say its state; passes when the state is in ``want``."""

    kind: Literal["look"]
    fact: str
    want: Annotated[tuple[str, ...], Field(min_length=1)]


class Option(_Strict):
    """One answer of a choice: its name in the record and the words on the screen."""

    value: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_-]{1,39}$")]
    say: Line


class AskStep(_Step):
    """Ask for a text, a number with its unit, or one of several named answers.

    With ``may_not_apply`` it may be left, with a reason and a name; never where a later ``when``
    reads the answer. With ``want`` only those answers of a choice pass; another one is recorded
    and the step stays.
    """

    kind: Literal["ask"]
    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{1,39}$")]
    form: Literal["text", "number", "choice"]
    quantity: str | None = None
    low: str | None = None
    high: str | None = None
    options: tuple[Option, ...] = ()
    want: tuple[str, ...] = ()
    personal: bool = False
    may_not_apply: bool = False


class ActStep(_Step):
    """Ask a permit for an act, do it, report what happened."""

    kind: Literal["act"]
    act: Act


class ReadStep(_Step):
    """Take one set of readings, typed on one line."""

    kind: Literal["read"]
    phase: Literal["before", "after", "road"]
    condition: Literal["raised", "idle", "zero"]


class TemperatureStep(_Step):
    """Measure the exhaust at the filter inlet; passes in the named classes."""

    kind: Literal["temperature"]
    want: Annotated[tuple[Literal["cool", "warm"], ...], Field(min_length=1)]


class GunStep(_Step):
    """Measure the gun's rate with three shots, or load a measured volume."""

    kind: Literal["gun"]


class SprayStep(_Step):
    """One burst with the engine off, or sprays at idle until the running dose is done."""

    kind: Literal["spray"]
    engine: Literal["off", "running"]


class WaitStep(_Step):
    """Wait out a timer: the soak, or the two minutes before a zero."""

    kind: Literal["wait"]
    timer: Literal["soak", "zero"]


class HoldStep(_Step):
    """The drying run: note the pressure while it falls; passes when dry and level."""

    kind: Literal["hold"]


class JudgeStep(_Step):
    """A worked judgement: triage, or the verdict."""

    kind: Literal["judge"]
    what: Literal["triage", "verdict"]


class SignStep(_Step):
    """A hold point (the named role must sign) or a witness point (told, may go on)."""

    kind: Literal["sign"]
    role: Literal["apprentice", "technician", "supervisor", "customer"]
    meaning: Literal["did", "checked", "released", "agreed", "received"]
    point: Literal["hold", "witness"]
    slot: Literal["fluid_check", "start_check", "release_check", "hand_turn"] | None = None
    reads_back: Annotated[tuple[str, ...], Field(max_length=9)] = ()


class ReportStep(_Step):
    """Report one of several things seen, in recovery: drained, looked dry, looked wet."""

    kind: Literal["report"]
    happenings: Annotated[tuple[str, ...], Field(min_length=1, max_length=4)]
    want: Annotated[tuple[str, ...], Field(min_length=1)]


class ResetStep(_Step):
    """The end of a recovery: another person checks it, the trip is reset."""

    kind: Literal["reset"]
    role: Literal["technician", "supervisor"]


class EndStep(_Step):
    """The end of the job."""

    kind: Literal["end"]
    how: Literal["finished", "abandoned"]


Step = Annotated[
    LookStep
    | AskStep
    | ActStep
    | ReadStep
    | TemperatureStep
    | GunStep
    | SprayStep
    | WaitStep
    | HoldStep
    | JudgeStep
    | SignStep
    | ReportStep
    | ResetStep
    | EndStep,
    Field(discriminator="kind"),
]


class Stage(_Strict):
    """Fewer than ten steps and a completion line."""

    id: Id
    title: Line
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=MAX_STEPS)]
    done: Line


HERE = "here"


class Procedure(_Strict):
    """A whole procedure file.

    ``role`` is ``main`` for a job, ``recovery`` for what a trip leads to (``answers``), and
    ``card`` for an emergency card, which never returns. A recovery ends in an ``end`` step
    or in a ``reset`` step and returns to ``return_to``, a step of the main procedure (or
    ``here``: the step that was left); once fluid has gone in, to ``return_with_fluid`` if given.
    """

    id: Id
    revision: Annotated[int, Field(ge=1)]
    title: Line
    role: Literal["main", "recovery", "card"]
    purpose: Line
    applies_to: Line
    competence: Line
    author: Line
    approver: Line
    date: Annotated[str, Field(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
    sources: Annotated[tuple[Line, ...], Field(min_length=1)]
    answers: tuple[Trip, ...] = ()
    return_to: Id | None = None
    return_with_fluid: Id | None = None
    stages: Annotated[tuple[Stage, ...], Field(min_length=1, max_length=40)]

    def steps(self) -> tuple[Any, ...]:
        """All steps in order."""
        return tuple(step for stage in self.stages for step in stage.steps)

    def step(self, step_id: str) -> Any:
        """The step ``step_id``. Raises KeyError when there is none."""
        return self._found(step_id)[1]

    def place(self, step_id: str) -> int:
        """How many steps stand before ``step_id``. Raises KeyError when there is no such step."""
        return self._found(step_id)[0]

    def _found(self, step_id: str) -> tuple[int, Any]:
        for at, step in enumerate(self.steps()):
            if step.id == step_id:
                return at, step
        raise KeyError(f"{self.id} has no step {step_id!r}")

    def sprays(self) -> tuple[int, ...]:
        """The places of the spray steps."""
        return tuple(at for at, s in enumerate(self.steps()) if isinstance(s, SprayStep))

    def stage_of(self, step_id: str) -> tuple[int, Stage, int]:
        """Stage number (from 1), stage, and the step's number in it (from 1)."""
        for number, stage in enumerate(self.stages, start=1):
            for place, step in enumerate(stage.steps, start=1):
                if step.id == step_id:
                    return number, stage, place
        raise KeyError(f"{self.id} has no step {step_id!r}")


def load_procedure(source: Source) -> tuple[Procedure, Document]:
    """Load and check one procedure file.

    Raises:
        BadFile: with every finding of the stage that failed, shape first, then meaning.
    """
    procedure, document = load_model(source, Procedure)
    findings = _meaning(procedure, document)
    if findings:
        raise BadFile(findings)
    return procedure, document


def _meaning(procedure: Procedure, document: Document) -> list[Finding]:
    found: list[Finding] = []
    seen: dict[str, int] = {}
    asked: set[str] = set()
    branched = {condition.fact for step in procedure.steps() for condition in step.when}
    for i, stage in enumerate(procedure.stages):
        for j, step in enumerate(stage.steps):
            where = ("stages", i, "steps", j)

            def say(
                key: tuple[str | int, ...],
                problem: str,
                remedy: str,
                where: tuple[str | int, ...] = where,
            ) -> None:
                found.append(document.finding((*where, *key), problem, remedy))

            if step.id in seen:
                say(("id",), f"step id {step.id!r} is used twice", "give each step its own id")
            seen[step.id] = 1
            _words(step, say)
            for k, condition in enumerate(step.when):
                _condition(condition, asked, lambda p, r, k=k: say(("when", k), p, r))
            _names(step, say)
            if isinstance(step, AskStep):
                asked.add(step.name)
                if step.may_not_apply and step.name in branched:
                    say(
                        ("may_not_apply",),
                        f"a 'when' reads {step.name!r}: it cannot be left unanswered",
                        "remove 'may_not_apply', or add an answer for it to 'options'",
                    )
    if procedure.role == "main" and procedure.answers:
        found.append(
            document.finding(("answers",), "a main procedure answers no trips", "remove 'answers'")
        )
    if procedure.role == "recovery" and not procedure.answers and procedure.id != "abandon":
        found.append(
            document.finding(("role",), "a recovery must say which trips it answers", "add it")
        )
    last = procedure.steps()[-1]
    if not isinstance(last, EndStep | ResetStep):
        found.append(
            document.finding(
                ("stages", len(procedure.stages) - 1),
                "the procedure does not end",
                "make its last step of kind 'end' (or 'reset' in a recovery)",
            )
        )
    if last.when:
        found.append(
            document.finding(
                ("stages", len(procedure.stages) - 1),
                f"the last step {last.id!r} may be left out, and then nothing ends the procedure",
                "remove its 'when'",
            )
        )
    if isinstance(last, ResetStep) and procedure.return_to is None:
        found.append(
            document.finding(
                ("id",), "a recovery with a reset must say where it returns", "add 'return_to'"
            )
        )
    return found


def _words(step: Any, say: Any) -> None:
    words = step.do.split()
    if len(words) > MAX_WORDS:
        say(("do",), f"{len(words)} words; at most {MAX_WORDS}", "split the step, or cut words")
    lowered = step.do.lower()
    for vague in _VAGUE:
        if re.search(rf"\b{vague}\b", lowered):
            say(("do",), f"{vague!r} cannot be checked", "give a number or a named state")
    if re.search(r"[.;]\s+\S", step.do) or re.search(r",?\s+then\s+", lowered):
        say(("do",), "more than one act in one step", "one act, one step")
    for k, caution in enumerate(step.cautions):
        if caution not in CAUTIONS:
            say(("cautions", k), f"no caution {caution!r}", f"use one of {', '.join(CAUTIONS)}")


def _condition(condition: Condition, asked: set[str], say: Any) -> None:
    if condition.fact in FACTS:
        known = {state.value for state in FACTS[condition.fact]} - {"unknown"}
        for name in condition.among:
            if name not in known:
                say(f"{condition.fact} has no state {name!r}", f"use {', '.join(sorted(known))}")
    elif condition.fact == "fluid_count":
        for name in condition.among:
            if name not in FLUID_COUNT:
                say(f"fluid_count has no state {name!r}", f"use {', '.join(FLUID_COUNT)}")
    elif condition.fact not in asked:
        say(
            f"{condition.fact!r} is neither a fact nor asked in an earlier step",
            "name a fact, or the name of an earlier 'ask' step",
        )


def _names(step: Any, say: Any) -> None:
    if isinstance(step, LookStep):
        if step.fact not in LOOKED_AT:
            say(
                ("fact",),
                f"{step.fact!r} cannot be settled by looking",
                f"use one of {', '.join(sorted(LOOKED_AT))}",
            )
            return
        known = {state.value for state in FACTS[step.fact]} - {"unknown"}
        for k, name in enumerate(step.want):
            if name not in known:
                say(
                    ("want", k),
                    f"{step.fact} has no state {name!r}",
                    f"use {', '.join(sorted(known))}",
                )
    if isinstance(step, AskStep):
        if step.form == "choice" and len(step.options) < 2:
            say(("form",), "a choice needs at least two options", "add 'options'")
        for k, name in enumerate(step.want):
            if name not in {option.value for option in step.options}:
                say(("want", k), f"no option {name!r}", "name an answer of 'options'")
        if step.want and step.may_not_apply:
            say(("may_not_apply",), "a step with 'want' waits for its answer", "remove one of them")
        _quantity(step, say)
    if isinstance(step, SignStep):
        if step.slot is not None:
            _check_of(step, say)
        for k, fact in enumerate(step.reads_back):
            if fact not in FACTS and fact != "wet":
                say(("reads_back", k), f"no fact {fact!r}", f"use one of {', '.join(FACTS)}")


def _check_of(step: SignStep, say: Any) -> None:
    """A hold point that settles a check asks for no less than ``safety.checks`` does."""
    rule = CHECKS[step.slot or ""]
    roles = [rule.role]
    for crew, least in rule.own.items():
        if any(c.fact == "crew" and c.among == (crew.value,) for c in step.when):
            roles.append(least)
    if not any(at_least(step.role, role) for role in roles):
        say(
            ("role",),
            f"{step.role!r} is too weak for {rule.title}: {rule.why}",
            f"name {rule.role!r} or above",
        )
    if step.point != "hold":
        say(
            ("point",),
            f"{rule.title} cannot be a {step.point} point: a witness is told and checks nothing",
            "write 'hold'",
        )
    if step.meaning != rule.meaning:
        say(
            ("meaning",),
            f"{rule.title} is signed as {rule.meaning!r}, not as {step.meaning!r}",
            f"write {rule.meaning!r}",
        )


def _quantity(step: AskStep, say: Any) -> None:
    """What a number is asked for as must be known, and its bounds must be such numbers."""
    given = {k: v for k in ("quantity", "low", "high") if (v := getattr(step, k)) is not None}
    if step.form != "number":
        for key in given:
            say((key,), f"{key!r} belongs to a number; this asks for a {step.form}", "remove it")
        return
    if step.quantity is None:
        say(("form",), "a number needs its quantity", f"add 'quantity': {', '.join(QUANTITIES)}")
        return
    if step.quantity not in QUANTITIES:
        near = difflib.get_close_matches(step.quantity.lower(), QUANTITIES, n=1)
        hint = f'did you mean "{near[0]}"? ' if near else ""
        say(
            ("quantity",),
            f"there is no quantity {step.quantity!r}",
            f"{hint}known: {', '.join(QUANTITIES)}",
        )
        return
    bounds: dict[str, float] = {}
    for key in ("low", "high"):
        text = given.get(key)
        if text is not None and step.quantity == YEARS:
            say((key,), "an age in years has its own bounds", "remove it")
        elif text is not None:
            try:
                bounds[key] = parse_quantity(text, step.quantity).si_value
            except BadQuantity as bad:
                say((key,), bad.problem, bad.remedy)
    if len(bounds) == 2 and bounds["low"] > bounds["high"]:
        say(("low",), f"{step.low} lies above {step.high}", "swap them, or correct one")
