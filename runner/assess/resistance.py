"""The resistance of the filter: pressure = zero offset + resistance x (viscosity x flow).

Resistance is stated as the pressure, in mbar, that the filter takes at one reference flow and
temperature (``inputs.REFERENCE_TEXT``), so that sets taken at different flows and warmth can
be compared. Uncertainties are in both directions and follow the GUM (JCGM 100:2008).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

from runner.assess import inputs
from runner.assess.flow import FlowPoint, NoPressure, flow_point, reference_flow
from runner.assess.line_fit import CannotFit, LinesFit, fit_lines
from runner.readings.model import Phase, ReadingSet
from safety.limits.inputs import Vehicle, Workshop

COVERAGE: Final = 1.96
"""Coverage factor of a 95 % interval of a normal quantity."""

DISAGREE_BELOW: Final = 0.01
"""Points are said to disagree when chance alone gives such a chi-square more rarely."""

Agreement: TypeAlias = Literal["agree", "disagree", "cannot tell"]


@dataclass(frozen=True, slots=True)
class PointResult:
    """One point of the fit: what was read, what the line says there."""

    condition: str
    flow_share: float
    pressure_mbar: float
    fitted_mbar: float
    residual_mbar: float
    normalised: float


@dataclass(frozen=True, slots=True)
class Resistance:
    """The resistance of one phase and the sensor's offset, with standard uncertainties.

    ``at_reference_mbar`` at ``inputs.REFERENCE_TEXT``; ``per_m3`` is the same in SI: pressure
    over viscosity x volume flow, 1/m3. ``agreement`` tells whether the points lie on one line
    within what was stated; ``offset_from_flow_mbar`` is the offset by the running points
    alone (None with fewer than two), which a wrong zero or liquid in the hose moves.
    """

    phase: Phase
    at_reference_mbar: float
    u_at_reference_mbar: float
    offset_mbar: float
    u_offset_mbar: float
    correlation: float
    points: tuple[PointResult, ...]
    chi_square: float
    degrees_of_freedom: int
    agreement: Agreement
    offset_from_flow_mbar: float | None
    u_offset_from_flow_mbar: float | None
    per_m3: float
    zero_read: bool
    basis: str
    notes: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Plain dict, numbers as they are (derived values, not evidence)."""
        from dataclasses import asdict

        return asdict(self)


@dataclass(frozen=True, slots=True)
class Refused:
    """Why no resistance can be given, in plain words."""

    phase: Phase
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class JointFit:
    """Resistances of several phases fitted together, and what they share."""

    phases: tuple[Resistance, ...]
    fit: LinesFit

    def u_log_ratio(self, over: Phase, under: Phase) -> float:
        """Standard uncertainty of ln(resistance over / resistance under)."""
        order = [r.phase for r in self.phases]
        return self.fit.u_log_ratio(order.index(over), order.index(under))


def resistance(
    sets: Sequence[ReadingSet], vehicle: Vehicle, workshop: Workshop
) -> Resistance | Refused:
    """The resistance of one phase from its sets (zero, idle, raised, in any number)."""
    joint = joint_resistance([sets], vehicle, workshop)
    return joint if isinstance(joint, Refused) else joint.phases[0]


def joint_resistance(
    phases: Sequence[Sequence[ReadingSet]], vehicle: Vehicle, workshop: Workshop
) -> JointFit | Refused:
    """Fit several phases at once, so that errors common to them cancel in their ratios.

    Each phase is a non-empty sequence of sets of one phase. A phase that cannot be fitted
    refuses the whole, with its reasons.
    """
    points: list[FlowPoint] = []
    line: list[int] = []
    notes: list[list[str]] = []
    zero_read: list[bool] = []
    for number, sets in enumerate(phases):
        name: Phase = sets[0].phase if sets else "before"
        try:
            mine = [flow_point(s, vehicle, workshop) for s in sets]
        except NoPressure as error:
            return Refused(name, (str(error),))
        running = [p for p in mine if p.condition != "zero"]
        if not running:
            return Refused(name, (f"{name}: no reading with the engine running",))
        said = [n for p in mine for n in p.notes]
        zeros = [p for p in mine if p.condition == "zero"]
        if not zeros:
            said.append("the zero was not read: an offset about nil is allowed for")
            mine.append(_prior_zero(name))
        points += mine
        line += [number] * len(mine)
        notes.append(said)
        zero_read.append(bool(zeros))
    try:
        fit = _fit(points, line)
    except CannotFit as error:
        return Refused(phases[0][0].phase, (str(error),))
    results = []
    for number in range(len(phases)):
        slope = fit.slopes[number]
        if slope <= 0:
            name = phases[number][0].phase
            why = (
                f"{name}: the pressure does not rise with the flow: hoses swapped, hose off, "
                "wrong sensor or wrong line read"
            )
            return Refused(name, (why,))
        mine_at = [i for i, n in enumerate(line) if n == number]
        results.append(_phase(points, mine_at, fit, number, notes[number], zero_read[number]))
    return JointFit(tuple(results), fit)


