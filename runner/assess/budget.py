"""The uncertainty budget of a gain, in the form of the tables of JCGM 100:2008 (GUM), annex H.

The gain follows from the ratio of two resistances; to first order an error of a reading moves
the logarithm of the ratio by its sensitivity times the error (GUM, 5.1.2). The terms of the
points (``terms``) are all that the covariance of the fit is summed from, so that the squares of
the contributions add up to the square of the uncertainty that the interval uses.
"""

import math
from collections import defaultdict
from dataclasses import dataclass

from ..core.reading_set import Phase
from ..input.resolution import Numbers
from .resistance import JointFit
from .terms import Axis, Term


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One source of uncertainty of a gain.

    ``id`` is one of ``words.TERMS``; ``u_in_unit`` its standard uncertainty in ``unit``;
    ``sensitivity_in_unit`` by how many percent the ratio of resistances moves for one unit, over
    all readings that it spoils; ``contribution_percent`` the product; ``part_share`` its part of
    the variance. A source whose size differs between readings stands with its largest.
    """

    id: str
    unit: str
    u_in_unit: float
    sensitivity_in_unit: float
    contribution_percent: float
    part_share: float

    def taken(self, numbers: Numbers) -> "BudgetRow":
        """The row at the resolution of its numbers."""
        return BudgetRow(
            self.id,
            self.unit,
            numbers.take("u_in_unit", self.u_in_unit),
            numbers.take("sensitivity_in_unit", self.sensitivity_in_unit),
            numbers.take("contribution_percent", self.contribution_percent),
            numbers.take("part_share", self.part_share),
        )


def budget(joint: JointFit, over: Phase, under: Phase) -> tuple[BudgetRow, ...]:
    """The budget of ln(resistance over / resistance under), in the order of the terms."""
    pulls = _pulls(joint, over, under)
    whole: dict[tuple[Axis, str], float] = defaultdict(float)
    named: dict[tuple[Axis, str], Term] = {}
    for number, (point, pull) in enumerate(zip(joint.points, pulls, strict=True)):
        slope = joint.fit.slopes[joint.line[number]]
        for term in point.terms:
            key = term.axis, term.shared or f"{number} {term.id}"
            whole[key] += (pull if term.axis == "pressure" else -slope * pull) * term.moves
            if key not in named or named[key].u < term.u:
                named[key] = term
    rows: dict[tuple[str, float], list[float]] = defaultdict(list)
    units: dict[tuple[str, float], str] = {}
    for one, term in named.items():
        if term.u == 0.0:
            continue
        rows[term.id, term.u].append(whole[one] ** 2)
        units[term.id, term.u] = term.unit
    variance = math.fsum(part for parts in rows.values() for part in parts)
    out = []
    for (name, u), parts in rows.items():
        square = math.fsum(parts)
        percent = 100 * math.sqrt(square)
        out.append(BudgetRow(name, units[name, u], u, percent / u, percent, square / variance))
    return tuple(out)


def _pulls(joint: JointFit, over: Phase, under: Phase) -> list[float]:
    """By how much the logarithm of the ratio moves with the residual of each point."""
    order = [r.phase for r in joint.phases]
    a, b = order.index(over), order.index(under)
    slopes, pull = joint.fit.slopes, joint.fit.pull
    return [
        up / slopes[a] - down / slopes[b]
        for up, down in zip(pull[2 * a + 1], pull[2 * b + 1], strict=True)
    ]
