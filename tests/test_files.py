"""The data files of a workshop: what they express, and what they refuse and where."""

import dataclasses
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from steplatch.runner.input.findings import BadFile, Finding
from steplatch.runner.workshop.files import (
    Person,
    Role,
    load_fluid,
    load_gun,
    load_people,
    load_vehicle,
    load_workshop,
)
from steplatch.safety.limits.dose import work_doses
from steplatch.safety.limits.inputs import (
    Fluid,
    Fuel,
    GunInput,
    Height,
    HeldClaim,
    RetainedClaim,
    VehicleInput,
    Workshop,
)

EXAMPLES = Path(__file__).parent.parent / "examples" / "workshop"

VEHICLE = """\
label: test van
displacement: 2.2 L
cylinders: 4
compression_ratio: 15.8
filter_volume: 3,5 L
filter_length: 0.2 m
cell_density: 300 cpsi
wall_thickness: 0.305 mm
wall_porosity: 42 %
wall_permeability: 0.5 µm2
height: below
inlet_below_port: 0.3 m
level_tolerance: 5 cm
pipe_bore: 60 mm
pipe_hold_up: 250 mL
retained:
  volume: 20 mL
  basis: poured and drained
  approver: Test Supervisor
maker_off_dose: 10 mL
maker_running_dose: 250 mL
maker_rev_ceiling: 2400 1/min
idle: 780 rpm
self_starting: true
one_hose: true
sensor_step: 4 hPa
shows: [pressure, speed]
urea_after_filter: true
oil_use: 0.2 L/1000 km
oil_sulphated_ash: 0.8 %
held_below: {basis: filled and tilted, approver: Test Supervisor}
fuel: diesel
"""

GUN = """\
label: test gun
bottle: 750 mL
jug_shots: [3.8 mL/s, 4.0 mL/s]
reaction: 0.7 s
practice_stops: [0.3 s, 0.4 s]
self_closing: false
"""

FLUID = """\
label: test fluid
data_sheet: sheet 1
data_sheet_date: 2023-02-28
hazard_codes: [H315, EUH208, H302+H332, H360FD]
density: 0.98 kg/L
water_share: 90 %
max_exhaust_engine_off: 80 °C
max_exhaust_running: 150 °C
maker_soak: 10 min
"""

WORKSHOP = """\
label: test workshop
address: 1 Test Lane, Exampleton
currency: EUR
cranking_pressure_ratio: 80
off_dose: 12 mL
running_dose: 200 mL
rev_ceiling: 2300 1/min
max_exhaust_engine_off: 70 °C
max_exhaust_running: 140 °C
max_touch: 45 °C
max_touch_gloved: 120 °C
soak: 6 min
altitude: 350 m
air: 10 °C
bay_volume: 300 m3
"""

PEOPLE = """\
people:
  - id: a-1
    name: Test Apprentice
    role: apprentice
    under_18: true
  - id: s-1
    name: Test Supervisor
    role: supervisor
    under_18: false
"""

FILES: dict[str, tuple[str, Callable[[Path], Any]]] = {
    "vehicle": (VEHICLE, load_vehicle),
    "gun": (GUN, load_gun),
    "fluid": (FLUID, load_fluid),
    "workshop": (WORKSHOP, load_workshop),
    "people": (PEOPLE, load_people),
}


def written(folder: Path, text: str) -> Path:
    path = folder / "f.yaml"
    path.write_text(text, "utf-8")
    return path


def replaced(text: str, key: str, value: str | None) -> str:
    """Return the file with the value of one key replaced, or its line taken out."""
    line = "" if value is None else rf"\g<1>{value}\n"
    changed, count = re.subn(rf"^(\s*(?:- )?{key}: )[^\n]*\n", line, text, count=1, flags=re.M)
    assert count == 1, key
    return changed


def refused(folder: Path, kind: str, text: str) -> tuple[Finding, ...]:
    with pytest.raises(BadFile) as error:
        FILES[kind][1](written(folder, text))
    return error.value.findings


# --- what the files express ---------------------------------------------------------------


