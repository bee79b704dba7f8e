"""Logs are taken with all that is odd about them said, or refused with every place named."""

import random
import time
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from steplatch.runner.readings.log_columns import BadColumnMap, ColumnMap, column_map
from steplatch.runner.readings.logs import BadLog, ReadingLog, read_log
from steplatch.runner.readings.steady import sets_from_windows, steady_windows
from steplatch.safety.limits.inputs import VehicleInput

VEHICLE = VehicleInput("2.0 L", 2e-3, 4)
HEADER = "Time [s];Filter pressure [mbar];Engine speed [1/min];Air flow [g/s];Exhaust [degC]"


def log_of(*rows: str, header: str = HEADER) -> ReadingLog:
    return read_log("\n".join([header, *rows]).encode())


def problems_of(data: bytes, columns: ColumnMap | None = None) -> str:
    with pytest.raises(BadLog) as caught:
        read_log(data, "day.csv", columns)
    return str(caught.value)


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_delimiter_and_line_end_is_read(delimiter: str, end: str) -> None:
    text = end.join([HEADER, "0;22;820;9.0;168", "1;22.5;825;9.1;168"]).replace(";", delimiter)
    got = read_log(text.encode())
    assert got.values["pressure"] == [2200.0, 2250.0]
    assert got.values["exhaust"][0] == pytest.approx(441.15)
    assert got.lines == [2, 3]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_byte_order_marks_and_windows_text_are_read(encoding: str) -> None:
    text = HEADER.replace("degC", "°C") + "\n0;22;820;9;168\n"
    assert read_log(text.encode(encoding)).values["exhaust"][0] == pytest.approx(441.15)


def test_a_decimal_comma_is_read_beside_another_delimiter() -> None:
    got = log_of("0,0;22,5;820;9,25;168", "0,5;22,5;820;9,25;168")
    assert got.time_s == [0.0, 0.5]
    assert got.values["air"] == pytest.approx([0.00925, 0.00925])


def test_three_digits_after_every_comma_are_refused_until_the_map_says_decimal() -> None:
    data = (HEADER + "\n0;1,234;820;9;168\n").encode()
    assert "decimals or thousands" in problems_of(data)
    got = read_log(data, columns=ColumnMap(decimal_comma=True))
    assert got.values["pressure"] == pytest.approx([123.4])
    sure = log_of("0;0,234;820;9;168", "1;1,234;820;9;168")
    assert sure.values["pressure"] == pytest.approx([23.4, 123.4])


def test_a_thousands_mark_is_refused() -> None:
    assert "both a comma and a point" in problems_of((HEADER + "\n0;1,234.5;820;9;168").encode())


def test_quoted_cells_keep_their_line_numbers() -> None:
    text = 'Time [s],"Filter pressure [mbar]",Speed\n0,"22,5","8\n20"\n1,22,x'
    said = problems_of(text.encode())
    assert "line 2" in said


def test_every_bad_cell_is_named_with_line_and_column() -> None:
    said = problems_of((HEADER + "\n0;22;820;9;168\n1;twenty;820;9;168\n2;22;8e2;9;hot").encode())
    assert "line 3, column 'Filter pressure': 'twenty' is no number" in said
    assert "line 4, column 'Engine speed'" in said
    assert "line 4, column 'Exhaust'" in said


def test_a_row_of_another_width_is_named() -> None:
    assert "line 3: 4 cells where the header has 5" in problems_of(
        (HEADER + "\n0;22;820;9;168\n1;22;820;9\n").encode()
    )


def test_units_mixed_within_a_column_are_refused() -> None:
    said = problems_of((HEADER + "\n0;22 mbar;820;9;168\n1;2.2 kPa;820;9;168").encode())
    assert "units mixed in one column: mbar and kPa" in said and "line 3" in said


def test_one_unit_in_the_cells_is_heeded() -> None:
    assert log_of("0;2.2 kPa;820;9;168").values["pressure"] == [2200.0]


def test_a_missing_unit_is_asked_for() -> None:
    data = b"Time [s];pressure;speed\n0;22;820"
    assert "the pressure has no unit" in problems_of(data)
    assert "the time has no unit" in problems_of(b"Time;pressure [mbar];speed\n0;22;820")


