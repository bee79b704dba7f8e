"""Reading sets as a workshop types them, for the tests of judging."""

from steplatch.runner.core.reading_set import Phase, ReadingSet
from steplatch.runner.core.typed_set import parse_set
from steplatch.safety.limits.inputs import VehicleInput, Workshop

VEHICLE = VehicleInput(
    "2.0 L, known filter",
    2e-3,
    4,
    filter_volume_m3=3.0e-3,
    filter_length_m=0.15,
    cell_density_per_m2=200 / 0.0254**2,
    wall_thickness_m=0.356e-3,
)
WORKSHOP = Workshop("level ground")

GOOD_FACTS = {
    "burning": "no",
    "oil_level": "ok",
    "oil_or_coolant_in_filter": "no",
    "core_condition": "no_sign",
    "ash_state": "low",
    "regeneration_spacing": "normal",
    "root_cause": "mended",
    "coating": "none",
    "fuel": "diesel",
    "line_test": "ok",
    "soot_model": "high",
    "filter_dry": "yes",
    "hose_clear": "yes",
    "plateau": "levelled",
    "loads_off": "yes",
    "car_level": "yes",
    "codes": [],
}


def three(
    phase: Phase,
    raised: str = "96 2500 40 215 88 shut",
    idle: str | None = "19 820 9.0 168 86 open",
    zero: str | None = "0.5 0 x 150 86 x",
) -> list[ReadingSet]:
    """Raised, idle and zero of one phase; leave one out with None."""
    out = [parse_set(raised, "raised", phase)]
    if idle is not None:
        out.append(parse_set(idle, "idle", phase))
    if zero is not None:
        out.append(parse_set(zero, "zero", phase))
    return out


BEFORE = three("before")
BETTER = three("after", "61 2500 40 215 88 shut", "12.5 820 9.0 168 86 open")
NORMAL = three("after", "21 2510 40 210 88 shut", "4.7 815 9.1 165 86 open")
SAME = three("after", "95 2490 40 213 88 shut", "19.5 825 9.1 167 86 open")
