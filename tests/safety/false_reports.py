"""Single false reports: the kernel proof again, with one report that is not true.

In the kernel proof people obey and report honestly. Here one report is false: a look that was
not made or found something else, an outcome that did not come about, a volume told smaller
than it was, a happening that was not told. Where one such report breaks a monitor, safety relies
on it: it is a trusted report. The list is pinned in ``registers/trusted_reports.py`` and printed
with the hazards.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from steplatch.safety.bay import FACTS, SPRAYS, Act, Arrival, DoseLimits, Line, State
from steplatch.safety.interlocks import INTERLOCKS, Both, Condition, Either, Is
from steplatch.safety.kernel import Happened, Seen
from steplatch.safety.occurrences import ALWAYS_POSSIBLE, OUTCOMES, Happening
from steplatch.safety.plant.environment import (
    EnvironmentTransitions,
    Transition,
    TransitionEnd,
    ends_truly,
)
from steplatch.safety.plant.truth import (
    ANY,
    PlantState,
    after,
    ended,
    ends_of_spray,
    entered,
    possible,
)
from steplatch.safety.verify.kernel_model import Kernel
from steplatch.safety.verify.kernel_model import KernelState as Situation
from steplatch.safety.verify.kernel_proof import ObserverMonitor, believed, gaps
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observers import MUCH_DML, Observer, PlantEvent
from steplatch.safety.verify.search import search

H = Happening
TIMERS = frozenset({H.SOAK_BEGUN, H.SOAK_DUE, H.RUN_ON_DUE, H.INTERRUPTED})
"""Happenings that the tool counts by itself: nobody answers for them."""


def _permitting() -> frozenset[State]:
    """Every state that some interlock asks for: the others make nothing possible."""
    open_parts: list[Condition] = [row.allows for row in INTERLOCKS]
    found: set[State] = {Arrival.DRY, Line.DRAINED}  # these two lower the ledger
    while open_parts:
        match open_parts.pop():
            case Is(_, states):
                found.update(states)
            case Both(parts) | Either(parts):
                open_parts.extend(parts)
            case _:  # a rule over numbers asks for no state
                pass
    return frozenset(found)


PERMITTING = _permitting()
SMALL = DoseLimits(strict=1, extended=1, running=2)


class FalseReportTransitions(EnvironmentTransitions):
    """The environment with one false report: ``PlantState.false_report`` says which."""

    only: str | None = None
    """The one false report that is possible; any, where none is named."""

    def of(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        """The honest transitions, and the false reports while there was none."""
        yield from super().of(act, world)
        if not world.false_report:
            for false_report, ends in self._false_reports(act, world):
                if self.only in (None, false_report):
                    yield false_report, ends

    def _false_reports(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        yield from self._false_looks(world)
        if act in SPRAYS:
            yield from self._false_volumes(act, world)
        elif act is not None:
            yield from self._false_answers(act, world)
        yield from self._false_happenings(act, world)

    def _false_looks(self, world: PlantState) -> Iterator[Transition]:
        for fact in self.looked_at:
            for state in FACTS[fact]:
                if state not in PERMITTING or getattr(world, fact, ANY) == state.value:
                    continue
                false_report = f"look: {fact} {state.value}"
                yield (
                    false_report,
                    [(Seen(fact, state), replace(world, false_report=false_report), ())],
                )

    def _false_answers(self, act: Act, world: PlantState) -> Iterator[Transition]:
        for said in OUTCOMES[act]:
            false_report = f"report: {said.value}"
            false_reporting = replace(world, false_report=false_report)
            ends: list[TransitionEnd] = [(Happened(said), ended(false_reporting), ())]
            if world.begun:
                for what in OUTCOMES[act]:
                    if what is not said:
                        ends += ends_truly(Happened(said), false_reporting, what, 0)
            yield false_report, ends

    def _false_volumes(self, act: Act, world: PlantState) -> Iterator[Transition]:
        if not world.dose:
            return
        for what, went_in, _ in ends_of_spray(act, world):
            for said in (H.SPRAY_ENDED, H.SPRAY_NONE):
                for told in range(0 if said is H.SPRAY_NONE else 1, min(went_in, world.dose + 1)):
                    false_report = f"volume: {said.value}"
                    false_reporting = replace(world, false_report=false_report)
                    yield (
                        false_report,
                        ends_truly(Happened(said, told), false_reporting, what, went_in),
                    )
                    if said is H.SPRAY_NONE:
                        break

    def _false_happenings(self, act: Act | None, world: PlantState) -> Iterator[Transition]:
        answers = OUTCOMES[act] if act is not None else ()
        for what in self.happenings:
            if what not in ALWAYS_POSSIBLE or what in TIMERS or what in answers:
                continue
            amount = 2 if what is H.DRAINED else None if what is H.OVERDOSED else 0
            false_report = f"report: {what.value}"
            yield (
                false_report,
                [(Happened(what, amount), replace(world, false_report=false_report), ())],
            )
            if possible(world, what) and what is not H.DRAINED:
                yield _silence(world, what)


def _silence(world: PlantState, what: Happening) -> Transition:
    """``what`` truly happens and nobody reports it. A silent overdose is a hidden spray."""
    false_report = f"silence: {what.value}"
    truth: tuple[PlantEvent, ...] = (("did", what.value, 0),)
    if what is H.OVERDOSED:
        truth = (("sprayed", MUCH_DML), *truth)
        world = entered(world, MUCH_DML)
    return false_report, [
        (None, w, truth) for w in after(replace(world, false_report=false_report), what)
    ]


def false_report_kernel(observer: Observer) -> Kernel:
    """What is searched: the observer's facts under small doses, with one false report at most."""
    return Kernel(
        ObserverMonitor(observer),
        observer.facts,
        limits=SMALL,
        doses=(1,),
        transitions=FalseReportTransitions,
    )


