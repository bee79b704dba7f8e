"""What a question is, and what the model of the file says about its answer.

Unit, range and the list of answers come from the pydantic model, never from a second copy.
"""

import types
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo
from steplatch.safety.catalogue import _

from ..input.days import EXAMPLES
from ..input.quantities import DIMENSIONS, Band, Quantity
from ..input.strict_yaml import StrictModel
from .files import DateText, HazardCode

Form = Literal["quantity", "number", "yes_no", "one_of", "some_of", "codes", "date", "text"]


@dataclass(frozen=True, slots=True)
class Question:
    """One field of a file, put as a question.

    ``why`` says what the program does with it, ``where`` where the value is found; ``absent`` is
    what "not known" means where the model lets the field be left out. ``only_if`` (field, value)
    leaves the question out where an earlier answer makes it meaningless.
    """

    key: str
    ask: str
    why: str
    where: str
    example: str
    part: str = ""
    absent: str = _("not known")
    only_if: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """What the model says about one field."""

    form: Form
    optional: bool
    range: str = ""
    dimension: str = ""
    units: tuple[str, ...] = ()
    answers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FileKind:
    """One kind of file: its model, its questions in order, and the fields that no question sets,
    each with the value that is written ('' for none) and the reason. ``starts`` names the questions
    that a job can be begun with, where not all of them are needed: the rest is asked on demand, and
    what has no answer stands as not known."""

    name: str
    what: str
    model: type[StrictModel]
    questions: tuple[Question, ...]
    left_out: Mapping[str, str]
    starts: frozenset[str] = frozenset()

    def asked(self, key: str) -> Asked:
        """What the model says about the field ``key``."""
        return asked_of(self.model.model_fields[key])


def asked_of(field: FieldInfo) -> Asked:
    """What a field of a model takes: its form, whether it may be unknown, range and answers.

    Raises TypeError for a type that no question can be put for (a programmer's mistake).
    """
    kind: Any = field.annotation
    metadata = list(field.metadata)
    optional = not field.is_required()
    if get_origin(kind) in (Union, types.UnionType):
        kind = next(each for each in get_args(kind) if each is not type(None))
    if get_origin(kind) is Annotated:
        kind, *inner = get_args(kind)
        metadata += inner
    if kind is Quantity:
        band = next(each for each in metadata if isinstance(each, Band))
        units = tuple(DIMENSIONS[band.dimension].units)
        return Asked(
            "quantity",
            optional,
            _("{low} to {high}", low=band.low, high=band.high),
            band.dimension,
            units,
        )
    if kind in (int, float):
        low, high = _ends(metadata)
        return Asked("number", optional, _("{low} to {high}", low=low, high=high))
    if kind is bool:
        return Asked("yes_no", optional, answers=("yes", "no"))
    if isinstance(kind, type) and issubclass(kind, Enum):
        return Asked("one_of", optional, answers=tuple(str(each.value) for each in kind))
    if get_origin(kind) is tuple:
        item = get_args(kind)[0]
        if get_origin(item) is Literal:
            return Asked("some_of", optional, answers=tuple(map(str, get_args(item))))
        if item == HazardCode:
            return Asked("codes", optional)
    if kind is str:
        date = any(each in get_args(DateText) for each in metadata)
        return Asked("date" if date else "text", optional)
    raise TypeError(f"no question can be put for {kind!r}")


def _ends(metadata: list[Any]) -> tuple[Any, Any]:
    flat = [
        each
        for item in metadata
        for each in (item.metadata if isinstance(item, FieldInfo) else [item])
    ]
    low = next(each.ge for each in flat if hasattr(each, "ge"))
    high = next(each.le for each in flat if hasattr(each, "le"))
    return low, high


def screen_of(kind: FileKind, question: Question, place: str) -> list[tuple[str, str]]:
    """The lines that stand above a question: where we are, what is asked, why, where it is found,
    how it is written."""
    asked = kind.asked(question.key)
    lines = [(f"{place}  {question.part or kind.what}", ""), (question.ask, "do")]
    lines += [(f"why: {question.why}", ""), (_("find it: {where}", where=question.where), "")]
    written = [_("such as {example}", example=question.example)]
    if asked.range:
        written.append(_("{range} is believed", range=asked.range))
    if asked.form == "some_of":
        listed = ", ".join(f"{n} {each}" for n, each in enumerate(asked.answers, start=1))
        lines.append(
            (_("{listed}. Such as {example}; or all.", listed=listed, example=question.example), "")
        )
    elif asked.form not in ("yes_no", "one_of"):
        lines.append(("; ".join(written) + ".", ""))
    return lines


def more_of(kind: FileKind, question: Question) -> list[str]:
    """What '?' adds: what is taken, the key in the file, what not known means."""
    asked = kind.asked(question.key)
    out = [_("In the file it stands as '{key}'.", key=question.key)]
    if asked.units:
        out.append(_("Number and unit. Units: {units}.", units=", ".join(asked.units)))
    if asked.form == "date":
        out.append(_("A day, as {examples}.", examples=EXAMPLES))
    if asked.form == "some_of":
        out.append(_("Several numbers with spaces between, or: all."))
    if asked.form == "codes":
        out.append(_("Several codes with spaces between, or: none."))
    if asked.optional:
        out.append(f"dk: {question.absent}.")
    else:
        out.append(_("It must be known before a job: look it up, or leave and come back."))
    return out
