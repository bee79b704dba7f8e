"""How much fluid: engine-off dose (strict and extended) and running dose.

All three are volumes of everything that may still be liquid, not of one burst.
"""

from dataclasses import dataclass, replace
from typing import Final

from ..catalogue import _
from ..physics.cylinder import (
    clearance_volume_m3,
    fill_share_for_pressure_ratio,
    peak_pressure_ratio,
)
from . import choices
from .hold_up import hold_up
from .inputs import GunInput, Height, HeldClaim, RetainedClaim, VehicleInput, Workshop
from .structure import FilterSpace, filter_space
from .working import (
    Bound,
    Figure,
    Limit,
    Unit,
    Working,
    set_by_workshop,
    tightened,
)

_WORKED: Final = _("worked from the vehicle; design choice")


@dataclass(frozen=True, slots=True)
class Doses:
    """Strict, extended (or None, and then why) and running dose."""

    strict: Limit
    extended: Limit | None
    no_extended_because: str
    running: Limit


@dataclass(frozen=True, slots=True)
class _Clearance:
    """Space of one cylinder at top dead centre."""

    ratio: float
    volume_m3: float
    lines: tuple[Working, ...]
    assumptions: tuple[str, ...]


def work_doses(vehicle: VehicleInput, workshop: Workshop, gun: GunInput) -> Doses:
    """Work all three doses; the tightest of every figure wins.

    Inputs are those that :func:`safety.limits.plausible.check_inputs` lets pass. Strict is
    what one cylinder bears, whatever the filter holds; only extended counts on the filter.
    Strict never exceeds extended, and neither exceeds the running dose. Raises LooserThanWorked on
    a workshop figure that would loosen a limit.
    """
    clearance = _clearance(vehicle)
    space = filter_space(vehicle)
    running = _running(vehicle, workshop, gun, space)
    caps = (
        Figure(_("vehicle maker"), vehicle.maker_off_dose_m3),
        Figure(_("running dose (no engine-off dose exceeds it)"), running.value),
    )
    worked_strict = _strict(workshop, clearance)
    strict = tightened(worked_strict, caps)
    own = Figure(_name(workshop), workshop.off_dose_m3)

    lifts, why = _lifts(vehicle, clearance, space)
    if not lifts:
        strict = set_by_workshop(strict, own)
        if strict.value <= 0.0:
            why = _("no engine-off dose at all: {source} gives 0 mL", source=strict.source)
        return Doses(strict, None, why, running)
    worked = _extended(worked_strict, lifts)
    extended = set_by_workshop(tightened(worked, caps), own)
    strict = tightened(strict, (own,))
    if extended.value <= 0.0:
        why = _("no engine-off dose at all: {source} gives 0 mL", source=extended.source)
        return Doses(strict, None, why, running)
    if extended.value <= strict.value:
        why = _(
            "nothing is left above the strict limit: {source} is as tight", source=extended.source
        )
        return Doses(strict, None, why, running)
    return Doses(strict, extended, "", running)


def _name(workshop: Workshop) -> str:
    return _("workshop {label}", label=workshop.label)


def _ml(volume_m3: float) -> str:
    return f"{volume_m3 * 1e6:.4g} mL"


def _clearance(vehicle: VehicleInput) -> _Clearance:
    swept_m3 = vehicle.displacement_m3 / vehicle.cylinders
    ratio = vehicle.compression_ratio
    assumptions: tuple[str, ...] = ()
    if ratio is None:
        ratio = choices.HIGHEST_COMPRESSION_RATIO.value
        assumptions = (
            _(
                "compression ratio not known: {ratio:.4g} taken, the smallest space; the "
                "limit may rise when it is known",
                ratio=ratio,
            ),
        )
    volume_m3 = clearance_volume_m3(swept_m3, ratio)
    lines = (
        Working(
            _(
                "swept volume of one cylinder = {ml} / {cylinders} = {ml_2}",
                ml=_ml(vehicle.displacement_m3),
                cylinders=vehicle.cylinders,
                ml_2=_ml(swept_m3),
            )
        ),
        Working(
            _(
                "space at top dead centre = {ml} / ({ratio:.4g} - 1) = {ml_2}",
                ml=_ml(swept_m3),
                ratio=ratio,
                ml_2=_ml(volume_m3),
            )
        ),
    )
    return _Clearance(ratio, volume_m3, lines, assumptions)


