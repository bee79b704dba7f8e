"""The resistance of the filter: pressure = zero offset + resistance x (viscosity x flow).

Resistance is stated as the pressure, in mbar, that the filter takes at one reference flow and
temperature (``inputs.REFERENCE_TEXT``), so that sets taken at different flows and warmth can
be compared. Uncertainties are in both directions and follow the GUM (JCGM 100:2008).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from steplatch.safety.limits.inputs import VehicleInput, Workshop

from ..core.reading_set import Phase, ReadingCondition, ReadingSet
from ..input.resolution import Numbers
from . import inputs, words
from .flow import Basis, FlowPoint, NoPressure, flow_point, zero_unread
from .line_fit import CannotFit, LinesFit, fit_lines
from .terms import AXES, covariance, spread

COVERAGE: Final = 1.96
"""Coverage factor of a 95 % interval of a normal quantity."""

SHOWN_BY: Final = 2.4
"""By so many standard uncertainties a gain lies from nil before it is called easier or harder: of
filters left as they were at most one in a hundred is called each (0.8 % of a normal quantity; by
the interval alone it would be 2.5 %)."""

DISAGREE_BELOW_SHARE: Final = 0.01
"""Points are said to disagree when chance alone gives such a chi-square more rarely."""

FLOWS_APART_SHARE: Final = 0.01
"""Running points give an offset by themselves from this step of their flows on (design choice):
below it the offset would be a digit of rounding."""

Agreement: TypeAlias = Literal["agree", "disagree", "cannot_tell"]


def way(ratio_share: float, u_log_ratio_share: float) -> str:
    """``easier`` or ``harder``: which way the resistance has changed by this ratio, ``neither``
    where it is not shown. Both as they are recorded."""
    log, apart = math.log(ratio_share), SHOWN_BY * u_log_ratio_share
    if log < -apart:
        return "easier"
    return "harder" if log > apart else "neither"


@dataclass(frozen=True, slots=True)
class PointResult:
    """One point of the fit: what was read, what the line says there.

    ``basis`` says where its air flow comes from, ``exhaust`` whether its temperature was read.
    """

    condition: ReadingCondition
    basis: Basis
    exhaust: Literal["none", "read", "assumed"]
    air_g_s: float
    flow_share: float
    pressure_mbar: float
    fitted_mbar: float
    residual_mbar: float


@dataclass(frozen=True, slots=True)
class Resistance:
    """The resistance of one phase and the sensor's offset, with standard uncertainties.

    ``at_reference_mbar`` at ``inputs.REFERENCE_TEXT``. ``agreement`` tells whether the points lie
    on one line within what was stated, by ``chance_share``, the chance of a chi-square as large;
    ``offset_from_flow_mbar`` is the offset by the running points alone (None with fewer than two),
    which a wrong zero or liquid in the hose moves. Every number stands at its resolution
    (``runner.input.resolution``), and every class follows from these numbers.
    """

    phase: Phase
    at_reference_mbar: float
    u_at_reference_mbar: float
    offset_mbar: float
    u_offset_mbar: float
    correlation_share: float
    points: tuple[PointResult, ...]
    chi_square_share: float
    chance_share: float | None
    degrees_of_freedom: int
    agreement: Agreement
    offset_from_flow_mbar: float | None
    u_offset_from_flow_mbar: float | None
    zero_read: bool

    @property
    def notes(self) -> tuple[str, ...]:
        """What was not shown and had to be estimated, in words."""
        return words.notes(self.points, self.zero_read)

    @property
    def basis(self) -> str:
        """Where the air flow comes from, in words."""
        return words.basis(self.points)


@dataclass(frozen=True, slots=True)
class NoResistance:
    """Why no resistance can be given: an id of ``words.NO_FIT``, and at which reading."""

    phase: Phase
    why: str
    condition: ReadingCondition | None = None

    @property
    def reasons(self) -> tuple[str, ...]:
        """The same in plain words."""
        return (words.no_fit(self.why, self.phase, self.condition),)


@dataclass(frozen=True, slots=True)
class JointFit:
    """Resistances of several phases fitted together, and what they share."""

    phases: tuple[Resistance, ...]
    fit: LinesFit
    points: tuple[FlowPoint, ...]
    line: tuple[int, ...]

    def log_ratio(self, over: Phase, under: Phase) -> tuple[float, float]:
        """ln(resistance over / resistance under) and its standard uncertainty."""
        order = [r.phase for r in self.phases]
        a, b = order.index(over), order.index(under)
        return math.log(self.fit.slopes[a] / self.fit.slopes[b]), self.fit.u_log_ratio(a, b)


def resistance(
    sets: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    numbers: Numbers | None = None,
    slopes: Numbers | None = None,
) -> Resistance | NoResistance:
    """The resistance of one phase from its sets (zero, idle, raised, in any number).

    ``numbers`` are those of this phase, ``slopes`` as in ``joint_resistance``.
    """
    joint = joint_resistance([sets], vehicle, workshop, [numbers or Numbers()], slopes)
    return joint if isinstance(joint, NoResistance) else joint.phases[0]


def joint_resistance(
    phases: Sequence[Sequence[ReadingSet]],
    vehicle: VehicleInput,
    workshop: Workshop,
    numbers: Sequence[Numbers] | None = None,
    slopes: Numbers | None = None,
) -> JointFit | NoResistance:
    """Fit several phases at once, so that errors common to them cancel in their ratios.

    Each phase is a non-empty sequence of sets of one phase. A phase that cannot be fitted
    refuses the whole, with its reason. ``numbers`` are those of each phase; ``slopes`` the
    resistance of each phase, by which the fit is refused or not.
    """
    points: list[FlowPoint] = []
    line: list[int] = []
    zero_read: list[bool] = []
    for number, sets in enumerate(phases):
        name: Phase = sets[0].phase if sets else "before"
        mine: list[FlowPoint] = []
        for one in sets:
            try:
                mine.append(flow_point(one, vehicle, workshop))
            except NoPressure as error:
                return NoResistance(name, str(error), one.condition)
        if all(p.condition == "zero" for p in mine):
            return NoResistance(name, "not_running")
        zeros = [p for p in mine if p.condition == "zero"]
        zero_read.append(bool(zeros))
        if all(spread(p.terms, "pressure") > inputs.ZERO_PRIOR_PA.value for p in zeros):
            mine.append(zero_unread(name))  # none, or in steps that say less than no reading
        points += mine
        line += [number] * len(mine)
    try:
        fit = _fit(points, line)
    except CannotFit as error:
        return NoResistance(phases[0][0].phase, str(error))
    named = [sets[0].phase for sets in phases]
    slopes = slopes or Numbers()
    at_reference = [
        slopes.take(f"{n}_mbar", v / 100) for n, v in zip(named, fit.slopes, strict=True)
    ]
    for name, mbar in zip(named, at_reference, strict=True):
        if mbar <= 0:
            return NoResistance(name, "not_rising")
    results = []
    for number, mbar in enumerate(at_reference):
        own = [p for p, n in zip(points, line, strict=True) if n == number]
        taken = numbers[number] if numbers else Numbers()
        results.append(_phase(own, fit, number, zero_read[number], mbar, taken))
    return JointFit(tuple(results), fit, tuple(points), tuple(line))


def _fit(points: Sequence[FlowPoint], line: Sequence[int]) -> LinesFit:
    share = [p.share for p in points]
    pressure = [p.pressure_pa - p.behind_pa for p in points]
    size = range(len(points))
    u_x, u_y = (
        [[covariance(points[i].terms, points[j].terms, axis, i == j) for j in size] for i in size]
        for axis in AXES
    )
    return fit_lines(share, pressure, u_x, u_y, line)


def _phase(
    own: Sequence[FlowPoint],
    fit: LinesFit,
    number: int,
    zero_read: bool,
    at_reference: float,
    numbers: Numbers,
) -> Resistance:
    alone = _fit(own, [0] * len(own))
    results = tuple(_point(p, alone, k, numbers.each("points", k)) for k, p in enumerate(own))
    u_a, u_b = fit.u_offset(number), fit.u_slope(number)
    chance = alone.probability
    taken = None if chance is None else numbers.take("chance_share", chance)
    offset, u_offset = _offset_from_flow(own, results, numbers)
    return Resistance(
        phase=own[0].phase,
        at_reference_mbar=at_reference,
        u_at_reference_mbar=numbers.take("u_at_reference_mbar", u_b / 100),
        offset_mbar=numbers.take("offset_mbar", fit.offsets[number] / 100),
        u_offset_mbar=numbers.take("u_offset_mbar", u_a / 100),
        correlation_share=numbers.take(
            "correlation_share", fit.cov_offset_slope(number) / (u_a * u_b)
        ),
        points=results,
        chi_square_share=numbers.take("chi_square_share", alone.chi_square),
        chance_share=taken,
        degrees_of_freedom=alone.degrees_of_freedom,
        agreement=_agreement(taken, zero_read),
        offset_from_flow_mbar=offset,
        u_offset_from_flow_mbar=u_offset,
        zero_read=zero_read,
    )


def _point(p: FlowPoint, alone: LinesFit, k: int, numbers: Numbers) -> PointResult:
    fitted = (alone.offsets[0] + alone.slopes[0] * p.share + p.behind_pa) / 100
    return PointResult(
        condition=p.condition,
        basis=p.basis,
        exhaust="none" if p.basis == "none" else "assumed" if p.exhaust_k is None else "read",
        air_g_s=numbers.take("air_g_s", p.air_kg_s * 1000),
        flow_share=numbers.take("flow_share", p.share),
        pressure_mbar=numbers.take("pressure_mbar", p.pressure_pa / 100),
        fitted_mbar=numbers.take("fitted_mbar", fitted),
        residual_mbar=numbers.take("residual_mbar", alone.residuals[k] / 100),
    )


def _agreement(chance_share: float | None, zero_read: bool) -> Agreement:
    if chance_share is None or not zero_read:
        return "cannot_tell"
    return "agree" if chance_share >= DISAGREE_BELOW_SHARE else "disagree"


def _offset_from_flow(
    own: Sequence[FlowPoint], results: Sequence[PointResult], numbers: Numbers
) -> tuple[float | None, float | None]:
    flows = [r.flow_share for r in results if r.condition != "zero"]
    if max(flows) - min(flows) < FLOWS_APART_SHARE:
        return None, None
    running = [p for p in own if p.condition != "zero"]
    try:
        fit = _fit(running, [0] * len(running))
    except CannotFit:
        return None, None
    return (
        numbers.take("offset_from_flow_mbar", fit.offsets[0] / 100),
        numbers.take("u_offset_from_flow_mbar", fit.u_offset() / 100),
    )
