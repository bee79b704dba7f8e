"""From what was typed to the text of a file, and what the program's own loader says of it."""

import json
import re
import tempfile
import textwrap
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import Fluid, GunInput, VehicleInput, Workshop
from steplatch.safety.limits.plausible import ImplausibleInputs, check_inputs

from ..input.days import NoDay, day_of
from ..input.findings import BadFile, BadValue
from ..input.quantities import echo, parse_number, parse_quantity
from ..input.strict_yaml import load_text
from ..record.faults import JournalFailed
from .files import load_fluid, load_gun, load_vehicle, load_workshop, people_of
from .questions import Asked, FileKind, Question

AnswerValue = str | bool | list[str] | None
"""A typed answer: a number stays the text of a number; None is "not known"."""

LOADERS: Mapping[str, Callable[[Path], tuple[Any, Any]]] = {
    "vehicle": load_vehicle,
    "gun": load_gun,
    "fluid": load_fluid,
    "workshop": load_workshop,
}
NOT_FILLED = frozenset({"cylinders"})
"""Fields whose example would make an earlier answer look wrong: displacement is asked before."""

_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")
_PLAIN = re.compile(r"[^\W_][\w .,/%°()+\-]*")
_WORDS = ("true", "false", "null")
_OTHERS: Mapping[str, Any] = {
    "vehicle": VehicleInput("", 2e-3, 4),
    "fluid": Fluid("", "", ""),
    "workshop": Workshop(""),
    "gun": GunInput("", 1e-3),
}
"""Stand-ins that are believed, so that one file can be checked alone."""


class NotAnswer(Exception):  # noqa: N818 - named for what the person sees
    """What was typed is no answer to this question: what is wrong, and the remedy."""


def value_of(asked: Asked, typed: str) -> AnswerValue:
    """What was typed, as a value of the field. Raises NotAnswer."""
    if asked.form == "number":
        try:
            return f"{parse_number(typed):f}"
        except BadValue as bad:
            raise NotAnswer(f"{bad}.") from None
    if asked.form == "yes_no":
        return typed == "yes"
    if asked.form == "date":
        try:
            return day_of(typed).isoformat()
        except NoDay as no:
            raise NotAnswer(f"{no}.") from None
    if asked.form not in ("some_of", "codes"):
        return typed
    words = [word for word in re.split(r"[\s,;]+", typed) if word]
    if [word.lower() for word in words] == ["none"]:
        return []
    return words if asked.form == "codes" else _several(words, asked.answers)


def _several(words: list[str], answers: tuple[str, ...]) -> list[str]:
    if [word.lower() for word in words] == ["all"]:
        return list(answers)
    picked = set()
    for word in words:
        if word.isascii() and word.isdigit() and 1 <= int(word) <= len(answers):
            picked.add(answers[int(word) - 1])
        elif word.lower() in answers:
            picked.add(word.lower())
        else:
            raise NotAnswer(
                _("'{word}' is not on the list. Type numbers, or: all.", word=word[:20])
            )
    return [answer for answer in answers if answer in picked]


def understood(asked: Asked, value: AnswerValue) -> str:
    """How a checked quantity was understood, beside the trade's unit; '' for all else."""
    if asked.form != "quantity" or not isinstance(value, str):
        return ""
    return echo(parse_quantity(value, asked.dimension))