def _pressure_ratio(workshop: Workshop) -> Limit:
    choice = choices.CRANKING_PRESSURE_RATIO
    worked = Limit(
        name=_("compression over intake pressure while cranking"),
        value=choice.value,
        unit=Unit.RATIO,
        bound=Bound.AT_MOST,
        lines=(
            Working(
                _(
                    "compression may reach {value:.4g} times intake pressure (design choice, "
                    "no published figure exists)",
                    value=choice.value,
                )
            ),
        ),
        source=_("design choice, no published figure exists"),
        validity=choice.why,
    )
    return set_by_workshop(worked, Figure(_name(workshop), workshop.cranking_pressure_ratio))


def _strict(workshop: Workshop, clearance: _Clearance) -> Limit:
    allowed = _pressure_ratio(workshop)
    exponent = choices.POLYTROPIC_EXPONENT.value
    dry = peak_pressure_ratio(clearance.ratio, 0.0, exponent)
    lines = [*clearance.lines, *allowed.lines]
    if dry >= allowed.value:
        fill = 0.0
        lines.append(
            Working(
                _(
                    "dry compression = {ratio:.4g} ^ {exponent:.4g} = {dry:.4g}, already as "
                    "high as allowed: no fluid may reach a cylinder",
                    ratio=clearance.ratio,
                    exponent=exponent,
                    dry=dry,
                )
            )
        )
    else:
        fill = fill_share_for_pressure_ratio(clearance.ratio, allowed.value, exponent)
        effective = (clearance.ratio - fill) / (1.0 - fill)
        lines.append(
            Working(
                _(
                    "effective compression ratio at that pressure = {value:.4g} ^ (1 / "
                    "{exponent:.4g}) = {effective:.4g}",
                    value=allowed.value,
                    exponent=exponent,
                    effective=effective,
                )
            )
        )
        lines.append(
            Working(
                _(
                    "share of the space = ({effective:.4g} - {ratio:.4g}) / ({effective:.4g} "
                    "- 1) = {fill:.4g}",
                    effective=effective,
                    ratio=clearance.ratio,
                    fill=fill,
                )
            )
        )
    one_cylinder_m3 = fill * clearance.volume_m3
    lines.append(
        Working(
            _(
                "all fluid in one cylinder = {fill:.4g} x {ml} = {ml_2}",
                fill=fill,
                ml=_ml(clearance.volume_m3),
                ml_2=_ml(one_cylinder_m3),
            )
        )
    )
    return Limit(
        name=_("engine-off dose, strict"),
        value=one_cylinder_m3,
        unit=Unit.M3,
        bound=Bound.AT_MOST,
        lines=tuple(lines),
        source=_WORKED,
        validity=_("all fluid is taken to run into one cylinder; liquid neither leaks nor dries"),
        assumptions=clearance.assumptions,
    )


@dataclass(frozen=True, slots=True)
class _Lift:
    """What is counted above one cylinder's share, and on whose word."""

    volume_m3: float
    lines: tuple[Working, ...]
    source: str
    assumptions: tuple[str, ...]


def _lifts(
    vehicle: VehicleInput, clearance: _Clearance, space: FilterSpace
) -> tuple[tuple[_Lift, ...], str]:
    """The claims that are vouched for, or why there are none; each counts one cylinder at most."""
    lifts: list[_Lift] = []
    why: list[str] = []
    if vehicle.retained is None:
        why.append(_("the vehicle file claims no retained volume"))
    elif vehicle.filter_volume_m3 is None:
        why.append(_("the filter volume is not known, so no ceiling for the claim can be worked"))
    else:
        lifts.append(_retained(vehicle.retained, clearance, space))
    if vehicle.height is Height.BELOW:
        if vehicle.held_below is None:
            why.append(_("nobody stands for it that what lies below the exhaust ports stays there"))
        else:
            held = _held_below(vehicle, vehicle.held_below, clearance, space)
            if held.volume_m3 > 0.0:
                lifts.append(held)
            else:
                why.append(_("nothing is held below the exhaust ports beyond the level tolerance"))
    return tuple(lifts), "; ".join(why)


def _no_more_than(clearance: _Clearance) -> Working:
    return Working(
        _("nor may it count more than the space of one cylinder, {ml}", ml=_ml(clearance.volume_m3))
    )