def test_a_vehicle_file_expresses_every_field_in_si(tmp_path: Path) -> None:
    vehicle, document = load_vehicle(written(tmp_path, VEHICLE))
    assert vehicle == VehicleInput(
        label="test van",
        displacement_m3=0.0022,
        cylinders=4,
        fuel=Fuel.DIESEL,
        compression_ratio=15.8,
        filter_volume_m3=0.0035,
        filter_length_m=0.2,
        cell_density_per_m2=465000.93000186,  # 300 / 0.0254 squared
        wall_thickness_m=0.000305,
        wall_porosity=0.42,
        wall_permeability_m2=5e-13,
        height=Height.BELOW,
        inlet_below_port_m=0.3,
        level_tolerance_m=0.05,
        pipe_bore_m=0.06,
        pipe_hold_up_m3=250e-6,
        held_below=HeldClaim("filled and tilted", "Test Supervisor"),
        retained=RetainedClaim(20e-6, "poured and drained", "Test Supervisor"),
        maker_off_dose_m3=10e-6,
        maker_running_dose_m3=250e-6,
        maker_rev_ceiling_rpm=2400.0,
        idle_rpm=780.0,
        self_starting=True,
        one_hose=True,
        sensor_step_pa=400.0,
        shows=frozenset({"pressure", "speed"}),
        urea_after_filter=True,
        oil_l_per_1000_km=0.2,
        oil_sulphated_ash=0.008,
    )
    assert len(document.sha256_of_bytes) == 64


def test_gun_fluid_and_workshop_files_express_every_field_in_si(tmp_path: Path) -> None:
    assert load_gun(written(tmp_path, GUN))[0] == GunInput(
        "test gun",
        750e-6,
        rates_m3_s=(3.8e-6, 4e-6),
        reaction_s=0.7,
        self_closing=False,
        practice_stops_s=(0.3, 0.4),
    )
    assert load_fluid(written(tmp_path, FLUID))[0] == Fluid(
        "test fluid",
        "sheet 1",
        "2023-02-28",
        ("H315", "EUH208", "H302+H332", "H360FD"),
        980.0,
        0.9,
        353.15,
        423.15,
        600.0,
    )
    assert load_workshop(written(tmp_path, WORKSHOP))[0] == Workshop(
        "test workshop", "1 Test Lane, Exampleton", "EUR", 80.0, 12e-6, 200e-6, 2300.0, 343.15,
        413.15, 318.15, 393.15, 360.0, 350.0, 283.15, 300.0,
    )  # fmt: skip


@pytest.mark.parametrize("kind", ["vehicle", "gun", "fluid", "workshop"])
def test_no_field_of_the_inputs_is_left_at_its_default_by_a_full_file(
    kind: str, tmp_path: Path
) -> None:
    text, load = FILES[kind]
    value = load(written(tmp_path, text))[0]
    for field in dataclasses.fields(value):
        assert getattr(value, field.name) != field.default, field.name


OPTIONAL = {
    "vehicle": {
        "compression_ratio", "filter_length", "cell_density", "wall_thickness",
        "wall_porosity", "wall_permeability", "inlet_below_port", "level_tolerance", "pipe_bore",
        "pipe_hold_up", "maker_off_dose", "maker_running_dose", "maker_rev_ceiling", "oil_use",
        "oil_sulphated_ash",
    },
    "fluid": {"max_exhaust_engine_off", "max_exhaust_running", "maker_soak"},
    "workshop": {
        "cranking_pressure_ratio", "off_dose", "running_dose", "rev_ceiling",
        "max_exhaust_engine_off", "max_exhaust_running", "max_touch", "max_touch_gloved", "soak",
        "bay_volume", "address", "currency",
    },
}  # fmt: skip


@pytest.mark.parametrize("given_value", ["null", None])
@pytest.mark.parametrize(
    ("kind", "key"), [(kind, key) for kind, keys in OPTIONAL.items() for key in sorted(keys)]
)
def test_null_or_left_out_is_not_known(
    kind: str, key: str, given_value: str | None, tmp_path: Path
) -> None:
    text, load = FILES[kind]
    full = load(written(tmp_path, text))[0]
    less = load(written(tmp_path, replaced(text, key, given_value)))[0]
    changed = [
        field.name
        for field in dataclasses.fields(full)
        if getattr(full, field.name) != getattr(less, field.name)
    ]
    assert len(changed) == 1
    assert getattr(less, changed[0]) is None


