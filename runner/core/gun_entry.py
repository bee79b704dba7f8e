"""What is typed at the gun: three jug shots, or a loaded volume; and the volume to count."""

import math
import re
import statistics
from dataclasses import dataclass, replace
from typing import Any

from steplatch.safety.catalogue import _
from steplatch.safety.limits.burst import HOLDS_TO_SHARE, burst
from steplatch.safety.limits.gun_rate import RateDoubt, rate_doubt
from steplatch.safety.limits.plausible import rate_finding

from ..input.quantities import BadQuantity, other_digits, parse_quantity
from ..input.resolution import at_least, quantised

_SHOTS = re.compile(
    r"(?P<ml>\d+(?:\.\d+)?(?:\s+\d+(?:\.\d+)?){0,9})\s*ml\s+in\s+(?P<s>\d+(?:\.\d+)?)\s*s",
    re.IGNORECASE | re.ASCII,
)
_LOADED = re.compile(r"loaded\s+(?P<v>\S.*)", re.I)
LEAST_SHOTS = 3
LONGEST_S = 3600.0
"""No spray lasts an hour; a number above it was mistyped."""
LARGEST_ML = 5000.0
"""No gun or jug holds 5 L; a number above it was mistyped."""
DOUBTED = "gun_doubted"
"""The record of a set of shots that is not taken by itself."""


@dataclass(frozen=True, slots=True)
class GunShots:
    """Jug shots: volumes in mL of ``seconds`` each, as they were typed; the rates mL/s from them.

    ``first`` is the set before, where one set was not enough; then both are counted.
    """

    shots_ml: tuple[str, ...]
    seconds: str
    mean_ml_s: float
    upper_ml_s: float
    reaction_s: float
    first: "GunShots | None" = None

    @property
    def own_m3_s(self) -> tuple[float, ...]:
        """The rates of this set alone, m3/s."""
        return tuple(float(ml) * 1e-6 / float(self.seconds) for ml in self.shots_ml)

    def after(self, first: "GunShots") -> "GunShots":
        """This set with the one before it: mean and spread are those of all the shots."""
        rates = (*first.own_m3_s, *self.own_m3_s)
        worked = burst(1.0, 0.0, rates, self.reaction_s)
        mean, upper = worked.rate_mean_m3_s * 1e6, worked.rate_upper_m3_s * 1e6
        return replace(self, mean_ml_s=mean, upper_ml_s=upper, first=replace(first, first=None))

    def same(self, other: "GunShots") -> bool:
        """Whether another set has these very volumes in this very time, however typed."""
        mine, theirs = ([*map(float, s.shots_ml), float(s.seconds)] for s in (self, other))
        return mine == theirs

    def typed(self) -> dict[str, Any]:
        """The numbers as they were typed."""
        return {"shots_ml": list(self.shots_ml), "seconds": self.seconds}

    def to_json(self) -> dict[str, Any]:
        """Plain values for the journal: what was typed, and decimals; what counts rounded up."""
        first = {} if self.first is None else {"first_set": self.first.typed()}
        return {
            "basis": "rate",
            **self.typed(),
            "mean_ml_s": quantised("mean_ml_s", self.mean_ml_s),
            "upper_ml_s": at_least("upper_ml_s", self.upper_ml_s),
            "reaction_ms": at_least("reaction_ms", self.reaction_s * 1000.0),
            **first,
        }


@dataclass(frozen=True, slots=True)
class GunLoad:
    """A measured volume in the empty gun, mL."""

    volume_ml: float

    def to_json(self) -> dict[str, Any]:
        """Plain values for the journal; the volume, which counts, rounded up."""
        return {"basis": "loaded", "volume_ml": at_least("volume_ml", self.volume_ml)}


def parse_gun(text: str, reaction_s: float) -> GunShots | GunLoad | str:
    """``19 20 21 mL in 5 s`` or ``loaded 14 mL``; a text says what is wrong with it.

    Each shot's rate stands under the same band as one in a gun file.
    """
    text = text.strip()
    if others := other_digits(text):
        return _("{text!r} has digits other than 0 to 9: {others}", text=text, others=others)
    if match := _SHOTS.fullmatch(text):
        typed = tuple(match["ml"].split())
        shots, seconds = [float(v) for v in typed], float(match["s"])
        if len(shots) < LEAST_SHOTS:
            return _(
                "{count} shots; {least_shots} are needed to know the spread",
                count=len(shots),
                least_shots=LEAST_SHOTS,
            )
        if seconds <= 0 or min(shots) <= 0:
            return _("a shot of nothing, or no time, gives no rate")
        if seconds > LONGEST_S or max(shots) > LARGEST_ML:
            return _("no gun gives that much, or for that long")
        return _shots(typed, match["s"], reaction_s)
    if match := _LOADED.fullmatch(text):
        try:
            volume_ml = parse_quantity(match["v"], "volume").si_value * 1e6
        except BadQuantity as bad:
            return bad.problem
        if not 0 < volume_ml <= LARGEST_ML:
            return _("a load of nothing, or of more than a gun holds")
        return GunLoad(volume_ml)
    return _("{text!r} is neither shots nor a load", text=text)


