"""A set of readings that was kept on an earlier day, to compare today's with."""

from collections.abc import Iterator
from typing import Literal

from steplatch.safety.catalogue import _

from ..commands import Answer
from ..draft import Draft, refuse
from ..reading_set import BadReading, ReadingCondition, ReadingSet
from ..showing import Question
from ..tries import LINES, Standing, Try
from ..typed_set import parse_set
from .kind import Kind


class KeptStep(Kind):
    """Type one set of an earlier day on one line, from its sheet; nothing is read today."""

    kind: Literal["kept"]
    condition: Literal["raised", "idle", "zero"]

    head = "condition"

    takes_min = 0.5
    looked_again = True
    may_be_offered = True

    def answer(self, draft: Draft, value: str) -> None:
        """Record it apart from today's readings. Raises No when it cannot be read."""
        draft.record("kept", parse_kept(draft, self.condition, value).to_json())
        draft.done(value)

    def asks(self) -> Question:
        """One set on one line."""
        return Question(
            _(
                "One line, as the sheet has it: mbar 1/min g/s exhaust coolant open/shut/part; "
                "x = not there."
            )
        )

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """A set as it should be."""
        line = LINES[self.condition][0]
        yield Try(f"kept: {line}", Answer(self.id, line))


def parse_kept(draft: Draft, condition: ReadingCondition, value: str) -> ReadingSet:
    """One typed set of an earlier day. Raises No when it cannot be read."""
    line = draft.job.log.latest("kept_line") or draft.job.log.latest("line_name") or {}
    numbers = draft.job.log.numbers
    cylinders = int(numbers["cylinders"]) if "cylinders" in numbers else None
    name = str(line.get("text", ""))
    try:
        return parse_set(
            value, condition, "before", line_name=name, cylinders=cylinders, by=draft.by
        )
    except BadReading:
        raise refuse("reading", typed=value, condition=condition, phase="before") from None
