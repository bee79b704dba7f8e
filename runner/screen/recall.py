"""What need not be typed again: said by the car's last job, this workshop's, or a line written
ahead. It is offered with its day; a key of its own takes it, and nothing is taken by itself.

Nothing that is looked at today is among it: fluid, leaks, tools, codes and readings are never
offered. A look that was made last time is asked again, with what it was beside it.
"""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from steplatch.safety.catalogue import _

from ..core.steps import AskStep, KeptStep, LookStep
from ..jobs.facts import plate
from ..jobs.last_time import LastTime, ending_in, of_car, of_workshop
from ..record import DataFolder
from .talk import Choice

CAR = frozenset(
    {"customer_name", "contact", "vin_tail", "duty", "oil_history", "filter_history", "line_name"}
    | {"root_cause_text"}
)
WORKSHOP = frozenset({"alternatives", "price", "warning", "advice", "return_date", "waste"})
"""Names that are asked for and may be as last time: of this car, or of this workshop's work."""
KEPT = {"kept_distance": "distance", "kept_line": "line_name"}
"""What is asked of the earlier job of this car, and the name that it has there."""
LOOKED_UP = frozenset({"fuel", "coating", "low_loop", "reach", "sensor"})
"""Facts that belong to the car: looked at again, with what they were last time said beside."""
REGISTRATION, AGE = "registration", "age"
ENDS_IN = "-"
"""Stands before the end of a plate, where that is enough: -LE1."""
LEAST_TAIL = 3


@dataclass(slots=True)
class Recall:
    """The earlier jobs that a job can ask. ``None`` for a car or workshop without one."""

    data: DataFolder
    practice: bool
    job_id: str
    car: LastTime | None = None
    _workshop: LastTime | None = field(default=None)
    _looked: bool = False

    def arrives(self, registration: str) -> None:
        """The car of this job is known by its registration from now on."""
        self.car = of_car(self.data, registration, self.practice, self.job_id)

    def known_as(self, typed: str) -> str:
        """What was typed of a plate, or the whole of it where its end was enough for a car that was
        here before; '' where none or several end so."""
        if not typed.startswith(ENDS_IN):
            return typed
        found = ending_in(self.data, typed, self.practice, self.job_id)
        return found[0] if len(found) == 1 and len(plate(typed)) >= LEAST_TAIL else ""

    @property
    def workshop(self) -> LastTime | None:
        """The last job that ended here."""
        if not self._looked:
            self._workshop = of_workshop(self.data, self.practice, self.job_id)
            self._looked = True
        return self._workshop

    def offered(self, step: AskStep) -> tuple[str, str] | None:
        """The answer of last time to a question, and its day; None where there is none."""
        if step.name == AGE:
            return self._age()
        if step.name in KEPT:
            said = self.car.answer(KEPT[step.name]) if self.car is not None else ""
            return (said, self.car.day) if self.car is not None and said else None
        asked = step.name in CAR | WORKSHOP or step.offered
        known = self.car if asked else None
        if step.name in WORKSHOP and (known is None or not known.answer(step.name)):
            known = self.workshop
        said = known.answer(step.name) if known is not None else ""
        return (said, known.day) if known is not None and said else None

    def _age(self) -> tuple[str, str] | None:
        """The years of the car: of last time, and those that have gone by since."""
        said = self.car.answer(AGE) if self.car is not None else ""
        try:
            then, now = (date.fromisoformat(d) for d in (self.car_day, self.job_id[:10]))
            years = float(said) + (now - then).days // 365
        except ValueError:
            return None
        return f"{years:g}", self.car_day

    @property
    def car_day(self) -> str:
        """The day of the car's last job; '' for a car that was never here."""
        return self.car.day if self.car is not None else ""

    def kept_set(self, step: KeptStep) -> tuple[str, str] | None:
        """The set of the car's last job as one types it, and its day; None where there is none."""
        line = self.car.kept_line(step.condition) if self.car is not None else ""
        return (line, self.car.day) if self.car is not None and line else None

    def gun_rates(self) -> tuple[float, ...]:
        """The rates of the last jug shots of this workshop, mL/s; none where there are none."""
        last = self.workshop.job.log.latest("gun") if self.workshop is not None else None
        if last is None or not last.get("shots_ml"):
            return ()
        return tuple(float(ml) / float(last["seconds"]) for ml in last["shots_ml"])

    def marked(self, step: Any, choices: list[Choice]) -> list[Choice]:
        """The choices, the one of last time with its day."""
        value, day = "", ""
        if isinstance(step, AskStep) and (offer := self.offered(step)):
            value, day = offer
        elif isinstance(step, LookStep) and step.fact in LOOKED_UP and self.car is not None:
            value, day = self.car.state(step.fact), self.car.day
        return [
            Choice(c.value, _("{say} (as on {day})", say=c.say, day=day)) if c.value == value else c
            for c in choices
        ]
