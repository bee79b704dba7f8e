"""What the proof remembers is what the code does; what it drops of a state makes no difference."""

import random
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from patched import loaded, scenario, short
from steplatch.runner.core.commands import Correct, GiveUp, Look, Report, Tick, Waive
from steplatch.runner.core.engine import decide
from steplatch.runner.core.events import Recorded, Signed
from steplatch.runner.core.job import Core, Job, Log, StepMark, evolve
from steplatch.runner.core.tries import CHECKER, LOAD, WORKER, Try
from steplatch.runner.proof.dependency_trace import stand_in
from steplatch.runner.proof.graph import Graph
from steplatch.runner.proof.memo import LIMITS, Decider, Lacking, Tree
from steplatch.runner.proof.times import LATER
from steplatch.runner.proof.trace import Questions, Untraceable
from steplatch.runner.proof.vector import PLACE, READINGS, SIGNED_KEPT, WORKED
from steplatch.safety.bay import FACTS, Bay
from steplatch.safety.interlocks import WAIVABLE


def plain_job(decider: Decider, state: bytes, t: Try) -> Job:
    """A real job, made of real ``Core``, ``Bay`` and ``Log``, that stands as ``state`` says."""
    fields = decider.fields

    def value(name: str) -> object:
        return fields.value(state, name)

    bay = Bay(**{name: value(name) for name in Bay.__dataclass_fields__})
    choices = {name: value(f"choice {name}") for name in fields.choices}
    core = Core(
        bay=bay,
        limits=LIMITS,
        choices=tuple(sorted((n, v) for n, v in choices.items() if v is not None)),
        **{
            name: value(name)
            for name in ("procedure", "step", "begun", "main_step", "held", "ask_again",
                         "meanwhile", "ended", "waived")
        },
    )  # fmt: skip
    records = []
    if (gun := value("rate_known")) is not None:
        records.append(Recorded("gun", dict(gun), "", procedure="clean-above"))
    records += [
        Recorded("spray", {"seconds": "1"}, "", procedure="clean-above"),
        Recorded("exhaust", {"at_ms": 0, "k": "400.0"}, "", procedure="clean-above"),
    ]
    for phase, condition in READINGS:
        pressure = value(f"{phase} {condition}")
        if pressure is not None:
            records.append(
                Recorded(
                    "reading", stand_in(phase, condition, pressure), "", procedure="clean-above"
                )
            )
    if value("triaged"):
        records.append(Recorded("triage", {"state": "go"}, "", procedure="clean-above"))
    mark = value("mark")
    always = decider.log_at(t.old, t.due)
    log = Log(
        **{
            **{name: getattr(always, name) for name in Log.__dataclass_fields__},
            "records": tuple(records),
            "marks": (StepMark(mark[1], 0, 0, "", "", mark[0]),) if mark else (),
            "doers": value("doers"),
            "worked": frozenset((w, who) for w in WORKED for who in value(f"worked {w}")),
            "signatures": tuple(
                Signed("", "", "", meaning, "", (), procedure=procedure)
                for meaning in sorted(SIGNED_KEPT)
                for procedure in sorted(value(f"signed {meaning}"))
            ),
        }
    )
    return Job(core, log)


def compared(decider: Decider, state: bytes, t: Try) -> bytes:
    """The state after ``t`` by direct ``decide`` and ``evolve``."""
    job = plain_job(decider, state, t)
    command = t.command
    if isinstance(command, Correct) and command.name == "reading":  # among those there are
        there = [at for at, (phase, condition) in enumerate(READINGS)
                 if decider.fields.value(state, f"{phase} {condition}") is not None]  # fmt: skip
        at = command.number
        command = replace(command, number=there.index(at) if at in there else 0)
    outcome = decide(decider.plan_of(t), job, command, LATER, WORKER)
    for event in outcome.events:
        job = evolve(job, event)
    core, log, fields = job.core, job.log, decider.fields
    values = {name: getattr(core.bay, name) for name in Bay.__dataclass_fields__}
    values |= {
        name: getattr(core, name)
        for name in ("procedure", "step", "begun", "main_step", "held", "ask_again", "meanwhile",
                     "ended", "waived")
    }  # fmt: skip
    values |= {f"choice {name}": core.choice(name) for name in fields.choices}
    values["doers"] = log.doers
    values |= {f"worked {w}": frozenset(who for of, who in log.worked if of == w) for w in WORKED}
    values["mark"] = log.marks[-1].key if log.marks else ()
    for meaning in SIGNED_KEPT:
        given = frozenset(s.procedure for s in log.signatures if s.meaning == meaning)
        values[f"signed {meaning}"] = given
    gun = log.latest("gun")
    if gun is not None:
        values["rate_known"] = tuple(
            sorted((k, tuple(v) if isinstance(v, list) else v) for k, v in gun.items())
        )
    for plain in log.every("reading"):
        values[f"{plain['phase']} {plain['condition']}"] = plain["pressure_pa"] is not None
    values["triaged"] = log.latest("triage") is not None
    return fields.put(state, **values)


@cache
def searched() -> Graph:
    graph = Graph(short(), scenario(gun=(LOAD,), tier=("strict",)), 1)
    graph.search(1_000_000, 3)  # whole states, nothing dropped, at every place that it finds
    return graph