def _retained(claim: RetainedClaim, clearance: _Clearance, space: FilterSpace) -> _Lift:
    share, counts = choices.PORES_RETAIN.value, choices.VOLUME_COUNTED.value
    ceiling_m3, read_m3 = share * space.pore_m3, counts * claim.volume_m3
    counted_m3 = min(read_m3, ceiling_m3, clearance.volume_m3)
    lines = (
        *space.pore_lines,
        Working(
            _(
                "most that a claim may count = {share:.4g} x {ml} = {ml_2}",
                share=share,
                ml=_ml(space.pore_m3),
                ml_2=_ml(ceiling_m3),
            )
        ),
        _no_more_than(clearance),
        Working(
            _(
                "of what is claimed, as it is measured = {counts:.4g} x {ml} = {ml_2}",
                counts=counts,
                ml=_ml(claim.volume_m3),
                ml_2=_ml(read_m3),
            )
        ),
        Working(
            _(
                "retained (basis: {basis}; approved by {approver}): counted {ml}",
                basis=claim.basis,
                approver=claim.approver,
                ml=_ml(counted_m3),
            )
        ),
    )
    source = _("retained volume approved by {approver}", approver=claim.approver)
    return _Lift(counted_m3, lines, source, space.pore_assumptions)


def _held_below(
    vehicle: VehicleInput, claim: HeldClaim, clearance: _Clearance, space: FilterSpace
) -> _Lift:
    held = hold_up(vehicle, space)
    counted_m3 = min(held.volume_m3, clearance.volume_m3)
    lines = (
        *held.lines,
        _no_more_than(clearance),
        Working(
            _(
                "held below the ports (basis: {basis}; approved by {approver}): counted {ml}",
                basis=claim.basis,
                approver=claim.approver,
                ml=_ml(counted_m3),
            )
        ),
    )
    source = _("what is held below the ports, approved by {approver}", approver=claim.approver)
    return _Lift(counted_m3, lines, source, held.assumptions)


def _extended(strict: Limit, lifts: tuple[_Lift, ...]) -> Limit:
    """The strict limit plus the larger claim, at most one cylinder's space: if the claim is wrong,
    a hand turn still meets a full cylinder. The claims are not added: fluid that did not come back
    when it was measured may be the fluid that lies below the ports."""
    counted_m3 = max(lift.volume_m3 for lift in lifts)
    value = strict.value + counted_m3
    lines = [*strict.lines, *(line for lift in lifts for line in lift.lines)]
    if len(lifts) > 1:
        lines.append(
            Working(_("both may be the same fluid, so the larger counts: {ml}", ml=_ml(counted_m3)))
        )
    total = _(
        "extended limit = {ml} + {ml_2} = {ml_3}",
        ml=_ml(strict.value),
        ml_2=_ml(counted_m3),
        ml_3=_ml(value),
    )
    lines.append(Working(total))
    assumed = (*strict.assumptions, *(text for lift in lifts for text in lift.assumptions))
    return replace(
        strict,
        name="engine-off dose, extended",
        value=value,
        lines=tuple(lines),
        source=_("strict limit and ") + _(" and ").join(lift.source for lift in lifts),
        validity=(
            "only with the hand-turn check before a start; a cylinder between the strict limit "
            "and its full space is not found by that check"
        ),
        assumptions=tuple(dict.fromkeys(assumed)),
    )


def _running(vehicle: VehicleInput, workshop: Workshop, gun: GunInput, space: FilterSpace) -> Limit:
    share = choices.PORES_RUNNING.value
    value = share * space.pore_m3
    worked = Limit(
        name=_("running dose"),
        value=value,
        unit=Unit.M3,
        bound=Bound.AT_MOST,
        lines=(
            *space.pore_lines,
            Working(
                _(
                    "running dose = {share:.4g} x {ml} = {ml_2}",
                    share=share,
                    ml=_ml(space.pore_m3),
                    ml_2=_ml(value),
                )
            ),
        ),
        source=_WORKED,
        validity=(
            _("everything still liquid, engine-off dose included; a stall leaves it all in place")
        ),
        assumptions=space.pore_assumptions,
    )
    makers = tightened(
        worked,
        (
            Figure(_("vehicle maker"), vehicle.maker_running_dose_m3),
            Figure(_("one bottle of {label}", label=gun.label), gun.bottle_m3),
        ),
    )
    return set_by_workshop(makers, Figure(_name(workshop), workshop.running_dose_m3))
