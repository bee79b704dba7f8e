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
LEVEL_MBAR: Final = (15.0, 120.0)
HEIGHT_MBAR: Final = (3.0, 60.0)
NOISE_MBAR: Final = (0.1, 0.5)
TAU_MIN: Final = (0.7, 20.0)
SLOWER: Final = (2.0, 6.0)
ALIKE: Final = 0.5
"""Correlation of the scatter of neighbours."""


@dataclass(frozen=True)
class Hold:
    """What was noted (s, Pa), what was left to fall (mbar by s), when drying was due (s) and when
    a shelf ended (s)."""

    kind: Literal["fall", "double", "shelf"]
    points: tuple[tuple[float, float], ...]
    left: Callable[[float], float]
    tolerance_mbar: float
    due_s: float
    step_pa: float
    ends_s: float = 0.0

    @property
    def true_s(self) -> float:
        """When no more than the tolerance is left and drying is due."""
        at = 0.0
        while self.left(at) > self.tolerance_mbar:
            at += 5.0
        return max(at, self.due_s)


def draw_hold(seed: int, every_s: float | None = None, step_mbar: float | None = None) -> Hold:
    """One random hold; kinds in turn. Read every ``every_s``, shown in steps of ``step_mbar``;
    or drawn, as a person reads (30 or 60 s, 0.1 or 1 mbar)."""
    rng = random.Random(seed)
    kind = KINDS[seed % 3]
    level, height = rng.uniform(*LEVEL_MBAR), rng.uniform(*HEIGHT_MBAR)
    step, noise = rng.choice((0.1, 1.0, 1.0)), rng.uniform(*NOISE_MBAR)
    every = rng.choice((30.0, 60.0, 60.0))
    step, every = step_mbar or step, every_s or every
    tau = 60 * math.exp(rng.uniform(*(math.log(one) for one in TAU_MIN)))
    due = rng.uniform(0, 120)
    if kind == "double":
        slow, share = min(tau * rng.uniform(*SLOWER), 1500), rng.uniform(0.3, 0.9)
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
            drift = ALIKE * drift + rng.gauss(0, noise * math.sqrt(1 - ALIKE**2))
            points.append((at, 100 * step * round((level + left(at) + drift) / step)))
        at += every + rng.uniform(-5, 5) * every / 60
    tolerance = max(1.0, 0.02 * level, step)
    return Hold(kind, tuple(points), left, tolerance, due, 100 * step, ends)


STRETCHED: Final = (0.7, 1.0)


def draw_other(seed: int, every_s: float | None = None, step_mbar: float | None = None) -> Hold:
    """One random hold of another family: a fall, one that goes on as exp(-(t/tau)^0.7 to 1), or a
    shelf that ends gradually. The drift of the revs forgets itself in 20 to 60 s, whatever the
    time between readings. Arguments as in ``draw_hold``."""
    rng = random.Random(f"other {seed}")
    kind = KINDS[seed % 3]
    level, height = rng.uniform(20, 100), math.exp(rng.uniform(math.log(4), math.log(60)))
    step, every = step_mbar or rng.choice((0.1, 0.5, 1.0, 1.0)), every_s or rng.choice((30.0, 60.0))
    noise, forgets = rng.uniform(0.1, 0.45), rng.uniform(20, 60)
    tau = 60 * math.exp(rng.uniform(math.log(0.8), math.log(15)))
    power = rng.uniform(*STRETCHED) if kind == "double" else 1.0
    due, ends, soft = rng.uniform(0, 150), 0.0, 1.0
    if kind == "shelf":
        ends, soft, tau = rng.uniform(60, 540), rng.uniform(5, 60), min(tau, 360)
        due = ends * rng.uniform(1, 1.8)

    def left(at: float) -> float:
        if kind == "shelf":
            since = soft * math.log1p(math.exp(min((at - ends) / soft, 700)))
            return height * math.exp(-since / tau)
        return height * math.exp(-((at / tau) ** power))

    points, drift, at, last = [], rng.gauss(0, noise), rng.uniform(0, 20), 0.0
    while at < 5400:
        alike = math.exp((last - at) / forgets)
        drift, last = alike * drift + rng.gauss(0, noise * math.sqrt(1 - alike**2)), at
        if rng.random() > 0.08:
            points.append((at, 100 * step * round((level + left(at) + drift) / step)))
        at += every + rng.uniform(-5, 5) * every / 60
    tolerance = max(1.0, 0.02 * level, step)
    return Hold(kind, tuple(points), left, tolerance, due, 100 * step, ends)