def test_a_missing_or_double_column_is_named() -> None:
    assert "no column is the pressure" in problems_of(b"Time [s];speed\n0;820")
    said = problems_of(b"Time [s];pressure [mbar];dp [mbar];speed\n0;1;2;820")
    assert "2 columns could be the pressure" in said


def test_a_column_map_names_what_the_header_does_not() -> None:
    plain = {
        "columns": {
            "pressure": {"heading": "channel 7", "unit": "kPa"},
            "time": {"heading": "clock"},
        }
    }
    data = b"clock;channel 7;rpm\n14:02:10;2.2;820\n14:02:11.5;2.3;821"
    got = read_log(data, columns=column_map(plain))
    assert got.time_s[1] - got.time_s[0] == 1.5
    assert got.values["pressure"] == pytest.approx([2200.0, 2300.0])


@pytest.mark.parametrize(
    "plain",
    [
        3,
        {"colums": {}},
        {"decimal": "full stop"},
        {"columns": []},
        {"columns": {"presure": {"heading": "a"}}},
        {"columns": {"pressure": {}}},
        {"columns": {"pressure": {"heading": "a", "units": "mbar"}}},
        {"columns": {"pressure": {"heading": "a", "unit": 3}}},
    ],
)
def test_a_broken_column_map_is_refused(plain: object) -> None:
    with pytest.raises(BadColumnMap):
        column_map(plain)


def test_clock_times_pass_midnight_and_dates_are_read() -> None:
    header = "Time;pressure [mbar];speed"
    got = log_of("23:59:59;1;820", "00:00:01;1;820", header=header)
    assert got.time_s[1] - got.time_s[0] == 2.0
    dated = log_of("2024-05-31 14:02:10;1;820", "2024-05-31T14:02:12;1;820", header=header)
    assert dated.time_s == [0.0, 2.0]
    assert "is no time" in problems_of(b"Time;pressure [mbar];speed\nnoon;1;820")


def test_gaps_repeats_and_clock_jumps_are_reported_with_lines() -> None:
    rows = [f"{t};22;820;9;168" for t in (0, 1, 2, 2, 3, 60, 61, 30, 31)]
    got = log_of(*rows)
    said = " / ".join(got.notes)
    assert "time repeated, later row left out: line 5" in said
    assert "gap of more than 5 s: line 7" in said
    assert "the clock jumps back: line 9" in said
    assert len(got.time_s) == 8


def test_exchanged_columns_are_reported() -> None:
    header = HEADER + ";Coolant [degC]"
    got = log_of("0;22;820;9;86;168", "1;22;820;9;86;168", header=header)
    assert "coolant and exhaust look exchanged" in got.notes
    turned = log_of("0;820;22;9;168;86", "1;820;22;9;168;86", header=header)
    assert any("pressure and speed look exchanged" in n for n in turned.notes)


def test_an_empty_cell_is_a_gap_and_never_nought() -> None:
    got = log_of("0;22;820;;168", "1;22;820;n/a;168")
    assert all(v != v for v in got.values["air"])


def test_air_in_mg_per_stroke_needs_the_cylinders() -> None:
    text = HEADER.replace("[g/s]", "[mg/stroke]") + "\n0;22;800;480;168"
    assert "number of cylinders" in problems_of(text.encode())
    assert read_log(text.encode(), cylinders=4).values["air"][0] == pytest.approx(0.0128)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400))
def test_no_bytes_break_the_reader(data: bytes) -> None:
    try:
        read_log(data)
    except BadLog as bad:
        assert 1 <= len(bad.problems) <= 100


cell = st.one_of(
    st.sampled_from(["", "-", "1", "22", "2,5", "1,234", "1.5", "9" * 400, "1e5", "nan", "x", '"']),
    st.text(alphabet='0123456789.,;-+eE" \tmbar\n\x1f\x00', max_size=6),
)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(cell, min_size=3, max_size=6), max_size=8), st.sampled_from(";,\t|"))
@example(rows=[["", "", ""], ["", "", "\n", "", ",\x1f"]], delimiter=";")
def test_no_hostile_table_breaks_the_reader_or_the_windows(
    rows: list[list[str]], delimiter: str
) -> None:
    header = delimiter.join(["Time [s]", "pressure [mbar]", "speed"])
    text = "\n".join([header, *(delimiter.join(r) for r in rows)])
    try:
        got = read_log(text.encode("utf-8", "surrogatepass"))
    except BadLog as bad:
        assert all(p.remedy for p in bad.problems)
        return
    steady_windows(got)


