"""The debrief in plain words, for a screen of any width from 30 columns on."""

import textwrap

from steplatch.safety.catalogue import _

from ..core.attention import QUICK_MS
from ..simulator.faults import FAULTS
from .debrief import Debrief, DebriefRefusal, StageTime, TripWorked

LEAST_WIDTH = 30
LEAST_MIN = 0.05


def debrief_lines(debrief: Debrief, width: int) -> list[str]:
    """All of it, no line wider than ``width`` (words longer than that excepted)."""
    out = _Lines(max(LEAST_WIDTH, width))
    out.head(_("PRACTICE: debrief of {job}, {ended}", job=debrief.job, ended=debrief.ended))
    _exercise(out, debrief)
    out.head(_("What was wrong with the vehicle"))
    for name in debrief.faults:
        out.item(f"{name}: {FAULTS[name].line}")
        out.more(_("It teaches: {teaches}", teaches=FAULTS[name].teaches))
    out.head(_("Refused, and why"))
    for refused in debrief.refused:
        _refused(out, refused)
    if not debrief.refused:
        out.item("nothing")
    strict, extended = debrief.limits_ml
    if debrief.refused or debrief.trips:
        out.more(
            _(
                "Limits of this job: {strict:.0f} mL with the engine off as it is, "
                "{extended:.0f} mL turned by hand. Source: worked limits, see 'steplatch "
                "limits'.",
                strict=strict,
                extended=extended,
            )
        )
    out.head(_("Trips, and how they were answered"))
    for trip in debrief.trips:
        _trip(out, trip)
    if not debrief.trips:
        out.item("none")
    if debrief.mishaps:
        out.head(_("What happened at the vehicle"))
        for text in debrief.mishaps:
            out.item(text)
    out.head(_("What the record says, and what was so"))
    for one in debrief.against:
        out.item(f"{'differs  ' if one.differs else ''}{one.what}: {one.told}; {one.true}")
    if not debrief.against:
        out.item(_("nothing was read or answered that can be held against the vehicle"))
    out.head(_("Missed or doubted"))
    for text in debrief.missed or ["nothing"]:
        out.item(text)
    _quick(out, debrief)
    out.head(_("Minutes in each stage"))
    for spent in debrief.stages:
        _spent(out, spent)
    out.item(
        _(
            "Pressures: polytropic compression; what runs back is the simulation's own (common "
            "practice, no source). A simulated vehicle proves nothing about a real one."
        )
    )
    return out.rows


class _Lines:
    def __init__(self, width: int) -> None:
        self.rows: list[str] = []
        self.width = width

    def _put(self, text: str, first: str, hang: str) -> None:
        self.rows += textwrap.wrap(
            text, self.width, initial_indent=first, subsequent_indent=hang,
            break_long_words=False, break_on_hyphens=False,
        )  # fmt: skip

    def head(self, text: str) -> None:
        if self.rows:
            self.rows.append("")
        self._put(text.upper() if text.islower() else text, "", "")

    def item(self, text: str) -> None:
        self._put(text, "  - ", "    ")

    def more(self, text: str) -> None:
        self._put(text, "    ", "    ")


def _exercise(out: _Lines, debrief: Debrief) -> None:
    if not debrief.exercise:
        out.item(f"lesson: {debrief.lesson}")
        return
    out.item(
        _("exercise: {exercise}, set by {set_by}", exercise=debrief.exercise, set_by=debrief.set_by)
    )
    out.item(_("ended as set: {part}", part="yes" if debrief.as_set else "no"))
    for what, shown in debrief.noticed:
        out.item(f"{'in the record' if shown else 'not in the record'}: {what}")


def _refused(out: _Lines, refused: DebriefRefusal) -> None:
    often = _(" ({times} times)", times=refused.times) if refused.times > 1 else ""
    out.item(f"{refused.at}  {refused.asked}{often}")
    out.more(f"Why: {refused.reason}")
    if refused.otherwise:
        out.more(_("Permitted, this would have come: {otherwise}", otherwise=refused.otherwise))
    out.more(_("Allowed once this is so: {remedy}", remedy=refused.remedy))
    out.more(f"Source: {refused.source} [{refused.interlock}]")


def _trip(out: _Lines, trip: TripWorked) -> None:
    out.item(_("{at}  {trip}, on '{cause}'", at=trip.at, trip=trip.trip, cause=trip.cause))
    counted = _("not known") if trip.counted_ml is None else f"{trip.counted_ml:.0f} mL"
    out.more(_("Counted as still liquid: {counted}.", counted=counted))
    if trip.true:
        out.more(_("A crank at that moment would have met {true}.", true=trip.true))
    for title in trip.answered:
        out.more(f"Worked: {title}.")
    out.more(_("Reset {reset_at}.", reset_at=trip.reset_at) if trip.reset_at else _("Never reset."))


def _quick(out: _Lines, debrief: Debrief) -> None:
    out.head(_("Answered faster than a look ({quick_ms:.1f} s)", quick_ms=QUICK_MS / 1000))
    if debrief.plays_itself:
        out.item(_("not looked for: this job played itself"))
        return
    for quick in debrief.quick:
        out.item(f"{quick.seconds:.1f} s  {quick.step}")
    if not debrief.quick:
        out.item("none")


def _spent(out: _Lines, spent: StageTime) -> None:
    if spent.practice_min < LEAST_MIN and not spent.own_min:
        return
    stage = f"{spent.procedure}: {spent.stage}" if spent.procedure else spent.stage
    own = "" if spent.own_min is None else _(", {own_min:.1f} of your own", own_min=spent.own_min)
    out.item(f"{spent.practice_min:5.1f}  {stage}{own}")
