"""One whole walk by its seed: who is there, what is drawn, what came of it."""

import random
from collections import Counter
from dataclasses import replace
from pathlib import Path

from steplatch.runner.core.commands import SetLimits

from tests.procedure_walk import bundle
from tests.walk.desks import Desk, InMind, OnDisk
from tests.walk.mishaps import Unlucky, fate_of
from tests.walk.moves import Opening
from tests.walk.walker import STEPS, THEMES, Fate

MOST = 700


def drawn(
    seed: int,
    fate: Fate | None = None,
    room: Path | None = None,
    low_ceiling: bool = False,
    **given: str,
) -> Unlucky:
    """A walk as ``seed`` draws it, not yet walked: on disk in ``room``, else in mind.

    With ``low_ceiling`` (in mind only) the band for raised revs reaches over the ceiling.
    """
    chance = random.Random(seed)
    crew = chance.choices(("pair", "alone_adult", "alone_junior"), (17, 2, 1))[0]
    answers = {
        "crew": crew,
        "agreed": "clean" if chance.random() < 0.95 else "no",
        "tier": chance.choice(("none", "strict", "extended", "extended")),
        "refit": chance.choice(("idle", "idle", "stopped", "stopped_with_help")),
        "road_test": chance.choice(("drive", "skip")),
        **given,
    }
    alone = answers["crew"] != "pair"
    answers["controls"] = "self" if alone else "other"
    worker = {"alone_adult": "technician-1"}.get(answers["crew"], "apprentice-1")
    opening = Opening(
        worker,
        dry=chance.random() < 0.97,
        practice=chance.random() < 0.3,
        limits=_low_ceiling() if low_ceiling else None,
    )
    fate = fate or fate_of(chance, THEMES)
    walk = Unlucky(bundle().plan, answers, alone=alone)
    walk.worker = worker
    desk: Desk = (
        OnDisk(room, worker, opening.practice)
        if room is not None
        else InMind(worker, opening.limits, opening.practice)
    )
    walk.setup(desk, opening, chance, fate)
    return walk


def _low_ceiling() -> SetLimits:
    limits = bundle().limits_command()
    low = repr(float(limits.numbers["revs_high_rpm"]) - 1.0)
    return replace(limits, numbers={**limits.numbers, "rev_ceiling_rpm": low})


def walked(
    seed: int, room: Path | None = None, most: int = MOST, fate: Fate | None = None
) -> Counter[str]:
    """Walk to the end (``most`` commands at most); what happened, how often."""
    walk = drawn(seed, fate, room)
    try:
        walk.walk(most)
    except BaseException as error:
        error.add_note(f"seed {seed}, {most} steps at most")
        raise
    return walk.counts


def summed(counts: Counter[str], total: Counter[str]) -> None:
    """Add one walk to ``total``, which counts its events and the walks in which they came."""
    total.update(counts)
    total.update({f"walks with {name}": 1 for name in counts if counts[name] and name != STEPS})
    total["walks"] += 1
