"""What of a job is counted over many jobs: verdict, gain, distance, duty, fluid, where it stumbled.

Read from the typed lines alone. No person stands in it: nothing here can rank anybody.
"""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from steplatch.safety.kernel import Tripped

from ..core.events import Corrected, Moved, Recorded
from .projection import TypedLine

_KEPT: Final = ("verdict", "triage", "distance", "duty", "spray")
MOST_KM: Final = 10_000_000


@dataclass(frozen=True, slots=True)
class Stumble:
    """A refusal or a trip, at which step, how many times; ``name`` is its interlock or kind."""

    what: str
    procedure: str
    step: str
    name: str
    times: int


@dataclass(frozen=True, slots=True)
class JobFacts:
    """The numbers of one job. ``day`` counts days as ``date.toordinal``; ``car`` is what stands on
    the plate while it is kept, '' else; ``gain_percent`` is how much easier the filter flows;
    ``fluid_ml`` what the ledger counted for all bursts, which is the most that went in."""

    day: int = 0
    month: str = ""
    procedure: str = ""
    car: str = ""
    triage: str = ""
    gain_percent: float | None = None
    km: int | None = None
    duty: str = ""
    fluid_ml: float = 0.0
    stumbles: tuple[Stumble, ...] = ()


NO_FACTS: Final = JobFacts()


def plate(text: str) -> str:
    """A registration as it is compared: without spaces and dashes, in capitals."""
    return "".join(letter for letter in text.upper() if letter.isalnum())


@dataclass(slots=True)
class FactCounter:
    """Takes the lines of a job one by one."""

    step: tuple[str, str] = ("", "")
    kept: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    stumbled: Counter[tuple[str, str, str, str]] = field(default_factory=Counter)

    def take(self, line: TypedLine) -> None:
        """One line: its refusals at the step where the job stood, then its events."""
        for refused in line.line.outcome["refused"]:
            self.stumbled["refusal", *self.step, str(refused["interlock"])] += 1
        for event in line.events:
            match event:
                case Moved(step, procedure):
                    self.step = (procedure, step)
                case Tripped(trip):
                    self.stumbled["trip", *self.step, str(trip.value)] += 1
                case Recorded(name, value) if name in _KEPT:
                    self.kept.setdefault(name, []).append(value)
                case Corrected(name, number, now=now) if name in self.kept:
                    there = self.kept[name]
                    if 0 <= number < len(there):
                        there[number] = now

    def facts(self, begun: str, procedure: str, car: str) -> JobFacts:
        """All of it. ``begun`` is the day (ISO)."""
        gains = self._last("verdict").get("gains")
        after = gains.get("after") if isinstance(gains, dict) else None
        percent = after.get("percent") if isinstance(after, dict) else None
        km = _number(self._last("distance").get("km"))
        sprayed = [_number(one.get("reserved_dml")) or 0.0 for one in self.kept.get("spray", ())]
        return JobFacts(
            _ordinal(begun), begun[:7], procedure, car, str(self._last("triage").get("state", "")),
            _number(percent), round(km) if km is not None and 0 <= km <= MOST_KM else None,
            str(self._last("duty").get("choice", "")), sum(sprayed) / 10,
            tuple(Stumble(*key, times) for key, times in sorted(self.stumbled.items())),
        )  # fmt: skip

    def _last(self, name: str) -> dict[str, Any]:
        return (self.kept.get(name) or [{}])[-1]


def _ordinal(day: str) -> int:
    try:
        return date.fromisoformat(day[:10]).toordinal()
    except ValueError:
        return 0


def _number(value: object) -> float | None:
    try:
        number = float(str(value))
    except ValueError:
        return None
    return number if abs(number) < 1e12 else None
