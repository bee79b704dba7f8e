"""Loading a procedure: shape first (pydantic, through ``strict_yaml``), then meaning.

Meaning: names that must exist, ids that must be unique, words a step may hold. Every finding names
file, line, column, key and remedy. Which interlocks apply follows from the kind of step and its
act; a procedure cannot name, add or drop one.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache, partial
from typing import Annotated, Any, Union

from pydantic import Field, create_model
from steplatch.safety.bay import FACTS
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks.volumes import FLUID_COUNT
from steplatch.safety.registers.cautions import CAUTIONS

from ..input.findings import BadFile, Finding
from ..input.model_findings import KeyPath
from ..input.quantities import BadQuantity, parse_quantity
from ..input.shelf import procedure_named, shared_texts
from ..input.strict_yaml import Document, FileText, Source, load, read_text, validate
from ..input.yaml_text import yaml_text
from .borrowed import lenders, with_borrowed
from .form import Shared, is_first_form, near, read_form, shared_steps, written_out
from .procedure import MAX_STAGES, MAX_STEPS, Procedure, Say, Stage, Step, WhenCondition
from .steps import KINDS
from .style import style_findings

MAX_WORDS = 20
_VAGUE = ("slowly", "carefully", "as needed", "properly", "quickly", "if necessary", "adequately")


@lru_cache(maxsize=4)
def procedure_model(kinds: tuple[type[Step], ...] = KINDS) -> type[Procedure]:
    """The model of a procedure file whose steps are of these kinds, at least two."""
    step = Annotated[Union[kinds], Field(discriminator="kind")]  # type: ignore[valid-type]  # noqa: UP007
    steps = Annotated[tuple[step, ...], Field(min_length=1, max_length=MAX_STEPS)]
    stage = create_model("Stage", __base__=Stage, __doc__=Stage.__doc__, steps=steps)
    stages = Annotated[tuple[stage, ...], Field(min_length=1, max_length=MAX_STAGES)]  # type: ignore[valid-type]
    return create_model("Procedure", __base__=Procedure, __doc__=Procedure.__doc__, stages=stages)


def load_procedure(
    source: Source, kinds: tuple[type[Step], ...] = KINDS
) -> tuple[Procedure, Document]:
    """Load and check one procedure file, with the shared steps that lie beside it and those that
    are shipped.

    Raises:
        BadFile: with every finding of the stage that failed: form, shape, then meaning.
    """
    return load_written_out(source, kinds)[:2]


def load_written_out(
    source: Source, kinds: tuple[type[Step], ...] = KINDS, *, judged: bool = True
) -> tuple[Procedure, Document, bytes]:
    """Load as ``load_procedure`` does; also the bytes that a job keeps: those of the file, or where
    it uses shared steps, the file with these written out. Not ``judged``: without the rules of
    style and content, for what was written before them. Raises BadFile."""
    text = read_text(source)
    written = _read(text)
    if is_first_form(written.data):
        remedy = _("Convert it: steplatch procedure convert {name}", name=text.name)
        raise BadFile([written.finding((), _("this is the first form of a procedure"), remedy)])
    lent = tuple((name, _lent(text.name, name)) for name in lenders(written))
    return _written_out(text, tuple(shared_texts(text.name)), lent, kinds, judged)


_read = lru_cache(maxsize=128)(load)
"""``load`` of a text in memory: nobody changes what it gives, and the same bytes are the same."""


@lru_cache(maxsize=128)
def _written_out(
    text: FileText,
    shared_from: tuple[FileText, ...],
    lent: tuple[tuple[str, FileText | None], ...],
    kinds: tuple[type[Step], ...],
    judged: bool,
) -> tuple[Procedure, Document, bytes]:
    """``load_written_out`` of exact texts: those of a file, of the shared steps that it can use and
    of the procedures that it takes stages from. A job's files are loaded more than once."""
    written = _read(text)
    shared = _shared_in(shared_from)
    named = dict(lent)
    whole = with_borrowed(written, lambda name: _read(text) if (text := named[name]) else None)
    document = read_form(whole, kinds, shared)
    procedure = _checked(document, kinds)
    if judged and (findings := style_findings(procedure, document)):
        raise BadFile(findings)
    kept = written_out(whole.data, shared, kinds)
    if kept is written.data:
        return procedure, document, text.raw
    name = text.name.replace("\\", "/").rsplit("/", 1)[-1]
    said = f"{name} (SHA-256 {document.sha256_of_bytes})\nwith its shared steps written out."
    return procedure, document, yaml_text(kept, said).encode()


