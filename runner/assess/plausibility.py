"""What is odd about a set of readings: plain questions, never a refusal.

Each sentence asks for a second look at one value: out by ten, in another unit, frozen or a
substitute value, fast idle, not warm, far from what flow and filter size let expect. An empty
list means that nothing looked odd, not that the reading is right.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from steplatch.safety.catalogue import _
from steplatch.safety.limits.inputs import VehicleInput, Workshop
from steplatch.safety.physics.exhaust import speed_density_air_kg_s
from steplatch.safety.physics.gas import standard_atmosphere

from ..core.reading_set import FIELD, ReadingSet
from .flow import FlowPoint, NoPressure, flow_point
from .inputs import BANDS
from .remains import clean_band

BLOCKED_TIMES: Final = 6.0
"""Highest drop that is believed, in times of a used filter in mid-cycle: about 390 mbar at the
reference flow on a 2.0 L of unknown filter. The trade calls 200 to 250 mbar on a firm pull "too
obstructed"; common practice, no source."""
SUBSTITUTE_PA: Final = 1000.0
"""A shown 10.0 mbar that does not move may be the control unit's substitute value (one maker)."""
UNLIKE_SETS: Final = 4.0
"""Two sets of one visit whose resistances differ by more than this factor are asked about."""
NOT_MEASURED: Final = (
    "calc", "spec", "target", "learn", "model", "desired", "nominal", "setpoint", "adapt",
)  # fmt: skip
"""Parts of the names of lines that are not the measured pressure; common practice."""

TOPICS: Final[dict[str, str]] = {
    "lines": _("what is shown, or the name of the pressure line"),
    "zero": _("the zero"),
    "speed": _("the engine speed for this condition"),
    "air": _("the air flow for this engine at this speed"),
    "warmth": _("coolant or exhaust temperature"),
    "pressure": _("the pressure for this flow and filter"),
    "repeats": _("the same value as in another set"),
    "against": _("the pressure beside another set"),
}
"""What a question is about, by id, with the words that people read."""

_KELVIN: Final = 273.15


def second_looks(
    readings: ReadingSet,
    vehicle: VehicleInput,
    workshop: Workshop,
    others: Sequence[ReadingSet] = (),
) -> list[str]:
    """The questions to ask about one set, given the other sets of the visit. Never raises on
    readings. Bands: common practice and workshop defaults, as named where they stand."""
    asked = second_looks_by_topic(readings, vehicle, workshop, others)
    return [question for questions in asked.values() for question in questions]


def second_looks_by_topic(
    readings: ReadingSet,
    vehicle: VehicleInput,
    workshop: Workshop,
    others: Sequence[ReadingSet] = (),
) -> dict[str, list[str]]:
    """As ``second_looks``, by what the questions are about: a key of ``TOPICS``, which a record
    may hold."""
    asked = {"lines": _names(readings, vehicle)}
    if readings.condition == "zero":
        asked |= {"zero": _zero(readings), "repeats": _repeats(readings, others)}
    else:
        asked |= {
            "speed": _speed(readings, vehicle),
            "air": _air(readings, vehicle, workshop),
            "warmth": _warmth(readings),
            "pressure": _pressure(readings, vehicle, workshop),
            "repeats": _repeats(readings, others),
            "against": _against(readings, vehicle, workshop, others),
        }
    return {topic: questions for topic, questions in asked.items() if questions}


def doubted_about(note: Mapping[str, str]) -> str:
    """What a recorded doubt is about, in words."""
    return ", ".join(TOPICS.get(topic, topic) for topic in note.get("topics", "").split())


def _names(readings: ReadingSet, vehicle: VehicleInput) -> list[str]:
    out = []
    name = readings.line_name.lower()
    if any(part in name for part in NOT_MEASURED):
        out.append(
            _(
                "The line is called {line_name!r}: calculated, specified and learned "
                "pressures are not the measured one. Is there another?",
                line_name=readings.line_name,
            )
        )
    if readings.condition != "zero":
        shown = [q for q in FIELD if q in vehicle.shows and readings.value(q) is None]
        if "recirculation" in vehicle.shows and readings.recirculation is None:
            shown.append("recirculation")
        if shown:
            out.append(
                _(
                    "This vehicle should show {shown}: typed as not shown. Is it so?",
                    shown=", ".join(shown),
                )
            )
    elif readings.pressure_pa is None:
        out.append(_("The zero has no pressure. Is it really not shown?"))
    if readings.burning:
        out.append(_("A regeneration is running: wait until it has ended, and read again?"))
    return out


