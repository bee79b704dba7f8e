"""Triage before any fluid: go, go with a warning in writing, don't, or nothing to clean.

All rows of ``triage.yaml`` whose facts hold speak; the gravest effect decides. An answer that
is unknown never counts as a good one.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any, Final, Literal, TypeAlias

from runner.assess.codes import MAKERS_DIFFER
from runner.assess.facts import Facts, Given, check_facts, choice_domains
from runner.assess.inputs import REFERENCE_TEXT
from runner.assess.judge import DOMAINS, code_class, level_class
from runner.assess.likeness import each_phase
from runner.assess.remains import AshBand, CleanBand, ash_band, clean_band
from runner.assess.resistance import COVERAGE, Refused, Resistance, resistance
from runner.assess.tables import BadTable, When, as_when, load_table, matches
from runner.readings.model import ReadingSet
from safety.limits.inputs import Vehicle, Workshop

Decision: TypeAlias = Literal["go", "go_with_warning", "dont", "nothing_to_clean"]

TITLES: Final[dict[Decision, str]] = {
    "go": "go",
    "go_with_warning": "go, with a warning in writing first",
    "dont": "don't",
    "nothing_to_clean": "nothing to clean",
}
_EFFECTS: Final[dict[str, Decision]] = {
    "dont": "dont",
    "nothing": "nothing_to_clean",
    "warn": "go_with_warning",
}
_ORDER: Final[tuple[Decision, ...]] = ("dont", "nothing_to_clean", "go_with_warning")
"""From the gravest down: the order in which effects decide and reasons are shown."""
_YES_NO: Final = ("yes", "no")
_COMPUTED: Final[dict[str, tuple[str, ...]]] = {
    "pressure": DOMAINS["level"],
    "points": DOMAINS["points"],
    "codes": DOMAINS["codes"],
    "readable": _YES_NO,
    "code_block": _YES_NO,
    "code_question": _YES_NO,
    "code_ash": _YES_NO,
    "one_hose": _YES_NO,
    "ash_by_distance": ("low", "high", "unknown"),
}


@dataclass(frozen=True, slots=True)
class Reason:
    """One row that spoke. ``until`` says what would lift a "don't"; empty otherwise."""

    id: str
    effect: Decision
    text: str
    until: str
    source: str


@dataclass(frozen=True, slots=True)
class ExpectedGain:
    """What a clean could bring at best, percent less pressure for the same flow.

    ``low`` is always 0: nothing at all is possible. ``high`` is the fall from what was read to
    the middle of the band of new filters of this size: no used one does better.
    """

    low: float
    high: float
    text: str


@dataclass(frozen=True, slots=True)
class Triage:
    """The decision and every reason for it."""

    decision: Decision
    title: str
    reasons: tuple[Reason, ...]
    facts: Mapping[str, str]
    before: Resistance | None
    clean: CleanBand
    ash: AshBand | None
    expected: ExpectedGain | None
    codes: tuple[str, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """The texts that have to be given in writing before the work."""
        return tuple(r.text for r in self.reasons if r.effect == "go_with_warning")

    def to_json(self) -> dict[str, Any]:
        """A plain dict that ``json.dumps`` takes."""
        plain = asdict(self)
        plain["facts"] = dict(self.facts)
        return plain

    def lines(self) -> list[str]:
        """The triage in plain text, for the screen."""
        out = [f"TRIAGE  {self.title}"]
        for reason in self.reasons:
            until = f" Not until {reason.until}." if reason.until else ""
            out.append(f"  {reason.text}{until} ({reason.source})")
        if self.before is not None:
            one = self.before
            out.append(
                f"  now {one.at_reference_mbar:.0f} mbar +/- "
                f"{COVERAGE * one.u_at_reference_mbar:.0f} at {REFERENCE_TEXT}; a clean one of "
                f"this size: about {self.clean.new_low:.0f} to {self.clean.new_high:.0f}; used, "
                f"in mid-cycle: up to {self.clean.today_high:.0f}"
            )
        if self.expected is not None:
            out.append(f"  {self.expected.text}")
        if self.ash is not None:
            out.append(f"  {self.ash.text}")
        out += [f"  {text}" for text in self.codes]
        return out


def triage(
    before: Sequence[ReadingSet], vehicle: Vehicle, workshop: Workshop, facts: Given | Facts
) -> Triage:
    """Whether to clean, from the readings before, the codes and the answers.

    Raises ``BadFact`` on facts that do not exist, else never.
    """
    known = facts if isinstance(facts, Facts) else check_facts(facts)
    one = resistance(before, vehicle, workshop) if before else None
    fitted = one if isinstance(one, Resistance) else None
    clean = clean_band(vehicle)
    ash = ash_band(vehicle, known)
    level = level_class(fitted, clean, vehicle)
    seen = dict(known.choices) | {
        "pressure": level,
        "points": fitted.agreement.replace(" ", "_") if fitted else "cannot_tell",
        "codes": code_class(known, level),
        "readable": "yes" if fitted else "no",
        "code_block": _yes(any(c.effect == "block" for c in known.codes)),
        "code_question": _yes(any(c.effect == "question" for c in known.codes)),
        "code_ash": _yes(any(c.code == "P242F" for c in known.codes)),
        "one_hose": _yes(vehicle.one_hose),
        "ash_by_distance": ash.state if ash else "unknown",
    }
    if any(s.burning for s in before):
        seen["burning"] = "yes"
    if vehicle.urea_after_filter and seen.get("coating") == "no":
        seen["coating"] = "unknown"
    reasons = tuple(r for r, when in _rows() if matches(when, seen))
    reasons += _of_readings(before, one)
    decision = _gravest(reasons)
    return Triage(
        decision=decision,
        title=TITLES[decision],
        reasons=tuple(sorted(reasons, key=lambda r: _ORDER.index(r.effect))),
        facts=seen,
        before=fitted,
        clean=clean,
        ash=ash,
        expected=_expected(fitted, clean, vehicle) if decision.startswith("go") else None,
        codes=tuple(
            f"{c.code}: {c.meaning}. {c.ask} {MAKERS_DIFFER}"
            for c in known.codes
            if c.effect != "note" or c.listed
        ),
    )


def _of_readings(
    before: Sequence[ReadingSet], one: Resistance | Refused | None
) -> tuple[Reason, ...]:
    """What the readings themselves forbid or flag, as reasons."""
    out = [
        Reason(
            f.id,
            "dont" if f.kind == "refused" else "go_with_warning",
            f.text + ".",
            "it is put right and read again" if f.kind == "refused" else "",
            "bands of likeness; common practice",
        )
        for f in each_phase(before)
        if f.kind in ("refused", "flag") and f.id != "burning"
    ]
    if isinstance(one, Refused):
        said = {r.text for r in out}
        out += [
            Reason("no_line", "dont", text + ".", "it is read again", "fit of the readings")
            for text in one.reasons
            if text + "." not in said
        ]
    return tuple(out)


def triage_domains() -> dict[str, tuple[str, ...]]:
    """Every fact that a triage row may name, with its values."""
    return {**choice_domains(), **_COMPUTED}


@lru_cache(maxsize=1)
def _rows() -> tuple[tuple[Reason, When], ...]:
    out = []
    domains = triage_domains()
    for plain in load_table("triage")["rows"]:
        name = plain["id"]
        if plain["effect"] not in _EFFECTS:
            raise BadTable(f"triage.yaml, row {name}: effect {plain['effect']!r}")
        if (plain["effect"] == "dont") != bool(plain["until"]):
            raise BadTable(f"triage.yaml, row {name}: a dont, and only a dont, has an until")
        reason = Reason(
            name, _EFFECTS[plain["effect"]], plain["reason"], plain["until"], plain["source"]
        )
        out.append((reason, as_when("triage", name, plain["when"], domains)))
    return tuple(out)


def _gravest(reasons: Sequence[Reason]) -> Decision:
    effects = {r.effect for r in reasons}
    return next((effect for effect in _ORDER if effect in effects), "go")


def _expected(one: Resistance | None, clean: CleanBand, vehicle: Vehicle) -> ExpectedGain | None:
    if one is None or vehicle.one_hose:
        return None
    middle = math.sqrt(clean.new_low * clean.new_high)
    best = max(0.0, 100 * (1 - middle / one.at_reference_mbar))
    return ExpectedGain(
        0.0,
        best,
        f"Gain to expect: 0 to {best:.0f} % less pressure for the same flow; nothing at all is "
        "possible, and ash stays.",
    )


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"
