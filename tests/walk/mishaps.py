"""What may come between at a real job: kills, time, people, the world, slips of the tongue."""

import random
from collections.abc import Callable
from typing import Any

from steplatch.runner.core.commands import (
    Answer,
    AnswerMeanwhile,
    Back,
    Begin,
    Correct,
    GiveUp,
    Look,
    NotApplicable,
    Note,
    Report,
    Sign,
    Stop,
    Tick,
    Waive,
)  # fmt: skip
from steplatch.runner.core.steps import AskStep
from steplatch.safety.bay import FACTS, SPRAYS, Crew, Engine, FluidIn, Starter
from steplatch.safety.interlocks import INTERLOCKS, WAIVABLE
from steplatch.safety.kernel import LOOKED_AT
from steplatch.safety.occurrences import ALWAYS_POSSIBLE, Happening, happening_of
from steplatch.safety.plant.truth import possible

from tests.procedure_walk import LINES
from tests.safety.false_reports import PERMITTING, TIMERS
from tests.walk.desks import HOWS
from tests.walk.moves import Move
from tests.walk.walker import Fate, Walker

PEOPLE = ("apprentice-1", "technician-1", "supervisor-1", "customer", "nobody-9")
WORDS = ("", "?", "yes", "no", "-1", "nan", "1e999", "60", "2 s", "\x00", "done", "x" * 5000)
TYPED = {
    "gun": ("19 20 21 mL in 5 s", "25 26 27 mL in 5 s", "2 2 2 mL in 9 s", "loaded 14 mL"),
    "spray": ("1", "4", "9", "60"),
    "exhaust": ("40", "60", "150", "700", "60 degC"),
    "reading": tuple(LINES.values()),
    "trend": ("40", "2 kPa"),
}
"""What a correction may say, by the name of what it corrects."""
WORSE = (
    ("controls", "nobody"), ("fumes", "nothing"), ("fumes", "door_open"), ("secured", "part"),
    ("kit", "not_worn"), ("spill", "not_ready"), ("idle", "sagging"), ("burning", "yes"),
    ("line", "fluid"), ("key", "off"), ("sheet", "missing"), ("sensor", "alike"),
)  # fmt: skip
"""What an honest look may find instead of what was so."""
DAY_MS = 86_400_000
H = Happening


