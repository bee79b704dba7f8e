"""Random walks over the shipped procedure: only refusals, and the record folds to the job."""

import json
from functools import cache
from typing import Any, ClassVar, get_args

import hypothesis.strategies as st
import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from steplatch.runner.core import commands
from steplatch.runner.core.clock import Times
from steplatch.runner.core.codec import (
    BadWire,
    decode_command,
    decode_event,
    encode,
    encode_refusal,
)
from steplatch.runner.core.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    GiveUp,
    GoOn,
    Interrupted,
    Look,
    Open,
    Report,
    Sign,
    Stop,
    Tick,
)
from steplatch.runner.core.engine import Outcome, decide
from steplatch.runner.core.events import Event
from steplatch.runner.core.job import Job, evolve
from steplatch.runner.core.steps import AskStep, LookStep, ReportStep, SignStep
from steplatch.safety.bay import FACTS
from steplatch.safety.interlocks import INTERLOCKS
from steplatch.safety.kernel import LOOKED_AT
from steplatch.safety.occurrences import OUTCOMES, Happening

from tests.played import Played, bundle_from, times

BUNDLE = bundle_from()
PEOPLE = ("apprentice-1", "technician-1", "supervisor-1", "customer", "nobody")
TYPED = (
    *(
        "30 s",
        "6",
        "done",
        "due",
        "read",
        "again",
        "yes",
        "no",
        "clean",
        "drive",
        "idle",
        "stopped",
    ),
    *("86 degC", "400 degC", "-300 degC", "19 20 21 mL in 5 s", "loaded 14 mL", "loaded 1e9 L"),
    *("55 mbar 2400 40 250 85 shut", "55 2400 40 250 85 shut", "x x x x x x", "4 0 0 60 80 shut"),
    *(
        "98000 km",
        "6",
        "0",
        "-1",
        "1e999",
        "9" * 400,
        "drained 20 mL",
        "drained -5 mL",
        "\u202e",
        "",
    ),
    *(
        "looked_dry",
        "looked_wet",
        "lowered",
        "technician-1",
        "☃ 12 mbar",
        "1,5 mbar",
        "nan",
        "inf s",
    ),
)
READS = {row.id: row.reads for row in INTERLOCKS}
STATES = sorted({state.value for fact in FACTS.values() for state in fact})


def round_trip(item: Command | Event) -> None:
    """Through JSON text and back: the same value."""
    plain = json.loads(json.dumps(encode(item), ensure_ascii=False, allow_nan=False))
    known = type(item).__name__ in {c.__name__ for c in get_args(Command)}
    back = decode_command(plain) if known else decode_event(plain)
    assert encode(back) == encode(item)
    assert type(back) is type(item)