def _shots(shots_ml: tuple[str, ...], seconds: str, reaction_s: float) -> GunShots | str:
    rates = tuple(float(v) * 1e-6 / float(seconds) for v in shots_ml)
    for index, rate in enumerate(rates, start=1):
        if finding := rate_finding(_("the rate of shot {index}", index=index), rate):
            return finding
    worked = burst(1.0, 0.0, rates, reaction_s)
    mean, upper = worked.rate_mean_m3_s * 1e6, worked.rate_upper_m3_s * 1e6
    return GunShots(shots_ml, seconds, mean, upper, reaction_s)


def doubt_of(
    shots: GunShots, last_ml_s: float | None, standing: GunShots | None
) -> RateDoubt | None:
    """Why ``shots`` need another set; None where they are taken. ``standing`` is a set before
    that is doubted still; ``last_ml_s`` this gun's last known rate."""
    last = None if last_ml_s is None else last_ml_s * 1e-6
    return rate_doubt(shots.own_m3_s, last, None if standing is None else standing.own_m3_s)


def doubted_json(shots: GunShots, why: RateDoubt) -> dict[str, Any]:
    """A set that is not taken by itself, as the journal holds it."""
    return {**shots.typed(), "mean_ml_s": quantised("mean_ml_s", shots.mean_ml_s), "why": why.value}


def doubt_words(plain: dict[str, Any]) -> str:
    """What a doubted set means to who stands at the jug."""
    rate = f"{float(plain['mean_ml_s']):.3g} mL/s"
    why = {
        "unusual": _("{rate} is not one of 2 to 5.9 mL/s, which one set is taken for", rate=rate),
        "jumped": _("{rate} is more than a factor 2 from this gun's last rate", rate=rate),
        "disagrees": _("{rate} does not agree with the set before", rate=rate),
        "scatters": _("these shots scatter by more than 10 %; no burst can be timed by such a gun"),
    }[str(plain["why"])]
    return _("{why}: nothing is taken yet. Measure three more shots, and type those.", why=why)


def standing_doubt(
    doubted: dict[str, Any] | None, gun: dict[str, Any] | None, reaction_s: float
) -> GunShots | None:
    """The doubted set that the next one must agree with: the last, unless a rate that rests on
    it was taken since."""
    if doubted is None:
        return None
    typed = {"shots_ml": list(doubted["shots_ml"]), "seconds": doubted["seconds"]}
    if gun is not None and gun.get("first_set") == typed:
        return None
    made = _shots(tuple(typed["shots_ml"]), typed["seconds"], reaction_s)
    return made if isinstance(made, GunShots) else None


def rates_m3_s(gun: dict[str, Any]) -> tuple[float, ...]:
    """Every rate, m3/s, that a recorded measurement of the gun counts."""
    sets = (gun["first_set"], gun) if "first_set" in gun else (gun,)
    return tuple(float(v) * 1e-6 / float(s["seconds"]) for s in sets for v in s["shots_ml"])


def rate_words(gun: dict[str, Any]) -> tuple[str, bool]:
    """What a recorded rate counts and how sure that is, for who stands at the jug; True where the
    shots scatter by more than it holds for."""
    rates = rates_m3_s(gun)
    scatter = statistics.stdev(rates) / statistics.fmean(rates)
    said = _(
        "{gun:.1f} mL/s, counted as {gun_2:.1f}. One burst in a thousand gives more, of a "
        "gun that scatters by up to {holds_to_share:.0f} %",
        gun=float(gun["mean_ml_s"]),
        gun_2=float(gun["upper_ml_s"]),
        holds_to_share=100 * HOLDS_TO_SHARE,
    )
    if scatter <= HOLDS_TO_SHARE:
        return f"{said}.", False
    return _(
        "{said}; these scatter by {scatter:.0f} %. Load a measured volume instead.",
        said=said,
        scatter=100 * scatter,
    ), True


def counted_dml(gun: dict[str, Any] | None, seconds: float) -> int:
    """What the ledger counts for a spray of ``seconds``: upper rate x (seconds + reaction),
    in 0.1 mL rounded up; the whole load for a loaded gun. No gun on record raises ValueError."""
    if gun is None:
        raise ValueError(_("no gun rate or load is on record"))
    if gun["basis"] == "loaded":
        return math.ceil(float(gun["volume_ml"]) * 10 - 1e-9)
    volume_ml = float(gun["upper_ml_s"]) * (seconds + float(gun["reaction_ms"]) / 1000.0)
    return math.ceil(volume_ml * 10 - 1e-9)
