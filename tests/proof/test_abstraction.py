"""Jobs that are equal to the proof are decided alike; what the proof joins makes no difference."""

import random
from dataclasses import replace

from patched import SHOTS, loaded, scenario, short

from runner.commands import Answer, Begin, GiveUp, Interrupted, Report, Stop
from runner.engine import decide
from runner.job import Job, Recorded, Signed, StepMark, evolve
from runner.proof import ProcedureModel
from runner.proof_moves import WORKER
from runner.proof_state import LATER, alike, timed
from safety.bay import FACTS, Evidence, Fumes


def random_states(count: int, seed: int) -> tuple[ProcedureModel, list[int]]:
    model = ProcedureModel(short(), scenario(gun=(SHOTS,)), 1)
    dice = random.Random(seed)
    states = []
    for _ in range(count):
        (state,) = model.initial()
        for _ in range(dice.randrange(120)):
            moves = [m for m in model.actions(state) if m.ours and m.said != "give up"]
            if not moves:
                break
            state = dice.choice(dice.choice(moves).outcomes)
        states.append(state)
    return model, states


def embellished(job: Job, dice: random.Random) -> Job:
    """The same job to the proof: other texts, marks, signatures, answers that nothing reads."""
    core, log = job.core, job.log
    words = Recorded("complaint", {"text": f"text {dice.random()}"}, "complaint")
    signed = Signed("agree-sign", "customer", "customer", "agreed", "other", ())
    core = replace(core, choices=(*core.choices, ("duty", "town")))
    bay = core.bay
    if bay.fumes is Fumes.EXTRACTION and dice.random() < 0.5:
        bay = replace(bay, fumes=Fumes.OUTDOORS)
    if bay.before is Evidence.PARTIAL and dice.random() < 0.5:
        bay = replace(bay, before=Evidence.GOOD)
    mark = StepMark("crew", dice.randrange(99), 5, "typed", "worker")
    marks = (mark, *log.marks) if log.marks else log.marks
    return Job(
        replace(core, bay=bay),
        replace(
            log,
            records=(words, *log.records),
            signatures=(*log.signatures, signed),
            marks=marks,
            working={"note": "other"},
        ),
    )


def test_two_jobs_with_equal_abstraction_decide_every_command_alike() -> None:
    model, states = random_states(12, seed=20261125)
    dice = random.Random(7)
    plan = model._plan
    compared = 0
    for state in states:
        job = model.at(state).job
        other = embellished(job, dice)
        assert model.shape.canonical(other).core == job.core
        step = job.core.step
        commands = [t.command for t in model.moves_of.tries(job)]
        commands += [t.command for t in model.moves_of.mishaps(job) if not t.old]
        commands += [Begin(step), Answer(step, "x"), Report("stalled"), Stop(), GiveUp(),
                     Interrupted("gone")]  # fmt: skip
        for command in commands:
            results = []
            for one in (job, other):
                outcome = decide(plan, timed(one), command, LATER, WORKER)
                after = timed(one)
                for event in outcome.events:
                    after = evolve(after, event)
                refused = tuple(r.interlock for r in outcome.refusals)
                results.append((refused, model.shape.canonical(after).core))
            assert results[0] == results[1], (step, command)
            compared += 1
    assert compared > 200


def test_only_states_that_nothing_asks_for_are_joined() -> None:
    merged = alike(loaded().plan)
    assert merged["fumes"][Fumes.OUTDOORS] is Fumes.EXTRACTION
    assert merged["before"][Evidence.PARTIAL] is merged["before"][Evidence.GOOD]
    for fact in ("engine", "gun", "hose", "key", "hands", "soak", "run_on", "hand_turn", "crew"):
        assert all(merged[fact][s] is s for s in FACTS[fact]), fact
    for fact, states in merged.items():
        assert all(s.unknown == states[s].unknown for s in states), fact
