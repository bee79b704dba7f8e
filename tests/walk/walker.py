"""A seeded walk of one real job: session, journal, kills, resumes, honest but unlucky people."""

import os
import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from runner.auditing import audit
from runner.clock import Times, times_at
from runner.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    Correct,
    GiveUp,
    GoOn,
    Look,
    NotApplicable,
    Note,
    Report,
    Sign,
    Stop,
    Tick,
    Waive,
)  # fmt: skip
from runner.engine import Outcome, decide
from runner.job import Corrected, Held, Waived
from runner.record import find_data_folder, make_data_folder, read, verify
from runner.store import begin, fold, resume
from runner.wire import decode_event
from safety.bay import FACTS, Engine
from safety.happenings import Happening
from safety.interlocks import INTERLOCKS
from safety.kernel import Granted, ResetDone, Tripped
from tests.procedure_walk import GOOD, Stuck, Walk
from tests.walk.truth_beside import Truth, Untrue

PEOPLE = ("apprentice-1", "technician-1", "supervisor-1", "customer", "nobody-9")
WORDS = ("", "?", "yes", "no", "-1", "nan", "1e999", "60", "2 s", "\x00", "done", "x" * 5000)
START = datetime(2026, 3, 2, 8, tzinfo=UTC)


class HandClock:
    """A clock that the walk moves: forward, back, or to another boot."""

    def __init__(self) -> None:
        self.ms, self.boot = 0, 0

    def now(self) -> Times:
        moment = START + timedelta(milliseconds=self.ms)
        return times_at(moment, self.ms, self.ms, f"boot-{self.boot}")

    def wait(self, seconds: float) -> None:
        self.ms += int(seconds * 1000)


