"""What is known about the engine, the fittings, the fluid and the people.

``Bay`` is finite and hashable: closed enumerations (``states``), one small integer and one small
set. It holds no time, float, text, name or reading.
"""

from collections.abc import Collection
from dataclasses import dataclass, fields
from functools import cache
from operator import attrgetter
from typing import Any

from .acts import SPRAYS, Act, Trip
from .catalogue import _
from .facts import (
    Agreed,
    Arrival,
    Bar,
    Burning,
    Check,
    Coating,
    Codes,
    Controls,
    Crew,
    Driver,
    Engine,
    Evidence,
    Flash,
    FluidIn,
    Foul,
    Fuel,
    Fumes,
    Gun,
    Hands,
    HandTurn,
    Hose,
    Identity,
    Idle,
    Inspection,
    Key,
    Kit,
    Lift,
    Line,
    LowLoop,
    Oil,
    Port,
    Rate,
    Reach,
    Recovery,
    Road,
    RunOn,
    Secured,
    Sensor,
    Sheet,
    Soak,
    Spill,
    Starter,
    StartTried,
    State,
    StopStart,
    Tag,
    Tier,
    Touch,
    Triage,
    Trigger,
    Zero,
)

__all__ = [
    "FACTS",
    "NO_DOSE",
    "SPRAYS",
    "Act",
    "Agreed",
    "Arrival",
    "Bar",
    "Bay",
    "Burning",
    "Check",
    "Coating",
    "Codes",
    "Controls",
    "Crew",
    "DoseLimits",
    "Driver",
    "Engine",
    "Evidence",
    "Flash",
    "FluidIn",
    "Foul",
    "Fuel",
    "Fumes",
    "Gun",
    "HandTurn",
    "Hands",
    "Hose",
    "Identity",
    "Idle",
    "Inspection",
    "Key",
    "Kit",
    "Lift",
    "Line",
    "LowLoop",
    "Oil",
    "Port",
    "Rate",
    "Reach",
    "Recovery",
    "Road",
    "RunOn",
    "Secured",
    "Sensor",
    "Sheet",
    "Soak",
    "Spill",
    "StartTried",
    "Starter",
    "State",
    "StopStart",
    "Tag",
    "Tier",
    "Touch",
    "Triage",
    "Trigger",
    "Trip",
    "Zero",
    "state_of",
    "states_of",
]


@dataclass(frozen=True, slots=True)
class DoseLimits:
    """The three dose limits as whole tenths of a millilitre; strict <= extended."""

    strict: int
    extended: int
    running: int

    def __post_init__(self) -> None:
        if not 0 <= self.strict <= self.extended:
            raise ValueError(
                _("dose limits must be 0 <= strict <= extended, got {part}", part=self)
            )
        if self.running < 0:
            raise ValueError(_("the running dose limit cannot be negative, got {part}", part=self))


NO_DOSE = DoseLimits(0, 0, 0)


