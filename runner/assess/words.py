"""What people read of a judgement: sentences from ids, classes and numbers at their resolution.

Nothing here decides, and nothing that is written here enters a record: a sentence may be reworded
at any time. ``runner.assess.told`` puts whole judgements into words with these.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, Protocol

from steplatch.safety.catalogue import _, spoken

from .inputs import ASSUMED_EXHAUST_K

_MEASURED_BOTH: Final = _("; measured both times, taken out by the sum")
_NOT_MEASURED: Final = _(
    ", and without the air flow both times it cannot be corrected. Read again under like conditions"
)
_COOL: Final = _("{phase}, {condition}: coolant {coolant_degc:.0f} degC")
_EARLY: Final = _("{phase}, {condition}: EARLY, read after {held_s:.0f} s instead of two minutes")
_SPEED: Final = _("{condition}: speed differs by {step_rpm:+.0f} 1/min")
_VALVE: Final = _("{condition}: recirculation {before} before, {after} after")
_AIR: Final = _("{condition}: air flow differs by {air_percent:+.0f} %")

FINDINGS: Final[dict[str, str]] = {
    "no_before": _("no reading with the engine running was taken before"),
    "no_after": _("no reading with the engine running was taken after"),
    "burning": _("{phase}, {condition}: read while a regeneration was running"),
    "cold": _COOL + _(". Warm it and read again"),
    "cool corrected": _COOL
    + _(", below 80; flow and exhaust temperature were measured, so taken out by the sum"),
    "cool refused": _COOL + _(", below 80; without flow and temperature: read again warm"),
    "early corrected": _EARLY + _("; the exhaust still moved, allowed for: wider"),
    "early refused": _EARLY + _(": nothing has settled. Hold it, read again"),
    "zero_missing": _("{phase}: zero not read, allowed for; wider"),
    "frozen": _(
        "{phase}: the pressure is the same at idle and raised: frozen or a substitute value. "
        "Look at sensor and line"
    ),
    "falls": _(
        "{phase}: the pressure falls when the revs rise: hoses swapped, hose off or the wrong "
        "sensor"
    ),
    "zero_running": _("{phase}, {condition}: read with the engine running. Stop, read again"),
    "zero_out": _(
        "{phase}, {condition}: zero reads {zero_mbar:+.1f} mbar, outside -10 to +5: "
        "sensor, or liquid in the hose. Clear the hose, read again"
    ),
    "zero_high": _(
        "{phase}, {condition}: zero reads {zero_mbar:+.1f} mbar, above +3: liquid in the "
        "hose, or the sensor's zero. Clear the hose, read the zero again"
    ),
    "zero": _("{phase}, {condition}: sensor zero believable ({zero_mbar:+.1f})"),
    "wet": _("the filter is not dry: it reads high. Hold the revs, read again"),
    "dry_unknown": _("not shown that the filter is dry: wet reads high"),
    "falling": _("the pressure was still falling: not dry, don't judge yet"),
    "hose": _("the hose is not clear: 1 cm of liquid is 1 mbar"),
    "loads": _("air conditioning or other loads were on in one of the sets"),
    "level": _("the car does not stand level: liquid may hide the zero"),
    "zero_moved": _(
        "the zero moved by {step_mbar:+.1f} mbar between before and after: liquid in the "
        "hose, or the sensor. Clear the hose and read the zero again"
    ),
    "idle_once": _("{condition} was read only {phase}: wider"),
    "raised_once": _("{condition} was read only {phase}: wider"),
    "line_name": _(
        "read from different lines of the instrument: {names}. Read the measured pressure "
        "both times"
    ),
    "identical": _(
        "{condition}: before and after are the same to the last figure: copied, or "
        "frozen. Read again"
    ),
    "speed corrected": _SPEED + _MEASURED_BOTH,
    "speed refused": _SPEED + _NOT_MEASURED,
    "air_once": _("{condition}: air flow was read only once; the other is estimated: much wider"),
    "recirculation corrected": _VALVE + _MEASURED_BOTH,
    "recirculation refused": _VALVE + _NOT_MEASURED,
    "recirculation_changed": _VALVE + _(": find out why"),
    "recirculation_changed air": _AIR
    + _(" at like speed: recirculation, loads or air meter changed between the sets"),
    "air corrected": _AIR + _MEASURED_BOTH,
    "air refused": _AIR + _NOT_MEASURED,
    "exhaust_far": _("{condition}: exhaust differs by {step_k:+.0f} K, too far: read again"),
    "exhaust": _("{condition}: exhaust differs by {step_k:+.0f} K") + _MEASURED_BOTH,
    "disagree": _("{phase}: idle, raised and zero do not lie on one line"),
    "disagree offset": _(
        "{phase}: idle, raised and zero do not lie on one line; the running points "
        "ask for a zero of {offset_mbar:+.1f} mbar: liquid in the hose or a wrong zero"
    ),
    "agree": _("{phase}: idle, raised and zero agree"),
    "wrong_sign": _(
        "the filter flows harder after than before: before and after swapped, filter or "
        "hose wet, or liquid in the filter"
    ),
}
"""What each finding says, by its id, where needed with its kind or with what was given."""

NO_FIT: Final[dict[str, str]] = {
    "no_pressure": _("{condition}: no pressure was read"),
    "no_air": _("{condition}: no air flow, yet the engine should run"),
    "no_flow": _("{condition}: neither air flow nor engine speed was read"),
    "not_running": _("{phase}: no reading with the engine running"),
    "not_rising": _(
        "{phase}: the pressure does not rise with the flow: hoses swapped, hose off, "
        "wrong sensor or wrong line read"
    ),
    "no_points": _("no points"),
    "one_flow": _("a line needs points at two different flows at least"),
    "unsettled": _("the fit does not settle: the uncertainties swamp the points"),
    "no_uncertainty": _("a point has no uncertainty at all, or two points are one"),
    "no_freedom": _("no degree of freedom is left to take a scatter from"),
}
"""Why no line could be fitted."""

NO_LEVEL: Final[dict[str, str]] = {
    "few": _("too few readings so far"),
    "times": _("the times of the readings do not rise"),
    "short": _("watched for {watched_s:.0f} s of {wanted_s:.0f}"),
    "rises": _("it rises: look why (revs, regeneration, liquid)"),
    "not_finite": _("a value is not finite"),
    "not_due": _("level so far, but drying is not due: a wet filter can hold its pressure"),
    "between": _("level or nearly: {chance_level_percent:.0f} in 100"),
    "at_once": _("it fell at once, between two readings"),
    "away": _("it does not fall towards a level"),
    "no_bend": _("the fall does not bend yet"),
    "slow": _("it falls too slowly to foresee"),
    "no_judge": _("the trend cannot be worked out: a fault of the program"),
    "steady": _("no fall was seen: only the timer says that the filter is dry"),
    "ended": _("decay has ended"),
    "about_now": _("decay ends within these two minutes"),
    "falling": "falling",
}
"""Why a fall of pressure is called levelled, still falling, or neither."""

ASH_SAID: Final[dict[str, str]] = {
    "town": _("town duty puts the upper edge up by half"),
    "duty_unknown": _("duty not known: in town the upper edge would be half as high again"),
    "young": _("young for its distance and on motorways: upper edge down by a third"),
    "old": _("over ten years old: worn rings burn more oil, upper edge up by a fifth"),
    "age_unknown": _("age not known: not counted"),
}

RETAINED: Final[dict[str, str]] = {
    "given": _("a number for the vehicle's file"),
    "none": _("nothing to speak of is held: no claim can be made"),
    "scatter": _("the pours differ too much: no number; dry it fully and pour again"),
    "cannot_say": _(
        "no number: three whole pours are needed, and no more can come back than went in"
    ),
}
"""What came of a retained-volume test, by its state."""

NOT_MEASURED: Final[dict[str, str]] = {
    "air_kg_s": _("air flow"),
    "exhaust_k": _("exhaust temperature"),
    "coolant_k": _("coolant temperature"),
    "recirculation": "recirculation",
    "road": _("hot and dry after a road test"),
}
"""What was not measured, by its id; any other id is read with its underscores as spaces."""

TERMS: Final[dict[str, str]] = {
    "reading": _("pressure: pulsation and reading by eye"),
    "step": _("pressure: the step in which it is shown or typed"),
    "spread": _("pressure: spread of the mean in the log"),
    "pulsation": _("pressure: pulsation that grows with the flow"),
    "curvature": _("pressure: part that is not proportional to the flow"),
    "gain": _("pressure: gain of the sensor, alike in all sets"),
    "zero_unread": _("pressure: zero that was not read"),
    "behind": _("pressure: pipe and silencer behind the filter, one hose"),
    "air": _("air flow: scatter of a reading"),
    "air_figure": _("air flow: last figure shown"),
    "air_scale": _("air flow: scale of the meter, alike in all sets"),
    "filling": _("air flow estimated: filling of the engine, by the set"),
    "filling_scale": _("air flow estimated: filling of the engine, alike in all sets"),
    "valve": _("air flow estimated: recirculation, alike in the sets of one speed"),
    "valve_own": _("air flow estimated: recirculation, by the set"),
    "manifold": _("air flow estimated: manifold pressure not read"),
    "ambient": _("air pressure: weather about the standard atmosphere"),
    "fuel": _("exhaust flow: fuel on top of the air"),
    "exhaust": _("exhaust temperature: still moving while read"),
    "exhaust_early": _("exhaust temperature: read before it was held for long enough"),
    "exhaust_bias": _("exhaust temperature: probe beside the filter, alike in all sets"),
    "exhaust_assumed": _("exhaust temperature assumed: by the set"),
    "exhaust_assumed_bias": _("exhaust temperature assumed: alike in all sets"),
    "exhaust_visit": _("exhaust temperature assumed: warmth of the visit"),
}
"""What each source of uncertainty of a gain is, by its id."""

CLEAN_SOURCE: Final = _(
    "SAE 2000-01-1016 (2000), eq. 1, Tables 6, 7, A1; coating and mid-cycle soot: workshop default"
)
DRIER: Final = _("the road test dried it further: the set after the drive counts")
ONE_HOSE: Final = _("one hose: all behind the filter is read with it; the band does not apply")


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
    told |= {k: spoken(v) for k, v in told.items() if k in SPOKEN and isinstance(v, str)}
    return FINDINGS.get(key, FINDINGS.get(name, name)).format_map(told)


SPOKEN: Final = ("phase", "condition", "before", "after")
"""What a finding is about that stands in it as an id."""


def no_fit(why: str, phase: str, condition: str | None) -> str:
    """Why there is no line through the readings of a phase."""
    return NO_FIT[why].format(phase=spoken(phase), condition=spoken(condition or ""))


def no_level(why: str, **numbers: float) -> str:
    """Why a fall of pressure is judged as it is."""
    return NO_LEVEL[why].format(**numbers)


def gain(way: str, percent: float, low: float, high: float) -> str:
    """``flows 37 % easier (28 to 46)``, or the honest other, by ``resistance.way``; all percent."""
    low, high = round(low), round(high)
    if way == "easier":
        return _(
            "flows {percent:.0f} % easier ({low} to {high})", percent=percent, low=low, high=high
        )
    if way == "harder":
        return _(
            "flows {percent:.0f} % harder ({high} to {low})", percent=-percent, high=-high, low=-low
        )
    if low > 0 or high < 0:
        seems = f"{abs(percent):.0f} % {'easier' if percent > 0 else 'harder'}"
        return _(
            "perhaps {seems} ({low:+d} to {high:+d}), not sure enough to be called so",
            seems=seems,
            low=low,
            high=high,
        )
    return _(
        "no difference shown: {percent:+.0f} % ({low:+d} to {high:+d})",
        percent=percent,
        low=low,
        high=high,
    )


def notes(points: Iterable[PointLike], zero_read: bool) -> tuple[str, ...]:
    """What was not shown at some points, and what was done about it."""
    said = []
    for p in points:
        if p.basis not in ("none", "measured_air_flow"):
            said.append(
                _(
                    "air flow not shown: about {air_g_s:.0f} g/s estimated from {spaced}; "
                    "compared with sets estimated the same way only, and wider",
                    air_g_s=p.air_g_s,
                    spaced=spaced(p.basis),
                )
            )
        if p.exhaust == "assumed":
            degc = ASSUMED_EXHAUST_K[p.condition].value - 273.15
            said.append(
                _(
                    "exhaust temperature not shown: {degc:.0f} degC assumed, which widens "
                    "the result",
                    degc=degc,
                )
            )
    if not zero_read:
        said.append(_("the zero was not read: an offset about nil is allowed for"))
    return tuple(dict.fromkeys(said))


def basis(points: Iterable[PointLike]) -> str:
    """Where the air flows of the running points come from."""
    return ", ".join(dict.fromkeys(spaced(p.basis) for p in points if p.condition != "zero"))


def clean_basis(known: Sequence[str]) -> str:
    """What of the filter the band of a clean one rests on, by what of it is known."""
    if not known:
        return _("filter model; size not known, spanned from 0.9 to 2.4 times the displacement")
    named = ", ".join(spaced(one) for one in known)
    return _("filter model with known {named}; the rest spanned over usual filters", named=named)


def ash(distance_km: float, low_g: float, high_g: float, said: Sequence[str]) -> str:
    """What ash the distance has left, and what moved the edges."""
    because = f" ({'; '.join(ASH_SAID[one] for one in said)})" if said else ""
    return _(
        "Ash from {km} of oil use: about {low_g:.0f} to {high_g:.0f} g{because}. Ash does "
        "not burn and fluid does not take it out.",
        km=km(distance_km),
        low_g=low_g,
        high_g=high_g,
        because=because,
    )


def km(distance_km: float) -> str:
    """A distance in km, thousands apart."""
    return f"{distance_km:,.0f}".replace(",", " ") + " km"


def expected(high_percent: float) -> str:
    """What a clean could bring at best."""
    return _(
        "Gain to expect: 0 to {high_percent:.0f} % less pressure for the same flow; nothing "
        "at all is possible, and ash stays.",
        high_percent=high_percent,
    )


def not_measured(names: Iterable[str]) -> tuple[str, ...]:
    """What was not measured, in words."""
    return tuple(NOT_MEASURED.get(name, spaced(name)) for name in names)


def spaced(name: str) -> str:
    """An id as words."""
    return spoken(name)
