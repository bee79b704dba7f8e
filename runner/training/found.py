"""What was so at the practice vehicle, beside what was typed or found. For the debrief only."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from steplatch.safety.catalogue import _, spoken

from ..core.job import Job
from ..simulator.faults import setup_with
from ..simulator.observation import Instruments, Truth
from ..simulator.setup import Setup
from .replay import ReplayMoment

HIGH_ASH_KG_M3: Final = 40.0
"""From here on a filter of this class counts as full of ash (common practice, no source)."""
OFF_K: Final = 15.0
OFF_PA: Final = 300.0
OFF_ML: Final = 1.0
"""Smaller differences are no news: reading by eye, steps of the display (workshop default)."""


@dataclass(frozen=True, slots=True)
class Against:
    """One thing: what the record says of it, what was so, and whether they differ."""

    what: str
    told: str
    true: str
    differs: bool


def _line(setup: Setup) -> tuple[set[str], str]:
    if setup.hose_blocked:
        return {"blocked"}, _("the upstream hose was blocked")
    if setup.hose_passes < 1.0:
        return {"split"}, _("the upstream hose was split")
    if setup.hoses_swapped:
        return {"swapped"}, _("the two hoses were swapped")
    return {"ok"}, _("the hose was open and whole")


def _core(setup: Setup) -> tuple[set[str], str]:
    if setup.crack_m2 > 0.0:
        seen = {"outlet_soot", "rattle", "cracked", "melted", "missing"}
        return seen, _(
            "{crack_m2:.0f} mm2 lay open beside the core", crack_m2=setup.crack_m2 * 1000000.0
        )
    return {"no_sign"}, _("the core was whole")


def _ash(setup: Setup) -> tuple[set[str], str]:
    high = setup.ash_kg_m3 >= HIGH_ASH_KG_M3
    return {"high", "at_limit"} if high else {"low"}, _(
        "{ash_kg_m3:.0f} g of ash a litre", ash_kg_m3=setup.ash_kg_m3
    )


def _rose(setup: Setup) -> tuple[set[str], str]:
    stuck = setup.hoses_swapped or setup.frozen_pa is not None
    return {"not_risen"} if stuck else {"rose"}, (
        _("it could not rise with the revs") if stuck else _("it rose with the revs")
    )


def _smoke(setup: Setup) -> tuple[set[str], str]:
    leaks = setup.extraction_leaks
    return {"some" if leaks else "none"}, _("the hose gapped") if leaks else _(
        "the hose took all away"
    )


_ANSWERS: Final[tuple[tuple[str, str, Callable[[Setup], tuple[set[str], str]]], ...]] = (
    ("line_test", _("line test"), _line),
    ("core_condition", "core", _core),
    ("ash_state", "ash", _ash),
    ("pressure_rose", _("pressure with the revs"), _rose),
    ("smoke", _("smoke at the extraction"), _smoke),
)


def answers(job: Job, setup: Setup) -> list[Against]:
    """Each first answer that the vehicle can be held against."""
    out = []
    for name, what, truly in _ANSWERS:
        given = [str(r.get("choice", "")) for r in job.log.every(name)]
        if given:
            right, true = truly(setup)
            told = spoken(given[0])
            out.append(Against(what, told, true, given[0] not in right))
    return out


def found(job: Job, fault: str) -> bool | None:
    """Whether the first answers of the job show this fault of the vehicle, all that were asked
    for; None for a fault that no answer shows by itself."""
    spoiled, sound = setup_with(fault), setup_with()
    shown = [
        (name, truly(spoiled)[0])
        for name, _, truly in _ANSWERS
        if truly(spoiled)[0] != truly(sound)[0]
    ]
    if spoiled.sag_rpm_per_ml > sound.sag_rpm_per_ml:
        shown.append(("spray", {"spray_sagged"}))
    if not shown:
        return None
    given = [(first, right) for name, right in shown if (first := _first(job, name))]
    return bool(given) and all(first in right for first, right in given)


def _first(job: Job, name: str) -> str:
    """What was answered first under ``name``; of a spray, whether it ever sagged."""
    said = [str(r.get("choice") or r.get("what") or "") for r in job.log.every(name)]
    if name == "spray":
        return "spray_sagged" if "spray_sagged" in said else ""
    return said[0] if said else ""


def readings(moment: ReplayMoment, new: dict[str, Any]) -> list[Against]:
    """A typed set: against what the instruments showed, and against the filter itself."""
    typed = new.get("pressure_pa")
    what = f"{new['phase']}, {new['condition']}"
    if typed is None:
        return [Against(what, _("no pressure"), _mbar(moment.vehicle.truth().pressure_pa), True)]
    typed_pa, true_pa = float(typed), moment.vehicle.truth().pressure_pa
    out = [
        Against(
            what, _mbar(typed_pa), _("{mbar} over the filter", mbar=_mbar(true_pa)),
            abs(typed_pa - true_pa) > OFF_PA,
        )
    ]  # fmt: skip
    shown = moment.shown
    if shown is not None and shown.pressure_pa is not None and _mistyped(typed_pa, shown):
        text = _("{mbar} stood on the display", mbar=_mbar(shown.pressure_pa))
        out.append(Against(_("{what}, as typed", what=what), _mbar(typed_pa), text, True))
    return out


def _mistyped(typed_pa: float, shown: Instruments) -> bool:
    return shown.pressure_pa is not None and abs(typed_pa - shown.pressure_pa) > OFF_PA


def temperature(moment: ReplayMoment, new: dict[str, Any]) -> list[Against]:
    """The inlet pipe as typed and as it was; nothing where they agree."""
    typed_k, true_k = float(new["k"]), moment.vehicle.truth().body_k
    if abs(typed_k - true_k) <= OFF_K or moment.vehicle.truth().running:
        return []
    return [
        Against(
            _("pipe by the stub"), _degc(typed_k), _("{degc} in truth", degc=_degc(true_k)), True
        )
    ]


def spray(moment: ReplayMoment, given_ml: float, before: Job) -> Against:
    """A burst: what was counted for it, and what left the gun."""
    was, now = before.bay.wet, moment.after.bay.wet
    engine = _("engine off") if "off" in str(_latest(moment, "spray").get("act")) else "running"
    left = _("{given_ml:.0f} mL left the gun", given_ml=given_ml)
    if was is None or now is None:
        return Against(_("burst, {engine}", engine=engine), _("not known how much"), left, True)
    counted_ml = (now - was + before.bay.reserved) / 10
    short = given_ml > counted_ml + OFF_ML
    return Against(
        _("burst, {engine}", engine=engine),
        _("{counted_ml:.0f} mL counted", counted_ml=counted_ml),
        left,
        short,
    )


def _latest(moment: ReplayMoment, name: str) -> dict[str, Any]:
    return moment.after.log.latest(name) or {}


def verdict(job: Job, before: Truth | None, end: Truth) -> list[Against]:
    """The verdict, and how much easier the dry filter flows in truth."""
    judged = job.log.latest("verdict")
    if judged is None or before is None:
        return []
    eased = 100 * (1 - end.dry_resistance_per_m3 / before.dry_resistance_per_m3)
    soot = _(
        "{soot_gone_kg:.0f} g of soot gone, {soot_kg:.0f} g left",
        soot_gone_kg=end.soot_gone_kg * 1000.0,
        soot_kg=end.soot_kg * 1000.0,
    )
    ash = _("{ash_kg:.0f} g of ash", ash_kg=end.ash_kg * 1000.0)
    told = spoken(str(judged.get("state", "none")))
    return [
        Against(
            "verdict",
            told,
            _("flows {eased:.0f} % easier; {soot}, {ash}", eased=eased, soot=soot, ash=ash),
            False,
        )
    ]


def _mbar(pascal: float) -> str:
    return f"{pascal / 100:.0f} mbar"


def _degc(kelvin: float) -> str:
    return f"{kelvin - 273.15:.0f} degC"
