"""Typed numbers that a limit rests on: which of them are typed a second time, and why.

What is refused, the engine refuses. Between that and what is usual lies the slip of a factor: a
point one digit on, another unit. Each band here is narrower than a factor 3 about what is known of
the job (a design choice, common practice, no source), so that a slip of 3 or more from a usual
value leaves it. Filed numbers: ``workshop.usual``; the gun's rate: ``safety.limits.gun_rate``; sets
of readings: ``doubts``.
"""

from collections.abc import Callable
from typing import Final

from steplatch.safety.bay import Engine, FluidIn
from steplatch.safety.catalogue import _

from ..core.commands import Note
from ..core.draft import No
from ..core.gun_entry import GunLoad, parse_gun
from ..core.job import Job
from ..core.steps import TemperatureStep
from ..core.steps.spray import parse_seconds
from ..core.steps.temperature import has_unit
from ..input.quantities import BadQuantity, parse_quantity
from .asking import ask_line, submit
from .context import Context

BAND: Final = 2.9
"""From the least to the most of what is usual: less than the slip that is to leave it."""
ASIDE: Final = 1.7
"""The same to either side of a value that may lie on both: 1.7 x 1.7 is less than 3."""
_KELVIN: Final = 273.15
_AGAIN: Final = _("Type the line again to keep it, or correct it.")

Odd = Callable[[str], dict[str, list[str]]]
"""What is odd about a typed line, by topic; nothing where it is taken as it is."""


def kept(
    on: Context, place: str, typed: str | None, odd: Odd, whole: Callable[[str], str] = str
) -> str | None:
    """What was typed, once it is not odd or was typed twice alike; ``whole`` writes out what may
    be left out. None and 'dk' are handed on; lessons that play themselves are asked nothing."""
    while on.doubts is not None and typed not in (None, "dk") and (found := odd(str(typed))):
        for text in (question for questions in found.values() for question in questions):
            on.talk.say(_("LOOK   {text}", text=text), "head")
        submit(on, Note("doubted", {"typed": str(typed)[:200], "topics": " ".join(found)}))
        again = ask_line(on, f"{place}:again", _AGAIN, typed)
        again = again if again is None else whole(again)
        if again is None or again == "dk" or again.split() == str(typed).split():
            return again
        typed = again
    return typed


def about(topic: str, odd: Callable[[str], str]) -> Odd:
    """A check of one number as ``kept`` takes it."""
    return lambda typed: {topic: [said]} if (said := odd(typed)) else {}


def odd_load(job: Job, typed: str, engine: str) -> str:
    """A load far under the dose: one that is larger than it was typed floods. ``engine`` is that
    of the spray, empty where the gun is filled before it is known."""
    gun, limits = parse_gun(typed, 0.0), job.core.limits
    if not isinstance(gun, GunLoad):
        return ""
    dose_ml = (limits.running if engine == "running" else limits.strict) / 10
    if dose_ml <= 0 or gun.volume_ml * BAND >= dose_ml:
        return ""
    return _(
        "loaded {volume_ml:g} mL: the dose is {dose_ml:g} mL. Is the point right?",
        volume_ml=gun.volume_ml,
        dose_ml=dose_ml,
    )


def odd_seconds(typed: str, asked: str) -> str:
    """Seconds far under those that were asked for, which would be counted as so little fluid."""
    try:
        seconds, wanted = parse_seconds(typed), parse_seconds(asked)
    except No:
        return ""
    if seconds * BAND >= wanted:
        return ""
    return _(
        "{seconds:g} s: asked for were {wanted:g} s. Is the point right?",
        seconds=seconds,
        wanted=wanted,
    )


def odd_drained(job: Job, typed: str) -> str:
    """A drained volume that is not a good part of what may be wet: it lowers what is counted."""
    try:
        drained_ml = parse_quantity(typed.removeprefix("drained").strip(), "volume").si_value * 1e6
    except BadQuantity:
        return ""
    wet_ml = None if job.bay.wet is None else job.bay.wet / 10
    if wet_ml is not None and wet_ml / BAND <= drained_ml <= wet_ml:
        return ""
    of = (
        _("how much is wet is not known")
        if wet_ml is None
        else _("counted as wet are {wet_ml:g} mL", wet_ml=wet_ml)
    )
    return _(
        "drained {drained_ml:g} mL: {of}. Look at the jug and its unit once more.",
        drained_ml=drained_ml,
        of=of,
    )


def odd_temperature(job: Job, step: TemperatureStep, typed: str) -> str:
    """A temperature that lets go on, unless the exhaust was measured here before and was not three
    times as hot: it has only cooled since. While the engine idles its last idle set says what is
    to be expected, as in a drying run."""
    celsius = _celsius(typed)
    if celsius is None or celsius + _KELVIN > step.highest_k(job.log):
        return ""
    idle = _idle_exhaust(job) if job.bay.engine is Engine.IDLING else None
    if idle is not None and idle / ASIDE <= celsius <= idle * ASIDE:
        return ""
    before = job.log.latest("exhaust")
    if before is not None and job.bay.knows("port") and celsius > 0:
        was = float(before["k"]) - _KELVIN
        if was <= BAND * celsius:
            return ""
    return _(
        "{celsius:g} degC lets the work go on, and nothing measured before says so.",
        celsius=celsius,
    )


def odd_drying(job: Job, typed: str) -> str:
    """An exhaust in a drying run that is far from the last that was read with the engine on: one
    that is colder than it was typed dries nothing."""
    celsius, was = _celsius(typed), _last_with_engine_on(job)
    if celsius is None:
        return ""
    if was is None:
        low, high = 100.0, 100.0 * BAND
    else:
        low, high = was / ASIDE, was * ASIDE
    if low <= celsius <= high:
        return ""
    return _(
        "{celsius:g} degC: expected are {low:.0f} to {high:.0f}. Is the point right?",
        celsius=celsius,
        low=low,
        high=high,
    )


def _last_with_engine_on(job: Job) -> float | None:
    """The exhaust, degC, of this drying run, or else of the last set of readings; None for none."""
    log = job.log
    read, since_ms = log.latest("exhaust"), log.timers.get("hold_from", 0)
    if read is not None and int(read["at_ms"]) >= since_ms and job.bay.fluid_in is FluidIn.YES:
        return float(read["k"]) - _KELVIN
    sets = [plain for plain in log.every("reading") if plain.get("exhaust_k") is not None]
    return float(sets[-1]["exhaust_k"]) - _KELVIN if sets else None


def _idle_exhaust(job: Job) -> float | None:
    """The exhaust, degC, of the last idle set of this job; None for none."""
    sets = [plain for plain in job.log.every("reading") if plain["condition"] == "idle"]
    kelvin = sets[-1].get("exhaust_k") if sets else None
    return None if kelvin is None else float(kelvin) - _KELVIN


def _celsius(typed: str) -> float | None:
    try:
        text = typed if has_unit(typed) else f"{typed} degC"
        return parse_quantity(text, "temperature").si_value - _KELVIN
    except BadQuantity:
        return None
