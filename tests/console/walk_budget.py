"""What the tool adds to a two-hour job, counted from a whole job that was walked through.

``python -m tests.console.walk_budget`` plays the shipped good clean, counts every question and
every caution, and multiplies by the seconds below. It prints the table; the test holds it to what
was reached. Wanted: at most 8 min in all, 3 of them on the critical path (nothing else goes on
meanwhile), with the pauses to think. What keeps it above stands under ``WHY``.

Keys, homing and the pause to think are those of the keystroke-level model (Card, Moran, Newell,
CACM 23(7), 1980, table of operators: K 0.28 s for an average typist who is no secretary, H 0.40,
M 1.35; from memory). How many of each a question takes is an assumption. Two columns:

- *keys*: keys and cautions alone. The same work from a list on paper asks for the same reading,
  deciding and writing down, so that these are in the two hours already.
- *thought*: a pause to think (M) at each decision on top, as if paper asked for none: more than
  the tool adds.

Off the critical path (``meanwhile``) is what is asked while something else takes its time anyway:

- the customer talks (take in, history, agreement), unless the step looks at the vehicle;
- the exhaust cools, from the stop of the engine to the measured cool pipe (20 to 40 min, common
  practice, no source): the zero, key, kit and each measuring again;
- the drying run; the two minutes for which revs or idle are held before a set is read;
- paper that was written ahead in one of these waits: its turn then takes one key.

Not counted: looking, measuring, waiting, talking to the customer. A caution is counted as known:
a first job, in which each is read for 6 s, takes about 4 min longer. The walk counts bursts in
jumping practice time, where their seconds are asked for; a real burst is two keys.
"""

import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from steplatch.runner.core.loading import load_procedure
from steplatch.runner.core.steps import AskStep
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.screen.meanwhile import WRITTEN_AHEAD
from steplatch.runner.screen.page import parts_of
from steplatch.runner.screen.talk import Prompt

from tests.console.conftest import walked

