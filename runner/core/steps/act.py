"""Do one act under a permit, and report what happened."""

from collections.abc import Iterator
from typing import Literal

from steplatch.safety.bay import Act
from steplatch.safety.interlocks import Ask
from steplatch.safety.occurrences import Happening

from ..commands import Begin
from ..draft import Draft
from ..job import Job
from ..showing import Source, revs_band
from ..tries import Standing, Try, outcome_tries
from .kind import Kind

_SETTLES: dict[str, tuple[str, ...]] = {
    "ignition_on": ("key",),
    "try_start": ("start_tried",),
    "start": ("engine", "starter"),
    "stop_engine": ("engine",),
    "raise": ("engine",),
    "hands_in": ("hands",),
    "hands_at_hose": ("hands",),
    "take_hose_off": ("hose",),
    "couple_gun": ("gun",),
    "uncouple_gun": ("gun",),
    "clear_line": ("line",),
    "put_hose_on": ("hose",),
    "hand_turn": ("hand_turn", "bar"),
    "clear_codes": ("codes",),
    "road_test": ("engine",),
}
_NOT_AGAIN = frozenset(
    {
        *(Act.START, Act.STOP_ENGINE, Act.RAISE, Act.ROAD_TEST, Act.HAND_TURN, Act.CLEAR_CODES),
        Act.HANDS_AT_HOSE,
    }
)
"""Acts that nobody does again only so that something is known."""


class ActStep(Kind):
    """Ask a permit for an act, do it, report what happened."""

    kind: Literal["act"]
    act: Act

    head = "act"

    takes_min = 0.6

    @property
    def led_back_to(self) -> bool:
        """An act is done again only where that turns, moves and clears nothing."""
        return self.act not in _NOT_AGAIN

    def settles(self) -> frozenset[str]:
        """What the act changes when it comes out as it should."""
        return frozenset(_SETTLES.get(self.act.value, ()))

    def begin(self, draft: Draft, command: Begin) -> None:
        """Permit the act."""
        draft.grant(Ask(self.act, band_under_ceiling=_band_ok(draft)), draft.begun)

    def came_out(self, draft: Draft, what: Happening) -> bool:
        """Done."""
        draft.done(what.value)
        return True

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """The band of revs, where they are raised."""
        return (revs_band(job, source("rev_ceiling")),) if self.act is Act.RAISE else ()

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """Every outcome of the permitted act."""
        yield from outcome_tries(self.id, at)


def _band_ok(draft: Draft) -> bool:
    numbers = draft.job.log.numbers
    if "revs_high_rpm" not in numbers:
        return False
    return float(numbers["revs_high_rpm"]) <= float(numbers["rev_ceiling_rpm"])
