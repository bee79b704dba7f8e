"""The drying run: what it is credited for, and when it is over.

Dry is credited only by what was read in the run: it counts from the first reading of the exhaust
at the filter inlet, for as long as the worst of them asks of a cold core that is wet in one part,
and only while the last one is not too old to be believed (``safety.effects.LASTS_S``). One that
dries nothing ends the run.
"""

import math
from collections.abc import Iterator, Mapping
from typing import Any, Literal

from steplatch.safety.bay import Act, Engine, FluidIn, RunOn
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Happened, Lapsed
from steplatch.safety.limits.waits import drying_as_read_s
from steplatch.safety.occurrences import Happening

from ...input.quantities import BadQuantity, parse_quantity
from ...input.resolution import taken
from ..commands import Answer, Begin, Fill
from ..draft import Draft, No, refuse
from ..events import TimerSet
from ..job import Job
from ..showing import Source, drying_text, revs_band
from ..timers import NOT_DUE_MS, drying_due, left_s
from ..tries import Standing, Try
from .kind import Kind
from .temperature import CAR, has_unit, measured


class HoldStep(Kind):
    """The drying run: note the pressure while it falls; passes when dry and level."""

    kind: Literal["hold"]
    word = "dry"

    takes_min = 8.0

    def settles(self) -> frozenset[str]:
        """The drying run, and by it how much is wet."""
        return frozenset({"run_on", "wet"})

    def begin(self, draft: Draft, command: Begin) -> None:
        """Begin the run. Nothing counts before the exhaust was read; what is dry is done."""
        draft.grant(Ask(Act.RUN_ON), draft.begun)
        log = draft.job.log
        draft.add(
            Happened(Happening.RUN_ON_BEGUN),
            TimerSet("run_on", NOT_DUE_MS),
            TimerSet("hold_from", log.aged_ms),
        )
        if wet_ml(draft) == 0:
            draft.add(Happened(Happening.RUN_ON_DUE), TimerSet("run_on", log.waited_ms))

    def answer(self, draft: Draft, value: str) -> None:
        """A pressure for the trend, the exhaust at the filter inlet, or 'done'. Raises No."""
        if value == "done":
            self._dried(draft)
        else:
            self._take(draft, value, {})

    def fill(self, draft: Draft, command: Fill) -> None:
        """The same from the vehicle: a pressure, or the exhaust."""
        kind = "exhaust" if is_temperature(command.value) else "pressure"
        if not draft.job.core.begun:
            raise refuse("two-marks")
        if command.car != (kind,) or command.value == "done":
            raise refuse("fill")
        self._take(draft, command.value, CAR)

    def _take(self, draft: Draft, value: str, source: dict[str, str]) -> None:
        if is_temperature(value):
            self._exhaust(draft, value, source)
        else:
            plain = {"at_ms": draft.job.log.aged_ms, "typed": value, **pressure(value)}
            draft.record("trend", plain | source)

    def _exhaust(self, draft: Draft, value: str, source: dict[str, str]) -> None:
        plain, _ = measured(draft, value, source)
        bay, log = draft.job.bay, draft.job.log
        if bay.run_on is not RunOn.RUNNING:
            return
        speed = "raised" if bay.engine is Engine.RAISED else "idle"
        seconds = drying_as_read_s(
            wet_ml(draft),
            log.number(f"drying_{speed}_cold_s"),
            log.number(f"drying_{speed}_slow_s_per_ml"),
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

    def _dried(self, draft: Draft) -> None:
        if draft.job.bay.run_on is not RunOn.DONE:
            raise _not_dry(draft)
        trend = draft.plan.judges.trend(draft.job)
        found = draft.recorded("plateau", trend)
        if trend["state"] == "falling":
            raise No(*_still_falling(trend).refusals, events=(found,))
        draft.add(found)
        draft.done("done")

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """How long drying takes; the band of revs, where they are raised."""
        dried = _("dry: {text}{source}", text=drying_text(job), source=source(""))
        if job.bay.engine is not Engine.RAISED:
            return (dried,)
        return (_("level, and {dried}", dried=dried), revs_band(job, source("rev_ceiling")))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """An exhaust that dries, and one that does not; done under each trend."""
        if not at.job.bay.among("run_on", (RunOn.DONE,)):
            for text in ("400 degC",) if at.scenario.well else ("400 degC", "20 degC"):
                yield Try(f"the exhaust is {text}", Answer(self.id, text))
        for trend in at.scenario.among("trend", ("level", "falling", "not_known")):
            said, done = f"done; pressure {trend}", Answer(self.id, "done")
            yield Try(said, done, kind="answer", trend=trend)
        yield Try("begin again", Begin(self.id))


def wet_ml(draft: Draft) -> float:
    """All that may be wet, mL: the ledger, or all that was filled when nobody knows."""
    log, bay = draft.job.log, draft.job.bay
    if bay.fluid_in is FluidIn.NO:
        return 0.0
    return bay.wet / 10 if bay.wet is not None else log.number("bottle_ml")


def is_temperature(value: str) -> bool:
    """Whether what was typed has a unit of temperature."""
    try:
        parse_quantity(value, "temperature")
    except BadQuantity:
        return False
    return has_unit(value)


def pressure(value: str) -> dict[str, str]:
    """A pressure as typed (mbar when it has no unit), as it is recorded. Raises No."""
    typed = value if has_unit(value) else f"{value} mbar"
    try:
        return taken("pressure", parse_quantity(typed, "pressure").si_value)
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="pressure") from None


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
    return refuse("not-dry", left_s=left_s(due_ms - log.waited_ms))
