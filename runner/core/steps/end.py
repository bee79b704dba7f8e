"""The end of the job, permitted for the vehicle as it stands and for no other."""

from collections.abc import Iterator
from typing import Literal

from steplatch.safety.bay import Act, Tag
from steplatch.safety.interlocks import Ask
from steplatch.safety.occurrences import Happening

from ..commands import Begin
from ..draft import Draft, refuse
from ..events import Done, Ended
from ..tries import Standing, Try, outcome_tries
from .kind import Kind

ACTS = {"finished": Act.HAND_OVER, "abandoned": Act.ABANDON}


class EndStep(Kind):
    """The end of the job."""

    kind: Literal["end"]
    how: Literal["finished", "abandoned"]

    head = "how"

    closes = True

    @property
    def act(self) -> Act:
        """The act that ends the job so."""
        return ACTS[self.how]

    def begin(self, draft: Draft, command: Begin) -> None:
        """Permit the end; with the DO NOT START notice in use it must have been signed for."""
        if self.act is Act.ABANDON:
            _notice_signed(draft)
        draft.grant(Ask(self.act), draft.begun)

    def came_out(self, draft: Draft, what: Happening) -> bool:
        """The job has ended."""
        draft.add(
            Done(self.id, what.value, draft.by, (), procedure=draft.procedure.id), Ended(self.how)
        )
        return True

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """Every outcome of the permitted act."""
        yield from outcome_tries(self.id, at)


def _notice_signed(draft: Draft) -> None:
    """With the DO NOT START notice in use, who receives the vehicle must have signed it."""
    signed = draft.job.log.was_signed("received", draft.procedure.id)
    if draft.job.bay.tag is Tag.DO_NOT_START and not signed:
        raise refuse("notice-not-signed")
