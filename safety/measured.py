"""What the vehicle itself reports, as a second witness. It can refuse and trip, never permit.

To permit: said, *and* not contradicted by what was measured just now. No answer, an old or a frozen
value is ``unknown`` and changes nothing. What is measured never makes a fact safer than it was
said: a contradiction only refuses, and the happenings that are measured (``effects.MEASURED``)
only latch, and make unknown.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from .acts import Act
from .bay import Bay, Engine, Secured, states_of
from .catalogue import _
from .facts import Burning, State
from .interlocks import INTERLOCKS, Ask, Interlock, Refusal, rows_for

STATES: Final[dict[str, tuple[str, ...]]] = {
    "engine": ("unknown", "stopped", "turning", "running"),
    "band": ("unknown", "idle", "raised", "other"),
    "burning": ("unknown", "no", "yes"),
    "moving": ("unknown", "no", "yes"),
}
"""What can be measured, and its states."""

RESTS_ON: Final[dict[str, tuple[str, ...]]] = {
    "speed_rpm": ("engine", "band"),
    "burning": ("burning",),
    "road_km_h": ("moving",),
}
"""The channels of the vehicle, and what is measured by each. A channel can be set aside."""

ALWAYS: Final = frozenset({Act.STOP_ENGINE})
"""Acts that nothing measured refuses: an engine may be stopped, whatever a display says."""


@dataclass(frozen=True, slots=True)
class Measured:
    """What the vehicle reports now, each one of its ``STATES``."""

    engine: str = "unknown"
    band: str = "unknown"
    burning: str = "unknown"
    moving: str = "unknown"

    def now(self, fact: str, state: str) -> "Measured":
        """With ``fact`` measured as ``state``. Raises ValueError for what cannot be measured."""
        if state not in STATES.get(fact, ()):
            raise ValueError(_("{fact!r} cannot be measured as {state!r}", fact=fact, state=state))
        return replace(self, **{fact: state})

    def without(self, channel: str) -> "Measured":
        """With all that rests on ``channel`` unknown."""
        return replace(self, **dict.fromkeys(RESTS_ON[channel], "unknown"))


NOTHING_MEASURED: Final = Measured()


@dataclass(frozen=True, slots=True)
class Contradiction:
    """One row: said so, and measured otherwise. ``channel`` is what the measurement rests on."""

    id: str
    fact: str
    said: frozenset[State]
    measured: tuple[tuple[str, str], ...]
    channel: str
    reason: str

    def holds(self, bay: Bay, measured: Measured) -> bool:
        """Whether what is said and what is measured contradict each other now."""
        return getattr(bay, self.fact) in self.said and any(
            getattr(measured, fact) == state for fact, state in self.measured
        )


REMEDY: Final = _(
    "Look and listen: say what is true. If the vehicle's value is wrong, set it aside by the word "
    "'aside'; it is written down."
)
SOURCE: Final = _("the vehicle's own report; a second witness (design choice)")
_STOPPED: Final = states_of("engine", ("stopped",))
_RUNS: Final = frozenset({Engine.IDLING, Engine.RAISED, Engine.ROAD})

CONTRADICTIONS: Final[tuple[Contradiction, ...]] = (
    Contradiction(
        "measured-running",
        "engine",
        _STOPPED,
        (("engine", "running"),),
        "speed_rpm",
        _("It is said to stand still; the vehicle reports that it runs."),
    ),
    Contradiction(
        "measured-turning",
        "engine",
        _STOPPED,
        (("engine", "turning"),),
        "speed_rpm",
        _("It is said to stand still; the vehicle reports that it turns."),
    ),
    Contradiction(
        "measured-stopped",
        "engine",
        _RUNS,
        (("engine", "stopped"),),
        "speed_rpm",
        _("It is said to run; the vehicle reports no revs."),
    ),
    Contradiction(
        "measured-not-idle",
        "engine",
        frozenset({Engine.IDLING}),
        (("engine", "turning"), ("band", "raised"), ("band", "other")),
        "speed_rpm",
        _("It is said to idle; the vehicle reports other revs."),
    ),
    Contradiction(
        "measured-not-raised",
        "engine",
        frozenset({Engine.RAISED}),
        (("engine", "turning"), ("band", "idle"), ("band", "other")),
        "speed_rpm",
        _("The revs are said to be held in the band; the vehicle reports others."),
    ),
    Contradiction(
        "measured-burning",
        "burning",
        frozenset({Burning.NO}),
        (("burning", "yes"),),
        "burning",
        _("It is said to burn no soot; the vehicle reports that it does."),
    ),
    Contradiction(
        "measured-moving",
        "secured",
        frozenset({Secured.YES}),
        (("moving", "yes"),),
        "road_km_h",
        _("It is said to be secured; the vehicle reports that it rolls."),
    ),
)


def contradictions(bay: Bay, measured: Measured, fact: str = "") -> Iterable[Contradiction]:
    """The rows that hold now, of ``fact`` alone where one is named."""
    if measured == NOTHING_MEASURED:
        return ()
    return (row for row in CONTRADICTIONS if fact in ("", row.fact) and row.holds(bay, measured))


def contradicted(
    bay: Bay, ask: Ask, measured: Measured, rows: tuple[Interlock, ...] = INTERLOCKS
) -> tuple[Refusal, ...]:
    """Every reason to refuse ``ask`` that the vehicle gives: a fact that a row of the act rests on
    is said one way and measured another. Beside ``kernel.permit``, never instead of it."""
    if measured == NOTHING_MEASURED or ask.act in ALWAYS:
        return ()
    rests_on = frozenset().union(*(row.reads for row in rows_for(ask.act, rows)))
    return refused_for(row for row in contradictions(bay, measured) if row.fact in rests_on)


def refused_for(rows: Iterable[Contradiction]) -> tuple[Refusal, ...]:
    """The refusals by these rows."""
    return tuple(Refusal(row.id, row.reason, REMEDY, SOURCE) for row in rows)
