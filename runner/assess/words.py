"""What people read of a judgement: sentences from ids, classes and numbers at their resolution.

Nothing here decides, and nothing that is written here enters a record: a sentence may be reworded
at any time. ``runner.assess.told`` puts whole judgements into words with these.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, Protocol

from .inputs import ASSUMED_EXHAUST_K

_MEASURED_BOTH: Final = "; measured both times, taken out by the sum"
_NOT_MEASURED: Final = (
    ", and without the air flow both times it cannot be corrected. Read again under like conditions"
)
_COOL: Final = "{phase}, {condition}: coolant {coolant_degc:.0f} degC"
_EARLY: Final = "{phase}, {condition}: EARLY, read after {held_s:.0f} s instead of two minutes"
_SPEED: Final = "{condition}: speed differs by {step_rpm:+.0f} 1/min"
_VALVE: Final = "{condition}: recirculation {before} before, {after} after"
_AIR: Final = "{condition}: air flow differs by {air_percent:+.0f} %"

FINDINGS: Final[dict[str, str]] = {
    "no_before": "no reading with the engine running was taken before",
    "no_after": "no reading with the engine running was taken after",
    "burning": "{phase}, {condition}: read while a regeneration was running",
    "cold": _COOL + ". Warm it and read again",
    "cool corrected": _COOL + ", below 80; flow and exhaust temperature were measured, so taken "
    "out by the sum",
    "cool refused": _COOL + ", below 80; without flow and temperature: read again warm",
    "early corrected": _EARLY + "; the exhaust still moved, allowed for: wider",
    "early refused": _EARLY + ": nothing has settled. Hold it, read again",
    "zero_missing": "{phase}: zero not read, allowed for; wider",
    "frozen": "{phase}: the pressure is the same at idle and raised: frozen or a substitute value. "
    "Look at sensor and line",
    "falls": "{phase}: the pressure falls when the revs rise: hoses swapped, hose off or the wrong "
    "sensor",
    "zero_running": "{phase}, {condition}: read with the engine running. Stop, read again",
    "zero_out": "{phase}, {condition}: zero reads {zero_mbar:+.1f} mbar, outside -10 to +5: "
    "sensor, or liquid in the hose. Clear the hose, read again",
    "zero_high": "{phase}, {condition}: zero reads {zero_mbar:+.1f} mbar, above +3: liquid in the "
    "hose, or the sensor's zero. Clear the hose, read the zero again",
    "zero": "{phase}, {condition}: sensor zero believable ({zero_mbar:+.1f})",
    "wet": "the filter is not dry: it reads high. Hold the revs, read again",
    "dry_unknown": "not shown that the filter is dry: wet reads high",
    "falling": "the pressure was still falling: not dry, don't judge yet",
    "hose": "the hose is not clear: 1 cm of liquid is 1 mbar",
    "loads": "air conditioning or other loads were on in one of the sets",
    "level": "the car does not stand level: liquid may hide the zero",
    "zero_moved": "the zero moved by {step_mbar:+.1f} mbar between before and after: liquid in the "
    "hose, or the sensor. Clear the hose and read the zero again",
    "idle_once": "{condition} was read only {phase}: wider",
    "raised_once": "{condition} was read only {phase}: wider",
    "line_name": "read from different lines of the instrument: {names}. Read the measured pressure "
    "both times",
    "identical": "{condition}: before and after are the same to the last figure: copied, or "
    "frozen. Read again",
    "speed corrected": _SPEED + _MEASURED_BOTH,
    "speed refused": _SPEED + _NOT_MEASURED,
    "air_once": "{condition}: air flow was read only once; the other is estimated: much wider",
    "recirculation corrected": _VALVE + _MEASURED_BOTH,
    "recirculation refused": _VALVE + _NOT_MEASURED,
    "recirculation_changed": _VALVE + ": find out why",
    "recirculation_changed air": _AIR + " at like speed: recirculation, loads or air meter changed "
    "between the sets",
    "air corrected": _AIR + _MEASURED_BOTH,
    "air refused": _AIR + _NOT_MEASURED,
    "exhaust_far": "{condition}: exhaust differs by {step_k:+.0f} K, too far: read again",
    "exhaust": "{condition}: exhaust differs by {step_k:+.0f} K" + _MEASURED_BOTH,
    "disagree": "{phase}: idle, raised and zero do not lie on one line",
    "disagree offset": "{phase}: idle, raised and zero do not lie on one line; the running points "
    "ask for a zero of {offset_mbar:+.1f} mbar: liquid in the hose or a wrong zero",
    "agree": "{phase}: idle, raised and zero agree",
    "wrong_sign": "the filter flows harder after than before: before and after swapped, filter or "
    "hose wet, or liquid in the filter",
}
"""What each finding says, by its id, where needed with its kind or with what was given."""

NO_FIT: Final[dict[str, str]] = {
    "no_pressure": "{condition}: no pressure was read",
    "no_air": "{condition}: no air flow, yet the engine should run",
    "no_flow": "{condition}: neither air flow nor engine speed was read",
    "not_running": "{phase}: no reading with the engine running",
    "not_rising": "{phase}: the pressure does not rise with the flow: hoses swapped, hose off, "
    "wrong sensor or wrong line read",
    "no_points": "no points",
    "one_flow": "a line needs points at two different flows at least",
    "unsettled": "the fit does not settle: the uncertainties swamp the points",
    "no_uncertainty": "a point has no uncertainty at all, or two points are one",
    "no_freedom": "no degree of freedom is left to take a scatter from",
}
"""Why no line could be fitted."""

NO_LEVEL: Final[dict[str, str]] = {
    "few": "too few readings so far",
    "times": "the times of the readings do not rise",
    "short": "watched for {watched_s:.0f} s of {wanted_s:.0f}",
    "rises": "it rises: look why (revs, regeneration, liquid)",
    "not_finite": "a value is not finite",
    "not_due": "level so far, but drying is not due: a wet filter can hold its pressure",
    "between": "level or nearly: {chance_level_percent:.0f} in 100",
    "at_once": "it fell at once, between two readings",
    "away": "it does not fall towards a level",
    "no_bend": "the fall does not bend yet",
    "slow": "it falls too slowly to foresee",
    "no_judge": "the trend cannot be worked out: a fault of the program",
    "steady": "no fall was seen: only the timer says that the filter is dry",
    "ended": "decay has ended",
    "about_now": "decay ends within these two minutes",
    "falling": "falling",
}
"""Why a fall of pressure is called levelled, still falling, or neither."""

ASH_SAID: Final[dict[str, str]] = {
    "town": "town duty puts the upper edge up by half",
    "duty_unknown": "duty not known: in town the upper edge would be half as high again",
    "young": "young for its distance and on motorways: upper edge down by a third",
    "old": "over ten years old: worn rings burn more oil, upper edge up by a fifth",
    "age_unknown": "age not known: not counted",
}

RETAINED: Final[dict[str, str]] = {
    "given": "a number for the vehicle's file",
    "none": "nothing to speak of is held: no claim can be made",
    "scatter": "the pours differ too much: no number; dry it fully and pour again",
    "cannot_say": "no number: three whole pours are needed, and no more can come back than went in",
}
"""What came of a retained-volume test, by its state."""

NOT_MEASURED: Final[dict[str, str]] = {
    "air_kg_s": "air flow",
    "exhaust_k": "exhaust temperature",
    "coolant_k": "coolant temperature",
    "recirculation": "recirculation",
    "road": "hot and dry after a road test",
}
"""What was not measured, by its id; any other id is read with its underscores as spaces."""

TERMS: Final[dict[str, str]] = {
    "reading": "pressure: pulsation and reading by eye",
    "step": "pressure: the step in which it is shown or typed",
    "spread": "pressure: spread of the mean in the log",
    "pulsation": "pressure: pulsation that grows with the flow",
    "curvature": "pressure: part that is not proportional to the flow",
    "gain": "pressure: gain of the sensor, alike in all sets",
    "zero_unread": "pressure: zero that was not read",
    "behind": "pressure: pipe and silencer behind the filter, one hose",
    "air": "air flow: scatter of a reading",
    "air_figure": "air flow: last figure shown",
    "air_scale": "air flow: scale of the meter, alike in all sets",
    "filling": "air flow estimated: filling of the engine, by the set",
    "filling_scale": "air flow estimated: filling of the engine, alike in all sets",
    "valve": "air flow estimated: recirculation, alike in the sets of one speed",
    "valve_own": "air flow estimated: recirculation, by the set",
    "manifold": "air flow estimated: manifold pressure not read",
    "ambient": "air pressure: weather about the standard atmosphere",
    "fuel": "exhaust flow: fuel on top of the air",
    "exhaust": "exhaust temperature: still moving while read",
    "exhaust_early": "exhaust temperature: read before it was held for long enough",
    "exhaust_bias": "exhaust temperature: probe beside the filter, alike in all sets",
    "exhaust_assumed": "exhaust temperature assumed: by the set",
    "exhaust_assumed_bias": "exhaust temperature assumed: alike in all sets",
    "exhaust_visit": "exhaust temperature assumed: warmth of the visit",
}
"""What each source of uncertainty of a gain is, by its id."""

CLEAN_SOURCE: Final = (
    "SAE 2000-01-1016 (2000), eq. 1, Tables 6, 7, A1; coating and mid-cycle soot: workshop default"
)
DRIER: Final = "the road test dried it further: the set after the drive counts"
ONE_HOSE: Final = "one hose: all behind the filter is read with it; the band does not apply"


class PointLike(Protocol):
    """What of a fitted point is needed to say what was not shown."""

    @property
    def condition(self) -> str:
        """Zero, idle or raised."""

    @property
    def basis(self) -> str:
        """Where the air flow comes from."""

    @property
    def exhaust(self) -> str:
        """Whether the exhaust temperature was read."""

    @property
    def air_g_s(self) -> float:
        """The air flow."""


def finding(kind: str, name: str, given: Mapping[str, Any]) -> str:
    """One finding. ``given`` holds its numbers as floats."""
    if name == "no_line":
        return no_fit(given["why"], given["phase"], given.get("condition"))
    key = f"{name} {kind}"
    if name == "recirculation_changed" and "air_percent" in given:
        key = f"{name} air"
    elif name == "disagree" and "offset_mbar" in given:
        key = f"{name} offset"
    told = {k: ", ".join(v) if isinstance(v, list | tuple) else v for k, v in given.items()}
    return FINDINGS.get(key, FINDINGS.get(name, name)).format_map(told)


def no_fit(why: str, phase: str, condition: str | None) -> str:
    """Why there is no line through the readings of a phase."""
    return NO_FIT[why].format(phase=phase, condition=condition or "")


def no_level(why: str, **numbers: float) -> str:
    """Why a fall of pressure is judged as it is."""
    return NO_LEVEL[why].format(**numbers)


def gain(way: str, percent: float, low: float, high: float) -> str:
    """``flows 37 % easier (28 to 46)``, or the honest other, by ``resistance.way``; all percent."""
    low, high = round(low), round(high)
    if way == "easier":
        return f"flows {percent:.0f} % easier ({low} to {high})"
    if way == "harder":
        return f"flows {-percent:.0f} % harder ({-high} to {-low})"
    if low > 0 or high < 0:
        seems = f"{abs(percent):.0f} % {'easier' if percent > 0 else 'harder'}"
        return f"perhaps {seems} ({low:+d} to {high:+d}), not sure enough to be called so"
    return f"no difference shown: {percent:+.0f} % ({low:+d} to {high:+d})"


def notes(points: Iterable[PointLike], zero_read: bool) -> tuple[str, ...]:
    """What was not shown at some points, and what was done about it."""
    said = []
    for p in points:
        if p.basis not in ("none", "measured_air_flow"):
            said.append(
                f"air flow not shown: about {p.air_g_s:.0f} g/s estimated from {spaced(p.basis)}; "
                "compared with sets estimated the same way only, and wider"
            )
        if p.exhaust == "assumed":
            degc = ASSUMED_EXHAUST_K[p.condition].value - 273.15
            said.append(
                f"exhaust temperature not shown: {degc:.0f} degC assumed, which widens the result"
            )
    if not zero_read:
        said.append("the zero was not read: an offset about nil is allowed for")
    return tuple(dict.fromkeys(said))


def basis(points: Iterable[PointLike]) -> str:
    """Where the air flows of the running points come from."""
    return ", ".join(dict.fromkeys(spaced(p.basis) for p in points if p.condition != "zero"))


def clean_basis(known: Sequence[str]) -> str:
    """What of the filter the band of a clean one rests on, by what of it is known."""
    if not known:
        return "filter model; size not known, spanned from 0.9 to 2.4 times the displacement"
    named = ", ".join(spaced(one) for one in known)
    return f"filter model with known {named}; the rest spanned over usual filters"


def ash(distance_km: float, low_g: float, high_g: float, said: Sequence[str]) -> str:
    """What ash the distance has left, and what moved the edges."""
    because = f" ({'; '.join(ASH_SAID[one] for one in said)})" if said else ""
    return (
        f"Ash from {km(distance_km)} of oil use: about {low_g:.0f} to {high_g:.0f} g{because}. "
        "Ash does not burn and fluid does not take it out."
    )


def km(distance_km: float) -> str:
    """A distance in km, thousands apart."""
    return f"{distance_km:,.0f}".replace(",", " ") + " km"


def expected(high_percent: float) -> str:
    """What a clean could bring at best."""
    return (
        f"Gain to expect: 0 to {high_percent:.0f} % less pressure for the same flow; nothing at "
        "all is possible, and ash stays."
    )


def not_measured(names: Iterable[str]) -> tuple[str, ...]:
    """What was not measured, in words."""
    return tuple(NOT_MEASURED.get(name, spaced(name)) for name in names)


def spaced(name: str) -> str:
    """An id as words."""
    return name.replace("_", " ")
