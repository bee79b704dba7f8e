"""No permit rests on a fact older than its stated life: a monitor over the time that truly passed.

It knows the lives from the page, not from the table that the engine reads, and the time from the
walk, not from the job.
"""

from dataclasses import dataclass, field
from typing import Any

from steplatch.runner.core.job import Job
from steplatch.safety.bay import FACTS, HandTurn
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.kernel import Granted, Happened, Seen
from steplatch.safety.occurrences import Happening

from tests.safety.test_how_long_facts_last import MINUTES

RETRY_MINUTES = 5
CONFIRMS = {
    "hands": (Happening.HANDS_IN, Happening.HANDS_AT_HOSE, Happening.ROAD_ENDED),
    "hand_turn": (Happening.TURNED_EVEN, Happening.CRANKED_NO_FIRE),
}
"""What happens that settles a fact anew, beside a look; a checker's word adds nothing to a turn."""


@dataclass(frozen=True)
class OldFact:
    """A breach: the act was permitted, and rows of it read a fact that was believed too long."""

    name: str = "no-old-fact"
    invariant: int = 1


@dataclass
class Ages:
    """When each fact that grows old was last said, in ms of true time."""

    said_ms: dict[str, int] = field(default_factory=dict)

    def after(self, job: Job, event: Any, now_ms: int) -> list[str]:
        """Follow an event of ``job``; a permit that rests on what is too old, in words."""
        match event:
            case Seen(fact, _):
                self.said_ms[fact] = now_ms
            case Happened(what, _):
                self.said_ms |= {fact: now_ms for fact, by in CONFIRMS.items() if what in by}
            case Granted(act, _):
                reads = frozenset().union(*(row.reads for row in INTERLOCKS if act in row.acts))
                return [
                    f"no-old-fact: {act.value} permitted on {fact}, said {old / 60_000:.1f} min ago"
                    for fact in sorted(reads & MINUTES.keys() & FACTS.keys())
                    if job.bay.knows(fact)
                    and (old := now_ms - self.said_ms.get(fact, 0)) > 60_000 * _life(job, fact)
                ]
        return []


def _life(job: Job, fact: str) -> int:
    if fact == "hand_turn" and job.bay.hand_turn is HandTurn.RETRY:
        return RETRY_MINUTES
    return MINUTES[fact]
