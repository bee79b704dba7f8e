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
