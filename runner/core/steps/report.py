"""Report one of several things seen, in recovery."""

import math
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field
from steplatch.safety.bay import Engine
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Happened
from steplatch.safety.occurrences import Happening, happening_of

from ...input.quantities import BadQuantity, parse_quantity
from ..commands import Answer
from ..draft import Draft, refuse
from ..gun_entry import LARGEST_ML
from ..showing import Question
from ..tries import Standing, Try
from .kind import Kind

_SETTLES = {"lowered": "engine", "stopped": "engine", "drained": "wet"}


class ReportStep(Kind):
    """Report one of several things seen, in recovery: drained, looked dry, looked wet."""

    kind: Literal["report"]
    happenings: Annotated[tuple[str, ...], Field(min_length=1, max_length=4)]
    want: Annotated[tuple[str, ...], Field(min_length=1)]

    head = "happenings"

    looked_again = True

    def settles(self) -> frozenset[str]:
        """What the reports say something of."""
        return frozenset(_SETTLES.get(h, "inspection") for h in self.happenings)

    def answer(self, draft: Draft, value: str) -> None:
        """``value`` is the happening, with a volume behind it for 'drained' ("drained 20 mL")."""
        name, _, rest = value.partition(" ")
        if name not in self.happenings:
            raise refuse("answer/choice", typed=name, choices=tuple(self.happenings))
        what = happening_of(name)
        amount = _drained_dml(rest) if what is Happening.DRAINED else 0
        draft.add(Happened(what, amount))
        if name in self.want and draft.job.core.step == self.id:
            draft.done(value)

    def asks(self) -> Question:
        """Which of its reports is true."""
        said = tuple((name, happening_of(name).said) for name in self.happenings)
        return Question(_("What happened?"), said)

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """Each report; a drained volume of nothing, of one tenth and of all, never of more than may
        be in: where the count is known, what nothing held is not found in the jug."""
        for name in self.want if at.scenario.well else self.happenings:
            if name == "lowered" and at.job.bay.engine is Engine.STOPPED:
                continue
            wet = at.job.bay.wet
            held = (0, 1) if wet is None else (0, min(1, wet), wet)
            volumes = dict.fromkeys(held) if name == "drained" else ()
            for dml in volumes:
                text = f"drained {dml / 10} mL"
                yield Try(text, Answer(self.id, text), kind="answer")
            if not volumes:
                yield Try(f"report: {name}", Answer(self.id, name), kind="answer")


def _drained_dml(typed: str) -> int:
    """A drained volume in 0.1 mL, rounded down: no more than surely came out. Raises No."""
    try:
        volume_m3 = parse_quantity(typed, "volume").si_value
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="volume") from None
    if not 0 <= volume_m3 * 1e6 <= LARGEST_ML:
        raise refuse("number/jug", typed=typed)
    return math.floor(volume_m3 * 1e7 + 1e-6)
