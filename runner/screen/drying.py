"""Where a drying run stands, for the screen: what is due in it, its trend and its pressures."""

from typing import Any

from steplatch.safety.bay import RunOn

from ..assess.plateau import TrendPoint
from ..core.job import Job
from ..core.plan import Plan
from ..core.timers import NOT_DUE_MS

EXHAUST_AGAIN_S = 420.0
"""The exhaust is asked for again in a drying run after this time, before it is too old."""


def not_read(job: Job) -> bool:
    """Whether the exhaust was not read yet in this drying run."""
    return job.log.timers.get("run_on", NOT_DUE_MS) >= NOT_DUE_MS


def exhaust_due(job: Job) -> bool:
    """Whether the exhaust has to be read for the drying run to be credited: not read yet, too
    long ago, or soon too long ago."""
    if job.bay.run_on is not RunOn.RUNNING:
        return False
    age_ms = job.log.aged_ms - job.log.set_ms.get("port", 0)
    return not_read(job) or not job.bay.knows("port") or age_ms > EXHAUST_AGAIN_S * 1000


def exhaust_just_read(job: Job) -> bool:
    """Whether the exhaust was the last that was read in this hold: the pressure is read with it."""
    log = job.log
    noted, read = log.latest("trend"), log.latest("exhaust")
    since_ms = max(log.timers.get("hold_from", 0), int(noted["at_ms"]) if noted else 0)
    return read is not None and int(read["at_ms"]) > since_ms


def judged_trend(plan: Plan, job: Job) -> dict[str, Any]:
    """The trend for the screen. A judge that fails here says nothing, as if there were too few
    readings: what is decided of the hold is decided elsewhere, and holds the job if it fails."""
    try:
        return plan.judges.trend(job)
    except MemoryError:
        raise
    except Exception:  # whatever fails: nobody at the vehicle is helped by a traceback
        return {"state": "not_shown", "why": "no_judge", "watched_s": None,
                "chance_level_share": None}  # fmt: skip


def trend_points(job: Job) -> list[TrendPoint]:
    """The pressures noted in this hold: (s since it began, Pa)."""
    since = job.log.timers.get("hold_from", 0)
    return [
        ((int(p["at_ms"]) - since) / 1000, float(p["pa"]))
        for p in job.log.every("trend")
        if int(p["at_ms"]) >= since
    ]
