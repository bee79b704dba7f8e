"""Whether the pressure over the filter may be believed, and where typed and measured differ.

Public sources read the standard's pressure in four ways (signed or not, offset, a factor of ten
older), so nothing is believed before it was seen at zero and against an own gauge. All numbers
here are design choices; pressures in Pa, in integers of thousandths where samples come in.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Final

from .samples import Sample

ZERO_MS: Final = 10_000
ZERO_PA: Final = 500
OFFSET_FORM_PA: Final = 300_000
"""A standing engine that shows more than this shows the offset of another form of the value."""
GAUGE_SHARE: Final = 5
GAUGE_PA: Final = 200
"""The vehicle agrees with the gauge within a fifth, and 200 Pa, and the gauge's uncertainty."""
OLDER_SCALE: Final = (8, 12)


class Proof(Enum):
    """How far the pressure channel is proven; it feeds only when ``PROVEN``."""

    NOT_GIVEN = "not_given"
    NOT_YET = "not_yet"
    ZERO_SEEN = "zero_seen"
    PROVEN = "proven"
    ZERO_OFF = "zero_off"
    OFFSET_FORM = "offset_form"
    TEN_OFF = "ten_off"
    GAUGE_DIFFERS = "gauge_differs"


def at_zero(samples: Sequence[Sample], stopped_from_ms: int) -> Proof:
    """The proof from samples with the ignition on and the engine stopped since
    ``stopped_from_ms``: ten seconds of them, from ten seconds after it stopped."""
    values = [
        s.milli for s in samples if s.channel == "delta_pa" and s.at_ms >= stopped_from_ms + ZERO_MS
    ]
    times = [
        s.at_ms for s in samples if s.channel == "delta_pa" and s.at_ms >= stopped_from_ms + ZERO_MS
    ]
    if not any(s.channel == "delta_pa" for s in samples):
        return Proof.NOT_GIVEN
    if not times or times[-1] - times[0] < ZERO_MS:
        return Proof.NOT_YET
    mean_milli = abs(sum(values)) // len(values)
    if mean_milli >= OFFSET_FORM_PA * 1000:
        return Proof.OFFSET_FORM
    return Proof.ZERO_SEEN if mean_milli <= ZERO_PA * 1000 else Proof.ZERO_OFF


def against_gauge(zero: Proof, shown_pa: int, gauge_pa: int, gauge_within_pa: int) -> Proof:
    """The proof after the own gauge read ``gauge_pa`` at the moment when the vehicle showed
    ``shown_pa``, engine running. Only a channel whose zero was seen can be proven."""
    if zero is not Proof.ZERO_SEEN:
        return zero
    within = max(GAUGE_PA, abs(gauge_pa) // GAUGE_SHARE) + gauge_within_pa
    if abs(shown_pa - gauge_pa) <= within and abs(gauge_pa) > within:
        return Proof.PROVEN
    low, high = OLDER_SCALE
    ten = low * abs(shown_pa) <= abs(gauge_pa) <= high * abs(shown_pa)
    ten = ten or low * abs(gauge_pa) <= abs(shown_pa) <= high * abs(gauge_pa)
    return Proof.TEN_OFF if ten else Proof.GAUGE_DIFFERS


@dataclass(frozen=True, slots=True)
class Difference:
    """A typed value and the vehicle's differ by more than both allow: quantity and both [SI]."""

    quantity: str
    typed: float
    measured: float


def differs(
    quantity: str, typed: float, measured: float, *, sigma_pa: float = 0.0
) -> Difference | None:
    """Whether a typed value and a measured one [SI] contradict each other; None where not.

    Speed: 100 1/min or 5 %. Coolant and intake: 5 K. Exhaust: 25 K. Pressure: three times the
    spread of both, at least 500 Pa. Air: 10 %. KeyError for another quantity.
    """
    allowed = {
        "speed": max(100.0, 0.05 * abs(measured)),
        "coolant": 5.0,
        "intake": 5.0,
        "exhaust": 25.0,
        "pressure": max(500.0, 3.0 * sigma_pa),
        "air": 0.1 * abs(measured),
        "manifold": 5000.0,
    }[quantity]
    return Difference(quantity, typed, measured) if abs(typed - measured) > allowed else None
