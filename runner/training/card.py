"""The practice card: what a person would find where the simulated vehicle has no instrument.

Customer, papers and dipstick come from the lesson. What the vehicle itself can show (codes, line
test, core, ash and soot values, whether the pressure rises) comes from the vehicle as it stands,
so that a fault shows there too, and so that a wrong act shows.
"""

from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from typing import Final

from ..simulator.observation import NoticedKind
from ..simulator.vehicle import SimulatedVehicle
from .found import HIGH_ASH_KG_M3

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
