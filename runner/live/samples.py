"""What goes into the reducer and what comes out: small frozen values, integers and ids."""

from dataclasses import dataclass
from enum import Enum
from typing import TypeAlias

from .link import Cause, LinkState


@dataclass(frozen=True, slots=True)
class Sample:
    """One value of one channel, in thousandths of its unit. ``good``: inside what is likely.

    ``at_ms`` counts on the log's own monotonic clock; it is when the answer came in.
    """

    at_ms: int
    channel: str
    milli: int
    good: bool = True


@dataclass(frozen=True, slots=True)
class LinkChange:
    """The link has another state or cause."""

    at_ms: int
    state: LinkState
    cause: Cause


@dataclass(frozen=True, slots=True)
class Said:
    """What people have said and what is permitted, as a whole, from ``at_ms`` on.

    ``engine`` is a value of ``safety.facts.Engine``, ``permits`` are values of
    ``safety.acts.Act`` whose permits stand. Speeds in 1/min; None where nobody has said.
    ``set_aside`` are channels that a person has looked at and found wrong.
    """

    at_ms: int
    engine: str = "unknown"
    permits: frozenset[str] = frozenset()
    gun_open: bool = False
    ceiling_rpm: int | None = None
    raised_lower_rpm: int | None = None
    raised_upper_rpm: int | None = None
    idle_rpm: int | None = None
    burn_limit_degc: int | None = None
    set_aside: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Now:
    """Time has passed and nothing else came."""

    at_ms: int


Input: TypeAlias = Sample | LinkChange | Said | Now


class Kind(Enum):
    """What a happening is good for. A fact can contradict, a trip trips, an alarm is for eyes and
    ears, a channel note says that a value is not used."""

    FACT = "fact"
    TRIP = "trip"
    ALARM = "alarm"
    CHANNEL = "channel"


@dataclass(frozen=True, slots=True)
class Happening:
    """One change that is worth a line. ``numbers`` are names with integers, ids or quantised
    decimals; ``from_ms`` to ``at_ms`` is the stretch of the raw log that shows it."""

    at_ms: int
    kind: Kind
    what: str
    numbers: tuple[tuple[str, str | int], ...] = ()
    from_ms: int = 0

    def plain(self) -> dict[str, object]:
        """As a record holds it."""
        return {
            "at_ms": self.at_ms,
            "from_ms": self.from_ms,
            "kind": self.kind.value,
            "what": self.what,
            **dict(self.numbers),
        }
