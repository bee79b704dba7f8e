"""The vehicle's own values on the screen: revs against the band, ages, alarms, readings to take.

Only a job with a link has this (``Context.car``). It decides nothing: what is taken from the
vehicle is submitted as that, and what it reports was written down before it is shown here.
"""

from collections.abc import Callable
from typing import Any, Final

from steplatch.safety.catalogue import _, spoken
from steplatch.safety.measured import contradictions

from ..assess import told
from ..core.commands import Answer, Fill, Note, SetAside
from ..core.reading_set import BadReading
from ..core.steps import ActStep, HoldStep, ReadStep, SprayStep, TemperatureStep
from ..core.typed_set import ORDER, parse_set, parse_value
from ..input.quantities import format_si
from ..jobs.vehicle_readings import VehicleReadings
from ..live import rules
from ..live.filling import Filled
from ..live.link import LinkState
from ..live.proving import Proof
from ..live.report import own_lines
from ..live.samples import Happening, Kind
from ..live.witness import SPEED, Witness, quality
from ..live.words import words
from ..readings.steady import HELD_S
from ..simulator.hand import Noticed
from .context import Context
from .drying import exhaust_due, judged_trend
from .talk import PICTURE, StyledLine
from .terminal.big_digits import big

CAR: Final = "car"
GAUGE: Final = "gauge"
PATIENCE_S: Final = 60.0
"""How long a lesson waits for a set to be held."""
AWAKE_S: Final = 12.0
"""... for a vehicle that is asked to answer: it is surveyed anew, which takes some four seconds."""
NOW_S: Final = 10.0
"""... and for a value of now to be the mean of."""
NOTE_EVERY_S: Final = 30.0
"""In a drying run a proven pressure notes itself so often."""
LOUD: Final = frozenset({"sag", "link_lost", "climbing", "turning", "moving"})
_SHOWN: Final = (
    ("delta_pa", _("pressure"), "mbar", 0.01, 1),
    ("filter_in_degc", _("inlet"), "degC", 1.0, 0),
    ("exhaust_11_degc", _("exhaust"), "degC", 1.0, 0),
    ("coolant_degc", _("coolant"), "degC", 1.0, 0),
    ("air_g_s", _("air"), "g/s", 1.0, 1),
    ("module_v", _("battery"), "V", 1.0, 1),
)
"""Channel, name, unit, factor and decimals of what stands in one line."""


def notice(on: Context) -> None:
    """Let what the vehicle reports into the record, and say what is for eyes and ears."""
    if on.car is None:
        return
    link, before = on.car.link, on.session.job.bay.trips
    link.notice()
    on.car.look()
    for trip in sorted(on.session.job.bay.trips - before, key=lambda t: t.value):
        on.talk.say(_(" TRIP LATCHED: {value}", value=spoken(trip.value)), "DANGER")
        on.talk.ring(until_answered=True)
    for happening in link.take_alarms():
        _alarm(on, happening)
    if link.link.cause is not on.car_cause:
        on.car_cause = link.link.cause
        on.talk.say(_("CAR    {words}", words=words("link", link.link.cause.value)), "head")
    _note_pressure(on)


def _alarm(on: Context, happening: Happening) -> None:
    text = words("happening", happening.what)
    numbers = dict(happening.numbers)
    if "reason" in numbers and happening.what == "sag_ears_only":
        text += f" ({words('reason', str(numbers['reason']))})"
    if happening.kind is Kind.CHANNEL:
        text = f"{numbers.get('channel', '')}: {text}"
    loud = happening.what in LOUD or happening.kind is Kind.TRIP
    on.talk.say(_("CAR    {text}", text=text), "DANGER" if loud else "CAUTION")
    if loud:
        on.talk.ring(until_answered=True)


def heard(on: Context, passed_s: float) -> StyledLine:
    """While a burst is counted: the gravest that the vehicle reports, else its revs."""
    if on.car is None:
        return "", ""
    on.car.link.notice()
    for happening in on.car.link.alarms:
        if happening.what in LOUD or happening.kind is Kind.TRIP:
            return _("CAR    {words}", words=words("happening", happening.what)), "DANGER"
    witness = on.car.link.witness
    if witness.said.gun_open and witness.sag != "armed":
        return _("CAR    {words}", words=words("happening", "sag_ears_only")), "CAUTION"
    return _("CAR    {speed}", speed=_speed(witness)[0]), ""