MUST_STAND = [
    ("vehicle", "displacement"),
    ("vehicle", "cylinders"),
    ("vehicle", "height"),
    ("vehicle", "idle"),
    ("vehicle", "self_starting"),
    ("vehicle", "one_hose"),
    ("vehicle", "sensor_step"),
    ("vehicle", "shows"),
    ("vehicle", "urea_after_filter"),
    ("gun", "bottle"),
    ("gun", "reaction"),
    ("gun", "self_closing"),
    ("fluid", "data_sheet"),
    ("fluid", "data_sheet_date"),
    ("fluid", "hazard_codes"),
    ("fluid", "density"),
    ("fluid", "water_share"),
    ("workshop", "altitude"),
    ("workshop", "air"),
]


@pytest.mark.parametrize(("kind", "key"), MUST_STAND)
def test_what_would_be_unsafe_to_assume_must_stand_in_the_file(
    kind: str, key: str, tmp_path: Path
) -> None:
    (finding,) = refused(tmp_path, kind, replaced(FILES[kind][0], key, None))
    assert (finding.line, finding.column, finding.key) == (1, 1, key)
    assert finding.problem == "this key is missing"
    assert any(f.key == key for f in refused(tmp_path, kind, replaced(FILES[kind][0], key, "null")))


# --- what they refuse ---------------------------------------------------------------------

