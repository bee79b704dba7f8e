"""The faults that a practice vehicle can have: one name, one line, and what it changes.

A fault is data: the fields of ``Setup`` that differ. Nothing else in the simulation knows a
fault by its name, so a fault shows only through what the vehicle then does.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from random import Random
from types import MappingProxyType
from typing import Any, Final

from steplatch.safety.catalogue import _

from .setup import Setup


class UnknownFaultError(ValueError):
    """A fault name that is not in the register."""


@dataclass(frozen=True, slots=True)
class SimulatedFault:
    """One fault: ``line`` says what is wrong (spoils the exercise for who reads it first),
    ``teaches`` what is learned at it, ``changes`` the fields of ``Setup`` that differ."""

    name: str
    line: str
    teaches: str
    changes: Mapping[str, Any]


MAX_FAULTS: Final = 4
DRAWN: Final = "drawn"
"""The name that stands for a fault drawn by the seed."""


def _register(*faults: SimulatedFault) -> Mapping[str, SimulatedFault]:
    known = {field.name for field in fields(Setup)}
    table: dict[str, SimulatedFault] = {}
    for fault in faults:
        if fault.name in table:
            raise ValueError(_("fault {name!r} stands in the register twice", name=fault.name))
        strangers = sorted(set(fault.changes) - known)
        if strangers:
            raise ValueError(
                _(
                    "fault {name!r} changes {strangers!r}, which is no setup",
                    name=fault.name,
                    strangers=strangers[0],
                )
            )
        table[fault.name] = fault
    return MappingProxyType(table)


FAULTS: Final[Mapping[str, SimulatedFault]] = _register(
    SimulatedFault(
        "none",
        _("Soot only: the clean should work."),
        _("The whole job in order, with readings that agree."),
        {},
    ),
    SimulatedFault(
        "nothing-to-clean",
        _("The filter flows as it should; the lamp has another cause."),
        _("Measure first: a filter that flows well gets no fluid."),
        {"soot_kg_m3": 1.2, "ash_kg_m3": 4.8, "codes": ("P2458",)},
    ),
    SimulatedFault(
        "ash-laden",
        _("High distance: most of the load is ash, which fluid does not bring out."),
        _("What fluid cannot bring out, and saying so."),
        {"soot_kg_m3": 3.0, "ash_kg_m3": 96.0, "codes": ("P242F",)},
    ),
    SimulatedFault(
        "fills-again",
        _("It was cleaned before, and something makes more soot than the filter burns."),
        _("A car that comes back is compared like for like first."),
        {"soot_kg_m3": 7.0},
    ),
    SimulatedFault(
        "hard-soot",
        _("Old, packed soot: fluid reaches less than half of it."),
        _("A small gain, and claiming no more than was measured."),
        {"soot_kg_m3": 9.6, "reach": 0.4},
    ),
    SimulatedFault(
        "cracked",
        _("A cracked core lets part of the gas past: the pressure is too low."),
        _("A pressure that is too good: triage holds back the fluid."),
        {"soot_kg_m3": 4.8, "crack_m2": 1.0e-3, "codes": ("P2002", "P244A")},
    ),
    SimulatedFault(
        "core-missing",
        _("There is hardly a core left in the can: the pressure is near zero at all speeds."),
        _("Next to no pressure is no clean filter: look inside."),
        {"soot_kg_m3": 0.2, "ash_kg_m3": 0.4, "crack_m2": 6.0e-3, "codes": ("P2002",)},
    ),
    SimulatedFault(
        "zero-error",
        _("The pressure sensor reads 6 mbar too high, always."),
        _("The zero set: an offset is found and goes into the sum."),
        {"zero_pa": 600.0},
    ),
    SimulatedFault(
        "liquid-in-hose",
        _("Liquid stands in the pressure hose and adds about 5 mbar until it is cleared."),
        _("The zero and the line test tell liquid from soot."),
        {"hose_ml": 1.0},
    ),
    SimulatedFault(
        "frozen-sensor",
        _("The pressure shown is a substitute value of 10 mbar that never moves."),
        _("A value that never moves is no reading."),
        {"frozen_pa": 1000.0, "codes": ("P2453",)},
    ),
    SimulatedFault(
        "hoses-swapped",
        _("The two pressure hoses are swapped."),
        _("A pressure that falls with the revs: trace the hoses."),
        {"hoses_swapped": True},
    ),
    SimulatedFault(
        "wrong-sensor",
        _("The sensor first picked belongs to exhaust gas recirculation, not to the filter."),
        _("Trace the hose before anything is sprayed into it."),
        {"reads_recirculation": True},
    ),
    SimulatedFault(
        "hose-split",
        _("The upstream pressure hose is split and reads low."),
        _("The line test; mend the hose and read again."),
        {"hose_passes": 0.35, "codes": ("P2002",)},
    ),
    SimulatedFault(
        "hose-blocked",
        _("The upstream pressure hose is blocked with soot: the reading hardly moves."),
        _("The line test; a pressure that hardly moves."),
        {"hose_passes": 0.04, "hose_blocked": True, "codes": ("P2452",)},
    ),
    SimulatedFault(
        "coarse-sensor",
        _("The diagnostics show pressure in steps of 10 mbar."),
        _("Steps too wide for idle: the raised set decides."),
        {"sensor_step_pa": 1000.0},
    ),
    SimulatedFault(
        "no-air-flow",
        _("This vehicle shows no air flow."),
        _("x for what is not shown, and a verdict that says less."),
        {"hides": frozenset({"air"})},
    ),
    SimulatedFault(
        "exhaust-floor",
        _("The exhaust temperature shown never falls below 200 degC."),
        _("A value that stands still is no temperature: use a probe."),
        {"exhaust_floor_k": 473.15},
    ),
    SimulatedFault(
        "recirculation-stuck-open",
        _("The recirculation valve stays open at raised revs: less air, less flow."),
        _("Less flow at the same speed: pressure alone misleads."),
        {"recirculation": "stuck open"},
    ),
    SimulatedFault(
        "recirculation-changes",
        _("The recirculation valve is open before the fluid and stays shut after it."),
        _("Sets that are not alike are not compared."),
        {"recirculation": "shut after fluid"},
    ),
    SimulatedFault(
        "no-raised-speed",
        _("The engine does not rev above 1900 1/min in neutral."),
        _("The highest steady speed, the same both times."),
        {"highest_rpm": 1900.0},
    ),
    SimulatedFault(
        "gun-rate-drift",
        _("The gun gives more and more as it is used."),
        _("A rate grows old: measure it again."),
        {"gun_drift_per_ml": 0.0025},
    ),
    SimulatedFault(
        "gun-not-empty",
        _("Old fluid was left in the gun."),
        _("Old fluid in the gun makes the seconds wrong."),
        {"gun_ml": 35.0},
    ),
    SimulatedFault(
        "sags-on-spray",
        _("The idle sags by more than 100 1/min after some seconds of spray."),
        _("Shut the gun at the sag, not at the stall."),
        {"sag_rpm_per_ml": 4.0, "transport_s": 10.0},
    ),
    SimulatedFault(
        "stalls-on-spray",
        _("The engine stalls when the spray goes on for too long."),
        _("Stalled with fluid in: nobody cranks."),
        {"sag_rpm_per_ml": 9.0, "transport_s": 15.0},
    ),
    SimulatedFault(
        "overdose-held-by-pipe",
        _("The filter takes up little; a low spot of the pipe holds the rest and lets it go late."),
        _("Fluid that comes late: drain, look, turn by hand."),
        {"retained_ml": 8.0, "run_back": 0.5, "pipe_s": 150.0},
    ),
    SimulatedFault(
        "dry-soot-repels",
        _("Dry soot repels the fluid: most of an engine-off dose runs back at once."),
        _("Why the limit counts the whole dose as running back."),
        {"retained_ml": 15.0, "run_back": 0.6},
    ),
    SimulatedFault(
        "wet-filter-slow-dry",
        _("The filter dries slowly: a reading taken early is too high."),
        _("Hold until level: a wet filter reads high."),
        {"drying": 0.3},
    ),
    SimulatedFault(
        "self-starting",
        _("The engine can start by itself while the ignition is on."),
        _("Start disabled, and key boxed, before hands go in."),
        {"self_starting": True},
    ),
    SimulatedFault(
        "fires-late",
        _("After fluid the first crank is even but does not fire."),
        _("An even crank that does not fire: one more try, in time."),
        {"fires_late": True},
    ),
    SimulatedFault(
        "cold-engine",
        _("The vehicle was towed in: engine and exhaust are cold."),
        _("A cold engine gives no 'before' to compare with."),
        {"cold": True},
    ),
    SimulatedFault(
        "burning-on-arrival",
        _("A regeneration is running when the vehicle comes in."),
        _("A running regeneration ends first, outdoors."),
        {"burning_s": 900.0, "soot_kg_m3": 6.4},
    ),
    SimulatedFault(
        "oil-thinned",
        _("Fuel of broken-off burns has thinned the oil and lifted it over its mark."),
        _("The dipstick comes before any start: thinned oil can feed a runaway."),
        {"oil": "thinned"},
    ),
    SimulatedFault(
        "extraction-leaks",
        _("The extraction hose gaps at the tailpipe: smoke comes out beside it."),
        _("An extraction is tried with paper and eye before it is relied on."),
        {"extraction_leaks": True},
    ),
    SimulatedFault(
        "gun-drips",
        _("The gun goes on dripping when it is let go, and lets fluid through under air."),
        _("A gun is tried into the jug before it sits on the line."),
        {"gun_leaks_ml_s": 0.05},
    ),
    SimulatedFault(
        "line-holds",
        _("A long line with a sag: what stands in it comes out when the gun comes off."),
        _("The free end goes low over a jug as the gun comes off."),
        {"hose_holds_ml": 28.0},
    ),
    SimulatedFault(
        "low-loop-open",
        _("Gas is led to the intake from behind the filter, and the valve cannot be held shut."),
        _("What leaves the filter can come back by the intake."),
        {"loop_open": True},
    ),
    SimulatedFault(
        "burn-breaks-off",
        _("A burn begins by itself and breaks off before the soot is gone."),
        _("A burn is watched to its end; one that breaks off has a cause."),
        {"burn_at_idle_s": 240.0, "burn_lasts_s": 150.0},
    ),
)
"""Every fault by name. Read-only."""


def setup_with(*names: str) -> Setup:
    """The setup on arrival with the named faults, later ones on top of earlier ones.

    Raises ``UnknownFaultError`` with the nearest remedy for a name that is not in ``FAULTS``, for
    a name given twice, or for more than four names.
    """
    if len(names) > MAX_FAULTS or len(set(names)) != len(names):
        raise UnknownFaultError(
            _(
                "faults {names}: give at most {max_faults}, each once.",
                names=", ".join(names),
                max_faults=MAX_FAULTS,
            )
        )
    setup = Setup()
    for name in names:
        fault = FAULTS.get(name)
        if fault is None:
            raise UnknownFaultError(
                _(
                    "fault {name!r} is not known. Choose one of: {faults}.",
                    name=name,
                    faults=", ".join(sorted(FAULTS)),
                )
            )
        setup = replace(setup, **fault.changes)
    return setup


def draw_faults(seed: int, count: int = 1, among: Sequence[str] = ()) -> tuple[str, ...]:
    """``count`` different faults ``among`` these names (default: all), the same for the same seed.

    Raises ValueError for more than there are.
    """
    return tuple(Random(seed).sample(sorted(among or FAULTS), count))
