"""Judging outside a job: the page explains itself, bad input is refused in words."""

import json
from pathlib import Path

import pytest
from steplatch.runner.cli import exits
from steplatch.runner.cli.main import main

WORKSHOP = Path(__file__).parents[2] / "examples" / "workshop"
BEFORE = "raised: 96 2500 40 215 88 shut\nidle: 19 820 9.0 168 86 open\nzero: 0.5 0 x 150 86 x\n"
AFTER = "raised: 61 2500 40 215 88 shut\nidle: 12.5 822 9.1 167 86 open\nzero: 0.4 0 x 150 86 x\n"
ROAD = "raised: 60 2500 40 218 88 shut\nidle: 12.3 822 9.1 170 86 open\nzero: 0.4 0 x 150 86 x\n"


def judged(
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    after: str,
    *more: str,
    workshop: str = "",
) -> tuple[int, str, str]:
    """Exit code, output and errors of ``compare`` on two readings files."""
    (folder / "b.yaml").write_text(BEFORE, encoding="utf-8")
    (folder / "a.yaml").write_text(after, encoding="utf-8")
    own = WORKSHOP / "workshop.yaml"
    if workshop:
        own = folder / "workshop.yaml"
        own.write_text(workshop, encoding="utf-8")
    files = (str(folder / "b.yaml"), str(folder / "a.yaml"))
    vehicle = ("--vehicle", str(WORKSHOP / "vehicle.yaml"), "--workshop", str(own))
    code = main(["compare", *files, *vehicle, *more])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_page_shows_readings_verdict_fit_and_the_row_that_decided(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = judged(tmp_path, capsys, AFTER)
    assert code == exits.OK
    for part in (
        "96 mbar = 9.60 kPa", "40 g/s = 144.00 kg/h",  # each unit with its equivalent
        "VERDICT  improved, not shown to be normal", "for the same flow and warmth, 95 %",
        "left over", "points agree: chi-square", "facts: comparable yes, gain better",
        "decided by the first row that fits: above_better (level above, gain better)",
    ):  # fmt: skip
        assert part in out, part


def test_two_logs_are_compared_in_words_and_their_means_read_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    head = ("Time [s];Particle filter differential pressure (mbar);Engine speed [1/min];"
            "Air flow [g/s];Exhaust temperature [degC]")  # fmt: skip
    for name, raised in (("b.csv", 96.0), ("a.csv", 61.0)):
        table = [head]
        holds = (
            (0, raised, 2500, 40, 215),
            (50, raised / 5, 820, 9, 168),
            (100, 0.5, 0, 0, 150),
        )
        for start, mbar, speed, air, degc in holds:
            table += [f"{start + t};{mbar + 0.1 * (t % 3):.1f};{speed};{air};{degc}"
                      for t in range(40)]  # fmt: skip
        (tmp_path / name).write_text("\n".join(table), encoding="utf-8")
    files = [str(tmp_path / name) for name in ("b.csv", "a.csv")]
    assert main(["compare", *files, "--vehicle", str(WORKSHOP / "vehicle.yaml")]) == exits.OK
    out = capsys.readouterr().out
    assert "VERDICT" in out and "9.61 kPa" in out and "mean of log" in out


def test_a_zero_that_was_not_read_is_said_to_be_taken_and_not_read(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = judged(tmp_path, capsys, AFTER.partition("zero:")[0])
    assert "zero: share 0.000, taken as 0.0" in out and "not measured: zero after" in out
    assert "zero: share 0.000, read 0.5" in out  # the one before was


def test_the_third_set_of_readings_counts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "r.yaml").write_text(ROAD, encoding="utf-8")
    code, out, _ = judged(tmp_path, capsys, AFTER, "--road", str(tmp_path / "r.yaml"))
    assert code == exits.OK and "road confirms" in out
    assert "hot and dry after a road test" not in out


def test_the_json_is_one_object_with_the_documented_keys(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = judged(tmp_path, capsys, AFTER, "--json")
    got = json.loads(out)
    assert list(got) == [
        "output", "schema",
        "id", "title", "row", "facts", "reasons", "look_at", "corrected", "advice", "to_do",
        "limits", "gain", "before", "after", "road", "clean", "ash", "not_measured", "return_days",
        "return_km", "customer", "readings", "questions", "notes",
    ]  # fmt: skip
    assert got["gain"]["ratio_share"] == pytest.approx(0.63, abs=0.03)
    assert got["readings"][0]["pressure_pa"] == 9600.0


def test_files_given_the_wrong_way_round_are_flagged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "worse.yaml").write_text(AFTER, encoding="utf-8")
    harder = AFTER.replace("61 ", "140 ").replace("12.5 ", "28 ")
    _, out, _ = judged(tmp_path, capsys, harder)
    assert "contradictory" in out and "before and after swapped" in out


@pytest.mark.parametrize(
    ("after", "question"),
    [
        (AFTER.replace("61 ", "6.1 "), "out by ten"),
        (AFTER.replace(" 40 ", " 144 "), "kg/h would fit"),
        (AFTER.replace("12.5 ", "61 "), "frozen or a substitute value"),
        (AFTER.replace("215", "420"), "degF"),
    ],
)
def test_what_is_odd_asks_for_a_second_look_and_does_not_block(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], after: str, question: str
) -> None:
    code, out, _ = judged(tmp_path, capsys, after)
    assert code == exits.OK
    assert any(question in line for line in out.splitlines() if "second look: after" in line)