VALUE_REFUSALS = [
    ("vehicle", "displacement", "2.2", "a volume with its unit is wanted", "0.5 L to 20 L"),
    ("vehicle", "displacement", "2.2 kPa", "unit of a pressure", "units: mL, L"),
    ("vehicle", "displacement", "2200 L", "outside what is believed", "0.5 L to 20 L"),
    ("vehicle", "displacement", "2,200 L", "two ways", "2200 or 2.200"),
    ("vehicle", "displacement", "2.2.0 L", "is no number", "at most one decimal mark"),
    ("vehicle", "cylinders", "1", "1 is outside", "at least 2"),
    ("vehicle", "cylinders", "16", "16 is outside", "at most 12"),
    ("vehicle", "cylinders", "four", "a whole number is wanted", "digits only"),
    ("vehicle", "cylinders", "4.0", "a whole number is wanted", "digits only"),
    ("vehicle", "compression_ratio", "9.9", "9.9 is outside", "at least 10"),
    ("vehicle", "compression_ratio", "158", "158 is outside", "at most 25"),
    ("vehicle", "compression_ratio", "16:1", "a number is wanted", "plain number"),
    ("vehicle", "filter_volume", "3.5 mL", "outside", "0.3 L to 40 L"),
    ("vehicle", "filter_length", "20 m", "outside", "50 mm to 600 mm"),
    ("vehicle", "cell_density", "30 cpsi", "outside", "50 cpsi to 900 cpsi"),
    ("vehicle", "wall_thickness", "12 mm", "outside", "0.1 mm to 1 mm"),
    ("vehicle", "wall_porosity", "0.42 %", "outside", "20 % to 80 %"),
    ("vehicle", "wall_permeability", "1e-12 m2", "exponent", "Write it out"),
    ("vehicle", "height", "over", 'the text "over" is not allowed', "above, below or unknown"),
    ("vehicle", "height", "null", "null is not allowed", "above, below or unknown"),
    ("vehicle", "inlet_below_port", "30 m", "outside", "1 mm to 3 m"),
    ("vehicle", "level_tolerance", "0 mm", "outside", "20 mm to 500 mm"),
    ("vehicle", "pipe_bore", "6 mm", "outside", "20 mm to 200 mm"),
    ("vehicle", "pipe_hold_up", "-1 mL", "less than a volume can be", "Check sign"),
    ("vehicle", "maker_off_dose", "2 L", "outside", "0 mL to 1 L"),
    ("vehicle", "maker_running_dose", "300 L", "outside", "10 mL to 10 L"),
    ("vehicle", "maker_rev_ceiling", "250 1/min", "outside", "1000 1/min to 4500 1/min"),
    ("vehicle", "idle", "8200 1/min", "outside", "400 1/min to 1500 1/min"),
    ("vehicle", "self_starting", "yes", '"yes" is a text', "Write true or false"),
    ("vehicle", "self_starting", "Off", '"Off" is a text', "Write true or false"),
    ("vehicle", "one_hose", "0", "true or false is wanted", "Write true or false"),
    ("vehicle", "sensor_step", "1 bar", "outside", "0.01 mbar to 25 mbar"),
    ("vehicle", "sensor_step", "1 mbar abs", "unit of an absolute pressure", "22 mbar"),
    ("vehicle", "oil_use", "20 L/1000 km", "outside", "0 L/1000km to 5 L/1000km"),
    ("vehicle", "oil_sulphated_ash", "0.008 %", "outside", "0.05 % to 3 %"),
    ("vehicle", "label", "ABCDEFGH012345678", "looks like a chassis number", "belongs to the job"),
    ("vehicle", "label", "van abcdefgh012345678", "looks like a chassis number", "the job"),
    ("vehicle", "label", "'  '", "blank or has spaces at an end", "Write words"),
    ("vehicle", "label", "x" * 201, "too long", "200 characters"),
    ("vehicle", "label", "5", "a text is wanted, not the number 5", "quotes"),
    ("gun", "bottle", "10 mL", "outside", "50 mL to 20 L"),
    ("gun", "bottle", "750 g", "unit of a mass", "units: mL, L"),
    ("gun", "reaction", "0 s", "outside", "0.2 s to 3 s"),
    ("gun", "self_closing", "no", '"no" is a text', "Write true or false"),
    ("fluid", "data_sheet_date", "31.05.2024", "is not a date", "2024-05-31"),
    ("fluid", "data_sheet_date", "2023-02-29", "is not a date", "2024-05-31"),
    ("fluid", "data_sheet_date", "20240531", "a text is wanted", "quotes"),
    ("fluid", "data_sheet_date", "'20240531'", "is not a date", "2024-05-31"),
    ("fluid", "data_sheet_date", "1924-05-31", "is not a date", "2024-05-31"),
    ("fluid", "density", "1000", "a density with its unit is wanted", "0.6 kg/L to"),
    ("fluid", "density", "1000 kg/L", "outside", "0.6 kg/L to 2 kg/L"),
    ("fluid", "water_share", "0.9", "a share with its unit is wanted", "0 % to 100 %"),
    ("fluid", "water_share", "101 %", "outside", "0 % to 100 %"),
    ("fluid", "max_exhaust_engine_off", "500 °C", "outside", "20 °C to 150 °C"),
    ("fluid", "max_exhaust_running", "150 L", "unit of a volume", "units: °C"),
    ("fluid", "maker_soak", "10 h", "outside", "30 s to 2 h"),
    ("workshop", "cranking_pressure_ratio", "91", "91 is outside", "at most 90"),
    ("workshop", "cranking_pressure_ratio", "8", "8 is outside", "at least 20"),
    ("workshop", "off_dose", "12 L", "outside", "0 mL to 1 L"),
    ("workshop", "max_touch", "100 °C", "outside", "20 °C to 70 °C"),
    ("workshop", "altitude", "350", "a length with its unit is wanted", "-430 m to"),
    ("workshop", "altitude", "35 km", "unit of a distance", "units: mm"),
    ("workshop", "air", "10", "a temperature with its unit is wanted", "-30 °C to"),
    ("workshop", "bay_volume", "300 L", "outside", "20 m3 to 100000 m3"),
    ("people", "id", "A 1", "cannot be an id", "small letters"),
    ("people", "role", "boss", 'the text "boss" is not', "apprentice, technician or supervisor"),
    ("people", "under_18", "no", '"no" is a text', "Write true or false"),
    ("people", "name", "''", "blank", "Write words"),
]


