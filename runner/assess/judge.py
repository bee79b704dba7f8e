"""The verdict: facts computed from the readings, one row of a table, and the reasons.

``judge`` computes a handful of enumerated facts (is it comparable, what is the gain, where does
the last resistance lie against its band) and lets the first matching row of ``verdict.yaml``
decide. Every limit is guard-banded: a value within its 95 % uncertainty of a limit is called
neither side of it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput, Workshop

from ..core.reading_set import ReadingSet
from ..input.resolution import Numbers, outcome
from . import told
from .comparability import ComparabilityFinding
from .compare import Comparison, Gain, compare, gain_between
from .facts import Facts, Given, check_facts
from .remains import AshBand, CleanBand, ash_band, clean_band
from .resistance import COVERAGE, Resistance, resistance
from .tables import BadTable, TableConditions, as_when, load_table, matches

DOMAINS: Final[dict[str, tuple[str, ...]]] = {
    "comparable": ("yes", "corrected", "no"),
    "gain": ("better", "same", "unclear", "worse", "unknown"),
    "level": ("expected", "near", "above", "low", "near_low", "unknown"),
    "level_before": ("expected", "near", "above", "low", "near_low", "unknown"),
    "points": ("agree", "disagree", "cannot_tell"),
    "look": ("none", "some"),
    "codes": ("none", "fit", "contradict", "low_side"),
    "core": ("no_sign", "suspect", "broken", "unknown"),
    "road": ("none", "confirms", "drier", "worse"),
    "dry": ("yes", "no", "unknown"),
}
"""The facts a row may name and the values they have."""

SAME_WITHIN_PERCENT: Final = 20.0
"""A gain that is not shown and whose interval ends below this is called "same", else "unclear"."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the verdict table, without its sentences."""

    id: str
    when: TableConditions
    verdict: str
    return_days: int
    return_km: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict with all that it rests on: ids, classes, and numbers at their resolution.

    ``state`` is one of the titles of ``verdict.yaml``; ``row`` the row that decided; ``facts`` the
    enumerated facts it saw, ``answers`` those that are only told. ``gains`` are against before, by
    the phase that is compared, and ``dried`` is the gain from after to road; ``counts`` names the
    gain that counts. ``slopes`` are the resistances by which fits were refused or not.
    ``return_days`` and ``return_km`` are offsets for the return check, whichever comes first.
    """

    state: str
    row: str
    facts: Mapping[str, str]
    answers: Mapping[str, str]
    findings: tuple[ComparabilityFinding, ...]
    gains: Mapping[str, Gain]
    dried: Gain | None
    counts: str
    before: Resistance | None
    after: Resistance | None
    road: Resistance | None
    slopes: Mapping[str, Mapping[str, str]]
    clean: CleanBand
    ash: AshBand | None
    codes: tuple[str, ...]
    not_measured: tuple[str, ...]
    return_days: int
    return_km: int

    @property
    def id(self) -> str:
        """The verdict, as its table names it."""
        return self.state

    @property
    def gain(self) -> Gain | None:
        """The gain that counts."""
        return self.gains.get(self.counts)

    def to_json(self) -> dict[str, Any]:
        """The outcome as a record holds it: no sentence, every number a decimal text."""
        plain: dict[str, Any] = outcome(self)
        return plain

    def told(self) -> dict[str, Any]:
        """The outcome with its sentences (``runner.assess.told``)."""
        return told.verdict(self.to_json())

    def lines(self) -> list[str]:
        """The verdict in plain text, for the screen."""
        return told.verdict_lines(self.told())


def judge(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    road: Sequence[ReadingSet] | None,
    vehicle: VehicleInput,
    workshop: Workshop,
    facts: Given | Facts,
    recorded: Mapping[str, Any] | None = None,
) -> Verdict:
    """The verdict on one job. Raises ``BadFact`` on facts that do not exist, else never.

    With ``recorded``, the outcome that stands in a record, the numbers are worked out again and
    the classes follow from the recorded ones: what comes out can be compared with it exactly.
    Raises ``Disagreement`` where a recorded number cannot be the one worked out.
    """
    known = facts if isinstance(facts, Facts) else check_facts(facts)
    numbers = Numbers(recorded)
    comparison = compare(before, after, vehicle, workshop, known, numbers)
    clean = clean_band(vehicle).taken(numbers.part("clean"))
    third = _road(before, after, road or (), vehicle, workshop, numbers)
    gains = {} if comparison.gain is None else {"after": comparison.gain}
    counts = "after"
    if gains and third.fact == "drier" and third.gain is not None:
        gains["road"], counts = third.gain, "road"
    last = third.fitted or comparison.after
    level = level_class(last, clean, vehicle)
    seen = {
        "comparable": _comparable(comparison),
        "gain": gain_class(gains.get(counts)),
        "level": level,
        "level_before": level_class(comparison.before, clean, vehicle),
        "points": _points(comparison),
        "look": "some" if unexplained(comparison) else "none",
        "codes": code_class(known, level),
        "core": core_class(known),
        "road": third.fact,
        "dry": "yes" if third.fact in ("confirms", "drier") else known.get("filter_dry"),
    }
    row = next(r for r in verdict_rows() if matches(r.when, seen))
    return Verdict(
        state=row.verdict,
        row=row.id,
        facts=seen,
        answers={
            "root_cause": known.get("root_cause"),
            "soot_model": known.get("soot_model"),
            "one_hose": "yes" if vehicle.one_hose else "no",
        },
        findings=comparison.findings,
        gains=gains,
        dried=third.dried,
        counts=counts,
        before=comparison.before,
        after=comparison.after,
        road=third.fitted,
        slopes={"together": comparison.together, "alone": comparison.alone, **third.slopes},
        clean=clean,
        ash=ash_band(vehicle, known, numbers.part("ash")),
        codes=tuple(c.written for c in known.codes),
        not_measured=_not_measured(before, after, road),
        return_days=row.return_days,
        return_km=row.return_km,
    )


_OWN_FACT: Final = ("disagree", "wrong_sign")
_IN_THE_SUM: Final = ("zero_moved", "zero_high", "recirculation_changed")


def unexplained(comparison: Comparison) -> list[str]:
    """Flags that hold up a verdict, by id.

    A zero inside its band that moved, and a flow that changed but was measured, are taken out by
    the sum when idle, raised and zero agree both times: then they are told but hold up nothing.
    """
    taken_out = comparison.gain is not None and _points(comparison) == "agree"
    passed = (*_OWN_FACT, *_IN_THE_SUM) if taken_out else _OWN_FACT
    return [f.id for f in comparison.flags if f.id not in passed]


@lru_cache(maxsize=1)
def verdict_rows() -> tuple[Row, ...]:
    """The rows of ``verdict.yaml``, checked. Raises ``BadTable``."""
    table = load_table("verdict")
    rows = []
    for plain in table["rows"]:
        if plain["verdict"] not in table["titles"]:
            raise BadTable(_("verdict.yaml, row {plain}: no such verdict", plain=plain["id"]))
        rows.append(
            Row(
                id=plain["id"],
                when=as_when("verdict", plain["id"], plain["when"], DOMAINS),
                verdict=plain["verdict"],
                return_days=int(plain["return"]["days"]),
                return_km=int(plain["return"]["km"]),
            )
        )
    if rows[-1].when or len({r.id for r in rows}) != len(rows):
        raise BadTable(_("verdict.yaml: the last row must match all, and ids must differ"))
    return tuple(rows)


def gain_class(gain: Gain | None) -> str:
    """better, same, unclear, worse or unknown, by the gain and its uncertainty. Never raises.

    better and worse: by ``resistance.way``. "same": neither, and the 95 % interval ends below
    ``SAME_WITHIN_PERCENT``.
    """
    if gain is None:
        return "unknown"
    if gain.way != "neither":
        return "better" if gain.way == "easier" else "worse"
    return "same" if gain.high_percent < SAME_WITHIN_PERCENT else "unclear"


def level_class(one: Resistance | None, clean: CleanBand, vehicle: VehicleInput) -> str:
    """Where a resistance lies against its band, guard-banded by its 95 % uncertainty.

    Unknown for a one-hose sensor, which reads all behind the filter too.
    """
    if one is None or vehicle.one_hose:
        return "unknown"
    low = one.at_reference_mbar - COVERAGE * one.u_at_reference_mbar
    high = one.at_reference_mbar + COVERAGE * one.u_at_reference_mbar
    if high < clean.damage_below_mbar:
        return "low"
    if low < clean.damage_below_mbar:
        return "near_low" if high <= clean.today_high_mbar else "unknown"
    if high <= clean.today_high_mbar:
        return "expected"
    return "above" if low > clean.today_high_mbar else "near"


def code_class(facts: Facts, level: str) -> str:
    """The codes against the level of the pressure: none, fit, contradict or low_side.

    Only listed generic codes that name a side count. Never raises. Source: ``codes.yaml``.
    """
    sides = {c.side for c in facts.codes if c.listed} - {"any"}
    if not sides:
        return "none"
    if level == "above" and sides == {"low"}:
        return "contradict"
    if level in ("low", "near_low") and sides == {"high"}:
        return "contradict"
    return "low_side" if "low" in sides else "fit"


def core_class(facts: Facts) -> str:
    """The looks of the core: no_sign, suspect, broken or unknown."""
    seen = facts.get("core_condition")
    if seen in ("cracked", "melted", "missing"):
        return "broken"
    return {"outlet_soot": "suspect", "rattle": "suspect", "no_sign": "no_sign"}.get(
        seen, "unknown"
    )


def _comparable(comparison: Comparison) -> str:
    if comparison.gain is None:
        return "no"
    return "corrected" if comparison.corrected else "yes"


def _points(comparison: Comparison) -> str:
    seen = {r.agreement for r in (comparison.before, comparison.after) if r is not None}
    if "disagree" in seen:
        return "disagree"
    return "agree" if seen == {"agree"} else "cannot_tell"


@dataclass(frozen=True, slots=True)
class _Road:
    """The set after the road test: its fit, its gains, and the fact that follows."""

    fact: str
    fitted: Resistance | None
    dried: Gain | None
    gain: Gain | None
    slopes: Mapping[str, Mapping[str, str]]


def _road(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    road: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    numbers: Numbers,
) -> _Road:
    if not road:
        return _Road("none", None, None, None, {})
    names = ("road", "after_road", "before_road")
    parts = {name: numbers.part("slopes").part(name) for name in names}
    slopes = {name: parts[name].given for name in names}
    third = resistance(road, vehicle, workshop, numbers.part("road"), parts["road"])
    dried = gain_between(after, road, vehicle, workshop, numbers.part("dried"), parts["after_road"])
    if not isinstance(third, Resistance) or dried is None:
        return _Road("none", None, dried, None, slopes)
    if dried.way != "easier":
        fact = "worse" if dried.way == "harder" else "confirms"
        return _Road(fact, third, dried, None, slopes)
    at = numbers.part("gains").part("road")
    whole = gain_between(before, road, vehicle, workshop, at, parts["before_road"])
    return _Road("drier", third, dried, whole, slopes)


def _not_measured(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    road: Sequence[ReadingSet] | None,
) -> tuple[str, ...]:
    running = [s for s in (*before, *after) if s.condition != "zero"]
    names = ("air_kg_s", "exhaust_k", "coolant_k", "recirculation")
    out = [name for name in names if any(getattr(s, name) is None for s in running)]
    for phase, sets in (("before", before), ("after", after)):
        out += [
            f"{condition}_{phase}"
            for condition in ("zero", "idle", "raised")
            if not any(s.condition == condition for s in sets)
        ]
    if not road:
        out.append("road")
    return tuple(out)