def _prior_zero(phase: Phase) -> FlowPoint:
    prior = inputs.ZERO_PRIOR_PA.value
    return FlowPoint("zero", phase, 0.0, prior, 0.0, 0.0, 0.0, 0.0, 0.0, "none", 0.0, None)


def _fit(points: Sequence[FlowPoint], line: Sequence[int]) -> LinesFit:
    share = [p.share for p in points]
    pressure = [p.pressure_pa for p in points]
    size = range(len(points))
    u_x = [[_cov_share(points[i], points[j], i == j) for j in size] for i in size]
    u_y = [[_cov_pressure(points[i], points[j], i == j) for j in size] for i in size]
    return fit_lines(share, pressure, u_x, u_y, line)


def _cov_share(a: FlowPoint, b: FlowPoint, same: bool) -> float:
    shared = a.heat_share * b.heat_share
    if a.basis == b.basis:
        shared += a.air_share * b.air_share
    if same:
        shared += a.own_share**2
    return shared * a.share * b.share


def _cov_pressure(a: FlowPoint, b: FlowPoint, same: bool) -> float:
    shared = a.gain * a.pressure_pa * b.gain * b.pressure_pa
    return shared + (a.pressure_own_pa**2 if same else 0.0)


def _phase(
    points: Sequence[FlowPoint],
    mine: Sequence[int],
    fit: LinesFit,
    number: int,
    notes: Sequence[str],
    zero_read: bool,
) -> Resistance:
    own = [points[i] for i in mine]
    alone = _fit(own, [0] * len(own))
    running = [p for p in own if p.condition != "zero"]
    offset, u_offset = _offset_from_flow(running)
    results = tuple(
        PointResult(
            p.condition,
            p.share,
            p.pressure_pa / 100,
            (alone.offsets[0] + alone.slopes[0] * p.share) / 100,
            alone.residuals[k] / 100,
            alone.normalised[k],
        )
        for k, p in enumerate(own)
    )
    u_a, u_b = fit.u_offset(number), fit.u_slope(number)
    bases = dict.fromkeys(p.basis for p in running)
    return Resistance(
        phase=own[0].phase,
        at_reference_mbar=fit.slopes[number] / 100,
        u_at_reference_mbar=u_b / 100,
        offset_mbar=fit.offsets[number] / 100,
        u_offset_mbar=u_a / 100,
        correlation=fit.cov_offset_slope(number) / (u_a * u_b),
        points=results,
        chi_square=alone.chi_square,
        degrees_of_freedom=alone.degrees_of_freedom,
        agreement=_agreement(alone, zero_read),
        offset_from_flow_mbar=offset,
        u_offset_from_flow_mbar=u_offset,
        per_m3=fit.slopes[number] / reference_flow(),
        zero_read=zero_read,
        basis=", ".join(bases),
        notes=tuple(dict.fromkeys(notes)),
    )


def _agreement(fit: LinesFit, zero_read: bool) -> Agreement:
    if fit.probability is None or not zero_read:
        return "cannot tell"
    return "agree" if fit.probability >= DISAGREE_BELOW else "disagree"


def _offset_from_flow(running: Sequence[FlowPoint]) -> tuple[float | None, float | None]:
    try:
        fit = _fit(running, [0] * len(running))
    except CannotFit:
        return None, None
    if not math.isfinite(fit.u_offset()):
        return None, None
    return fit.offsets[0] / 100, fit.u_offset() / 100
