"""All limits of one job, worked by one function from plain inputs."""

from dataclasses import dataclass
from typing import NamedTuple

from .dose import work_doses
from .heat import work_heat
from .inputs import Fluid, GunInput, VehicleInput, Workshop
from .plausible import check_inputs
from .revs import work_revs
from .working import Limit, dml_down


class KernelDoses(NamedTuple):
    """Dose limits for the kernel, in whole tenths of a millilitre, rounded down."""

    strict_dml: int
    extended_dml: int
    running_dml: int


@dataclass(frozen=True, slots=True)
class WorkedLimits:
    """Every limit of one job, each with its working.

    ``dose_extended`` is None when only the strict limit holds; ``no_extended_because``
    then says why, and is empty otherwise.
    """

    dose_strict: Limit
    dose_extended: Limit | None
    no_extended_because: str
    running_dose: Limit
    rev_ceiling: Limit
    raised_lower: Limit
    raised_upper: Limit
    exhaust_engine_off: Limit
    exhaust_running: Limit
    touch: Limit
    gloved: Limit
    soak: Limit

    def all(self) -> tuple[Limit, ...]:
        """Every limit that holds, in the order of the job."""
        extended = () if self.dose_extended is None else (self.dose_extended,)
        return (
            self.dose_strict,
            *extended,
            self.running_dose,
            self.rev_ceiling,
            self.raised_lower,
            self.raised_upper,
            self.exhaust_engine_off,
            self.exhaust_running,
            self.touch,
            self.gloved,
            self.soak,
        )

    def kernel_dml(self) -> KernelDoses:
        """Strict, extended and running dose in whole 0.1 mL, rounded down.

        Without an extended limit the strict one stands for it.
        strict <= extended <= running.
        """
        extended = self.dose_strict if self.dose_extended is None else self.dose_extended
        return KernelDoses(
            dml_down(self.dose_strict.value),
            dml_down(extended.value),
            dml_down(self.running_dose.value),
        )


def work_limits(
    vehicle: VehicleInput, fluid: Fluid, workshop: Workshop, gun: GunInput
) -> WorkedLimits:
    """Work every limit of a job.

    Raises ImplausibleInputs on values that cannot be right or leave no raised band above
    idle, LooserThanWorked when a workshop figure would loosen a limit; both are ValueErrors
    and say what to give instead.
    """
    check_inputs(vehicle, fluid, workshop, gun)
    doses = work_doses(vehicle, workshop, gun)
    revs = work_revs(vehicle, workshop)
    heat = work_heat(fluid, workshop)
    return WorkedLimits(
        dose_strict=doses.strict,
        dose_extended=doses.extended,
        no_extended_because=doses.no_extended_because,
        running_dose=doses.running,
        rev_ceiling=revs.ceiling,
        raised_lower=revs.raised_lower,
        raised_upper=revs.raised_upper,
        exhaust_engine_off=heat.exhaust_engine_off,
        exhaust_running=heat.exhaust_running,
        touch=heat.touch,
        gloved=heat.gloved,
        soak=heat.soak,
    )


def limit_to_json(limit: Limit) -> dict[str, object]:
    """One limit as plain values that JSON can hold."""
    return {
        "name": limit.name,
        "bound": limit.bound.value,
        "value": limit.value,
        "unit": limit.unit.si,
        "whole": limit.whole(),
        "whole_unit": limit.unit.seen,
        "lines": list(limit.lines),
        "source": limit.source,
        "validity": limit.validity,
        "assumptions": list(limit.assumptions),
    }


def to_json(limits: WorkedLimits) -> dict[str, object]:
    """All limits as plain dicts, lists, text and numbers, for the journal."""
    extended = limits.dose_extended
    kernel = limits.kernel_dml()
    return {
        "dose_strict": limit_to_json(limits.dose_strict),
        "dose_extended": None if extended is None else limit_to_json(extended),
        "no_extended_because": limits.no_extended_because,
        "running_dose": limit_to_json(limits.running_dose),
        "rev_ceiling": limit_to_json(limits.rev_ceiling),
        "raised_lower": limit_to_json(limits.raised_lower),
        "raised_upper": limit_to_json(limits.raised_upper),
        "exhaust_engine_off": limit_to_json(limits.exhaust_engine_off),
        "exhaust_running": limit_to_json(limits.exhaust_running),
        "touch": limit_to_json(limits.touch),
        "gloved": limit_to_json(limits.gloved),
        "soak": limit_to_json(limits.soak),
        "kernel_dml": {
            "strict": kernel.strict_dml,
            "extended": kernel.extended_dml,
            "running": kernel.running_dml,
        },
    }
