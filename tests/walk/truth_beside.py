"""What truly happens in the bay beside a real job, told from honest reports, and its monitors."""

import random
from dataclasses import replace
from typing import Any

from runner.job import BAY_EVENTS, Job, evolve
from safety.bay import SPRAYS, Act, Bay, Rate
from safety.effects import EFFECTS
from safety.happenings import OUTCOMES, Happening
from safety.kernel import Granted, Happened, Lapsed, PermitLapsed, ResetDone, Seen, Tripped
from safety.monitors import alarm_monitors, need_monitors
from safety.strands import MUCH_DML, Event
from safety.truth import (
    World,
    after,
    begin,
    doubted,
    ended,
    ends_of_spray,
    looked,
    possible,
    volumes,
)

_READINGS = (Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER)


class Untrue(Exception):  # noqa: N818 - the command was no honest one
    """An honest person could not have said so here."""


class Truth:
    """The world and the monitors' accounts. ``told`` gives the truth after a decided command."""

    def __init__(self, chance: random.Random, limits: Any, dry: bool) -> None:
        self.chance = chance
        self.world = World(
            "stopped", "off", "clear", "on", "away", "not turned", arrived_dry=dry
        )  # fmt: skip
        doses = limits.strict, limits.extended, limits.running
        self.monitors = (*need_monitors(*doses), *alarm_monitors())
        self.accounts: list[Any] = [m.start() for m in self.monitors]
        self.breaches: list[str] = []
        self._follow(("arrived", 0 if dry else MUCH_DML))

    def copy(self) -> "Truth":
        new = object.__new__(Truth)
        new.__dict__ = {
            **self.__dict__, "accounts": [*self.accounts], "breaches": [*self.breaches]
        }  # fmt: skip
        return new

    def told(self, job: Job, events: tuple[Any, ...]) -> "Truth":
        """The truth after ``events`` were decided for ``job``. Raises Untrue."""
        new = self.copy()
        for event in events:
            if isinstance(event, BAY_EVENTS):
                for true in new._truly(job.bay, event):
                    new._follow(true)
            job = evolve(job, event)
        new._follow(("over",))
        return new

    def _follow(self, event: Event) -> None:
        for i, monitor in enumerate(self.monitors):
            self.accounts[i], said = monitor.step(self.accounts[i], event)
            if said:
                self.breaches.append(said)

    def _truly(self, bay: Bay, event: Any) -> list[Event]:
        match event:
            case Granted(act, dose):
                loaded = act in SPRAYS and bay.rate is Rate.LOADED
                self.world = begin(self.world, act, dose, loaded)
                return [("begin", act.value, dose, True)]
            case ResetDone(trip):
                return [("begin", "reset", 0, trip.value), ("reset", trip.value)]
            case Tripped(trip):
                return [("tripped", trip.value)]
            case Lapsed(fact):
                self.world = self.chance.choice(doubted(self.world, fact))
                return [("doubt", fact)]
            case Seen(fact, state):
                found = looked(self.world, fact, state.value)
                if found is None:
                    raise Untrue(f"{fact} {state.value}")
                self.world = found
                return [("seen", fact, state.value)]
            case PermitLapsed():
                return self._untold(bay.permit)
            case Happened(what, amount):
                return self._happened(bay, what, amount)
        raise AssertionError(f"an event of the bay that nobody follows: {event!r}")

    def _untold(self, act: Act | None) -> list[Event]:
        world = self.world
        if not world.begun or act is None or act in _READINGS:
            self.world = replace(world, begun=False)
            return [("untold",)]
        if act in SPRAYS:
            what, went_in, _ = self.chance.choice(list(ends_of_spray(act, world)))
        elif not OUTCOMES[act] or self.chance.random() < 0.5:
            self.world = replace(world, begun=False)
            return [("untold",)]
        else:
            what, went_in = self.chance.choice(OUTCOMES[act]), 0
        return [("untold",), *self._did(what, went_in, end=True)]

    def _happened(self, bay: Bay, what: Happening, amount: int | None) -> list[Event]:
        world = self.world
        answers = bay.permit is not None and what in OUTCOMES[bay.permit]
        if answers and not world.begun:
            raise Untrue(f"{what.value}, and nothing was begun")
        if not answers and not possible(world, what):
            raise Untrue(what.value)
        if what is Happening.OVERDOSED:
            return self._did(what, world.dose if world.loaded else MUCH_DML, end=answers)
        if what is Happening.DRAINED:
            self.world = self.chance.choice(after(world, what))
            return [("did", what.value, amount or 0)]
        if answers and bay.permit in SPRAYS:
            if amount is None and what is not Happening.STALLED:
                return self._did(what, MUCH_DML, end=True)
            went_in = self.chance.choice(volumes(world)) if amount is None else amount
            return self._did(what, went_in, end=True)
        if world.dose and EFFECTS[what].wet == "cut":
            return self._did(what, self.chance.choice(volumes(world)), end=True)
        return self._did(what, 0, end=answers)

    def _did(self, what: Happening, went_in: int, end: bool) -> list[Event]:
        world = ended(self.world) if end else self.world
        self.world = self.chance.choice(after(world, what))
        did: Event = ("did", what.value, 0)
        return [("sprayed", went_in), did] if went_in else [did]
