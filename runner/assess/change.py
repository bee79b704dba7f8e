"""What changed since an earlier day: a kept set against today's, like for like.

The checks and the fit are those of the verdict. In the outcome ``before`` is the kept set and
``after`` today's.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from steplatch.safety.limits.inputs import VehicleInput, Workshop

from ..core.reading_set import ReadingSet
from ..input.resolution import Numbers, outcome
from .comparability import ComparabilityFinding
from .compare import Gain, compare
from .facts import Given, check_facts
from .judge import gain_class, level_class, unexplained
from .remains import CleanBand, clean_band
from .resistance import Resistance

STATE: Final = {
    "better": "easier",
    "same": "same",
    "worse": "harder",
    "unclear": "unclear",
    "unknown": "cannot_say",
}
"""The state by the class of the gain."""


@dataclass(frozen=True, slots=True)
class Change:
    """What changed, with all that it rests on, as ``judge.Verdict`` has it; ``distance_km`` was
    driven between the two days, None where it is not known both times."""

    state: str
    findings: tuple[ComparabilityFinding, ...]
    gains: Mapping[str, Gain]
    before: Resistance | None
    after: Resistance | None
    slopes: Mapping[str, Mapping[str, str]]
    clean: CleanBand
    level: str
    distance_km: float | None

    def to_json(self) -> dict[str, Any]:
        """The outcome as a record holds it: no sentence, every number a decimal text."""
        plain: dict[str, Any] = outcome(self)
        return plain


def change(
    kept: Sequence[ReadingSet],
    today: Sequence[ReadingSet],
    vehicle: VehicleInput,
    workshop: Workshop,
    facts: Given,
    distances_km: tuple[float | None, float | None] = (None, None),
    recorded: Mapping[str, Any] | None = None,
) -> Change:
    """What changed from ``kept`` to ``today``; ``distances_km`` then and now. With ``recorded`` as
    ``judge.judge``. Raises ``BadFact`` on facts that do not exist, else only ``Disagreement``."""
    numbers = Numbers(recorded)
    then = [replace(one, phase="before") for one in kept]
    now = [replace(one, phase="after") for one in today]
    found = compare(then, now, vehicle, workshop, check_facts(facts), numbers)
    clean = clean_band(vehicle).taken(numbers.part("clean"))
    state = STATE[gain_class(found.gain)]
    if found.gain is not None and unexplained(found):
        state = "look_first"
    first, last = distances_km
    driven = None if first is None or last is None or last < first else last - first
    return Change(
        state=state,
        findings=tuple(f for f in found.findings if f.id != "wrong_sign"),
        gains={} if found.gain is None else {"after": found.gain},
        before=found.before,
        after=found.after,
        slopes={"together": found.together, "alone": found.alone},
        clean=clean,
        level=level_class(found.after, clean, vehicle),
        distance_km=None if driven is None else numbers.take("distance_km", driven),
    )
