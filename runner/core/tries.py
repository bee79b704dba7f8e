"""A command that the proof tries, what a scenario narrows, and the words and numbers typed.

Nothing here decides: each kind of step says with it what the proof tries of it. A *try* is one
command with what goes before it (a fact that has just grown old, a timer that has come due) and
what the judges answer. ``ours`` marks what the people on the job may choose to do; everything else
is the world. ``kind`` groups the answers to one question: an ours-move of that kind may lead to any
of them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from steplatch.safety.bay import FACTS, Gun, Hose
from steplatch.safety.kernel import free_move
from steplatch.safety.occurrences import OUTCOMES

from .commands import Begin, Command, Report, Sign, Stop
from .job import Job

WORKER, CHECKER, YOUNG, CUSTOMER = "worker", "checker", "young", "customer"
PEOPLE = (
    {"id": WORKER, "name": "the worker", "role": "technician", "under_18": False},
    {"id": CHECKER, "name": "the checker", "role": "technician", "under_18": False},
    {"id": YOUNG, "name": "the apprentice", "role": "apprentice", "under_18": True},
)
PHYSICAL = frozenset({"engine", "hands", "hose", "gun", "key"})
CHOSEN = frozenset({"tag", "tier", "dry_first", "refit", "road_test"})
"""What the people on the job choose: no answer of the world's."""
SHOTS = "30 30 30 mL in 10 s"
"""Three shots that count 3.65 mL/s, a usual rate: one set is enough."""
SECONDS = {"1": "0.027", "2": "0.054", "3": "0.081", "4": "0.108"}
"""Seconds at that rate for each number of tenths of a millilitre."""
MORE_AND_LESS = ("50 50 50 mL in 10 s", "20 20 20 mL in 10 s")
LOAD = "loaded 0.1 mL"
LINES = {
    "raised": ("90 2200 40 180 86 open", "x 2200 40 180 86 open", "90 7000 40 180 86 open"),
    "idle": ("22 820 9 160 86 open", "x 820 9 160 86 open"),
    "zero": ("0.5 0 x x x x", "90 0 x x x x"),
}
"""The sets that the proof types, by condition, the good one first."""
CAME_OUT = "came out"
"""The kind of the answers that say what came of an act that something broke into."""


@dataclass(frozen=True, slots=True)
class Try:
    """One command to be tried, in words for a person, and how it is meant."""

    said: str
    command: Command
    ours: bool = True
    kind: str = ""
    old: str = ""
    due: bool = False
    triage: str = "go"
    trend: str = "level"
    disturbance: bool = False


@dataclass(frozen=True, slots=True)
class Scenario:
    """Narrows the answers that the search tries: by fact, by asked name, or 'triage', 'gun',
    'seconds', 'disturbance' (what happens by itself), 'at' (the kinds of step of the main
    procedure at which it happens), 'again' with a fact (what is found after an
    interruption). What is not named is tried in every class. With ``well`` everything that is
    looked at, measured or done comes out well the first time. With ``truth`` a refusal may be
    answered by the truth about a physical fact although that trips, and what trips by an honest
    act after the disturbance is no second one."""

    name: str = "every answer"
    only: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    well: bool = False
    truth: bool = False

    def among(self, name: str, answers: tuple[str, ...]) -> tuple[str, ...]:
        """The answers that this scenario tries of those that there are."""
        if name not in self.only:
            return answers
        return tuple(a for a in answers if a in self.only[name]) or answers


def classes(scenario: Scenario, fact: str) -> tuple[str, ...]:
    """Every state of ``fact`` that a look may find, unknown last."""
    told = tuple(s.value for s in FACTS[fact] if not s.unknown)
    if fact in ("gun", "engine"):
        told = tuple(s for s in told if s not in ("open", "road"))
    return (*scenario.among(fact, told), "unknown")


def findable(job: Job, fact: str, name: str) -> bool:
    """Whether an honest look can find it so: a known physical fact moves by acts alone, and
    a gun that is coupled sits where the hose came off."""
    if fact not in PHYSICAL or not job.bay.knows(fact):
        there = {"gun": job.bay.hose is Hose.ON, "hose": job.bay.gun is Gun.COUPLED}
        return not (there.get(fact, False) and name in ("coupled", "on"))
    state = next(s for s in FACTS[fact] if s.value == name)
    return free_move(fact, getattr(job.bay, fact), state)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a step is tried: the job, the scenario, and what the ``when`` of any step reads."""

    job: Job
    scenario: Scenario
    branches_on: frozenset[str]


STOP = Try("stop", Stop(), ours=False, disturbance=True)


def outcome_tries(step: str, at: Standing) -> Iterator[Try]:
    """Every outcome of the act that was permitted at ``step``; the good one alone where all goes
    well; where the permit lapsed, it is begun again."""
    if at.job.bay.permit is None:
        yield Try("begin again", Begin(step))
        return
    outcomes = OUTCOMES[at.job.bay.permit]
    for what in outcomes[:1] if at.scenario.well else outcomes:
        yield Try(f"report: {what.said}", Report(what.value), kind="answer")


def signature_tries(step: str) -> Iterator[Try]:
    """Everybody there may be signs ``step``."""
    for person in (WORKER, CHECKER, YOUNG, CUSTOMER):
        yield Try(f"signed by {person}", Sign(step, person))
