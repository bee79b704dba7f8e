"""What a job is worked by: its procedures and the judges, handed in."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from steplatch.safety.bay import Trip
from steplatch.safety.catalogue import _

from .job import Job
from .procedure import Procedure

ABANDON = "abandon"


class Judge(Protocol):
    """Works one judgement out: plain JSON with a ``state``, ids and decimals, no sentence."""

    def __call__(self, job: Job, recorded: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """With ``recorded``, the outcome that stands in a record, the numbers are compared with it
        and the classes follow from the recorded ones. Raises ``resolution.Disagreement``."""
        ...


@dataclass(frozen=True, slots=True)
class Judges:
    """The worked judgements, handed in so that the core imports none of their libraries."""

    triage: Judge
    verdict: Judge
    trend: Judge
    change: Judge
    retained: Judge


@dataclass(frozen=True, slots=True)
class Plan:
    """What a job is worked by: the main procedure, the others by id, and the judges.

    ``working`` holds the worked limits line by line, for people: nothing here reads it.
    """

    main: Procedure
    others: Mapping[str, Procedure]
    judges: Judges
    working: Mapping[str, Any] = field(default_factory=dict, compare=False)

    def procedure(self, procedure_id: str) -> Procedure:
        """The main procedure or another by its id. Raises KeyError."""
        return self.main if procedure_id == self.main.id else self.others[procedure_id]

    @property
    def procedures(self) -> tuple[Procedure, ...]:
        """All of them, the main procedure first."""
        return (self.main, *self.others.values())

    def steps(self) -> Iterator[Any]:
        """Every step of every procedure, in order."""
        for procedure in self.procedures:
            yield from procedure.steps()

    def step(self, procedure_id: str, step_id: str) -> Any | None:
        """The step of that procedure, or None where there is none."""
        known = (p for p in self.procedures if p.id == procedure_id)
        return next((s for p in known for s in p.steps() if s.id == step_id), None)

    @property
    def branches_on(self) -> frozenset[str]:
        """The facts and choices that some step's ``when`` reads."""
        return frozenset(condition.fact for step in self.steps() for condition in step.when)

    def answering(self, trip: Trip) -> Procedure:
        """The procedure that answers ``trip``. Raises LookupError when none does."""
        for procedure in self.others.values():
            if trip in procedure.answers:
                return procedure
        raise LookupError(_("no procedure answers the trip {value!r}", value=trip.value))
