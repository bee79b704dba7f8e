"""The first look: after one raised set, whether a clean looks worth it, and what a dose comes to.

Provisional, said on the screen and never recorded as a decision: the triage decides, with all
that is still open here. It says so before anybody has promised or quoted anything.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from steplatch.safety.catalogue import _
from steplatch.safety.limits.burst import burst, reaction_allowance_s
from steplatch.safety.limits.choices import LONGEST_OFF_BURST
from steplatch.safety.limits.inputs import Fluid, GunInput, VehicleInput, Workshop
from steplatch.safety.limits.worked import WorkedLimits, work_limits

from ..assess import told
from ..assess.judges import facts_of, sets_of
from ..assess.tables import load_table
from ..assess.triage import TriageDecision, triage
from ..core.job import Job
from .talk import StyledLine

GO, NO, UNLIKELY, MORE = _("GO AHEAD"), _("NO GO"), _("UNLIKELY"), _("MEASURE MORE")
LITTLE = frozenset({"near_limit", "ash_limit", "ash_code"})
"""Reasons of the triage for which there is little to gain."""
NOT_YET = ("unknown", "not_done")
LINE_WHOLE = {"line_test": "ok"}
"""What is taken for granted for now: the hose is blown before any fluid, and may change it all."""
TYPICAL_RATIO = 16.0
"""Compression ratio of diesels of the filter era, about 15 to 18 (common practice, no source);
only to show what looking it up could gain, never to work a limit."""
SHOWN = 3
ML = 1e6


@dataclass(frozen=True, slots=True)
class LookFiles:
    """What the dose is worked from."""

    vehicle: VehicleInput
    fluid: Fluid
    workshop: Workshop
    gun: GunInput


FirstLook = Callable[[Job, tuple[float, ...]], tuple[StyledLine, ...]]
"""Told the job and the last measured rates of the gun (mL/s, none where never), gives the lines."""


def first_look_of(files: LookFiles) -> FirstLook:
    """The first look at one vehicle in one workshop."""

    def look(job: Job, rates_ml_s: tuple[float, ...]) -> tuple[StyledLine, ...]:
        return (*answer_lines(job, files), *dose_lines(files, rates_ml_s))

    return look


def answer_lines(job: Job, files: LookFiles) -> tuple[StyledLine, ...]:
    """Go, no, unlikely or measure more: why, what it could bring, and what is still open."""
    facts = LINE_WHOLE | facts_of(job)
    found = triage(sets_of(job, "before"), files.vehicle, files.workshop, facts)
    answer, open_now, reasons = answer_of(found)
    out = [(_("FIRST LOOK  {answer}, provisionally", answer=answer), "head")]
    out += [(_("WHY    {text}", text=text), "") for text in reasons[:SHOWN]]
    if found.expected is not None and answer in (GO, UNLIKELY):
        out.append(
            (_("GAIN   {triage}", triage=told.triage(found.to_json())["expected"]["text"]), "")
        )
    out += [
        (_("OPEN   {text}", text=text), "")
        for text in (_("The hose is not blown yet."), *open_now)[:SHOWN]
    ]
    return tuple(out)


def answer_of(found: TriageDecision) -> tuple[str, list[str], list[str]]:
    """The answer, what is not known yet, and the reasons for the answer, in words."""
    known = [r for r in found.reasons if r.row not in _open_rows()]
    open_now = [r.text for r in found.reasons if r.row in _open_rows()]
    against = [r for r in known if r.effect == "dont"]
    little = [r for r in known if r.effect == "nothing_to_clean" or r.row in LITTLE]
    if against and {r.row for r in against} != {"unreadable"}:
        return NO, open_now, [r.text for r in against if r.row != "unreadable"]
    if against or any(r.effect == "dont" for r in found.reasons):
        return MORE, open_now, [r.text for r in against]
    if little:
        return UNLIKELY, open_now, [r.text for r in little]
    return GO, open_now, [r.text for r in known]


@lru_cache(maxsize=1)
def _open_rows() -> frozenset[str]:
    """The rows of the triage that speak because something is not known."""
    rows = load_table("triage")["rows"]
    return frozenset(
        str(row["id"])
        for row in rows
        if any(value in NOT_YET for values in row["when"].values() for value in values)
    )


def dose_lines(files: LookFiles, rates_ml_s: tuple[float, ...]) -> tuple[StyledLine, ...]:
    """The doses in mL and seconds, whether this gun can do them, and what each unknown costs."""
    worked = _worked(files)
    strict, running = worked.dose_strict, worked.running_dose
    turned = worked.dose_extended
    more = _(", {whole} after turning by hand", whole=turned.whole()) if turned is not None else ""
    doses = _(
        "DOSE   engine off {whole} mL{more}; running {whole_2} mL",
        whole=strict.whole(),
        more=more,
        whole_2=running.whole(),
    )
    out = [
        (doses, ""),
        (_("GUN    {gun_can}", gun_can=_gun_can(files, strict.value, rates_ml_s)), ""),
    ]
    out += [(_("COSTS  {text}", text=text), "") for text in costs(files)]
    return tuple(out)


def _gun_can(files: LookFiles, room_m3: float, rates_ml_s: tuple[float, ...]) -> str:
    longest = LONGEST_OFF_BURST.value
    if not rates_ml_s:
        return _("never measured here: three shots into the jug say the seconds")
    rates = tuple(rate / ML for rate in rates_ml_s)
    timed = burst(room_m3, 0.0, rates, reaction_allowance_s(files.gun), longest)
    return _(
        "at the last {rate_mean_m3_s:.1f} mL/s, engine off: {advice}",
        rate_mean_m3_s=timed.rate_mean_m3_s * ML,
        advice=timed.advice(),
    )


def costs(files: LookFiles) -> list[str]:
    """What each value that the vehicle file does not have takes from the engine-off dose."""
    now = _worked(files).dose_strict.whole()
    out = []
    if files.vehicle.compression_ratio is None:
        known = replace(files.vehicle, compression_ratio=TYPICAL_RATIO)
        then = _worked(replace(files, vehicle=known)).dose_strict.whole()
        out.append(
            _(
                "compression ratio unknown: {now} mL instead of {then} if it is "
                "{typical_ratio:.0f}",
                now=now,
                then=then,
                typical_ratio=TYPICAL_RATIO,
            )
        )
    if files.vehicle.filter_volume_m3 is None:
        out.append(_("size of the filter unknown: what a clean one shows is a wide span"))
    if files.vehicle.oil_l_per_1000_km is None:
        out.append(_("oil use unknown: the ash from the distance is a wide span"))
    if _worked(files).dose_extended is None:
        out.append(
            _(
                "no more than that: {no_extended_because}",
                no_extended_because=_worked(files).no_extended_because,
            )
        )
    return out


@lru_cache(maxsize=8)
def _worked(files: LookFiles) -> WorkedLimits:
    return work_limits(files.vehicle, files.fluid, files.workshop, files.gun)
