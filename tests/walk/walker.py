"""A careful person at one real job, who does what the screen says; see ``mishaps`` for the rest."""

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from steplatch.runner.core.commands import (
    KEPT_APART,
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Command,
    GiveUp,
    GoOn,
    Look,
    NotApplicable,
    Report,
    Sign,
    Stop,
    Tick,
    Waive,
)  # fmt: skip
from steplatch.runner.core.engine import Outcome
from steplatch.runner.core.events import (
    Corrected,
    Held,
    MarkedNotApplicable,
    Moved,
    Signed,
    Waived,
    WaiverUsed,
)
from steplatch.runner.core.steps import ResetStep, SprayStep
from steplatch.runner.screen.way_back import way_back
from steplatch.safety.bay import FACTS, Act, Crew, Engine, FluidIn, Gun, Tag
from steplatch.safety.effects import LASTS_S
from steplatch.safety.interlocks import WAIVABLE
from steplatch.safety.kernel import LOOKED_AT, Granted, Happened, ResetDone, Seen, Tripped
from steplatch.safety.occurrences import OUTCOMES, TRIPS, Happening

from tests.procedure_walk import CHECKER, GOOD, Stuck, Walk
from tests.walk.desks import Desk
from tests.walk.moves import Breach, Move, Opening, Played
from tests.walk.truth_beside import Untrue, explained

FRESH_SHARE = 0.5
"""Share of a fact's life after which a careful person looks again."""
STUCKS = 20
LEFT_OUT = 0.1
"""How often a step that may not apply is left out."""
STEPS_BACK = 8
STEPS = "steps"


class Disturbed(Stuck):
    """Something came between: what was about to be done is no longer what is due."""


@dataclass
class Fate:
    """What a walk has in store: how often something comes between, and the one thing that does.

    ``rate`` is the chance of a mishap before a command, ``kills`` of a kill, ``slip`` that an
    act comes out otherwise than hoped; ``theme`` names what comes once, when it can;
    ``false_reports`` is the chance that one report is false; ``false_report`` names the one that is
    given as soon as it can be.
    """

    rate: float = 0.004
    kills: float = 0.004
    slip: float = 0.01
    theme: str = ""
    false_reports: float = 0.0
    false_report: str = ""
    weights: dict[str, float] | None = None
    at: frozenset[str] = frozenset()
    """Steps before which a mishap comes ten times as often, and the theme only."""