class Walk(RuleBasedStateMachine):
    """A job at which anything may be tried at any time, and what is due often is."""

    reached: ClassVar[set[str]] = set()

    def __init__(self) -> None:
        super().__init__()
        self.job = Job()
        self.record: list[list[dict[str, Any]]] = []

    @initialize(start=st.integers(0, 199))
    def begun_somewhere(self, start: int) -> None:
        """Anywhere on the way of a careful person, or at the very beginning."""
        way = careful_way()
        self.job, self.record = way[start % len(way)]
        self.record = list(self.record)

    def open(self) -> None:
        first = Times("2026-03-02T09:00:00.000Z", "+00:00", 1000, 1000, "boot")
        self.apply(decide(BUNDLE.plan, self.job, Open(True, BUNDLE.roster(), {}), first, "x"))
        self.submit(BUNDLE.limits_command())

    def apply(self, outcome: Outcome) -> None:
        for event in outcome.events:
            round_trip(event)
            self.job = evolve(self.job, event)
        for refusal in outcome.refusals:
            assert refusal.reason and refusal.remedy and refusal.source
            json.dumps(encode_refusal(refusal))
        self.record.append([json.loads(json.dumps(encode(e))) for e in outcome.events])

    def submit(self, command: Command, by: str = "apprentice-1", seconds: float = 5.0) -> Outcome:
        round_trip(command)
        before = self.job
        outcome = decide(BUNDLE.plan, before, command, times(before.log, seconds), by)
        again = decide(BUNDLE.plan, before, command, times(before.log, seconds), by)
        assert outcome == again and before == self.job, "decide must be pure"
        self.apply(outcome)
        Walk.reached.add(self.job.bay.engine.value)
        Walk.reached.add(f"gun {self.job.bay.gun.value}, engine {self.job.bay.engine.value}")
        return outcome

    @property
    def step(self) -> Any:
        return BUNDLE.plan.procedure(self.job.core.procedure).step(self.job.core.step)

    @rule(count=st.integers(1, 25))
    def what_is_due(self, count: int) -> None:
        """Work steps as a careful person would."""
        for _ in range(count):
            if self.job.core.ended:
                return
            self.one_step()

    def one_step(self) -> None:
        core, step = self.job.core, self.step
        if core.meanwhile:
            self.submit(AnswerMeanwhile("no"))
        elif core.ask_again:
            fact = core.ask_again[0]
            self.submit(Look(fact, _usual(fact)))
        elif core.held:
            self.submit(GoOn())
        else:
            begun = self.submit(Begin(step.id, "4"))
            for refusal in begun.refusals:
                for fact in sorted(READS.get(refusal.interlock, frozenset()) & LOOKED_AT):
                    if getattr(self.job.bay, fact).unknown:
                        self.submit(Look(fact, _usual(fact)))
            if self.job.core.step == step.id and self.job.core.begun:
                for command in _ideal(step, self.job):
                    self.submit(
                        command, seconds=400.0 if step.kind in ("wait", "hold", "read") else 5.0
                    )

    @rule(step=st.sampled_from([s.id for s in BUNDLE.main.steps()]), text=st.sampled_from(TYPED))
    def begin_anything(self, step: str, text: str) -> None:
        self.submit(Begin(step, text))

    @rule(text=st.one_of(st.sampled_from(TYPED), st.text(max_size=30)), begin=st.booleans())
    def answer_anything(self, text: str, begin: bool) -> None:
        if begin and not self.job.core.ended:
            self.submit(Begin(self.job.core.step, "3"))
        self.submit(Answer(self.job.core.step, text))

    @rule(
        what=st.sampled_from([h.value for h in Happening] + ["nonsense"]),
        seconds=st.sampled_from(["", "?", "5", "1e9", "x", "-2", "5 s", "2,5"]),
        ask=st.booleans(),
    )
    def report_anything(self, what: str, seconds: str, ask: bool) -> None:
        if ask and not self.job.core.ended:
            self.submit(Begin(self.job.core.step, "4"))
        outcome = self.submit(Report(what, seconds))
        if not self.job.core.ended and what in ("stopped", "stalled", "overdosed", "fire_seen"):
            assert not outcome.refused, "a report of what happened is never refused"

    @rule(fact=st.sampled_from([*FACTS, "nonsense"]), state=st.sampled_from([*STATES, "nonsense"]))
    def look_at_anything(self, fact: str, state: str) -> None:
        self.submit(Look(fact, state))

    @rule(person=st.sampled_from(PEOPLE))
    def sign_anything(self, person: str) -> None:
        self.submit(Sign(self.job.core.step, person))

    @rule(
        command=st.sampled_from(
            [Stop(), Stop("x"), GoOn(), GiveUp(), Interrupted("x"), Tick(), AnswerMeanwhile("?")]
        ),
        seconds=st.sampled_from([0.0, 1.0, 700.0, 4000.0]),
    )
    def order_anything(self, command: Command, seconds: float) -> None:
        outcome = self.submit(command, seconds=seconds)
        if isinstance(command, Stop) and not self.job.core.ended:
            assert not outcome.refused and self.job.core.held

    @rule(step=st.sampled_from([s.id for s in BUNDLE.main.steps()]))
    def go_back_anywhere(self, step: str) -> None:
        self.submit(Back(step))

    @invariant()
    def state_is_hashable_and_the_record_folds_to_it(self) -> None:
        assert hash(self.job.core) == hash(self.job.core)
        assert self.job.bay.reserved >= 0
        wet = self.job.bay.wet
        assert wet is None or wet >= self.job.bay.reserved

    def teardown(self) -> None:
        job = Job()
        for events in self.record:
            for plain in events:
                job = evolve(job, decode_event(plain))
        assert encode_job(job) == encode_job(self.job)
        assert job.core == self.job.core


@cache
def careful_way() -> tuple[tuple[Job, list[list[dict[str, Any]]]], ...]:
    """The job before each step that a careful person works, with the record up to it."""
    walk = Walk()
    walk.open()
    way: list[tuple[Job, list[list[dict[str, Any]]]]] = []
    while not walk.job.core.ended and len(way) < 400:
        way.append((walk.job, list(walk.record)))
        walk.one_step()
    assert walk.job.core.ended == "finished", walk.job.core.step
    return tuple(way)


def encode_job(job: Job) -> str:
    """A job as text in which lists and tuples are alike, as they are after JSON."""
    from dataclasses import asdict

    return json.dumps(asdict(job.log), default=str, sort_keys=True)


