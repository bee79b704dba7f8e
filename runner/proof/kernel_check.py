"""``steplatch check --kernel``: the proof of the interlock table, run here and now.

Two halves for each invariant that has a monitor (see ``safety.verify.kernel_proof``): no fact that
the tool believes is false, and nothing that is permitted misses what the invariant needs. The
monitors of a running engine are searched whole. Each search stands for itself, so they run on
several processes; where none can be made they run in this one, and the report says so.

Against an empty proof: every fact is believed in each of its states by some search, every act
permitted under some belief, every trip latched and its reset permitted (``never_believed``,
``never_permitted``); and whole jobs go through with all rows (``safety.verify.witness_runs``).
"""

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from itertools import islice
from typing import Any

from steplatch.safety.catalogue import _
from steplatch.safety.verify.alarms import Alarm, alarm_monitors
from steplatch.safety.verify.cone_of_influence import close
from steplatch.safety.verify.kernel_model import LIMITS, Kernel
from steplatch.safety.verify.kernel_proof import (
    comes,
    gaps,
    never_believed,
    never_permitted,
    prove,
    prove_belief,
    told,
    told_belief,
)
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.observers import Observer
from steplatch.safety.verify.search import SearchCapped
from steplatch.safety.verify.witness_runs import SOMETIMES, never_met

from ..system.over_cores import over_cores
from .collector import no_collector

CAP = 200_000
"""The most states that one search may have; above it nothing is proven, and it says so."""

MOST_PROCESSES = 2


@dataclass(frozen=True, slots=True)
class Searched:
    """One search: its size, what it found, and the processor seconds that it took."""

    states: int
    transitions: int
    breaches: tuple[str, ...]
    missed: tuple[str, ...]
    seconds: float


def kernel_report(processes: int | None = None, cap: int | None = None) -> dict[str, Any]:
    """The proof as plain values: one row a monitor under ``monitors``; totals, in which each
    search counts once, under ``states``, ``transitions``, ``seconds`` (by the clock) and
    ``processor_seconds`` (of the searches); ``missed`` where a sometimes-property was not met.

    Raises:
        steplatch.safety.verify.search.SearchCapped: a search grew beyond ``cap`` states.
    """
    begun = time.perf_counter()
    needs = need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
    searches = [*_observers(needs), *(alarm.name for alarm in alarm_monitors())]
    found, run = _all_searched(searches, cap or CAP, processes or MOST_PROCESSES)
    with no_collector():
        rows = [_row_of(monitor, found) for monitor in needs]
    rows += [_row(alarm.name, [found[alarm.name]], (), (), 0.0) for alarm in alarm_monitors()]
    seconds = time.perf_counter() - begun
    processor = sum(one.seconds for one in found.values())
    transitions = sum(one.transitions for one in found.values())
    return {
        "states": sum(one.states for one in found.values()),
        "transitions": transitions,
        "seconds": round(seconds, 3),
        "processor_seconds": round(processor, 3),
        "transitions_per_second": round(transitions / seconds),
        "transitions_per_processor_second": round(transitions / processor),
        "run": run,
        "sometimes": len(SOMETIMES),
        "missed": list(never_met()),
        "monitors": rows,
    }


def is_proven(report: dict[str, Any]) -> bool:
    """Whether nothing breaks a monitor and every sometimes-property was met."""
    return not report["missed"] and not any(
        row["breaches"] or row["missed"] for row in report["monitors"]
    )


def kernel_lines(report: dict[str, Any]) -> list[str]:
    """The report in words, with what breaks a monitor, or was never met, below it."""
    out = []
    for row in report["monitors"]:
        out.append(
            _(
                "{part}  {row:24} {row_2} states, {row_3} transitions, {row_4} s",
                part="UNSAFE" if row["breaches"] or row["missed"] else "proven",
                row=row["monitor"],
                row_2=row["states"],
                row_3=row["transitions"],
                row_4=row["seconds"],
            )
        )
        out += [f"  {breach}" for breach in row["breaches"]]
        out += [_("  never: {said} [sometimes]", said=said) for said in row["missed"]]
    met = report["sometimes"] - sum(1 for said in report["missed"] if said in SOMETIMES)
    out.append(
        _(
            "{part}  {met} of {report} things that must be possible with all rows: every "
            "act, every trip and reset, every choice of dose",
            part="UNSAFE" if report["missed"] else "met",
            met=met,
            report=report["sometimes"],
        )
    )
    out += [_("  never: {said} [sometimes]", said=said) for said in report["missed"]]
    out.append(
        _(
            "total  {report} states, {report_2} transitions, {report_3:.1f} s on {report_4}: "
            "{report_5} transitions a second, {report_6} a second of processor time",
            report=report["states"],
            report_2=report["transitions"],
            report_3=report["seconds"],
            report_4=report["run"],
            report_5=report["transitions_per_second"],
            report_6=report["transitions_per_processor_second"],
        )
    )
    return out