def drive(seed: int, seconds_a_hold: float = 40.0, rate_hz: float = 10.0) -> bytes:
    rng = random.Random(seed)
    rows = [HEADER]
    holds = ((820.0, 22.0, 9.0), (2500.0, 96.0, 40.0), (0.0, 0.5, 0.0))
    t = 0.0
    for speed, pressure, air in holds:
        for _ in range(int(seconds_a_hold * rate_hz)):
            n = speed + rng.gauss(0, 8) if speed else 0.0
            rows.append(f"{t:.1f};{pressure + rng.gauss(0, 0.5):.2f};{n:.0f};{air:.1f};180")
            t += 1 / rate_hz
    return "\n".join(rows).encode()


def test_steady_windows_become_the_three_sets_with_their_spread() -> None:
    got = read_log(drive(1))
    windows = steady_windows(got)
    assert [round(w.means["speed"], -1) for w in windows] == [820, 2500, 0]
    sets = {s.condition: s for s in sets_from_windows(windows, got, VEHICLE, "before")}
    assert set(sets) == {"zero", "idle", "raised"}
    assert sets["raised"].pressure_pa == pytest.approx(9600, abs=20)
    assert sets["raised"].spread_pa == pytest.approx(50, rel=0.3)
    assert sets["raised"].averaged_s == pytest.approx(10, abs=0.2)
    assert sets["zero"].air_kg_s is None
    assert "log" in sets["idle"].typed and sets["idle"].readings[0].source == "logged"


def test_a_hold_that_is_too_short_or_unsteady_gives_no_window() -> None:
    assert steady_windows(read_log(drive(2, seconds_a_hold=25.0))) == []
    rows = [f"{t};22;{820 + (t % 2) * 300};9;168" for t in range(60)]
    assert steady_windows(log_of(*rows)) == []


def test_a_gap_ends_a_window_and_a_missing_speed_is_bridged() -> None:
    times = [*range(40), *range(100, 125)]
    windows = steady_windows(log_of(*[f"{t};22;820;9;168" for t in times]))
    assert [(w.start_s, w.end_s) for w in windows] == [(0, 39)]
    rows = [f"{t};22;{'' if t == 20 else 820};9;168" for t in range(60)]
    assert [(w.start_s, w.end_s) for w in steady_windows(log_of(*rows))] == [(0, 59)]


def test_a_window_stays_within_its_band_whatever_the_log() -> None:
    rng = random.Random(3)
    n, rows, speeds = 900.0, [], []
    for t in range(3000):
        n = min(3000.0, max(600.0, n + rng.gauss(0, 12)))
        speeds.append(round(n))
        rows.append(f"{t};22;{speeds[-1]};9;168")
    windows = steady_windows(log_of(*rows), held_s=10)
    assert windows
    for w in windows:
        held = speeds[w.first_line - 2 : w.last_line - 1]
        middle = sorted(held)[len(held) // 2]
        assert sum(abs(n - middle) <= 100 for n in held) >= 0.95 * len(held)
        assert w.end_s - w.start_s >= 10
    ends = [(w.start_s, w.end_s) for w in windows]
    assert all(a[1] < b[0] for a, b in pairwise(ends))


def test_drift_of_the_pressure_is_reported() -> None:
    rows = [f"{t};{90 - t / 6:.3f};2500;40;200" for t in range(60)]
    assert steady_windows(log_of(*rows))[0].drift_pa_min == pytest.approx(-1000, rel=0.01)


def test_200_000_rows_take_about_a_second_of_processor_time() -> None:
    data = drive(4, seconds_a_hold=6667.0)
    read_log(drive(5))  # loads what is loaded once
    start = time.process_time()
    got = read_log(data)
    steady_windows(got)
    assert len(got.time_s) > 200_000
    # About 1 s on an ordinary machine; the allowance is for a busy one.
    assert time.process_time() - start < 4.0