def _lent(name: str, procedure: str) -> FileText | None:
    """The procedure that a file of this name takes a stage from, as written. Raises BadFile."""
    path = procedure_named(name, procedure)
    return None if path is None else read_text(path)


def load_kept(
    source: Source, kinds: tuple[type[Step], ...] = KINDS
) -> tuple[Procedure, Document, bytes]:
    """Load a text that a job kept: of either form, resting on no other file. Raises BadFile."""
    return _kept(read_text(source), kinds)


@lru_cache(maxsize=128)
def _kept(text: FileText, kinds: tuple[type[Step], ...]) -> tuple[Procedure, Document, bytes]:
    document = _read(text)
    if not is_first_form(document.data):
        document = read_form(document, kinds, {})
    return _checked(document, kinds), document, text.raw


def shared_by(name: str) -> Shared:
    """The shared steps that a file of this name can use, shipped and beside it. Raises BadFile;
    also where one beside it is another step than the shipped one of its name."""
    return _shared_in(shared_texts(name))


def _shared_in(texts: Iterable[FileText]) -> Shared:
    found: dict[str, dict[str, Any]] = {}
    for text in texts:
        added = _shared(text)
        for step in sorted(added.keys() & found.keys()):
            if added[step] != found[step]:
                problem = _("another shared step {step!r} is shipped", step=step)
                raise BadFile([load(text).finding((), problem, _("Give it another name"))])
        found |= added
    return found


