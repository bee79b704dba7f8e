"""Every sum that a limit shows can be redone from its own line."""

import ast
import operator
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from steplatch.safety.limits import (
    Height,
    Limit,
    RetainedClaim,
    VehicleInput,
    Workshop,
    burst,
    drying,
    work_limits,
)

from tests.each import each
from tests.limits.cars import CLAIM, FLUID, GUN, HELD, USUAL

UNITS = re.compile(r"(?<![\w.])(J/\(g K\)|J/g|g/mL|g/s|mL/s|1/min|mL|cm|degC|m|g|s|J|K|W)(?![\w/])")
OPERATORS: dict[type, Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


def value_of(node: ast.expr) -> float:
    if isinstance(node, ast.BinOp):
        return OPERATORS[type(node.op)](value_of(node.left), value_of(node.right))
    assert isinstance(node, ast.Constant) and isinstance(node.value, int | float)
    return float(node.value)


def redo(line: str) -> tuple[float, float] | None:
    """Value of the sum before the last equals sign, and the number after it; None: no sum."""
    parts = line.split(" = ")
    if len(parts) < 2:
        return None
    left, right = parts[-2], parts[-1]
    left = (
        re.split(r"lower by |counted (?=\d)", left)[-1]
        .replace("level tolerance", "")
        .replace("reading", "")
    )
    left = UNITS.sub("", left).replace(" x ", " * ").replace("^", "**")
    number = re.match(r"-?[\d.]+(?:e[+-]?\d+)?", right)
    assert number is not None, line
    tree = ast.parse(left.strip(), mode="eval")
    return value_of(tree.body), float(number.group())


DEEP = replace(
    USUAL,
    height=Height.BELOW,
    inlet_below_port_m=0.15,
    level_tolerance_m=0.1,
    pipe_bore_m=0.05,
    pipe_hold_up_m3=500e-6,
    retained=CLAIM,
    held_below=HELD,
)
CARS = [
    USUAL,
    replace(USUAL, compression_ratio=None, filter_volume_m3=None),
    replace(USUAL, retained=RetainedClaim(8e-6, "weighed", "A. Supervisor")),
    DEEP,
    replace(DEEP, cell_density_per_m2=310000.0, wall_thickness_m=3.05e-4, wall_porosity=0.5),
]


def every_limit() -> list[Limit]:
    limits: list[Limit] = []
    for car in CARS:
        for altitude_m in (0.0, 1400.0):
            workshop = Workshop("Test", altitude_m=altitude_m)
            limits += work_limits(car, FLUID, workshop, GUN).all()
            limits.append(drying(250e-6, car, FLUID, workshop, 820.0))
            limits.append(drying(250e-6, car, FLUID, workshop, 2400.0, 493.15, 0.033))
    return limits


@each("limit", every_limit(), ids=lambda limit: limit.name)
def test_every_sum_in_a_limit_comes_out_as_written(limit: Limit) -> None:
    for line in limit.lines:
        sum_ = redo(line)
        if sum_ is not None:
            assert sum_[0] == pytest.approx(sum_[1], rel=4e-3), line


@each("limit", every_limit(), ids=lambda limit: limit.name)
def test_every_limit_says_where_it_comes_from_and_where_it_holds(limit: Limit) -> None:
    assert limit.lines and limit.source and limit.validity
    assert str(limit.whole()) in limit.shown()


def dose_lines(vehicle: VehicleInput) -> list[Limit]:
    limits = work_limits(vehicle, FLUID, Workshop("Test"), GUN)
    return [limits.dose_strict, limits.running_dose, *filter(None, [limits.dose_extended])]


@pytest.mark.parametrize("car", CARS)
def test_the_last_sum_of_a_dose_is_the_limit_itself(car: VehicleInput) -> None:
    for limit in dose_lines(car):
        sums = [found for found in map(redo, limit.lines) if found is not None]
        assert sums[-1][1] == pytest.approx(limit.value * 1e6, rel=1e-3)


def test_every_sum_of_a_burst_comes_out_as_written() -> None:
    shots = tuple(ml / 5.0 * 1e-6 for ml in (19.0, 20.0, 21.0))
    lines = burst(35.09e-6, 3.3e-6, shots, 0.5).lines
    assert len(lines) == 4
    for line in lines:
        sum_ = redo(line)
        assert sum_ is not None and sum_[0] == pytest.approx(sum_[1], rel=4e-3), line


def test_a_sum_that_is_wrong_would_be_seen() -> None:
    found = redo("space at top dead centre = 500 mL / (16.5 - 1) = 33.26 mL")
    assert found is not None and found[0] != pytest.approx(found[1], rel=4e-3)
