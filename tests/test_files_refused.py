"""What the files of a workshop refuse, at its line and column, with a remedy."""

import re
from pathlib import Path

import pytest

from tests.test_files import FILES, VEHICLE, refused, replaced

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
