"""The printed interlock list and hazard register are those of the data, and name what exists."""

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from steplatch.safety.bay import FACTS, Act, Bay, Trip
from steplatch.safety.interlocks import INTERLOCKS, Interlock
from steplatch.safety.registers.cautions import CAUTIONS
from steplatch.safety.registers.hazards import HAZARDS
from steplatch.safety.registers.trusted_reports import TRUSTED_REPORTS
from steplatch.safety.verify.kernel_model import LIMITS
from steplatch.safety.verify.matrix import words
from steplatch.safety.verify.ready_bays import READY
from steplatch.safety.verify.self_test import MONITORS

from tests.each import each
from tests.safety import test_interlock_rows, test_kernel_proof
from tests.safety.assumed import ASSUMED
from tests.safety.register_pages import (
    COMMAND,
    KERNEL_TESTS,
    PAGES,
    ROW_TESTS,
    hazards_page,
    held_by,
    interlocks_page,
    latched_by,
    latched_by_loss,
    not_known,
    proofs,
    without_knowing,
)

ROOT = Path(__file__).resolve().parents[2]
ROWS = {row.id: row for row in INTERLOCKS}


@pytest.mark.parametrize("name", sorted(PAGES))
def test_the_committed_page_is_what_the_data_print(name: str) -> None:
    committed = ROOT / "safety" / name
    assert committed.exists(), f"{committed} is missing; run: {COMMAND}"
    same = committed.read_text(encoding="utf-8") == PAGES[name]()
    assert same, f"safety/{name} is not what the data say now; run: {COMMAND}"


def sections(page: str) -> dict[str, str]:
    """Heading of the third level -> the text under it."""
    parts = re.split(r"^### (.+)$", page, flags=re.M)[1:]
    return {
        head: re.split(r"^## ", body, flags=re.M)[0]
        for head, body in zip(parts[::2], parts[1::2], strict=True)
    }


def test_every_row_has_its_section_with_every_line_filled() -> None:
    told = sections(interlocks_page())
    assert list(told) == list(ROWS)
    wanted = (
        *("Refuses", "The apprentice reads", "What would allow it", "Permits when", "Reads"),
        *("Unknown or stale", "Latching", "Waiver", "Source", "Stands against"),
        *("Broken without it", "Proven by"),
    )
    for row, text in told.items():
        lines = dict(re.findall(r"^- \*\*(.+?):\*\* (.+)$", text, re.M))
        assert tuple(lines) == wanted, row
        assert lines["The apprentice reads"] == ROWS[row].reason
        assert lines["What would allow it"] == ROWS[row].remedy
        assert (lines["Waiver"] == "none") == (not ROWS[row].waivable)


def test_the_page_begins_with_the_rule_that_stops_flooding_and_what_proves_it() -> None:
    top = interlocks_page().split("## How to read this page")[0]
    for named in (
        "[`start-ledger`](#start-ledger)",
        ROWS["start-ledger"].reason,
        "`start-with-fluid`",
        "[start-ledger-start-with-fluid]",
        "steplatch self-test",
        "[`spray-off-ledger`](#spray-off-ledger)",
    ):
        assert named in top


