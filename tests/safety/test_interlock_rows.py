"""Every interlock row does something that no other row does.

Taking a row out breaks a named monitor, by a way that the search shows; and there is a state
in which that row alone refuses.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from steplatch.safety.bay import FACTS, Act, Bay, Trip
from steplatch.safety.interlocks import INTERLOCKS, Ask, Interlock
from steplatch.safety.kernel import permit
from steplatch.safety.verify.kernel_model import LIMITS, Kernel
from steplatch.safety.verify.kernel_proof import gaps, prove, told
from steplatch.safety.verify.monitors import need_monitors
from steplatch.safety.verify.needs import Needs
from steplatch.safety.verify.ready_bays import READY
from steplatch.safety.verify.row_monitors import ALSO_BREAKS, BREAKS, LATCHES

from tests.each import each

ROWS = {row.id: row for row in INTERLOCKS}
MONITORS: dict[str, Needs] = {
    m.name: m for m in need_monitors(LIMITS.strict, LIMITS.extended, LIMITS.running)
}


def test_every_row_has_its_monitor_and_every_monitor_its_row() -> None:
    assert set(BREAKS) == set(ROWS)
    others = {name for names in ALSO_BREAKS.values() for name in names}
    latches = {name for name in MONITORS if name.startswith("latched-")}
    assert set(BREAKS.values()) | others | latches == set(MONITORS)


def without(row: str) -> tuple[Interlock, ...]:
    rest = tuple(r for r in INTERLOCKS if r.id != row)
    assert len(rest) == len(INTERLOCKS) - 1
    return rest


@pytest.mark.parametrize(
    ("row", "monitor"),
    [*BREAKS.items(), *((row, name) for row, names in ALSO_BREAKS.items() for name in names)],
)
def test_without_the_row_its_monitor_is_broken(row: str, monitor: str) -> None:
    needs = MONITORS[monitor]
    assert next(gaps(needs, without(row)), None) is not None
    kept = (*needs.facts, *LATCHES.get(monitor, ()))
    kernel = Kernel(needs, kept, without(row), doses=(1, 2))
    found = prove(kernel, cap=60_000)
    assert [b.name for b in found.breaches] == [monitor]
    assert monitor in told(found.breaches[0]).splitlines()[-1]


@pytest.mark.parametrize("monitor", sorted(m for m in MONITORS if m.startswith("latched-")))
def test_without_either_trip_row_a_latched_trip_is_worked_past(monitor: str) -> None:
    for row in ("no-trip-latched", "start-no-fluid-trip"):
        assert next(gaps(MONITORS[monitor], without(row)), None) is not None


def bays_around(row: Interlock, bay: Bay) -> Iterator[Bay]:
    """``bay`` with every mix of states of what the row reads."""
    reads = sorted(row.reads)
    choices: list[tuple[object, ...]] = [
        (None, 0, 1, 2, 3, 4)
        if fact == "wet"
        else (frozenset(), frozenset({Trip.STUB}), frozenset({Trip.FIRE}))
        if fact == "trips"
        else tuple(FACTS[fact])
        for fact in reads
    ]
    for states in product(*choices):
        changes: dict[str, Any] = dict(zip(reads, states, strict=True))
        yield replace(bay, **changes)


def asks_around(row: Interlock, act: Act, ask: Ask) -> Iterator[Ask]:
    yield ask
    if act is Act.RAISE:
        yield replace(ask, band_under_ceiling=False)
    if act is Act.SPRAY_OFF:
        yield replace(ask, burst_s=16)
    if act is Act.RESET:
        yield from (replace(ask, trip=trip) for trip in Trip)


@each("act", list(Act), ids=lambda act: act.value)
def test_in_its_ready_bay_the_act_is_permitted(act: Act) -> None:
    bay, ask = READY[act]
    assert permit(bay, ask, LIMITS) == ()


@pytest.mark.parametrize(
    ("row", "act"),
    [(row.id, act) for row in INTERLOCKS for act in sorted(row.acts, key=lambda a: a.value)],
    ids=lambda value: value if isinstance(value, str) else value.value,
)
def test_there_is_a_state_in_which_the_row_alone_refuses(row: str, act: Act) -> None:
    bay, ask = READY[act]
    assert any(
        [r.interlock for r in permit(around, asked, LIMITS)] == [row]
        for around in bays_around(ROWS[row], bay)
        for asked in asks_around(ROWS[row], act, ask)
    )