@dataclass(frozen=True, slots=True)
class Bay:
    """All that the interlocks may read. A new job knows nothing.

    ``wet`` is the fluid ledger: an upper bound, in tenths of a millilitre, of all fluid
    that may still be liquid in the exhaust; ``None`` when nobody knows. ``reserved`` is
    the part of it that stands for a spray whose end has not been reported. ``permit`` is
    the one act that may be done now.
    """

    engine: Engine = Engine.UNKNOWN
    idle: Idle = Idle.UNKNOWN
    stop_start: StopStart = StopStart.UNKNOWN
    key: Key = Key.UNKNOWN
    starter: Starter = Starter.UNKNOWN
    start_tried: StartTried = StartTried.UNKNOWN
    bar: Bar = Bar.UNKNOWN
    secured: Secured = Secured.UNKNOWN
    lift: Lift = Lift.UNKNOWN
    fumes: Fumes = Fumes.UNKNOWN
    controls: Controls = Controls.UNKNOWN
    hands: Hands = Hands.UNKNOWN
    hose: Hose = Hose.UNKNOWN
    gun: Gun = Gun.UNKNOWN
    line: Line = Line.UNKNOWN
    port: Port = Port.UNKNOWN
    touch: Touch = Touch.UNKNOWN
    burning: Burning = Burning.UNKNOWN
    oil: Oil = Oil.UNKNOWN
    fuel: Fuel = Fuel.UNKNOWN
    coating: Coating = Coating.UNKNOWN
    foul: Foul = Foul.UNKNOWN
    low_loop: LowLoop = LowLoop.UNKNOWN
    rate: Rate = Rate.UNKNOWN
    sheet: Sheet = Sheet.UNKNOWN
    flash: Flash = Flash.UNKNOWN
    trigger: Trigger = Trigger.UNKNOWN
    kit: Kit = Kit.UNKNOWN
    spill: Spill = Spill.UNKNOWN
    reach: Reach = Reach.UNKNOWN
    sensor: Sensor = Sensor.UNKNOWN
    identity: Identity = Identity.UNKNOWN
    crew: Crew = Crew.UNKNOWN
    arrival: Arrival = Arrival.UNKNOWN
    agreed: Agreed = Agreed.UNKNOWN
    triage: Triage = Triage.UNKNOWN
    tier: Tier = Tier.UNKNOWN
    soak: Soak = Soak.UNKNOWN
    run_on: RunOn = RunOn.UNKNOWN
    hand_turn: HandTurn = HandTurn.UNKNOWN
    inspection: Inspection = Inspection.UNKNOWN
    zero: Zero = Zero.UNKNOWN
    before: Evidence = Evidence.UNKNOWN
    after: Evidence = Evidence.UNKNOWN
    codes: Codes = Codes.UNKNOWN
    fluid_check: Check = Check.UNKNOWN
    start_check: Check = Check.UNKNOWN
    release_check: Check = Check.UNKNOWN
    road: Road = Road.UNKNOWN
    driver: Driver = Driver.UNKNOWN
    tag: Tag = Tag.UNKNOWN
    fluid_in: FluidIn = FluidIn.NO
    recovery: Recovery = Recovery.UNKNOWN
    wet: int | None = None
    reserved: int = 0
    permit: Act | None = None
    trips: frozenset[Trip] = frozenset()

    def knows(self, fact: str) -> bool:
        """Whether anybody knows the state of ``fact``."""
        return not getattr(self, fact).unknown

    def among(self, fact: str, states: Collection[State]) -> bool:
        """Whether ``fact`` is in one of ``states``."""
        return getattr(self, fact) in states

    def moved(self, before: "Bay", name: str) -> bool:
        """Whether what stands under ``name`` differs from what stood there ``before``."""
        return bool(getattr(self, name) != getattr(before, name))

    def but(self, **changes: Any) -> "Bay":
        """This bay with other values; this very bay where none of them is new.

        The same as ``dataclasses.replace``, several times as quick: the proofs do it by the
        hundred thousand. Raises AttributeError for a name that a bay does not have.
        """
        new = {name: value for name, value in changes.items() if getattr(self, name) is not value}
        if not new:
            return self
        after = object.__new__(Bay)
        for put, value in zip(_PUTS, _VALUES(self), strict=True):
            put(after, value)
        for name, value in new.items():
            object.__setattr__(after, name, value)
        return after

    @property
    def untouched(self) -> bool:
        """Whether this is the bay of a new job, of which nothing is known."""
        return not any(self.moved(_NEW, name) for name in Bay.__dataclass_fields__)

    @property
    def worst_trip(self) -> Trip | None:
        """The latched trip that is worked first, or ``None``."""
        return next((trip for trip in Trip if trip in self.trips), None)


_NEW = Bay()
_VALUES = attrgetter(*Bay.__dataclass_fields__)
_PUTS = tuple(getattr(Bay, name).__set__ for name in Bay.__dataclass_fields__)

FACTS: dict[str, type[State]] = {
    f.name: f.type for f in fields(Bay) if isinstance(f.type, type) and issubclass(f.type, State)
}
"""Every enumerated fact by name, with the enumeration of its states."""


@cache
def states_of(fact: str, names: tuple[str, ...]) -> frozenset[State]:
    """The states of ``fact`` that are called by one of ``names``."""
    return frozenset(state for state in FACTS[fact] if state.value in names)


def state_of(fact: str, name: str) -> State:
    """The state ``name`` of ``fact``.

    Raises:
        ValueError: the fact or the state does not exist; the text lists those that do.
    """
    if fact not in FACTS:
        raise ValueError(
            _("there is no fact {fact!r}; known: {facts}", fact=fact, facts=", ".join(FACTS))
        )
    for state in FACTS[fact]:
        if state.value == name:
            return state
    known = ", ".join(s.value for s in FACTS[fact])
    raise ValueError(
        _("{fact} has no state {name!r}; known: {known}", fact=fact, name=name, known=known)
    )
