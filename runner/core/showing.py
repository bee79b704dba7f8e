"""What is shown of a step: its limits in words, and what it asks. Nothing here decides."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from steplatch.safety.bay import Engine, Rate, Tier
from steplatch.safety.catalogue import _, spoken
from steplatch.safety.limits.burst import Burst, burst
from steplatch.safety.limits.choices import LONGEST_OFF_BURST

from .gun_entry import rates_m3_s
from .job import Job

TRADE = _("common practice, no source")
Source = Callable[..., str]
"""Gives where a worked limit comes from, by its name, as text to stand behind the number; a second
argument is what stands there when nothing was worked under that name."""


@dataclass(frozen=True, slots=True)
class Question:
    """What a step asks: a choice among named answers, or (without choices) a line to be typed."""

    text: str
    choices: tuple[tuple[str, str], ...] = ()


def revs_band(job: Job, source: str) -> str:
    """The band of the raised revs, and the ceiling."""
    n = job.log.number
    return _(
        "{n:.0f} to {n_2:.0f} 1/min; never over {n_3:.0f}{source}",
        n=n("revs_low_rpm"),
        n_2=n("revs_high_rpm"),
        n_3=n("rev_ceiling_rpm"),
        source=source,
    )


def drying_text(job: Job) -> str:
    """How long the drying run lasts, and how soon a warm filter, wet evenly, would be dry."""
    wet = job.bay.wet
    if wet is None:
        return _("ledger unknown: as for a full bottle")
    if wet == 0:
        return _("nothing is wet any more")
    speed = "raised" if job.bay.engine is Engine.RAISED else "idle"
    seconds = wet / 10 * job.log.number(f"drying_{speed}_s_per_ml")
    slow = wet / 10 * job.log.number(f"drying_{speed}_slow_s_per_ml")
    most = job.log.number(f"drying_{speed}_cold_s") + slow
    return _(
        "{ceil} mL take {most:.1f} min, as if cold and wet in one part (warm and wet evenly: "
        "{seconds:.1f}), at {speed} revs from the first exhaust reading, longer by the "
        "coldest",
        ceil=math.ceil(wet / 10),
        most=most / 60,
        seconds=seconds / 60,
        speed=_(speed),
    )


def spray_cap_dml(engine: str, job: Job) -> int:
    """The limit that a spray of this kind stands under, in 0.1 mL."""
    limits = job.core.limits
    if engine == "running":
        return limits.running
    return {Tier.STRICT: limits.strict, Tier.EXTENDED: limits.extended}.get(job.bay.tier, 0)


def spray_advice(engine: str, job: Job) -> str:
    """How long to spray, or how much to load, from rate, ledger and limit."""
    gun, bay = job.log.latest("gun"), job.bay
    room_dml = spray_cap_dml(engine, job) - (bay.wet or 0)
    if bay.rate is Rate.LOADED and gun is not None:
        return _("loaded {gun:.0f} mL: spray until empty", gun=float(gun["volume_ml"]))
    gun = _measured_gun(job)
    if gun is None:
        return _("no rate: load at most {part} mL", part=max(0, room_dml) // 10)
    worked = _burst(engine, job, gun)
    return worked.advice()


def _burst(engine: str, job: Job, gun: dict[str, Any]) -> Burst:
    bay = job.bay
    return burst(
        spray_cap_dml(engine, job) * 1e-7,
        (bay.wet or 0) * 1e-7,
        rates_m3_s(gun),
        float(gun["reaction_ms"]) / 1000.0,
        LONGEST_OFF_BURST.value if engine == "off" else math.inf,
    )


def spray_seconds(engine: str, job: Job) -> int:
    """The longest permitted burst in whole seconds; 0 when it is too short to time."""
    gun = _measured_gun(job)
    return 0 if gun is None else _burst(engine, job, gun).seconds


def _measured_gun(job: Job) -> dict[str, Any] | None:
    """The gun whose rate was measured and is still known; None for any other."""
    gun = job.log.latest("gun")
    if job.bay.rate is not Rate.MEASURED or gun is None or gun["basis"] != "rate":
        return None
    return dict(gun)


def spray_limit(engine: str, job: Job, source: Source) -> str:
    """How long to spray with the engine ``off`` or ``running``, and the limit it stands under: in
    one row of the narrowest screen, whose question leaves no second one."""
    key = "running_dose" if engine == "running" else f"dose_{job.bay.tier.value}"
    kind = (
        _("dose") if engine == "running" else _("{value} limit", value=spoken(job.bay.tier.value))
    )
    cap = spray_cap_dml(engine, job) / 10
    return f"{spray_advice(engine, job)}; {kind} {cap:.1f} mL{source(key)}"