# Typed numbers that mean nothing, or two things: refused, never repaired.
@pytest.mark.parametrize(
    "typed",
    ["NaN", "inf", "-inf", "1e309", "1,234", "1.234,5", "６１", "٦١", "6O", "0x3D", "6_1",
     "9" * 5000, "61..0", "--61", "61kg", "1/0"],
)  # fmt: skip
def test_a_malformed_number_is_refused_with_file_line_item_and_remedy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], typed: str
) -> None:
    code, out, err = judged(tmp_path, capsys, AFTER.replace("61 ", f"{typed} ", 1))
    assert code != exits.OK and out == ""
    assert "a.yaml:1:9: raised: item 1: " in err
    assert "x if this vehicle does not show it" in err and len(err) < 500


def test_high_ground_and_frost_are_heeded(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    high = "label: pass\naltitude: 3000 m\nair: -20 °C\n"
    _, level, _ = judged(tmp_path, capsys, AFTER, "--json")
    _, raised, _ = judged(tmp_path, capsys, AFTER, "--json", workshop=high)
    low, top = json.loads(level), json.loads(raised)
    # Thinner air flows faster for its mass: by the pressures of the standard atmosphere.
    ratio = top["before"]["at_reference_mbar"] / low["before"]["at_reference_mbar"]
    assert ratio == pytest.approx(70121.2 / 101325, abs=0.03)
    assert top["gain"]["percent"] == pytest.approx(low["gain"]["percent"], abs=1.0)


def test_pressure_in_inches_and_air_in_mg_per_stroke_give_the_same_judgement(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # 1 inH2O = 249.089 Pa (NIST SP 811, B.8); 40 g/s at 2500 1/min, four cylinders: 480 mg.
    other = AFTER.replace("61 2500 40", "24.49inH2O 2500 480mg/stroke")
    _, plain, _ = judged(tmp_path, capsys, AFTER, "--json")
    _, inches, _ = judged(tmp_path, capsys, other, "--json")
    one, two = (json.loads(text)["gain"]["percent"] for text in (plain, inches))
    assert one == pytest.approx(two, abs=0.11)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (["--displacement", "2.0", "--cylinders", "4"], "has no unit"),
        (["--displacement", "0 L", "--cylinders", "4"], "cylinder"),
        (["--displacement", "2.0 L", "--cylinders", "0"], "cylinders"),
        (["--displacement", "2.0 L", "--cylinders", "4", "--ratio", "1"], "ratio"),
        (["--displacement", "2.0 L", "--cylinders", "4", "--shot", "20 mL", "--shot-time", "0 s"],
         "no length of a shot"),
        (["--displacement", "2.0 L", "--cylinders", "4", "--shot=-20 mL"], "-20 mL"),
        (["--displacement", "1e309 L", "--cylinders", "4"], "exponent"),
        (["--displacement", "2.0 L", "--cylinders", "4", "--shot", "0 mL"], "mL/s"),
    ],
)  # fmt: skip
def test_bare_numbers_that_cannot_be_are_refused_in_words(
    capsys: pytest.CaptureFixture[str], given: list[str], says: str
) -> None:
    assert main(["dose", *given]) == exits.USAGE
    out = capsys.readouterr()
    assert out.out == "" and says in out.err and "division" not in out.err


def test_the_fluid_sum_on_bare_numbers_shows_its_working(
    capsys: pytest.CaptureFixture[str],
) -> None:
    shots = ["--shot", "19 mL", "--shot", "20 mL", "--shot", "21 mL"]
    given = ["dose", "--displacement", "2.0 L", "--cylinders", "4", "--ratio", "16", *shots]
    assert main(given) == exits.OK
    text = capsys.readouterr().out
    assert "space at top dead centre = 500 mL / (16 - 1) = 33.33 mL" in text
    assert "burst: too short to time, use the syringe: load 16 mL" in text
    assert main([*given, "--json"]) == exits.OK
    assert set(json.loads(capsys.readouterr().out)) == {
        "output", "schema", "strict_ml", "lines", "source", "assumptions", "advice",
    }  # fmt: skip


@pytest.mark.parametrize("code", ["P20O2", "", "P" * 400, "Р2002", "2002"])
def test_what_is_no_code_is_refused_shortly(capsys: pytest.CaptureFixture[str], code: str) -> None:
    assert main(["codes", code]) == exits.USAGE
    err = capsys.readouterr().err
    assert "is not a trouble code" in err and "such as P2002" in err and len(err) < 200


def test_a_log_without_units_or_rows_is_refused_with_its_remedy(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for text, says in (("", "empty"), ("time,pressure [mbar],speed\n0,1,800\n", "no unit")):
        log = tmp_path / "drive.csv"
        log.write_text(text, encoding="utf-8")
        code = main(["steady", str(log)])
        assert code != exits.OK and says in capsys.readouterr().err
