"""``python -m tests.bench``: how fast, each row against bare work of the same kind in one run.

    python -m tests.bench [--only WORD] [--times 5] [--write]

Each row runs the program and its bare counterpart in turn, in this very process, and prints the
smallest and the middle ratio, the seconds behind the smallest, and the peak memory so far. Nothing
here is a timed test: a busy machine makes a row slow, never a test red. ``--write`` keeps the
figures in FIGURES.md beside this file.
"""

import argparse
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from . import record_rows

PAGE = Path(__file__).with_name("FIGURES.md")


@dataclass(frozen=True, slots=True)
class Row:
    """One measure: the program's work, the bare work beside it, and the goal for their ratio."""

    name: str
    goal: str
    work: Callable[[], object]
    bare: Callable[[], object]


def _seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return max(time.perf_counter() - begun, 1e-9)


def measured(row: Row, times: int) -> str:
    """One row as text: smallest and middle ratio, and what the smallest took."""
    pairs = [(_seconds(row.bare), _seconds(row.work)) for _ in range(times)]
    ratios = [work / bare for bare, work in pairs]
    least, most_bare = min(work for _, work in pairs), min(bare for bare, _ in pairs)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    return (
        f"| {row.name} | {row.goal} | {min(ratios):.3g} | {median(ratios):.3g} | "
        f"{least * 1e3:.4g} | {most_bare * 1e3:.4g} | {peak} |"
    )


_HEAD = """# Speed: the last figures

Made by `python -m tests.bench --write`. Each row is the program's time over that of bare work of
the same kind, in one run on a machine with two shared cores; what the bare work is stands in the
row's function.

| row | goal | least ratio | middle | program ms | bare ms | peak MiB |
|---|---|---|---|---|---|---|
"""


def main() -> int:
    """Measure the rows that are asked for."""
    options = argparse.ArgumentParser(prog="python -m tests.bench")
    options.add_argument("--only", default="", help="rows with this word in their name")
    options.add_argument("--times", type=int, default=5)
    options.add_argument("--write", action="store_true")
    args = options.parse_args()
    said = []
    with tempfile.TemporaryDirectory(prefix="bench-") as room:
        for make in record_rows.ROWS:
            if args.only not in make.__name__.replace("_", " "):
                continue
            row = Row(*make(Path(room)))
            said.append(measured(row, args.times))
            print(said[-1], flush=True)
    if args.write:
        PAGE.write_text(_HEAD + "\n".join(said) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