def test_the_rule_that_stops_flooding_comes_first_in_whatever_order_the_hazards_stand(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tests.safety.register_pages.HAZARDS", HAZARDS[::-1])
    monkeypatch.setattr("tests.safety.register_pages.INTERLOCKS", INTERLOCKS[::-1])
    top = interlocks_page().split("## How to read this page")[0]
    assert "The rule is [`start-ledger`](#start-ledger)." in top
    assert "[start-ledger-start-with-fluid]" in top


def test_every_hazard_has_its_section_with_all_that_it_says() -> None:
    told = sections(hazards_page())
    assert list(told) == [hazard.id for hazard in HAZARDS]
    for hazard in HAZARDS:
        text = told[hazard.id]
        said = (hazard.harm, hazard.who, *hazard.causes, hazard.left_over, hazard.source)
        for words_ in (hazard.title, *said, hazard.only_a_person_can):
            assert words_ in text, (hazard.id, words_)
        assert re.findall(r"INTERLOCKS\.md#([\w-]+)", text) == list(hazard.interlocks)
        assert all(CAUTIONS[c].consequence in text for c in hazard.cautions)


def test_what_rests_on_one_honest_answer_stands_below_the_hazards() -> None:
    tail = hazards_page().split("## What rests on one honest answer")[1].split("\n## ")[0]
    rows = [line for line in tail.splitlines() if line.startswith("| ")]
    assert len(rows) == 2 + sum(len(false_reports) for false_reports in TRUSTED_REPORTS.values())


def test_what_the_proof_takes_for_granted_stands_at_the_end_with_what_is_left_over() -> None:
    tail = hazards_page().split("## What the proof takes for granted of the plant")[1]
    for assumption in ASSUMED:
        assert assumption.says in tail and assumption.left in tail
        assert f"(#{assumption.hazard})" in tail


def test_every_link_leads_to_a_heading() -> None:
    heads = {name: set(sections(page())) for name, page in PAGES.items()}
    for name, page in PAGES.items():
        links = re.findall(r"\]\(([\w.]*)#([\w-]+)\)", page())
        assert links
        assert [link for link in links if link[1] not in heads[link[0] or name]] == []


def collected() -> Iterator[str]:
    """Every test that a parametrized function of the two modules makes, as pytest names it."""
    for module in (test_interlock_rows, test_kernel_proof):
        for name, function in vars(module).items():
            for mark in getattr(function, "pytestmark", []):
                if name.startswith("test_") and mark.name == "parametrize":
                    for values in mark.args[1]:
                        given = values if isinstance(values, tuple) else (values,)
                        ids = (v.value if isinstance(v, Act) else str(v) for v in given)
                        yield f"{name}[{'-'.join(ids)}]"


def test_every_test_that_the_page_names_exists() -> None:
    exist = set(collected())
    for row in INTERLOCKS:
        named = proofs(row)
        assert set(named) <= exist, set(named) - exist
        assert len(named) >= 2 + len(row.acts)
    assert (ROOT / ROW_TESTS).exists() and (ROOT / KERNEL_TESTS).exists()


def states_of(row: Interlock, fact: str) -> Iterator[Bay]:
    """Every mix of what else the row reads, with ``fact`` not known."""
    others = sorted(row.reads - {fact})
    choices: list[tuple[object, ...]] = [
        (None, 0, 1, 2, 3, 4)
        if other == "wet"
        else (frozenset(), frozenset({Trip.STUB}), frozenset({Trip.FIRE}))
        if other == "trips"
        else tuple(FACTS[other])
        for other in others
    ]
    blind: dict[str, Any] = {fact: None if fact == "wet" else FACTS[fact]["UNKNOWN"]}
    for states in product(*choices):
        yield replace(READY[min(row.acts, key=lambda a: a.value)][0], **blind | dict(
            zip(others, states, strict=True)))  # fmt: skip


@each("row", INTERLOCKS, ids=lambda row: row.id)
def test_what_the_page_says_of_unknown_is_what_the_row_does(row: Interlock) -> None:
    asks = [READY[act][1] for act in row.acts]
    for fact in row.reads - {"trips"}:
        left = without_knowing(row.allows, fact)
        for bay in states_of(row, fact):
            for ask in asks:
                told = left is not None and left.holds(bay, ask, LIMITS)
                assert told == row.allows.holds(bay, ask, LIMITS), (fact, bay, ask)
        said = "; ".join(not_known(row))
        assert f"`{fact}`" in said
        assert left is None or words(left) in said


def test_an_unpermitted_act_latches_and_so_does_the_loss_of_what_a_running_engine_needs() -> None:
    assert latched_by(Act.START) == {"unpermitted"}
    assert latched_by(Act.HAND_OVER) == {"unpermitted"}
    assert latched_by(Act.STOP_ENGINE) == frozenset()  # stopping is never an offence
    assert latched_by(Act.RESET) == frozenset()
    assert latched_by_loss(ROWS["run-fumes"]) == {"fumes": ("unattended",)}
    assert latched_by_loss(ROWS["run-controls"]) == {"controls": ("unattended",)}
    assert latched_by_loss(ROWS["hose-cool"]) == {}


def test_every_monitor_and_trip_stands_on_the_page_with_the_rows_that_hold_it() -> None:
    page = interlocks_page()
    for name, needs in MONITORS.items():
        rows = held_by(needs)
        latch = ("no-trip-latched", "start-no-fluid-trip")
        assert rows == latch if name.startswith("latched-") else len(rows) == 1
        assert f"| `{name}` | " in page and needs.words in page
    for trip in Trip:
        reset = "none" if trip.terminal else "after its recovery"
        assert re.search(rf"^\| `{trip.value}` \| .+ \| {reset}", page, re.M), trip


def test_no_page_claims_a_safety_integrity_or_performance_level() -> None:
    claim = re.compile(r"\b(SIL\s?\d?|PL\s?[a-e]|ASIL|safety integrity|performance level)\b")
    assert not any(claim.search(page()) for page in PAGES.values())


def test_the_map_of_the_room_names_all_that_is_there_and_nothing_else() -> None:
    room = ROOT / "safety"
    told = (room / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`([a-z_/]+(?:\.py|/))`", told))
    rooms = {room / name for name in named if name.endswith("/")}
    files = {
        path.relative_to(room).as_posix()
        for path in room.rglob("*.py")
        if path.name != "__init__.py" and not rooms & set(path.parents)
    }
    assert named == files | {f"{path.name}/" for path in rooms}
