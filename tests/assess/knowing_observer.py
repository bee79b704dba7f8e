"""The chance of level for an observer who knows how the simulated holds are drawn.

He knows what no one can: which kinds there are and how often, the spread of every number, the
scatter and how alike neighbours are, when a shelf ends, and, where he is ``told``, that its fall
has no slow part. What he cannot say early no rule can: he is the bound for the judge, and shares
no code with it.
"""

import math
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

import numpy as np
from scipy.special import ndtr

from tests.assess.simulated_holds import ALIKE, NOISE_MBAR, SLOWER, TAU_MIN, Hold

_HEIGHT: Final = 35.0


@lru_cache(maxsize=2)
def _shapes(shelf: bool) -> np.ndarray:
    """Prior, fast and slow time constant (s), slow share of every fall, by the simulator's draw.

    A shelf is a fall of one part whose begin he is told: its points before are not weighed.
    """
    low, high = (60 * minutes for minutes in TAU_MIN)
    taus = np.exp(np.linspace(math.log(low), math.log(high), 40))
    rows = [(1.0 / len(taus), tau, 1.0, 0.0) for tau in (np.minimum(taus, 360) if shelf else taus)]
    if not shelf:
        slower = np.linspace(*SLOWER, 8)
        shares = np.linspace(0.12, 0.68, 8)
        each = 1.0 / (len(taus) * len(slower) * len(shares))
        rows += [
            (each, tau, min(tau * times, 1500.0), share)
            for tau in taus
            for times in slower
            for share in shares
        ]
    return np.array(rows)


def chances(
    hold: Hold, until_s: float, enough: float, told: bool
) -> Iterator[tuple[float, float, float]]:
    """At every reading the chance that no more than the tolerance is left, and the chance that it
    comes to that within two minutes before or after."""
    start = 0
    if hold.kind == "shelf":
        start = next(i for i, (at, _) in enumerate(hold.points) if at >= hold.ends_s)
    points = np.array(hold.points[start:])
    times, values = points[:, 0] - points[0, 0], points[:, 1] / 100
    values = values - values[0]
    shapes = _shapes(told and hold.kind == "shelf")
    fast, slow = (np.exp(-times[None] / shapes[:, [i]]) for i in (1, 2))
    columns = fast + shapes[:, [3]] * (slow - fast)
    scatters = np.linspace(*NOISE_MBAR, 5)
    variance = scatters**2 + (hold.step_pa / 100) ** 2 / 12

    def apart(column: np.ndarray) -> np.ndarray:
        out = column.copy()
        out[..., 1:] = (column[..., 1:] - ALIKE * column[..., :-1]) / math.sqrt(1 - ALIKE**2)
        return out

    ones, seen, columns_apart = apart(np.ones_like(times)), apart(values), apart(columns)
    count, total, squares = (
        np.cumsum(a * b) for a, b in ((ones, ones), (ones, seen), (seen, seen))
    )
    mean = np.cumsum(columns_apart * ones, axis=1)
    along = np.cumsum(columns_apart * seen, axis=1)
    size = np.cumsum(columns_apart**2, axis=1)
    for k in range(4, len(times)):
        at = points[k, 0]
        if at < hold.due_s:
            continue
        if at > until_s:
            return
        s = size[:, k] - mean[:, k] ** 2 / count[k]
        a = along[:, k] - mean[:, k] * total[k] / count[k]
        v = squares[k] - total[k] ** 2 / count[k]
        weight = s[:, None] / variance + _HEIGHT**-2
        height = a[:, None] / variance / weight
        log = np.log(shapes[:, [0]]) - 0.5 * (
            k * np.log(variance) + v / variance - height**2 * weight + np.log(weight)
        )
        chance = np.exp(log - log.max())
        chance /= chance.sum()
        high, early, later = (
            _no_more(hold.tolerance_mbar, chance, height, weight, shapes, times[k] + by)
            for by in (0.0, -120.0, 120.0)
        )
        yield float(at), high, later - early
        if high >= enough:
            return


def _no_more(
    tolerance: float,
    chance: np.ndarray,
    height: np.ndarray,
    weight: np.ndarray,
    shapes: np.ndarray,
    at: float,
) -> float:
    """The chance that no more than the tolerance is left at a time."""
    fast, slow = (np.exp(-at / shapes[:, i]) for i in (1, 2))
    column = (fast + shapes[:, 3] * (slow - fast))[:, None]
    spread = column / np.sqrt(weight) + 1e-9
    return float((chance * ndtr((tolerance - column * height) / spread)).sum())