class Unlucky(Walk):
    """``Walk`` on a real session: before any command chance may bring something else."""

    def setup(self, room: Path, bundle: Any, chance: random.Random, luck: float) -> None:
        self.chance, self.luck, self.counts = chance, luck, Counter[str]()
        data = find_data_folder(room, {})
        make_data_folder(data)
        self.clock = HandClock()
        self.session, self.folder = begin(data, bundle, self.clock, self.worker, practice=True)
        self.job = self.session.job
        self.truth = Truth(chance, self.job.core.limits, dry=chance.random() < 0.9)
        self.before: tuple[Any, ...] | None = None
        self.upset = False

    def submit(self, command: Command, by: str = "") -> Outcome | None:
        """Submit an honest command; None (and nothing done) when it would be a false report."""
        at, job, who = self.clock.now(), self.session.job, by or self.worker
        foreseen = decide(self.session.plan, job, command, at, who)
        try:
            truth = self.truth.told(job, foreseen.events)
        except Untrue:
            self.counts["untrue, not said"] += 1
            return None
        head = self.folder.head.read_bytes()
        size = self.folder.journal.stat().st_size
        outcome = self.session.submit(command, who)
        assert outcome == foreseen
        if self.folder.journal.stat().st_size > size:
            self.before = head, size, job, self.truth
            self.truth = truth
        self.job = self.session.job
        self._count(command, outcome)
        assert not self.truth.breaches, (command, self.truth.breaches)
        if isinstance(command, Stop) and not job.core.ended:
            assert not outcome.refused and self.job.core.held
        return outcome

    def _count(self, command: Command, outcome: Outcome) -> None:
        self.counts["steps"] += 1
        self.counts["refused"] += outcome.refused
        for event in outcome.events:
            match event:
                case Granted(act, _):
                    self.counts[f"act {act.value}"] += 1
                case Tripped(trip):
                    self.counts[f"trip {trip.value}"] += 1
                case ResetDone(trip):
                    self.counts[f"reset {trip.value}"] += 1
                case Corrected() | Waived() | Held():
                    self.counts[type(event).__name__] += 1
                case _:
                    pass

    def give(self, command: Command) -> Outcome:
        self.clock.wait(2)
        if not self.upset and self.chance.random() > self.luck:
            self.upset = True
            try:
                self.disturb()
            finally:
                self.upset = False
        if self.job.bay.engine is Engine.STOPPED and not self.upset and self.chance.random() < 0.02:
            self.kill()  # with the engine running a kill trips, and few walks get far
        outcome = self.submit(command)
        if outcome is None:
            raise Stuck("an honest person cannot say so")
        return outcome

    def wait(self, seconds: float) -> None:
        self.clock.wait(seconds)
        self._tick()

    def _tick(self) -> None:
        self.submit(Tick())

    def disturb(self) -> None:
        """Anything that may come between: by weight, the kill most often."""
        chance, step = self.chance, self.job.core.step
        fact = chance.choice(list(FACTS))
        word = chance.choice(WORDS)
        names = [r.name for r in self.job.log.records] or ["none"]
        ids = [s.id for s in self.session.plan.procedure(self.job.core.procedure).steps()]
        pick = chance.choice("kkkklllllrrrrrrtbagcwnmsjqx")
        match pick:
            case "k":
                self.kill()
            case "l":
                self.submit(Look(fact, chance.choice([s.value for s in FACTS[fact]])))
            case "r":
                what = chance.choice([h.value for h in Happening])
                self.submit(
                    Report(what, chance.choice(("", "2", "9", "?")), chance.choice(("", "5 mL")))
                )
            case "t":
                self._time()
            case "b":
                self.submit(Back(chance.choice(ids)))
            case "a":
                self.submit(Answer(step, word))
            case "g" if chance.random() < 0.15:
                self.submit(GiveUp())
            case "c":
                self.submit(
                    Correct(chance.choice(names), chance.randrange(3), word, "typed it wrong")
                )
            case "w":
                row = chance.choice(INTERLOCKS).id
                self.submit(Waive(row, chance.choice(PEOPLE), "agreed between the two of us"))
            case "n":
                self.submit(Note("called", {"role": "technician"}))
            case "m":
                self.submit(AnswerMeanwhile(chance.choice(("no", "no", "yes", "unknown", word))))
            case "s":
                self.submit(Stop(word[:20]))
            case "j":
                self.submit(NotApplicable(step, "there is no such part on this one"))
            case "q":
                self.submit(Sign(step, chance.choice(PEOPLE)))
            case _:
                self.submit(Begin(chance.choice(ids), word))

    def _time(self) -> None:
        pick = self.chance.randrange(5)
        if pick == 4:
            self.clock.boot += 1
            self.kill()
        else:
            self.clock.ms += (10_000, 400_000, 4_000_000, -5_000)[pick]
            self.clock.ms = max(0, self.clock.ms)
            self._tick()

    def kill(self) -> None:
        """The process dies: nothing is closed in order; its last line may be torn or unheaded."""
        writer = self.session.writer
        os.close(writer._fd)  # type: ignore[arg-type]  # as the system does for a dead process
        os.close(writer.lock._fd)  # type: ignore[arg-type]
        writer._fd = writer.lock._fd = None
        expected = self.job
        journal, how = self.folder.journal, self.chance.choice(("whole", "no head", "torn"))
        if self.before is None:
            how = "whole"
        if self.before is not None and how != "whole":
            head, size, job, truth = self.before
            self.folder.head.write_bytes(head)  # the last line was never confirmed
            if how == "torn":
                raw = journal.read_bytes()
                journal.write_bytes(raw[: self.chance.randrange(size, len(raw))])
                expected, self.truth = job, truth
        self.counts["kills"] += 1
        self.counts[f"kills, last line {how}"] += 1
        self.session, _, _ = resume(self.folder, self.clock, self.worker)
        self.before = None
        lines = list(read(self.folder.path))
        stood = fold(lines if expected.core.ended else lines[:-1])
        assert stood == expected, "more was lost than the answer that was not confirmed"
        events = tuple(self._new_events(lines))
        self.truth = self.truth.told(expected, events) if events else self.truth
        self.job = self.session.job
        assert not self.truth.breaches, self.truth.breaches
        assert self.job == fold(lines)

    def _new_events(self, lines: list[Any]) -> list[Any]:
        last = lines[-1]
        if last.command["kind"] != "Interrupted":
            return []
        return [decode_event(plain) for plain in last.outcome["events"]]

    def settle(self) -> None:
        """After a stop or a kill: say what was, look again, go on; go back at times when stuck."""
        if self.job.core.meanwhile:
            self.submit(AnswerMeanwhile("no"))
        for fact in self.job.core.ask_again:
            states = [s.value for s in FACTS[fact] if s.value != "unknown"]
            if hasattr(self.truth.world, fact):
                states.insert(0, getattr(self.truth.world, fact))
            states = [*GOOD.get(fact, ()), *states]
            if all(self.submit(Look(fact, s)) is None for s in states[:1]):
                self.submit(Look(fact, self.chance.choice(states)))
        if self.job.core.held:
            self.submit(GoOn())

    def walk(self, most: int) -> str:
        stuck = 0
        while not self.job.core.ended and self.counts["steps"] < most:
            try:
                self.settle()
                if not self.job.core.ended:
                    self.one()
            except Stuck:
                stuck += 1
                self._look_at_unknown_truly()
                if stuck % 12 == 0:
                    self.submit(GiveUp())
            except (KeyError, AssertionError) as error:
                if not _of_walk(error):
                    raise
        self.close()
        return self.job.core.ended or "not ended"

    def _look_at_unknown_truly(self) -> None:
        for fact, good in GOOD.items():
            if getattr(self.job.bay, fact).unknown:
                self.submit(Look(fact, self.look(fact, good)))

    def close(self) -> None:
        self.session.writer.close()
        assert verify(self.folder.path).sound
        assert fold(list(read(self.folder.path))) == self.job
        found = audit(self.folder)
        assert found.intact and found.differences == (), found.differences[:3]


def _of_walk(error: Exception) -> bool:
    """Whether ``Walk`` itself gave up: an act without a permit, an outcome it cannot name."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    return trace is not None and trace.tb_frame.f_code.co_filename.endswith("procedure_walk.py")
