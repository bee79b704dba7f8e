"""What was asked in a job and what was answered, by the names that the procedures use."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from steplatch.safety.catalogue import _, spoken

from ..core.events import Recorded
from ..core.steps import AskStep
from ..input.quantities import BadQuantity, echo, parse_quantity
from .blocks import TableCell
from .record_view import JobRecord
from .texts import NOT_RECORDED
from .timeline import At, Timeline
from .typed import plain_text

NOT_ASKED: Final = frozenset(
    {"reading", "triage", "verdict", "plateau", "trend", "gun", "spray", "exhaust"}
    | {"kept", "change", "retained"}
    | {"doubted", "attachment", "called", "handover", "exercise", "written_ahead", "text_fault"}
)
"""Names of records that the engine makes or keeps as notes; every other one is an answer to an
``ask`` step."""


KEPT_APART: Final = _("kept apart from the record")
"""Stands for personal data, of which the journal holds a salted hash alone."""


def is_personal(step: Any) -> bool:
    """Whether a step asks for personal data."""
    return isinstance(step, AskStep) and step.personal


@dataclass(frozen=True, slots=True)
class RecordedAnswer:
    """One answer: its name, what the step asked, the answer in words, its place."""

    name: str
    asked: str
    words: str
    at: At


class JobAnswers:
    """The answers of one job, up to a journal line if given."""

    def __init__(self, record: JobRecord, timeline: Timeline, before_seq: int | None = None):
        """Read them from the timeline; later answers under a name replace earlier ones."""
        self._steps = {
            (procedure.id, step.id): step
            for procedure in record.procedures.values()
            for step in procedure.steps()
        }
        self.every: tuple[RecordedAnswer, ...] = tuple(
            self._answer(at, at.event)
            for at in timeline.recorded(before_seq)
            if isinstance(at.event, Recorded) and at.event.name not in NOT_ASKED
        )

    def _answer(self, at: At, event: Recorded) -> RecordedAnswer:
        step = self._steps.get((at.procedure, event.step))
        asked = step.do if step is not None else spoken(event.name)
        words = KEPT_APART if is_personal(step) else _words(step, event.value)
        return RecordedAnswer(event.name, asked, words, at)

    def latest(self, *names: str) -> RecordedAnswer | None:
        """The last answer under any of ``names``, the earlier name first."""
        for name in names:
            for answer in reversed(self.every):
                if answer.name == name:
                    return answer
        return None

    def cell(self, *names: str) -> TableCell:
        """The last answer under any of ``names`` as a cell; missing shows as missing."""
        answer = self.latest(*names)
        return TableCell(NOT_RECORDED, missing=True) if answer is None else TableCell(answer.words)

    def holding(self, *parts: str) -> Iterator[RecordedAnswer]:
        """The last answer of every name that holds one of ``parts``."""
        names = dict.fromkeys(a.name for a in self.every if any(part in a.name for part in parts))
        for name in names:
            found = self.latest(name)
            if found is not None:
                yield found


def read_back(value: dict[str, Any]) -> str:
    """A typed quantity as it was understood, from what was typed."""
    typed, quantity = str(value["typed"]), str(value["quantity"])
    try:
        return echo(parse_quantity(typed, quantity))
    except (BadQuantity, LookupError):
        return typed if any(letter.isalpha() for letter in typed) else f"{typed} {spoken(quantity)}"


def _line(step: Any, shown: list[dict[str, str]]) -> str:
    """The fields of a line, each with its unit; what the instrument did not show is said so."""
    said = {one["name"]: read_back(one) for one in shown}
    lacks = [f.name for f in getattr(step, "fields", ()) if f.name not in said] if said else []
    texts = [f"{spoken(name)} {value}" for name, value in said.items()]
    if lacks:
        texts.append(_("not shown: {lacks}", lacks=", ".join(spoken(name) for name in lacks)))
    return "; ".join(texts)


def _words(step: Any, value: dict[str, Any]) -> str:
    if "choice" in value:
        chosen = str(value["choice"])
        if isinstance(step, AskStep):
            for option in step.options:
                if option.value == chosen:
                    return plain_text(option.say)
        return plain_text(chosen)
    if "text" in value:
        return plain_text(value["text"])
    if "fields" in value:
        return plain_text(_line(step, value["fields"]) or _("none shown"))
    if "quantity" in value:
        return plain_text(read_back(value))
    for key in ("typed", "said"):
        if key in value:
            return plain_text(value[key])
    return plain_text(", ".join(f"{key}: {value[key]}" for key in sorted(value)))
