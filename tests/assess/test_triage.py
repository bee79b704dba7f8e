"""Triage: the gravest reason decides, unknown is never a good answer."""

import json
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from steplatch.runner.assess.facts import choice_domains, question
from steplatch.runner.assess.tables import as_when, load_table, matches
from steplatch.runner.assess.triage import TriageDecision, triage, triage_domains
from steplatch.runner.core.reading_set import ReadingSet

from tests.assess.sets import BEFORE, GOOD_FACTS, NORMAL, VEHICLE, WORKSHOP, three
from tests.each import each


def told(before: list[ReadingSet] = BEFORE, **facts: object) -> TriageDecision:
    return triage(before, VEHICLE, WORKSHOP, GOOD_FACTS | facts)


def test_a_blocked_filter_with_good_answers_is_a_go() -> None:
    got = told()
    assert got.decision == "go" and got.reasons == ()
    assert got.expected is not None and 60 < got.expected.high_percent < 100
    assert "nothing at all is possible" in "\n".join(got.lines())


def test_a_normal_pressure_is_nothing_to_clean() -> None:
    before = [replace(s, phase="before") for s in NORMAL]
    got = told(before, soot_model="normal")
    assert got.decision == "nothing_to_clean"
    assert any("Look for why the lamp is on" in r.text for r in got.reasons)


# Contra-indications: common practice, no source.
@pytest.mark.parametrize(
    ("facts", "row"),
    [
        ({"burning": "yes"}, "burning"),
        ({"fuel": "other"}, "other_fuel"),
        ({"core_condition": "melted"}, "core_broken"),
        ({"core_condition": "missing"}, "core_missing"),
        ({"core_condition": "rattle"}, "outward_signs"),
        ({"oil_level": "over"}, "oil_over"),
        ({"oil_level": "thinned"}, "oil_over"),
        ({"oil_or_coolant_in_filter": "suspected"}, "contaminated"),
        ({"coating": "not_approved"}, "coating"),
        ({"soot_model": "over_limit"}, "soot_over"),
        ({"line_test": "split"}, "line_bad"),
        ({"line_test": "not_done"}, "line_untested"),
        ({"codes": ["P2453"]}, "code_blocks"),
        ({"codes": ["P244A"]}, "code_contradicts"),
        ({"codes": ["P2002"]}, "code_contradicts"),
    ],
)
def test_a_contraindication_is_a_dont_that_says_until_what(
    facts: dict[str, object], row: str
) -> None:
    got = told(**facts)
    assert got.decision == "dont"
    mine = next(r for r in got.reasons if r.id == row)
    assert mine.until and mine.source
    assert got.expected is None


@pytest.mark.parametrize(
    ("facts", "row"),
    [
        ({"ash_state": "at_limit"}, "ash_limit"),
        ({"ash_state": "high"}, "ash_high"),
        ({"codes": ["P242F"]}, "ash_code"),
        ({"regeneration_spacing": "close"}, "close_burns"),
        ({"root_cause": "open"}, "cause_open"),
        ({"soot_model": "low"}, "mismatch"),
        ({"codes": ["P2459"]}, "code_asks"),
        ({"low_pressure_recirculation": "yes"}, "low_pressure_loop"),
    ],
)
def test_a_doubt_is_a_go_with_a_warning_in_writing(facts: dict[str, object], row: str) -> None:
    got = told(**facts)
    assert got.decision == "go_with_warning"
    assert next(r for r in got.reasons if r.id == row).text in got.warnings


def test_a_low_pressure_is_a_dont() -> None:
    low = three("before", "1.0 2500 40 215 88 shut", "0.6 820 9 168 86 open")
    assert told(low).decision == "dont"
    assert any(r.id == "pressure_low" for r in told(low).reasons)


def test_a_low_code_with_a_pressure_that_is_not_high_is_a_dont() -> None:
    before = [replace(s, phase="before") for s in NORMAL]
    got = told(before, codes=["P2002"])
    assert got.decision == "dont" and any(r.id == "low_and_code" for r in got.reasons)


def test_no_readings_or_unusable_ones_are_a_dont() -> None:
    assert told([]).decision == "dont"
    bad = three("before", "-40 2500 40 215 88 x", None)
    got = told(bad)
    assert got.decision == "dont" and any("does not rise" in r.text for r in got.reasons)


