"""What is typed at the gun: three jug shots, or a loaded volume; and the volume to count."""

import math
import re
from dataclasses import dataclass
from typing import Any

from runner.quantities import BadQuantity, parse_quantity
from runner.resolution import at_least, quantised
from safety.limits.burst import burst

_SHOTS = re.compile(
    r"(?P<ml>\d+(?:\.\d+)?(?:\s+\d+(?:\.\d+)?){0,9})\s*ml\s+in\s+(?P<s>\d+(?:\.\d+)?)\s*s", re.I
)
_LOADED = re.compile(r"loaded\s+(?P<v>\S.*)", re.I)
LEAST_SHOTS = 3
LONGEST_S = 3600.0
"""No spray lasts an hour; a number above it was mistyped."""
LARGEST_ML = 5000.0
"""No gun or jug holds 5 L; a number above it was mistyped."""


@dataclass(frozen=True, slots=True)
class GunShots:
    """Jug shots: volumes in mL of ``seconds`` each, as typed, the rates mL/s counted from them."""

    shots_ml: tuple[str, ...]
    seconds: str
    mean_ml_s: float
    upper_ml_s: float
    reaction_s: float

    def to_json(self) -> dict[str, Any]:
        """Plain values for the journal: what was typed, and decimals; what counts rounded up."""
        return {
            "basis": "rate",
            "shots_ml": list(self.shots_ml),
            "seconds": self.seconds,
            "mean_ml_s": quantised("mean_ml_s", self.mean_ml_s),
            "upper_ml_s": at_least("upper_ml_s", self.upper_ml_s),
            "reaction_ms": at_least("reaction_ms", self.reaction_s * 1000.0),
        }


@dataclass(frozen=True, slots=True)
class GunLoad:
    """A measured volume in the empty gun, mL."""

    volume_ml: float

    def to_json(self) -> dict[str, Any]:
        """Plain values for the journal; the volume, which counts, rounded up."""
        return {"basis": "loaded", "volume_ml": at_least("volume_ml", self.volume_ml)}


def parse_gun(text: str, reaction_s: float) -> GunShots | GunLoad | str:
    """``19 20 21 mL in 5 s`` or ``loaded 14 mL``; a text says what is wrong with it."""
    text = text.strip()
    if match := _SHOTS.fullmatch(text):
        shots = tuple(float(v) for v in match["ml"].split())
        seconds = float(match["s"])
        if len(shots) < LEAST_SHOTS:
            return f"{len(shots)} shots; {LEAST_SHOTS} are needed to know the spread"
        if seconds <= 0 or min(shots) <= 0:
            return "a shot of nothing, or no time, gives no rate"
        if seconds > LONGEST_S or max(shots) > LARGEST_ML:
            return "no gun gives that much, or for that long"
        worked = burst(1.0, 0.0, tuple(v * 1e-6 / seconds for v in shots), reaction_s)
        return GunShots(
            tuple(match["ml"].split()),
            match["s"],
            worked.rate_mean_m3_s * 1e6,
            worked.rate_upper_m3_s * 1e6,
            reaction_s,
        )
    if match := _LOADED.fullmatch(text):
        try:
            volume_ml = parse_quantity(match["v"], "volume").si_value * 1e6
        except BadQuantity as bad:
            return bad.problem
        if not 0 < volume_ml <= LARGEST_ML:
            return "a load of nothing, or of more than a gun holds"
        return GunLoad(volume_ml)
    return f"{text!r} is neither shots nor a load"


def parse_seconds(text: str) -> float:
    """Seconds as typed; raises the refusal that says what is wrong."""
    from runner.engine import refuse

    typed = text if text.rstrip().endswith("s") else f"{text} s"
    try:
        seconds = parse_quantity(typed, "time")
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="time") from None
    if seconds.si_value < 0:
        raise refuse("number/negative")
    if seconds.si_value > LONGEST_S:
        raise refuse("number/long", typed=text)
    return seconds.si_value


def counted_dml(gun: dict[str, Any] | None, seconds: float) -> int:
    """What the ledger counts for a spray of ``seconds``: upper rate x (seconds + reaction),
    in 0.1 mL rounded up; the whole load for a loaded gun. No gun on record raises ValueError."""
    if gun is None:
        raise ValueError("no gun rate or load is on record")
    if gun["basis"] == "loaded":
        return math.ceil(float(gun["volume_ml"]) * 10 - 1e-9)
    volume_ml = float(gun["upper_ml_s"]) * (seconds + float(gun["reaction_ms"]) / 1000.0)
    return math.ceil(volume_ml * 10 - 1e-9)