@pytest.mark.parametrize(("kind", "key", "value", "problem", "remedy"), VALUE_REFUSALS)
def test_a_bad_value_is_refused_at_its_line_and_column(
    kind: str, key: str, value: str, problem: str, remedy: str, tmp_path: Path
) -> None:
    text = replaced(FILES[kind][0], key, value)
    lines = text.split("\n")
    line = next(i for i, row in enumerate(lines, 1) if re.match(rf"\s*(- )?{key}: ", row))
    column = lines[line - 1].index(f"{key}: ") + len(key) + 3
    (finding,) = refused(tmp_path, kind, text)
    assert (finding.line, finding.column) == (line, column)
    assert finding.key.endswith(key)
    assert problem in finding.problem
    assert remedy in finding.remedy


@pytest.mark.parametrize(
    "key", ["registration", "plate", "vin", "vin_tail", "chassis_number", "customer", "owner"]
)
def test_personal_data_is_refused_in_a_vehicle_file(key: str, tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "vehicle", VEHICLE + f"{key}: AB12\n")
    assert (finding.line, finding.column, finding.key) == (33, 1, key)
    assert "personal data" in finding.remedy


MEANING_REFUSALS = [
    ("vehicle", {"cylinders": "12", "displacement": "1.0 L", "filter_volume": "1 L"},
     "displacement", "0.08 L each"),
    ("vehicle", {"displacement": "12 L", "filter_volume": "12 L"}, "displacement", "3.00 L each"),
    ("vehicle", {"height": "above", "held_below": None}, "inlet_below_port", "height is above"),
    ("vehicle", {"height": "unknown", "held_below": None}, "inlet_below_port", "height is unknown"),
    ("vehicle", {"filter_volume": "35 L"}, "filter_volume", "16 times the displacement"),
    ("vehicle", {"filter_volume": "0.35 L"}, "filter_volume", "0.16 times the displacement"),
    ("vehicle", {"height": "above", "inlet_below_port": None}, "held_below", "height is above"),
    ("vehicle", {"filter_volume": "null"}, "retained", "a claim needs filter_volume"),
    ("vehicle", {"filter_volume": "0.7 L", r"  volume": "700 mL"}, "retained.volume",
     "its whole volume"),
    ("vehicle", {"shows": "[speed, air, speed]"}, "shows[3]", "speed stands here twice"),
    ("fluid", {"hazard_codes": "[H315, H315]"}, "hazard_codes[2]", "H315 stands here twice"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "changes", "key", "problem"), MEANING_REFUSALS)
def test_values_that_do_not_go_together_are_refused(
    kind: str, changes: dict[str, str], key: str, problem: str, tmp_path: Path
) -> None:
    text = FILES[kind][0]
    for name, value in changes.items():
        text = replaced(text, name, value)
    (finding,) = refused(tmp_path, kind, text)
    assert finding.key == key
    assert problem in finding.problem
    row = text.split("\n")[finding.line - 1]
    assert key.split(".")[-1].split("[")[0] in row or key == "retained"


@pytest.mark.parametrize(
    ("kind", "change", "line", "column", "key"),
    [
        ("gun", ("jug_shots", "[3.8 mL/s, 0.1 mL/s]"), 3, 23, "jug_shots[2]"),
        ("fluid", ("hazard_codes", "[H315, H1234]"), 4, 22, "hazard_codes[2]"),
        ("fluid", ("hazard_codes", "[315]"), 4, 16, "hazard_codes[1]"),
        ("vehicle", ("shows", "[pressure, preasure]"), 27, 19, "shows[2]"),
    ],
)
def test_a_bad_item_of_a_list_is_refused_where_it_stands(
    kind: str, change: tuple[str, str], line: int, column: int, key: str, tmp_path: Path
) -> None:
    (finding,) = refused(tmp_path, kind, replaced(FILES[kind][0], *change))
    assert (finding.line, finding.column, finding.key) == (line, column, key)


def test_a_claim_of_retained_fluid_needs_basis_and_approver(tmp_path: Path) -> None:
    text = replaced(replaced(VEHICLE, "basis", None), "approver", None)
    found = refused(tmp_path, "vehicle", text)
    assert [(f.line, f.column, f.key) for f in found] == [
        (16, 1, "retained.basis"),
        (16, 1, "retained.approver"),
    ]


