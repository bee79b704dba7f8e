"""The drying run: what it is credited for, and when it is over.

Dry is credited only by what was read in the run: it counts from the first reading of the exhaust
at the filter inlet, for as long as the worst of them asks, and only while the last one is not too
old to be believed (``safety.effects.LASTS_S``). One that dries nothing ends the run.
"""

import math
from collections.abc import Mapping
from typing import Any

from steplatch.safety.bay import Engine, FluidIn, RunOn
from steplatch.safety.kernel import Happened, Lapsed, Seen
from steplatch.safety.limits.waits import drying_as_read_s
from steplatch.safety.occurrences import Happening

from ..input.quantities import BadQuantity, parse_quantity
from . import reading_steps
from .engine import NOT_DUE_MS, Draft, No, drying_due, refuse
from .job import Recorded, TimerSet
from .procedure import HoldStep


def wet_ml(draft: Draft) -> float:
    """All that may be wet, mL: the ledger, or all that was filled when nobody knows."""
    log, bay = draft.job.log, draft.job.bay
    if bay.fluid_in is FluidIn.NO:
        return 0.0
    return bay.wet / 10 if bay.wet is not None else log.number("bottle_ml")


def begin(draft: Draft) -> None:
    """Begin the run. Nothing counts before the exhaust was read; what is dry is done at once."""
    log = draft.job.log
    draft.add(
        Happened(Happening.RUN_ON_BEGUN),
        TimerSet("run_on", NOT_DUE_MS),
        TimerSet("hold_from", log.aged_ms),
    )
    if wet_ml(draft) == 0:
        draft.add(Happened(Happening.RUN_ON_DUE), TimerSet("run_on", log.waited_ms))


def answer(draft: Draft, step: HoldStep, value: str) -> None:
    """A pressure for the trend, the exhaust at the filter inlet, or 'done'. Raises No."""
    if value == "done":
        _done(draft, step)
    elif is_temperature(value):
        _exhaust(draft, step, value)
    else:
        noted = reading_steps.pressure(value)
        plain = {"at_ms": draft.job.log.aged_ms, "typed": value, **noted}
        draft.add(Recorded("trend", plain, step.id))


def is_temperature(value: str) -> bool:
    """Whether what was typed has a unit of temperature."""
    try:
        parse_quantity(value, "temperature")
    except BadQuantity:
        return False
    return reading_steps.has_unit(value)


def _exhaust(draft: Draft, step: HoldStep, value: str) -> None:
    plain, port = reading_steps.exhaust(draft, value)
    draft.add(Recorded("exhaust", plain, step.id), Seen("port", port))
    bay, log = draft.job.bay, draft.job.log
    if bay.run_on is not RunOn.RUNNING:
        return
    speed = "raised" if bay.engine is Engine.RAISED else "idle"
    seconds = drying_as_read_s(
        wet_ml(draft),
        log.number(f"drying_{speed}_s_per_ml"),
        log.number(f"drying_{speed}_exhaust_k"),
        log.number("dries_above_k"),
        float(plain["k"]),
    )
    if seconds is None:
        draft.add(Lapsed("run_on"))
        return
    due_ms = log.timers["run_on"]
    if due_ms >= NOT_DUE_MS:
        draft.add(TimerSet("run_from", log.waited_ms))
        due_ms = 0
    from_ms = draft.job.log.timers["run_from"]
    draft.add(TimerSet("run_on", max(due_ms, from_ms + math.ceil(seconds * 1000))))
    drying_due(draft)


def _done(draft: Draft, step: HoldStep) -> None:
    if draft.job.bay.run_on is not RunOn.DONE:
        raise _not_dry(draft)
    trend = draft.plan.judges.trend(draft.job)
    found = Recorded("plateau", trend, step.id)
    if trend["state"] == "falling":
        raise No(*_still_falling(trend).refusals, events=(found,))
    draft.add(found)
    draft.done(step.id, "done")


def _still_falling(trend: Mapping[str, Any]) -> No:
    if trend.get("to_go_min") is None:
        return refuse("still-falling")
    return refuse("still-falling/about", to_go_min=str(max(1, round(float(trend["to_go_min"])))))


def _not_dry(draft: Draft) -> No:
    bay, log = draft.job.bay, draft.job.log
    if bay.run_on is not RunOn.RUNNING:
        return refuse("not-dry/cut")
    due_ms = log.timers.get("run_on", NOT_DUE_MS)
    if due_ms >= NOT_DUE_MS or not bay.knows("port"):
        return refuse("not-dry/unread")
    return refuse("not-dry", left_s=str(math.ceil(max(due_ms - log.waited_ms, 0) / 1000)))
