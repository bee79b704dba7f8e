"""What is known from the vehicle at one moment: the reducer's state, and how to ask it.

Frozen: each input makes a new one. Values are integers, facts are ids.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

from ..input.resolution import quantised
from . import rules
from .link import Cause, LinkState
from .samples import Happening, Kind, Said

SPEED: Final = "speed_rpm"
RUNNING_SAID: Final = frozenset({"idling", "raised", "road"})
"""The states of ``safety.facts.Engine`` in which it runs."""


@dataclass(frozen=True, slots=True)
class Track:
    """What is kept of one channel: the last value, when it came, when it last changed, and how
    long it took between its last changes."""

    at_ms: int
    milli: int
    good: bool
    changed_ms: int
    intervals: tuple[int, ...] = ()
    before_ms: int | None = None

    @property
    def refresh_ms(self) -> int | None:
        """Median time between changes; None until enough were seen."""
        if len(self.intervals) < rules.REFRESH_CHANGES:
            return None
        return sorted(self.intervals)[len(self.intervals) // 2]


@dataclass(frozen=True, slots=True)
class Witness:
    """The state of the reducer. ``engine``: unknown, stopped, turning, running. ``band``:
    unknown, idle, raised, other. ``burning``, ``charging``, ``moving``, ``codes_cleared``:
    unknown, no, yes.
    ``active`` holds what has been told and still holds."""

    now_ms: int = 0
    said: Said = field(default_factory=lambda: Said(0))
    said_stopped_ms: int | None = None
    said_running_ms: int | None = None
    link: LinkState = LinkState.OFF
    cause: Cause = Cause.NOT_ASKED
    tracks: Mapping[str, Track] = field(default_factory=lambda: MappingProxyType({}))
    speeds: tuple[tuple[int, int], ...] = ()
    engine: str = "unknown"
    zero_from_ms: int | None = None
    zero_run_time: int | None = None
    high_from_ms: int | None = None
    explained: bool = False
    over_count: int = 0
    over_from_ms: int = 0
    climb_count: int = 0
    band: str = "unknown"
    band_next: str = "unknown"
    band_from_ms: int = 0
    sag: str = "off"
    lows: tuple[bool, ...] = ()
    burning: str = "unknown"
    clear_from_ms: int | None = None
    charging: str = "unknown"
    charging_from_ms: int | None = None
    battery_from_ms: int | None = None
    moving: str = "unknown"
    moving_count: int = 0
    codes_cleared: str = "unknown"
    active: frozenset[str] = frozenset()

    def has(self, *names: str) -> bool:
        """Whether one of these has been told and still holds."""
        return not self.active.isdisjoint(names)


def age_limit_ms(witness: Witness, channel: str) -> int:
    """How old a value of ``channel`` may be: its limit and its own measured refresh."""
    limit = rules.AGE_MS.get(channel, rules.AGE_ELSE_MS)
    if channel == SPEED and witness.said.gun_open:
        limit = rules.AGE_GUN_OPEN_MS
    track = witness.tracks.get(channel)
    return limit + ((track.refresh_ms or 0) if track else 0)


def quality(witness: Witness, channel: str, at_ms: int) -> str:
    """The id of how good the last value of ``channel`` is: good, old, frozen, dead,
    out_of_range, set_aside, none. Only good feeds anything."""
    track = witness.tracks.get(channel)
    if track is None:
        return "none"
    if channel in witness.said.set_aside:
        return "set_aside"
    if not track.good:
        return "out_of_range"
    if at_ms - track.at_ms > age_limit_ms(witness, channel):
        return "old"
    for bad in ("frozen", "dead"):
        if f"{bad}:{channel}" in witness.active:
            return bad
    return "good"


def milli_of(witness: Witness, channel: str, at_ms: int) -> int | None:
    """The last value of ``channel`` in thousandths, None unless its quality is good."""
    if quality(witness, channel, at_ms) != "good":
        return None
    return witness.tracks[channel].milli


def rpm(milli: int) -> str:
    """A speed as a record holds it."""
    return quantised(SPEED, milli / rules.RPM)


def tell(
    witness: Witness,
    kind: Kind,
    what: str,
    *numbers: tuple[str, str | int],
    from_ms: int | None = None,
) -> Happening:
    """A happening of this moment."""
    start = witness.now_ms if from_ms is None else from_ms
    return Happening(witness.now_ms, kind, what, numbers, start)


def once(
    witness: Witness, name: str, kind: Kind, *numbers: tuple[str, str | int], from_ms: int
) -> tuple[Witness, list[Happening]]:
    """Tell ``name`` unless it has been told and still holds."""
    if name in witness.active:
        return witness, []
    told = tell(witness, kind, name, *numbers, from_ms=from_ms)
    return replace(witness, active=witness.active | {name}), [told]


def over(witness: Witness, *names: str) -> Witness:
    """``names`` no longer hold; they may be told again."""
    if witness.active.isdisjoint(names):
        return witness
    return replace(witness, active=witness.active - set(names))


def new_fact(witness: Witness, fact: str, state: str) -> tuple[Witness, list[Happening]]:
    """Set ``fact``, one of those that are unknown at the beginning; told when it changes."""
    if getattr(witness, fact) == state:
        return witness, []
    told = tell(witness, Kind.FACT, fact, ("is", state))
    return replace(witness, **{fact: state}), [told]  # type: ignore[arg-type]
