"""``python -m tests.attacks``: tampers, malformed lines and folders, failing disks and odd typed
lines by the thousand, with figures.

    python -m tests.attacks --tampers 10000 --lines 20000 --faults 5000 --typed 200000 --write

``--minutes N`` ends each of the four sets after a quarter of that time, and says how far it came.
``--write`` keeps the figures in FIGURES.md beside this file. Exit code 1 when anything crashed,
hung or passed unnoticed that the page does not name.
"""

import argparse
import resource
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

from steplatch.runner.record import find_data_folder

from .faults import Faults
from .malformed import lines_of, malformed, put
from .readers import LIMIT_S, read_all
from .real_jobs import real_job
from .tampers import STATES, Workshop
from .typed import crashed, typed

PAGE = Path(__file__).with_name("FIGURES.md")


def main() -> int:
    """Run both sets and say what came of them."""
    options = argparse.ArgumentParser(prog="python -m tests.attacks")
    options.add_argument("--tampers", type=int, default=300)
    options.add_argument("--lines", type=int, default=300)
    options.add_argument("--faults", type=int, default=100)
    options.add_argument("--typed", type=int, default=20_000)
    options.add_argument("--minutes", type=float, default=0.0)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--write", action="store_true")
    args = options.parse_args()
    shm = Path("/dev/shm")
    room = Path(tempfile.mkdtemp(prefix="attacks-", dir=shm if shm.is_dir() else None))
    begun = time.monotonic()
    try:
        said = []
        for attack in (_typed, _faults, _lines, _tampers):
            until = time.monotonic() + (args.minutes * 15.0 or float("inf"))
            count = getattr(args, attack.__name__.strip("_"))
            said += attack(room, Random(args.seed), count, until)
    finally:
        shutil.rmtree(room, ignore_errors=True)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    seconds = time.monotonic() - begun
    said.append(f"seed {args.seed}; {seconds:.0f} s; at most {peak} MiB for all of it")
    print("\n".join(said))
    if args.write:
        rows = "\n".join(f"- {text}" for text in said)
        PAGE.write_text(f"{_HEAD}\n{rows}\n", encoding="utf-8")
    return 1 if any("UNNOTICED" in text or "CRASHED" in text for text in said) else 0


_NAMED = (("public", "rename"), ("public", "add"))
_HEAD = """# Attacks: the last figures

Made by `python -m tests.attacks --tampers N --lines N --faults N --typed N --write`; what is tried
stands in `tampers.py`, `malformed.py`, `faults.py` and `typed.py`. Not noticed by design: a change
to a lock, to the list of jobs that is made again, to the private key; a public key under another
name, which is read all the same; see also the end of `runner/record/README.md`.
"""


def _times(count: int, until: float) -> Iterator[int]:
    """From 0 on, so often or until that time."""
    for number in range(count):
        if time.monotonic() > until:
            return
        yield number


def _worst(kind: str, found: Counter[str]) -> Iterator[str]:
    return (f"{kind} {number} x {what}" for what, number in found.most_common(40))


def _typed(room: Path, chance: Random, count: int, until: float) -> list[str]:
    bad: Counter[str] = Counter()
    done = 0
    for _ in _times(count, until):
        done += 1
        if found := crashed(typed(chance), chance):
            bad[found] += 1
    text = f"{done} odd lines at the readers of typed numbers and files: {bad.total()} crashed"
    return [text, *_worst("CRASHED", bad)]


def _faults(room: Path, chance: Random, count: int, until: float) -> list[str]:
    faults, bad, done = Faults(room), Counter[str](), 0
    for _ in _times(count, until):
        done += 1
        if found := faults.tried(chance):
            bad[found] += 1
    places = ", ".join(f"{calls} in {name}" for name, calls in faults.calls.items())
    text = (
        f"{done} failing calls to the disk while a real job is begun, worked on and closed "
        f"({places}): {bad.total()} ended otherwise than with 0 or 7, its words, and no line lost"
    )
    return [text, *_worst("CRASHED", bad)]


def _tampers(room: Path, chance: Random, count: int, until: float) -> list[str]:
    workshops = [Workshop(room, state) for state in STATES]
    passed: Counter[str] = Counter()
    crashes: Counter[str] = Counter()
    done = 0
    for _ in _times(count, until):
        done += 1
        one = chance.choice(workshops).tried(chance)
        label = f"{one.state} {Path(one.file).parent.name}/{Path(one.file).name}: {one.how}"
        if one.trace:
            crashes[f"{label}: {one.trace.strip().splitlines()[-1][:100]}"] += 1
        elif not one.noticed and (Path(one.file).parent.name, one.how) not in _NAMED:
            passed[label] += 1
    return [
        f"{done} tampers over all files of an open, an ended and a sealed job and their ledger: "
        f"{passed.total()} not noticed, {crashes.total()} crashed",
        *_worst("UNNOTICED", passed),
        *_worst("CRASHED", crashes),
    ]


def _lines(room: Path, chance: Random, count: int, until: float) -> list[str]:
    """Most of the journals are cut short: what is odd on a line is odd on any."""
    data = find_data_folder(room / "lines", {})
    folder, _ = real_job(data, key=False, close=False)
    lines = lines_of(folder.journal)
    bad: Counter[str] = Counter()
    reads, slowest, done = 0, 0.0, 0
    for _ in _times(count, until):
        done += 1
        length = chance.choice((20, 40, 60, 90, len(lines)))
        put(folder.path, folder.id, malformed(lines[:length], chance))
        for ran in read_all(data.path, folder.id):
            reads += 1
            slowest = max(slowest, ran.seconds)
            if ran.trace:
                bad[f"{ran.command}: {ran.trace.strip().splitlines()[-1][:100]}"] += 1
    return [
        f"{done} journals of malformed lines in a fitting chain, {reads} commands: "
        f"{bad.total()} crashed; the slowest took {slowest:.1f} s (bound {LIMIT_S:.0f} s)",
        *_worst("CRASHED", bad),
    ]


if __name__ == "__main__":
    sys.exit(main())
