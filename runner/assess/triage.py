"""Triage before any fluid: go, go with a warning in writing, don't, or nothing to clean.

All rows of ``triage.yaml`` whose facts hold speak; the gravest effect decides. An answer that
is unknown never counts as a good one.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final, Literal, TypeAlias

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput, Workshop

from ..core.reading_set import ReadingSet
from ..input.resolution import Numbers, outcome
from . import told
from .comparability import ComparabilityFinding, each_phase, no_line
from .facts import Facts, Given, check_facts, choice_domains
from .judge import DOMAINS, code_class, level_class
from .remains import AshBand, CleanBand, ash_band, clean_band
from .resistance import NoResistance, Resistance, resistance
from .tables import BadTable, TableConditions, as_when, load_table, matches

Decision: TypeAlias = Literal["go", "go_with_warning", "dont", "nothing_to_clean"]

STATES: Final[dict[Decision, str]] = {
    "go": "go",
    "go_with_warning": "warn",
    "dont": "dont",
    "nothing_to_clean": "nothing",
}
"""The state of the fact 'triage' that each decision is recorded as."""
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
    """One row that spoke, by its id, or one finding of the readings.

    ``until`` says what would lift a "don't"; empty otherwise.
    """

    effect: Decision
    row: str = ""
    finding: ComparabilityFinding | None = None

    @property
    def id(self) -> str:
        """The row, or the id of the finding."""
        return self.row or (self.finding.id if self.finding else "")

    @property
    def text(self) -> str:
        """The reason in words."""
        return str(told.reason(outcome(self))["text"])

    @property
    def until(self) -> str:
        """What would lift it, in words."""
        return str(told.reason(outcome(self))["until"])

    @property
    def source(self) -> str:
        """Where the row comes from."""
        return str(told.reason(outcome(self))["source"])


@dataclass(frozen=True, slots=True)
class ExpectedGain:
    """What a clean could bring at best, percent less pressure for the same flow.

    Nothing at all is always possible. ``high_percent`` is the fall from what was read to the
    middle of the band of new filters of this size: no used one does better.
    """

    high_percent: float


@dataclass(frozen=True, slots=True)
class TriageDecision:
    """The decision and every reason for it: ids, classes, and numbers at their resolution.

    ``state`` is the decision as a state of the fact 'triage'; ``facts`` what the rows saw;
    ``slopes`` the resistance by which the fit was refused or not.
    """

    state: str
    decision: Decision
    reasons: tuple[Reason, ...]
    facts: Mapping[str, str]
    before: Resistance | None
    slopes: Mapping[str, str]
    clean: CleanBand
    ash: AshBand | None
    expected: ExpectedGain | None
    codes: tuple[str, ...]

    @property
    def warnings(self) -> tuple[str, ...]:
        """The texts that have to be given in writing before the work."""
        return tuple(r.text for r in self.reasons if r.effect == "go_with_warning")

    def to_json(self) -> dict[str, Any]:
        """The outcome as a record holds it: no sentence, every number a decimal text."""
        plain: dict[str, Any] = outcome(self)
        return plain

    def told(self) -> dict[str, Any]:
        """The outcome with its sentences (``runner.assess.told``)."""
        return told.triage(self.to_json())

    def lines(self) -> list[str]:
        """The triage in plain text, for the screen."""
        return told.triage_lines(self.told())


def triage(
    before: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    facts: Given | Facts,
    recorded: Mapping[str, Any] | None = None,
) -> TriageDecision:
    """Whether to clean, from the readings before, the codes and the answers.

    ``recorded`` as in ``judge``. Raises ``BadFact`` on facts that do not exist, ``Disagreement``
    on recorded numbers that cannot be, else never.
    """
    known = facts if isinstance(facts, Facts) else check_facts(facts)
    numbers = Numbers(recorded)
    slopes = numbers.part("slopes")
    one = resistance(before, vehicle, workshop, numbers.part("before"), slopes) if before else None
    fitted = one if isinstance(one, Resistance) else None
    clean = clean_band(vehicle).taken(numbers.part("clean"))
    ash = ash_band(vehicle, known, numbers.part("ash"))
    level = level_class(fitted, clean, vehicle)
    seen = dict(known.choices) | {
        "pressure": level,
        "points": fitted.agreement if fitted else "cannot_tell",
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
    if vehicle.urea_after_filter and seen.get("coating") == "none":
        seen["coating"] = "unknown"
    reasons = tuple(r for r, when in _rows() if matches(when, seen))
    reasons += _of_readings(before, one)
    decision = _gravest(reasons)
    go = decision in ("go", "go_with_warning")
    return TriageDecision(
        state=STATES[decision],
        decision=decision,
        reasons=tuple(sorted(reasons, key=lambda r: _ORDER.index(r.effect))),
        facts=seen,
        before=fitted,
        slopes=slopes.given,
        clean=clean,
        ash=ash,
        expected=_expected(fitted, clean, vehicle) if go else None,
        codes=tuple(c.written for c in known.codes),
    )


def _of_readings(
    before: Sequence[ReadingSet], one: Resistance | NoResistance | None
) -> tuple[Reason, ...]:
    """What the readings themselves forbid or flag, as reasons."""
    out = [
        Reason("dont" if f.kind == "refused" else "go_with_warning", finding=f)
        for f in each_phase(before)
        if f.kind in ("refused", "flag") and f.id != "burning"
    ]
    if isinstance(one, NoResistance):
        out.append(Reason("dont", finding=no_line(one)))
    return tuple(out)


def triage_domains() -> dict[str, tuple[str, ...]]:
    """Every fact that a triage row may name, with its values."""
    return {**choice_domains(), **_COMPUTED}


@lru_cache(maxsize=1)
def _rows() -> tuple[tuple[Reason, TableConditions], ...]:
    out = []
    domains = triage_domains()
    for plain in load_table("triage")["rows"]:
        name = plain["id"]
        if plain["effect"] not in _EFFECTS:
            raise BadTable(
                _("triage.yaml, row {name}: effect {plain!r}", name=name, plain=plain["effect"])
            )
        if (plain["effect"] == "dont") != bool(plain["until"]):
            raise BadTable(
                _("triage.yaml, row {name}: a dont, and only a dont, has an until", name=name)
            )
        reason = Reason(_EFFECTS[plain["effect"]], name)
        out.append((reason, as_when("triage", name, plain["when"], domains)))
    return tuple(out)


def _gravest(reasons: Sequence[Reason]) -> Decision:
    effects = {r.effect for r in reasons}
    return next((effect for effect in _ORDER if effect in effects), "go")


def _expected(
    one: Resistance | None, clean: CleanBand, vehicle: VehicleInput
) -> ExpectedGain | None:
    if one is None or vehicle.one_hose:
        return None
    # From numbers at their resolution, by roots and ratios that come out alike everywhere.
    middle = math.sqrt(clean.new_low_mbar * clean.new_high_mbar)
    return ExpectedGain(max(0.0, 100 * (1 - middle / one.at_reference_mbar)))


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"
