"""The language of the interlock table: conditions over facts, rows, refusals.

A condition declares the facts that it reads and can see nothing else.
"""

from collections.abc import Callable
from dataclasses import dataclass

from ..bay import Act, Bay, DoseLimits, State, Trip
from ..catalogue import _

QUALITY = 0
"""The invariant number of a row that stands behind none: it keeps the record good."""


@dataclass(frozen=True, slots=True)
class Ask:
    """What is asked: the act, its dose in 0.1 mL, whether the band asked for lies wholly
    under the rev ceiling, the trip that a reset is for, and how long a burst with the engine
    off is to last, in whole seconds rounded up (0: a loaded volume, sprayed until empty)."""

    act: Act
    dose: int = 0
    band_under_ceiling: bool = True
    trip: Trip | None = None
    burst_s: int = 0


@dataclass(frozen=True, slots=True)
class Is:
    """Holds when the fact is in one of the states."""

    fact: str
    states: tuple[State, ...]

    @property
    def reads(self) -> frozenset[str]:
        return frozenset({self.fact})

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return bay.among(self.fact, self.states)


@dataclass(frozen=True, slots=True)
class Either:
    """Holds when one of its parts holds."""

    parts: tuple["Condition", ...]

    @property
    def reads(self) -> frozenset[str]:
        return frozenset().union(*(p.reads for p in self.parts))

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return any(p.holds(bay, ask, limits) for p in self.parts)


@dataclass(frozen=True, slots=True)
class Both:
    """Holds when all of its parts hold."""

    parts: tuple["Condition", ...]

    @property
    def reads(self) -> frozenset[str]:
        return frozenset().union(*(p.reads for p in self.parts))

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return all(p.holds(bay, ask, limits) for p in self.parts)


@dataclass(frozen=True, slots=True)
class Rule:
    """A condition over numbers: ledger, dose, limits, trips. ``reads`` is declared."""

    name: str
    reads: frozenset[str]
    test: Callable[[Bay, Ask, DoseLimits], bool]

    def holds(self, bay: Bay, ask: Ask, limits: DoseLimits) -> bool:
        return self.test(bay, ask, limits)


Condition = Is | Either | Both | Rule


@dataclass(frozen=True, slots=True)
class Interlock:
    """One row. ``invariant`` is the number of the invariant it serves (see ``monitors``).

    ``waivable`` rows may be lifted once, by another person, for a reason that is printed. Only a
    row that serves ``QUALITY`` may say so: it keeps the record good, nobody and nothing whole.

    Raises:
        ValueError: a row behind a numbered invariant says that it may be waived.
    """

    id: str
    acts: frozenset[Act]
    allows: Condition
    reason: str
    remedy: str
    source: str
    invariant: int
    waivable: bool = False

    def __post_init__(self) -> None:
        if self.waivable and self.invariant != QUALITY:
            raise ValueError(
                _(
                    "'{id}' serves invariant {invariant}: it cannot be waivable",
                    id=self.id,
                    invariant=self.invariant,
                )
            )

    @property
    def reads(self) -> frozenset[str]:
        """The facts that this row can see."""
        return self.allows.reads


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why an act is refused, what would allow it, and where the rule comes from.

    ``about`` names the facts of this very refusal (ids, lists of ids, numbers, typed texts); with
    the id it is what a record holds, from which the words follow.
    """

    interlock: str
    reason: str
    remedy: str
    source: str
    about: tuple[tuple[str, str | tuple[str, ...]], ...] = ()


def is_(fact: str, *states: State) -> Is:
    """``fact`` is in one of ``states``."""
    return Is(fact, states)


def either(*parts: Condition) -> Either:
    """One of ``parts`` holds."""
    return Either(parts)


def both(*parts: Condition) -> Both:
    """All of ``parts`` hold."""
    return Both(parts)


def row(
    id: str,
    acts: tuple[Act, ...],
    allows: Condition,
    reason: str,
    remedy: str,
    source: str,
    invariant: int,
    waivable: bool = False,
) -> Interlock:
    """One interlock, its acts as a plain tuple."""
    return Interlock(id, frozenset(acts), allows, reason, remedy, source, invariant, waivable)