def live_lines(on: Context) -> tuple[StyledLine, ...]:
    """What stands over an open question and changes while it does."""
    if on.car is None:
        return ()
    link = on.car.link
    if link.link.state is not LinkState.AWAKE or not link.alive:
        return ((_("CAR    {words}", words=words("link", link.link.cause.value)), "CAUTION"),)
    step = _step(on)
    lines = list(_revs(on, link.witness, step))
    proven = on.car.proof is Proof.PROVEN
    values = [text for row in _SHOWN if (text := _value(link.witness, proven, row))]
    if values:
        lines.append((_("CAR    {values}", values="; ".join(values)), ""))
    brought = "; ".join(text.split(maxsplit=1)[1] for text in own_lines(on.car.own, link.witness))
    if brought:
        lines.append((_("YOURS  {brought}", brought=brought), ""))
    return (*lines, *_to_take(on, on.car, step))


def _revs(on: Context, witness: Witness, step: Any) -> tuple[StyledLine, ...]:
    """The revs against band and ceiling; in big figures where they are held or must not sag."""
    text, style = _speed(witness)
    number = on.session.job.log.numbers
    held = isinstance(step, HoldStep | SprayStep) or getattr(step, "condition", "") == "raised"
    raising = isinstance(step, ActStep) and step.act.value == "raise"
    if "rev_ceiling_rpm" in number and (held or raising):
        low, high = float(number["revs_low_rpm"]), float(number["revs_high_rpm"])
        text += _(
            "; band {low:.0f} to {high:.0f}, never over {number:.0f}",
            low=low,
            high=high,
            number=float(number["rev_ceiling_rpm"]),
        )
    line = (_("REVS   {text}", text=text), style)
    good = quality(witness, SPEED, witness.now_ms) == "good"
    if not good or not (held or raising):
        return (line,)
    figures = f"{witness.tracks[SPEED].milli / rules.RPM:.0f}"
    return (line, *((f"    {row}", PICTURE) for row in big(figures)))


def _speed(witness: Witness) -> StyledLine:
    how = quality(witness, SPEED, witness.now_ms)
    track = witness.tracks.get(SPEED)
    if track is None:
        return words("quality", "none"), "CAUTION"
    text = f"{track.milli / rules.RPM:.0f} 1/min{_age(witness, SPEED)}"
    if how != "good":
        return f"({text}) {words('quality', how)}", "CAUTION"
    ceiling = witness.said.ceiling_rpm
    over = ceiling is not None and track.milli > ceiling * rules.RPM
    return (_("{text} OVER THE CEILING", text=text), "DANGER") if over else (text, "do")


def _value(witness: Witness, proven: bool, row: tuple[str, str, str, float, int]) -> str:
    channel, name, unit, by, places = row
    track = witness.tracks.get(channel)
    if track is None:
        return ""
    how = quality(witness, channel, witness.now_ms)
    if channel == "delta_pa" and how == "good" and not proven:
        how = "not_proven"
    text = f"{name} {track.milli / 1000 * by:.{places}f} {unit}{_age(witness, channel)}"
    return text if how == "good" else f"({text}: {words('quality', how)})"


def _age(witness: Witness, channel: str) -> str:
    """How old a value is, from one second on."""
    seconds = (witness.now_ms - witness.tracks[channel].at_ms) / 1000
    return _(", {seconds:.0f} s old", seconds=seconds) if seconds >= 1 else ""


def _to_take(on: Context, car: VehicleReadings, step: Any) -> tuple[StyledLine, ...]:
    """What can be taken from the vehicle at this step, and how."""
    if not on.session.job.core.begun:
        return ()
    if isinstance(step, ReadStep):
        found = car.set_of(step.condition)
        if found is None:
            return (
                (
                    _(
                        "HELD   {held_s:.0f} of {held_s_2:.0f} s",
                        held_s=min(car.held_s(), HELD_S),
                        held_s_2=HELD_S,
                    ),
                    "",
                ),
            )
        given = " ".join(f"{found.items[q]}" for q in ORDER if q in found.items)
        lacks = _lacking(step, found)
        more = _(", then {lacks}", lacks=" ".join(lacks)) if lacks else ""
        return ((_("TAKE   type {car}{more}: {given}", car=CAR, more=more, given=given), "do"),)
    found = _single(on, car, step)
    if found is None:
        return ()
    (text,) = found.items.values()
    return ((_("TAKE   type {car}: {text} {unit}", car=CAR, text=text, unit=_unit(found)), "do"),)


def _lacking(step: ReadStep, found: Filled) -> list[str]:
    """What of a set the vehicle does not give, in the order of the line; nothing more at zero."""
    if step.condition == "zero" and "pressure" in found.items:
        return []
    return [quantity for quantity in ORDER if quantity not in found.items]


