"""Holds with a known truth: falls, double falls and shelves, as a person notes them.

Nothing of ``runner.assess`` is used. The scatter is that of drifting revs (neighbours alike), the
pressure is shown in steps, readings are missed, time constants lie between those that are weighed.
"""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

KINDS: Final = ("fall", "double", "shelf")


@dataclass(frozen=True)
class Hold:
    """What was noted (s, Pa), what was left to fall (mbar by s), when drying was due (s)."""

    kind: Literal["fall", "double", "shelf"]
    points: tuple[tuple[float, float], ...]
    left: Callable[[float], float]
    tolerance_mbar: float
    due_s: float
    step_pa: float

    @property
    def true_s(self) -> float:
        """When no more than the tolerance is left and drying is due."""
        at = 0.0
        while self.left(at) > self.tolerance_mbar:
            at += 5.0
        return max(at, self.due_s)


def draw_hold(seed: int) -> Hold:
    """One random hold; kinds in turn."""
    rng = random.Random(seed)
    kind = KINDS[seed % 3]
    level, height = rng.uniform(15, 120), rng.uniform(3, 60)
    step, noise = rng.choice((0.1, 1.0, 1.0)), rng.uniform(0.1, 0.5)
    every = rng.choice((30.0, 60.0, 60.0))
    tau = 60 * math.exp(rng.uniform(math.log(0.7), math.log(20)))
    due = rng.uniform(0, 120)
    if kind == "double":
        slow, share = min(tau * rng.uniform(2, 6), 1500), rng.uniform(0.3, 0.9)
    else:
        slow, share = 1.0, 1.0
    ends = 0.0
    if kind == "shelf":
        ends, tau = rng.uniform(60, 600), min(tau, 360)
        due = ends * rng.uniform(1, 1.8)

    def left(at: float) -> float:
        since = max(at - ends, 0.0)
        return height * (share * math.exp(-since / tau) + (1 - share) * math.exp(-since / slow))

    points, drift, at = [], 0.0, rng.uniform(0, 20)
    while at < 5400:
        if rng.random() > 0.08:
            drift = 0.5 * drift + rng.gauss(0, noise * 0.87)
            points.append((at, 100 * step * round((level + left(at) + drift) / step)))
        at += every + rng.uniform(-5, 5)
    tolerance = max(1.0, 0.02 * level, step)
    return Hold(kind, tuple(points), left, tolerance, due, 100 * step)
