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


def walked(room: Path, seed: int, most: int) -> Counter[str]:
    chance = random.Random(seed)
    crew = "pair" if seed % 4 else "alone_adult"
    given = {"crew": crew, "agreed": "clean", "controls": "other" if seed % 4 else "self"}
    given["tier"] = chance.choice(("none", "strict", "extended"))
    bundle = bundle_from()
    walk = Unlucky(bundle.plan, given, alone=crew != "pair")
    walk.worker = "technician-1" if walk.alone else "apprentice-1"
    walk.setup(room, bundle, chance, luck=chance.choice((0.995, 0.98, 0.95, 0.85)))
    try:
        end = walk.walk(most)
    except BaseException as error:
        error.add_note(f"seed {seed}, {most} steps at most")
        raise
    counts = Counter({name: number for name, number in walk.counts.items()})
    for name in [n for n in counts if n.startswith(("act ", "trip ", "reset "))]:
        counts[f"walks with {name}"] = 1
    counts[f"ended: {end}"] += 1
    counts["walks"] += 1
    return counts


def test_a_few_walks_with_kills_find_no_breach_and_reach_the_running_spray(quick: Path) -> None:
    total: Counter[str] = Counter()
    for seed in (1, 2):
        total += walked(quick / str(seed), seed, 200)
    assert total["kills"] >= 2, total
    assert total["walks with act spray_running"] >= 1, total
    assert total["walks with act run_on"] >= 1, total


@pytest.mark.slow
def test_many_walks_find_no_breach_and_a_fair_share_gets_far(quick: Path) -> None:
    total: Counter[str] = Counter()
    walks = int(os.environ.get("STEPLATCH_WALKS", "150"))
    for seed in range(1000, 1000 + walks):
        total += walked(quick / str(seed), seed, 500)
    print(sorted(total.items()))
    assert total["walks with act spray_running"] >= 0.2 * walks, total
    assert total["walks with act run_on"] >= 0.2 * walks, total
