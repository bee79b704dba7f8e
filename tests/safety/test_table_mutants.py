"""A mutation test of the interlock table itself, which no tool for mutating functions reaches.

Every condition of every row is changed in every small way: a state struck out, a state added,
'or' for 'and', one part dropped, a limit swapped. The hand-written cells must notice each.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import yaml
from steplatch.safety.bay import FACTS, Bay, DoseLimits, Trip
from steplatch.safety.interlocks import INTERLOCKS, Both, Condition, Either, Interlock, Is, Rule
from steplatch.safety.kernel import permit
from steplatch.safety.plant.environment import all_asks
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.matrix import words

from tests.each import each
from tests.safety.ready_bays import ASKED, NAMED

CELLS: dict[str, dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent / "cells" / "interlocks.yaml").read_text(encoding="utf-8")
)


def mutants(condition: Condition) -> Iterator[Condition]:
    """Every condition that differs from this one in one small way."""
    match condition:
        case Is(fact, states):
            for state in FACTS[fact]:
                if state not in states:
                    yield Is(fact, (*states, state))
                elif len(states) > 1:
                    yield Is(fact, tuple(s for s in states if s is not state))
        case Rule(name, reads, test):
            yield Rule(name, reads, lambda b, a, m: not test(b, a, m))
            yield Rule(name, reads, lambda b, a, m: True)
            if reads == {"wet"}:
                yield Rule(name, reads, lambda b, a, m: test(b, a, looser(m)))
                yield Rule(name, reads, lambda b, a, m: test(b, a, tighter(m)))
        case _:
            parts = condition.parts
            yield Both(parts) if isinstance(condition, Either) else Either(parts)
            for i, part in enumerate(parts):
                yield replace(condition, parts=(*parts[:i], *parts[i + 1 :]))
                for mutant in mutants(part):
                    yield replace(condition, parts=(*parts[:i], mutant, *parts[i + 1 :]))


def looser(m: DoseLimits) -> DoseLimits:
    return DoseLimits(m.strict + 1, m.extended + 1, m.running + 1)


def tighter(m: DoseLimits) -> DoseLimits:
    return DoseLimits(m.strict - 1, m.extended - 1, m.running - 1)


def filled(bay: Bay, facts: frozenset[str]) -> Iterator[tuple[str, Any, Bay]]:
    """The bay as it is, and with each state of each fact, each ledger, each single trip."""
    yield "", None, bay
    for fact in sorted(facts):
        if fact == "wet":
            for wet in (None, 0, 1, 2, 3, 4):
                yield fact, wet, replace(bay, wet=wet)
        elif fact == "trips":
            for trip in Trip:
                yield fact, trip.value, replace(bay, trips=frozenset({trip}))
        else:
            for state in FACTS[fact]:
                changes: dict[str, Any] = {fact: state}
                yield fact, state.value, replace(bay, **changes)


def expected(name: str, fact: str, value: Any) -> bool:
    named = CELLS[name].get(fact, "all")
    return named == "all" or ("?" if value is None else value) in named


def noticed(row: Interlock, changed: Interlock) -> bool:
    """Whether some hand-written cell is not met once ``changed`` stands for ``row``."""
    table = tuple(changed if r is row else r for r in INTERLOCKS)
    for name, (bay, ask) in NAMED.items():
        if ask.act not in row.acts:
            continue
        for fact, value, around in filled(bay, row.reads):
            if (not permit(around, ask, LIMITS, table)) != expected(name, fact, value):
                return True
    return any(
        (not permit(bay, ask, LIMITS, table)) != permitted
        for bay, ask, permitted in ASKED
        if ask.act in row.acts
    )


SHADOWED = {
    "gun is away or (a fire was told and tag is do not start or unknown)",
    "controls is other or (controls is self and (crew is alone adult or unknown or gun is away))",
    *(
        "ledger is zero or start check is other or (start check is same and crew is alone adult or "
        f"{crew} and ledger within the strict limit)"
        for crew in ("alone junior", "unknown")
    ),
    *(
        f"crew is pair or (crew is alone adult and {tier_and_rate})"
        for tier_and_rate in (
            "tier is strict or none and rate is loaded",
            "tier is strict or unknown and rate is loaded",
            "tier is strict and rate is loaded or unknown",
        )
    ),
    *(
        f"fluid check is other or (fluid check is same and crew is alone adult or {crew})"
        for crew in ("alone junior", "unknown")
    ),
    "touch is bare or (touch is gloved and kit is heat or unknown)",
    "touch is bare or (touch is gloved and kit is heat or not worn)",
}
"""Changes that another row makes harmless, with the reason.

'start-check' with a junior or unknown crew: 'crew-may-run' refuses the start. 'spray-off-pair' with
another choice or no rate: 'spray-off-ledger' and 'spray-rate'. 'spray-check' with such a crew:
'spray-off-pair' with the engine off, 'crew-may-run' at idle.
'abandon-gun-away' without a tag: 'abandon-tagged' names the same act and refuses it.
'hose-cool' without any protection: 'fluid-kit' names the same act and refuses it.
'run-controls' with an unknown crew: 'crew-may-run' names the same acts and refuses every one.
"""


def same(row: Interlock, changed: Condition) -> bool:
    """Whether ``changed`` says the same as the row in every bay and for everything asked."""
    reads = sorted(row.reads)
    choices: list[tuple[Any, ...]] = [
        (None, 0, 1, 2, 3, 4)
        if fact == "wet"
        else tuple(frozenset({trip}) for trip in Trip)
        if fact == "trips"
        else tuple(FACTS[fact])
        for fact in reads
    ]
    asks = [ask for ask in all_asks((1, 2, 3, 4), tuple(Trip)) if ask.act in row.acts]
    for values in product(*choices):
        changes: dict[str, Any] = dict(zip(reads, values, strict=True))
        bay = replace(Bay(), **changes)
        for ask in asks:
            if row.allows.holds(bay, ask, LIMITS) != changed.holds(bay, ask, LIMITS):
                return False
    return True


@each("row", INTERLOCKS, ids=lambda row: row.id)
def test_every_small_change_of_a_row_is_noticed_by_a_cell(row: Interlock) -> None:
    changed = list(mutants(row.allows))
    missed = [m for m in changed if not noticed(row, replace(row, allows=m)) and not same(row, m)]
    assert changed
    assert {words(m) for m in missed} <= SHADOWED


@each("row", INTERLOCKS, ids=lambda row: row.id)
def test_every_act_taken_from_a_row_is_noticed_by_a_cell(row: Interlock) -> None:
    for act in row.acts:
        assert noticed(row, replace(row, acts=row.acts - {act})), act
