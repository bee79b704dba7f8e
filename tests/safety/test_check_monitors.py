"""A check that was signed upon what has moved since: each move of the table has its monitor."""

from dataclasses import replace

import pytest
from steplatch.safety import checks
from steplatch.safety.bay import SPRAYS, Bay, Check
from steplatch.safety.checks import CHECKS
from steplatch.safety.effects import EFFECTS, GRANTS
from steplatch.safety.kernel import Happened, Seen, apply
from steplatch.safety.occurrences import Happening
from steplatch.safety.plant.environment import MOVES
from steplatch.safety.verify.kernel_proof import prove_belief
from steplatch.safety.verify.monitors import Needs, check_monitors, need_monitors
from steplatch.safety.verify.observers import MUCH_DML, PlantEvent

FOLLOWED: dict[str, tuple[str, str]] = {
    "fluid_check": ("identity agreed triage sheet tier", "spray_off spray_running"),
    "start_check": ("engine soak hose gun", "start"),
    "release_check": ("hose gun engine codes", "hand_over"),
}
"""Check -> what of that which it was signed upon a monitor of its own follows, and the acts."""
MONITORS: dict[str, Needs] = {m.name: m for m in check_monitors()}
MOVE: dict[str, tuple[PlantEvent, PlantEvent]] = {
    fact: (("seen", fact, was), ("seen", fact, now))
    for fact, was, now in (
        ("identity", "match", "differs"), ("agreed", "clean", "no"), ("triage", "go", "warn"),
        ("sheet", "read", "missing"), ("tier", "strict", "extended"),
        ("engine", "stopped", "idling"), ("hose", "on", "off"), ("gun", "away", "coupled"),
        ("codes", "saved", "cleared"),
    )
} | {"soak": (("did", "soak_begun", 0), ("did", "soak_due", 0))}  # fmt: skip
CASES = [(check, fact) for check, (facts, _) in FOLLOWED.items() for fact in facts.split()]


def name_of(check: str, fact: str) -> str:
    return f"{check.replace('_', '-')}-{fact}"


def test_each_move_of_the_table_has_its_monitor_but_of_crew_and_ledger() -> None:
    assert {name_of(*case) for case in CASES} == set(MONITORS)
    for check, (facts, acts) in FOLLOWED.items():
        assert set(CHECKS[check].moves) - {"crew", "wet"} == set(facts.split())
        for fact in facts.split():
            expected = "spray_off" if fact == "tier" else acts
            assert MONITORS[name_of(check, fact)].acts == set(expected.split())
            assert MONITORS[name_of(check, fact)].invariant == 8
    others = {fact for m in need_monitors(1, 2, 3) if m.name == "fluid-checked" for fact in m.facts}
    assert others == {"crew", "fluid_check"}, "another crew, another look before fluid"


@pytest.mark.parametrize(("check", "fact"), CASES)
def test_an_act_upon_a_signature_from_before_the_move_is_a_breach(check: str, fact: str) -> None:
    monitor = MONITORS[name_of(check, fact)]
    was, now = MOVE[fact]
    act: PlantEvent = ("begin", sorted(monitor.acts)[0], 0, True)
    signed: PlantEvent = ("seen", check, "other")

    def said(*events: PlantEvent) -> str | None:
        at, found = monitor.start(), None
        for event in (("arrived", MUCH_DML), ("seen", "crew", "pair"), *events, act):
            at, found = monitor.step(at, event)
        return found

    assert said(was, signed) is None
    assert said(was, signed, was) is None or fact == "soak", "the same seen again moves nothing"
    assert said(was, signed, now) == f"{monitor.name}: {monitor.words}"
    assert said(was, signed, now, signed) is None, "signed anew"
    assert said(was, signed, ("doubt", check)) is not None
    if check == "start_check":
        dry: tuple[PlantEvent, ...] = (
            ("seen", "engine", "raised"), ("did", "run_on_begun", 0), ("did", "run_on_due", 0),
        )  # fmt: skip
        assert said(*dry, was, signed, now) is None, "with nothing in it no check is needed"


@pytest.mark.parametrize(("check", "fact"), CASES)
def test_a_table_that_lets_a_check_outlast_the_move_is_not_proven(
    check: str, fact: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    observer = MONITORS[name_of(check, fact)].observers[0]
    moves = tuple(move for move in CHECKS[check].moves if move != fact)
    monkeypatch.setattr(checks, "CHECKS", {**CHECKS, check: replace(CHECKS[check], moves=moves)})
    assert prove_belief(observer)[1].breaches


def test_of_the_ledger_alone_no_look_before_a_start_outlasts_what_comes_in() -> None:
    """So no monitor of its own: what adds fluid, or drains some, ends the look by itself."""
    dries = {Happening.RUN_ON_DUE}
    for what, row in EFFECTS.items():
        if row.wet not in ("keep", "settle", "cut") and what not in dries:
            assert "start_check" in row.ends, what
    assert all("start_check" in GRANTS[act].ends for act in SPRAYS)
    assert {fact for fact, moved in MOVES.items() if "wet" in moved} == {"arrival", "line"}
    signed = Bay().but(start_check=Check.OTHER)
    assert apply(signed, Happened(Happening.DRAINED, 1)).start_check is Check.UNKNOWN
    assert apply(signed, Seen("start_check", Check.OTHER)).start_check is Check.OTHER
