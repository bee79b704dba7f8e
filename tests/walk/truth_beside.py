"""What truly happens in the bay beside a real job, told from honest reports, and its monitors."""

import math
import random
from dataclasses import astuple, replace
from functools import cache
from typing import Any

from steplatch.runner.core.events import BAY_EVENTS, WaiverUsed
from steplatch.runner.core.job import Job, evolve
from steplatch.safety.bay import SPRAYS, Act, Bay, Rate
from steplatch.safety.effects import EFFECTS
from steplatch.safety.kernel import (
    Granted,
    Happened,
    Lapsed,
    PermitLapsed,
    ResetDone,
    Seen,
    Tripped,
)
from steplatch.safety.occurrences import OUTCOMES, Happening
from steplatch.safety.plant.truth import (
    PlantState,
    after,
    begin,
    doubted,
    ended,
    ends_of_spray,
    looked,
    possible,
    volumes,
)
from steplatch.safety.registers.trusted_reports import TRUSTED_REPORTS
from steplatch.safety.verify.alarms import alarm_monitors
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import QUALITY, Monitor, Needs
from steplatch.safety.verify.observer_machines import LatchObserver
from steplatch.safety.verify.observers import ENGINE, MUCH_DML, PlantEvent

from tests.walk.old_facts import Ages, OldFact

_SO_ALREADY = {Happening.STOPPED: "stopped", Happening.LOWERED: "idling"}
"""What a step asks for may be so already; who answers so says nothing false."""

STAYS = 0.9
"""How often nobody touched anything while nobody looked."""

_READINGS = (Act.READ_ZERO, Act.READ_BEFORE, Act.READ_AFTER)


class Untrue(Exception):  # noqa: N818 - the command was no honest one
    """An honest person could not have said so here."""


class Truth:
    """The world and the monitors' accounts. ``told`` gives the truth after a decided command.

    What nobody can foresee is settled by ``luck``, a number: the same moves with the same luck
    lead to the same truth.
    """

    def __init__(self, limits: Any, dry: bool) -> None:
        self.chance = random.Random(0)
        self.world = PlantState(
            "stopped", "off", "clear", "on", "away", "not turned", arrived_dry=dry
        )  # fmt: skip
        self.monitors, self.listeners = _monitors(limits.strict, limits.extended, limits.running)
        self.held_dml = 0 if dry else MUCH_DML
        self.accounts: list[Any] = [m.start() for m in self.monitors]
        self.breaches: list[tuple[Any, str]] = []
        self.ages = Ages()
        self._follow(("arrived", 0 if dry else MUCH_DML))

    def copy(self, luck: int) -> "Truth":
        new = object.__new__(Truth)
        new.__dict__ = {
            **self.__dict__,
            "accounts": [*self.accounts],
            "breaches": [*self.breaches],
            "ages": Ages({**self.ages.said_ms}),
            "chance": random.Random(luck),
        }
        return new

    def told(
        self,
        job: Job,
        events: tuple[Any, ...],
        luck: int,
        false_report: str = "",
        now_ms: int | None = None,
    ) -> "Truth":
        """The truth after ``events`` were decided for ``job``, at ``now_ms`` of true time (None:
        ages are not watched). Raises Untrue.

        What a waiver lifted, for the quality of the record alone, is no breach.
        With a ``false_report``, named as in ``safety.registers.trusted_reports``, the event that
        tells it is not true.
        """
        new = self.copy(luck)
        for event in events:
            if now_ms is not None:
                old = new.ages.after(job, event, now_ms)
                new.breaches += [(OldFact(), said) for said in old]
            if isinstance(event, BAY_EVENTS):
                if false_report and _tells(false_report, event):
                    true, false_report = new._instead(job.bay, event), ""
                else:
                    true = new._truly(job, event)
                for happened in true:
                    new._follow(happened)
            job = evolve(job, event)
        new._follow(("over",))
        if any(isinstance(event, WaiverUsed) for event in events):
            new.breaches = [b for b in new.breaches if b[0].invariant != QUALITY]
        return new

    def silent(self, what: Happening, luck: int) -> "Truth":
        """The truth after ``what`` has happened and nobody says so. Raises Untrue."""
        if not possible(self.world, what):
            raise Untrue(what.value)
        new = self.copy(luck)
        went_in = MUCH_DML if what is Happening.OVERDOSED else 0
        for happened in new._did(what, went_in, end=False):
            new._follow(happened)
        new._follow(("over",))
        return new

    def _follow(self, event: PlantEvent) -> None:
        kind = event[:2]
        listening = self.listeners.get(kind)
        if listening is None:
            listening = self.listeners[kind] = tuple(
                i for i, monitor in enumerate(self.monitors) if _listens(monitor, event)
            )
        for i in listening:
            monitor = self.monitors[i]
            self.accounts[i], said = monitor.step(self.accounts[i], event)
            if said:
                self.breaches.append((monitor, said))

    def _truly(self, job: Job, event: Any) -> list[PlantEvent]:
        bay = job.bay
        match event:
            case Granted(act, dose):
                loaded = act in SPRAYS and bay.rate is Rate.LOADED
                self.world = begin(self.world, act, dose, loaded)
                asked_with = (
                    _off_burst_s(job, dose) if act is Act.SPRAY_OFF else _under_ceiling(job)
                )
                return [("begin", act.value, dose, asked_with)]
            case ResetDone(trip):
                return [("begin", "reset", 0, trip.value), ("reset", trip.value)]
            case Tripped(trip):
                return [("tripped", trip.value)]
            case Lapsed(fact):
                self.world = self._found(doubted(self.world, fact))
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

    def _untold(self, act: Act | None) -> list[PlantEvent]:
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

    def _happened(self, bay: Bay, what: Happening, amount: int | None) -> list[PlantEvent]:
        world = self.world
        answers = bay.permit is not None and what in OUTCOMES[bay.permit]
        if answers and not world.begun:
            raise Untrue(f"{what.value}, and nothing was begun")
        so_already = world.engine == _SO_ALREADY.get(what)
        if not answers and not possible(world, what) and not so_already:
            raise Untrue(what.value)
        if what is Happening.OVERDOSED:
            return self._did(what, world.dose if world.loaded else MUCH_DML, end=answers)
        if what is Happening.DRAINED:
            if (amount or 0) > self.held_dml:
                raise Untrue("drained, what nothing held")
            self.held_dml -= amount or 0
            self.world = self._found(after(world, what))
            return [("did", what.value, amount or 0)]
        if answers and bay.permit in SPRAYS:
            if amount is None and what is not Happening.STALLED:
                return self._did(what, MUCH_DML, end=True)
            went_in = self.chance.choice(volumes(world)) if amount is None else amount
            return self._did(what, went_in, end=True)
        if world.dose and EFFECTS[what].wet == "cut":
            return self._did(what, self.chance.choice(volumes(world)), end=True)
        return self._did(what, 0, end=answers)

    def _instead(self, bay: Bay, event: Any) -> list[PlantEvent]:
        """What is true while ``event`` is told: nothing, or another outcome, or more fluid."""
        if isinstance(event, Seen):
            return []
        act, world = bay.permit, self.world
        answers = act is not None and event.what in OUTCOMES[act] and world.begun
        if not answers or act is None:
            return []
        if act in SPRAYS:
            return self._did(event.what, self.chance.choice((world.dose, world.dose + 1)), end=True)
        others = [what for what in OUTCOMES[act] if what is not event.what]
        if others and self.chance.random() < 0.7:
            return self._did(self.chance.choice(others), 0, end=True)
        self.world = ended(world)
        return []

    def _found(self, worlds: tuple[PlantState, ...]) -> PlantState:
        """One of the worlds that there may be now; mostly nobody has touched anything."""
        if len(worlds) == 1 or self.chance.random() > STAYS:
            return self.chance.choice(worlds)
        was = astuple(self.world)
        return min(worlds, key=lambda w: sum(a != b for a, b in zip(astuple(w), was, strict=True)))

    def _did(self, what: Happening, went_in: int, end: bool) -> list[PlantEvent]:
        world = ended(self.world) if end else self.world
        self.world = self._found(after(world, what))
        self.held_dml += went_in
        did: PlantEvent = ("did", what.value, 0)
        return [("sprayed", went_in), did] if went_in else [did]


