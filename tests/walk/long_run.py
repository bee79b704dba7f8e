"""The long run: real jobs walked at random for so many minutes, and what came of them.

    nice -n 15 python -m tests.walk.long_run --minutes 20 --seed 1

Half of the time seeds draw whole walks, half of it hypothesis drives them in batches. All are
on disk, killed and resumed. A breach ends the run: its shortest trace is printed, exit code 1.
"""

import argparse
import sys
from collections import Counter
from time import monotonic

import hypothesis

from tests.walk import test_machine
from tests.walk.desks import room_in_memory
from tests.walk.moves import Breach
from tests.walk.test_random_walks import PHASES, shares
from tests.walk.walks import summed, walked

BATCH = 4
SEEDS_APART = 1_000_000


def long_run(minutes: float, seed: int) -> Counter[str]:
    """Walk for so long; what came, summed. Raises Breach."""
    total: Counter[str] = Counter()
    start = monotonic()
    number = seed * SEEDS_APART
    while monotonic() - start < minutes * 30:
        with room_in_memory() as room:
            summed(walked(number, room), total)
        number += 1
        total["seeded walks"] += 1
    while monotonic() - start < minutes * 60:
        machine = hypothesis.seed(number)(type("Driven", (test_machine.JobMachine,), {}))
        test_machine.run(machine, BATCH, 14, derandomize=False)
        total.update(test_machine.TOTAL)
        number += 1
    return total


def table(total: Counter[str]) -> list[str]:
    """What came, in lines: counts, then the share of walks that reached each phase."""
    found = shares(total)
    lines = [
        f"{total['walks']} walks, {total['seeded walks']} by seed alone, the rest by hypothesis",
        f"{total['steps']} commands, {total['refused']} refused, "
        f"{total['untrue, not said']} that would have been false and were not given",
        f"{total['kills']} kills, each resumed; last line " + ", ".join(
            f"{how} {total[f'kills, last line {how}']}" for how in ("whole", "no head", "torn")),
        f"{total['lies told']} single lies; {total['breached by the one lie']} breaches that "
        "the register lists for the lie told",
    ]  # fmt: skip
    return lines + [f"{found.get(name, 0):7.1%}  {name}" for name in PHASES]


def main() -> int:
    """Run by command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    try:
        total = long_run(args.minutes, args.seed)
    except Breach as breach:
        print(breach, *getattr(breach, "__notes__", ()), sep="\n")
        return 1
    print(*table(total), "no breach", sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