def search_one(asked: tuple[str, int]) -> Searched:
    """The search of that name (facts of an observer, or an alarm), with that cap on its states.

    Raises:
        steplatch.safety.verify.search.SearchCapped: it grew beyond the cap.
    """
    name, cap = asked
    needs = need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
    alarms = {alarm.name: alarm for alarm in alarm_monitors()}
    with no_collector():
        begun = time.process_time()
        search: Callable[[int], _Sizes]
        if name in alarms:
            search = partial(_alarm_searched, alarms[name])
        else:
            search = partial(_observer_searched, _observers(needs)[name])
        try:
            sizes = search(cap)
        except SearchCapped as capped:
            raise SearchCapped(cap, capped.transitions, name) from None
        return Searched(*sizes, time.process_time() - begun)


_Sizes = tuple[int, int, tuple[str, ...], tuple[str, ...]]


def _observer_searched(observer: Observer, cap: int) -> _Sizes:
    kernel, found = prove_belief(observer, cap=cap)
    breaches = tuple(told_belief(kernel, observer, breach) for breach in found.breaches)
    missed = () if breaches else never_believed(kernel, observer)
    return found.states, found.transitions, breaches, missed


def _alarm_searched(alarm: Alarm, cap: int) -> _Sizes:
    kernel = Kernel(alarm, alarm.facts, doses=(1,))
    found = prove(kernel, {"the alarm comes": comes(kernel, "tripped", "unattended")}, cap=cap)
    return found.states, found.transitions, tuple(map(told, found.breaches)), found.missed


def _all_searched(names: list[str], cap: int, processes: int) -> tuple[dict[str, Searched], str]:
    """Every search by name, and on what they ran."""
    alarms = {alarm.name: alarm.facts for alarm in alarm_monitors()}
    largest_first = sorted(names, key=lambda name: -len(close(alarms.get(name, name.split("+")))))
    asked = [(name, cap) for name in largest_first]
    run: list[str] = []
    found = list(over_cores(search_one, asked, processes, long=True, say=run.append))
    return dict(zip(largest_first, found, strict=True)), run[0]


def _observers(needs: tuple[Needs, ...]) -> dict[str, Observer]:
    return {
        "+".join(observer.facts): observer for monitor in needs for observer in monitor.observers
    }


def _row_of(monitor: Needs, found: dict[str, Searched]) -> dict[str, Any]:
    begun = time.process_time()
    breaches = [
        _(
            "{value} is permitted at {bay} although truly {truth}",
            value=ask.act.value,
            bay=bay,
            truth=truth,
        )
        for bay, ask, truth in islice(gaps(monitor), 1)
    ]
    missed = [f"permitted: {act}" for act in never_permitted(monitor)]
    own = [found["+".join(observer.facts)] for observer in monitor.observers]
    return _row(monitor.name, own, breaches, missed, time.process_time() - begun)


def _row(
    name: str,
    searched: list[Searched],
    breaches: Iterable[str],
    missed: Iterable[str],
    seconds: float,
) -> dict[str, Any]:
    """One monitor. A search that serves several monitors stands, with its time, in each."""
    return {
        "monitor": name,
        "states": sum(one.states for one in searched),
        "transitions": sum(one.transitions for one in searched),
        "seconds": round(seconds + sum(one.seconds for one in searched), 3),
        "breaches": [*(breach for one in searched for breach in one.breaches), *breaches],
        "missed": [*(said for one in searched for said in one.missed), *missed],
    }