def _zero(readings: ReadingSet) -> list[str]:
    out = []
    p = readings.pressure_pa
    if p is not None and p == SUBSTITUTE_PA:
        out.append(_("The zero reads exactly 10.0 mbar: a substitute value of a faulty sensor?"))
    elif p is not None and not BANDS.zero_low_pa <= p <= BANDS.zero_high_pa:
        out.append(
            _(
                "The zero reads {p:+.1f} mbar, outside -10 to +5: sensor, liquid in the "
                "hose, or another unit?",
                p=p / 100,
            )
        )
    elif p is not None and p > BANDS.flow_offset_high_pa:
        out.append(
            _(
                "The zero reads {p:+.1f} mbar, above +3: is there liquid in the hose? Cleared?",
                p=p / 100,
            )
        )
    if readings.speed_rpm:
        out.append(
            _(
                "Engine speed {speed_rpm:.0f} 1/min with the engine stopped?",
                speed_rpm=readings.speed_rpm,
            )
        )
    if readings.air_kg_s and readings.air_kg_s > 1e-3:
        out.append(
            _(
                "Air flow {air_kg_s:.1f} g/s with the engine stopped?",
                air_kg_s=readings.air_kg_s * 1000.0,
            )
        )
    return out


def _speed(readings: ReadingSet, vehicle: VehicleInput) -> list[str]:
    n = readings.speed_rpm
    if n is None:
        return []
    usual = vehicle.idle_rpm
    if n < 400:
        return [
            _("Engine speed {n:.0f} 1/min: is the engine running, or is a figure missing?", n=n)
        ]
    if readings.condition == "idle":
        if n > 2 * usual:
            return [_("{n:.0f} 1/min is no idle: raised and idle exchanged?", n=n)]
        if n > usual + BANDS.fast_idle_rpm:
            return [
                _(
                    "{n:.0f} 1/min where {usual:.0f} is usual: fast idle is not idle. Warm, "
                    "loads off?",
                    n=n,
                    usual=usual,
                )
            ]
        return []
    if n < BANDS.raised_over_idle * usual:
        return [_("{n:.0f} 1/min is hardly raised: raised and idle exchanged, or not held?", n=n)]
    if vehicle.maker_rev_ceiling_rpm is not None and n > vehicle.maker_rev_ceiling_rpm + 100:
        return [_("{n:.0f} 1/min is above this vehicle's ceiling. Typed right?", n=n)]
    return []


def _air(readings: ReadingSet, vehicle: VehicleInput, workshop: Workshop) -> list[str]:
    air, n = readings.air_kg_s, readings.speed_rpm
    if air is None or n is None or n < 400:
        return []
    pressure = standard_atmosphere(workshop.altitude_m).pressure_pa
    full = speed_density_air_kg_s(vehicle.displacement_m3, n, 0.9, pressure, 313.15, 0.0)

    def fits(value: float) -> bool:
        # Half of it recirculated to a little boost at no load.
        return 0.4 * full <= value <= 1.5 * full

    if fits(air):
        return []
    tried = _first_fit(
        fits,
        air,
        (
            (10.0, _("ten times more")),
            (0.1, _("a tenth")),
            (3.6, _("g/s, not kg/h")),
            (1 / 3.6, "kg/h"),
        ),
    )
    about = _(
        "{full:.0f} to {full_2:.0f} g/s", full=0.4 * full * 1000.0, full_2=1.5 * full * 1000.0
    )
    return [
        _(
            "Air flow {air:.1f} g/s where {about} is usual at {n:.0f} 1/min: {tried}?",
            air=air * 1000.0,
            about=about,
            n=n,
            tried=tried or "right",
        )
    ]


def _warmth(readings: ReadingSet) -> list[str]:
    out = []
    coolant, exhaust = readings.coolant_k, readings.exhaust_k
    if coolant is not None:
        c = coolant - _KELVIN
        if c > 115:
            out.append(_("Coolant {c:.0f} degC: is it degF, or is the engine overheating?", c=c))
        elif coolant < BANDS.coolant_warm_k:
            out.append(_("Coolant {c:.0f} degC: not warm yet (80 degC). Read again later?", c=c))
    if exhaust is not None:
        e = exhaust - _KELVIN
        hottest = 300 if readings.condition == "idle" else 400
        if e > hottest:
            out.append(
                _("Exhaust {e:.0f} degC without load: is it degF, or a regeneration running?", e=e)
            )
        elif e < 60:
            out.append(
                _(
                    "Exhaust {e:.0f} degC with the engine running: cold, or a floor value "
                    "that does not move?",
                    e=e,
                )
            )
        elif coolant is not None and exhaust < coolant:
            out.append(_("The exhaust is colder than the coolant: the two exchanged?"))
    return out


