"""A state machine that hypothesis drives: it draws what comes between, and when.

Careful work goes on for a drawn number of steps; then something drawn comes between. Engine,
journal, kills and resumes are real. A breach is told in plain words, made short move by move
(``moves.shortest``, without a journal): leaving out whole rules, as hypothesis would, opens one
journal a try and takes minutes. The long run is ``long_run``.
"""

import random
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)

from tests.walk.desks import HOWS, InMind, OnDisk, room_in_memory
from tests.walk.mishaps import MISHAPS, WEIGHTS, Unlucky
from tests.walk.moves import Breach, Move, Opening
from tests.walk.test_monitors_bite import without
from tests.walk.walker import THEMES, Fate
from tests.walk.walks import MOST, summed

TOTAL: Counter[str] = Counter()
"""What came in the walks of the run that goes on."""

SEEDS = st.integers(0, 1 << 16)
KINDS = tuple(kind for kind in MISHAPS if kind not in ("kill", "lie", "give up"))
OFTEN = tuple(kind for kind in KINDS for _ in range(int(WEIGHTS[kind]) or 1))


class JobMachine(RuleBasedStateMachine):
    """One job, worked and disturbed. Every draw that decides anything is hypothesis'."""

    on_disk = True

    def __init__(self) -> None:
        super().__init__()
        self.rooms = ExitStack()
        self.walk: Unlucky | None = None
        self.broken = False

    @initialize(
        crew=st.sampled_from(("pair", "pair", "pair", "alone_adult", "alone_junior")),
        tier=st.sampled_from(("extended", "strict", "none")),
        refit=st.sampled_from(("idle", "stopped", "stopped_with_help")),
        road_test=st.sampled_from(("skip", "drive")),
        practice=st.booleans(),
        dry=st.sampled_from((True, True, True, True, False)),
        slip=st.sampled_from((0.0, 0.0, 0.01, 0.05)),
        theme=st.sampled_from(("", "", "", "", "", "", *THEMES)),
        seed=SEEDS,
    )
    def opened(self, practice: bool, dry: bool, slip: float, theme: str, seed: int,
               **given: str) -> None:  # fmt: skip
        """A job is opened."""
        alone = given["crew"] != "pair"
        given |= {"agreed": "clean", "controls": "self" if alone else "other"}
        worker = "technician-1" if given["crew"] == "alone_adult" else "apprentice-1"
        opening = Opening(worker, dry, practice)
        desk: Any = (
            OnDisk(self.rooms.enter_context(room_in_memory()), worker, practice)
            if self.on_disk
            else InMind(worker, None, practice)
        )
        self.walk = Unlucky(desk.plan, given, alone=alone)
        self.walk.worker = worker
        self.walk.setup(desk, opening, random.Random(seed), Fate(0.0, 0.0, slip, theme))

    def _goes_on(self) -> bool:
        walk = self.walk
        return bool(walk and not walk.job.core.ended and not walk.spent and not self.broken)

    def _do(self, seed: int, deed: Callable[[Unlucky], None]) -> None:
        assert self.walk is not None
        self.walk.chance = random.Random(seed)
        try:
            deed(self.walk)
        except BaseException:
            self.broken = True
            raise

    def _works(self, steps: int) -> Callable[[Unlucky], None]:
        def work(walk: Unlucky) -> None:
            for _ in range(steps):
                if self._goes_on():
                    walk.on()

        return work

    @precondition(_goes_on)
    @rule(steps=st.integers(1, 12), seed=SEEDS)
    def works_on(self, steps: int, seed: int) -> None:
        """Careful work goes on for some steps."""
        self._do(seed, self._works(steps))

    @precondition(_goes_on)
    @rule(steps=st.sampled_from((10, 20, 40, 80)), seed=SEEDS)
    def works_far(self, steps: int, seed: int) -> None:
        """Careful work goes on for long."""
        self._do(seed, self._works(steps))

    @precondition(_goes_on)
    @rule(kind=st.sampled_from(OFTEN), seed=SEEDS)
    def comes_between(self, kind: str, seed: int) -> None:
        """Something comes between."""
        self._do(seed, lambda walk: walk.mishap(kind))

    @precondition(_goes_on)
    @rule(how=st.sampled_from(HOWS), boot=st.booleans(), luck=SEEDS)
    def dies(self, how: str, boot: bool, luck: int) -> None:
        """The program is killed and started again."""
        self._do(luck, lambda walk: _kill(walk, how, boot, luck))

    @precondition(lambda self: self._goes_on() and not self.walk.lied)
    @rule(seed=SEEDS)
    def one_lie(self, seed: int) -> None:
        """One answer is false, in few of the walks."""
        if seed % 8 == 0:
            self._do(seed, lambda walk: walk.mishap("lie"))

    @precondition(lambda self: not self._goes_on())
    @rule()
    def is_over(self) -> None:
        """The job has ended: nothing more can come."""

    def teardown(self) -> None:
        """Work on to the end where nothing is broken, close, audit, seal, count."""
        try:
            if self.walk is not None and not self.broken:
                self.walk.chance = random.Random(0)
                self.walk.walk(MOST)
                summed(self.walk.counts, TOTAL)
        finally:
            self.rooms.close()


def _kill(walk: Unlucky, how: str, boot: bool, luck: int) -> None:
    walk.make(Move(None, walk.worker, luck, ms=500, boot=boot, how=how))


class InMindMachine(JobMachine):
    """The same without a journal, for speed."""

    on_disk = False


def run(machine: type[JobMachine], examples: int, steps: int, *, derandomize: bool = True) -> None:
    """Let hypothesis drive ``examples`` jobs of at most ``steps`` rules each."""
    TOTAL.clear()
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        machine,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            database=None,
            derandomize=derandomize,
            phases=(Phase.generate,),
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_a_few_driven_jobs_with_kills_find_no_breach() -> None:
    run(JobMachine, 2, 8)
    assert TOTAL["walks"] >= 2
    assert TOTAL["steps"] >= 150, TOTAL


@pytest.mark.slow
def test_a_breach_in_a_driven_job_is_made_short_and_told_in_words() -> None:
    with without("no-trip-latched", diverting=False):
        with pytest.raises(Breach) as caught:
            run(InMindMachine, 100, 12)
        lines = str(caught.value).splitlines()
    assert lines[0].startswith("BREACH  latched-"), lines
    assert len(lines) < 15, lines


@pytest.mark.slow
def test_many_driven_jobs_find_no_breach_and_a_fair_share_gets_far() -> None:
    run(JobMachine, 40, 14)
    walks = TOTAL["walks"]
    far = TOTAL["walks with act run_on at raised revs"] / walks
    print({k: v for k, v in sorted(TOTAL.items()) if not k.startswith("mishap")})
    assert far >= 0.2, TOTAL
    assert TOTAL["walks with kills"] >= 0.3 * walks
