"""A worked judgement, by the judges that are handed in."""

from collections.abc import Iterator
from typing import Literal

from steplatch.safety.bay import state_of
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Seen

from ..commands import Answer, Begin
from ..draft import Draft, refuse
from ..showing import Question
from ..tries import Standing, Try
from .kind import Kind


class JudgeStep(Kind):
    """A worked judgement: triage, the verdict, what changed since an earlier day, or the volume
    that a filter retains."""

    kind: Literal["judge"]
    what: Literal["triage", "verdict", "change", "retained"]

    head = "what"

    takes_min = 1.0

    def settles(self) -> frozenset[str]:
        """The triage, where it is that."""
        return frozenset({"triage"} if self.what == "triage" else ())

    def begin(self, draft: Draft, command: Begin) -> None:
        """Work it out and record it."""
        result = getattr(draft.plan.judges, self.what)(draft.job)
        draft.add(draft.begun)
        draft.record(self.what, result)
        if self.what == "triage":
            draft.add(Seen("triage", state_of("triage", result["state"])))

    def answer(self, draft: Draft, value: str) -> None:
        """Done when it was read."""
        if value != "read":
            raise refuse("answer/read", typed=value)
        draft.done(value)

    def asks(self) -> Question:
        """That it was read."""
        return Question(_("Type read when you have read it."))

    def tries(self, at: Standing) -> Iterator[Try]:
        """Each answer of the triage."""
        if self.what != "triage":
            yield from super().tries(at)
            return
        for state in at.scenario.among("triage", ("go", "warn", "dont", "nothing")):
            yield Try(f"triage says {state}", Begin(self.id), kind="answer", triage=state)

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """That it was read."""
        yield Try("read it", Answer(self.id, "read"))
