"""What the tool adds to a two-hour job, counted from a whole job that was walked through.

``python -m tests.console.walk_budget`` plays the shipped good clean, counts every question and
every caution, and multiplies by the seconds below. It prints the table; the test holds it to the
budget: at most 15 min in all, 5 of them on the critical path (nothing else goes on meanwhile).

Keys, homing and the pause to think are those of the keystroke-level model (Card, Moran, Newell,
CACM 23(7), 1980, table of operators: K 0.28 s for an average typist who is no secretary, H 0.40,
M 1.35; from memory). How many of each a question takes is an assumption. Two columns:

- *keys*: keys and cautions alone. The same work from a list on paper asks for the same reading,
  deciding and writing down, so that these are in the two hours already.
- *thought*: a pause to think (M) at each question on top, as if paper asked for none.

Not counted: looking, measuring, waiting, talking to the customer. A caution is counted as known:
a first job, in which each is read for 6 s, takes about 4 min longer.
"""

import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from runner.console.meanwhile import PAPER
from runner.console.page import parts_of
from runner.console.talk import Prompt
from tests.console.conftest import walked

K, H, M = 0.28, 0.40, 1.35
SECONDS = {
    "choice": H + 2 * K,  # a figure, Enter
    "begin": H + 3 * K,  # go, Enter
    "line": H + 5 * K,  # a number or a short word, Enter
    "text": H + K,  # a line of words takes as long as by hand: Enter on top
    "reading": H + K,  # six values, as by hand
    "person": H + 12 * K - 3.0,  # a name, where paper takes a signature of 3 s
    "caution": M,  # seen again; its word and first line
    "part": K,  # Enter reads on
}
TOTAL_MIN, CRITICAL_MIN = 15.0, 5.0
COLUMNS, ROWS = 80, 24


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: what, how often, and how often on the critical path."""

    what: str
    count: int
    critical: int

    def seconds(self, critical: bool, thought: bool) -> float:
        """Seconds in all or on the critical path, with or without a pause to think."""
        pause = M if thought and self.what not in ("caution", "part") else 0.0
        return (self.critical if critical else self.count) * (SECONDS[self.what] + pause)


def kind_of(prompt: Prompt) -> str:
    """Which of the kinds in ``SECONDS`` a question is."""
    if prompt.text.startswith("One line:"):
        return "reading"
    if prompt.text == "Type it in words.":
        return "text"
    return prompt.kind


def in_a_wait(prompt: Prompt) -> bool:
    """Whether the question can be answered while the vehicle warms, cools, soaks or dries, or by
    the customer's talk: paperwork, which adds nothing to the time that the vehicle stands there."""
    do = next((text.removeprefix("DO").strip() for text, style in prompt.lead if style == "do"), "")
    return do.split(" ", 1)[0] in PAPER or "customer" in do or prompt.key.endswith(":judge")


def holding(prompt: Prompt) -> bool:
    """Whether the drying run goes on meanwhile: then the tool waits, nobody waits for the tool."""
    return any(text.startswith("TREND") for text, _ in prompt.lead)


def table(prompts: Iterable[Prompt]) -> list[Row]:
    """The table, one row per kind."""
    counts: Counter[str] = Counter()
    critical: Counter[str] = Counter()
    step = ""
    for prompt in prompts:
        waits = in_a_wait(prompt) or holding(prompt)
        page = prompt.page
        found = [kind_of(prompt)]
        if page is not None and page.step != step:
            step = page.step
            found += ["caution"] * len(page.cautions)
            found += ["part"] * (len(parts_of(prompt, [], COLUMNS, ROWS)) - 1)
        counts.update(found)
        critical.update([] if waits else found)
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
    out.append(f"{'budget':<25}{TOTAL_MIN:>9.1f}{TOTAL_MIN:>9.1f}{CRITICAL_MIN:>14.1f}")
    return out


def _cells(minutes: list[float]) -> str:
    widths = (9, 9, 14, 10)
    return "".join(f"{value:>{width}.1f}" for value, width in zip(minutes, widths, strict=True))


if __name__ == "__main__":
    with TemporaryDirectory(prefix="steplatch-walk-") as folder:
        prompts = walked("good-clean", Path(folder))
    sys.stdout.write("\n".join(lines(table(prompts))) + "\n")