def test_a_burn_flag_in_the_readings_counts_whatever_was_answered() -> None:
    burning = [replace(s, burning=True) for s in BEFORE]
    assert any(r.id == "burning" for r in told(burning, burning="no").reasons)


def test_answers_left_out_are_never_a_plain_go() -> None:
    good = dict(GOOD_FACTS)
    for name in good:
        if name in ("codes", "filter_dry", "hose_clear", "plateau", "loads_off", "car_level"):
            continue  # These belong to the readings after the work.
        left_out = {k: v for k, v in good.items() if k != name}
        got = triage(BEFORE, VEHICLE, WORKSHOP, left_out)
        # Ash, spacing and modelled soot are "not shown" on many vehicles, and then say nothing.
        if name not in ("ash_state", "regeneration_spacing", "soot_model"):
            assert got.decision != "go", name
    assert triage(BEFORE, VEHICLE, WORKSHOP, {}).decision == "dont"


def test_urea_dosed_after_the_filter_is_asked_about_whatever_was_answered() -> None:
    vehicle = replace(VEHICLE, urea_after_filter=True)
    got = triage(BEFORE, vehicle, WORKSHOP, GOOD_FACTS)
    assert any(r.id == "coating_unknown" for r in got.reasons)


def test_one_hose_is_warned_about() -> None:
    got = triage(BEFORE, replace(VEHICLE, one_hose=True), WORKSHOP, GOOD_FACTS)
    assert any(r.id == "one_hose" for r in got.reasons) and got.expected is None


def test_the_table_names_only_facts_that_exist_and_every_row_a_source() -> None:
    domains = triage_domains()
    for row in load_table("triage")["rows"]:
        assert row["source"] and row["reason"]
        assert set(row["when"]) <= set(domains)
    for name in choice_domains():
        assert question(name).endswith("?")


def test_the_triage_is_plain_json_and_plain_text() -> None:
    got = told(codes=["P2463"], distance_km=120_000)
    json.dumps(got.to_json())
    text = "\n".join(got.lines())
    assert text.startswith("TRIAGE  go") and "P2463" in text and "Ash from" in text


def rows_that_speak(facts: dict[str, str]) -> list[str]:
    """Ids of the rows of the table that hold, by the one function that reads it."""
    rows = [
        (row["id"], as_when("triage", row["id"], row["when"], triage_domains()))
        for row in load_table("triage")["rows"]
    ]
    return [name for name, when in rows if matches(when, facts)]


QUIET = {name: str(value) for name, value in GOOD_FACTS.items() if name != "codes"} | {
    "pressure": "above", "points": "agree", "codes": "none", "readable": "yes",
    "code_block": "no", "code_question": "no", "code_ash": "no", "one_hose": "no",
    "ash_by_distance": "low", "soot_model": "normal",
}  # fmt: skip

# A normal pressure is "nothing to clean" whatever the modelled soot; the doubt is told beside it.
BESIDE = {"model_high_pressure_ok": ["nothing"]}


def test_no_row_speaks_on_a_blocked_filter_with_good_answers() -> None:
    assert rows_that_speak(QUIET) == []


@each("row", load_table("triage")["rows"], ids=lambda r: r["id"])
def test_each_row_speaks_alone_on_its_own_facts_and_no_longer_without_one(
    row: dict[str, Any],
) -> None:
    when = as_when("triage", row["id"], row["when"], triage_domains())
    for values in product(*when.values()):
        mine = QUIET | dict(zip(when, values, strict=True))
        assert row["id"] in rows_that_speak(mine), values
    only = sorted([row["id"], *BESIDE.get(row["id"], [])])
    tried = [QUIET | dict(zip(when, values, strict=True)) for values in product(*when.values())]
    alone = [facts for facts in tried if sorted(rows_that_speak(facts)) == only]
    assert alone, "another row always speaks with it: this one decides nothing"
    for name in when:
        others = [v for v in triage_domains()[name] if v not in when[name]]
        assert others, f"{name} may have any value, so the row need not name it"
        assert all(row["id"] not in rows_that_speak(alone[0] | {name: v}) for v in others)
