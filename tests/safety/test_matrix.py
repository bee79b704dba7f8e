"""The printed tables say what the tables that decide hold."""

import csv
import io

import pytest
from steplatch.safety.bay import FACTS, Act, Engine, Fumes, Hose
from steplatch.safety.interlocks import INTERLOCKS, Both, Either, Is, Rule
from steplatch.safety.occurrences import Happening
from steplatch.safety.verify.matrix import cause_rows, effect_rows, interlock_rows, render, words

TABLES = {"interlocks": interlock_rows(), "causes": cause_rows(), "effects": effect_rows()}


def test_a_condition_reads_as_a_person_would_say_it() -> None:
    still = Is("engine", (Engine.STOPPED,))
    shut = Is("hose", (Hose.ON, Hose.OFF))
    dry = Rule("ledger is zero", frozenset({"wet"}), lambda b, a, m: b.wet == 0)
    assert words(still) == "engine is stopped"
    assert words(Is("fumes", (Fumes.DOOR_OPEN,))) == "fumes is door open"
    assert words(Either((dry, still))) == "ledger is zero or engine is stopped"
    assert words(Both((shut, Either((dry, still))))) == (
        "hose is on or off and (ledger is zero or engine is stopped)"
    )


def test_every_interlock_stands_in_the_list_with_reason_remedy_and_source() -> None:
    rows = TABLES["interlocks"]
    assert [row["interlock"] for row in rows] == [row.id for row in INTERLOCKS]
    assert all(value for row in rows for value in row.values())
    told = {row["interlock"]: (row["invariant"], row["waiver"]) for row in rows}
    assert told["codes-saved-first"] == ("none", "once, by another person")
    assert told["start-ledger"] == ("1", "none")


def test_every_act_stands_in_the_causes_with_the_interlocks_that_can_refuse_it() -> None:
    rows = TABLES["causes"]
    assert [row["act"] for row in rows] == [act.value.replace("_", " ") for act in Act]
    assert (rows[0]["start-soak"], rows[2]["start-soak"]) == ("", "x"), "ignition on, start"
    crosses = sum(cell == "x" for row in rows for cell in row.values())
    assert crosses == sum(len(row.acts) for row in INTERLOCKS)


def test_every_happening_has_a_cell_for_every_fact() -> None:
    rows = {row["event"]: row for row in TABLES["effects"]}
    assert len(rows) == len(TABLES["effects"])
    assert {what.value.replace("_", " ") for what in Happening} <= set(rows)
    assert set(rows["started"]) == {"event", *FACTS, "wet"}
    assert rows["started"]["engine"] == "idling"
    assert rows["started"]["port"] == "?"
    assert rows["started"]["hose"] == ""
    assert rows["started"]["run_on"] == "running>?"
    assert rows["cranked no fire"]["hand_turn"] == "valid>retry, retry>?, turned>?"
    assert rows["interrupted"]["sensor"] == "?"
    assert rows["spray ended"]["wet"] == "settle"
    assert rows["hose off"]["wet"] == "", "what leaves the ledger alone shows nothing"


def test_permits_looks_lapses_and_trips_stand_among_the_effects() -> None:
    rows = {row["event"]: row for row in TABLES["effects"]}
    assert rows["permitted: spray off"]["wet"] == "reserve"
    assert rows["seen: arrival dry"]["wet"] == "arrive"
    assert rows["seen: road ready"]["fumes"] == "nothing"
    assert rows["seen: crew otherwise"]["controls"] == "?"
    assert all(rows[f"not answered: {act.value.replace('_', ' ')}"] for act in Act)
    assert rows["not answered: run on"]["run_on"] == "?"
    assert rows["a trip or its reset"]["recovery"] == "?"


@pytest.mark.parametrize("name", sorted(TABLES))
def test_the_csv_reads_back_as_the_same_rows(name: str) -> None:
    assert list(csv.DictReader(io.StringIO(render(TABLES[name], "csv")))) == TABLES[name]


@pytest.mark.parametrize("name", sorted(TABLES))
def test_text_and_markdown_hold_one_line_a_row_under_their_head(name: str) -> None:
    for form in ("text", "markdown"):
        lines = render(TABLES[name], form).splitlines()
        assert len(lines) == len(TABLES[name]) + 2
        assert all(str(column) in lines[0] for column in TABLES[name][0])


def test_a_bar_in_a_cell_does_not_break_a_markdown_row() -> None:
    assert render([{"a": "x|y"}], "markdown") == "| a |\n| --- |\n| x\\|y |\n"


def test_columns_of_text_line_up() -> None:
    assert render([{"a": "1", "bee": "2"}], "text") == "a  bee\n-  ---\n1  2\n"


def test_an_empty_table_or_an_unknown_form_is_refused() -> None:
    with pytest.raises(ValueError, match="empty table"):
        render([], "text")
    with pytest.raises(ValueError, match="no form"):
        render([{"a": "1"}], "html")  # type: ignore[arg-type]
