"""Refuses inputs that no such vehicle, gun, fluid or workshop can have.

Catches a slipped decimal point or a mistaken unit before it becomes a large limit. The
ranges are wide on purpose: design choices, not facts of the trade.
"""

from dataclasses import dataclass
from typing import Final

from ..catalogue import _
from .choices import HIGHEST_COMPRESSION_RATIO
from .inputs import Fluid, GunInput, VehicleInput, Workshop

_HAIR: Final = 1e-9  # of the range: a bound typed in another unit stays inside


@dataclass(frozen=True, slots=True)
class Range:
    """Lowest and highest plausible value, in the unit shown; ``scale`` converts SI to it."""

    low: float
    high: float
    unit: str
    scale: float = 1.0
    offset: float = 0.0

    def finding(self, name: str, value: float | None) -> str | None:
        """Say what is wrong with ``value`` (SI), or None if it is believed or not given."""
        if value is None:
            return None
        shown = value * self.scale + self.offset
        hair = _HAIR * max(abs(self.low), abs(self.high))
        if self.low - hair <= shown <= self.high + hair:
            return None
        return _(
            "{name} is {shown:.6g} {unit}, outside {low:g} to {high:g}: check the decimal "
            "point and the unit, or leave it out if not known",
            name=name,
            shown=shown,
            unit=self.unit,
            low=self.low,
            high=self.high,
        )


class ImplausibleInputs(ValueError):  # noqa: N818 - the name says what is wrong
    """Inputs that cannot be right; ``findings`` holds every one, each with its remedy."""

    def __init__(self, findings: tuple[str, ...]) -> None:
        """Keep the findings and join them for the message."""
        super().__init__("\n".join(findings))
        self.findings = findings


_LITRE: Final = 1e3
_ML: Final = 1e6
_MM: Final = 1e3
_DEGC: Final = Range(0.0, 800.0, "degC", offset=-273.15)
_OFF_DOSE: Final = Range(0.0, 1000.0, "mL", _ML)
_RUNNING_DOSE: Final = Range(0.0, 5000.0, "mL", _ML)
_CEILING: Final = Range(1000.0, 5000.0, "1/min")
_CYLINDER: Final = Range(0.15, 3.0, _("L a cylinder"), _LITRE)
_FILTER_TO_ENGINE: Final = Range(0.4, 5.0, _("times the displacement"))
_STOP: Final = Range(0.0, 5.0, "s")
_RATE: Final = Range(0.2, 50.0, "mL/s", _ML)


def check_inputs(vehicle: VehicleInput, fluid: Fluid, workshop: Workshop, gun: GunInput) -> None:
    """Raise ImplausibleInputs with every finding, if there is one."""
    findings = (
        *_vehicle(vehicle),
        *_claim(vehicle),
        *_fluid(fluid),
        *_workshop(workshop),
        *_gun(gun),
    )
    if findings:
        raise ImplausibleInputs(findings)


def rate_finding(name: str, rate_m3_s: float) -> str | None:
    """Say what is wrong with a gun's rate (m3/s), from a file or typed alike; None if believed."""
    return _RATE.finding(name, rate_m3_s)


def _found(*each: str | None) -> tuple[str, ...]:
    return tuple(finding for finding in each if finding is not None)


def _vehicle(vehicle: VehicleInput) -> tuple[str, ...]:
    where = _("vehicle {label}: ", label=vehicle.label)
    volume_m3, engine_m3 = vehicle.filter_volume_m3, vehicle.displacement_m3
    to_engine = None if volume_m3 is None or not engine_m3 > 0.0 else volume_m3 / engine_m3
    return _found(
        Range(1.0, 16.0, "cylinders").finding(where + "cylinders", float(vehicle.cylinders)),
        _CYLINDER.finding(where + "displacement_m3", engine_m3 / max(1, vehicle.cylinders)),
        Range(12.0, HIGHEST_COMPRESSION_RATIO.value, "(diesel)").finding(
            where + "compression_ratio", vehicle.compression_ratio
        ),
        _FILTER_TO_ENGINE.finding(where + "filter_volume_m3", to_engine),
        Range(40.0, 1000.0, "mm", _MM).finding(where + "filter_length_m", vehicle.filter_length_m),
        Range(50.0, 900.0, "per square inch", 0.0254**2).finding(
            where + "cell_density_per_m2", vehicle.cell_density_per_m2
        ),
        Range(0.1, 0.8, "mm", _MM).finding(where + "wall_thickness_m", vehicle.wall_thickness_m),
        Range(0.3, 0.75, "(share)").finding(where + "wall_porosity", vehicle.wall_porosity),
        Range(1e-14, 1e-11, "m2").finding(
            where + "wall_permeability_m2", vehicle.wall_permeability_m2
        ),
        Range(0.0, 1500.0, "mm", _MM).finding(
            where + "inlet_below_port_m", vehicle.inlet_below_port_m
        ),
        Range(0.0, 1000.0, "mm", _MM).finding(
            where + "level_tolerance_m", vehicle.level_tolerance_m
        ),
        Range(20.0, 150.0, "mm", _MM).finding(where + "pipe_bore_m", vehicle.pipe_bore_m),
        Range(0.0, 20.0, "L", _LITRE).finding(where + "pipe_hold_up_m3", vehicle.pipe_hold_up_m3),
        _OFF_DOSE.finding(where + "maker_off_dose_m3", vehicle.maker_off_dose_m3),
        _RUNNING_DOSE.finding(where + "maker_running_dose_m3", vehicle.maker_running_dose_m3),
        _CEILING.finding(where + "maker_rev_ceiling_rpm", vehicle.maker_rev_ceiling_rpm),
        Range(400.0, 1300.0, "1/min").finding(where + "idle_rpm", vehicle.idle_rpm),
    )


