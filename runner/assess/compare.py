"""Before against after: may they be compared, what had to be corrected, how much easier it flows.

Every check ends as a finding of one kind: ``ok``, ``corrected`` (unlike, but measured, so the
sum takes it out), ``flag`` (looks wrong, a person must look) or ``refused`` (no comparison).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from steplatch.safety.limits.inputs import VehicleInput, Workshop

from ..core.reading_set import Phase, ReadingSet
from ..input.resolution import Numbers
from . import words
from .budget import BudgetRow, budget
from .comparability import (
    RUNNING,
    ComparabilityFinding,
    by_facts,
    each_phase,
    fit_findings,
    no_line,
    pairs,
    refused,
    zero_pair,
)
from .facts import Facts
from .resistance import (
    COVERAGE,
    JointFit,
    NoResistance,
    Resistance,
    joint_resistance,
    resistance,
    way,
)


@dataclass(frozen=True, slots=True)
class Gain:
    """How much less pressure the same flow needs than before, percent, with a 95 % interval.

    37 means: the same flow at the same warmth needs 37 % less pressure. Negative: more. Every
    number stands at its resolution. ``budget`` is what the interval is made of.
    """

    percent: float
    low_percent: float
    high_percent: float
    ratio_share: float
    u_log_ratio_share: float
    budget: tuple[BudgetRow, ...] = ()

    @property
    def way(self) -> str:
        """``easier``, ``harder`` or ``neither``, as ``resistance.way``."""
        return way(self.ratio_share, self.u_log_ratio_share)

    def text(self) -> str:
        """``flows 37 % easier (28 to 46)``, or the honest other."""
        return words.gain(self.way, self.percent, self.low_percent, self.high_percent)


@dataclass(frozen=True, slots=True)
class Comparison:
    """What comparing two phases says. ``gain`` is None when it was refused.

    ``together`` and ``alone`` are the resistances by which a fit of both phases, or of one, was
    refused or not, as a record holds them.
    """

    findings: tuple[ComparabilityFinding, ...]
    before: Resistance | None
    after: Resistance | None
    gain: Gain | None
    together: Mapping[str, str]
    alone: Mapping[str, str]

    @property
    def refused(self) -> tuple[ComparabilityFinding, ...]:
        """The findings that forbid a comparison."""
        return tuple(f for f in self.findings if f.kind == "refused")

    @property
    def flags(self) -> tuple[ComparabilityFinding, ...]:
        """The findings that a person must look at."""
        return tuple(f for f in self.findings if f.kind == "flag")

    @property
    def corrected(self) -> tuple[ComparabilityFinding, ...]:
        """What was unlike and taken out by the sum."""
        return tuple(f for f in self.findings if f.kind == "corrected")


def compare(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    facts: Facts,
    numbers: Numbers | None = None,
) -> Comparison:
    """Compare two phases of one filter. Never raises on readings; refuses in findings.

    ``numbers`` holds the recorded numbers of the outcome, if there are any.
    """
    taken = numbers or Numbers()
    findings: list[ComparabilityFinding] = []
    for phase, sets in (("before", before), ("after", after)):
        if not [s for s in sets if s.condition in RUNNING]:
            findings.append(refused(f"no_{phase}"))
        findings += each_phase(sets)
    findings += by_facts(facts)
    findings += zero_pair(before, after)
    findings += pairs(before, after)
    together, slopes = (taken.part("slopes").part(name) for name in ("together", "alone"))
    joint = _joint(before, after, vehicle, workshop, taken, together)
    one: Resistance | None
    two: Resistance | None
    if joint is not None:
        one, two = joint.phases[0], joint.phases[1]
    else:
        one, two = (
            _alone(sets, vehicle, workshop, findings, taken.part(phase), slopes)
            for phase, sets in (("before", before), ("after", after))
        )
    for fitted in (one, two):
        if fitted is not None:
            findings += fit_findings(fitted)
    gain = None
    if joint is not None and not [f for f in findings if f.kind == "refused"]:
        gain = _gain(joint, "after", "before", taken.part("gains").part("after"))
        if gain.high_percent < 0:  # asked about sooner than it is called so: ``resistance.way``
            findings.append(ComparabilityFinding("flag", "wrong_sign"))
    return Comparison(tuple(findings), one, two, gain, together.given, slopes.given)


def _joint(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    numbers: Numbers,
    slopes: Numbers,
) -> JointFit | None:
    """Both phases fitted together; None where one of them cannot be fitted."""
    if not before or not after:
        return None
    parts = [numbers.part("before"), numbers.part("after")]
    joint = joint_resistance([before, after], vehicle, workshop, parts, slopes)
    return joint if isinstance(joint, JointFit) else None


def _alone(
    sets: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    findings: list[ComparabilityFinding],
    numbers: Numbers,
    slopes: Numbers,
) -> Resistance | None:
    """One phase by itself; why it cannot be fitted goes to the findings."""
    got = resistance(sets, vehicle, workshop, numbers, slopes) if sets else None
    if isinstance(got, NoResistance):
        findings.append(no_line(got))
        return None
    return got


def gain_between(
    first: Sequence[ReadingSet],
    second: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    numbers: Numbers | None = None,
    slopes: Numbers | None = None,
) -> Gain | None:
    """The gain from one phase to another without any check, None when a line is refused.

    ``numbers`` are those of the gain, ``slopes`` those of ``joint_resistance``.
    """
    if not first or not second:
        return None
    joint = joint_resistance([first, second], vehicle, workshop, slopes=slopes)
    if isinstance(joint, NoResistance):
        return None
    return _gain(joint, second[0].phase, first[0].phase, numbers or Numbers())


def _gain(joint: JointFit, over: Phase, under: Phase, numbers: Numbers) -> Gain:
    log, u = joint.log_ratio(over, under)
    ratio = math.exp(log)
    return Gain(
        percent=numbers.take("percent", 100 * (1 - ratio)),
        low_percent=numbers.take("low_percent", 100 * (1 - ratio * math.exp(COVERAGE * u))),
        high_percent=numbers.take("high_percent", 100 * (1 - ratio * math.exp(-COVERAGE * u))),
        ratio_share=numbers.take("ratio_share", ratio),
        u_log_ratio_share=numbers.take("u_log_ratio_share", u),
        budget=tuple(
            row.taken(numbers.each("budget", at))
            for at, row in enumerate(budget(joint, over, under))
        ),
    )
