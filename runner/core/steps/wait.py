"""Wait out a timer."""

from collections.abc import Iterator
from typing import Literal

from steplatch.safety.bay import Soak
from steplatch.safety.catalogue import _
from steplatch.safety.kernel import Happened
from steplatch.safety.occurrences import Happening

from ..commands import Answer, Begin
from ..draft import Draft, refuse
from ..job import Job
from ..showing import TRADE, Source
from ..timers import left_s, timer
from ..tries import Standing, Try
from .kind import Kind


class WaitStep(Kind):
    """Wait out a timer: the soak, or the two minutes before a zero."""

    kind: Literal["wait"]
    timer: Literal["soak", "zero"]

    head = "timer"

    takes_min = 3.0

    def settles(self) -> frozenset[str]:
        """The soak, where it is that."""
        return frozenset({"soak"} if self.timer == "soak" else ())

    def begin(self, draft: Draft, command: Begin) -> None:
        """Set the timer; a soak that has begun already goes on."""
        log = draft.job.log
        draft.add(draft.begun)
        if self.timer == "zero":
            draft.add(timer(draft, "zero", log.number("zero_wait_s")))
        elif draft.job.bay.soak is Soak.UNKNOWN:
            draft.add(Happened(Happening.SOAK_BEGUN), timer(draft, "soak", log.number("soak_s")))

    def answer(self, draft: Draft, value: str) -> None:
        """Done when it is due, whatever is typed."""
        log = draft.job.log
        left_ms = log.timers.get(self.timer, 0) - log.waited_ms
        over = draft.job.bay.soak is Soak.DUE if self.timer == "soak" else left_ms <= 0
        if not over:
            raise refuse("not-due", left_s=left_s(left_ms))
        draft.done("due")

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """How long it is waited."""
        if self.timer == "soak":
            return (
                _(
                    "soak at least {number:.0f} s{source}",
                    number=job.log.number("soak_s"),
                    source=source("soak"),
                ),
            )
        return (f"{job.log.number('zero_wait_s'):.0f} s{source('', TRADE)}",)

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """That it is due."""
        yield Try("due", Answer(self.id, "due"))
        yield Try("begin again", Begin(self.id))
