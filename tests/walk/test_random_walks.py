"""Random walks of real jobs find no breach: engine, journal, kills, resumes, true happenings.

Each walk is repeated by its seed alone. Most are careful work with a mishap now and then, so that
every phase is reached in a known share of them; the shares are asserted, so that a walk that no
longer gets anywhere fails instead of finding nothing.
"""

from collections import Counter
from pathlib import Path

import pytest

from tests.walk.mishaps import MISHAPS
from tests.walk.walker import Fate
from tests.walk.walks import MOST, summed, walked

ON_DISK = (27,)
PHASES = {
    "act spray_off": 0.30,
    "soak_due": 0.33,
    "turn_seen": 0.20,
    "act start after fluid": 0.38,
    "act spray_running": 0.28,
    "act run_on at raised revs": 0.33,
    "act read_after after fluid": 0.33,
    "signed released": 0.30,
    "act hand_over": 0.30,
    "sealed": 0.40,
    "act road_test": 0.30,
    "act abandon": 0.30,
    "kills": 0.40,
    "Corrected": 0.05,
    "Waived": 0.03,
    "WaiverUsed": 0.004,
    "MarkedNotApplicable": 0.30,
    "Held": 0.08,
    "signed by a customer": 0.50,
    "signed by a technician": 0.50,
    "signed by a supervisor": 0.02,
    "signed by a apprentice": 0.01,
    "lies told": 0.02,
    **{f"in recovery-{name}": 0.01 for name in (
        "overdose", "stalled", "unattended", "unexpected", "over-ceiling", "spill", "stub",
    )},
    **{f"reset {name}": 0.005 for name in (
        "overdose", "stalled", "self_started", "unpermitted", "over_ceiling", "unattended",
        "spill", "stub",
    )},
    **{f"in card-{name}": 0.005 for name in (
        "fire", "fumes", "injury", "runaway", "hard-turn", "uneven-crank",
    )},
    **{f"mishap {kind}": 0.005 for kind in MISHAPS if kind != "lie"},
}  # fmt: skip
"""The least share of many walks that must come to each."""


def shares(total: Counter[str]) -> dict[str, float]:
    """The share of walks in which each thing came."""
    return {
        name.removeprefix("walks with "): count / total["walks"]
        for name, count in total.items()
        if name.startswith("walks with ")
    }


def test_a_few_walks_with_journal_and_kills_find_no_breach_and_get_far(quick: Path) -> None:
    total: Counter[str] = Counter()
    for seed in ON_DISK:
        fate = Fate(rate=0.006, kills=0.012)
        summed(walked(seed, quick / str(seed), most=MOST + 300, fate=fate), total)
    found = shares(total)
    assert total["kills"] >= 3, total
    assert found.get("act run_on at raised revs", 0) >= 0.5, total
    assert found.get("sealed", 0) >= 0.5, total


@pytest.mark.slow
def test_many_walks_find_no_breach_and_known_shares_reach_every_phase(quick: Path) -> None:
    walks, total, sealed = 240, Counter[str](), 0
    for number in range(walks):  # every eighth on disk: that is slow, and decides the same
        room = quick / str(number) if number % 8 == 0 else None
        counts = walked(1000 + number, room)
        sealed += counts["sealed"]
        summed(counts, total)
    found = {**shares(total), "sealed": sealed / (walks / 8)}
    print({name: round(found.get(name, 0), 3) for name in PHASES}, total["steps"], total["kills"])
    short = {n: found.get(n, 0.0) for n, least in PHASES.items() if found.get(n, 0.0) < least}
    assert not short, f"too few of {walks} walks get so far: {short}"