USUAL = {
    "crew": "pair", "identity": "match", "arrival": "dry", "agreed": "measure", "engine": "stopped",
    "idle": "steady", "key": "boxed", "secured": "yes", "fumes": "extraction", "controls": "other",
    "hands": "clear", "hose": "on", "gun": "away", "line": "clear", "burning": "no",
    "sheet": "read", "kit": "worn", "spill": "ready", "reach": "clear", "sensor": "proven",
    "tier": "none", "codes": "saved", "road": "ready", "driver": "licensed",
    "tag": "do_not_start",
}  # fmt: skip


def _usual(fact: str) -> str:
    return USUAL.get(fact, "unknown")


def _ideal(step: Any, job: Job) -> list[Command]:  # the answers after the first mark
    match step:
        case LookStep():
            return [Look(step.fact, step.want[0])]
        case AskStep():
            if step.form == "choice":
                return [Answer(step.id, step.options[0].value)]
            if step.form == "text":
                return [Answer(step.id, "written down")]
            if step.form == "fields":
                return [Answer(step.id, "none")]
            return [Answer(step.id, "98000 km" if step.quantity == "distance" else "6")]
        case ReportStep():
            name = step.want[0]
            return [Answer(step.id, "drained 5 mL" if name == "drained" else name)]
        case SignStep():
            return [Sign(step.id, "customer" if step.role == "customer" else "technician-1")]
    match step.kind:
        case "act" | "end" | "spray":
            permit = job.bay.permit
            told = [] if permit is None else [Report(OUTCOMES[permit][0].value, "4")]
            return [*told, Answer(step.id, "done")] if step.kind == "spray" else [*told]
        case "read":
            raised = {"raised": "55 2400 40 250 85 shut", "idle": "6 820 8 150 85 shut"}
            return [Answer(step.id, raised.get(step.condition, "0 0 0 60 80 shut"))]
        case "temperature":
            return [Answer(step.id, "40 degC")]
        case "gun":
            return [Answer(step.id, "19 20 21 mL in 5 s")]
        case "hold":
            noted = ("210 degC", *("20 mbar",) * 4, "210 degC", "done")
            return [Answer(step.id, said) for said in noted]
        case "wait":
            return [Answer(step.id, "due"), Answer(step.id, "due")]
        case "judge":
            return [Answer(step.id, "read")]
        case "reset":
            return [Sign(step.id, "technician-1")]
    raise AssertionError(step.kind)


def test_a_random_walk_meets_refusals_and_nothing_worse() -> None:
    from hypothesis.stateful import run_state_machine_as_test

    Walk.reached.clear()
    run_state_machine_as_test(
        Walk,
        settings=settings(
            max_examples=40,
            stateful_step_count=25,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
    assert {"idling", "raised", "gun open, engine idling"} <= Walk.reached, "the walk went nowhere"


def test_every_line_of_a_real_job_comes_back_from_the_wire_unchanged(good: Played) -> None:
    from steplatch.runner.record import read

    kinds = set()
    for line in read(good.folder.path):
        assert encode(decode_command(line.command)) == line.command
        for plain in line.outcome["events"]:
            assert encode(decode_event(plain)) == plain
            kinds.add(plain["kind"])
    assert len(kinds) >= 14


def test_every_command_has_its_place_on_the_wire() -> None:
    for command in get_args(Command):
        assert getattr(commands, command.__name__) is command
        with pytest.raises(BadWire, match="missing or unknown field"):
            decode_command({"kind": command.__name__, "surprise": 1})


@pytest.mark.parametrize(
    ("plain", "said"),
    [
        ({}, "unknown kind None"),
        ({"kind": "Explode"}, "unknown kind 'Explode'"),
        ([], "unknown kind"),
        ({"kind": "Seen", "fact": "gun", "state": "loose"}, "gun has no state 'loose'"),
        ({"kind": "Granted", "act": "fly", "dose": 0}, "fly"),
        ({"kind": "Happened", "what": "nothing", "amount": 0}, "nothing that can happen"),
        ({"kind": "Tripped", "trip": "luck"}, "luck"),
        ({"kind": "Begun", "procedure": "p"}, "missing or unknown field 'step'"),
        ({"kind": "Begun", "step": "s"}, "missing or unknown field 'procedure'"),
    ],
)
def test_what_no_program_of_ours_wrote_is_refused_by_name(plain: Any, said: str) -> None:
    with pytest.raises(BadWire, match=said):
        decode_event(plain)


def test_what_is_looked_at_is_known_to_the_walk() -> None:
    assert set(USUAL) <= LOOKED_AT | {"tier"}
