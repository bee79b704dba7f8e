"""Environment transitions: all that people and vehicle may do in one state of the plant.

A transition has a name in words and its possible ends: what the tool is told, the plant after
it, and what truly happened. Which are possible depends on the plant and on the act that stands
permitted, on no other fact of the bay; so each is worked out once and serves every bay
(``kernel_model`` puts bay and transition together).
"""

from collections.abc import Iterator
from dataclasses import replace

from ..acts import READINGS
from ..bay import FACTS, SPRAYS, Act, Trip
from ..effects import EFFECTS, OTHERWISE, SEEN
from ..interlocks import Ask
from ..kernel import BayEvent, Granted, Happened, Lapsed, PermitLapsed, ResetDone, Seen
from ..occurrences import ALWAYS_POSSIBLE, OUTCOMES, Happening
from ..verify.observers import MUCH_DML, PlantEvent
from .truth import (
    PlantState,
    after,
    begin,
    doubted,
    ended,
    ends_of_spray,
    entered,
    looked,
    possible,
    volumes,
)  # fmt: skip

NEVER_SEEN = frozenset(
    {
        *("rate", "soak", "run_on", "hand_turn", "inspection", "recovery"),
        *("zero", "before", "after", "fluid_in", "start_tried"),
    }
)
"""Facts that no look, measurement or check settles: they follow from happenings alone."""