class Unlucky(Walker):
    """A walk in which anything may come between, by weight and by fate."""

    def setup(self, *args: Any) -> None:
        super().setup(*args)
        self.between = self._perhaps

    def _perhaps(self) -> None:
        fate, chance = self.fate, self.chance
        often = 10 if self.job.core.step in fate.at else 1
        if fate.theme and self._theme():
            return
        if fate.false_report and not self.lied and chance.random() < 0.02:
            self.tell(fate.false_report)
            return
        if chance.random() < fate.rate * often:
            kinds = fate.weights or WEIGHTS
            self.mishap(chance.choices([*kinds], [*kinds.values()])[0])
        elif chance.random() < fate.kills * often:
            self.mishap("kill")

    def mishap(self, kind: str) -> None:
        """Let one mishap of this kind come."""
        self.counts[f"mishap {kind}"] += 1
        MISHAPS[kind](self)

    # -- the one thing in store ----------------------------------------------------------------

    def _theme(self) -> bool:
        """Let the one thing come if it can, and chance says now. Whether it came."""
        theme, bay, chance = self.fate.theme, self.job.bay, self.chance
        running = bay.engine in (Engine.IDLING, Engine.RAISED)
        if self.fate.at and self.job.core.step not in self.fate.at:
            return False
        often, command = 0.3 if self.fate.at else 0.03, None
        match theme:
            case "stalled":
                if running and (bay.wet or bay.permit in SPRAYS):
                    often, command = 0.3, Report(theme, seconds=chance.choice(("", "2", "?")))
            case "unattended":
                if running:
                    fact, state = chance.choice(
                        (("controls", "nobody"), ("fumes", "nothing"), ("secured", "part"))
                    )
                    often, command = 0.06, Look(fact, state)
            case "unpermitted":
                what = chance.choice((H.HOSE_OFF, H.GUN_UNCOUPLED, H.IGNITION_ON, H.HANDS_IN))
                command = Report(what.value)
            case "over_ceiling":
                if bay.engine is Engine.RAISED:
                    often, command = 0.3, Report(theme)
            case "self_started":
                if bay.engine is Engine.STOPPED and bay.starter is not Starter.DISABLED:
                    often, command = 0.06, Report(theme)
            case "ran_away":
                if running:
                    often, command = 0.06, Report(theme)
            case "overdosed":
                if bay.fluid_in is FluidIn.YES or bay.permit in SPRAYS:
                    often, command = 0.06, Report(theme)
            case "turned_hard" | "cranked_uneven":
                return False  # these come as outcomes
            case _:
                if theme in HAPPENINGS:
                    command = Report(theme)
        if command is None or chance.random() > often:
            return False
        self.fate.theme = ""
        return self.submit(command) is not None

    # -- mishaps -------------------------------------------------------------------------------

    def kill(self) -> None:
        """The program dies; often nothing but that, at times the computer too."""
        chance = self.chance
        boot = chance.random() < 0.2
        self.make(
            Move(None, self.worker, self._luck(), ms=chance.choice((500, 30_000, 600_000)),
                 boot=boot, how=chance.choice(HOWS))
        )  # fmt: skip

    def look_at_anything(self) -> None:
        """Somebody looks at something, and says honestly what it is."""
        fact = self.chance.choice([*FACTS])
        self.submit(Look(fact, self.chance.choice([s.value for s in FACTS[fact]])))

    def same_look(self) -> None:
        """Somebody looks, and all is as it was: where the walk knows."""
        fact = self.chance.choice([*FACTS])
        self.submit(Look(fact, self.truly(fact)))

    def worse(self) -> None:
        """Somebody looks, and something that was good no longer is; or the key is taken out."""
        self.submit(Look(*self.chance.choice(WORSE)))

    def happening(self) -> None:
        """Something happens, of all that can."""
        what = self.chance.choice([*Happening])
        seconds, volume = self.chance.choice(("", "2", "9", "?")), self.chance.choice(("", "5 mL"))
        self.submit(Report(what.value, seconds, volume))

    def pause(self) -> None:
        """Work rests for some minutes."""
        self.submit(Tick(), ms=self.chance.choice((10_000, 400_000, 700_000, 1_000_000)))

    def long_pause(self) -> None:
        """Work rests for more than an hour, with the engine at rest or not."""
        self.submit(Tick(), ms=self.chance.choice((4_000_000, 20_000_000)))

    def clock_back(self) -> None:
        """The computer's clock goes back."""
        self.submit(Tick(), ms=self.chance.choice((-5_000, -400_000)))

    def date_set(self) -> None:
        """Somebody sets date and time forward or back."""
        self.make(
            Move(Tick(), self.worker, self._luck(), ms=1000,
                 wall_ms=self.chance.choice((-DAY_MS, -3_600_000, 3_600_000, DAY_MS)))
        )  # fmt: skip

    def back(self) -> None:
        """Somebody goes back to a step done before, or tries to go forward."""
        self.submit(Back(self._any_step()))

    def nonsense(self) -> None:
        """Something odd is typed."""
        self.submit(Answer(self.job.core.step, self.chance.choice(WORDS)))

    def out_of_order(self) -> None:
        """Another step is begun, or this one anew, or a burst of any length."""
        step = self.chance.choice((self.job.core.step, self._any_step()))
        self.submit(Begin(step, self.chance.choice(("", "2", "30", *WORDS))))

    def correct(self) -> None:
        """A record is corrected, to something that could be."""
        records = self.job.log.records
        if not records:
            return
        record = self.chance.choice(records)
        number = [r for r in records if r.name == record.name].index(record)
        step = self.plan.step(*record.key)
        typed: tuple[str, ...] = TYPED.get(record.name, WORDS)
        if record.name not in TYPED and isinstance(step, AskStep):
            options = [o.value for o in step.options]
            typed = (*options, *("98000 km", "6", "3 bar", "seen otherwise")[: 4 - len(options)])
        value = self.chance.choice(typed or WORDS)
        reason = self.chance.choice(("read it wrong the first time", "typo"))
        self.submit(Correct(record.name, number, value, reason), self._anybody())

    def waive(self) -> None:
        """Somebody waives an interlock, mostly one that may be waived."""
        rows = sorted(WAIVABLE) if self.chance.random() < 0.6 else [r.id for r in INTERLOCKS]
        reason = "the tester cannot clear what it never showed"
        self.submit(
            Waive(self.chance.choice(rows), self.chance.choice(PEOPLE), reason), self._anybody()
        )

    def not_applicable(self) -> None:
        """The step is left as not applicable, which most may not be."""
        if self.job.core.step:
            self.submit(Begin(self.job.core.step))
            self.submit(NotApplicable(self.job.core.step, "there is no such part on this one"))

    def sign(self) -> None:
        """Anybody signs."""
        self.submit(Sign(self.job.core.step, self.chance.choice(PEOPLE)), self._anybody())

    def other_worker(self) -> None:
        """Another person goes on with the work."""
        if self.job.bay.crew is Crew.PAIR:
            self.worker = self.chance.choice(PEOPLE[:3])

    def note(self) -> None:
        self.submit(Note("called", {"role": "technician"}))

    def meanwhile(self) -> None:
        word = self.chance.choice(("no", "no", "yes", "unknown", *WORDS))
        self.submit(AnswerMeanwhile(word))

    def stop(self) -> None:
        self.submit(Stop(self.chance.choice(WORDS)[:20]))

    def give_up(self) -> None:
        self.submit(GiveUp())

    def crew(self) -> None:
        """Somebody comes or goes."""
        self.submit(Look("crew", self.chance.choice(("pair", "alone_adult", "alone_junior"))))

    def false_report(self) -> None:
        """One answer is false, once: a look, a happening told or kept silent."""
        if not self.lied:
            self.tell(self.chance.choice(LIES))

    def tell(self, false_report: str) -> None:
        """Tell this lie, where it would not be true by chance."""
        kind, _, name = false_report.partition(": ")
        world, command, silent = self.played.truth.world, None, ""
        if kind == "look":
            fact, _, state = name.partition(" ")
            if getattr(world, fact, "") == state:
                return  # it would be true
            command = Look(fact, state)
        elif kind == "report":
            volume = "5 mL" if name == "drained" else ""
            command = Report(name, volume_ml=volume)
        elif kind == "silence" and possible(world, happening_of(name)):
            silent = name
        if command is None and not silent:
            return
        self.counts[false_report] += 1
        self.counts["lies told"] += 1
        self.make(
            Move(command, self.worker, self._luck(), ms=1000,
                 false_report="" if silent else false_report, silent=silent)
        )  # fmt: skip

    def _any_step(self) -> str:
        steps = self.plan.procedure(self.job.core.procedure).steps()
        return str(self.chance.choice(steps).id)

    def _anybody(self) -> str:
        return self.worker if self.chance.random() < 0.7 else self.chance.choice(PEOPLE)


