"""Spray: one burst with the engine off, or sprays at idle until the running dose is done."""

import math
from typing import Literal

from steplatch.safety.bay import Act, FluidIn, Rate
from steplatch.safety.interlocks import Ask
from steplatch.safety.occurrences import Happening

from ...input.quantities import BadQuantity, parse_quantity
from ..commands import Begin
from ..draft import Draft, refuse
from ..gun_entry import LONGEST_S, counted_dml
from ..job import Begun, Moved
from .gun import fill_gun
from .kind import Kind

SPRAYED = "spray"


class SprayStep(Kind):
    """One burst with the engine off, or sprays at idle until the running dose is done."""

    kind: Literal["spray"]
    engine: Literal["off", "running"]

    puts_fluid_in = True

    def work(self) -> frozenset[str]:
        """The spray."""
        return frozenset({SPRAYED})

    def begin(self, draft: Draft, command: Begin) -> None:
        """Permit one burst; it is counted before it is sprayed."""
        act = Act.SPRAY_OFF if self.engine == "off" else Act.SPRAY_RUNNING
        dose = _dose(draft, command.seconds)
        burst_s = _burst_s(draft, command.seconds) if act is Act.SPRAY_OFF else 0
        draft.grant(Ask(act, dose=dose, burst_s=burst_s), Begun(self.id))

    def answer(self, draft: Draft, value: str) -> None:
        """A burst that was begun ends by its report."""
        raise refuse("answer/begun")

    def answer_between(self, draft: Draft, value: str) -> None:
        """Between sprays: end the dose, or fill and measure (or load) the gun again.

        An engine-off burst ends by its report; 'done' is for one that was cut off by a stop or an
        interruption, where fluid is in and no further burst may be wanted or allowed.
        """
        if value == "done" and (self.engine == "running" or draft.job.bay.fluid_in is FluidIn.YES):
            draft.done(self.id, value)
            return
        if value == "done":
            raise refuse("dose-not-in")
        fill_gun(draft, value)

    def came_out(self, draft: Draft, what: Happening) -> bool:
        """One burst with the engine off is the dose; at idle there may be another."""
        if self.engine == "running":
            self._again(draft)
        else:
            draft.done(self.id, what.value)
        return True

    def permit_lapsed(self, draft: Draft) -> None:
        """It is begun again: nothing was sprayed under the permit, or it is reported."""
        if draft.job.core.begun:
            self._again(draft)

    def _again(self, draft: Draft) -> None:
        draft.add(Moved(self.id, draft.procedure.id, "again"))


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
