"""``python -m tests.attacks``: tampers, malformed lines and folders by the thousand, with figures.

    python -m tests.attacks --tampers 10000 --lines 20000 --seed 1 --write

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
from pathlib import Path
from random import Random

from .malformed import lines_of, malformed, put
from .readers import LIMIT_S, read_all
from .real_jobs import real_job
from .tampers import STATES, Workshop

PAGE = Path(__file__).with_name("FIGURES.md")


def main() -> int:
    """Run both sets and say what came of them."""
    options = argparse.ArgumentParser(prog="python -m tests.attacks")
    options.add_argument("--tampers", type=int, default=300)
    options.add_argument("--lines", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--write", action="store_true")
    args = options.parse_args()
    shm = Path("/dev/shm")
    room = Path(tempfile.mkdtemp(prefix="attacks-", dir=shm if shm.is_dir() else None))
    begun = time.monotonic()
    try:
        said = [*_tampers(room, args.tampers, args.seed), *_lines(room, args.lines, args.seed)]
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

Made by `python -m tests.attacks --tampers N --lines N --write`; what is tried stands in
`tampers.py` and `malformed.py`. Not noticed by design: a change to a lock, to the list of jobs that
is made again, to the private key; a public key under another name, which is read all the same; see
also the end of `runner/record/README.md`.
"""


def _tampers(room: Path, count: int, seed: int) -> list[str]:
    chance = Random(seed)
    workshops = [Workshop(room, state) for state in STATES]
    passed: Counter[str] = Counter()
    crashed: Counter[str] = Counter()
    for _ in range(count):
        one = chance.choice(workshops).tried(chance)
        label = f"{one.state} {Path(one.file).parent.name}/{Path(one.file).name}: {one.how}"
        if one.trace:
            crashed[f"{label}: {one.trace.strip().splitlines()[-1][:100]}"] += 1
        elif not one.noticed and (Path(one.file).parent.name, one.how) not in _NAMED:
            passed[label] += 1
    return [
        f"{count} tampers over all files of an open, an ended and a sealed job and their ledger: "
        f"{passed.total()} not noticed, {crashed.total()} crashed",
        *(f"UNNOTICED {number} x {what}" for what, number in passed.most_common(40)),
        *(f"CRASHED {number} x {what}" for what, number in crashed.most_common(40)),
    ]


def _lines(room: Path, count: int, seed: int) -> list[str]:
    from steplatch.runner.record import find_data_folder

    data = find_data_folder(room / "lines", {})
    folder, _ = real_job(data, key=False, close=False)
    lines = lines_of(folder.journal)
    bad: Counter[str] = Counter()
    reads, slowest = 0, 0.0
    for number in range(count):
        put(folder.path, folder.id, malformed(lines, Random(f"{seed}-{number}")))
        for ran in read_all(data.path, folder.id):
            reads += 1
            slowest = max(slowest, ran.seconds)
            if ran.trace:
                bad[f"{ran.command}: {ran.trace.strip().splitlines()[-1][:100]}"] += 1
    return [
        f"{count} journals of malformed lines in a fitting chain, {reads} commands: "
        f"{bad.total()} crashed; the slowest took {slowest:.1f} s (bound {LIMIT_S:.0f} s)",
        *(f"CRASHED {number} x {what}" for what, number in bad.most_common(40)),
    ]


if __name__ == "__main__":
    sys.exit(main())
