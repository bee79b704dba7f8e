"""Trouble codes: the format is strict, the generic meaning is told with what follows from it."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from steplatch.runner.assess.codes import (
    MAKERS_DIFFER,
    BadCode,
    describe,
    describe_all,
    lines,
)
from steplatch.runner.assess.tables import load_table

from tests.each import each

LISTED = {row["code"] for row in load_table("codes")}


@given(st.sampled_from("PCBU"), st.integers(0, 3), st.integers(0, 0xFFF))
def test_every_code_of_the_standard_format_is_described(letter: str, kind: int, rest: int) -> None:
    # Format: SAE J2012 / ISO 15031-6, one letter, one digit 0 to 3, three hexadecimal digits.
    got = describe(f"{letter}{kind}{rest:03X}")
    assert got.meaning and got.ask
    assert lines(got)


@pytest.mark.parametrize(
    "text", ["", "P20O2", "P2002 ", "P4002", "X2002", "P200", "P20022", "P2002-", "P2002-1", "2002"]
)
def test_what_is_no_code_is_refused_unless_only_spaces_stand_round_it(text: str) -> None:
    if text.strip() == "P2002":
        assert describe(text).code == "P2002"
        return
    with pytest.raises(BadCode, match="is not a trouble code"):
        describe(text)


@given(st.text(max_size=12))
def test_no_text_breaks_the_format_check(text: str) -> None:
    try:
        got = describe(text)
    except BadCode:
        return
    assert len(got.code) == 5


def test_a_failure_type_byte_is_kept_apart() -> None:
    got = describe("p2453-1c")
    assert (got.code, got.failure_type) == ("P2453", "1C")


@pytest.mark.parametrize(
    ("code", "owner"),
    [
        ("P0471", "standard"), ("P2002", "standard"), ("P1471", "maker"), ("P3105", "maker"),
        ("P3450", "standard"), ("B0039", "standard"), ("C1234", "maker"), ("B3000", "reserved"),
    ],
)  # fmt: skip
def test_standard_and_makers_codes_are_told_apart(code: str, owner: str) -> None:
    # P3000 to P33FF belong to makers, P3400 and up to the standard: ISO 14229-1 / SAE J2012.
    assert describe(code).owner == owner


# Meanings as in public lists of the generic codes, retyped (words that matter).
FAMILY = {
    "P2002": "efficiency below threshold", "P242F": "ash", "P2452": "circuit",
    "P2453": "range", "P2454": "low", "P2455": "high", "P2456": "intermittent",
    "P2458": "duration", "P2459": "frequency", "P245E": "sensor B", "P245F": "sensor B",
    "P2461": "sensor B", "P2462": "sensor B", "P2463": "soot", "P244A": "too low",
    "P244B": "too high", "P2080": "temperature", "P2084": "temperature", "P2031": "temperature",
    "P2032": "temperature", "P2033": "temperature", "P0544": "temperature",
    "P0545": "temperature", "P0546": "temperature", "P0470": "exhaust pressure",
    "P0471": "exhaust pressure", "P0472": "exhaust pressure", "P0473": "exhaust pressure",
    "P0474": "exhaust pressure", "P2003": "bank 2",
}  # fmt: skip


@each(("code", "word"), FAMILY.items())
def test_the_filter_and_sensor_family_has_its_generic_meaning(code: str, word: str) -> None:
    got = describe(code)
    assert got.listed and word in got.meaning
    assert MAKERS_DIFFER in "\n".join(lines(got))


def test_an_efficiency_code_points_to_a_low_pressure_and_asks() -> None:
    # "P2002 does not mean blocked": common practice, no source.
    got = describe("P2002")
    assert got.side == "low" and got.effect == "question" and got.self_inflicted
    assert "Does not mean blocked" in got.ask


def test_sensor_faults_block_and_are_what_the_work_itself_can_set() -> None:
    for code in ("P2452", "P2453", "P2454", "P2455", "P2456"):
        assert describe(code).effect == "block" and describe(code).self_inflicted


def test_the_table_is_whole() -> None:
    for code in LISTED:
        got = describe(code)
        assert got.listed and got.source and got.ask
    assert len(describe_all(["P2002", "p2002", "P2463"])) == 2


FAMILY = """
P2002 P2003 P200C P200D P226D P2428 P2429 P242F P244A P244B P244C P244D P244E P244F P2452 P2453
P2454 P2455 P2456 P2458 P2459 P245E P245F P2460 P2461 P2462 P2463 P2464 P2465 P246B P246C P246D
P24A0 P24A1 P24A2 P24A3 P24A4 P24A5 P24AE P24AF P24B0 P24B1 P24B2 P24B3 P24B4 P24B5 P24B6 P24B7
"""
"""Filter, its pressure sensors, regeneration, and the sensor that watches it: numbers of SAE J2012,
from memory."""


def test_every_filter_pressure_sensor_and_regeneration_code_is_listed() -> None:
    assert set(FAMILY.split()) <= LISTED


@pytest.mark.parametrize("code", ["P0420", "P1234", "B3000", "P2BAD"])
def test_a_code_that_is_not_listed_is_said_to_be_just_that(code: str) -> None:
    got = describe(code)
    assert not got.listed and "not in the list here" in got.meaning and "outside" not in got.meaning


def test_no_source_is_called_anonymised() -> None:
    root = Path(__file__).parents[2]
    for place in ("runner", "safety", "procedures"):
        for path in (root / place).rglob("*"):
            if path.suffix in (".py", ".yaml", ".md"):
                assert "anonymised" not in path.read_text(encoding="utf-8"), path
