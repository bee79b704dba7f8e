"""What pipe and filter hold below the lowest exhaust port, when the filter lies below it.

It counts towards the extended dose only, and only where a person vouches for it (``dose``).
"""

import math
from dataclasses import dataclass

from ..catalogue import _
from . import choices
from .inputs import Height, VehicleInput
from .structure import FilterSpace
from .working import Working


@dataclass(frozen=True, slots=True)
class HoldUp:
    """Volume in m3 that cannot run back, with its working."""

    volume_m3: float
    lines: tuple[Working, ...]
    assumptions: tuple[str, ...] = ()


def hold_up(vehicle: VehicleInput, space: FilterSpace) -> HoldUp:
    """Volume held below the lowest exhaust port, m3, at the low side of each measurement.

    Zero with the filter above the ports or its height unknown: all can run back. Below, it
    grows from zero without a step: the pipe by its bore, the filter's inlet channels over
    a depth of the filter's longest side. Level tolerance, tape, bore and jug are taken off
    (``choices``). Inputs are checked beforehand.
    """
    if vehicle.height is not Height.BELOW:
        where = (
            _("above the exhaust ports")
            if vehicle.height is Height.ABOVE
            else _("at an unknown height")
        )
        return HoldUp(
            0.0, (Working(_("filter inlet {where}: all fluid can run back", where=where)),)
        )
    if vehicle.inlet_below_port_m is None:
        return HoldUp(
            0.0,
            (Working(_("filter inlet below the ports, how far is not known: nothing is added")),),
            (_("depth below the ports not known: all fluid is taken to run back"),),
        )
    below_m = vehicle.inlet_below_port_m
    tolerance_m, assumptions = _tolerance(vehicle)
    read_m = choices.HEIGHT_READ.value
    depth_m = max(0.0, below_m - tolerance_m - read_m)
    lines = [
        Working(
            _(
                "depth that counts = {below_m:.4g} m - {tolerance_m:.4g} m level tolerance - "
                "{read_m:.4g} m reading = {depth_m:.4g} m",
                below_m=below_m,
                tolerance_m=tolerance_m,
                read_m=read_m,
                depth_m=depth_m,
            )
            if depth_m > 0.0
            else _(
                "level tolerance {tolerance_m:.4g} m and {read_m:.4g} m of reading take up "
                "all of {below_m:.4g} m: nothing is added",
                tolerance_m=tolerance_m,
                read_m=read_m,
                below_m=below_m,
            )
        )
    ]
    if depth_m == 0.0:
        return HoldUp(0.0, tuple(lines), assumptions)
    if vehicle.filter_volume_m3 is not None:
        assumptions = (*assumptions, *space.void_assumptions)
    pipe_m3 = _pipe(vehicle, depth_m, below_m - depth_m, lines)
    channels_m3 = _channels(vehicle, space, depth_m, lines)
    total_m3 = pipe_m3 + channels_m3
    lines.append(
        Working(
            _(
                "held below the ports = {pipe_m3:.4g} mL + {channels_m3:.4g} mL = "
                "{total_m3:.4g} mL",
                pipe_m3=pipe_m3 * 1000000.0,
                channels_m3=channels_m3 * 1000000.0,
                total_m3=total_m3 * 1000000.0,
            )
        )
    )
    return HoldUp(total_m3, tuple(lines), assumptions)


def _tolerance(vehicle: VehicleInput) -> tuple[float, tuple[str, ...]]:
    if vehicle.level_tolerance_m is not None:
        return vehicle.level_tolerance_m, ()
    taken = choices.LEVEL_TOLERANCE.value
    return taken, (_("level tolerance not known: {taken:.4g} m taken off", taken=taken),)


def _pipe(vehicle: VehicleInput, depth_m: float, above_m: float, lines: list[Working]) -> float:
    """The least that the pipe holds below the level tolerance; nothing where its bore is unknown.

    In each slab of height a pipe between the two levels holds at least what an upright pipe of its
    bore would. So at least the upright pipe's volume over the uppermost ``above_m`` of a measured
    hold-up lies within the tolerance; where the rest lies, only the bore tells. The smaller of the
    two counts.
    """
    measured_m3 = vehicle.pipe_hold_up_m3
    if vehicle.pipe_bore_m is None:
        known = "hold-up" if measured_m3 is None else _("how much of the hold-up lies low")
        lines.append(
            Working(_("pipe: bore and {known} not known, nothing is counted", known=known))
        )
        return 0.0
    bore_m = vehicle.pipe_bore_m
    low_cm = (bore_m - choices.BORE_READ.value) * 100.0
    by_bore_m3 = math.pi / 4.0 * (low_cm / 100.0) ** 2 * depth_m
    lines.append(
        Working(
            _(
                "pipe by its bore, {value:.4g} mm less = 0.7854 x ({low_cm:.4g} cm)^2 x "
                "{depth_m:.4g} cm = {by_bore_m3:.4g} mL",
                value=choices.BORE_READ.value * 1000,
                low_cm=low_cm,
                depth_m=depth_m * 100,
                by_bore_m3=by_bore_m3 * 1000000.0,
            )
        )
    )
    if measured_m3 is None:
        return by_bore_m3
    counts = choices.VOLUME_COUNTED.value
    left_m3 = counts * measured_m3 - math.pi / 4.0 * bore_m**2 * above_m
    if left_m3 <= 0.0:
        lines.append(
            Working(
                _(
                    "pipe as measured, {measured_m3:.4g} mL: all of it may lie within the "
                    "level tolerance, nothing is counted",
                    measured_m3=measured_m3 * 1000000.0,
                )
            )
        )
        return 0.0
    lines.append(
        Working(
            _(
                "pipe as measured, less what lies within the level tolerance = {counts:.4g} "
                "x {measured_m3:.4g} mL - 0.7854 x ({bore_m:.4g} cm)^2 x {above_m:.4g} cm = "
                "{left_m3:.4g} mL",
                counts=counts,
                measured_m3=measured_m3 * 1000000.0,
                bore_m=bore_m * 100,
                above_m=above_m * 100,
                left_m3=left_m3 * 1000000.0,
            )
        )
    )
    return min(by_bore_m3, left_m3)


def _channels(
    vehicle: VehicleInput, space: FilterSpace, depth_m: float, lines: list[Working]
) -> float:
    if vehicle.filter_volume_m3 is None:
        lines.append(Working(_("filter: volume not known, nothing is counted")))
        return 0.0
    size_m = _longest_m(vehicle.filter_volume_m3, vehicle.filter_length_m)
    reached = min(1.0, depth_m / size_m)
    # A cylinder that lies fills by no less than this power of the height, an upright one by more.
    filled = math.pow(reached, 1.5)
    counted = choices.CHANNELS_COUNTED.value
    volume_m3 = counted * filled * space.inlet_void_m3
    lines.extend(space.void_lines)
    lines.append(
        Working(
            _(
                "filter channels counted = {counted:.4g} x {reached:.4g} ^ 1.5 x "
                "{inlet_void_m3:.4g} mL = {volume_m3:.4g} mL",
                counted=counted,
                reached=reached,
                inlet_void_m3=space.inlet_void_m3 * 1000000.0,
                volume_m3=volume_m3 * 1000000.0,
            )
        )
    )
    return volume_m3


def _longest_m(volume_m3: float, length_m: float | None) -> float:
    """The longest side of a round filter: the greatest height over which it can fill."""
    if length_m is None:
        return choices.LONGEST_SHAPE.value * math.cbrt(volume_m3)
    return max(length_m, math.sqrt(4.0 * volume_m3 / (math.pi * length_m)))
