"""What a refused act would have led to: tried on a copy of the simulated vehicle.

The pressures follow from the polytropic compression of ``safety.physics.cylinder``; the shares of
fluid that run back are the simulation's own (common practice, no source).
"""

import math
from typing import Any

from steplatch.safety.bay import Act
from steplatch.safety.catalogue import _

from ..core.draft import No
from ..core.steps import ActStep, EndStep, ReadStep, SprayStep
from ..core.steps.spray import parse_seconds
from ..input.quantities import BadQuantity
from ..simulator.observation import NoticedKind, WhatIf
from ..simulator.vehicle import SimulatedVehicle

INTAKE_BAR = 1.013
FELT_ML = 0.5
BENDS_BAR = 250.0
"""Well above what firing at full load reaches on a light diesel (160 to 200 bar; common practice,
no source): no number is given beyond it, since something would have given way."""
HOT_K = 333.15
"""Skin burns at once on bare metal from about here (60 degC; common practice, no source)."""
_AT_THE_HOSE = (Act.TAKE_HOSE_OFF, Act.COUPLE_GUN, Act.UNCOUPLE_GUN, Act.PUT_HOSE_ON, Act.HANDS_IN,
                Act.HANDS_AT_HOSE, Act.CLEAR_LINE)  # fmt: skip


def start_words(met: WhatIf) -> str:
    """What a crank meets, in whole numbers."""
    if met.liquid_ml < FELT_ML:
        return _("no liquid in any cylinder")
    where = _(
        "{liquid_ml:.0f} mL in cylinder {cylinder}, room for {clearance_ml:.0f}",
        liquid_ml=met.liquid_ml,
        cylinder=met.cylinder,
        clearance_ml=met.clearance_ml,
    )
    if math.isinf(met.peak_ratio):
        return _("{where}: the piston meets liquid; a rod may bend, a starter break", where=where)
    bar, dry = (
        met.peak_ratio * INTAKE_BAR,
        _("dry {dry_ratio:.0f}", dry_ratio=met.dry_ratio * INTAKE_BAR),
    )
    if bar > BENDS_BAR:
        return _(
            "{where}: compression reaches over {bends_bar:.0f} bar, {dry}; a rod may bend",
            where=where,
            bends_bar=BENDS_BAR,
            dry=dry,
        )
    return _(
        "{where}: compression reaches about {bar:.0f} bar, {dry}", where=where, bar=bar, dry=dry
    )


def cranked(vehicle: SimulatedVehicle) -> str:
    """What a crank would meet at once, and after all had run back where that is more."""
    now, later = vehicle.what_if_started(), vehicle.what_if_started(all_run_back=True)
    text = start_words(now)
    if later.liquid_ml > now.liquid_ml + FELT_ML:
        text += _(". Once all had run back: {start_words}", start_words=start_words(later))
    return text


def had_it_been_permitted(vehicle: SimulatedVehicle, step: Any, seconds: str) -> str:
    """What would have come of beginning ``step`` at a copy of the vehicle; '' where the simulated
    vehicle has nothing to say about it. Changes ``vehicle``."""
    match step:
        case ActStep(act=Act.START | Act.ROAD_TEST):
            return _started(vehicle)
        case SprayStep():
            return _sprayed(vehicle, step.engine == "off", seconds)
        case ActStep(act=Act.HAND_TURN):
            return _("The hand-turn: {words}", words=vehicle.hand_turn().words)
        case ActStep(act=Act.STOP_ENGINE):
            vehicle.stop()
            return _("Stopped then, a start would have met {cranked}.", cranked=cranked(vehicle))
        case ActStep(act=act) if act in _AT_THE_HOSE:
            return _hands_at(vehicle)
        case ReadStep():
            return _read(vehicle)
        case EndStep(how="finished"):
            return _("The next start would have met {cranked}.", cranked=cranked(vehicle))
    return ""


def _started(vehicle: SimulatedVehicle) -> str:
    met = cranked(vehicle)
    if vehicle.truth().running:
        return _("The engine was running already.")
    known = len(vehicle.truth().mishaps)
    vehicle.key_from_box()
    vehicle.enable_start()
    seen = vehicle.start()
    new = [m.words for m in vehicle.truth().mishaps[known:] if m.kind == "foam"]
    return " ".join((_("A start would have met {met}.", met=met), seen.words, *new))


def _sprayed(vehicle: SimulatedVehicle, off: bool, typed: str) -> str:
    try:
        seconds = parse_seconds(typed)
    except (No, BadQuantity):
        seconds = 0.0
    gun_ml = vehicle.truth().gun_ml
    if gun_ml < FELT_ML:
        return _("The gun was empty: only air would have come.")
    before = vehicle.truth().outside_ml
    known = len(vehicle.truth().mishaps)
    seen = vehicle.spray(seconds) if seconds > 0 else vehicle.spray_volume(0.0)
    out_ml = gun_ml - vehicle.truth().gun_ml
    beside_ml = vehicle.truth().outside_ml - before
    texts = [_("{out_ml:.0f} mL would have left the gun.", out_ml=out_ml)]
    if beside_ml > FELT_ML:
        texts.append(_("{beside_ml:.0f} mL of it beside the filter.", beside_ml=beside_ml))
    texts += [m.words for m in vehicle.truth().mishaps[known:] if m.kind == "steam"]
    if off or seen.sign is NoticedKind.STALLED:
        if seen.sign is NoticedKind.STALLED:
            texts.append(
                _("The engine would have stalled after {seconds:.0f} s.", seconds=seen.seconds or 0)
            )
        met = vehicle.what_if_started(all_run_back=True)
        texts.append(
            _(
                "A start, once it had run back, would have met {start_words}.",
                start_words=start_words(met),
            )
        )
    elif seen.sign is NoticedKind.SAGGED:
        texts.append(_("The idle would have sagged."))
    else:
        texts.append(_("The idle would have held."))
    return " ".join(texts)


def _hands_at(vehicle: SimulatedVehicle) -> str:
    truth = vehicle.truth()
    texts = []
    if truth.body_k > HOT_K:
        texts.append(
            _("The metal at the filter was at {body_k:.0f} degC.", body_k=truth.body_k - 273.15)
        )
    if truth.running:
        texts.append(_("The engine was running, with belts and fan turning."))
    return " ".join(texts)


def _read(vehicle: SimulatedVehicle) -> str:
    shown, true = vehicle.show().pressure_pa, vehicle.truth().pressure_pa
    if shown is None:
        return _("No pressure was shown then.")
    return _(
        "It would have read {shown:.0f} mbar; over the filter were {true:.0f}.",
        shown=shown / 100,
        true=true / 100,
    )
