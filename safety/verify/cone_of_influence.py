"""The cone of facts that matter to one question, and why nothing is missed outside it.

1. *Rows only deny.* A row, or a part of one, whose facts are not kept is dropped
   (``weaken``). What remains permits more. What holds there holds with all rows.
2. *Effects are per fact.* What a fact becomes depends on the event, on itself, and on the
   few facts named in ``LEANS_ON``. A set of kept facts that is closed under it
   (``close``) therefore moves the same whether the other facts are there or not:
   projecting and then applying gives the same as applying and then projecting.
   A test checks both for random bays, events and sets of facts.
"""

from collections.abc import Collection, Iterable
from dataclasses import replace
from typing import Any

from ..bay import FACTS, Bay, Trip
from ..effects import OTHERWISE, SEEN
from ..interlocks import Both, Condition, Either, Interlock, Is, Rule


def latch(trip: Trip) -> str:
    """The name under which a trip can be kept; some trips are called as a fact is."""
    return f"trip {trip.value}"


def _moved_by_looks() -> dict[str, set[str]]:
    """For each fact the facts of which a look that finds them otherwise moves it."""
    found: dict[str, set[str]] = {}
    for (fact, seen), row in SEEN.items():
        if seen == OTHERWISE:
            for moved in row.ends.union(row.sets):
                found.setdefault(moved, set()).add(fact)
    return found


LEANS_ON: dict[str, Collection[str]] = {
    **_moved_by_looks(),
    "wet": ("rate", "fluid_in", "run_on"),
    latch(Trip.OVERDOSE): ("wet", "engine", "gun", "fluid_in"),
    latch(Trip.UNPERMITTED): ("engine", "hands", "hose", "gun", "key"),
}
"""For each fact, and each trip, the other facts that decide what it becomes.

``permit`` and ``reserved`` are always kept. Two trips have more causes than the kept facts
show: a stall also trips over a wet ledger, and a running engine left alone over any of three
facts. What is not shown can only trip *more*, so a trip that is needed and comes by the kept
facts alone comes with all facts.
"""


def close(names: Iterable[str]) -> frozenset[str]:
    """``names`` with all that they lean on."""
    kept = frozenset(names)
    while True:
        wider = kept.union(*(LEANS_ON.get(name, ()) for name in kept))
        if wider == kept:
            return kept
        kept = wider


def project(bay: Bay, kept: frozenset[str]) -> Bay:
    """``bay`` with every fact that is not kept unknown, and only the kept trips."""
    blank: dict[str, Any] = {f: FACTS[f]["UNKNOWN"] for f in FACTS if f not in kept}
    shown = frozenset(trip for trip in bay.trips if latch(trip) in kept)
    if "wet" not in kept:
        return bay.but(wet=0, reserved=0, trips=shown, **blank)
    return bay.but(trips=shown, **blank)


def readable(kept: frozenset[str]) -> frozenset[str]:
    """What a row may read: the kept facts, and the trips where one is kept."""
    return kept | ({"trips"} if any(latch(trip) in kept for trip in Trip) else frozenset())


def weaken(condition: Condition, kept: frozenset[str]) -> Condition | None:
    """What is left of ``condition`` when only ``kept`` can be read; ``None``: nothing.

    It holds whenever the whole condition holds.
    """
    match condition:
        case Is() | Rule():
            return condition if condition.reads <= readable(kept) else None
        case Both(parts):
            left = tuple(w for part in parts if (w := weaken(part, kept)) is not None)
            return Both(left) if left else None
        case _:
            weak = tuple(weaken(part, kept) for part in condition.parts)
            readable_ways = tuple(w for w in weak if w is not None)
            return Either(readable_ways) if len(readable_ways) == len(weak) else None


def weakened_rows(rows: Iterable[Interlock], kept: frozenset[str]) -> tuple[Interlock, ...]:
    """The rows as far as the kept facts show them."""
    return tuple(
        replace(row, allows=left) for row in rows if (left := weaken(row.allows, kept)) is not None
    )
