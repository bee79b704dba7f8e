"""Files outside a job: a readings file or a log gives sets, or says everything wrong with it."""

import pytest
from steplatch.runner.assess.judge import judge
from steplatch.runner.core.typed_set import parse_set
from steplatch.runner.input.findings import BadFile
from steplatch.runner.readings.sources import log_lines, log_windows, sets_from_file
from steplatch.safety.limits.inputs import VehicleInput, Workshop

from tests.readings.test_logs import drive

VEHICLE = VehicleInput("2.0 L", 2e-3, 4)

TYPED = b"""\
raised: 96 2500 40 215 88 shut
idle: 19 820 9.0 168 86 open
zero: 0.5 0 x 150 86 x
line_name: pressure, measured
burning: "no"
"""


def test_a_readings_file_gives_the_sets_as_typed() -> None:
    got = sets_from_file(TYPED, "before.yaml", "before", VEHICLE)
    assert [s.condition for s in got.sets] == ["raised", "idle", "zero"]
    first = parse_set(
        "96 2500 40 215 88 shut",
        "raised",
        "before",
        line_name="pressure, measured",
        burning=False,
    )
    assert got.sets[0] == first


def test_units_and_lists_of_lines_are_heeded() -> None:
    text = b"units: {pressure: kPa}\nidle: [1.9 820 9 168 86 x, 2.0 820 9 168 86 x]\n"
    got = sets_from_file(text, "a.yml", "after", VEHICLE)
    assert [s.pressure_pa for s in got.sets] == [1900.0, 2000.0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("raised: 96 2500 40 215 88\n", "5 items where 6 belong"),
        ("raised: 96 25O0 40 215 88 shut\n", "item 2"),
        ("fast: 96 2500 40 215 88 shut\n", "no such key"),
        ("zero: 0.5 0 x 150 86 x\n", "engine running"),
        ("units: {presure: kPa}\nidle: 2 820 9 168 86 x\n", "no such quantity"),
        ("idle: 3\n", "no line of readings"),
        ("burning: perhaps\nidle: 2 820 9 168 86 x\n", "no answer"),
        ("- 1\n", "not a readings file"),
        ("idle: [\n", "a.yaml:"),
    ],
)
def test_a_broken_readings_file_is_refused_with_file_line_and_remedy(text: str, says: str) -> None:
    with pytest.raises(BadFile) as caught:
        sets_from_file(text.encode(), "a.yaml", "before", VEHICLE)
    assert says in str(caught.value)
    assert "a.yaml:" in str(caught.value)


def test_a_log_gives_sets_and_both_kinds_can_be_judged_together() -> None:
    before = sets_from_file(drive(7), "before.csv", "before", VEHICLE)
    after = sets_from_file(
        b"raised: 61 2500 40 180 88 x\nidle: 14 820 9.0 180 86 x\nzero: 0.5 0 x 150 86 x\n",
        "after.yaml",
        "after",
        VEHICLE,
    )
    got = judge(before.sets, after.sets, None, VEHICLE, Workshop("bay"), {})
    assert got.gain is not None and got.gain.low_percent < 37 < got.gain.high_percent


def test_a_log_without_a_steady_window_is_refused() -> None:
    with pytest.raises(BadFile, match="no steady window"):
        sets_from_file(drive(7, seconds_a_hold=20), "b.csv", "before", VEHICLE)


def test_a_bad_log_names_its_lines() -> None:
    with pytest.raises(BadFile, match=r"b\.csv:2:1: pressure: 'x1' is no number"):
        log_windows(b"Time [s];pressure [mbar];speed\n0;x1;820", "b.csv", VEHICLE)


def test_the_windows_of_a_log_are_told_in_plain_text() -> None:
    log, windows = log_windows(drive(7), "b.csv", None)
    text = "\n".join(log_lines(log, windows))
    assert text.startswith("STEADY  3 windows")
    assert "1/min, 22.0 mbar" in text and "mbar a minute" in text
