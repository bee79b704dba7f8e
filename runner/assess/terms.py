"""Sources of error of a reading: how large, how far each moves a point, and what shares it.

The covariance of the points of a fit is summed from these terms and from nothing else, so that
the uncertainty budget (``budget``) lists exactly what the interval of a gain is made of.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

Axis: TypeAlias = Literal["flow", "pressure"]
AXES: Final[tuple[Axis, Axis]] = ("flow", "pressure")


@dataclass(frozen=True, slots=True)
class Term:
    """One source of error of one point.

    ``id`` is one of ``words.TERMS``; ``u`` its standard uncertainty in ``unit``; ``per_unit`` how
    far it moves the point along ``axis`` (flow share, or Pa) by one unit. Points whose terms name
    the same ``shared`` have one error in common; "" belongs to one point alone.
    """

    id: str
    unit: str
    u: float
    axis: Axis
    per_unit: float
    shared: str = ""

    @property
    def moves(self) -> float:
        """How far one standard uncertainty moves the point."""
        return self.u * self.per_unit


def covariance(a: Sequence[Term], b: Sequence[Term], axis: Axis, same: bool) -> float:
    """Covariance of two points along ``axis``; ``same`` when they are one point."""
    shared = {t.shared: t.moves for t in b if t.axis == axis and t.shared}
    parts = [t.moves * shared.get(t.shared, 0.0) for t in a if t.axis == axis and t.shared]
    if same:
        parts += [t.moves**2 for t in a if t.axis == axis and not t.shared]
    return math.fsum(parts)


def spread(terms: Sequence[Term], axis: Axis) -> float:
    """Standard uncertainty of a point along ``axis``, all its terms together."""
    return math.sqrt(covariance(terms, terms, axis, True))
