"""Measure the gun's rate with three shots, or load a measured volume."""

from collections.abc import Iterator
from typing import Any, Literal

from steplatch.safety.bay import Act
from steplatch.safety.catalogue import _
from steplatch.safety.interlocks import Ask
from steplatch.safety.kernel import Happened
from steplatch.safety.occurrences import Happening

from ..commands import Answer, Begin
from ..draft import Draft, refuse
from ..gun_entry import (
    DOUBTED,
    GunShots,
    doubt_of,
    doubted_json,
    parse_gun,
    standing_doubt,
)
from ..showing import Question
from ..tries import LOAD, SHOTS, Standing, Try
from .kind import Kind


class GunStep(Kind):
    """Measure the gun's rate with three shots, or load a measured volume."""

    kind: Literal["gun"]
    word = "rate"

    takes_min = 4.0

    @property
    def led_back_to(self) -> bool:
        """The rate can be measured again."""
        return True

    def settles(self) -> frozenset[str]:
        """The gun's rate."""
        return frozenset({"rate"})

    def begin(self, draft: Draft, command: Begin) -> None:
        """Permit the filling."""
        draft.grant(Ask(Act.FILL_GUN), draft.begun)

    def answer(self, draft: Draft, value: str) -> None:
        """Done when the shots, or the load, are taken."""
        if fill_gun(draft, value):
            draft.done(value)

    def asks(self) -> Question:
        """Shots, or a load."""
        return Question(_("Type three shots, mL/s: 19 20 21/5 (in 5 s); or a load: loaded 14 mL."))

    def tries_begun(self, at: Standing) -> Iterator[Try]:
        """Shots and a load."""
        for text in at.scenario.among("gun", (SHOTS, LOAD)):
            yield Try(text, Answer(self.id, text))
        yield Try("begin again", Begin(self.id))


def fill_gun(draft: Draft, value: str) -> bool:
    """The gun is filled and measured, or loaded, under a permit; one that lapsed is asked anew.

    False where one set of shots is not enough: it is kept, and the next must agree with it."""
    if draft.job.bay.permit is not Act.FILL_GUN:
        draft.grant(Ask(Act.FILL_GUN))
    gun = parse_gun(value, draft.job.log.number("reaction_ms") / 1000.0)
    if isinstance(gun, str):
        raise refuse("gun", typed=value)
    if isinstance(gun, GunShots):
        log = draft.job.log
        last = log.latest("gun")
        first = standing_doubt(log.latest(DOUBTED), last, gun.reaction_s)
        if first is not None and gun.same(first):
            raise refuse("same-shots")
        if (why := doubt_of(gun, _last_rate_ml_s(draft, last), first)) is not None:
            draft.record(DOUBTED, doubted_json(gun, why))
            return False
        gun = gun if first is None else gun.after(first)
    draft.record("gun", gun.to_json())
    draft.add(
        Happened(Happening.RATE_MEASURED if isinstance(gun, GunShots) else Happening.GUN_LOADED)
    )
    return True


def _last_rate_ml_s(draft: Draft, gun: dict[str, Any] | None) -> float | None:
    """This gun's last known rate: from earlier shots of this job, else from its file; or None."""
    if gun is not None and gun["basis"] == "rate":
        return float(gun["mean_ml_s"])
    numbers = draft.job.log.numbers
    return float(numbers["gun_rate_ml_s"]) if "gun_rate_ml_s" in numbers else None
