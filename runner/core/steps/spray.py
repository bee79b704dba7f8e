"""Spray: one burst with the engine off, or sprays at idle until the running dose is done."""

import math
from collections.abc import Iterator
from typing import Literal

from steplatch.safety.bay import SPRAYS, Act, FluidIn, Rate
from steplatch.safety.interlocks import Ask
from steplatch.safety.occurrences import OUTCOMES, Happening

from ...input.quantities import BadQuantity, parse_quantity
from ..commands import Answer, Begin, Report
from ..draft import Draft, refuse
from ..events import Moved
from ..gun_entry import LONGEST_S, counted_dml
from ..job import Job
from ..limits import CLOSES
from ..showing import Source, spray_limit
from ..signers import alone
from ..tries import LOAD, SECONDS, SHOTS, Standing, Try
from .gun import fill_gun
from .kind import Kind

SPRAYED = "spray"


class SprayStep(Kind):
    """One burst with the engine off, or sprays at idle until the running dose is done."""

    kind: Literal["spray"]
    engine: Literal["off", "running"]

    head = "engine"

    takes_min = 3.0
    puts_fluid_in = True
    puts_right = frozenset({"rate"})

    def work(self) -> frozenset[str]:
        """The spray."""
        return frozenset({SPRAYED})

    def begin(self, draft: Draft, command: Begin) -> None:
        """Permit one burst; it is counted before it is sprayed."""
        act = Act.SPRAY_OFF if self.engine == "off" else Act.SPRAY_RUNNING
        if alone(draft.job) and _timed(draft.job) and not _closes(draft.job):
            raise refuse("gun-stays-open")
        dose = _dose(draft, command.seconds)
        burst_s = _burst_s(draft, command.seconds) if act is Act.SPRAY_OFF else 0
        draft.grant(Ask(act, dose=dose, burst_s=burst_s), draft.begun)

    def answer(self, draft: Draft, value: str) -> None:
        """A burst that was begun ends by its report."""
        raise refuse("answer/begun")

    def answer_between(self, draft: Draft, value: str) -> None:
        """Between sprays: end the dose, or fill and measure (or load) the gun again.

        An engine-off burst ends by its report; 'done' is for one that was cut off by a stop or an
        interruption, where fluid is in and no further burst may be wanted or allowed.
        """
        if value == "done" and (self.engine == "running" or draft.job.bay.fluid_in is FluidIn.YES):
            draft.done(value)
            return
        if value == "done":
            raise refuse("dose-not-in")
        fill_gun(draft, value)

    def came_out(self, draft: Draft, what: Happening) -> bool:
        """One burst with the engine off is the dose; at idle there may be another."""
        if self.engine == "running":
            self._again(draft)
        else:
            draft.done(what.value)
        return True

    def permit_lapsed(self, draft: Draft) -> None:
        """It is begun again: nothing was sprayed under the permit, or it is reported."""
        if draft.job.core.begun:
            self._again(draft)

    def _again(self, draft: Draft) -> None:
        draft.add(Moved(self.id, draft.procedure.id, "again"))

    def limit_lines(self, job: Job, source: Source) -> tuple[str, ...]:
        """The dose, and how long to spray."""
        return (spray_limit(self.engine, job, source),)

    def tries(self, at: Standing) -> Iterator[Try]:
        """A burst of one and of two tenths, no more spray, and the gun filled where it must be."""
        gun = at.job.log.latest("gun")
        loaded = gun is not None and gun["basis"] == "loaded"
        timed = at.scenario.among("seconds", (SECONDS["1"], SECONDS["2"]))
        for text in ("0",) if loaded else timed:
            yield Try(f"begin to spray for {text} s", Begin(self.id, text))
        if self.engine == "running" or at.job.bay.fluid_in is FluidIn.YES:
            yield Try("no more spray", Answer(self.id, "done"))
        if at.job.bay.rate is Rate.UNKNOWN:
            for text in at.scenario.among("gun", (SHOTS, LOAD)):
                yield Try(f"fill: {text}", Answer(self.id, text))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """Every outcome: nothing, as asked, one tenth more than asked, and nobody knows."""
        bay = at.job.bay
        if bay.permit not in SPRAYS:
            return
        at_limit = str(SECONDS.get(str(bay.reserved), ""))
        if at.scenario.well:
            yield Try("sprayed as asked", Report("spray_ended", seconds=at_limit), kind="answer")
            return
        for what in OUTCOMES[bay.permit]:
            if what in (Happening.SPRAY_NONE, Happening.OVERDOSED):
                yield Try(f"report: {what.said}", Report(what.value), kind="answer")
                continue
            over = SECONDS[str(bay.reserved + 1)]
            counts = ("",) if bay.rate is Rate.LOADED else ("0", at_limit, over)
            for seconds in (*counts, "?"):
                yield Try(
                    f"report: {what.said}, {seconds or 'all'} s",
                    Report(what.value, seconds=seconds),
                    kind="answer",
                )


def _timed(job: Job) -> bool:
    """Whether the burst is ended by the hand, not by an empty gun."""
    gun = job.log.latest("gun")
    return gun is None or gun["basis"] != "loaded"


def _closes(job: Job) -> bool:
    """Whether the trigger shuts when the hand lets go; a record that does not say counts as no."""
    try:
        return job.log.number(CLOSES) > 0
    except KeyError:
        return False


def _dose(draft: Draft, seconds: str) -> int:
    gun = draft.job.log.latest("gun")
    if gun is None or draft.job.bay.rate is Rate.UNKNOWN:
        return 1
    if gun["basis"] == "loaded":
        return counted_dml(gun, 0.0)
    return counted_dml(gun, parse_seconds(seconds))


def _burst_s(draft: Draft, seconds: str) -> int:
    """How long the burst asked for is to last, in whole seconds rounded up; 0 where the gun is
    loaded, or where there is no rate to time it by and the act is refused for that."""
    gun = draft.job.log.latest("gun")
    if gun is None or draft.job.bay.rate is Rate.UNKNOWN or gun["basis"] == "loaded":
        return 0
    return math.ceil(parse_seconds(seconds))


def parse_seconds(text: str) -> float:
    """Seconds as typed; raises the refusal that says what is wrong."""
    typed = text if text.rstrip().endswith("s") else f"{text} s"
    try:
        seconds = parse_quantity(typed, "time")
    except BadQuantity:
        raise refuse("number", typed=typed, quantity="time") from None
    if seconds.si_value < 0:
        raise refuse("number/negative")
    if seconds.si_value > LONGEST_S:
        raise refuse("number/long", typed=text)
    return seconds.si_value