@cache
def explored() -> Graph:
    graph = Graph(short(), scenario(), 0)
    graph.explore()
    return graph


def test_what_is_remembered_equals_a_direct_decision_over_thousands_of_random_pairs() -> None:
    graph = searched()
    dice = random.Random(20261125)
    tries = list(graph.tries)
    tried = remembered = 0
    while tried < 2000:
        state = bytearray(graph.row(dice.randrange(len(graph.states))))
        for _ in range(dice.choice((0, 0, 1, 3))):  # off the beaten track
            fact = dice.choice(list(FACTS))
            state[graph.fields[fact].at] = dice.randrange(len(FACTS[fact]))
        row = bytes(state)
        if graph.fields.value(row, "ended"):
            continue
        t = dice.choice(tries)
        offer = graph.offers[t]
        leaf = offer.tree.find(row)
        remembered += leaf is not None
        try:
            if leaf is None:
                trace, leaf = graph.decider.run(row, t)
                offer.tree.add(trace.reads, row, leaf)
        except Lacking:
            continue  # no job is like this one: a rate that is known and not on record
        after = bytearray(row)
        for at, byte in leaf.writes.items():
            after[at] = byte if byte >= 0 else row[-1 - byte]
        for at, turn in leaf.turns.items():
            after[at] = turn[row[at]]
        assert bytes(after) == compared(graph.decider, row, t), t
        tried += 1
    assert remembered > 0.05 * tried, "too few pairs were remembered to compare"


def test_two_states_that_the_search_joins_take_the_same_outcomes() -> None:
    """Every outcome at a place asks only what matters there, and carries on what matters after."""
    graph = explored()
    held = 0
    leaves = [leaf for offer in graph.offers.values() for leaf in _leaves(offer.tree.root)]
    for location in graph.live:
        for leaf in leaves:
            if location in leaf.effects:
                effect = leaf.effects[location]
                assert leaf.reads <= location.matters
                if effect.may:
                    assert graph.live.before(effect.to.matters, leaf) <= location.matters
                held += 1
    assert held > 400


def test_states_that_are_asked_alike_have_the_same_ways() -> None:
    """What a way was kept under holds all that was asked to find it: found anew, it is the same."""
    graph = explored()
    locations = {location.prefix: location for location in graph.live}
    kept = {id(w): w for location in locations.values() for w in location.ways.values()}
    held = 0
    for number in random.Random(20261126).sample(range(len(graph.states)), 1500):
        row = graph.row(number)
        location = locations[row[:PLACE]]
        if not location.terminal:
            ways = location.ways[graph.states[number] & location.asked]
            anew = graph.ways_from(row, location)
            assert (ways.tried, ways.granted, ways.refused, ways.stop) == (
                anew.tried, anew.granted, anew.refused, anew.stop,
            )  # fmt: skip
            held += 1
    assert held > 1200 and len(kept) < 0.85 * len(graph.states), "one for many"


def _leaves(node: list[Any]) -> list[Any]:
    if not node:
        return []
    if node[0] == -1:
        return [node[1]]
    return [leaf for after in node[3].values() for leaf in _leaves(after)]


def test_a_memory_is_not_taken_from_code_that_is_not_pure() -> None:
    tree: Tree[str] = Tree(Questions())
    tree.add([(3, 0, 7)], bytes([0, 0, 0, 7]), "one")
    with pytest.raises(Untraceable, match="not pure"):
        tree.add([(3, 0, 7)], bytes([0, 0, 0, 7]), "another")
    with pytest.raises(Untraceable, match="not pure"):
        tree.add([(2, 0, 0)], bytes([0, 0, 0, 8]), "asked elsewhere")


def test_a_reading_that_cannot_be_told_field_by_field_is_an_error() -> None:
    decider = Decider(loaded().plan)
    job, _ = decider.traced(bytes(decider.fields.size))
    with pytest.raises(Untraceable):
        _ = job.core.choices
    with pytest.raises(Untraceable):
        job.log.every("reading")
    assert decider.fields.size > PLACE


def test_only_what_is_read_is_noted() -> None:
    graph = searched()
    decider = graph.decider
    for command, most in (
        (Tick(), 6), (GiveUp(), 10), (Report("fire_seen"), 16), (Look("spill", "ready"), 12),
    ):  # fmt: skip
        trace, _ = decider.run(graph.row(0), Try("", command))
        assert len(trace.reads) <= most, (command, trace.reads)


def test_a_row_that_may_be_waived_is_waived_by_another_person_and_by_nobody_else() -> None:
    graph = Graph(loaded().plan, scenario(), 0)
    first = graph.first()
    job, _ = graph.decider.traced(first)
    tries = [
        (t, t.command.person)
        for t in graph.moves.put_right(job, WAIVABLE, "")
        if isinstance(t.command, Waive)
    ]
    assert len(tries) == 3 * len(WAIVABLE)
    waived = {person for t, person in tries if graph.decider.run(first, t)[1].accepted}
    assert waived == {CHECKER}
    refused = graph.moves.put_right(job, frozenset({"start-ledger"}), "")
    assert not any(isinstance(t.command, Waive) for t in refused)
