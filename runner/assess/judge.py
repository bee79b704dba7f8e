"""The verdict: facts computed from the readings, one row of a table, and the reasons.

``judge`` computes a handful of enumerated facts (is it comparable, what is the gain, where does
the last resistance lie against its band) and lets the first matching row of ``verdict.yaml``
decide. Every limit is guard-banded: a value within its 95 % uncertainty of a limit is called
neither side of it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any, Final

from runner.assess.compare import Comparison, Gain, compare, gain_between
from runner.assess.customer import customer_text
from runner.assess.facts import Facts, Given, check_facts
from runner.assess.inputs import REFERENCE_TEXT
from runner.assess.remains import AshBand, CleanBand, ash_band, clean_band
from runner.assess.resistance import COVERAGE, Resistance, resistance
from runner.assess.tables import BadTable, When, as_when, load_table, matches
from runner.readings.model import ReadingSet
from safety.limits.inputs import Vehicle, Workshop

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
"""A gain whose interval holds nil and ends below this is called "same", else "unclear"."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the verdict table."""

    id: str
    when: When
    verdict: str
    reason: str
    advice: tuple[str, ...]
    source: str
    return_days: int
    return_km: int


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit that was used: its value in its unit and where it comes from."""

    name: str
    value: float
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict with all that it rests on.

    ``id`` is one of the titles of ``verdict.yaml``; ``row`` the row that decided; ``facts`` the
    enumerated facts it saw. ``return_days`` and ``return_km`` are offsets for the return check,
    whichever comes first.
    """

    id: str
    title: str
    row: str
    facts: Mapping[str, str]
    reasons: tuple[str, ...]
    look_at: tuple[str, ...]
    corrected: tuple[str, ...]
    advice: tuple[str, ...]
    limits: tuple[Limit, ...]
    gain: Gain | None
    before: Resistance | None
    after: Resistance | None
    road: Resistance | None
    clean: CleanBand
    ash: AshBand | None
    not_measured: tuple[str, ...]
    return_days: int
    return_km: int
    customer: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """A plain dict that ``json.dumps`` takes."""
        plain = asdict(self)
        plain["facts"] = dict(self.facts)
        return plain

    def lines(self) -> list[str]:
        """The verdict in plain text, for the screen."""
        out = [f"VERDICT  {self.title}"]
        if self.gain is not None:
            unless = ", if what stands under 'look at' is explained" if self.look_at else ""
            out.append(f"  {self.gain.text()}, for the same flow and warmth, 95 %{unless}")
        for name, one in (("before", self.before), ("after", self.after), ("road", self.road)):
            if one is not None:
                out.append(
                    f"  {name:<7}{one.at_reference_mbar:.0f} mbar +/- "
                    f"{COVERAGE * one.u_at_reference_mbar:.0f} at {REFERENCE_TEXT}; "
                    f"zero {one.offset_mbar:+.1f}"
                )
        out.append(
            f"  A clean one of this size: about {self.clean.new_low:.0f} to "
            f"{self.clean.new_high:.0f} mbar there; used, in mid-cycle: up to "
            f"{self.clean.today_high:.0f}"
        )
        for heading, texts in (
            ("because", self.reasons),
            ("look at", self.look_at),
            ("corrected", self.corrected),
            ("not measured", self.not_measured),
            ("next", self.advice),
        ):
            out += [f"  {heading}: {text}" for text in texts]
        if self.ash is not None:
            out.append(f"  ash: {self.ash.text}")
        for limit in self.limits:
            out.append(f"  limit: {limit.name} {limit.value:.3g} {limit.unit} ({limit.source})")
        if self.return_days:
            out.append(
                f"  come back within {self.return_days} days or {self.return_km} km, "
                "whichever is first"
            )
        return out


def judge(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    road: Sequence[ReadingSet] | None,
    vehicle: Vehicle,
    workshop: Workshop,
    facts: Given | Facts,
) -> Verdict:
    """The verdict on one job. Raises ``BadFact`` on facts that do not exist, else never."""
    known = facts if isinstance(facts, Facts) else check_facts(facts)
    comparison = compare(before, after, vehicle, workshop, known)
    clean = clean_band(vehicle)
    third, road_gain, road_fact = _road(after, road, vehicle, workshop)
    gain = comparison.gain
    if gain is not None and third is not None and road_fact == "drier" and road:
        gain = gain_between(before, road, vehicle, workshop) or gain
    last = third if third is not None else comparison.after
    seen = {
        "comparable": _comparable(comparison),
        "gain": gain_class(gain),
        "level": level_class(last, clean, vehicle),
        "level_before": level_class(comparison.before, clean, vehicle),
        "points": _points(comparison),
        "look": "some" if _unexplained(comparison) else "none",
        "codes": code_class(known, level_class(last, clean, vehicle)),
        "core": core_class(known),
        "road": road_fact,
        "dry": "yes" if road_fact in ("confirms", "drier") else known.get("filter_dry"),
    }
    row = next(r for r in verdict_rows() if matches(r.when, seen))
    reasons = [row.reason, *(f.text for f in comparison.refused)]
    if road_fact == "drier" and road_gain is not None:
        reasons.append("the road test dried it further: the set after the drive counts")
    if vehicle.one_hose:
        reasons.append("one hose: all behind the filter is read with it; the band does not apply")
    if known.get("soot_model") not in ("unknown", "not_shown"):
        reasons.append(
            f"modelled soot mass is {known.get('soot_model').replace('_', ' ')}: a model's "
            "opinion, not proof"
        )
    missing = _not_measured(before, after, road)
    title = load_table("verdict")["titles"][row.verdict]
    return Verdict(
        id=row.verdict,
        title=title,
        row=row.id,
        facts=seen,
        reasons=tuple(reasons),
        look_at=tuple(f.text for f in comparison.flags),
        corrected=tuple(f.text for f in comparison.corrected),
        advice=(*row.advice, *_code_advice(known)),
        limits=_limits(clean),
        gain=gain,
        before=comparison.before,
        after=comparison.after,
        road=third,
        clean=clean,
        ash=ash_band(vehicle, known),
        not_measured=missing,
        return_days=row.return_days,
        return_km=row.return_km,
        customer=customer_text(row.verdict, gain, known, row.return_days, row.return_km, missing),
    )


