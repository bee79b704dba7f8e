"""A first-time reader: works a practice job from the screen alone.

All that it knows beforehand is the trade: which of the offered states a careful apprentice wants
to see, and who signs in which role. Numbers, readings and papers it takes from the screen.
"""

import re
from typing import Any

from steplatch.runner.core.loading import load_procedure
from steplatch.runner.input.shelf import procedure_files
from steplatch.runner.screen.notices import TO_KNOW
from steplatch.runner.training.lesson import LOOK_AGAIN
from steplatch.safety.bay import FACTS
from steplatch.safety.occurrences import OUTCOMES, happening_of

from tests.console.terminal import Program

SHIPPED = tuple(load_procedure(path)[0] for path in procedure_files())
WANTED = {
    "agreed": ("yes to the clean, after hearing what it cannot do and the price",),
    "Choose the engine-off dose.": ("no engine-off dose: straight to the running dose",),
}
NAMES = {"technician": "technician-1", "supervisor": "supervisor-1", "apprentice": "apprentice-1"}
SEEN = (
    (r"The engine stands still", "engine", "stopped"),
    (r"The engine runs at \d{3} ", "engine", "idling"),
    (r"The engine runs at \d{4}", "engine", "raised"),
    (r"The gun is put away", "gun", "away"),
    (r"The adaptor sits on the hose", "gun", "coupled"),
    (r"The hose hangs free", "hose", "off"),
    (r"The hose sits on its sensor", "hose", "on"),
    (r"flag: not burning", "burning", "no"),
    (r"ends in front of the filter", "sensor", "proven"),
    (r"The key is in the box", "key", "boxed"),
    (r"The starter relay is out", "starter", "disabled"),
    (r"The starter relay is in its place", "starter", "enabled"),
    (r"The crank bolt is bare", "bar", "off"),
    (r"Socket and bar sit on the bolt", "bar", "on"),
    (r"An even note", "idle", "steady"),
)
"""What the practice vehicle shows, and the state that a person takes it for."""


SEEN_BEFORE = {"key": "boxed", "agreed": "clean", "identity": "match"}


class PuzzledError(AssertionError):
    """The screen does not say what to do."""


class Reader:
    """Answers what the screen asks. ``seen`` keeps the answered screens; ``been_here``: the car is
    known to have been here before."""

    def __init__(self, been_here: bool = False) -> None:
        self.been_here = been_here
        self.sprayed = 0
        self.seen: list[str] = []

    def answer(self, screen: str) -> str:
        """What to type at this screen."""
        items = logical(screen)
        choices = {m[1]: m[2] for i in items if (m := re.match(r"  (\d+) +(.*)", i))}
        do = next((i[7:].strip() for i in reversed(items) if i.startswith("DO ")), "")
        words = _after(items, "(practice vehicle) ")
        card = _after(items, "(practice card) ")
        ask = " ".join(items[-6:])
        if "Press = for that" in ask:
            return "="
        if choices:
            return self._choice(do, choices, words, card, screen)
        for pattern, answer in (
            (r"press g\.", "g"),
            (r"Type go to (spray|go on)", "go"),
            (r"Type repeat to", "repeat"),
            (r"then type again", "again"),
            (r"to watch on, or done", "done"),
            (r"Type the line again", ""),
        ):
            if re.search(pattern, ask) and answer:
                return answer
        if match := re.search(r"Who signs as (\w+)", ask):
            return NAMES.get(match[1], match[1])
        if "How many seconds" in ask:
            return "20"
        if match := re.search(r"Type the seconds to spray, at most (\d+)", ask):
            self.sprayed += 1
            return "20" if self.sprayed < 3 else "done"
        if "or done when the dose is in" in ask:
            return "done"
        if "type done" in ask:
            return "done"
        if "Type the pressure in mbar" in ask or "the pressure to watch on" in ask:
            shown = re.search(r"Pressure ([\d.-]+ mbar)", words)
            assert shown is not None
            return short(shown[1])
        if match := re.search(r"(?:show|jug|shows): ?(.*?)\.?$", words) or re.search(
            r"shows (\d+ degC)", words
        ):
            return short(match[1])
        if card:
            known = re.search(r"^UNIT   (\S+) where", "\n".join(items), re.MULTILINE)
            if "of a car that was here before the end will do" in screen and self.been_here:
                return f"-{card.replace(' ', '')[-3:]}"
            return "0" if card == "none" else card.removesuffix(f" {known[1]}" if known else "")
        raise PuzzledError(f"what is to be typed here?\n{screen}")

    def _choice(self, do: str, choices: dict[str, str], words: str, card: str, screen: str) -> str:
        liked = {card, *_shown(words)} - {""} or _wanted(do)
        if match := re.search(r"Who signs as (\w+)", screen):
            liked |= {f"{NAMES[match[1]]} ({role})" for role in NAMES}
        if "How does the customer say so?" in screen:
            liked |= {"on the printed page, signed in my sight"}
        if "What happened?" in screen:
            liked |= {happenings[0].said for happenings in OUTCOMES.values() if happenings}
        for number, said in choices.items():
            said = said.split(" (as on ")[0]
            if said in liked or (said in ("go on", "read") and len(choices) == 1):
                return number
        raise PuzzledError(f"which of these for {do!r}?\n{screen}")