def _single(on: Context, car: VehicleReadings, step: Any) -> Filled | None:
    if isinstance(step, TemperatureStep):
        return car.exhaust_now("hot")
    if isinstance(step, HoldStep):
        return car.exhaust_now("cold") if exhaust_due(on.session.job) else car.pressure_now()
    return None


def _unit(found: Filled) -> str:
    return "degC" if "exhaust" in found.items else "mbar"


def hold_line(on: Context) -> str:
    """The trend of a drying run as it is now: falling or level, and its forecast."""
    noted = len(on.session.job.log.every("trend"))
    if on.car_trend is None or on.car_trend[0] != noted:
        on.car_trend = noted, told.trend(judged_trend(on.session.plan, on.session.job))
    return on.car_trend[1]


# -- readings ---------------------------------------------------------------------------------


def offer(on: Context, step: Any, noticed: Noticed) -> Noticed:
    """What a lesson answers where the vehicle gives values: it waits for them, and takes them."""
    if on.car is None or not on.car.link.waits or not _awake(on.car):
        return noticed
    running = isinstance(step, ReadStep) and step.condition != "zero"
    if running and on.car.proof is Proof.ZERO_SEEN and noticed.answer[:1].isdigit():
        on.car.link.wait(NOW_S + 2.0)
        if on.car.shown_pa is not None:
            return Noticed(noticed.words, f"{GAUGE} {noticed.answer.split()[0]}")
    if isinstance(step, ReadStep):
        found = _within(on.car, PATIENCE_S, lambda car: car.set_of(step.condition))
        if found is None or not found.items:
            return noticed
        typed = dict(zip(ORDER, noticed.answer.split(), strict=False))
        rest = [typed.get(quantity, "x") for quantity in _lacking(step, found)]
        return Noticed(noticed.words, " ".join([CAR, *rest]))
    on.car.link.wait(NOW_S)
    return noticed if _single(on, on.car, step) is None else Noticed(noticed.words, CAR)


def _awake(car: VehicleReadings) -> bool:
    """Whether a vehicle that is asked answers, after some patience."""
    if not car.link.wanted:
        return False
    return bool(_within(car, AWAKE_S, lambda c: c.link.link.state is LinkState.AWAKE))


def _within(car: VehicleReadings, seconds: float, look: Callable[[VehicleReadings], Any]) -> Any:
    """What ``look`` gives once it gives something, within ``seconds`` of the link's time."""
    for _other in range(round(seconds)):
        if found := look(car):
            return found
        car.link.wait(1.0)
        car.look()
    return look(car)


def is_for(typed: str) -> bool:
    """Whether what was typed is a word to the vehicle, not a value."""
    return typed.split()[:1] in ([CAR], [GAUGE])


def command_of(on: Context, step: Any, typed: str) -> Answer | Fill | None:
    """The command of what was typed at a step that measures; None where it was for the vehicle
    and was answered here."""
    word, *rest = typed.split() or [""]
    if on.car is None or word.lower() not in (CAR, GAUGE):
        return Answer(step.id, typed)
    if word.lower() == GAUGE:
        _against(on, on.car, " ".join(rest))
        return None
    if isinstance(step, ReadStep):
        return _set(on, on.car, step, rest)
    found = _single(on, on.car, step)
    if found is None:
        on.talk.say(
            _(
                "The vehicle gives nothing for this now. {pressure_words}",
                pressure_words=_pressure_words(on.car),
            ),
            "refused",
        )
        return None
    ((quantity, text),) = found.items.items()
    value = f"{text} {_unit(found)}" if quantity == "exhaust" else text
    return Fill(step.id, value, (quantity,), on.car.link.name, found.from_ms, found.to_ms)


def _set(on: Context, car: VehicleReadings, step: ReadStep, rest: list[str]) -> Fill | None:
    found = car.set_of(step.condition)
    if found is None or not found.items:
        on.talk.say(
            _(
                "Nothing was held for {held_s:.0f} s yet. {pressure_words}",
                held_s=HELD_S,
                pressure_words=_pressure_words(car),
            ),
            "refused",
        )
        return None
    lacks = _lacking(step, found)
    if len(rest) != len(lacks):
        on.talk.say(
            _("Type {car}, then {lacks}.", car=CAR, lacks=" ".join(lacks) or _("nothing more")),
            "refused",
        )
        return None
    typed = dict(zip(lacks, rest, strict=True))
    line = " ".join(found.items.get(q) or typed.get(q, "x") for q in ORDER)
    if _odd(on, step, line):
        return None
    given = tuple(sorted(found.items))
    return Fill(step.id, line, given, car.link.name, found.from_ms, found.to_ms)


