"""Before against after: may they be compared, what had to be corrected, how much easier it flows.

Every check ends as a finding of one kind: ``ok``, ``corrected`` (unlike, but measured, so the
sum takes it out), ``flag`` (looks wrong, a person must look) or ``refused`` (no comparison).
"""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from runner.assess.facts import Facts
from runner.assess.likeness import (
    RUNNING,
    Finding,
    by_facts,
    each_phase,
    fit_findings,
    pairs,
    refused,
    zero_pair,
)
from runner.assess.resistance import (
    COVERAGE,
    JointFit,
    Refused,
    Resistance,
    joint_resistance,
    resistance,
)
from runner.readings.model import Phase, ReadingSet
from safety.limits.inputs import Vehicle, Workshop


@dataclass(frozen=True, slots=True)
class Gain:
    """How much less pressure the same flow needs than before, percent, with a 95 % interval.

    37 means: the same flow at the same warmth needs 37 % less pressure. Negative: more.
    """

    percent: float
    low: float
    high: float
    ratio: float
    u_log_ratio: float

    def text(self) -> str:
        """``flows 37 % easier (28 to 46)``, or the honest other."""
        low, high = round(self.low), round(self.high)
        if low > 0:
            return f"flows {self.percent:.0f} % easier ({low} to {high})"
        if high < 0:
            return f"flows {-self.percent:.0f} % harder ({-high} to {-low})"
        return f"no difference shown: {self.percent:+.0f} % ({low:+d} to {high:+d})"


@dataclass(frozen=True, slots=True)
class Comparison:
    """What comparing two phases says. ``gain`` is None when it was refused."""

    findings: tuple[Finding, ...]
    before: Resistance | None
    after: Resistance | None
    gain: Gain | None

    @property
    def refused(self) -> tuple[Finding, ...]:
        """The findings that forbid a comparison."""
        return tuple(f for f in self.findings if f.kind == "refused")

    @property
    def flags(self) -> tuple[Finding, ...]:
        """The findings that a person must look at."""
        return tuple(f for f in self.findings if f.kind == "flag")

    @property
    def corrected(self) -> tuple[Finding, ...]:
        """What was unlike and taken out by the sum."""
        return tuple(f for f in self.findings if f.kind == "corrected")

    def to_json(self) -> dict[str, Any]:
        """Plain dict."""
        return asdict(self)


def compare(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    vehicle: Vehicle,
    workshop: Workshop,
    facts: Facts,
) -> Comparison:
    """Compare two phases of one filter. Never raises on readings; refuses in findings."""
    findings: list[Finding] = []
    for phase, sets in (("before", before), ("after", after)):
        if not [s for s in sets if s.condition in RUNNING]:
            findings.append(
                refused(f"no_{phase}", f"no reading with the engine running was taken {phase}")
            )
        findings += each_phase(sets)
    findings += by_facts(facts)
    findings += zero_pair(before, after)
    findings += pairs(before, after)
    joint = _joint(before, after, vehicle, workshop)
    one: Resistance | None
    two: Resistance | None
    if isinstance(joint, JointFit):
        one, two = joint.phases[0], joint.phases[1]
    else:
        one, two = (_alone(p, vehicle, workshop, findings) for p in (before, after))
    for fitted in (one, two):
        if fitted is not None:
            findings += fit_findings(fitted)
    gain = None
    if isinstance(joint, JointFit) and not [f for f in findings if f.kind == "refused"]:
        gain = _gain(joint, "after", "before")
        if gain.high < 0:
            findings.append(
                Finding(
                    "flag",
                    "wrong_sign",
                    "the filter flows harder after than before: before and after swapped, "
                    "filter or hose wet, or liquid in the filter",
                )
            )
    return Comparison(tuple(findings), one, two, gain)


def _joint(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    vehicle: Vehicle,
    workshop: Workshop,
) -> JointFit | None:
    if not before or not after:
        return None
    joint = joint_resistance([list(before), list(after)], vehicle, workshop)
    return joint if isinstance(joint, JointFit) else None


def _alone(
    sets: Sequence[ReadingSet], vehicle: Vehicle, workshop: Workshop, findings: list[Finding]
) -> Resistance | None:
    """One phase by itself; why it cannot be fitted goes to the findings."""
    got = resistance(sets, vehicle, workshop) if sets else None
    if isinstance(got, Refused):
        findings += [refused("no_line", reason) for reason in got.reasons]
        return None
    return got


def gain_between(
    first: Sequence[ReadingSet],
    second: Sequence[ReadingSet],
    vehicle: Vehicle,
    workshop: Workshop,
) -> Gain | None:
    """The gain from one phase to another without any check, None when a line is refused."""
    if not first or not second:
        return None
    joint = joint_resistance([list(first), list(second)], vehicle, workshop)
    if isinstance(joint, Refused):
        return None
    return _gain(joint, second[0].phase, first[0].phase)


def _gain(joint: JointFit, over: Phase, under: Phase) -> Gain:
    by_phase = {r.phase: r.at_reference_mbar for r in joint.phases}
    ratio = by_phase[over] / by_phase[under]
    u = joint.u_log_ratio(over, under)
    return Gain(
        percent=100 * (1 - ratio),
        low=100 * (1 - ratio * math.exp(COVERAGE * u)),
        high=100 * (1 - ratio * math.exp(-COVERAGE * u)),
        ratio=ratio,
        u_log_ratio=u,
    )