def written(asked: Asked, value: AnswerValue) -> str:
    """A value as YAML of the strict subset."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(_text(item, flow=True) for item in value)}]"
    return value if asked.form == "number" else _text(value)


def _text(text: str, flow: bool = False) -> str:
    """A text, in quotes where it could be read as something else (``flow``: within brackets)."""
    plain = _PLAIN.fullmatch(text) and not _NUMBER.fullmatch(text) and text not in _WORDS
    return text if plain and not (flow and "," in text) else _quoted(text)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


@dataclass(slots=True)
class FileAnswers:
    """The answers given so far for one kind of file."""

    kind: FileKind
    given: dict[str, AnswerValue] = field(default_factory=dict)
    whole: bool = False
    """Whether all is asked, not only what a job can be begun with."""

    def waiting(self) -> int:
        """How many questions that apply are left for later."""
        later = FileAnswers(self.kind, dict(self.given), whole=True)
        return sum(q.key not in self.given and later.applies(q) for q in self.kind.questions)

    def applies(self, question: Question) -> bool:
        """Whether the question is put at all, after the answers so far."""
        if not self.whole and self.kind.starts and question.key not in self.kind.starts:
            return False
        if question.only_if is None:
            return True
        key, value = question.only_if
        return self.given.get(key) == value

    def next(self) -> Question | None:
        """The first question that applies and has no answer. An answer to a question that applies
        no longer is forgotten."""
        later = FileAnswers(self.kind, self.given, whole=True)
        for question in self.kind.questions:
            if not later.applies(question):
                self.given.pop(question.key, None)
        open_ = (q for q in self.kind.questions if q.key not in self.given and self.applies(q))
        return next(open_, None)

    def text(self) -> str:
        """The whole file, its parts in the order of the questions."""
        lines = [_("# {what}: made by answering questions. null: not known.", what=self.kind.what)]
        part = None
        for question in self.kind.questions:
            if question.part != part:
                part = question.part
                lines += ["", f"# {part}"]
            value = self.given.get(question.key)
            lines.append(f"{question.key}: {written(self.kind.asked(question.key), value)}")
        for key, reason in self.kind.left_out.items():
            said = textwrap.wrap(_("{key} is not asked: {reason}.", key=key, reason=reason), 90)
            lines += ["", *(f"# {line}" for line in said)]
        return "\n".join(lines) + "\n"

    def problem_with(self, key: str, value: AnswerValue) -> str:
        """What the loader has against ``value``, with the remedy; '' when it takes it.

        Unanswered fields that must be there stand with their example, so that rules over several
        fields are asked as well.
        """
        trial = FileAnswers(self.kind, self.given | {key: value})
        trial.next()
        filled = trial.given
        for question in self.kind.questions:
            asked = self.kind.asked(question.key)
            if question.key not in filled | dict.fromkeys(NOT_FILLED) and not asked.optional:
                filled[question.key] = value_of(asked, question.example)
        rows = (f"{k}: {written(self.kind.asked(k), v)}\n" for k, v in filled.items())
        try:
            load_alone(self.kind.name, "".join(rows))
        except BadFile as bad:
            against = [f for f in bad.findings if f.key not in NOT_FILLED - {*filled}]
            return " ".join(f"{f.problem}. {f.remedy}." for f in against)
        except ImplausibleInputs as bad:
            return f"{bad}."
        return ""


def load_alone(name: str, text: str) -> Any:
    """Load the text of one file by its own loader, and ask whether its values are believed.

    Raises BadFile, ImplausibleInputs; JournalFailed where no file can be put aside for it.
    """
    if name == "people":
        rows = "".join(f"    {line}\n" for line in text.splitlines())
        return people_of(load_text(f"people:\n  -\n{rows}", _("the new person")))
    try:
        with tempfile.TemporaryDirectory(prefix="steplatch-") as folder:
            path = Path(folder) / f"{name}.yaml"
            path.write_text(text, encoding="utf-8")
            loaded, _other = LOADERS[name](path)
    except OSError as error:
        raise unwritten(Path(tempfile.gettempdir()), error) from error
    check_inputs(**(dict(_OTHERS) | {name: loaded}))
    return loaded


def unwritten(path: Path, error: OSError) -> JournalFailed:
    """Why the file ``path`` could not be written, and what helps."""
    return JournalFailed(
        str(path),
        _("it could not be written ({strerror})", strerror=error.strerror or error),
        _("Free space on that disk, or get leave to write there, or name another file"),
    )