class Walker(Walk):
    """``Walk`` on a real desk: every command is a recorded move, watched by the monitors."""

    def setup(self, desk: Desk, opening: Opening, chance: random.Random, fate: Fate) -> None:
        """Begin. ``chance`` draws everything; the same draws give the same walk."""
        self.chance, self.fate, self.opening = chance, fate, opening
        self.counts = Counter[str]()
        self.moves: list[Move] = []
        self.played = Played(desk, opening.dry)
        self.desk, self.job = desk, desk.job
        self.refusals: tuple[Any, ...] = ()
        self.habit: dict[str, str] = {}
        self.between: Callable[[], None] | None = None
        self.lied = ""
        self.spent = False
        self.stuck = 0

    # -- one move ------------------------------------------------------------------------------

    def make(self, move: Move) -> Outcome | None:
        """Make a move; None when it would be a false report, or there is no answer to it."""
        core = self.job.core
        try:
            outcome = self.played.play(move)
        except Untrue:
            self.counts["untrue, not said"] += 1
            self.moves.append(move)  # its time went by
            return None
        self.moves.append(move)
        self.job = self.desk.job
        if move.command is None and not move.silent:
            self.counts["kills"] += 1
            self.counts[f"kills, last line {move.how}"] += 1
        if outcome is not None:
            self._count(outcome)
        self.lied = (
            self.lied or move.false_report or (f"silence: {move.silent}" if move.silent else "")
        )
        self._watch()
        if isinstance(move.command, Stop) and core.opened and not core.ended:
            assert outcome is not None and not outcome.refused and self.job.core.held
        return outcome

    def _watch(self) -> None:
        for monitor, said in self.played.truth.breaches:
            if self.lied and explained(monitor, self.lied):
                self.counts["breached by the one lie"] += 1
                self.spent = True  # what follows from it shows nothing more
                continue
            false_report = f" (after one lie, {self.lied})" if self.lied else ""
            raise Breach(self.opening, self.moves, monitor.name, said + false_report)

    def submit(self, command: Command, by: str = "", ms: int = 1000) -> Outcome | None:
        """Give one command that is no good work."""
        return self.make(Move(command, by or self.worker, self._luck(), ms=ms))

    def careful(self, command: Command, ms: int = 2000, false_report: str = "") -> Outcome | None:
        """Give one command of good work."""
        return self.make(
            Move(command, self.worker, self._luck(), ms=ms, false_report=false_report, careful=True)
        )

    def _luck(self) -> int:
        return self.chance.randrange(1 << 20)

    def _count(self, outcome: Outcome) -> None:
        self.counts[STEPS] += 1
        self.counts["refused"] += outcome.refused
        wet = self.job.bay.fluid_in is FluidIn.YES
        for event in outcome.events:
            match event:
                case Granted(act, _):
                    self.counts[f"act {act.value}"] += 1
                    if wet and act in (Act.START, Act.RUN_ON, Act.RAISE, Act.READ_AFTER):
                        self.counts[f"act {act.value} after fluid"] += 1
                    if act is Act.RUN_ON and self.job.bay.engine is Engine.RAISED:
                        self.counts["act run_on at raised revs"] += 1
                case Happened(what, _) if what in (Happening.SOAK_DUE, Happening.TURN_SEEN):
                    self.counts[what.value] += 1
                case Tripped(trip):
                    self.counts[f"trip {trip.value}"] += 1
                case ResetDone(trip):
                    self.counts[f"reset {trip.value}"] += 1
                case Moved(_, procedure, "divert"):
                    self.counts[f"in {procedure}"] += 1
                case Signed(role=role, meaning=meaning):
                    self.counts[f"signed {meaning}"] += 1
                    self.counts[f"signed by a {role}"] += 1
                case Corrected() | Waived() | WaiverUsed() | MarkedNotApplicable() | Held():
                    self.counts[type(event).__name__] += 1
                case _:
                    pass

    # -- good work -----------------------------------------------------------------------------

    def give(self, command: Command) -> Outcome:
        """One command of good work, before which something may come between."""
        if self.between is not None:
            between, self.between = self.between, None
            core = self.job.core
            try:
                between()
            finally:
                self.between = between
            if self.job.core.ended or _due(self.job.core) != _due(core):
                raise Disturbed
        command = self._slipped(command)
        outcome = self.careful(command, self._pace(), self._lie(command))
        if outcome is None:
            raise Stuck("an honest person cannot say so")
        self.refusals = outcome.refusals
        if isinstance(command, Look) and not outcome.refused:
            self.habit[command.fact] = command.state
        return outcome

    def _pace(self) -> int:
        pick = self.chance.random()
        return 2000 if pick < 0.8 else 20_000 if pick < 0.97 else 120_000

    def _slipped(self, command: Command) -> Command:
        """An act may come out otherwise than hoped."""
        act = self.job.bay.permit
        if not isinstance(command, Report) or act is None or len(OUTCOMES[act]) < 2:
            return command
        themed = [w for w in OUTCOMES[act] if w.value == self.fate.theme]
        if command.what != OUTCOMES[act][0].value:
            return command
        if themed and self.chance.random() < 0.5:
            self.fate.theme = ""
            return Report(themed[0].value, seconds=self.chance.choice(("", "3", "?")))
        if self.chance.random() < self.fate.slip:
            what = self.chance.choice(OUTCOMES[act][1:])
            return Report(what.value, seconds=self.chance.choice(("1", "3", "8", "?")))
        return command

    def _lie(self, command: Command) -> str:
        """Now and then one answer of good work is false, once in a walk."""
        fate = self.fate
        if self.lied or not (
            fate.false_report or (fate.false_reports and self.chance.random() < fate.false_reports)
        ):
            return ""
        foreseen = self.desk.decide(command, self.worker)
        bay = self.job.bay
        for event in foreseen.events:
            false_report = ""
            match event:
                case Seen(fact, state) if not hasattr(self.played.truth.world, fact):
                    false_report = f"look: {fact} {state.value}"
                case Happened(what, _) if bay.permit is not None and what in OUTCOMES[bay.permit]:
                    kind = "volume" if what is Happening.SPRAY_ENDED else "report"
                    false_report = f"{kind}: {what.value}"
                case _:
                    pass
            if (
                false_report
                and fate.false_report in ("", false_report)
                and (not fate.false_report or self.chance.random() < 0.6)
            ):
                return self._lying(false_report)
        return ""

    def _lying(self, false_report: str) -> str:
        self.counts[false_report] += 1
        self.counts["lies told"] += 1
        return false_report

    def wait(self, seconds: float) -> None:
        self.careful(Tick(), int(seconds * 1000))

    def _tag(self) -> str:
        wet, strict = self.job.bay.wet, self.job.core.limits.strict
        tag = Tag.KEY_TAGGED if wet is not None and wet <= strict else Tag.DO_NOT_START
        return str(tag.value)

    def look(self, fact: str, want: tuple[str, ...]) -> str:
        if fact == "tag":
            return self._tag()
        true = getattr(self.played.truth.world, fact, None)
        if true in want and fact not in ("key", "hands"):
            return str(true)
        return super().look(fact, want)

    def _asked(self, step: Any) -> str:
        if step.personal:
            return KEPT_APART + "0" * 64
        return super()._asked(step)

    def _sign(self, step: Any) -> None:
        """Sign as the step asks: the customer, or somebody with the role who did no work."""
        role = getattr(step, "role", "")
        if role == "customer":
            self.must(Sign(step.id, "customer"))
            return
        if self.job.bay.crew is not Crew.PAIR and isinstance(step, ResetStep):
            self._call_somebody()
        alone = self.job.bay.crew is not Crew.PAIR
        people = [CHECKER, "supervisor-1"] if role != "supervisor" else ["supervisor-1"]
        others = [p for p in people if p not in self.job.log.doers]
        self.must(Sign(step.id, self.worker if alone or not others else others[0]))

    def _call_somebody(self) -> None:
        """Nobody checks a recovery alone: a second person comes and stays."""
        self.answers = {**self.answers, "crew": "pair", "controls": "other"}
        self.worker = "apprentice-1"
        self.must(Look("crew", "pair"))

    def _spray(self, step: SprayStep) -> None:
        """One burst or two, mostly as long as may be; then on, when enough went in."""
        if step.engine == "running" and self.job.bay.gun is Gun.AWAY:
            self.must(Answer(step.id, "done"))  # after a recovery it is away for good
            return
        if self.job.bay.rate.unknown:
            self.must(Answer(step.id, "19 20 21 mL in 5 s"))
        seconds = "2" if self.job.bay.tier.value == "strict" and step.engine == "off" else "4"
        if self.chance.random() < self.fate.slip:
            seconds = self.chance.choice(("1", "9", "30", "600"))
        begun = self.give(Begin(step.id, seconds))
        if begun.refused and self.job.bay.fluid_in is FluidIn.YES and self.chance.random() < 0.5:
            self.must(Answer(step.id, "done"))  # enough went in
            return
        if not self.job.core.begun:
            raise Stuck("the spray was refused")
        told = seconds
        if self.chance.random() < self.fate.slip:
            told = self.chance.choice(("1", "?", "", "12", "60"))
        self.must(Report("spray_ended", seconds=told))
        if step.engine == "running" and self.job.core.step == step.id:
            self.must(Answer(step.id, "done"))

    def fresh(self) -> None:
        """Look again at what grows old, before it is too old to be believed."""
        log = self.job.log
        for fact, lasts_s in LASTS_S.items():
            if fact not in LOOKED_AT or not self.job.bay.knows(fact):
                continue
            age_s = (log.aged_ms - log.set_ms.get(fact, 0)) / 1000
            if age_s > FRESH_SHARE * lasts_s:
                self.careful(Look(fact, getattr(self.job.bay, fact).value))

    def truly(self, fact: str) -> str:
        """What an honest look at ``fact`` finds, as far as the walk knows."""
        true = getattr(self.played.truth.world, fact, None)
        if true is not None:
            return str(true)
        if fact in self.habit:
            return self.habit[fact]
        if fact in GOOD:
            return GOOD[fact][0]
        return next(s.value for s in FACTS[fact] if s.value != "unknown")

    def settle(self) -> None:
        """After a stop or a kill: say what was, look again, go on."""
        if self.job.core.meanwhile:
            self.careful(AnswerMeanwhile("no"))
        again = self.job.core.ask_again
        for fact in sorted(again, key=lambda fact: fact != "crew"):
            if self.careful(Look(fact, self.truly(fact))) is None:
                self.careful(Look(fact, self.chance.choice([s.value for s in FACTS[fact]])))
        if self.job.core.held:
            self.careful(GoOn())

    def on(self) -> None:
        """Do what is due: settle, look again at what grows old, work the step; help when stuck."""
        self.settle()
        if self.job.core.ended:
            return
        self.fresh()
        if getattr(self.step, "may_not_apply", False) and self.chance.random() < LEFT_OUT:
            self.careful(Begin(self.job.core.step))
            self.careful(NotApplicable(self.job.core.step, "there is no such part on this one"))
            return
        self.refusals = ()
        try:
            self.one()
        except Disturbed:
            pass
        except Stuck:
            self._put_right()
        except (KeyError, AssertionError) as error:
            if isinstance(error, Breach) or not _of_walk(error):
                raise

    def _put_right(self) -> None:
        """What the screen offers after a refusal: look again; go back; in the end give up."""
        self.stuck += 1
        if self.job.core.ended:
            return
        looked = False
        for fact, good in GOOD.items():
            if getattr(self.job.bay, fact).unknown:
                self.careful(Look(fact, self.look(fact, good)))
                looked = True
        if looked and self.stuck % 3:
            return
        if self._waived():
            return
        procedure = self.plan.procedure(self.job.core.procedure)
        if self.stuck % STUCKS == 0:
            self.careful(GiveUp())
            return
        offered = way_back(procedure, self.job, self.refusals) if self.refusals else None
        ids = [s.id for s in procedure.steps()]
        at = ids.index(self.job.core.step)
        if offered is not None and self.stuck % 4:
            self.careful(Back(offered.id))
        elif at and self.stuck % 2:
            self.careful(Back(ids[max(0, at - 1 - self.chance.randrange(STEPS_BACK))]))

    def _waived(self) -> bool:
        """Where only rows refuse that may be waived, another person waives one, at times."""
        rows = [r.interlock for r in self.refusals]
        if not rows or not WAIVABLE.issuperset(rows) or self.chance.random() < 0.2:
            return False
        others = [p for p in (CHECKER, "supervisor-1") if p not in self.job.log.doers]
        reason = "the tester shows none of them, seen by both"
        self.careful(Waive(rows[0], others[0] if others else "customer", reason))
        return True

    def walk(self, most: int) -> str:
        """Work on until the job ends, ``most`` commands at most; say how it ended."""
        while not self.job.core.ended and not self.spent and self.counts[STEPS] < most:
            self.on()
        return self.close()

    def close(self) -> str:
        """Close the desk and count what came of it."""
        if self.desk.close():
            self.counts["sealed"] += 1
        end = self.job.core.ended or ("spent" if self.spent else "not ended")
        self.counts[f"ended: {end}"] += 1
        return end


def _due(core: Any) -> tuple[Any, ...]:
    """What is due: a command meant for one such place is not given at another."""
    asked = core.held, core.ask_again, core.meanwhile
    return core.procedure, core.step, core.begun, core.bay.permit, *asked


def _of_walk(error: Exception) -> bool:
    """Whether ``Walk`` itself gave up: an act without a permit, an outcome it cannot name."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    return trace is not None and trace.tb_frame.f_code.co_filename.endswith("procedure_walk.py")


THEMES: tuple[str, ...] = (
    *(what.value for what in TRIPS), *("stalled",) * 4, "unattended", "unpermitted",
)  # fmt: skip
"""What may come once in a walk: every happening that trips, and the three that depend. A stall
needs fluid in a running engine, so it is drawn more often."""
