"""The kernel proof: every act, report and lapse in any order, without any procedure.

It has two halves, and together they say: no permitted act breaks a monitor.

*A fact that is known is true* (``prove_belief``): for each observer, every state
that the kernel can reach is searched for one in which the tool believes of the observer's facts
what the observer does not bear out.

*What is permitted is met* (``gaps``): for each monitor, every belief about its facts under
which the rows permit its acts, with every truth that bears the belief out, must meet it.

Limits only compare: volumes meet limits by sums and comparisons alone, so small whole numbers
with doses below, at and above each limit stand for all.

What both rest on: the truth as ``truth`` states it (people obey refusals, use a permit at
once or not at all, and answer honestly), and a loaded spray being asked for with the volume
that was loaded (the runner sees to that). ``prove`` searches a monitor directly, as a check on
the argument and for traces.
"""

from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from ..bay import FACTS, Bay, DoseLimits, Trip
from ..interlocks import INTERLOCKS, Ask, Interlock
from ..kernel import permit
from ..plant.environment import EnvironmentTransitions, all_asks, begins
from .cone_of_influence import close, latch, weakened_rows
from .kernel_model import DOSES, LIMITS, Kernel, KernelState, Move
from .needs import Needs
from .observers import Observer, PlantEvent
from .search import Breach, SearchResult, search


@dataclass(frozen=True)
class ObserverMonitor:
    """A monitor that breaks nothing by itself: it only keeps the account of one observer."""

    observer: Observer
    invariant: int = 0

    @property
    def name(self) -> str:
        return "true: " + ", ".join(self.observer.facts)

    @property
    def hears(self) -> frozenset[str]:
        return self.observer.hears

    @property
    def sees(self) -> frozenset[str]:
        return self.observer.sees

    def start(self) -> Hashable:
        return self.observer.start()

    def step(self, now: Hashable, event: PlantEvent) -> tuple[Hashable, None]:
        return self.observer.after(now, event), None


def prove_belief(
    observer: Observer,
    rows: tuple[Interlock, ...] = INTERLOCKS,
    limits: DoseLimits = LIMITS,
    doses: tuple[int, ...] = DOSES,
    *,
    cap: int = 200_000,
    transitions: type[EnvironmentTransitions] = EnvironmentTransitions,
) -> tuple[Kernel, SearchResult[KernelState, Move]]:
    """Search for a state in which the tool believes of an observer's facts what is not true.

    ``transitions`` is the plant; a weaker one is searched to see what rests on an assumption.
    Judged where something may be asked: while a permit stands, nothing else is permitted.

    Raises:
        steplatch.safety.verify.search.SearchCapped: the model grew beyond ``cap`` states.
    """
    monitor, tracked = ObserverMonitor(observer), close(observer.facts)
    if "wet" not in observer.facts:  # where fluid is bears on the ledger alone: any jug may be full
        tracked -= {"wet"}
    kernel = Kernel(
        monitor, observer.facts, rows, limits, doses, tracked=tracked, transitions=transitions
    )
    judged: dict[tuple[int, int], bool] = {}

    def borne_out(state: KernelState) -> bool:
        key = state[0], state[2]
        if key not in judged:
            bay = kernel.bays[state[0]]
            judged[key] = bay.permit is not None or observer.bears_out(
                believed(bay, observer), kernel.accounts[state[2]]
            )
        return judged[key]

    always = {kernel.monitor.name: borne_out}
    return kernel, search(kernel, always, cap=cap, first_breach_only=True)


def believed(bay: Bay, observer: Observer) -> tuple[object, ...]:
    """What the tool believes of the facts of ``observer``."""
    latched = {latch(trip) for trip in bay.trips}
    return tuple(
        bay.wet if fact == "wet" else getattr(bay, fact).value if fact in FACTS else fact in latched
        for fact in observer.facts
    )


def gaps(
    needs: Needs,
    rows: tuple[Interlock, ...] = INTERLOCKS,
    limits: DoseLimits = LIMITS,
    doses: tuple[int, ...] = DOSES,
) -> Iterator[tuple[Bay, Ask, tuple[Hashable, ...]]]:
    """Every belief under which an act is permitted though a truth that bears the belief out
    does not meet ``needs``. None, together with ``prove_belief`` of each observer: proven.
    """
    for bay, ask in _permitted(needs, rows, limits, doses):
        event = begins(ask)
        for truth in product(*(_borne_out(observer, bay) for observer in needs.observers)):
            if not needs.met(truth, event):
                yield bay, ask, truth