K, H, M = 0.28, 0.40, 1.35
SECONDS = {
    "choice": H + K,  # a figure, taken as it is pressed
    "go": H + K,  # the deliberate key, taken as it is pressed
    "outcome": H + K,  # what came of the act: known before it is asked
    "line": H + 5 * K,  # a number or a short word, Enter
    "seconds": H + 5 * K,  # how long to spray: chosen, not copied
    "text": H + K,  # a line of words takes as long as by hand: Enter on top
    "reading": H + K,  # six values, as by hand
    "person": H + 12 * K - 3.0,  # a name, where paper takes a signature of 3 s
    "burst": 2 * K,  # trigger open, trigger shut
    "caution": M,  # seen again; its word and first line
    "part": K,  # Enter reads on
}
NO_PAUSE = ("caution", "part", "burst", "outcome", "line", "text", "reading")
"""A caution is its own pause; what came of an act is fully anticipated by the act (rule 1 of the
model: such an M is taken out); a number or words copied from display or paper are arguments, before
which rule 0 places no M."""
WANTED_MIN = (8.0, 3.0)
"""In all and on the critical path, pauses counted: met by neither (``WHY``)."""
KEYS_MIN, THOUGHT_MIN = (6.5, 4.2), (9.3, 6.3)
"""The same as reached, without and with the pauses, with room for one question more."""
WHY = {
    "before the first wait": "the first look: what forbids an act is asked before the act",
    "cool, before the start": "hands, pipe, gun and people, each looked at by the act it guards; "
    "two signatures. What does not grow stale is asked while it cools",
    "engine with fluid in": "the last looks before the start and the spray; cautions of acts that "
    "hurt stand in full each time",
    "after drying": "what can only be seen then: readings, codes, road, leaks, the end",
}
"""The parts of the job, and why their questions stay on the critical path. No look is left to take
out or to move: one asked earlier would be stale, one asked later would come after its act."""
PART_FROM = {
    "line-hands:outcome": "cool, before the start",
    "run-hands": "engine with fluid in",
    "hold-level": "after drying",
}
WITH_CUSTOMER = ("Take in", "History", "Agreement")
AT_THE_VEHICLE = ("identity", "distance", "oil-level")
COOLS_FROM, COOL_AGAIN = "before-stop:outcome", ("line-hands:outcome",)
"""The question from which the exhaust cools, and the first for which it has to be cool."""
WRITABLE = frozenset(
    step.id
    for step in load_procedure(PROCEDURES / "clean-above.yaml")[0].steps()
    if isinstance(step, AskStep) and step.name in WRITTEN_AHEAD and step.form == "text"
)
COLUMNS, ROWS = 80, 24


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: what, how often, and how often on the critical path."""

    what: str
    count: int
    critical: int

    def seconds(self, critical: bool, thought: bool) -> float:
        """Seconds in all or on the critical path, with or without a pause to think."""
        pause = M if thought and self.what not in NO_PAUSE else 0.0
        return (self.critical if critical else self.count) * (SECONDS[self.what] + pause)


def kind_of(prompt: Prompt) -> str:
    """Which of the kinds in ``SECONDS`` a question is."""
    if prompt.text.startswith("One line:"):
        return "reading"
    if prompt.text == "Type it in words.":
        return "text"
    if prompt.key.endswith("-spray:seconds"):
        return "burst"
    if prompt.text.startswith("Type the seconds to spray"):
        return "seconds"
    if prompt.key.endswith(":outcome"):
        return "outcome"
    return prompt.kind


def meanwhile(prompt: Prompt, cooling: bool) -> str:
    """What goes on anyway while the question is answered; empty where nothing does."""
    page, step = prompt.page, prompt.key.split(":")[0]
    if cooling:
        return "cools"
    if any(text.startswith("TREND") for text, _ in prompt.lead):
        return "dries"
    if step.endswith("-lower") or prompt.key.endswith("raise:outcome"):
        return "held"
    stage = page.place.split(" ", 1)[1].rsplit(", ", 1)[0] if page is not None else ""
    return "talk" if stage in WITH_CUSTOMER and step not in AT_THE_VEHICLE else ""


def table(prompts: Iterable[Prompt]) -> list[Row]:
    """The table, one row per kind."""
    counts: Counter[str] = Counter()
    critical: Counter[str] = Counter()
    step, cooling = "", False
    for prompt in prompts:
        page, key = prompt.page, prompt.key
        cooling = (cooling or key == COOLS_FROM) and key not in COOL_AGAIN
        busy = meanwhile(prompt, cooling)
        found = [kind_of(prompt)]
        if page is not None and page.step != step:
            step = page.step
            found += ["caution"] * len(page.cautions)
            found += ["part"] * (len(parts_of(prompt, [], COLUMNS, ROWS)) - 1)
        if unknown := set(found) - set(SECONDS):
            raise ValueError(f"no seconds are given for {', '.join(sorted(unknown))}")
        counts.update(found)
        if not busy and key in WRITABLE:  # written in a wait; its turn takes a word
            counts.update(["choice", "line"])
            found[0] = "line"
        critical.update([] if busy else found)
    return [Row(what, counts[what], critical[what]) for what in SECONDS if counts[what]]


def minutes(rows: list[Row], critical: bool = False, thought: bool = False) -> float:
    """Minutes in all or on the critical path."""
    return sum(row.seconds(critical, thought) for row in rows) / 60


def lines(rows: list[Row]) -> list[str]:
    """The table as text."""
    out = [
        f"{'':<25}{'minutes in all':>18}{'on the critical path':>24}",
        f"{'question':<10}{'times':>6}{'keys s':>9}{'keys':>9}{'thought':>9}{'keys':>14}"
        f"{'thought':>10}",
    ]
    for row in rows:
        cells = [row.seconds(c, t) / 60 for c in (False, True) for t in (False, True)]
        out.append(f"{row.what:<10}{row.count:>6}{SECONDS[row.what]:>9.2f}{_cells(cells)}")
    whole = [minutes(rows, c, t) for c in (False, True) for t in (False, True)]
    out.append(f"{'in all':<25}{_cells(whole)}")
    wanted = f"{'':>9}{WANTED_MIN[0]:>9.1f}{'':>14}{WANTED_MIN[1]:>10.1f}"
    out.append(f"{'wanted':<25}{wanted}")
    return out


def remains(prompts: Iterable[Prompt]) -> list[str]:
    """What is left on the critical path, by part of the job: minutes with the pauses, and why."""
    parts: dict[str, list[Prompt]] = {name: [] for name in WHY}
    part = next(iter(WHY))
    for prompt in prompts:
        part = PART_FROM.get(prompt.key, part)
        parts[part].append(prompt)
    whole = [minutes(table(of), critical=True, thought=True) for of in parts.values()]
    rows = zip(parts, whole, strict=True)
    return ["", *(f"{name:<25}{value:>5.1f} min: {WHY[name]}" for name, value in rows)]


def _cells(minutes: list[float]) -> str:
    widths = (9, 9, 14, 10)
    return "".join(f"{value:>{width}.1f}" for value, width in zip(minutes, widths, strict=True))


if __name__ == "__main__":
    with TemporaryDirectory(prefix="steplatch-walk-") as folder:
        prompts = walked("good-clean", Path(folder))
    sys.stdout.write("\n".join(lines(table(prompts)) + remains(prompts)) + "\n")
