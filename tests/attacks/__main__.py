"""``python -m tests.attacks``: tampers, malformed lines and folders, failing disks and odd typed
lines by the thousand, with figures; each set in a process of its own.

    python -m tests.attacks --tampers 10000 --lines 20000 --faults 5000 --typed 200000 --write

``--minutes N`` ends all after that time, and says how far each set came.
``--write`` keeps the figures in FIGURES.md beside this file. Exit code 1 when anything crashed,
hung or passed unnoticed that the page does not name.
"""

import argparse
import resource
import shutil
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from random import Random

from .sets import faults, lines, tampers, typed

PAGE = Path(__file__).with_name("FIGURES.md")


def main() -> int:
    """Run the sets and say what came of them."""
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
    until = begun + (args.minutes * 60.0 or float("inf"))
    sets = (tampers, faults, lines, typed)
    try:
        with ProcessPoolExecutor(2, max_tasks_per_child=1) as pool:
            running = [
                pool.submit(attack, room, Random(args.seed), getattr(args, attack.__name__), until)
                for attack in sets
            ]
            said = [text for one in running for text in one.result()]
    finally:
        shutil.rmtree(room, ignore_errors=True)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024
    seconds = time.monotonic() - begun
    said.append(f"seed {args.seed}; {seconds:.0f} s; at most {peak} MiB for each set")
    print("\n".join(said))
    if args.write:
        rows = "\n".join(f"- {text}" for text in said)
        PAGE.write_text(f"{_HEAD}\n{rows}\n", encoding="utf-8")
    return 1 if any("UNNOTICED" in text or "CRASHED" in text for text in said) else 0


_HEAD = """# Attacks: the last figures

Made by `python -m tests.attacks --tampers N --lines N --faults N --typed N --write`; what is tried
stands in `tampers.py`, `malformed.py`, `faults.py` and `typed.py`. Not noticed by design: a change
to a lock, to the list of jobs that is made again, to the private key; a public key under another
name, which is read all the same; `personal.json` spelt otherwise (entries in another order, other
spaces); see also the end of `runner/record/README.md`.
"""


if __name__ == "__main__":
    sys.exit(main())
