"""What a monitor is, and the common form: whoever begins an act has something truly behind them."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, Protocol

from .observers import Observer, PlantEvent

Account = tuple[Any, ...]
Met = Callable[[Account, PlantEvent], bool]
QUALITY = 0
"""The invariant number of a monitor that stands behind none: it keeps the record good."""


@dataclass(frozen=True)
class Needs:
    """An invariant of the form: whoever begins one of ``acts`` has this truly behind them.

    ``met`` gets what the observers stand at and the event that begins the act.
    """

    name: str
    invariant: int
    acts: frozenset[str]
    observers: tuple[Observer, ...]
    met: Met
    words: str

    @property
    def facts(self) -> tuple[str, ...]:
        """What the tool calls that which its observers follow."""
        return tuple(dict.fromkeys(fact for observer in self.observers for fact in observer.facts))

    @property
    def hears(self) -> frozenset[str]:
        """The happenings, and the beginnings of acts, that it takes notice of."""
        acts = frozenset(f"begin {act}" for act in self.acts)
        return acts.union(*(observer.hears for observer in self.observers))

    @property
    def sees(self) -> frozenset[str]:
        """Facts whose observation or expiry changes its account."""
        return frozenset().union(*(observer.sees for observer in self.observers))

    def start(self) -> Hashable:
        """The account before anything has happened."""
        return tuple(observer.start() for observer in self.observers)

    def step(self, now: Any, event: PlantEvent) -> tuple[Hashable, str | None]:
        """The account after ``event``, and the breach in words if it is one."""
        broken = event[0] == "begin" and event[1] in self.acts and not self.met(now, event)
        after = tuple(
            observer.after(at, event) for observer, at in zip(self.observers, now, strict=True)
        )
        return after, (f"{self.name}: {self.words}" if broken else None)


class Monitor(Protocol):
    """What the search drives."""

    @property
    def name(self) -> str: ...
    @property
    def invariant(self) -> int: ...
    @property
    def hears(self) -> frozenset[str]: ...
    @property
    def sees(self) -> frozenset[str]: ...
    def start(self) -> Hashable: ...
    def step(self, now: Any, event: PlantEvent) -> tuple[Hashable, str | None]: ...
