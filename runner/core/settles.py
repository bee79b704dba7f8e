"""Which facts a step of a procedure can settle: where a refusal may lead back to."""

from typing import Any

from .procedure import (
    ActStep,
    AskStep,
    GunStep,
    HoldStep,
    JudgeStep,
    LookStep,
    ReadStep,
    ReportStep,
    SignStep,
    TemperatureStep,
    WaitStep,
)


def settled_by(step: Any) -> frozenset[str]:
    """The facts that a step can settle."""
    match step:
        case LookStep():
            return frozenset({step.fact, *(("starter",) if step.fact == "key" else ())})
        case TemperatureStep():
            return frozenset({"port"})
        case GunStep():
            return frozenset({"rate"})
        case WaitStep(timer="soak"):
            return frozenset({"soak"})
        case HoldStep():
            return frozenset({"run_on", "wet"})
        case SignStep() if step.slot:
            return frozenset({step.slot})
        case JudgeStep(what="triage"):
            return frozenset({"triage"})
        case AskStep():
            return frozenset({step.name})
        case ReadStep():
            return frozenset({step.phase, "zero"})
        case ReportStep():
            names = {"lowered": "engine", "stopped": "engine", "drained": "wet"}
            return frozenset(names.get(h, "inspection") for h in step.happenings)
        case ActStep():
            return frozenset(_ACT_SETTLES.get(step.act.value, ()))
    return frozenset()


_ACT_SETTLES: dict[str, tuple[str, ...]] = {
    "ignition_on": ("key",),
    "try_start": ("start_tried",),
    "start": ("engine", "starter"),
    "stop_engine": ("engine",),
    "raise": ("engine",),
    "hands_in": ("hands",),
    "hands_at_hose": ("hands",),
    "take_hose_off": ("hose",),
    "couple_gun": ("gun",),
    "uncouple_gun": ("gun",),
    "clear_line": ("line",),
    "put_hose_on": ("hose",),
    "hand_turn": ("hand_turn", "bar"),
    "clear_codes": ("codes",),
    "road_test": ("engine",),
}