def _claim(vehicle: VehicleInput) -> tuple[str, ...]:
    where = _("vehicle {label}: ", label=vehicle.label)
    given = (("retained", vehicle.retained), ("held_below", vehicle.held_below))
    missing = tuple(
        _(
            "{where}{key}.{name} is empty: a claim of held or retained fluid needs a basis "
            "and the name of who approved it; fill in both or take the claim out",
            where=where,
            key=key,
            name=name,
        )
        for key, claim in given
        if claim is not None
        for name, text in (("basis", claim.basis), ("approver", claim.approver))
        if not text.strip()
    )
    volume_m3 = None if vehicle.retained is None else vehicle.retained.volume_m3
    retained = Range(0.1, 1000.0, "mL", _ML).finding(where + "retained.volume_m3", volume_m3)
    return (*_found(retained), *missing)


def _fluid(fluid: Fluid) -> tuple[str, ...]:
    where = _("fluid {label}: ", label=fluid.label)
    return _found(
        Range(600.0, 1800.0, "kg/m3").finding(where + "density_kg_m3", fluid.density_kg_m3),
        _DEGC.finding(where + "max_exhaust_k_engine_off", fluid.max_exhaust_k_engine_off),
        _DEGC.finding(where + "max_exhaust_k_running", fluid.max_exhaust_k_running),
        Range(10.0, 86400.0, "s").finding(where + "maker_soak_s", fluid.maker_soak_s),
    )


def _workshop(workshop: Workshop) -> tuple[str, ...]:
    where = _("workshop {label}: ", label=workshop.label)
    return _found(
        Range(1.0, 1000.0, "times").finding(
            where + "cranking_pressure_ratio", workshop.cranking_pressure_ratio
        ),
        _OFF_DOSE.finding(where + "off_dose_m3", workshop.off_dose_m3),
        _RUNNING_DOSE.finding(where + "running_dose_m3", workshop.running_dose_m3),
        _CEILING.finding(where + "rev_ceiling_rpm", workshop.rev_ceiling_rpm),
        _DEGC.finding(where + "max_exhaust_k_engine_off", workshop.max_exhaust_k_engine_off),
        _DEGC.finding(where + "max_exhaust_k_running", workshop.max_exhaust_k_running),
        _DEGC.finding(where + "max_touch_k", workshop.max_touch_k),
        _DEGC.finding(where + "max_touch_gloved_k", workshop.max_touch_gloved_k),
        Range(10.0, 86400.0, "s").finding(where + "soak_s", workshop.soak_s),
        Range(-400.0, 3000.0, "m").finding(where + "altitude_m", workshop.altitude_m),
        Range(-30.0, 50.0, "degC", offset=-273.15).finding(where + "air_k", workshop.air_k),
        Range(10.0, 1e6, "m3").finding(where + "bay_volume_m3", workshop.bay_volume_m3),
    )


def _gun(gun: GunInput) -> tuple[str, ...]:
    where = _("gun {label}: ", label=gun.label)
    return _found(
        Range(10.0, 20000.0, "mL", _ML).finding(where + "bottle_m3", gun.bottle_m3),
        _STOP.finding(where + "reaction_s", gun.reaction_s),
        *(_STOP.finding(where + "practice_stops_s", stop) for stop in gun.practice_stops_s),
        *(
            rate_finding(_("{where}rate of shot {index}", where=where, index=index), rate)
            for index, rate in enumerate(gun.rates_m3_s, start=1)
        ),
    )
