"""Invariant 4, while running: what a running engine needs is lost, so an alarm comes.

As the monitors of ``monitors.py``, these read what truly happened and none of what decides.
"""

from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

from .observer_machines import BoundObserver
from .observers import CONTROLS, ENGINE, FUMES, SECURED, UNKNOWN, Observer, PlantEvent


@dataclass(frozen=True)
class Alarm:
    """Invariant 4, while running: what a running engine needs is lost, so an alarm comes.

    The engine counts as running while that is known; a loss is a look that finds it gone,
    doubt, or a happening that ends it. The alarm must come in the same moment. After a permit
    that nobody answered nothing counts as known.
    """

    observer: Observer
    good: frozenset[str]
    invariant: int = 4

    @property
    def name(self) -> str:
        return f"alarm-{self.observer.facts[-1]}"

    @property
    def facts(self) -> tuple[str, ...]:
        return (*self.observer.facts, "engine", "trip unattended")

    @property
    def hears(self) -> frozenset[str]:
        return self.observer.hears | ENGINE.hears

    @property
    def sees(self) -> frozenset[str]:
        return self.observer.sees | ENGINE.sees

    def start(self) -> Hashable:
        return self.observer.start(), UNKNOWN, "quiet", False

    def step(self, now: Any, event: PlantEvent) -> tuple[Hashable, str | None]:
        state, engine, alarm, untold = now
        match event:
            case ("untold",):
                return (state, engine, alarm, True), None
            case ("tripped", "unattended"):
                return (state, engine, "raised", untold), None
            case ("reset", "unattended"):
                return (state, engine, "quiet", untold), None
            case ("permitted", "road_test"):  # from then on it counts as gone
                return (self._forgotten(state), UNKNOWN, alarm, untold), None
            case ("over",) if untold:
                return (self._forgotten(state), UNKNOWN, alarm, False), None
            case ("over",):
                said = f"{self.name}: lost while running, and no alarm" if alarm == "due" else None
                return (state, engine, "quiet" if alarm == "due" else alarm, False), said
        state_after, engine = self.observer.after(state, event), ENGINE.after(engine, event)
        lost = self._stands(state) and not self._stands(state_after)
        if lost and engine in ("idling", "raised") and alarm == "quiet" and not untold:
            alarm = "due"
        return (state_after, engine, alarm, untold), None

    def _forgotten(self, state: Any) -> Any:
        return UNKNOWN if isinstance(state, str) else (*state[:-1], UNKNOWN)

    def _stands(self, state: Any) -> bool:
        return (state if isinstance(state, str) else state[-1]) in self.good


def alarm_monitors() -> tuple[Alarm, ...]:
    """Invariant 4, while running."""
    return (
        Alarm(BoundObserver(CONTROLS), frozenset({"other", "self"})),
        Alarm(SECURED, frozenset({"yes"})),
        Alarm(FUMES, frozenset({"extraction", "outdoors"})),
    )
