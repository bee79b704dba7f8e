"""The monitors and alarms at small limits, told events of the truth by hand."""

from typing import Any

from steplatch.safety.verify.alarms import Alarm, alarm_monitors
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observers import PlantEvent

MONITORS: dict[str, Needs] = {m.name: m for m in need_monitors(1, 2, 3)}
ALARMS: dict[str, Alarm] = {m.name: m for m in alarm_monitors()}


def told(monitor: Needs | Alarm, *events: PlantEvent) -> str | None:
    """What the monitor says of the last event."""
    now, said = monitor.start(), None
    for event in events:
        now, said = monitor.step(now, event)
    return said


def begin(act: str, dose: int = 0, asked_with: Any = True) -> PlantEvent:
    """An act that begins by permission."""
    return ("begin", act, dose, asked_with)