def never_permitted(
    needs: Needs,
    rows: tuple[Interlock, ...] = INTERLOCKS,
    limits: DoseLimits = LIMITS,
    doses: tuple[int, ...] = DOSES,
) -> tuple[str, ...]:
    """The acts of ``needs`` that no belief permits: of these ``gaps`` would say nothing."""
    left = set(needs.acts)
    for _, ask in _permitted(needs, rows, limits, doses):
        left.discard(ask.act.value)
        if not left:
            break
    return tuple(sorted(left))


def never_believed(kernel: Kernel, observer: Observer) -> tuple[str, ...]:
    """What no bay of a finished search shows of the facts of ``observer``: each known state, each
    trip latched, and its reset permitted. Of these ``prove_belief`` would say nothing."""
    shown = {
        fact: {getattr(bay, fact) for bay in kernel.bays}
        for fact in observer.facts
        if fact in FACTS
    }
    missed = [
        f"{fact} {state.value}"
        for fact, states in shown.items()
        for state in FACTS[fact]
        if not state.unknown and state not in states
    ]
    if "wet" in observer.facts and len({bay.wet for bay in kernel.bays} - {None, 0}) < 2:
        missed.append("wet, with fluid in")
    for trip in kernel.trips:
        latched = [number for number, bay in enumerate(kernel.bays) if trip in bay.trips]
        if latch(trip) in observer.facts and not latched:
            missed.append(f"{latch(trip)} latched")
        resets = (ask.trip is trip for number in latched for ask in kernel.permitted(number))
        if latch(trip) in observer.facts and not trip.terminal and not any(resets):
            missed.append(f"{latch(trip)} reset")
    return tuple(missed)


def _permitted(
    needs: Needs, rows: tuple[Interlock, ...], limits: DoseLimits, doses: tuple[int, ...]
) -> Iterator[tuple[Bay, Ask]]:
    """Every belief about the facts of ``needs`` with every act of it that is permitted there."""
    weak = weakened_rows(rows, frozenset(needs.facts))
    latches = tuple(trip for trip in Trip if latch(trip) in needs.facts)
    asks = [a for a in all_asks(doses, latches or tuple(Trip)) if a.act.value in needs.acts]
    for bay in _beliefs(needs.facts, limits):
        for ask in asks:
            if not permit(bay, ask, limits, weak):
                yield bay, ask


def _beliefs(facts: tuple[str, ...], limits: DoseLimits) -> Iterator[Bay]:
    """Every bay that differs in ``facts`` alone."""
    ledger = (None, *range(limits.running + 2))
    choices: list[tuple[object, ...]] = [
        ledger if fact == "wet" else tuple(FACTS[fact]) if fact in FACTS else (False, True)
        for fact in facts
    ]
    for values in product(*choices):
        known: dict[str, Any] = dict(zip(facts, values, strict=True))
        latched = frozenset(trip for trip in Trip if known.pop(latch(trip), False))
        yield replace(Bay(), **known, trips=latched)


def _borne_out(observer: Observer, bay: Bay) -> list[Hashable]:
    states = tuple(
        tuple(state.value for state in FACTS[fact]) if fact in FACTS else ()
        for fact in observer.facts
    )
    belief = believed(bay, observer)
    return [now for now in observer.accounts(states) if observer.bears_out(belief, now)]


def prove(
    kernel: Kernel,
    sometimes: dict[str, Callable[[KernelState, Move, KernelState], bool]] | None = None,
    *,
    cap: int = 1_000_000,
) -> SearchResult[KernelState, Move]:
    """Search the kernel for a breach of its monitor.

    Raises:
        steplatch.safety.verify.search.SearchCapped: the model grew beyond ``cap`` states.
    """
    always = {kernel.monitor.name: lambda state: not state[3]}
    return search(kernel, always, sometimes or {}, cap=cap, first_breach_only=True)


def comes(kernel: Kernel, *event: object) -> Callable[[KernelState, Move, KernelState], bool]:
    """A sometimes-property: met by a move by which an event of the truth that begins like
    ``event`` happens."""
    return lambda before, move, after: any(
        happened[: len(event)] == event for happened in kernel.happened(move)
    )


def told(breach: Breach[KernelState, Move]) -> str:
    """The trace of a breach, a line a move, and what it breaks."""
    lines = [f"{n}. {said}" for n, ((said, _), _) in enumerate(breach.trace, 1)]
    return "\n".join([*lines, f"=> {breach.state[3] or breach.name}"])


def told_belief(kernel: Kernel, observer: Observer, breach: Breach[KernelState, Move]) -> str:
    """The same for what ``prove_belief`` found: what is believed, and what is true."""
    at, _, account, _ = breach.state
    belief = dict(zip(observer.facts, believed(kernel.bays[at], observer), strict=True))
    return f"{told(breach)}: believed {belief}, truly {kernel.accounts[account]!r}"