def _off_burst_s(job: Job, dose: int) -> int:
    """The whole seconds that a burst of this dose (0.1 mL) lasts by the rate on record; 0 for a
    loaded gun. The dose was rounded up by less than half a second's worth."""
    gun = job.log.latest("gun")
    if gun is None or gun["basis"] == "loaded":
        return 0
    return math.floor(dose / 10 / float(gun["upper_ml_s"]) - float(gun["reaction_ms"]) / 1000.0)


def _under_ceiling(job: Job) -> bool:
    """Whether the band for raised revs truly lies under the ceiling."""
    numbers = job.log.numbers
    return float(numbers["revs_high_rpm"]) <= float(numbers["rev_ceiling_rpm"])


@cache
def _monitors(*doses: int) -> tuple[tuple[Monitor, ...], dict[tuple[Any, ...], tuple[int, ...]]]:
    """The monitors for these dose limits, and which of them listen to what (filled in use)."""
    return (*need_monitors(*doses), *alarm_monitors()), {}


def _listens(monitor: Monitor, event: PlantEvent) -> bool:
    """Whether an event can move a monitor's account, by what it says that it takes notice of."""
    match event:
        case ("seen" | "doubt", fact, *_):
            return fact in monitor.sees
        case ("did", what, _):
            return what in monitor.hears
        case ("begin", act, _, _):
            return f"begin {act}" in monitor.hears or act == "reset"
        case ("over" | "untold",):
            return not isinstance(monitor, Needs) or any(
                isinstance(observer, LatchObserver) for observer in monitor.observers
            )
    return True


def _tells(false_report: str, event: Any) -> bool:
    match event:
        case Seen(fact, state):
            return false_report == f"look: {fact} {state.value}"
        case Happened(what, _):
            return false_report in (f"report: {what.value}", f"volume: {what.value}")
    return False


def explained(monitor: Any, false_report: str) -> bool:
    """Whether the register says of this monitor that it rests on that one answer."""
    if isinstance(monitor, OldFact):
        return False
    observers = monitor.observers if isinstance(monitor, Needs) else (monitor.observer, ENGINE)
    keys = {" + ".join(observer.facts) for observer in observers}
    if "trip overdose" in keys:  # listed with the ledger
        keys = keys - {"trip overdose"} | {"wet"}
    return any(false_report in TRUSTED_REPORTS[key] for key in keys)