def short(shown: str) -> str:
    """What is typed of a value that stands on an instrument: no more than it needs."""
    if zero := re.fullmatch(r"(\S+) 0 0\.0 \S+ \S+ \S+", shown):
        return zero[1]
    shown = re.sub(r" (open|shut|part)$", lambda m: m[1][0], shown)
    shown = re.sub(r" mL in (\d+) s$", r"/\1", shown)
    return re.sub(r"\.0$", "", re.sub(r" (mbar|degC)$", "", shown))


def _shown(words: str) -> set[str]:
    return {
        state.said
        for pattern, fact, value in SEEN
        if re.search(pattern, words)
        for state in FACTS[fact]
        if state.value == value
    }


def _wanted(do: str) -> set[str]:
    out: set[str] = set(WANTED.get(do, ()))
    if "meanwhile" in do:
        out.add("nothing was sprayed, connected or cranked meanwhile")
    for fact, states in FACTS.items():
        if do in (f"{TO_KNOW[fact]} again.", f"{TO_KNOW[fact]} yourself."):
            value = LOOK_AGAIN.get(fact, SEEN_BEFORE.get(fact, ""))
            out |= {s.said for s in states if s.value == value}
    for step in (s for p in SHIPPED for s in p.steps() if s.do == do and do not in WANTED):
        out |= _said(step)
    return out


def _said(step: Any) -> set[str]:
    if step.kind == "look":
        return {s.said for s in FACTS[step.fact] if s.value == step.want[0]}
    if step.kind == "ask" and step.want:
        return {option.say for option in step.options if option.value == step.want[0]}
    if step.kind == "report":
        return {happening_of(step.want[0]).said}
    return set()


def logical(screen: str) -> list[str]:
    """The lines of a screen with their continuations joined."""
    out: list[str] = []
    for line in screen.splitlines():
        if re.match(r" *(\d+ \||\||mbar \+)", line):
            continue  # the picture of a trend
        indent = len(line) - len(line.lstrip())
        starts = indent == 0 or re.match(r"  (\d+|dk) ", line) or line.startswith("  (practice")
        if line.strip() and (starts or not out):
            out.append(line)
        elif line.strip():
            out[-1] += " " + line.strip()
    return out


def _after(items: list[str], mark: str) -> str:
    found = [i.split(mark, 1)[1] for i in items if mark in i]
    return found[-1] if found else ""


def work(program: Program, reader: Reader, until: str = "", most: int = 400) -> int:
    """Read and answer until the program ends (or ``until`` stands on the screen): the number of
    answers. Raises PuzzledError where the screen does not say enough."""
    for count in range(most):
        if program.child.eof() or not program.child.isalive():
            return count
        try:
            screen = program.ready()
        except AssertionError:
            if program.child.eof() or "sheet    " in program.text():
                return count
            raise
        if until and until in screen:
            return count
        reader.seen.append(screen)
        program.send(reader.answer(program.said()))
    raise PuzzledError(f"no end after {most} answers:\n{program.text()}")
