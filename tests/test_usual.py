"""A slip of a factor in a filed number that a limit rests on is refused or typed a second time."""

from dataclasses import replace
from typing import Any, get_args

import pytest
from steplatch.runner.cli.guided_job import confirmed_unusual
from steplatch.runner.workshop import files
from steplatch.runner.workshop.usual import TABLE, Usual, unusual
from steplatch.safety.limits import ImplausibleInputs
from steplatch.safety.limits.plausible import check_inputs

from tests.each import each
from tests.played import bundle_from

SLIPS = (3.0, 10.0, 1000.0, 1 / 3.0, 0.1, 0.001)
ZERO = ("altitude_m",)
"""Passes through zero: a factor is no measure of a slip there, see the module's words."""


def slipped(bundle: Any, usual: Usual, factor: float, start: float | None = None) -> dict[str, Any]:
    """The four files with one number as it would be after the slip, on the scale people read."""
    inputs = {name: getattr(bundle, name) for name in ("vehicle", "gun", "fluid", "workshop")}
    shown = (usual.low * usual.high) ** 0.5 if start is None else start
    by = usual.per(bundle.vehicle) if usual.per is not None else 1.0
    value = (shown * factor * by - usual.offset) / usual.scale
    file, (head, _, tail) = inputs[usual.file], usual.key.partition(".")
    held = getattr(file, head)
    new: Any = (value,) if isinstance(held, tuple) else value
    inputs[usual.file] = replace(file, **{head: replace(held, **{tail: value}) if tail else new})
    return inputs


@each("usual", [usual for usual in TABLE if usual.key not in ZERO], lambda u: f"{u.file}.{u.key}")
@each("factor", SLIPS)
@each("end", ["low", "middle", "high"])
def test_no_slip_of_three_or_more_from_a_usual_value_passes(
    usual: Usual, factor: float, end: str
) -> None:
    bundle = bundle_from()
    start = {"low": usual.low, "middle": None, "high": usual.high}[end]
    assert usual not in {odd.usual for odd in unusual(**slipped(bundle, usual, 1.0, start))}
    inputs = slipped(bundle, usual, factor, start)
    try:
        check_inputs(**inputs)
    except ImplausibleInputs:
        return
    assert usual in {odd.usual for odd in unusual(**inputs)}


def test_every_number_of_the_files_is_in_the_table_or_left_out_with_a_reason() -> None:
    left_out = {
        "filter_length_m", "cell_density_per_m2", "wall_thickness_m", "wall_porosity",
        "wall_permeability_m2", "sensor_step_pa", "oil_l_per_1000_km", "oil_sulphated_ash",
        # the verdict rests on them, no limit of what is done
        "water_share", "inlet_below_port_m", "level_tolerance_m", "pipe_bore_m", "pipe_hold_up_m3",
        "maker_off_dose_m3", "maker_running_dose_m3", "off_dose_m3", "max_touch_gloved_k",
        "cranking_pressure_ratio", "bottle_m3", "cylinders",
        # they tighten a limit or need a basis and an approver; cylinders and displacement are
        # compared with each other
    }  # fmt: skip
    named = {usual.key.partition(".")[0] for usual in TABLE}
    bundle = bundle_from()
    for file in (bundle.vehicle, bundle.gun, bundle.fluid, bundle.workshop):
        for name, kind in type(file).__annotations__.items():
            number = any(one in (int, float) for one in (kind, *get_args(kind))) or "float" in str(
                kind
            )
            if number and kind is not bool:
                assert name in named | left_out, name


def test_the_example_workshop_is_usual_and_so_asks_nothing() -> None:
    bundle = bundle_from()
    assert unusual(bundle.vehicle, bundle.gun, bundle.fluid, bundle.workshop) == ()


def test_no_file_takes_a_rate_that_the_limits_refuse() -> None:
    band = str(files.GunFile.model_fields["jug_shots"].annotation)
    assert "'0.2 mL/s'" in band and "'50 mL/s'" in band


class Typist:
    """Types one answer to each question."""

    def __init__(self, *answers: str) -> None:
        self.answers, self.said = list(answers), list[str]()

    def say(self, text: str = "", style: str = "") -> None:
        self.said.append(text)

    def ask(self, prompt: Any) -> str:
        return self.answers.pop(0)


@pytest.mark.parametrize(
    ("typed", "taken"),
    [("6 L", True), ("6000 cm3", True), ("2 L", False), ("6", False), ("", False)],
)
def test_an_unusual_number_is_typed_again_and_enter_does_not_do(typed: str, taken: bool) -> None:
    bundle = bundle_from()
    odd = replace(bundle, vehicle=replace(bundle.vehicle, displacement_m3=6e-3))
    typist = Typist(typed, "3 L")
    assert confirmed_unusual(odd, typist) is taken
    assert "1.5 L a cylinder" in typist.said[0] and "0.25 to 0.7" in typist.said[0]


def test_a_stop_there_ends_it() -> None:
    bundle = bundle_from()
    odd = replace(bundle, vehicle=replace(bundle.vehicle, displacement_m3=6e-3))
    with pytest.raises(KeyboardInterrupt):
        confirmed_unusual(odd, Typist("s"))