def _pressure(readings: ReadingSet, vehicle: VehicleInput, workshop: Workshop) -> list[str]:
    p = readings.pressure_pa
    if p is None:
        return [_("The set has no pressure. Is it really not shown?")]
    if p == SUBSTITUTE_PA and readings.condition == "raised":
        return [_("Exactly 10.0 mbar at raised revs: a substitute value of a faulty sensor?")]
    if p < BANDS.zero_low_pa / 2:
        return [_("{p:.1f} mbar with the engine running: hoses swapped?", p=p / 100)]
    point = _point(readings, vehicle, workshop)
    if point is None or point.share <= 0 or vehicle.one_hose:
        return []
    # A zero inside its band and the step of the sensor may stand on top.
    slack = BANDS.zero_high_pa + vehicle.sensor_step_pa
    band = clean_band(vehicle)
    low = band.damage_below_mbar * 100 * point.share - slack
    high = BLOCKED_TIMES * band.today_high_mbar * 100 * point.share + slack

    def fits(value: float) -> bool:
        return low <= value <= high

    if fits(p):
        return []
    tried = _first_fit(
        fits,
        p,
        ((0.1, _("out by ten, or hPa read as kPa")), (10.0, _("out by ten")), (0.0145, "mbar")),
    )
    return [
        _(
            "{p:.0f} mbar at {air_kg_s:.0f} g/s where {low:.0f} to {high:.0f} is believed: "
            "{tried}?",
            p=p / 100,
            air_kg_s=point.air_kg_s * 1000.0,
            low=max(low, 0) / 100,
            high=high / 100,
            tried=tried or "right unit, right line, right sensor",
        )
    ]


def _repeats(readings: ReadingSet, others: Sequence[ReadingSet]) -> list[str]:
    p = readings.pressure_pa
    if p is None:
        return []
    for other in others:
        if other.pressure_pa != p or other is readings:
            continue
        here = (readings.air_kg_s, readings.exhaust_k, readings.speed_rpm)
        there = (other.air_kg_s, other.exhaust_k, other.speed_rpm)
        if readings.condition == other.condition == "zero":
            continue
        if other.phase == readings.phase and other.condition != readings.condition:
            return [
                _(
                    "The same pressure as at {condition}: frozen or a substitute value?",
                    condition=other.condition,
                )
            ]
        if other.condition == readings.condition and here == there and any(here):
            return [
                _("The same to the last figure as {phase}: copied, or frozen?", phase=other.phase)
            ]
    return []


def _against(
    readings: ReadingSet,
    vehicle: VehicleInput,
    workshop: Workshop,
    others: Sequence[ReadingSet],
) -> list[str]:
    mine = _share(readings, vehicle, workshop)
    if mine is None or readings.pressure_pa is None:
        return []
    net = readings.pressure_pa - _zero_of(readings, others)
    for other in others:
        if other.condition == "zero" or other.phase != readings.phase or other is readings:
            continue
        theirs = _share(other, vehicle, workshop)
        if theirs is None or other.pressure_pa is None:
            continue
        expected = (other.pressure_pa - _zero_of(other, others)) * mine / theirs
        # A zero inside its band and a coarse step move a low pressure a long way: no question.
        slack = BANDS.zero_high_pa + 3 * vehicle.sensor_step_pa
        if abs(net - expected) <= slack:
            continue
        low, high = sorted((net, expected))
        if low <= 0 or high / low > UNLIKE_SETS:
            return [
                _(
                    "{net:.1f} mbar above zero where {condition} lets expect about "
                    "{expected:.0f} at this flow: out by ten, another unit, or another line?",
                    net=net / 100,
                    condition=other.condition,
                    expected=expected / 100,
                )
            ]
    return []


def _zero_of(readings: ReadingSet, others: Sequence[ReadingSet]) -> float:
    for other in others:
        if other.condition == "zero" and other.phase == readings.phase and other.pressure_pa:
            return other.pressure_pa
    return 0.0


def _share(readings: ReadingSet, vehicle: VehicleInput, workshop: Workshop) -> float | None:
    point = _point(readings, vehicle, workshop)
    return point.share if point is not None and point.share > 0 else None


def _point(readings: ReadingSet, vehicle: VehicleInput, workshop: Workshop) -> FlowPoint | None:
    try:
        return flow_point(readings, vehicle, workshop)
    except NoPressure:
        return None


def _first_fit(
    fits: Callable[[float], bool], value: float, factors: Sequence[tuple[float, str]]
) -> str:
    return next(
        (_("{words} would fit", words=words) for factor, words in factors if fits(value * factor)),
        "",
    )
