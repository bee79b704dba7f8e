"""What truly may happen in the bay, whatever the tool believes: the world of the proofs.

People obey refusals: nobody begins an act without a permit, and a permit is used at once or
not at all (any other command ends it). They answer honestly. All else is open: every outcome
of every act, every happening of the world at any moment, every look with its true result,
every fact growing old, a permit never answered, a spray cut off with any volume gone in.

``PlantState`` holds the physical truth only as far as honest looks depend on it. What is not
tracked (``ANY``) may be seen in any state at any time, which allows more, never less.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import product
from typing import Any

from ..bay import SPRAYS, Act
from ..occurrences import Happening
from ..verify.observers import MUCH_DML
from .compartments import ANYWHERE, Fluid

H = Happening
ANY = "?"
ANY_DML = 1
"""So much in, or more, is any amount to the jugs of the searches: something is in, or nothing."""

_PLACES: dict[str, tuple[str, ...]] = {
    "engine": ("stopped", "idling"),
    "key": ("on", "off", "boxed"),
    "hands": ("clear", "in"),
    "hose": ("on", "off"),
    "gun": ("away", "coupled"),
    "hand_turn": ("not turned",),
}
"""The physical facts that a world can track, with the states that one may be found in."""


@dataclass(frozen=True, slots=True)
class PlantState:
    """The physical state. ``dose`` is that of a spray that has truly begun, else 0; ``loaded``
    whether its gun holds no more than that; ``false_report`` the one false report, if any;
    ``fluid`` what is in and where, tracked where the ledger is."""

    engine: str = ANY
    key: str = ANY
    hands: str = ANY
    hose: str = ANY
    gun: str = ANY
    hand_turn: str = ANY
    arrived_dry: bool = False
    begun: bool = False
    dose: int = 0
    loaded: bool = False
    false_report: str = ""
    fluid: Fluid | None = None

    @property
    def running(self) -> bool:
        """Whether the engine may be turning by itself."""
        return self.engine in (ANY, "idling", "raised", "road")

    @property
    def stopped(self) -> bool:
        """Whether the engine may stand still."""
        return self.engine in (ANY, "stopped")


_MOVES: dict[Happening, dict[str, str]] = {
    H.IGNITION_ON: {"key": "on"},
    H.TRIED_NOTHING: {"key": "off"},
    H.TRIED_TURNED: {"engine": "stopped", "key": "off"},
    H.STARTED: {"engine": "idling", "key": "on"},
    H.CRANKED_NO_FIRE: {"engine": "stopped", "key": "off"},
    H.CRANKED_UNEVEN: {"engine": "stopped", "key": "off"},
    H.STOPPED: {"engine": "stopped", "key": "off"},
    H.STALLED: {"engine": "stopped", "key": "on"},
    H.SELF_STARTED: {"engine": "idling", "key": "on"},
    H.RAISED: {"engine": "raised"},
    H.LOWERED: {"engine": "idling"},
    H.OVER_CEILING: {"engine": "idling"},
    H.HANDS_IN: {"hands": "in"},
    H.HANDS_AT_HOSE: {"hands": "at_hose"},
    H.HOSE_OFF: {"hose": "off"},
    H.HOSE_ON: {"hose": "on"},
    H.GUN_COUPLED: {"gun": "coupled"},
    H.GUN_UNCOUPLED: {"gun": "away"},
    H.TURNED_EVEN: {"hand_turn": "turned"},
    H.TURNED_HARD: {"hand_turn": "not turned"},
    H.ROAD_ENDED: {"engine": "stopped", "key": "off", "hands": "clear"},
}
for _what in (
    *(H.STARTED, H.CRANKED_NO_FIRE, H.CRANKED_UNEVEN, H.STOPPED, H.STALLED, H.SELF_STARTED),
    *(
        H.TRIED_TURNED,
        H.ROAD_ENDED,
        H.DRAINED,
        H.OVERDOSED,
        H.LOOKED_WET,
        H.INTERRUPTED,
        H.RAN_AWAY,
    ),
):
    _MOVES[_what] = {**_MOVES.get(_what, {}), "hand_turn": "not turned"}
_STRAYS: dict[Happening, tuple[str, ...]] = {
    H.INTERRUPTED: ("engine", "key", "hands", "hose", "gun"),
    H.RAN_AWAY: ("engine", "key"),
    H.PERSON_HURT: ("hands",),
    H.STUB_SNAPPED: ("hose",),
}
"""What nobody can know after some happenings: the world may leave it anywhere."""


def _placed(names: list[str], states: tuple[str, ...]) -> dict[str, Any]:
    return dict(zip(names, states, strict=True))


def first_worlds(tracked: frozenset[str]) -> Iterator[PlantState]:
    """Every world that a job may begin in."""
    names = [name for name in _PLACES if name in tracked]
    for dry in (True, False):
        for states in product(*(_PLACES[name] for name in names)):
            came = Fluid() if dry else Fluid(ANY_DML, ANYWHERE)
            fluid = came if "wet" in tracked else None
            yield PlantState(arrived_dry=dry, fluid=fluid, **_placed(names, states))


@cache
def begin(world: PlantState, act: Act, dose: int, loaded: bool) -> PlantState:
    """The world once a permitted ``act`` has truly been begun."""
    moved = {
        Act.ROAD_TEST: {"engine": "road", "key": "on"},
        Act.HAND_TURN: {"hand_turn": "not turned"},
        **{spray: {"gun": "open", "hand_turn": "not turned"} for spray in SPRAYS},
    }.get(act, {})
    kept: dict[str, Any] = {f: s for f, s in moved.items() if getattr(world, f) != ANY}
    return replace(world, begun=True, dose=dose, loaded=loaded, **kept)


def ended(world: PlantState) -> PlantState:
    """The world once what was begun has ended; an open gun is shut."""
    shut = "coupled" if world.gun == "open" else world.gun
    return replace(world, begun=False, dose=0, loaded=False, gun=shut)


def possible(world: PlantState, what: Happening) -> bool:
    """Whether ``what`` can happen by itself in this world."""
    match what:
        case H.STALLED | H.STOPPED | H.OVER_CEILING | H.RAN_AWAY:
            return world.running
        case H.LOWERED:
            return world.engine in (ANY, "raised")
        case H.SELF_STARTED:
            return world.stopped  # whatever was taken out: the wrong fuse, a second relay
        case H.TURN_SEEN:
            return world.hand_turn in (ANY, "turned")
        case H.DRAINED:
            return not world.dose  # a jug is measured with the gun shut
    return True


@cache
def after(world: PlantState, what: Happening, amount: int = 0) -> tuple[PlantState, ...]:
    """The worlds that there may be once ``what`` has truly happened, with ``amount`` (0.1 mL) in
    the jug."""
    moves = _MOVES.get(what, {})
    moved: dict[str, Any] = {f: s for f, s in moves.items() if getattr(world, f) != ANY}
    if world.fluid is not None and what is H.DRAINED:
        moved["fluid"] = world.fluid.drained(amount, ANY_DML)
    if world.fluid is not None and what is H.LINE_CLEARED:
        moved["fluid"] = world.fluid.blown()
    world = replace(world, **moved)
    return strayed(world, _STRAYS.get(what, ()))


@cache
def entered(world: PlantState, dml: int) -> PlantState:
    """The world once so much has truly gone in."""
    if world.fluid is None or not dml:
        return world
    return replace(world, fluid=world.fluid.entered(dml, ANY_DML))


@cache
def strayed(world: PlantState, names: tuple[str, ...]) -> tuple[PlantState, ...]:
    """The worlds that there may be when nobody knows what became of ``names``."""
    loose = [name for name in names if getattr(world, name) != ANY]
    options = [{getattr(world, name), *_PLACES[name]} for name in loose]
    return tuple(
        replace(world, **_placed(loose, states))
        for states in product(*(sorted(option) for option in options))
    )


@cache
def doubted(world: PlantState, fact: str) -> tuple[PlantState, ...]:
    """The worlds that there may be once ``fact`` is too old to be believed.

    Hands and key may have moved unseen; turns of long ago are no turns.
    """
    if fact == "hand_turn":
        return (world if world.hand_turn == ANY else replace(world, hand_turn="not turned"),)
    return strayed(world, (fact,)) if fact in ("hands", "key") else (world,)


@cache
def looked(world: PlantState, fact: str, state: str) -> PlantState | None:
    """The world in which an honest look finds ``state``; ``None`` when it could not.

    Two looks are also acts that are always safe: showing hands clear, and taking the key of
    a stopped engine out or putting it into the box.
    """
    if fact == "arrival":
        return None if state == "dry" and not world.arrived_dry else world
    if fact not in _PLACES or state == "unknown" or getattr(world, fact) in (ANY, state):
        return world
    if fact == "hands" and state == "clear":
        return replace(world, hands="clear")
    if fact == "key" and state in ("off", "boxed") and world.engine in (ANY, "stopped"):
        return replace(world, key=state)
    return None


def volumes(world: PlantState) -> tuple[int, ...]:
    """What may truly have gone in by the spray that has begun: nothing, all, or an overrun.

    A loaded volume cannot be overrun: the gun is empty.
    """
    dose = world.dose
    return (0, dose) if world.loaded else (0, dose, dose + 1)


def ends_of_spray(act: Act, world: PlantState) -> Iterator[tuple[Happening, int, int | None]]:
    """(happening, truly gone in, reported) for every honest end of the spray that has begun.

    The tool counts an upper rate times the time; a loaded volume it counts whole.
    """
    dose = world.dose
    yield H.SPRAY_NONE, 0, 0
    for went_in in (dose,) if world.loaded else (dose + 1, MUCH_DML):
        yield H.OVERDOSED, went_in, None
    for went_in in volumes(world):
        counted = dose if world.loaded else went_in
        yield H.SPRAY_ENDED, went_in, counted
        if act is Act.SPRAY_RUNNING:
            yield H.SPRAY_SAGGED, went_in, counted
            yield H.STALLED, went_in, counted
            yield H.STALLED, went_in, None
