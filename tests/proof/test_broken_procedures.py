"""Procedures spoiled as an author might spoil them: each is caught, by rule and by step.

The twin is the shipped job in its short form under the same answers; it is proven.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from patched import (
    SHIPPED,
    Patch,
    again,
    both,
    changed,
    loaded,
    moved,
    only_when,
    proof,
    short,
    spoiled,
    swapped,
    without,
)
from steplatch.runner.input.shelf import PROCEDURES
from steplatch.runner.proof.prove import ProofResult
from steplatch.runner.proof.words import LoadedProcedures, check_lines
from steplatch.safety.checks import CHECKS

DOSES = {
    "none": "pair, running dose",
    "strict": "pair, strict dose",
    "extended": "pair, extended dose",
    "stopped": "refit stopped, warned",
    "young": "young and alone",
}
"""The runs of ``check`` that the spoiled job is searched with, all going well."""

BROKEN: tuple[tuple[str, str, Patch, str, str, str], ...] = (
    # (what the author did, dose, patch, kind, interlock or property, step)
    ("soak removed", "extended", without("off-soak"), "refused", "turn-soaked", "off-turn"),
    ("soak removed, strict", "strict", without("off-soak"), "refused", "start-soak", "off-check"),
    ("hand turn removed", "extended", without("off-turn", "off-turn-seen"),
     "refused", "start-ledger", "off-check"),
    ("nobody saw the turns", "extended", without("off-turn-seen"),
     "refused", "start-ledger", "off-check"),
    ("start check removed", "strict", without("off-check"), "refused", "start-check", "run-start"),
    ("turned before the soak", "extended", swapped("off-soak", "off-turn"),
     "refused", "turn-soaked", "off-turn"),
    ("start checked before the burst", "strict", moved("off-check", "off-cool"),
     "refused", "start-check", "run-start"),
    ("second burst", "strict", again("off-spray", "off-spray", "off-spray-2"),
     "refused", "spray-off-ledger", "off-spray-2"),
    ("refit after the revs", "none", moved("hold-raise", "run-spray"),
     "refused", "revs-hose-on", "hold-raise"),
    ("hose never back", "none", without("idle-hose"), "refused", "revs-hose-on", "hold-raise"),
    ("line not cleared", "none", without("idle-clear"),
     "refused", "revs-line-clear", "idle-hose"),
    ("gun left on the hose", "none", without("idle-gun"),
     "refused", "revs-gun-away", "idle-clear"),
    ("hands not cleared before the revs", "none", without("idle-out"),
     "refused", "start-hands-clear", "hold-raise"),
    ("hands not cleared before the start", "none", without("run-hands"),
     "refused", "start-hands-clear", "run-start"),
    ("hands not told", "none", without("access-hands"), "refused", "hands-told", "access-off"),
    ("key never boxed", "none", without("line-key", "access-key"),
     "refused", "hands-in-still", "line-hands"),
    ("start never disabled", "none", without("line-disable"),
     "refused", "try-disabled", "line-try"),
    ("start never tried", "none", without("line-try"),
     "refused", "fluid-start-tried", "access-gun"),
    ("start tried with fluid in", "strict", again("line-try", "off-soak", "try-again", when=()),
     "refused", "try-before-fluid", "try-again"),
    ("engine run after the start was disabled", "none",
     both(without("access-key"), again("before-start", "access-cool", "run-again", when=())),
     "refused", "hands-in-still", "access-hands"),
    ("bar left on the bolt", "extended", without("off-bar"),
     "refused", "start-bar-off", "run-start"),
    ("nobody looked for a bar", "none", without("bar-none"),
     "refused", "start-bar-off", "ignition-codes"),
    ("gun rate step deleted", "none", without("gun-rate"), "refused", "spray-rate", "check-fluid"),
    ("second yes unsigned", "none", without("agree-sign"), "always", "agreed-first", "run-spray"),
    ("data sheet not read", "none", without("sheet"), "refused", "spray-sheet", "gun-rate"),
    ("protection not put on", "none", without("line-kit", "kit"),
     "refused", "fluid-kit", "line-off"),
    ("drains not covered", "none", without("spill"), "refused", "spray-spill", "check-fluid"),
    ("nobody checks before fluid", "none", without("check-fluid"),
     "refused", "spray-check", "run-spray"),
    ("temperature not measured", "none", without("line-cool", "access-cool"),
     "refused", "hose-cool", "line-off"),
    ("temperature measured before the start", "none", moved("run-temp", "access-gun"),
     "refused", "spray-running-band", "run-spray"),
    ("idle not watched", "none", without("run-idle"),
     "refused", "spray-running-idle", "run-spray"),
    ("not dried", "none", without("hold-level"), "refused", "after-only-dried", "after-raised"),
    ("dried after the readings", "none", moved("hold-level", "after-zero"),
     "refused", "run-on-running", "hold-level"),
    ("zero read with the engine running", "none", moved("after-zero", "after-idle"),
     "refused", "zero-stopped", "after-zero"),
    ("no 'before' set", "none", without("before-raised", "before-idle", "before-zero-read"),
     "refused", "spray-before-first", "check-fluid"),
    ("no 'after' set", "none", without("after-raised", "after-idle", "after-zero", "clear"),
     "always", "after-taken", "hand-over"),
    ("codes not read again", "none", without("clear", "codes-read"),
     "always", "codes-again", "hand-over"),
    ("no release signature", "none", without("release"),
     "refused", "hand-over-signed", "hand-over"),
    ("the customer signs for nothing", "none", without("received"),
     "always", "hand-over", "hand-over"),
    ("not chocked", "none", without("secured"), "refused", "run-secured", "before-start"),
    ("no extraction", "none", without("fumes"), "refused", "run-fumes", "before-start"),
    ("nobody at the controls", "none", without("controls", "run-controls"),
     "refused", "run-controls", "before-start"),
    ("vehicle not compared", "none", without("identity"),
     "refused", "spray-identity", "check-fluid"),
    ("came with fluid, nobody asked", "none", without("arrival"),
     "refused", "start-ledger", "before-start"),
    ("stopped with fluid in", "extended", again("before-stop", "run-spray", "stop-now", when=()),
     "refused", "stop-with-fluid", "stop-now"),
    ("sensor not proven", "none", without("line-which"), "refused", "hose-which", "line-off"),
    ("a look that nobody can pass", "none", both(changed("spill", want=("not_ready",))),
     "refused", "spray-spill", "check-fluid"),
    ("triage skipped", "none", without("triage-judge"),
     "end", "finished in reach", "agree-clean"),
    ("a question about what is never known", "none", only_when("tier", "inspection", "dry"),
     "end", "finished in reach", "tier"),
    ("dipstick not read", "none", without("oil-level"), "refused", "run-oil", "before-start"),
    ("fuel not asked", "none", without("fuel"), "refused", "fluid-diesel", "access-gun"),
    ("coating not looked up", "none", without("coating"),
     "refused", "fluid-coating", "access-gun"),
    ("oil and coolant not looked for", "none", without("contaminated"),
     "refused", "fluid-foul", "access-gun"),
    ("idle not watched before the revs", "stopped", without("hold-idle-even"),
     "refused", "revs-from-idle", "hold-raise"),
    ("flag not read before the revs", "stopped", without("hold-burning"),
     "refused", "revs-not-burning", "hold-raise"),
    ("a junior alone starts", "young", changed("before-start", when=()),
     "refused", "crew-may-run", "before-start"),
    ("left to dry by itself", "stopped",
     again("run-controls", "run-spray", "left", want=("nobody",)),
     "end", "finished in reach", "left"),
    ("dried with hands at the hose", "stopped", again("idle-hands", "run-spray", "peek", when=()),
     "refused", "start-hands-clear", "stopped-dry"),
    ("fluid checked on arrival", "none", moved("check-fluid", "crew"),
     "end", "finished in reach", "check-fluid"),
)  # fmt: skip


@cache
def twin(dose: str) -> ProofResult:
    return proof(short(), DOSES[dose])


@pytest.mark.parametrize("dose", DOSES)
def test_the_unbroken_twin_is_proven(dose: str) -> None:
    assert twin(dose).proven, "\n".join(check_lines(twin(dose)))
    assert (("clean-above", "run-spray") in twin(dose).reached) == (dose != "young")
    assert "finished" in twin(dose).ended


@pytest.mark.parametrize(
    ("dose", "patch", "kind", "name", "step"),
    [pytest.param(*row[1:], id=row[0]) for row in BROKEN],
)
def test_a_spoiled_procedure_is_caught_by_rule_and_step(
    dose: str, patch: Patch, kind: str, name: str, step: str
) -> None:
    result = proof(spoiled(patch), DOSES[dose])
    found = [(f.kind, f.step) for f in result.faults if name in f.name.split(", ")]
    assert (kind, step) in found, [(f.kind, f.name, f.step) for f in result.faults]


WEAK: dict[str, dict[str, object]] = {
    "the apprentice checks": {"role": "apprentice"},
    "the customer checks": {"role": "customer"},
    "a witness checks": {"point": "witness"},
    "the doer checks": {"meaning": "did"},
}


@pytest.mark.parametrize("weak", WEAK)
@pytest.mark.parametrize(
    ("dose", "step"),
    [("none", "check-fluid"), ("extended", "off-turn-seen"), ("extended", "off-check")],
)
def test_a_hold_point_that_asks_for_too_little_lets_nobody_through_all_the_same(
    dose: str, step: str, weak: str
) -> None:
    result = proof(spoiled(changed(step, **WEAK[weak])), DOSES[dose])
    assert result.proven, [(f.kind, f.name, f.step) for f in result.faults]


@pytest.mark.parametrize(("check", "step"), [("fluid_check", "check-fluid"),
                                             ("release_check", "release")])  # fmt: skip
def test_a_table_that_asks_for_too_little_is_caught_at_the_step(
    monkeypatch: pytest.MonkeyPatch, check: str, step: str
) -> None:
    monkeypatch.setitem(CHECKS, check, replace(CHECKS[check], role="apprentice"))  # type: ignore[arg-type]
    result = proof(spoiled(changed(step, role="apprentice")), DOSES["none"])
    assert ("always", "checker", step) in [(f.kind, f.name, f.step) for f in result.faults]


def test_a_table_that_reads_nothing_back_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, rule in CHECKS.items():
        monkeypatch.setitem(CHECKS, name, replace(rule, rows=()))  # type: ignore[arg-type]
    on_arrival = both(moved("check-fluid", "crew"), changed("check-fluid", when=()))
    result = proof(spoiled(on_arrival), DOSES["none"])
    assert ("always", "read-back", "check-fluid") in [
        (f.kind, f.name, f.step) for f in result.faults
    ]


def test_a_clean_nobody_agreed_to_never_reaches_the_spray() -> None:
    result = proof(spoiled(without("agree-clean")), DOSES["none"])
    assert ("clean-above", "run-spray") not in result.reached
    assert ("clean-above", "run-spray") in twin("none").reached


def test_a_trace_is_the_steps_with_file_and_line_up_to_the_breach() -> None:
    result = proof(spoiled(without("agree-sign")), DOSES["none"])
    text = "\n".join(check_lines(result))
    assert text.startswith("FAULT  ") and "agreed-first" in text
    (fault,) = (f for f in result.faults if f.name == "agreed-first")
    assert fault.trace[0].step == "crew" and fault.trace[-1].step == "run-spray"
    assert all(line.place.startswith("clean-above.yaml:") for line in fault.trace)


def test_a_fault_is_told_once_with_its_file_and_the_end_of_the_way() -> None:
    result = proof(spoiled(without("off-soak")), DOSES["extended"])
    told: set[tuple[str, ...]] = set()
    first = check_lines(result, told)
    assert any("... " in line and "steps before" in line for line in first)
    assert "      (the way above)" in first
    assert not any(line.endswith(": begin") for line in first)
    again = check_lines(result, told)
    assert len(again) == 2 and again[1].startswith("  told above: ")
    assert "off-turn [turn-soaked]" in again[1]
    there = replace(result.faults[0], place="another-file.yaml:7", trace=())
    other = check_lines(replace(result, faults=(there,)), told)
    assert not any("told above" in line for line in other), "a step of that name elsewhere"


def test_a_changed_copy_is_told_by_its_own_name_and_lines(tmp_path: Path) -> None:
    mine = tmp_path / "mine.yaml"
    text = (PROCEDURES / "clean-above.yaml").read_text("utf-8")
    mine.write_text("# my own\n" + text, "utf-8")
    shipped, own = loaded(), LoadedProcedures(mine, SHIPPED)
    line = shipped.place("clean-above", "off-turn").split(":")[1]
    assert own.place("clean-above", "off-turn") == f"mine.yaml:{int(line) + 1}"
    reset = ("recovery-spill", "reset-trip")
    assert own.place(*reset) == shipped.place(*reset)