def _moves() -> dict[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for (fact, seen), row in SEEN.items():
        if seen != OTHERWISE:
            moved = row.ends.union(row.sets, ("wet",) if row.wet != "keep" else ())
            found[fact] = found.get(fact, frozenset()) | moved
    return found


MOVES: dict[str, frozenset[str]] = _moves()
"""Facts of which one state, once seen, moves others, and which others."""

LASTING = frozenset(
    {
        *("fluid_in", "tier", "arrival", "identity", "agreed", "triage"),
        *("before", "after", "codes", "start_tried", "oil", "fuel", "coating", "foul", "low_loop"),
    }
)
"""Facts that never grow old: choices, the order, what the vehicle is, finished evidence."""

JUGS_DML = (1, 2)
"""What a jug may be read to hold."""

BURSTS_S = (15, 16)
"""Seconds of a burst with the engine off: the longest, and one more."""

TransitionEnd = tuple[BayEvent | None, PlantState, tuple[PlantEvent, ...]]
"""(what the tool is told, or nothing; the plant afterwards; what truly happened)."""

Transition = tuple[str, list[TransitionEnd]]
"""(what is done, in words; every end that it may have)."""


def all_asks(doses: tuple[int, ...], trips: tuple[Trip, ...] = ()) -> Iterator[Ask]:
    """Everything that can be asked."""
    for act in Act:
        if act is Act.SPRAY_OFF:
            yield from (Ask(act, dose, burst_s=burst_s) for dose in doses for burst_s in BURSTS_S)
        elif act in SPRAYS:
            yield from (Ask(act, dose) for dose in doses)
        elif act is Act.RAISE:
            yield from (Ask(act, band_under_ceiling=under) for under in (True, False))
        elif act is Act.RESET:
            yield from (Ask(act, trip=trip) for trip in trips)
        else:
            yield Ask(act)


def begins(ask: Ask) -> PlantEvent:
    """The event of the truth in which what was asked for is begun."""
    asked_with: object = ask.trip.value if ask.trip is not None else ask.band_under_ceiling
    if ask.act is Act.SPRAY_OFF:
        asked_with = ask.burst_s
    return ("begin", ask.act.value, ask.dose, asked_with)


def asked(ask: Ask, loaded: bool, world: PlantState) -> Transition:
    """What was asked for is permitted: it is begun at once, or not at all."""
    if ask.trip is not None:
        reset = ("reset", ask.trip.value)
        return " ".join(reset), [(ResetDone(ask.trip), world, (begins(ask), reset))]
    granted = Granted(ask.act, ask.dose)
    begun = begin(world, ask.act, ask.dose, ask.act in SPRAYS and loaded)
    return (
        f"permitted: {ask.act.value}" + (f" {ask.dose}" if ask.dose else ""),
        [
            (granted, begun, (begins(ask),)),
            (granted, world, (("permitted", ask.act.value),)),
        ],
    )


class EnvironmentTransitions:
    """The transitions that matter to a search that keeps ``facts`` and notices ``happenings``.

    ``sees`` are the facts whose observation or expiry changes the observer that is followed;
    ``ledger`` says whether the fluid ledger is kept.
    """

    def __init__(
        self,
        facts: tuple[str, ...],
        happenings: tuple[Happening, ...],
        sees: frozenset[str],
        ledger: bool,
    ) -> None:
        self.happenings = happenings
        self.sees = sees
        moving = {
            fact
            for fact, moved in MOVES.items()
            if {*facts, *(("wet",) if ledger else ())} & {*moved}
        }
        self.looked_at = tuple(sorted({*facts, *sees, *moving} & {*FACTS} - NEVER_SEEN))
        """Facts whose observation changes a kept fact or the observer that is followed."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        """Every transition possible in ``world`` while ``act``, or nothing, stands permitted."""
        if act is not None:
            yield from self._answers(act, world)
            yield self._unanswered(act, world)
        answers = OUTCOMES[act] if act is not None else ()
        for what in self.happenings:
            if what in ALWAYS_POSSIBLE and what not in answers and possible(world, what):
                yield from self._happening(world, what)
        yield from self._looks(world)

    def lapsed(self, fact: str, world: PlantState) -> Transition:
        """``fact`` has grown too old to be believed."""
        truth = (("doubt", fact),) if fact in self.sees else ()
        return f"too long ago: {fact}", [(Lapsed(fact), w, truth) for w in doubted(world, fact)]

    def _answers(self, act: Act, world: PlantState) -> Iterator[Transition]:
        if not world.begun:
            if act in SPRAYS:
                none = Happened(Happening.SPRAY_NONE, 0)
                yield "reported: spray_none", [(none, world, ())]
            return
        for what, went_in, said in _ends(act, world):
            yield (
                f"reported: {what.value}"
                + (f", {went_in} in, {said} reported" if act in SPRAYS else ""),
                ends_truly(Happened(what, said), world, what, went_in),
            )

    def _unanswered(self, act: Act, world: PlantState) -> Transition:
        event = PermitLapsed()
        ends: list[TransitionEnd] = []
        if world.begun and act not in READINGS:
            for what, went_in, _ in _ends(act, world):
                ends += ends_truly(event, world, what, went_in, untold=True)
        if not world.dose:
            ends.append((event, replace(world, begun=False), (("untold",),)))
        return f"no answer to {act.value}", ends

    def _happening(self, world: PlantState, what: Happening) -> Iterator[Transition]:
        if what is Happening.OVERDOSED:
            yield what.value, ends_truly(Happened(what, None), world, what, MUCH_DML)
        elif what is Happening.DRAINED:
            if world.fluid is not None and not world.fluid.dml:
                return  # no jug holds what nothing held
            for amount in JUGS_DML:
                truth = (("did", what.value, amount),)
                yield (
                    f"{what.value} {amount}",
                    [(Happened(what, amount), w, truth) for w in after(world, what, amount)],
                )
        elif world.dose and EFFECTS[what].wet == "cut":
            ends: list[TransitionEnd] = []
            for went_in in volumes(world):
                ends += ends_truly(Happened(what), world, what, went_in)
            yield f"{what.value}, the spray cut short", ends
        else:
            truth = (("did", what.value, 0),)
            yield what.value, [(Happened(what), w, truth) for w in after(world, what)]

    def _looks(self, world: PlantState) -> Iterator[Transition]:
        for fact in self.looked_at:
            for state in FACTS[fact]:
                found = looked(world, fact, state.value)
                if found is not None:
                    truth = (("seen", fact, state.value),) if fact in self.sees else ()
                    yield f"seen: {fact} {state.value}", [(Seen(fact, state), found, truth)]


def _ends(act: Act, world: PlantState) -> Iterator[tuple[Happening, int, int | None]]:
    """(happening, truly gone in, reported) for every honest end of ``act``."""
    if act in SPRAYS:
        yield from ends_of_spray(act, world)
    else:
        yield from ((what, 0, 0) for what in OUTCOMES[act])


def ends_truly(
    event: BayEvent, world: PlantState, what: Happening, went_in: int, untold: bool = False
) -> list[TransitionEnd]:
    """``what`` has truly happened and ended what was begun; the tool gets ``event``."""
    truth: tuple[PlantEvent, ...] = (("did", what.value, 0),)
    if went_in:
        truth = (("sprayed", went_in), *truth)
    if untold:
        truth = (("untold",), *truth)
    return [(event, w, truth) for w in after(entered(ended(world), went_in), what)]
