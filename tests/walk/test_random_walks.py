"""Random walks of real jobs find no breach: engine, journal, kills, resumes, true happenings.

A seeded walker instead of a hypothesis state machine: a walk of several hundred commands is
repeated by its seed alone, while shrinking one would open its journal thousands of times.
"""

import os
import random
from collections import Counter
from pathlib import Path

import pytest

from tests.played import bundle_from
from tests.walk.walker import Unlucky


def walked(room: Path, seed: int, most: int, lucks: tuple[float, ...]) -> Counter[str]:
    chance = random.Random(seed)
    crew = "pair" if seed % 4 else "alone_adult"
    given = {"crew": crew, "agreed": "clean", "controls": "other" if seed % 4 else "self"}
    given["tier"] = chance.choice(("none", "strict", "extended"))
    bundle = bundle_from()
    walk = Unlucky(bundle.plan, given, alone=crew != "pair")
    walk.worker = "technician-1" if walk.alone else "apprentice-1"
    walk.setup(room, bundle, chance, luck=chance.choice(lucks))
    try:
        end = walk.walk(most)
    except BaseException as error:
        error.add_note(f"seed {seed}, {most} steps at most")
        raise
    counts = Counter(walk.counts)
    for name in [n for n in counts if n.startswith(("act ", "trip ", "reset "))]:
        counts[f"walks with {name}"] = 1
    counts[f"ended: {end}"] += 1
    counts["walks"] += 1
    return counts


def test_a_few_walks_with_kills_find_no_breach(quick: Path) -> None:
    total: Counter[str] = Counter()
    for seed in (2, 3):
        total += walked(quick / str(seed), seed, 300, (0.997,))
    assert total["kills"] >= 3, total
    assert total["steps"] >= 300, total


@pytest.mark.slow
def test_many_walks_find_no_breach_and_a_fair_share_gets_far(quick: Path) -> None:
    total: Counter[str] = Counter()
    walks = int(os.environ.get("STEPLATCH_WALKS", "150"))
    for seed in range(1000, 1000 + walks):
        total += walked(quick / str(seed), seed, 500, (0.999, 0.997, 0.99, 0.95))
    print(sorted(total.items()))
    far = min(total["walks with act spray_running"], total["walks with act run_on"])
    if far < 0.2 * walks:  # a breach above fails; this says only that the walks are too short
        pytest.xfail(f"only {far} of {walks} walks reach both running spray and rev hold")
