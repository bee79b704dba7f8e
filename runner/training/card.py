"""The practice card: what a person would find where the simulated vehicle has no instrument.

Customer, papers and dipstick come from the lesson. What the vehicle itself can show (codes, line
test, core, ash and soot values, whether the pressure rises) comes from the vehicle as it stands,
so that a fault shows there too, and so that a wrong act shows.
"""

from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from typing import Final

from steplatch.safety.catalogue import _

from ..simulator.observation import NoticedKind
from ..simulator.vehicle import SimulatedVehicle
from .found import HIGH_ASH_KG_M3

DRY_ML: Final = 5.0
"""Fluid in the filter from which on the tailpipe still spits (practice only)."""
RISES_PA: Final = 300.0
SETTLE_S: Final = 60.0
HIGH_SOOT_KG_M3: Final = 8.0
LOW_SOOT_KG_M3: Final = 4.0
BARELY_THERE_M2: Final = 3.0e-3
"""Open area from which on hardly a core is left (common practice, no source)."""
_BLOWN: Final = {NoticedKind.FREE: "ok", NoticedKind.BLOCKED: "blocked", NoticedKind.HISS: "split"}


def _codes(vehicle: SimulatedVehicle) -> str:
    return " ".join(sorted(vehicle.world.codes)) or "none"


def _line_test(vehicle: SimulatedVehicle) -> str:
    if vehicle.world.setup.hoses_swapped:
        return "swapped"
    return _BLOWN.get(vehicle.blow_line_test().sign, "not_done")


def _core(vehicle: SimulatedVehicle) -> str:
    open_m2 = vehicle.world.setup.crack_m2
    if open_m2 >= BARELY_THERE_M2:
        return "missing"
    return "outlet_soot" if open_m2 > 0.0 else "no_sign"


def _ash(vehicle: SimulatedVehicle) -> str:
    return "high" if vehicle.world.setup.ash_kg_m3 >= HIGH_ASH_KG_M3 else "low"


def _soot_model(vehicle: SimulatedVehicle) -> str:
    volume_m3 = vehicle.world.bed.geometry.volume_m3
    load = vehicle.world.modelled_soot_kg / volume_m3
    if load >= HIGH_SOOT_KG_M3:
        return "high"
    return "normal" if load >= LOW_SOOT_KG_M3 else "low"


def _soot_figures(vehicle: SimulatedVehicle) -> str:
    return f"{vehicle.world.modelled_soot_kg * 1e3:.0f}"


def _rises(vehicle: SimulatedVehicle) -> str:
    """Against idle, tried on a copy: the revs themselves stay where they are."""
    raised = vehicle.show().pressure_pa
    copy = deepcopy(vehicle)
    copy.set_idle()
    copy.advance(SETTLE_S)
    idle = copy.show().pressure_pa
    if raised is None or idle is None:
        return "not_risen"
    return "rose" if raised - idle > RISES_PA else "not_risen"


WATCH_S: Final = 1800.0
POUR_ML: Final = 60.0
POUR_SPREAD_ML: Final = (0.0, -1.0, 1.0)


def _begun(vehicle: SimulatedVehicle) -> str:
    """Watched until a burn begins, half an hour at most."""
    begun = vehicle.truth().elapsed_s
    while not vehicle.show().burning and vehicle.truth().elapsed_s - begun < WATCH_S:
        vehicle.advance(10.0)
    minutes = (vehicle.truth().elapsed_s - begun) / 60
    return (
        _("after {minutes:.0f} min", minutes=minutes)
        if vehicle.show().burning
        else _("none began in half an hour")
    )


def _over(vehicle: SimulatedVehicle) -> str:
    """Watched until it is over; whether the soot model came down with it."""
    begun, soot = vehicle.truth().elapsed_s, vehicle.world.modelled_soot_kg
    while vehicle.show().burning and vehicle.truth().elapsed_s - begun < WATCH_S:
        vehicle.advance(10.0)
    minutes = (vehicle.truth().elapsed_s - begun) / 60
    left = 100 * vehicle.world.modelled_soot_kg / soot
    return _(
        "the flag went off after {minutes:.0f} min; {left:.0f} % of the soot shown is left",
        minutes=minutes,
        left=left,
    )


def _hottest(vehicle: SimulatedVehicle) -> str:
    """Two minutes into it, tried on a copy."""
    copy = deepcopy(vehicle)
    copy.advance(120.0)
    shown = copy.show().exhaust_k
    return (
        _("not shown")
        if shown is None
        else _("{shown:.0f} degC at the filter inlet", shown=shown - 273.15)
    )


def _smoke(vehicle: SimulatedVehicle) -> str:
    return "some" if vehicle.world.setup.extraction_leaks else "none"


def _back(nth: int) -> Callable[[SimulatedVehicle], str]:
    """What comes back of a pour: what runs back at once, and what the filter does not take up."""

    def back(vehicle: SimulatedVehicle) -> str:
        setup = vehicle.world.setup
        at_once = POUR_ML * setup.run_back
        late = max(0.0, POUR_ML - at_once - setup.retained_ml)
        return f"{at_once + late + POUR_SPREAD_ML[nth]:.0f} mL"

    return back


def _tailpipe(vehicle: SimulatedVehicle) -> str:
    return "wet" if vehicle.truth().filter_ml > DRY_ML else "dry"


_SEEN: Final[Mapping[str, Callable[[SimulatedVehicle], str]]] = {
    "codes-stored": _codes,
    "codes-again": _codes,
    "line-test-blow": _line_test,
    "core": _core,
    "ash": _ash,
    "soot-model": _soot_model,
    "soot-figures": _soot_figures,
    "soot-after": _soot_figures,
    "hold-rises": _rises,
    "right-rises": _rises,
    "rises": _rises,
    "begun": _begun,
    "hottest": _hottest,
    "over": _over,
    "smoke": _smoke,
    "tailpipe": _tailpipe,
    **{f"pour-{n + 1}": lambda _: f"{POUR_ML:.0f} mL" for n in range(3)},
    **{f"back-{n + 1}": _back(n) for n in range(3)},
}


class PracticeCard(Mapping[str, str]):
    """What the card says at a step, by the step's id; looking may be an act (the line test)."""

    def __init__(self, vehicle: SimulatedVehicle, told: Mapping[str, str]) -> None:
        self._vehicle = vehicle
        self._told = dict(told)

    def __getitem__(self, step: str) -> str:
        if step in _SEEN:
            return _SEEN[step](self._vehicle)
        return self._told[step]

    def __iter__(self) -> Iterator[str]:
        return iter({**self._told, **dict.fromkeys(_SEEN, "")})

    def __len__(self) -> int:
        return len({*self._told, *_SEEN})
