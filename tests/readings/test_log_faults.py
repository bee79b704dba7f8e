"""Logs as loggers write them: steady windows are found, nothing wrong is taken for a pressure."""

import random
from collections.abc import Callable

import pytest
from steplatch.runner.readings.logs import read_log
from steplatch.runner.readings.steady import sets_from_windows, steady_windows, taken_notes

from tests.assess.sets import VEHICLE

HEAD = "Time [s];Pressure [mbar];Speed [1/min];Air flow [g/s];Exhaust temperature [degC]"
HOLDS = ((820.0, 31.0, 9.0), (2500.0, 96.0, 40.0), (0.0, 0.5, 0.0))
Row = list[str]


def rows(seed: int, noise: float = 8.0, rate_hz: float = 4.0) -> list[Row]:
    """Idle, raised and stopped, 40 s each, with a ramp between."""
    rng = random.Random(seed)
    out, t, last = [], 0.0, 820.0
    for speed, mbar, air in HOLDS:
        for k in range(int(5 * rate_hz)):
            ramp = last + (speed - last) * k / (5 * rate_hz)
            out.append([f"{t:.2f}", f"{mbar:.1f}", f"{ramp:.0f}", f"{air:.1f}", "180"])
            t += 1 / rate_hz
        for _ in range(int(40 * rate_hz)):
            n = speed + rng.gauss(0, noise) if speed else 0.0
            shown = f"{mbar + rng.gauss(0, 0.4):.1f}"
            out.append([f"{t:.2f}", shown, f"{n:.0f}", f"{air:.1f}", "180"])
            t += 1 / rate_hz
        last = speed
    return out


def missing(table: list[Row], rng: random.Random) -> None:
    for row in table:
        for at in range(1, 5):
            if rng.random() < 0.15:
                row[at] = rng.choice(("", "-", "--", "n/a"))


def spikes(table: list[Row], rng: random.Random) -> None:
    for row in table:
        if rng.random() < 0.03:
            row[2] = str(rng.choice((0, 6000, 3500)))
        if rng.random() < 0.02:
            row[1] = rng.choice(("6553.5", "400.0", "-99.0"))


def shuffled(table: list[Row], rng: random.Random) -> None:
    for at in range(0, len(table) - 4, 4):
        if rng.random() < 0.4:
            a, b = at + rng.randrange(4), at + rng.randrange(4)
            table[a], table[b] = table[b], table[a]


def one_channel_a_row(table: list[Row], rng: random.Random) -> None:
    for at, row in enumerate(table):
        for column in range(1, 5):
            if column != 1 + at % 4:
                row[column] = ""


def clean(table: list[Row], rng: random.Random) -> None:
    pass


Fault = Callable[[list[Row], random.Random], None]


@pytest.mark.parametrize("fault", [clean, missing, spikes, shuffled, one_channel_a_row])
@pytest.mark.parametrize("noise", [8.0, 30.0])
def test_each_window_is_found_with_its_pressure_whatever_the_logger_does(
    fault: Fault, noise: float
) -> None:
    found = wrong = 0
    for seed in range(8):
        table = rows(seed, noise)
        fault(table, random.Random(seed + 77))
        got = read_log("\n".join([HEAD, *(";".join(row) for row in table)]).encode())
        windows = steady_windows(got)
        sets = {s.condition: s for s in sets_from_windows(windows, got, VEHICLE, "before")}
        for name, mbar, speed in (("idle", 31, 820), ("raised", 96, 2500), ("zero", 0.5, 0)):
            one = sets.get(name)  # type: ignore[call-overload]
            if one is None:
                continue
            assert one.pressure_pa is not None and one.speed_rpm is not None
            found += 1
            wrong += abs(one.pressure_pa - 100 * mbar) > 60 or abs(one.speed_rpm - speed) > 30
    assert wrong == 0
    assert found >= 23, f"{found} of 24"


def test_empty_cells_and_numbers_for_no_value_are_counted_aloud() -> None:
    table = rows(1)
    table[40][1] = "6553.5"
    for row in table[60:70]:
        row[4] = "--"
    got = read_log("\n".join([HEAD, *(";".join(row) for row in table)]).encode())
    windows = steady_windows(got)
    sets = sets_from_windows(windows, got, VEHICLE, "before")
    said = " ".join((*got.notes, *taken_notes(sets, windows, got)))
    assert "1 cells hold 6553.5" in said and "exhaust: 10 of" in said


def test_a_frozen_pressure_is_not_taken_and_that_is_said() -> None:
    table = rows(2)
    for row in table[100:]:
        row[1] = table[100][1]
    got = read_log("\n".join([HEAD, *(";".join(row) for row in table)]).encode())
    windows = steady_windows(got)
    sets = sets_from_windows(windows, got, VEHICLE, "before")
    assert "raised" not in {s.condition for s in sets}
    assert any("frozen" in note for note in taken_notes(sets, windows, got))


def test_a_level_window_goes_before_a_longer_one_that_drifts() -> None:
    wet = [f"{t};{90 - 0.2 * t:.1f};2500;40;200" for t in range(120)]
    ramp = [f"{120 + t};20;{2500 - 160 * t};9;200" for t in range(10)]
    dry = [f"{130 + t};60.0;2500;40;200" for t in range(40)]
    got = read_log("\n".join([HEAD, *wet, *ramp, *dry]).encode())
    windows = steady_windows(got)
    (raised,) = (s for s in sets_from_windows(windows, got, VEHICLE, "after")
                 if s.condition == "raised")  # fmt: skip
    assert raised.pressure_pa == pytest.approx(6000)
    only = read_log("\n".join([HEAD, *wet]).encode())
    held = steady_windows(only)
    drifting = sets_from_windows(held, only, VEHICLE, "after")
    assert any("drifts by -12.0" in note for note in taken_notes(drifting, held, only))


def test_headings_are_found_by_the_words_that_they_hold() -> None:
    head = ("Time [s];Particle filter differential pressure (mbar);Engine speed sensor 1 [1/min];"
            "Vehicle speed [km/h];Ambient pressure [mbar]")  # fmt: skip
    got = read_log(f"{head}\n0;31;820;0;1000\n1;31;820;0;1000".encode())
    assert got.values["pressure"][0] == pytest.approx(3100) and got.values["speed"][0] == 820
