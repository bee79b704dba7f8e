"""Are two phases alike enough to be compared: the checks, each ending in a finding.

A finding is ``ok``, ``corrected`` (unlike, but measured, so the sum takes it out), ``flag``
(looks wrong, a person must look) or ``refused`` (no comparison). The bands are those of
``inputs.BANDS`` with their sources.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal, TypeAlias

from ..core.reading_set import ReadingSet
from ..input.resolution import quantised
from . import words
from .facts import Facts
from .inputs import BANDS
from .resistance import NoResistance, Resistance

ComparabilityKind: TypeAlias = Literal["ok", "corrected", "flag", "refused"]

RUNNING: Final = ("idle", "raised")
_KELVIN: Final = 273.15
_COPY_FIELDS: Final = ("pressure_pa", "air_kg_s", "exhaust_k", "speed_rpm")


@dataclass(frozen=True, slots=True)
class ComparabilityFinding:
    """One outcome of a check: its kind, a short stable id, and what was found.

    ``given`` holds phase, condition, and numbers at their resolution, worked out from what was
    typed by sums that come out alike everywhere. ``text`` says it in words with the remedy.
    """

    kind: ComparabilityKind
    id: str
    given: Mapping[str, Any] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """The finding in plain words."""
        return words.finding(self.kind, self.id, self.given)


def refused(name: str, **given: Any) -> ComparabilityFinding:
    """A finding that forbids a comparison: its id, and what was found. Never raises."""
    return _finding("refused", name, **given)


def _finding(kind: ComparabilityKind, name: str, **given: Any) -> ComparabilityFinding:
    return ComparabilityFinding(
        kind,
        name,
        {k: float(quantised(k, v)) if isinstance(v, float) else v for k, v in given.items()},
    )


def no_line(why: NoResistance) -> ComparabilityFinding:
    """That no line could be fitted, and why."""
    where = {} if why.condition is None else {"condition": why.condition}
    return refused("no_line", why=why.why, phase=why.phase, **where)


def each_phase(sets: Sequence[ReadingSet]) -> list[ComparabilityFinding]:
    """What the sets of one phase say by themselves: warm enough, held for long enough, no
    burn, zero in its band.

    Bands: ``inputs.BANDS`` (K, s, Pa, 1/min). Never raises. Source: common practice, no source.
    """
    out: list[ComparabilityFinding] = []
    for s in sets:
        where = {"phase": s.phase, "condition": s.condition}
        if s.burning:
            out.append(refused("burning", **where))
        if s.condition == "zero":
            out += _zero(s)
            continue
        out += _held(s)
        if s.coolant_k is None:
            continue
        coolant_degc = s.coolant_k - _KELVIN
        if s.coolant_k < BANDS.coolant_least_k:
            out.append(refused("cold", **where, coolant_degc=coolant_degc))
        elif s.coolant_k < BANDS.coolant_warm_k:
            kind: ComparabilityKind = "corrected" if _measured(s) else "refused"
            out.append(_finding(kind, "cool", **where, coolant_degc=coolant_degc))
    idle = _one(sets, "idle")
    raised = _one(sets, "raised")
    if idle and raised:
        out += _idle_against_raised(idle, raised)
    if (idle or raised) and not _one(sets, "zero"):
        out.append(_finding("ok", "zero_missing", phase=(idle or raised or sets[0]).phase))
    return out


def _held(s: ReadingSet) -> list[ComparabilityFinding]:
    """A set that was read before revs or idle were held for long enough: wider, or no set at all.
    One that was not timed (from a log or a file) is not judged by it."""
    if s.held_s is None or s.held_s >= BANDS.held_s:
        return []
    kind: ComparabilityKind = "corrected" if s.held_s >= BANDS.held_least_s else "refused"
    return [_finding(kind, "early", phase=s.phase, condition=s.condition, held_s=s.held_s)]


def _idle_against_raised(idle: ReadingSet, raised: ReadingSet) -> list[ComparabilityFinding]:
    if idle.pressure_pa is None or raised.pressure_pa is None:
        return []
    if idle.pressure_pa == raised.pressure_pa:
        return [refused("frozen", phase=idle.phase)]
    if raised.pressure_pa < idle.pressure_pa:
        return [refused("falls", phase=idle.phase)]
    return []


def _zero(s: ReadingSet) -> list[ComparabilityFinding]:
    if s.pressure_pa is None:
        return []
    where: dict[str, Any] = {"phase": s.phase, "condition": s.condition}
    if (s.speed_rpm or 0.0) > 0:
        return [refused("zero_running", **where)]
    where["zero_mbar"] = s.pressure_pa / 100
    if not BANDS.zero_low_pa <= s.pressure_pa <= BANDS.zero_high_pa:
        return [refused("zero_out", **where)]
    if s.pressure_pa > BANDS.flow_offset_high_pa:
        return [_finding("flag", "zero_high", **where)]
    return [_finding("ok", "zero", **where)]


def by_facts(facts: Facts) -> list[ComparabilityFinding]:
    """What the answers say about comparing: filter dry, hose clear, loads off, pressure level.

    An unknown answer refuses nothing here; triage asks for it. Never raises. Source: common
    practice, no source.
    """
    out = []
    if facts.get("filter_dry") == "no":
        out.append(refused("wet"))
    elif facts.get("filter_dry") == "unknown":
        out.append(ComparabilityFinding("ok", "dry_unknown"))
    if facts.get("plateau") == "falling":
        out.append(refused("falling"))
    if facts.get("hose_clear") == "no":
        out.append(refused("hose"))
    if facts.get("loads_off") == "no":
        out.append(ComparabilityFinding("flag", "loads"))
    if facts.get("car_level") == "no":
        out.append(ComparabilityFinding("flag", "level"))
    return out


def zero_pair(
    before: Sequence[ReadingSet], after: Sequence[ReadingSet]
) -> list[ComparabilityFinding]:
    """Whether the zero moved between the two phases by more than ``BANDS.zero_repeat_pa`` (Pa).

    Valid with one zero in each phase; otherwise nothing is said. Never raises. Source: common
    practice, no source.
    """
    one, two = _one(before, "zero"), _one(after, "zero")
    if not one or not two or one.pressure_pa is None or two.pressure_pa is None:
        return []
    step = two.pressure_pa - one.pressure_pa
    if abs(step) <= BANDS.zero_repeat_pa:
        return []
    return [_finding("flag", "zero_moved", step_mbar=step / 100)]


def pairs(before: Sequence[ReadingSet], after: Sequence[ReadingSet]) -> list[ComparabilityFinding]:
    """Idle against idle and raised against raised: like, corrected by the sum, or refused.

    Also copies and two names of the line. Bands: ``inputs.BANDS``. Never raises. A difference is
    only taken out where air flow (and exhaust temperature) were measured both times.
    """
    out: list[ComparabilityFinding] = []
    for condition in RUNNING:
        one, two = _one(before, condition), _one(after, condition)
        if one is None or two is None:
            if one or two:
                phase = "before" if one else "after"
                out.append(_finding("ok", f"{condition}_once", condition=condition, phase=phase))
            continue
        out += _same(condition, one, two)
    if before and after:
        names = {s.line_name for s in (*before, *after) if s.line_name}
        if len(names) > 1:
            out.append(refused("line_name", names=sorted(names)))
    return out


def _same(condition: str, one: ReadingSet, two: ReadingSet) -> list[ComparabilityFinding]:
    out: list[ComparabilityFinding] = []
    shown = [f for f in _COPY_FIELDS if getattr(one, f) is not None]
    if len(shown) >= 3 and all(getattr(one, f) == getattr(two, f) for f in shown):
        out.append(refused("identical", condition=condition))
    both = one.air_kg_s is not None and two.air_kg_s is not None
    unlike: ComparabilityKind = "corrected" if both else "refused"
    if one.speed_rpm is not None and two.speed_rpm is not None:
        step = two.speed_rpm - one.speed_rpm
        if abs(step) > BANDS.speed_like_rpm:
            out.append(_finding(unlike, "speed", condition=condition, step_rpm=step))
    if (one.air_kg_s is None) != (two.air_kg_s is None):
        out.append(_finding("corrected", "air_once", condition=condition))
    air_step = _share_step(one.air_kg_s, two.air_kg_s)
    if one.recirculation and two.recirculation and one.recirculation != two.recirculation:
        valve = {"condition": condition, "before": one.recirculation, "after": two.recirculation}
        out.append(_finding(unlike, "recirculation", **valve))
        out.append(_finding("flag", "recirculation_changed", **valve))
    elif air_step is not None and abs(air_step) > BANDS.air_like_share:
        moved: dict[str, Any] = {"condition": condition, "air_percent": 100 * air_step}
        out.append(_finding(unlike, "air", **moved))
        if not _speeds_explain(one, two, air_step):
            out.append(_finding("flag", "recirculation_changed", **moved))
    if one.exhaust_k is not None and two.exhaust_k is not None:
        step = two.exhaust_k - one.exhaust_k
        if abs(step) > BANDS.exhaust_correctable_k:
            out.append(refused("exhaust_far", condition=condition, step_k=step))
        elif abs(step) > BANDS.exhaust_like_k:
            out.append(_finding("corrected", "exhaust", condition=condition, step_k=step))
    return out


def _speeds_explain(one: ReadingSet, two: ReadingSet, air_step: float) -> bool:
    """Whether the speeds account for another air flow, within ``BANDS.air_moved_share``."""
    if one.speed_rpm is None or two.speed_rpm is None or two.speed_rpm <= 0:
        return False
    beside = (1 + air_step) * one.speed_rpm / two.speed_rpm
    most = 1 + BANDS.air_moved_share
    return 1 / most <= beside <= most


def fit_findings(one: Resistance) -> list[ComparabilityFinding]:
    """Whether the points of one fitted phase lie on one line (chi-square, 1 %). Never raises.

    An offset that the running points ask for (mbar) above its band names liquid or a wrong zero.
    """
    if one.agreement == "disagree":
        offset = one.offset_from_flow_mbar
        high = offset is not None and offset > BANDS.flow_offset_high_pa / 100
        given: dict[str, Any] = {"offset_mbar": offset} if high else {}
        return [_finding("flag", "disagree", phase=one.phase, **given)]
    if one.agreement == "agree":
        return [_finding("ok", "agree", phase=one.phase)]
    return []


def _measured(s: ReadingSet) -> bool:
    return s.air_kg_s is not None and s.exhaust_k is not None


def _share_step(one: float | None, two: float | None) -> float | None:
    if one is None or two is None or one <= 0 or two <= 0:
        return None
    return two / one - 1


def _one(sets: Sequence[ReadingSet], condition: str) -> ReadingSet | None:
    """The last set of a condition: a repeat replaces what it repeats in these checks."""
    found = [s for s in sets if s.condition == condition]
    return found[-1] if found else None
