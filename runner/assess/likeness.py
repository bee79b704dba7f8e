"""Are two phases alike enough to be compared: the checks, each ending in a finding.

A finding is ``ok``, ``corrected`` (unlike, but measured, so the sum takes it out), ``flag``
(looks wrong, a person must look) or ``refused`` (no comparison). The bands are those of
``inputs.BANDS`` with their sources.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from runner.assess.facts import Facts
from runner.assess.inputs import BANDS
from runner.assess.resistance import Resistance
from runner.readings.model import ReadingSet

Kind: TypeAlias = Literal["ok", "corrected", "flag", "refused"]

RUNNING: Final = ("idle", "raised")
_COPY_FIELDS: Final = ("pressure_pa", "air_kg_s", "exhaust_k", "speed_rpm")


@dataclass(frozen=True, slots=True)
class Finding:
    """One outcome of a check: its kind, a short stable id, plain words with the remedy."""

    kind: Kind
    id: str
    text: str


def refused(name: str, text: str) -> Finding:
    """A finding that forbids a comparison: its id and why, in plain words. Never raises."""
    return Finding("refused", name, text)


def each_phase(sets: Sequence[ReadingSet]) -> list[Finding]:
    """What the sets of one phase say by themselves: warm enough, no burn, zero in its band.

    Bands: ``inputs.BANDS`` (K, Pa, 1/min). Never raises. Source: common practice, no source.
    """
    out: list[Finding] = []
    for s in sets:
        where = f"{s.phase}, {s.condition}"
        if s.burning:
            out.append(refused("burning", f"{where}: read while a regeneration was running"))
        if s.condition == "zero":
            out += _zero(s, where)
            continue
        if s.coolant_k is None:
            continue
        if s.coolant_k < BANDS.coolant_least_k:
            out.append(
                refused(
                    "cold",
                    f"{where}: coolant {s.coolant_k - 273.15:.0f} degC. Warm it and read again",
                )
            )
        elif s.coolant_k < BANDS.coolant_warm_k:
            kind: Kind = "corrected" if _measured(s) else "refused"
            out.append(
                Finding(
                    kind,
                    "cool",
                    f"{where}: coolant {s.coolant_k - 273.15:.0f} degC, below 80; "
                    + (
                        "flow and exhaust temperature were measured, so taken out by the sum"
                        if kind == "corrected"
                        else "without flow and temperature: read again warm"
                    ),
                )
            )
    idle = _one(sets, "idle")
    raised = _one(sets, "raised")
    if idle and raised:
        out += _idle_against_raised(idle, raised)
    if (idle or raised) and not _one(sets, "zero"):
        name = (idle or raised or sets[0]).phase
        out.append(Finding("ok", "zero_missing", f"{name}: zero not read, allowed for; wider"))
    return out


def _idle_against_raised(idle: ReadingSet, raised: ReadingSet) -> list[Finding]:
    where = idle.phase
    if idle.pressure_pa is None or raised.pressure_pa is None:
        return []
    if idle.pressure_pa == raised.pressure_pa:
        return [
            refused(
                "frozen",
                f"{where}: the pressure is the same at idle and raised: frozen or a substitute "
                "value. Look at sensor and line",
            )
        ]
    if raised.pressure_pa < idle.pressure_pa:
        return [
            refused(
                "falls",
                f"{where}: the pressure falls when the revs rise: hoses swapped, hose off or the "
                "wrong sensor",
            )
        ]
    return []


def _zero(s: ReadingSet, where: str) -> list[Finding]:
    if s.pressure_pa is None:
        return []
    mbar = s.pressure_pa / 100
    if (s.speed_rpm or 0.0) > 0:
        return [refused("zero_running", f"{where}: read with the engine running. Stop, read again")]
    if not BANDS.zero_low_pa <= s.pressure_pa <= BANDS.zero_high_pa:
        return [
            refused(
                "zero_out",
                f"{where}: zero reads {mbar:+.1f} mbar, outside -10 to +5: sensor, or liquid in "
                "the hose. Clear the hose, read again",
            )
        ]
    if s.pressure_pa > BANDS.flow_offset_high_pa:
        return [
            Finding(
                "flag",
                "zero_high",
                f"{where}: zero reads {mbar:+.1f} mbar, above +3: liquid in the hose, or the "
                "sensor's zero. Clear the hose, read the zero again",
            )
        ]
    return [Finding("ok", "zero", f"{where}: sensor zero believable ({mbar:+.1f})")]


def by_facts(facts: Facts) -> list[Finding]:
    """What the answers say about comparing: filter dry, hose clear, loads off, pressure level.

    An unknown answer refuses nothing here; triage asks for it. Never raises. Source: common
    practice, no source.
    """
    out = []
    if facts.get("filter_dry") == "no":
        out.append(
            refused("wet", "the filter is not dry: it reads high. Hold the revs, read again")
        )
    elif facts.get("filter_dry") == "unknown":
        out.append(
            Finding("ok", "dry_unknown", "not known whether the filter is dry: wet reads high")
        )
    if facts.get("plateau") == "falling":
        out.append(refused("falling", "the pressure was still falling: not dry, don't judge yet"))
    if facts.get("hose_clear") == "no":
        out.append(refused("hose", "the hose is not clear: 1 cm of liquid is 1 mbar"))
    if facts.get("loads_off") == "no":
        out.append(
            Finding("flag", "loads", "air conditioning or other loads were on in one of the sets")
        )
    if facts.get("car_level") == "no":
        out.append(
            Finding("flag", "level", "the car does not stand level: liquid may hide the zero")
        )
    return out


def zero_pair(before: Sequence[ReadingSet], after: Sequence[ReadingSet]) -> list[Finding]:
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
    return [
        Finding(
            "flag",
            "zero_moved",
            f"the zero moved by {step / 100:+.1f} mbar between before and after: liquid in the "
            "hose, or the sensor. Clear the hose and read the zero again",
        )
    ]


def pairs(before: Sequence[ReadingSet], after: Sequence[ReadingSet]) -> list[Finding]:
    """Idle against idle and raised against raised: like, corrected by the sum, or refused.

    Also copies and two names of the line. Bands: ``inputs.BANDS``. Never raises. A difference is
    only taken out where air flow (and exhaust temperature) were measured both times.
    """
    out: list[Finding] = []
    for condition in RUNNING:
        one, two = _one(before, condition), _one(after, condition)
        if one is None or two is None:
            if one or two:
                out.append(
                    Finding(
                        "ok",
                        f"{condition}_once",
                        f"{condition} was read only {'before' if one else 'after'}: wider",
                    )
                )
            continue
        out += _same(condition, one, two)
    if before and after:
        names = {s.line_name for s in (*before, *after) if s.line_name}
        if len(names) > 1:
            out.append(
                refused(
                    "line_name",
                    f"read from different lines of the instrument: {', '.join(sorted(names))}. "
                    "Read the measured pressure both times",
                )
            )
    return out


def _same(condition: str, one: ReadingSet, two: ReadingSet) -> list[Finding]:
    out: list[Finding] = []
    shown = [f for f in _COPY_FIELDS if getattr(one, f) is not None]
    if len(shown) >= 3 and all(getattr(one, f) == getattr(two, f) for f in shown):
        out.append(
            refused(
                "identical",
                f"{condition}: before and after are the same to the last figure: copied, or "
                "frozen. Read again",
            )
        )
    both = one.air_kg_s is not None and two.air_kg_s is not None
    if one.speed_rpm is not None and two.speed_rpm is not None:
        step = two.speed_rpm - one.speed_rpm
        if abs(step) > BANDS.speed_like_rpm:
            out.append(_unlike("speed", condition, f"speed differs by {step:+.0f} 1/min", both))
    if (one.air_kg_s is None) != (two.air_kg_s is None):
        out.append(
            Finding(
                "corrected",
                "air_once",
                f"{condition}: air flow was read only once; the other is estimated: much wider",
            )
        )
    air_step = _share_step(one.air_kg_s, two.air_kg_s)
    if one.recirculation and two.recirculation and one.recirculation != two.recirculation:
        what = f"recirculation {one.recirculation} before, {two.recirculation} after"
        out.append(_unlike("recirculation", condition, what, both))
        out.append(Finding("flag", "recirculation_changed", f"{condition}: {what}: find out why"))
    elif air_step is not None and abs(air_step) > BANDS.air_like_share:
        what = f"air flow differs by {100 * air_step:+.0f} %"
        out.append(_unlike("air", condition, what, both))
        if not _speeds_explain(one, two, air_step):
            out.append(
                Finding(
                    "flag",
                    "recirculation_changed",
                    f"{condition}: {what} at like speed: recirculation, loads or air meter "
                    "changed between the sets",
                )
            )
    if one.exhaust_k is not None and two.exhaust_k is not None:
        step = two.exhaust_k - one.exhaust_k
        if abs(step) > BANDS.exhaust_correctable_k:
            out.append(
                refused(
                    "exhaust_far",
                    f"{condition}: exhaust differs by {step:+.0f} K, too far: read again",
                )
            )
        elif abs(step) > BANDS.exhaust_like_k:
            out.append(_unlike("exhaust", condition, f"exhaust differs by {step:+.0f} K", True))
    return out


def _unlike(name: str, condition: str, what: str, both_measured: bool) -> Finding:
    if both_measured:
        return Finding(
            "corrected", name, f"{condition}: {what}; measured both times, taken out by the sum"
        )
    return refused(
        name,
        f"{condition}: {what}, and without the air flow both times it cannot be "
        "corrected. Read again under like conditions",
    )


def _speeds_explain(one: ReadingSet, two: ReadingSet, air_step: float) -> bool:
    if one.speed_rpm is None or two.speed_rpm is None or one.speed_rpm <= 0:
        return False
    return abs(math.log1p(air_step) - math.log(two.speed_rpm / one.speed_rpm)) <= math.log1p(
        BANDS.air_moved_share
    )


def fit_findings(one: Resistance) -> list[Finding]:
    """Whether the points of one fitted phase lie on one line (chi-square, 1 %). Never raises.

    An offset that the running points ask for (mbar) above its band names liquid or a wrong zero.
    """
    if one.agreement == "disagree":
        where = f"{one.phase}: idle, raised and zero do not lie on one line"
        offset = one.offset_from_flow_mbar
        if offset is not None and offset > BANDS.flow_offset_high_pa / 100:
            where += (
                f"; the running points ask for a zero of {offset:+.1f} mbar: liquid in the hose "
                "or a wrong zero"
            )
        return [Finding("flag", "disagree", where)]
    if one.agreement == "agree":
        return [Finding("ok", "agree", f"{one.phase}: idle, raised and zero agree")]
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