_OWN_FACT: Final = ("disagree", "wrong_sign")
_IN_THE_SUM: Final = ("zero_moved", "zero_high", "recirculation_changed")
_ROAD_WORSE: Final = "worse"


def _unexplained(comparison: Comparison) -> list[str]:
    """Flags that hold up the verdict.

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
            raise BadTable(f"verdict.yaml, row {plain['id']}: no such verdict")
        rows.append(
            Row(
                id=plain["id"],
                when=as_when("verdict", plain["id"], plain["when"], DOMAINS),
                verdict=plain["verdict"],
                reason=plain["reason"],
                advice=tuple(plain["advice"]),
                source=plain["source"],
                return_days=int(plain["return"]["days"]),
                return_km=int(plain["return"]["km"]),
            )
        )
    if rows[-1].when or len({r.id for r in rows}) != len(rows):
        raise BadTable("verdict.yaml: the last row must match all, and ids must differ")
    return tuple(rows)


def gain_class(gain: Gain | None) -> str:
    """better, same, unclear, worse or unknown, by the 95 % interval of the gain (percent).

    "same": the interval holds nil and ends below ``SAME_WITHIN_PERCENT``. Never raises.
    """
    if gain is None:
        return "unknown"
    if gain.low > 0:
        return "better"
    if gain.high < 0:
        return "worse"
    return "same" if gain.high < SAME_WITHIN_PERCENT else "unclear"


def level_class(one: Resistance | None, clean: CleanBand, vehicle: Vehicle) -> str:
    """Where a resistance lies against its band, guard-banded by its 95 % uncertainty.

    Unknown for a one-hose sensor, which reads all behind the filter too.
    """
    if one is None or vehicle.one_hose:
        return "unknown"
    low = one.at_reference_mbar - COVERAGE * one.u_at_reference_mbar
    high = one.at_reference_mbar + COVERAGE * one.u_at_reference_mbar
    if high < clean.damage_below:
        return "low"
    if low < clean.damage_below:
        return "near_low" if high <= clean.today_high else "unknown"
    if high <= clean.today_high:
        return "expected"
    return "above" if low > clean.today_high else "near"


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


def _road(
    after: Sequence[ReadingSet],
    road: Sequence[ReadingSet] | None,
    vehicle: Vehicle,
    workshop: Workshop,
) -> tuple[Resistance | None, Gain | None, str]:
    if not road:
        return None, None, "none"
    third = resistance(road, vehicle, workshop)
    gain = gain_between(after, road, vehicle, workshop)
    if not isinstance(third, Resistance) or gain is None:
        return None, None, "none"
    if gain.low > 0:
        return third, gain, "drier"
    return third, gain, _ROAD_WORSE if gain.high < 0 else "confirms"


def _limits(clean: CleanBand) -> tuple[Limit, ...]:
    return (
        Limit("flows as expected up to", clean.today_high, "mbar at reference", clean.source),
        Limit("leak or damage below", clean.damage_below, "mbar at reference", clean.basis),
    )


def _code_advice(facts: Facts) -> tuple[str, ...]:
    back = [c.code for c in facts.codes if c.expect_back]
    self_made = [c.code for c in facts.codes if c.self_inflicted]
    out = []
    if back:
        out.append(f"may come back until its cause is mended: {', '.join(back)}")
    if self_made:
        out.append(f"the work itself can set these, mark them apart: {', '.join(self_made)}")
    return tuple(out)


def _not_measured(
    before: Sequence[ReadingSet],
    after: Sequence[ReadingSet],
    road: Sequence[ReadingSet] | None,
) -> tuple[str, ...]:
    words = {
        "air_kg_s": "air flow",
        "exhaust_k": "exhaust temperature",
        "coolant_k": "coolant temperature",
        "recirculation": "recirculation",
    }
    running = [s for s in (*before, *after) if s.condition != "zero"]
    out = [word for name, word in words.items() if any(getattr(s, name) is None for s in running)]
    for phase, sets in (("before", before), ("after", after)):
        out += [
            f"{condition} {phase}"
            for condition in ("zero", "idle", "raised")
            if not any(s.condition == condition for s in sets)
        ]
    if not road:
        out.append("hot and dry after a road test")
    return tuple(out)