def false_reports_behind(
    observer: Observer, false_report: str | None = None, *, cap: int = 60_000
) -> tuple[str, ...]:
    """The false reports each of which alone makes the tool believe what ``observer`` refutes.

    With ``false_report``, only that one is tried.

    Raises:
        steplatch.safety.verify.search.SearchCapped: the model grew beyond ``cap`` states.
    """
    kernel = false_report_kernel(observer)
    assert isinstance(kernel.transitions, FalseReportTransitions)
    kernel.transitions.only = false_report
    told: set[str] = set()

    def borne_out(state: Situation) -> bool:
        bay = kernel.bays[state[0]]
        truth = kernel.accounts[state[2]]
        if bay.permit is not None or observer.bears_out(believed(bay, observer), truth):
            return True
        told.add(kernel.worlds[state[1]].false_report)
        return False

    always = {kernel.monitor.name: borne_out}
    search(kernel, always, cap=cap, first_breach_only=false_report is not None)
    return tuple(sorted(told))


def every_false_report(observer: Observer) -> tuple[str, ...]:
    """The names of the false reports that a search of ``observer`` may contain, in a fixed order.

    Looks: at each fact that moves what the search keeps, one name a state that some row asks
    for. Reports: each answer to an act that matters to the search, apart from the sprays, and
    each happening it notices that needs no permit and is not counted by the tool. Silence: the
    same happenings, apart from the drain, which only ever lowers the ledger. Volumes: less told
    than was sprayed, or nothing. A lie stands here once, whatever the volume or the moment.
    """
    kernel = Kernel(ObserverMonitor(observer), observer.facts)
    looks = [
        f"look: {fact} {state.value}"
        for fact in kernel.transitions.looked_at
        for state in FACTS[fact]
        if state in PERMITTING
    ]
    free = [what for what in kernel.happenings if what in ALWAYS_POSSIBLE - TIMERS]
    answers = [what for act in kernel.acts if act not in SPRAYS for what in OUTCOMES[act]]
    told = [f"report: {what.value}" for what in dict.fromkeys((*free, *answers))]
    kept = [f"silence: {what.value}" for what in free if what is not H.DRAINED]
    return (*looks, *told, *kept, "volume: spray_ended", "volume: spray_none")


def relies_on(needs: Needs) -> tuple[Observer, ...]:
    """The observers of which a false belief alone, all else being true, breaks ``needs``."""
    found = []
    for i, observer in enumerate(needs.observers):
        others = needs.observers[:i], needs.observers[i + 1 :]
        freed = replace(needs, observers=(*others[0], UnconstrainedObserver(observer), *others[1]))
        if next(gaps(freed, limits=SMALL), None) is not None:
            found.append(observer)
    return tuple(found)


@dataclass(frozen=True)
class UnconstrainedObserver:
    """An observer of which the tool may believe anything, whatever is true."""

    observer: Observer

    def __getattr__(self, name: str) -> Any:
        return getattr(self.observer, name)

    def bears_out(self, believed: tuple[Any, ...], now: Any) -> bool:
        return True