def every_lie() -> tuple[str, ...]:
    """Every lie that may be told: a look that would permit something, a report, a silence."""
    looks = [
        f"look: {fact} {state.value}"
        for fact in sorted(LOOKED_AT)
        for state in FACTS[fact]
        if state in PERMITTING
    ]
    told = [f"report: {what.value}" for what in Happening if what not in TIMERS]
    kept = [f"silence: {what.value}" for what in Happening if what in ALWAYS_POSSIBLE - TIMERS]
    return (*looks, *told, *kept, "volume: spray_ended")


LIES = every_lie()
HAPPENINGS = frozenset(what.value for what in Happening)
MISHAPS: dict[str, Callable[[Unlucky], None]] = {
    "kill": Unlucky.kill,
    "look": Unlucky.look_at_anything,
    "same look": Unlucky.same_look,
    "worse": Unlucky.worse,
    "happening": Unlucky.happening,
    "pause": Unlucky.pause,
    "long pause": Unlucky.long_pause,
    "clock back": Unlucky.clock_back,
    "date set": Unlucky.date_set,
    "back": Unlucky.back,
    "nonsense": Unlucky.nonsense,
    "out of order": Unlucky.out_of_order,
    "correct": Unlucky.correct,
    "waive": Unlucky.waive,
    "not applicable": Unlucky.not_applicable,
    "sign": Unlucky.sign,
    "other worker": Unlucky.other_worker,
    "note": Unlucky.note,
    "meanwhile": Unlucky.meanwhile,
    "stop": Unlucky.stop,
    "give up": Unlucky.give_up,
    "crew": Unlucky.crew,
    "lie": Unlucky.false_report,
}
"""Every kind of mishap by its name."""

WEIGHTS: dict[str, float] = {
    "kill": 3, "look": 1, "same look": 4, "worse": 1, "happening": 1, "pause": 3, "long pause": 0.5,
    "clock back": 1, "date set": 3, "back": 3, "nonsense": 4, "out of order": 3, "correct": 5,
    "waive": 4, "not applicable": 4, "sign": 3, "other worker": 2, "note": 1, "meanwhile": 0.5,
    "stop": 3, "give up": 0.15, "crew": 0.4,
}  # fmt: skip
"""How often each comes beside the others. A lie comes by its own chance (``Fate.lies``)."""


def fate_of(chance: random.Random, themes: tuple[str, ...]) -> Fate:
    """What a walk has in store: mostly little, at times much."""
    rate = chance.choice((0.0, 0.003, 0.01, 0.02, 0.05))
    theme = chance.choice(themes) if chance.random() < 0.6 else ""
    false_reports = 0.01 if chance.random() < 0.15 else 0.0
    return Fate(
        rate, kills=min(rate, 0.01), slip=min(rate, 0.02), theme=theme, false_reports=false_reports
    )