def _odd(on: Context, step: ReadStep, line: str) -> bool:
    """Whether what the vehicle gives is odd, as a typed set would be, and was not looked at yet;
    the same word again takes it."""
    odd = on.doubts(on.session.job, step, line) if on.doubts is not None else {}
    if not odd or on.car_odd == step.id:
        return False
    on.car_odd = step.id
    for text in (question for questions in odd.values() for question in questions):
        on.talk.say(_("LOOK   {text}", text=text), "head")
    on.talk.say(_("Look again: the same word once more takes it, or type what is true."), "do")
    on.session.submit(Note("doubted", {"typed": line[:200], "topics": " ".join(odd)}))
    return True


def _pressure_words(car: VehicleReadings) -> str:
    return words("proof", car.proof.value)


def _against(on: Context, car: VehicleReadings, typed: str) -> None:
    """The own gauge at this moment, against what the vehicle shows."""
    try:
        gauge_pa = parse_value("pressure", typed).si
    except BadReading as bad:
        on.talk.say(f"{bad}", "refused")
        return
    if car.shown_pa is None:
        how = quality(car.link.witness, "delta_pa", car.link.witness.now_ms)
        on.talk.say(
            _(
                "GAUGE  not held against the vehicle's pressure: {words}",
                words=words("quality", how),
            ),
            "head",
        )
        return
    car.against(gauge_pa)
    on.talk.say(_("GAUGE  {pressure_words}", pressure_words=_pressure_words(car)), "head")


def compared(on: Context, step: ReadStep, typed: str) -> bool:
    """Whether a typed set may stand: where the vehicle says otherwise both are shown, and the same
    line typed again is kept. Both stay in the record."""
    if on.car is None or is_for(typed) or on.car_kept == typed.split():
        return True
    try:
        got = parse_set(typed, step.condition, step.phase)
    except BadReading:
        return True
    found = on.car.differences(got)
    if not found:
        return True
    for one in found:
        dimension = _DIMENSION[one.quantity]
        on.talk.say(
            _(
                "DIFFERS  {quantity}: you {format_si}, the vehicle {format_si_2}",
                quantity=one.quantity,
                format_si=format_si(one.typed, dimension),
                format_si_2=format_si(one.measured, dimension),
            ),
            "CAUTION",
        )
    on.talk.say(
        _("Look again: type the same line to keep yours, or car to take the vehicle's."), "do"
    )
    named = " ".join(one.quantity for one in found)
    note = {"typed": typed[:200], "topics": named, "link": on.car.link.name}
    on.session.submit(Note("differs", note))
    on.car_kept = typed.split()
    return False


_DIMENSION: Final = {
    "pressure": "pressure",
    "speed": "speed",
    "air": "mass_flow",
    "exhaust": "temperature",
    "coolant": "temperature",
}


def _note_pressure(on: Context) -> None:
    """In a drying run the proven pressure notes itself, so that the trend is drawn by itself."""
    step, job = _step(on), on.session.job
    if on.car is None or not isinstance(step, HoldStep) or on.car.link.waits:
        return
    noted = job.log.latest("trend")
    since_ms = max(job.log.timers.get("hold_from", 0), int(noted["at_ms"]) if noted else 0)
    if not job.core.begun or job.log.aged_ms - since_ms < NOTE_EVERY_S * 1000:
        return
    found = on.car.pressure_now()
    if found is not None:
        name, value = on.car.link.name, found.items["pressure"]
        fill = Fill(step.id, value, ("pressure",), name, found.from_ms, found.to_ms)
        on.session.submit(fill)


# -- resolving --------------------------------------------------------------------------------


def set_aside(on: Context) -> None:
    """The word 'aside': a person has looked, and what the vehicle reports is wrong."""
    job = on.session.job
    channels = {row.channel for row in contradictions(job.bay, job.core.measured)}
    if not channels:
        on.talk.say(_("Nothing that the vehicle reports stands against what is said."))
    for channel in sorted(channels):
        on.session.submit(SetAside(channel))
        on.talk.say(
            _(
                "ASIDE  {channel}: not used any more in this job. It is written down.",
                channel=channel,
            ),
            "head",
        )


def _step(on: Context) -> Any:
    core = on.session.job.core
    return on.session.plan.procedure(core.procedure).step(core.step)
