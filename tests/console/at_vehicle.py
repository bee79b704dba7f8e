"""A person at a real job: reads the screen, works at the simulated vehicle in the test's own
process, and types what its instruments show. The program knows nothing of that vehicle."""

import os
import re
import signal
import time
from collections.abc import Mapping

from steplatch.runner.screen.notices import TO_KNOW
from steplatch.runner.simulator.hand import Hand, Noticed
from steplatch.safety.bay import Act, state_of
from steplatch.safety.occurrences import happening_of

from tests.console.put_ahead import MINUTE_S
from tests.console.reader import SHIPPED, Reader, logical
from tests.console.terminal import Program

BURST_S = 3
"""As long as each burst of the running dose is held, by real time."""
BURSTS = 2
COOLS_S = 300.0
"""How long this person waits before measuring a hot pipe again."""
HOLD_S = 60.0


class AtVehicle(Reader):
    """Answers from the screen, the vehicle and (customer, papers) a card."""

    def __init__(self, program: Program, hand: Hand, card: Mapping[str, str], pin: str) -> None:
        super().__init__()
        self.program = program
        self.hand = hand
        self.card = card
        self.pin = pin
        self.begun_at = time.monotonic()
        self.put_ahead_s = 0.0
        self._typed = ""
        self._last = ""
        self.signed: list[str] = []
        self.used: set[str] = set()

    # -- time -------------------------------------------------------------------------------

    def now_s(self) -> float:
        """The program's own time since this person began."""
        return time.monotonic() - self.begun_at + self.put_ahead_s

    def pass_time(self, seconds: float) -> None:
        """Let as many minutes pass on the program's clock, then as long at the vehicle."""
        until = self.now_s() + seconds
        while self.now_s() < until:
            os.kill(self.program.child.pid, signal.SIGUSR1)
            self.put_ahead_s += MINUTE_S
            time.sleep(0.03)  # one signal at a time
        self.catch_up()

    def catch_up(self) -> None:
        """The same time at the vehicle as in the program; an act may have been longer."""
        behind_s = self.hand.vehicle.elapsed_s - self.now_s()
        if behind_s > 0.0:
            self.pass_time(behind_s)
        elif behind_s < -0.01:
            self.hand.vehicle.advance(-behind_s)

    # -- one question -----------------------------------------------------------------------

    def answer(self, screen: str) -> str:
        """What to type at this screen, once what it asks for was done."""
        self.catch_up()
        items = logical(screen)
        ask = " ".join(items[-8:])
        do = next((i[7:].strip() for i in reversed(items) if i.startswith("DO ")), "")
        if "type your PIN" in ask:
            self.signed.append(self._last)
            return self.pin
        if "Type the line again to keep it" in ask:
            return self._typed
        if "Type the seconds to spray" in ask:
            return str(BURST_S) if self.sprayed < BURSTS else "done"
        if "How many seconds did it spray" in ask:
            return str(BURST_S)
        noticed, told = self._at_the_vehicle(do, screen), self._card_for(do)
        choices = {m[1]: m[2] for i in items if (m := re.match(r"  (\d+) +(.*)", i))}
        if choices and noticed.answer and (said := self._said(do, screen, noticed.answer)):
            return next(n for n, words in choices.items() if words == said)
        shown = f"  (practice vehicle) {noticed.words}" if noticed.words else ""
        if told:
            shown += f"\n  (practice card) {told}"
        lines = screen.splitlines()
        typed = super().answer("\n".join([*lines[:-4], *shown.splitlines(), *lines[-4:]]))
        self._last, self._typed = typed, typed
        return typed

    def _said(self, do: str, screen: str, answer: str) -> str:
        if "What happened?" in screen:
            return happening_of(answer.split(" ")[0]).said
        fact = _fact_of(do)
        return state_of(fact, answer).said if fact else ""

    def _card_for(self, do: str) -> str:
        for step in (s for p in SHIPPED for s in p.steps() if s.do == do and s.kind == "ask"):
            told = self.card.get(step.id, "")
            said = next((o.say for o in getattr(step, "options", ()) if o.value == told), told)
            if said:
                self.used.add(step.id)
                return said
        return ""

    def _at_the_vehicle(self, do: str, screen: str) -> Noticed:
        """Do or look at what the step says."""
        steps = [s for p in SHIPPED for s in p.steps() if s.do == do]
        kind = steps[0].kind if steps else ""
        if "PERMITTED: do it now" in screen:
            return self.hand.perform(steps[0].act if kind == "act" else Act.HAND_OVER)
        if "type go to ask" in screen:
            return Noticed("")
        fact = _fact_of(do)
        if fact and (kind == "look" or fact != "key"):
            return self.hand.look(fact, steps[0].want if steps else ())
        match kind:
            case "read":
                return self.hand.reading()
            case "temperature":
                if self._last.endswith("degC"):
                    self.pass_time(COOLS_S)
                return self.hand.temperature()
            case "gun":
                return self.hand.shots()
            case "hold":
                self.pass_time(HOLD_S)
                asked = "exhaust at the filter inlet in degC" in screen
                return self.hand.temperature() if asked else self.hand.pressure()
            case "report":
                return self.hand.observe(steps[0].want[0])
        return Noticed("")

    def burst(self) -> float:
        """The count stands on the screen: open, hold, shut; returns the seconds it shows."""
        self.sprayed += 1
        self.program.shows("Trigger opens")
        self.program.child.send(" ")
        self.program.shows("SPRAYING")
        time.sleep(BURST_S - 0.6)  # off before the bell, as the count is watched
        self.program.child.send(" ")
        self.hand.vehicle.spray(float(BURST_S))
        self.program.ready()
        counted = re.search(r"Counted: ([\d.]+) s", self.program.said())
        assert counted is not None, self.program.text()
        return float(counted[1])


def _fact_of(do: str) -> str:
    """The fact that a step or a look again is about."""
    for step in (s for p in SHIPPED for s in p.steps() if s.do == do and s.kind == "look"):
        return str(step.fact)
    for fact, text in TO_KNOW.items():
        if do in (f"{text} again.", f"{text} yourself."):
            return fact
    return ""