@lru_cache(maxsize=8)
def _shared(text: FileText) -> Shared:
    """The shared steps of a file, checked like steps of a procedure. Raises BadFile."""
    document = load(text)
    shared = shared_steps(document)
    steps = list(shared.values())
    parts = range(0, len(steps), MAX_STEPS)
    stages = [
        {
            f"part-{n}": _("Shared steps"),
            "done": _("They are here."),
            "steps": steps[n : n + MAX_STEPS],
        }
        for n in parts
    ]
    moved: dict[KeyPath, KeyPath] = {
        ("stages", n // MAX_STEPS, "steps", n % MAX_STEPS): ("steps", n) for n in range(len(steps))
    }
    data: dict[str, Any] = _NO_PROCEDURE | {"stages": stages}
    pretended = replace(document, data=data, moved=moved)
    read = read_form(pretended, KINDS, {})
    findings = _meaning_of_steps(validate(read, procedure_model(KINDS)), read)
    if findings:
        raise BadFile(findings)
    return shared


_NO_PROCEDURE: dict[str, Any] = {
    **dict.fromkeys(("title", "purpose", "applies_to", "competence", "author"), "none"),
    **{"id": "shared-steps", "role": "main", "approver": "none", "revision": 1},
    **{"date": "2026-01-01", "sources": ["none"]},
}
"""A head around shared steps, so that they are checked as a procedure's steps are."""


def _checked(document: Document, kinds: tuple[type[Step], ...]) -> Procedure:
    procedure = validate(document, procedure_model(kinds))
    findings = _meaning(procedure, document)
    if findings:
        raise BadFile(findings)
    return procedure


def _meaning_of_steps(procedure: Procedure, document: Document) -> list[Finding]:
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
                say(
                    ("id",),
                    _("step id {id!r} is used twice", id=step.id),
                    _("give each step its own id"),
                )
            seen[step.id] = 1
            _words(step, say)
            for k, condition in enumerate(step.when):
                _condition(condition, asked, partial(say, ("when", k)))
            _extras(step, say)
            step.problems(say)
            if step.gives:
                asked.add(step.gives)
                if step.may_be_left and step.gives in branched:
                    say(
                        ("may_not_apply",),
                        _(
                            "a 'when' reads {gives!r}: it cannot be left unanswered",
                            gives=step.gives,
                        ),
                        _("remove 'may_not_apply', or add an answer for it to 'options'"),
                    )
    return found


def _meaning(procedure: Procedure, document: Document) -> list[Finding]:
    found = _meaning_of_steps(procedure, document)
    if procedure.role == "main" and procedure.answers:
        found.append(
            document.finding(
                ("answers",), _("a main procedure answers no trips"), _("remove 'answers'")
            )
        )
    if procedure.role == "recovery" and not procedure.answers and procedure.id != "abandon":
        found.append(
            document.finding(
                ("role",), _("a recovery must say which trips it answers"), _("add it")
            )
        )
    last = procedure.steps()[-1]
    if not last.closes:
        found.append(
            document.finding(
                ("stages", len(procedure.stages) - 1),
                _("the procedure does not end"),
                _("make its last step of kind 'end' (or 'reset' in a recovery)"),
            )
        )
    if last.when:
        found.append(
            document.finding(
                ("stages", len(procedure.stages) - 1),
                _(
                    "the last step {id!r} may be left out, and then nothing ends the procedure",
                    id=last.id,
                ),
                _("remove its 'when'"),
            )
        )
    if last.returns and procedure.return_to is None:
        found.append(
            document.finding(
                ("id",),
                _("a recovery with a reset must say where it returns"),
                _("add 'return_to'"),
            )
        )
    return found


def _words(step: Step, say: Say) -> None:
    words = step.do.split()
    if len(words) > MAX_WORDS:
        say(
            ("do",),
            _("{count} words; at most {max_words}", count=len(words), max_words=MAX_WORDS),
            _("split the step, or cut words"),
        )
    lowered = step.do.lower()
    for vague in _VAGUE:
        if re.search(rf"\b{vague}\b", lowered):
            say(
                ("do",),
                _("{vague!r} cannot be checked", vague=vague),
                _("give a number or a named state"),
            )
    if re.search(r"[.;]\s+\S", step.do) or re.search(r",?\s+then\s+", lowered):
        say(("do",), _("more than one act in one step"), _("one act, one step"))
    for k, caution in enumerate(step.cautions):
        if caution not in CAUTIONS:
            say(
                ("cautions", k),
                _("no caution {caution!r}", caution=caution),
                near(caution, CAUTIONS),
            )


def _extras(step: Step, say: Say) -> None:
    if step.held is not None:
        try:
            parse_quantity(step.held, "time")
        except BadQuantity as bad:
            say(("held",), bad.problem, bad.remedy)
        if not step.may_be_held:
            say(("held",), _("nothing is held at this kind of step"), _("remove it"))
    if step.offered and not step.may_be_offered:
        say(("offered",), _("nothing is typed at this kind of step"), _("remove 'from'"))


def _condition(condition: WhenCondition, asked: set[str], say: Callable[[str, str], None]) -> None:
    if condition.fact in FACTS:
        known = {state.value for state in FACTS[condition.fact]} - {"unknown"}
        for name in condition.among:
            if name not in known:
                say(
                    _("{fact} has no state {name!r}", fact=condition.fact, name=name),
                    near(name, sorted(known)),
                )
    elif condition.fact == "fluid_count":
        for name in condition.among:
            if name not in FLUID_COUNT:
                say(
                    _("fluid_count has no state {name!r}", name=name),
                    _("use {fluid_count}", fluid_count=", ".join(FLUID_COUNT)),
                )
    elif condition.fact not in asked:
        say(
            _("{fact!r} is neither a fact nor asked in an earlier step", fact=condition.fact),
            near(condition.fact, [*FACTS, *asked], _("name a fact, or an earlier question")),
        )