def test_all_bad_values_of_a_file_come_at_once(tmp_path: Path) -> None:
    text = replaced(VEHICLE, "displacement", "2.2")
    text = replaced(text, "cylinders", "1")
    text = replaced(text, "self_starting", "no") + "colour: red\n"
    found = refused(tmp_path, "vehicle", text)
    assert [(f.line, f.key) for f in found] == [
        (2, "displacement"),
        (3, "cylinders"),
        (24, "self_starting"),
        (33, "colour"),
    ]


# --- people -------------------------------------------------------------------------------


def test_people_come_in_the_order_of_the_file(tmp_path: Path) -> None:
    assert load_people(written(tmp_path, PEOPLE)) == (
        Person("a-1", "Test Apprentice", Role.APPRENTICE, True),
        Person("s-1", "Test Supervisor", Role.SUPERVISOR, False),
    )


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "key", "problem"),
    [
        ("s-1", "a-1", 6, 9, "people[2].id", "already that of Test Apprentice"),
        ("Test Supervisor", "test  APPRENTICE", 7, 11, "people[2].name", "under the id a-1"),
        ("under_18: false", "under_18: true", 9, 15, "people[2].under_18", "under 18 cannot be"),
    ],
)
def test_one_person_has_one_id_and_a_supervisor_is_grown_up(
    old: str, new: str, line: int, column: int, key: str, problem: str, tmp_path: Path
) -> None:
    (finding,) = refused(tmp_path, "people", PEOPLE.replace(old, new))
    assert (finding.line, finding.column, finding.key) == (line, column, key)
    assert problem in finding.problem


def test_a_people_file_names_at_least_one_person(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "people", "people: []\n")
    assert (finding.line, finding.column) == (1, 9)
    assert "at least 1 item" in finding.remedy


# --- the example workshop -----------------------------------------------------------------


def test_the_example_workshop_loads_and_gives_dose_limits() -> None:
    vehicle, _ = load_vehicle(EXAMPLES / "vehicle.yaml")
    gun, _ = load_gun(EXAMPLES / "gun.yaml")
    load_fluid(EXAMPLES / "fluid.yaml")
    workshop, _ = load_workshop(EXAMPLES / "workshop.yaml")
    assert (vehicle.displacement_m3, vehicle.cylinders) == (0.002, 4)
    assert vehicle.height is Height.ABOVE and vehicle.retained is not None
    assert gun.rates_m3_s == ()
    doses = work_doses(vehicle, workshop, gun)
    assert doses.extended is not None
    assert 5e-6 < doses.strict.value < doses.extended.value < doses.running.value


def test_the_example_people_are_an_apprentice_a_technician_and_a_supervisor() -> None:
    people = load_people(EXAMPLES / "people.yaml")
    assert [p.role for p in people] == [Role.APPRENTICE, Role.TECHNICIAN, Role.SUPERVISOR]
    assert [p.under_18 for p in people] == [True, False, False]


# --- anything at all ----------------------------------------------------------------------

SCRAPS = st.sampled_from(
    ["2.0 L", "yes", "null", "[1]", "{a: b}", "-5 mL", "1,234 L", "&x 1", "*x", "'", "x", "true",
     "9999999999 L", "0.0", "'\\0'", "é", "- a", "~", "1 K", "\x07", "!!int 3"]
)  # fmt: skip


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data(), kind=st.sampled_from(sorted(FILES)))
def test_a_file_with_any_value_changed_loads_or_is_refused_with_places(
    data: st.DataObject, kind: str, tmp_path: Path
) -> None:
    text, load = FILES[kind]
    lines = text.splitlines()
    for _ in range(data.draw(st.integers(1, 3))):
        row = data.draw(st.integers(0, len(lines) - 1))
        scrap = data.draw(st.one_of(SCRAPS, st.text(max_size=20)))
        lines[row] = lines[row].partition(": ")[0] + ": " + scrap
    try:
        load(written(tmp_path, "\n".join(lines).encode("utf-8", "replace").decode("utf-8")))
    except BadFile as error:
        assert all(f.line >= 1 and f.column >= 1 and f.remedy for f in error.findings)
